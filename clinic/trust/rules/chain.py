"""The chain over the trail: each link's digest covers the link before it, so that nothing inside can change unseen.

SHA-256 (FIPS 180-4) over a canonical JSON text (sorted keys, no spaces, UTF-8) of one recorded event, after the digest
of the link before. Cutting off the newest links leaves a shorter chain that is whole in itself: only a head kept
elsewhere (a log, a print) shows it.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

START = "0" * 64   # what stands before the first link

Facts = Mapping[str, Any]   # one event as plain JSON values


@dataclass(frozen=True, slots=True)
class Link:
    """Link `number` (from 1) with its digest and the event it seals; `facts` is None when that event is gone."""

    number: int
    digest: str
    event: int
    facts: Facts | None


@dataclass(frozen=True, slots=True)
class Break:
    """The first place where the chain does not hold: code `missing_link`, `missing_event` or `changed`."""

    code: str
    number: int
    event: int | None


@dataclass(frozen=True, slots=True)
class Head:
    """The newest link: its number (0 for an empty chain) and digest."""

    number: int = 0
    digest: str = START


def digest_of(before: str, facts: Facts) -> str:
    """The digest of a link over `facts`, behind the link whose digest is `before`; 64 hexadecimal digits."""
    text = json.dumps(facts, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(f"{before}\n{text}".encode()).hexdigest()


def walk(links: Iterable[Link]) -> tuple[Head, Break | None]:
    """(the last link that holds, the first break or None) of links in the order of their numbers."""
    head = Head()
    for link in links:
        if link.number != head.number + 1:
            return head, Break("missing_link", head.number + 1, None)
        if link.facts is None:
            return head, Break("missing_event", link.number, link.event)
        if digest_of(head.digest, link.facts) != link.digest:
            return head, Break("changed", link.number, link.event)
        head = Head(link.number, link.digest)
    return head, None
