"""The handout as a PDF: its data, and the one call of the typesetter.

User text goes in as JSON and is set as text, never read as markup. The file is tagged (PDF/UA-1) unless a character is in
none of the fonts at hand; it is then set without the standard, so that nobody goes home without paper.
"""

from __future__ import annotations

import json
import re
from dataclasses import asdict, dataclass
from datetime import date, timedelta
from functools import cache
from pathlib import Path
from threading import Lock
from typing import Any, Literal

import typst
from qrcode import QRCode
from qrcode.constants import ERROR_CORRECT_M

from programs.library.models import Level
from programs.library.templatetags.library_tags import drawing
from programs.prescribing.paper.words import STOP, Says, phone_words
from programs.prescribing.queries import levels_beside
from programs.prescribing.rules.plan import ItemPlan, Plan
from programs.prescribing.rules.timeline import timeline
from programs.prescribing.showing import PhaseRow, named_items, phase_rows, session_span

FOLDER = Path(__file__).parent
DAYS = 7                  # of the tick grid
MOST_BOXES = 4
MOST_PAGES = 2
DENSITIES = ("roomy", "close", "tight")
_PAGE = re.compile(rb"/Type\s*/Page\b(?!s)")
_ONE_AT_A_TIME = Lock()   # the typesetter keeps what it has read between calls


@dataclass(frozen=True)
class Heading:
    """Whose handout it is: the client's first name only, for paper is left lying about."""

    title: str
    client: str
    clinician: str
    site: str
    phone: str
    emergency: str
    url: str
    language: str


def handout_data(heading: Heading, plan: Plan, care: list[tuple[str, str]], today: date) -> dict[str, Any]:
    """Everything the paper says; `care` is (exercise, reason) of what this client's conditions ask care for."""
    say = Says(heading.language)
    first = max(plan.anchor, today)
    days = timeline([(plan.anchor, plan)], [], first, first + timedelta(days=DAYS - 1))
    rows = phase_rows(plan)
    now = next((day.asked.phase for day in days if day.asked), plan.phases[0])
    least, most = session_span(plan)
    beside = levels_beside(plan.items)
    about = {**asdict(heading), "phone": phone_words(heading.phone)}
    return {
        "lang": say.language, "title": heading.title, "clinician": heading.clinician, "words": dict(say.words),
        "for-line": say("for", **about), "phases-line": say("now", often=say.often(now), minutes=say.minutes(least, most)),
        "qr": qr_svg(heading.url), "qr-alt": say("qr_alt", **about), "qr-line": say("qr"),
        "footer": say("footer", **about), "closing": say("closing"),
        "items": [_item(row, beside.get(row["item"].key, []), say) for row in named_items(plan, say.language)],
        "days": [
            {
                "name": say.column(day.day),
                "boxes": min(MOST_BOXES, day.asked.sessions.full) if day.asked and day.asked.sessions else 0,
            }
            for day in days
        ],
        "phases": [_phase(row, say) for row in rows],
        "care": [{"name": name, "reason": reason} for name, reason in care],
        "stop": [sentence.format(**about) for sentence in STOP[say.language]],
    }


def _item(row: dict[str, Any], beside: list[Level], say: Says) -> dict[str, Any]:
    item, level, words, level_words = row["item"], row["level"], row["words"], row["level_words"]
    alt = f"{words.name}: {level_words.name}"
    return {
        "name": words.name, "dose": say.dose(item.dose, item.rounds), "side": say(item.side) if row["sided"] else "",
        "note": item.note, "beside": [_beside(item, other, say) for other in beside],
        "level": level_words.name, "setup": words.setup, "feel": words.feel, "not_feel": words.not_feel,
        "cues": list(level_words.cues), "figure": drawing(level, item.side, alt), "alt": alt,
    }


def _beside(item: ItemPlan, other: Level, say: Says) -> str:
    """The choice that the clinician left: `Easier, if you need it: Bent knee`."""
    way = "easier" if other.number < item.level else "harder"
    return say(way, level=other.in_language(say.language).name)


def _phase(row: PhaseRow, say: Says) -> dict[str, str]:
    phase = row.phase
    length = f", {phase.days} {say('day' if phase.days == 1 else 'days')}" if phase.days else ""
    if row.first is None:
        when = say("decided")
    elif row.last is None:
        when = say("from", first=say.day(row.first))
    else:
        when = say("until", first=say.day(row.first), last=say.day(row.last))
    return {
        "name": say(phase.kind) + length, "when": when, "often": say.often(phase),
        "time": say.minutes(row.minimum_seconds, row.full_seconds),
    }


def qr_svg(text: str) -> str:
    """The QR code (ISO/IEC 18004) of a text, with its quiet zone of four modules."""
    code = QRCode(error_correction=ERROR_CORRECT_M, border=4)
    code.add_data(text)
    code.make()
    rows = code.get_matrix()
    dark = "".join(f"M{x} {y}h1v1h-1z" for y, row in enumerate(rows) for x, on in enumerate(row) if on)
    return f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {len(rows)} {len(rows)}"><path d="{dark}"/></svg>'


def handout_pdf(data: dict[str, Any]) -> bytes:
    """One page if the two larger sizes allow it, else two, else as few as there can be; the roomiest of these."""
    tried = []
    for density in DENSITIES:
        pdf = typeset({**data, "density": density})
        tried.append((pages(pdf), pdf))
        if tried[-1][0] == 1 or (density != DENSITIES[0] and min(tried)[0] <= MOST_PAGES):
            break
    fewest = min(1 if count == 1 else MOST_PAGES if count <= MOST_PAGES else count for count, _ in tried)
    return next(pdf for count, pdf in tried if count <= fewest)


def pages(pdf: bytes) -> int:
    """How many pages a PDF of the typesetter has."""
    return len(_PAGE.findall(pdf))


def typeset(data: dict[str, Any], form: Literal["pdf", "svg", "png"] = "pdf") -> Any:
    """Set the handout: bytes of a PDF; with form "svg" the pages as pictures, which tests read."""
    sent = {"data": json.dumps(data)}
    with _ONE_AT_A_TIME:
        if form != "pdf":
            return _typesetter().compile(format=form, sys_inputs=sent)
        try:
            return _typesetter().compile(format="pdf", sys_inputs=sent, pdf_standards=["ua-1"])
        except typst.TypstError as error:
            if "could not be displayed" not in str(error):
                raise
            return _typesetter().compile(format="pdf", sys_inputs=sent)


@cache
def _typesetter() -> typst.Compiler:
    return typst.Compiler(str(FOLDER / "handout.typ"), root=str(FOLDER))
