"""What a database error says about the request: that it may be sent again soon, or that there is no room to write."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from http import HTTPStatus

from django.db import InterfaceError, OperationalError

DEEP = 8   # links of a chain of exceptions that are looked at
# classes of SQLSTATE, PostgreSQL 15 manual, appendix A: connection, resources, the operator stopped it, deadlock and the like
ROLLED_BACK = "40"
PASSING = ("08", "53", "57", ROLLED_BACK)
NO_ROOM = {"53100"}
LOCKED = {"55P03"}
# https://www.sqlite.org/rescode.html: primary codes are the low byte
SQLITE_PASSING = {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}
SQLITE_NO_ROOM = {sqlite3.SQLITE_FULL, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN}


class GoneMeanwhile(OperationalError):
    """What was in the way of a row has gone before anybody could look at it: the same work may be done again at once."""


def status_of(error: BaseException | None) -> HTTPStatus | None:
    """503 when the same request may succeed in a moment, 507 when nothing can be written, None when neither is known."""
    for each in _chain(error):
        found = _meaning(each)
        if found:
            return found
    return None


def was_undone(error: BaseException | None) -> bool:
    """Whether the database itself took the transaction back, so that the same work may be done again at once.

    Not where the line broke: it may have broken after the commit.
    """
    return any(_undone(each) for each in _chain(error))


def _undone(error: BaseException) -> bool:
    if isinstance(error, GoneMeanwhile):
        return True
    state, code = getattr(error, "sqlstate", None) or "", getattr(error, "sqlite_errorcode", None)
    return state.startswith(ROLLED_BACK) or state in LOCKED or (code is not None and code & 0xFF in SQLITE_PASSING)


def _chain(error: BaseException | None) -> Iterator[BaseException]:
    """The error and what it came from: an error while tidying up hides the one that counts."""
    for _ in range(DEEP):
        if error is None:
            return
        yield error
        error = error.__cause__ or error.__context__


def _meaning(error: BaseException) -> HTTPStatus | None:
    if isinstance(error, GoneMeanwhile):
        return HTTPStatus.SERVICE_UNAVAILABLE
    code = getattr(error, "sqlite_errorcode", None)
    if isinstance(error, sqlite3.Error) and code is not None:
        if code & 0xFF in SQLITE_NO_ROOM:
            return HTTPStatus.INSUFFICIENT_STORAGE
        return HTTPStatus.SERVICE_UNAVAILABLE if code & 0xFF in SQLITE_PASSING else None
    state = getattr(error, "sqlstate", None)
    if state in NO_ROOM:
        return HTTPStatus.INSUFFICIENT_STORAGE
    if state and (state in LOCKED or state.startswith(PASSING)):
        return HTTPStatus.SERVICE_UNAVAILABLE
    # psycopg names no SQLSTATE when the line itself is gone, was never there, or the pool has none left
    lost = type(error).__module__.startswith("psycopg") and not state
    if isinstance(error, InterfaceError) or (lost and "OperationalError" in {kind.__name__ for kind in type(error).__mro__}):
        return HTTPStatus.SERVICE_UNAVAILABLE
    return None
