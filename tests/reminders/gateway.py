"""A gateway for text messages on a port of this machine that behaves as a test asks."""

from __future__ import annotations

import json
import threading
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer


class Gateway(ThreadingHTTPServer):
    """`script` holds one answer a request, (status, body) or a word; when it is empty the message is taken.

    Words: `hang` reads all and never answers, `drip` answers a byte now and then, `close` reads all and hangs up, `cut`
    promises more than it sends. `texts` and `headers` keep what came in.
    """

    daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), _Handler)
        self.script: list[object] = []
        self.texts: list[dict] = []
        self.headers: list[dict] = []
        self.over = threading.Event()
        self.during = lambda text: None   # called once the text is here and before the answer

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.server_port}/send?from=clinic"


class _Handler(BaseHTTPRequestHandler):
    server: Gateway

    def log_message(self, *args):
        """Say nothing."""

    def do_POST(self):
        text = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
        self.server.texts.append(text)
        self.server.headers.append({**self.headers, "path": self.path})
        self.server.during(text)
        told = self.server.script.pop(0) if self.server.script else (202, {"id": text["id"]})
        self.close_connection = True
        if told == "hang":
            self.server.over.wait(20)
        elif told == "drip":
            self.wfile.write(b"HTTP/1.1 200 OK\r\nX: ")
            while not self.server.over.wait(0.05):
                self.wfile.write(b"x")
        elif told == "cut":
            self.wfile.write(b"HTTP/1.1 200 OK\r\nContent-Length: 100\r\n\r\n{")
        elif told != "close":
            status, body = told
            said = body if isinstance(body, bytes) else json.dumps(body).encode()
            self.send_response(status)
            self.send_header("Content-Length", str(len(said)))
            if 300 <= status < 400:
                self.send_header("Location", self.server.url)
            self.end_headers()
            self.wfile.write(said)


@contextmanager
def running():
    """A gateway that listens until the block ends."""
    gateway = Gateway()
    gateway.handle_error = lambda *args: None   # a line that we cut is meant
    thread = threading.Thread(target=gateway.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    try:
        yield gateway
    finally:
        gateway.over.set()
        gateway.shutdown()
        gateway.server_close()
        thread.join()
