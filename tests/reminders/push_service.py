"""A push service and a browser on this machine: it takes what RFC 8030 says, and reads it with the browser's own key.

What is sealed is opened here step by step as RFC 8291 section 3.4 and RFC 8188 section 2.2 describe, and the voucher is
judged as RFC 8292 section 4.2 asks, with nothing of the application and not with the libraries that it uses.
"""

from __future__ import annotations

import base64
import hashlib
import hmac
import json
import threading
from contextlib import contextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import encode_dss_signature
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

P256 = ec.SECP256R1()


def unpadded(data: bytes) -> str:
    return base64.urlsafe_b64encode(data).rstrip(b"=").decode()


def raw(text: str) -> bytes:
    return base64.urlsafe_b64decode(text + "=" * (-len(text) % 4))


def point(key: ec.EllipticCurvePrivateKey) -> bytes:
    return key.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)


def _mac(key: bytes, data: bytes) -> bytes:
    return hmac.new(key, data, hashlib.sha256).digest()


def open_sealed(body: bytes, key: ec.EllipticCurvePrivateKey, auth: bytes) -> bytes:
    """What the sender wrote. InvalidTag when it is not meant for this browser."""
    salt, size, length = body[:16], int.from_bytes(body[16:20]), body[20]
    sender, sealed = body[21:21 + length], body[21 + length:]
    assert len(sealed) <= size, "more than one record"
    shared = key.exchange(ec.ECDH(), ec.EllipticCurvePublicKey.from_encoded_point(P256, sender))
    secret = _mac(_mac(auth, shared), b"WebPush: info\0" + point(key) + sender + b"\1")
    source = _mac(salt, secret)
    content_key = _mac(source, b"Content-Encoding: aes128gcm\0\1")[:16]
    nonce = _mac(source, b"Content-Encoding: nonce\0\1")[:12]
    text = AESGCM(content_key).decrypt(nonce, sealed, None).rstrip(b"\0")
    assert text[-1:] == b"\2", "the last record ends with 2"
    return text[:-1]


def claims_of(header: str) -> tuple[dict, str]:
    """(the claims, the sender's public key) of a voucher whose signature holds; InvalidSignature otherwise."""
    scheme, _, rest = header.partition(" ")
    assert scheme == "vapid"
    parts = dict(part.strip().split("=", 1) for part in rest.split(","))
    told, claims, signature = parts["t"].split(".")
    assert json.loads(raw(told))["alg"] == "ES256"
    both = raw(signature)
    der = encode_dss_signature(int.from_bytes(both[:32]), int.from_bytes(both[32:]))
    public = ec.EllipticCurvePublicKey.from_encoded_point(P256, raw(parts["k"]))
    public.verify(der, f"{told}.{claims}".encode(), ec.ECDSA(hashes.SHA256()))
    return json.loads(raw(claims)), parts["k"]


class Browser:
    """One that subscribed: its keys and where it is reached."""

    def __init__(self, endpoint: str) -> None:
        self.endpoint, self.key, self.secret = endpoint, ec.generate_private_key(P256), b"sixteen byte key"

    @property
    def told(self) -> dict[str, str]:
        """What it says of itself to a site."""
        return {"endpoint": self.endpoint, "p256dh": unpadded(point(self.key)), "auth": unpadded(self.secret)}

    def read(self, body: bytes) -> dict:
        return json.loads(open_sealed(body, self.key, self.secret))


class PushService(ThreadingHTTPServer):
    """`script` holds a status for each request to come, by path, or the word `close`; else it takes with 201."""

    daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), _Handler)
        self.script: dict[str, list[object]] = {}
        self.taken: list[tuple[str, dict, bytes]] = []

    def browser(self, name: str = "one") -> Browser:
        return Browser(f"http://127.0.0.1:{self.server_port}/to/{name}")


class _Handler(BaseHTTPRequestHandler):
    server: PushService

    def log_message(self, *args):
        """Say nothing."""

    def do_POST(self):
        body = self.rfile.read(int(self.headers["Content-Length"]))
        self.server.taken.append((self.path, dict(self.headers), body))
        plan = self.server.script.get(self.path.rpartition("/")[2], [])
        told = plan.pop(0) if plan else 201
        self.close_connection = True
        if told == "close":
            return
        self.send_response(told)
        if 300 <= told < 400:
            self.send_header("Location", "/elsewhere")
        self.send_header("Content-Length", "0")
        self.end_headers()


@contextmanager
def running():
    """One that listens until the block ends."""
    service = PushService()
    service.handle_error = lambda *args: None
    thread = threading.Thread(target=service.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True)
    thread.start()
    try:
        yield service
    finally:
        service.shutdown()
        service.server_close()
        thread.join()
