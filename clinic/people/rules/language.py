"""Which of our languages a person reads."""

from __future__ import annotations

SPOKEN = {"es": "es"}   # primary BCP 47 subtag: our name of the language
FIRST = "en-gb"


def spoken_language(tag: str) -> str:
    """Our language for a BCP 47 tag, by its primary subtag; English when we do not have it."""
    return SPOKEN.get(tag.replace("_", "-").split("-")[0].lower(), FIRST)


def first_spoken(accepted: str) -> str:
    """Our language for an Accept-Language header (RFC 9110, 12.5.4): of those we speak the one with the highest weight.

    English when none is ours, or the header cannot be read. Equal weights count in the order they stand in.
    """
    wishes = []
    for place, part in enumerate(accepted.split(",")[:20]):
        tag, _, weight = part.strip().partition(";")
        primary = tag.strip().replace("_", "-").split("-")[0].lower()
        if primary == "en" or primary in SPOKEN:
            wishes.append((-_weight(weight), place, SPOKEN.get(primary, FIRST)))
    wanted = [wish for wish in wishes if wish[0] < 0]
    return min(wanted)[2] if wanted else FIRST


def _weight(text: str) -> float:
    """The weight behind "q=", 0 to 1; 1 when none is given, 0 when it cannot be read."""
    if not text.strip():
        return 1.0
    name, _, value = text.strip().partition("=")
    digits = value.strip()
    if name.strip().lower() != "q" or not digits.isascii() or not digits.replace(".", "", 1).isdigit():
        return 0.0
    return min(float(digits), 1.0)
