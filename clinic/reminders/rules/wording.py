"""Filling a text with values: a fixed list of placeholders, one-line values, no template language."""

from __future__ import annotations

import re
from collections.abc import Mapping

PLACEHOLDERS = frozenset({"first_name", "time", "day", "clinic", "phone", "url", "counts"})
_HOLE = re.compile(r"\{([^{}]*)\}")
# line and paragraph separators would start a mail header; direction overrides would turn the rest of the line round
_UNSAFE = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]+")


def check_placeholders(text: str) -> None:
    """ValueError naming every placeholder that is not on the list."""
    unknown = sorted(set(_HOLE.findall(text)) - PLACEHOLDERS)
    if unknown:
        raise ValueError(f"unknown placeholder {', '.join('{' + name + '}' for name in unknown)}")


def one_line(value: str) -> str:
    """The value on one line, without control characters and direction overrides."""
    return " ".join(_UNSAFE.sub(" ", value).split())


def fill(text: str, values: Mapping[str, str]) -> str:
    """The text with each placeholder replaced by its one-line value; a value that is missing leaves nothing."""
    return _HOLE.sub(lambda hole: one_line(str(values.get(hole[1], ""))), text)


def pick_language(language: str, known: Mapping[str, object]) -> str:
    """The key of `known` for a BCP 47 tag by its primary subtag; English when there is none."""
    primary = language.replace("_", "-").split("-")[0].lower()
    return primary if primary in known else "en"
