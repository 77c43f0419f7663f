"""Notifications to the browsers a client subscribed with: the web push protocol, RFC 8030.

A message goes to every device of the client and has left once one of them took it. A device whose push service says that it
is gone (404, 410) is forgotten. `Topic` is the message's id, so that a copy replaces the first where it still waits.
"""

from __future__ import annotations

import http.client
import json
import logging
import socket
import ssl
import threading
import time
from email.utils import parseaddr
from http import HTTPStatus
from urllib.parse import SplitResult
from uuid import UUID

from django.conf import settings

from clinic.reminders.channels import CarrierDown, Letter, RefusedForGood, TryLater
from clinic.reminders.models import PushDevice
from clinic.reminders.rules.endpoint import is_open, is_usable, parts_of
from clinic.reminders.sealing import key_of, seal, voucher

log = logging.getLogger("intervale.reminders")
GONE = {HTTPStatus.NOT_FOUND, HTTPStatus.GONE}
PASSING = {HTTPStatus.REQUEST_TIMEOUT, HTTPStatus.TOO_EARLY, HTTPStatus.TOO_MANY_REQUESTS}
LONGEST_TTL = 28 * 86400   # no push service keeps one longer (common practice, no source)


class AddressInside(Exception):
    """The host's address lies in a network of ours: nothing is sent there."""


class PushCarrier:
    """One connection a device and message: push services are many, and each says for itself what became of it."""

    def open(self) -> None:
        try:
            key_of(settings.PUSH_KEY)
        except ValueError as error:
            raise CarrierDown("push key") from error

    def send(self, letter: Letter) -> None:
        """To all devices. Taken by one is sent; else later if one may take it later; else refused for good."""
        devices = PushDevice.objects.filter(client=int(letter.address)).order_by("pk")
        ends = [self._to_one(device, letter) for device in devices]
        if "sent" in ends:
            return
        if "unknown" in ends:
            raise ConnectionError("handed over to a push service that did not answer")
        if "later" in ends:
            raise TryLater
        raise RefusedForGood("refused" if "refused" in ends else "no_device")

    def close(self) -> None:
        """Nothing is kept open."""

    def _to_one(self, device: PushDevice, letter: Letter) -> str:
        told = json.dumps({"title": letter.subject, "url": letter.url, "tag": letter.reference}).encode()
        if not is_usable(device.endpoint, local=settings.PUSH_LOCAL):
            return "refused"
        parts = parts_of(device.endpoint)
        try:
            connection = _connect(parts)
        except OSError:   # no such host, refused, no certificate that holds, no answer in time
            return "later"
        except AddressInside:
            return "refused"
        cut = threading.Timer(settings.PUSH_SECONDS, _cut, [connection.sock])
        cut.start()
        try:
            target = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
            connection.request("POST", target, seal(told, device.p256dh, device.auth), _headers(device.endpoint, letter))
            with connection.getresponse() as answer:
                status = answer.status
        except (OSError, http.client.HTTPException):
            return "unknown"
        finally:
            cut.cancel()
            connection.close()
        return _meaning(status, device)


def _connect(parts: SplitResult) -> http.client.HTTPConnection:
    """A connection to the very address that was looked at: a name that says another one the second time gains nothing."""
    host, seconds = parts.hostname or "", settings.PUSH_SECONDS
    port = parts.port or (80 if parts.scheme == "http" else 443)
    address = str(socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0][4][0])
    if not is_open(address, local=settings.PUSH_LOCAL):
        log.warning("push_address_inside")
        raise AddressInside
    line = socket.create_connection((address, port), timeout=seconds)
    try:
        if parts.scheme == "https":
            line = ssl.create_default_context().wrap_socket(line, server_hostname=host)
    except OSError:
        line.close()
        raise
    connection = http.client.HTTPConnection(host, port, timeout=seconds)   # writes the Host header; the line is made already
    connection.sock = line
    return connection


def _cut(line: socket.socket) -> None:
    try:
        line.shutdown(socket.SHUT_RDWR)
    except OSError:
        return   # it is closed already


def _headers(endpoint: str, letter: Letter) -> dict[str, str]:
    left = (letter.not_after.timestamp() - time.time()) if letter.not_after else 0
    return {
        "Content-Type": "application/octet-stream", "Content-Encoding": "aes128gcm", "Connection": "close",
        "TTL": str(int(max(0, min(left, LONGEST_TTL)))), "Urgency": "normal", "Topic": UUID(letter.reference).hex,
        "Authorization": voucher(settings.PUSH_KEY, endpoint, f"mailto:{parseaddr(settings.DEFAULT_FROM_EMAIL)[1]}"),
    }


def _meaning(status: int, device: PushDevice) -> str:
    if status in GONE:
        device.delete()
        return "gone"
    if status in PASSING or status >= 500:
        return "later"
    return "sent" if 200 <= status < 300 else "refused"
