"""Where a browser says that its notifications are to be handed over: an address somebody sends us, so not one to trust.

RFC 8030 section 8 asks for https. That we also refuse every address inside a network of ours is the usual answer to requests
forged through a server (common practice, no source).
"""

from __future__ import annotations

import base64
import binascii
from ipaddress import ip_address
from urllib.parse import SplitResult, urlsplit

MOST = 500
MOST_DEVICES = 5   # of one client: all of them are told within the lease of one message
POINT, SECRET = 65, 16   # bytes: an uncompressed P-256 point and the secret of RFC 8291 section 3.2


def parts_of(endpoint: str) -> SplitResult:
    """The address in its parts. ValueError when it is none."""
    parts = urlsplit(endpoint)
    _ = parts.port   # out of range: a ValueError
    return parts


def is_usable(endpoint: str, *, local: bool) -> bool:
    """https to a named host on its own port, nobody's name or password in it. `local`: http on this machine will do too."""
    if len(endpoint) > MOST or not endpoint.isascii() or any(mark <= " " for mark in endpoint):
        return False
    try:
        parts = parts_of(endpoint)
    except ValueError:
        return False
    if not parts.hostname or "@" in parts.netloc or parts.fragment:
        return False
    if local and parts.scheme == "http" and parts.hostname in {"127.0.0.1", "localhost"}:
        return True
    if parts.scheme != "https" or parts.port not in (None, 443):
        return False
    try:
        return is_open(parts.hostname, local=local)
    except ValueError:
        return "." in parts.hostname and not parts.hostname.endswith((".local", ".internal", ".localhost"))


def is_open(address: str, *, local: bool) -> bool:
    """Whether an IP address lies in the open internet. `local`: this machine will do too. ValueError when it is none."""
    found = ip_address(address.partition("%")[0])
    inner = getattr(found, "ipv4_mapped", None) or found
    return (inner.is_global and not inner.is_multicast) or (local and inner.is_loopback)


def bytes_of(text: str, length: int) -> bytes:
    """base64url without padding, as browsers write keys. ValueError when it is not `length` bytes long."""
    try:
        found = base64.b64decode(text + "=" * (-len(text) % 4), altchars=b"-_", validate=True)
    except (binascii.Error, ValueError) as error:
        raise ValueError("not base64url") from error
    if len(found) != length:
        raise ValueError(f"{len(found)} bytes, not {length}")
    return found
