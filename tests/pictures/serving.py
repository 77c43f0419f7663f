"""A server to take pictures of: a port for it, and when it answers."""

from __future__ import annotations

import socket
import time
from pathlib import Path
from urllib.error import URLError
from urllib.request import urlopen

ROOT = Path(__file__).resolve().parents[2]
LONGEST = 600    # half seconds


def free_port() -> int:
    """One that nobody listens on."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def answers(port: int) -> None:
    """Return once the server there answers."""
    for _ in range(LONGEST):
        try:
            with urlopen(f"http://127.0.0.1:{port}/health/live"):
                return
        except URLError:
            time.sleep(0.5)
    raise SystemExit(f"nothing answers at port {port}")
