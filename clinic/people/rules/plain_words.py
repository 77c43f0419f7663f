"""What somebody typed into a box: tidied, and what is wrong with it."""

from __future__ import annotations

import unicodedata


def tidy(text: str) -> str:
    """Without blanks around the whole and around each line; a line ends in one sign, whatever a browser sends."""
    return "\n".join(line.strip(" \t") for line in text.replace("\r\n", "\n").replace("\r", "\n").split("\n")).strip()


def has_controls(text: str) -> bool:
    """Whether signs stand in it that nobody types, as NUL or an escape."""
    return any(unicodedata.category(sign) == "Cc" and sign != "\n" for sign in text)
