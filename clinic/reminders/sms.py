"""Text messages through an HTTP gateway.

The shape is open: POST to INTERVALE_SMS_URL with `Authorization: Bearer <key>`, `Idempotency-Key: <id>` and the JSON
`{"to": E.164, "text": …, "id": …}`. Taken is a 2xx with the JSON `{"id": <the same>}`; with
a non-empty `error` it is a refusal. Status codes are those of RFC 9110 section 15 and RFC 6585.
"""

from __future__ import annotations

import http.client
import json
import socket
import ssl
import threading
from http import HTTPStatus
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings

from clinic.reminders.channels import CarrierDown, Letter, RefusedForGood, TryLater

MOST_BYTES = 64 * 1024   # of an answer that is read
OURS = {HTTPStatus.UNAUTHORIZED, HTTPStatus.FORBIDDEN, HTTPStatus.PROXY_AUTHENTICATION_REQUIRED}
PASSING = {HTTPStatus.REQUEST_TIMEOUT, HTTPStatus.TOO_EARLY, HTTPStatus.TOO_MANY_REQUESTS}
# from something between us and the gateway, which does not know whether the gateway took it
BETWEEN = {HTTPStatus.BAD_GATEWAY, HTTPStatus.GATEWAY_TIMEOUT}
NO_SUCH_NUMBER = "no_such_number"


class OutcomeUnknown(Exception):
    """The whole message was handed over and the answer says neither yes nor no."""


class SmsCarrier:
    """One connection a message: a kept one that the gateway closed meanwhile would leave a doubt each time."""

    def open(self) -> None:
        """Nothing is kept open; whether the gateway is there shows at the first message."""

    def send(self, letter: Letter) -> None:
        body = json.dumps({"to": letter.address, "text": letter.body.strip(), "id": letter.reference}).encode()
        connection = _connect()
        # a limit on each read alone would let a gateway hang for ever, a byte at a time
        cut = threading.Timer(settings.SMS_SECONDS, _cut, [connection.sock])
        cut.start()
        try:
            connection.request("POST", _target(), body, _headers(letter.reference))
            with connection.getresponse() as answer:
                status, said = answer.status, answer.read(MOST_BYTES)
        finally:
            cut.cancel()
            connection.close()
        _judge(status, said, letter.reference)

    def close(self) -> None:
        """Nothing is kept open."""


def _connect() -> http.client.HTTPConnection:
    """An open connection; CarrierDown when there is none to be had: nothing was handed over."""
    parts = urlsplit(settings.SMS_URL)
    seconds = settings.SMS_SECONDS
    connection = (
        http.client.HTTPConnection(parts.hostname or "", parts.port, timeout=seconds)
        if parts.scheme == "http"
        else http.client.HTTPSConnection(
            parts.hostname or "", parts.port, timeout=seconds, context=ssl.create_default_context()
        )
    )
    try:
        connection.connect()
    except OSError as error:   # refused, no such host, no certificate that holds, no answer in time
        connection.close()
        raise CarrierDown(type(error).__name__) from error
    return connection


def _cut(line: socket.socket) -> None:
    try:
        line.shutdown(socket.SHUT_RDWR)
    except OSError:
        return   # it is closed already


def _target() -> str:
    parts = urlsplit(settings.SMS_URL)
    return (parts.path or "/") + (f"?{parts.query}" if parts.query else "")


def _headers(reference: str) -> dict[str, str]:
    return {
        "Content-Type": "application/json", "Accept": "application/json", "Connection": "close",
        "Authorization": f"Bearer {settings.SMS_KEY}", "Idempotency-Key": reference,
    }


def _judge(status: int, said: bytes, reference: str) -> None:
    """Return when it was taken; else raise what the answer means."""
    answer = _object(said)
    error = answer.get("error")
    if status in OURS or 300 <= status < 400:   # our key or our address is wrong; a POST follows no redirect
        raise CarrierDown(f"HTTP {status}")
    if status in BETWEEN:
        raise OutcomeUnknown(f"HTTP {status}")
    if status in PASSING or status >= 500:
        raise TryLater
    if status >= 400 or error:
        raise RefusedForGood("no_such_address" if error == NO_SUCH_NUMBER else "refused")
    if answer.get("id") != reference:
        raise OutcomeUnknown("an answer that names no message of ours")


def _object(said: bytes) -> dict[str, Any]:
    try:
        found = json.loads(said)
    except ValueError:
        return {}
    return found if isinstance(found, dict) else {}
