"""The kinds of message. Each app registers its own in its `messages.py`; this app knows none of them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from clinic.reminders.rules.wording import check_placeholders

StillWanted = Callable[[Any, datetime], str | None]


@dataclass(frozen=True)
class Wording:
    """Subject and body; `{first_name}`, `{time}`, `{day}`, `{clinic}`, `{phone}`, `{url}`, `{counts}`: no others."""

    subject: str
    body: str


@dataclass(frozen=True)
class Attachment:
    """A second form of what the letter says, for a program to read; `mimetype` with its parameters."""

    content: str
    mimetype: str


Attach = Callable[[Any, str], Sequence[Attachment]]
LookUp = Callable[[Sequence[Any]], Mapping[str, Any]]


@dataclass(frozen=True)
class Kind:
    """One kind of message.

    `still_wanted(message, now)` is asked under lock just before sending: None sends, a code skips with that reason.
    `wordings` maps a language (BCP 47 primary tag) to text; `en` must be there.
    `look_up(messages)` reads what they are about in one go, by `message.about`; the two checks then find it as
    `message.found` where `message.looked_up` says so.
    `attach(message, address)` gives what goes along by mail, if anything.
    `after_unknown` says what to do when a worker died between hand-over and record: send once more, or hold for
    a person.
    """

    code: str
    label: str
    wordings: dict[str, Wording]
    still_wanted: StillWanted
    needs_consent: bool = True
    respects_quiet_hours: bool = True
    after_unknown: Literal["resend", "hold"] = "resend"
    attach: Attach | None = None
    look_up: LookUp | None = None


_kinds: dict[str, Kind] = {}


def register(kind: Kind) -> None:
    """Make a kind known.

    ValueError when the code is taken by another kind, English is missing, or a wording names an unknown placeholder.
    """
    if "en" not in kind.wordings:
        raise ValueError(f"message kind {kind.code} has no English wording")
    for language, wording in kind.wordings.items():
        try:
            check_placeholders(f"{wording.subject} {wording.body}")
        except ValueError as error:
            raise ValueError(f"message kind {kind.code}, language {language}: {error}") from error
    if kind.code in _kinds and _kinds[kind.code] is not kind:
        raise ValueError(f"message kind {kind.code} is registered twice")
    _kinds[kind.code] = kind


def kind(code: str) -> Kind:
    """The kind with that code. KeyError when no app registered it."""
    return _kinds[code]


def known(code: str) -> Kind | None:
    """The kind with that code; None when the app that queued such messages is no longer there."""
    return _kinds.get(code)


def all_kinds() -> list[Kind]:
    """Every registered kind, by code."""
    return [_kinds[code] for code in sorted(_kinds)]
