"""Which of our languages a client reads."""

from __future__ import annotations

SPOKEN = {"es": "es"}   # primary BCP 47 subtag: our name of the language
FIRST = "en-gb"


def spoken_language(tag: str) -> str:
    """Our language for a BCP 47 tag, by its primary subtag; English when we do not have it."""
    return SPOKEN.get(tag.replace("_", "-").split("-")[0].lower(), FIRST)
