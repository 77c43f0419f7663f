"""A client says what is wrong in what the practice holds about them."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction

from clinic.people import audit
from clinic.people.models import Correction, User
from clinic.people.queries import own_client
from clinic.people.refusal import Refusal
from clinic.people.rules.plain_words import has_controls, tidy
from clinic.people.vocab import CorrectionOutcome

MOST_WORDS = 500


@transaction.atomic
def ask_correction(*, by: User, words: str, now: datetime) -> Correction:
    """Kept until somebody of the practice answers; nothing about the client changes by it.

    Refusals: `invalid` (400) with the field; `asked_already` (409) while an earlier one waits. The trail holds no words.
    """
    client = own_client(by)
    text = tidy(words)
    if sentence := _problem(text):
        raise Refusal("invalid", "Some values cannot be used.", status=400, fields={"words": sentence})
    if client.corrections.filter(outcome=CorrectionOutcome.OPEN).exists():
        raise _waits()
    try:
        with transaction.atomic():
            asked = Correction.objects.create(client=client, words=text, asked=now)
    except IntegrityError as error:   # the same, from another phone, at this very moment
        raise _waits() from error
    audit.record(by=by, verb="ask_correction", kind="correction", public_id=asked.public_id, at=now, client=client)
    return asked


def _problem(text: str) -> str:
    if not text:
        return "Write what is wrong first."
    if len(text) > MOST_WORDS:
        return "This can have 500 letters at most."
    if has_controls(text):
        return "This cannot hold control characters."
    return ""


def _waits() -> Refusal:
    return Refusal("asked_already", "We still look at what you asked for before. Wait for the answer, or ring us.")
