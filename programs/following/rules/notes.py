"""What a note may hold, and what of a conversation is a note."""

from __future__ import annotations

import unicodedata

MOST_TEXT = 2_000     # characters


def problem(text: str) -> str | None:
    """A sentence when the text is no note: empty, too long, or with control characters."""
    if not text.strip():
        return "Write something first."
    if len(text) > MOST_TEXT:
        return f"A note can have {MOST_TEXT} characters at most."
    if any(unicodedata.category(character) == "Cc" and character not in "\n\r\t" for character in text):
        return "A note cannot hold control characters."
    return None
