"""What kind of device a browser says it runs on."""

from __future__ import annotations

from typing import Literal

Kind = Literal["android", "apple", "computer", "other"]
# looked for in this order: an iPad may call itself a Mac, an Android phone calls itself Linux (RFC 9110, 10.1.5: free text)
_SIGNS: tuple[tuple[str, Kind], ...] = (
    ("iphone", "apple"), ("ipad", "apple"), ("android", "android"), ("windows", "computer"), ("macintosh", "computer"),
    ("x11", "computer"), ("cros", "computer"),
)


def kind_of(agent: str) -> Kind:
    """The kind by a User-Agent header; `other` when it says nothing we know."""
    said = agent.lower()
    return next((kind for sign, kind in _SIGNS if sign in said), "other")
