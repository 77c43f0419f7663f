"""One line of the caseload, drawn. A line that is equal to one drawn before is not drawn again."""

from __future__ import annotations

from functools import lru_cache
from hashlib import blake2b
from typing import Any, NamedTuple

from django.template.loader import get_template
from django.utils.safestring import SafeString

from dashboards.pages import words
from dashboards.read_models.caseload_rows import CaseloadRow
from programs.following.vocab import SuggestionKind
from programs.prescribing.rules.ribbon import RibbonDay

DAY_WIDTH = 5     # user units of ribbon a day: today stands under today in every line
REMEMBERED = 4096


class Line(NamedTuple):
    """A table row, and a short name of what it says."""

    html: SafeString
    mark: str


@lru_cache(maxsize=REMEMBERED)
def drawn_line(row: CaseloadRow, most: int, decides: bool) -> Line:
    """The table row. `most`: seconds of the page's longest day; `decides`: whether the reader accepts suggestions and books.

    Everything it says is in its arguments, so an older drawing of equal ones is as good as a new one.
    """
    html = SafeString(get_template("dashboards/parts/caseload_line.html").render({
        "line": line_of(row, most), "decides": decides,
    }))
    return Line(html, blake2b(html.encode(), digest_size=12).hexdigest())


def peak(row: CaseloadRow) -> int:
    """Seconds of the longest day in the row's ribbon."""
    return _peak(row.ribbon)


@lru_cache(maxsize=REMEMBERED)
def _peak(days: tuple[RibbonDay, ...]) -> int:
    return max((day.full for day in days), default=0)


def line_of(row: CaseloadRow, most: int = 0) -> dict[str, Any]:
    """What the line says, in words."""
    shape, word = words.band_words(row)
    look_shape, look_word = words.look_words(row)
    standing, ribbon = row.standing, row.ribbon
    return {
        "row": row, "standing": standing, "shape": shape, "word": word, "phase": words.phase_words(row),
        "reasons": [words.reason_words(reason) for reason in standing.reasons] if standing else [],
        "seven": words.percent(standing.adherence_7 if standing else None),
        "whole": words.percent(standing.adherence_all if standing else None),
        "sessions": words.share_words(
            standing.sessions_done, standing.sessions_prescribed, standing.low, standing.high
        ) if standing else words.DASH,
        "trend": words.slope_words(standing.pain_slope if standing else None),
        "look_shape": look_shape, "look": look_word, "look_reason": words.look_reason(row),
        "may_book": row.reassessment is not None and row.reassessment.state != "booked",
        "visit": words.time_words(row.visit.starts, row.visit.zone) if row.visit else "",
        "ribbon": ribbon, "title": words.ribbon_title(row), "width": DAY_WIDTH * len(ribbon),
        # one scale for all would leave threads of the short programs beside a long one: at most twice as thick as its share
        "most": max(peak(row), most // 2) or None,
        "suggestions": [(item, str(SuggestionKind(item.kind).label)) for item in row.suggestions],
    }
