"""One unit of work in one transaction, tried again when the database broke it off."""

from __future__ import annotations

import time
from collections.abc import Callable
from functools import wraps
from typing import Any, ParamSpec, TypeVar

from django.db import OperationalError, connection, transaction

from clinic.people.refusal import Refusal
from clinic.people.trouble import was_undone

P = ParamSpec("P")
R = TypeVar("R")
RETRIES = 3
PAUSE = 0.05   # seconds, doubled with each retry


class Broken(Exception):
    """Ends a transaction in which the database refused a row: what there is to say is read once it is rolled back."""

    def reason(self) -> Exception:
        """What to raise instead."""
        raise NotImplementedError


def in_one_transaction(work: Callable[P, R]) -> Callable[P, R]:
    """Run `work` in a transaction of its own; after a deadlock or a serialization failure up to three times more.

    Then Refusal `try_again` (503). A line that broke is not tried again here: it may have broken after the commit, and only
    whoever asked can look, or send the same key again. Inside an outer transaction nothing is repeated either: what broke
    has broken that one as well, and its owner decides. The `reason` of a Broken is asked for after the rollback, so that the
    writes need no savepoint for it.
    """

    @wraps(work)
    def tried(*args: P.args, **kwargs: P.kwargs) -> R:
        for turn in range(RETRIES + 1):
            try:
                return _once(work, args, kwargs)
            except OperationalError as error:
                if connection.in_atomic_block or not was_undone(error):
                    raise
                if turn < RETRIES:
                    time.sleep(PAUSE * 2**turn)
        raise Refusal(
            "try_again", "The records are very busy just now. Nothing was saved; please try again.", status=503, retry_after=1
        )

    return tried


def _once(work: Callable[..., R], args: Any, kwargs: Any) -> R:
    try:
        with transaction.atomic():
            return work(*args, **kwargs)
    except Broken as broken:
        raise broken.reason() from broken
