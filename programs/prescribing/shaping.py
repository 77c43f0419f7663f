"""What a clinician can have done to the draft of a plan at once: fit it to time, make its taper, begin from another plan."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import Any

from programs.prescribing.prescriber import Draft, draft_of
from programs.prescribing.queries import levels_named, with_library
from programs.prescribing.rules.fit import LEAST_MINUTES, MOST_MINUTES, Fitted, fit
from programs.prescribing.rules.plan import PhasePlan, Plan
from programs.prescribing.rules.plan_json import PlanError, item_to_json, phase_to_json, plan_from_json
from programs.prescribing.rules.taper import MOST_WEEKS, SHAPES, NoWayDown, taper

NO_WAY_DOWN = {
    "weeks": f"Give 1 to {MOST_WEEKS} weeks.",
    "rises": "Maintenance asks for more than the kick-off, so there is no way down between them.",
    "nothing_between": "Nothing lies between the kick-off and maintenance: they are too close together.",
}


def fit_draft(draft: Draft, day: date) -> Fitted:
    """Fit the exercises of the draft into `fit_minutes` a day of its busiest phase. PlanError names the field."""
    minutes = _whole(draft.texts.get("fit_minutes", ""))
    if not LEAST_MINUTES <= minutes <= MOST_MINUTES:
        raise PlanError({"fit_minutes": f"Give {LEAST_MINUTES} to {MOST_MINUTES} minutes a day, a whole number."})
    plan = draft.read(day)
    if not plan.items or not plan.phases:
        raise PlanError({"fit_minutes": "Add an exercise and a phase first."})
    plan = with_library(plan, levels_named(plan))
    sessions = max(phase.sessions.full for phase in plan.phases)
    fitted = fit(plan.items, minutes, sessions)
    if not fitted.items:
        least = -(-fitted.least * sessions // 60)
        raise PlanError({"fit_minutes": f"Not even the shortest exercise fits: it takes about {least} minutes a day."})
    draft.plan["items"] = [item_to_json(item) for item in fitted.items]
    return fitted


def taper_draft(draft: Draft) -> None:
    """Put a taper of `taper_shape` and `taper_weeks` between the kick-off and maintenance; PlanError names the field.

    When the kick-off is behind, it goes down from the taper step that stands first.
    """
    shape = next((shape for shape in SHAPES if shape == draft.texts.get("taper_shape")), None)
    if shape is None:
        raise PlanError({"taper_shape": f"Choose one of {', '.join(SHAPES)}."})
    rows = draft.plan["phases"]
    first = [row for row in rows if row["kind"] == "kick_off"] or [row for row in rows if row["kind"] == "taper"][:1]
    last = [row for row in rows if row["kind"] == "maintenance"]
    if not first or not last:
        raise PlanError({"taper_shape": "A taper lies between a kick-off and maintenance: the plan needs both."})
    before, after = _phase(first[-1]), _phase(last[0])
    try:
        steps = taper(shape, before, after, _whole(draft.texts.get("taper_weeks", "")))
    except NoWayDown as none:
        field = "taper_weeks" if none.code == "weeks" else "taper_shape"
        raise PlanError({field: NO_WAY_DOWN[none.code]}) from none
    draft.plan["phases"] = [*first, *(phase_to_json(step) for step in steps), *last]


def copy_of(plan: Plan, **texts: str) -> Draft:
    """A draft that begins as another client's plan: without their notes, and with items of its own."""
    draft = draft_of(replace(plan, items=tuple(replace(item, note="") for item in plan.items)), **texts)
    for item in draft.plan["items"]:
        item["key"] = ""
    return draft


def _phase(row: dict[str, Any]) -> PhasePlan:
    return plan_from_json({"phases": [row], "items": []}, date.min).phases[0]


def _whole(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 5 else 0
