"""Record one measured value."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import Episode, User
from clinic.people.refusal import Refusal
from clinic.people.vocab import BodySide
from clinic.visits.models import Measure, Result, Visit
from clinic.visits.queries import structure_of
from clinic.visits.rules.scoring import ItemProblem, problems, score

SIDES = (BodySide.LEFT, BodySide.RIGHT)


@transaction.atomic
def record_result(
    *,
    by: User,
    episode: Episode,
    measure: Measure,
    values: Sequence[float | None],
    now: datetime,
    side: str = BodySide.NONE,
    visit: Visit | None = None,
) -> Result:
    """Score the items and keep both; None in `values` is a missing item.

    A measure taken by side needs `left` or `right`, any other `none`. Refusal `invalid` (400) names each item at fault
    as `values.<number>`, counted from 1.
    """
    wrong = wrong_fields(measure, values, side)
    if wrong:
        raise Refusal("invalid", f"{measure.name}: some numbers cannot be used.", status=400, fields=wrong)
    result = Result.objects.create(
        episode=episode, visit=visit, measure=measure, side=side, value=score(structure_of(measure), values),
        item_values=list(values), at=visit.at if visit else now, by=by,
    )
    audit.record(
        by=by, verb="record_result", kind="result", public_id=result.public_id, at=now, client=episode.client,
        measure=measure.code, side=side,
    )
    return result


def wrong_fields(measure: Measure, values: Sequence[float | None], side: str) -> dict[str, str]:
    """What is wrong with the numbers and the side, by field; empty when they can be kept."""
    wrong: dict[str, str] = {}
    if measure.by_side and side not in SIDES:
        wrong["side"] = f"{measure.name} is measured on the left or on the right."
    if not measure.by_side and side != BodySide.NONE:
        wrong["side"] = f"{measure.name} has no side."
    for problem in problems(structure_of(measure), values):
        wrong[f"values.{problem.item}" if problem.item else "values"] = _sentence(measure, problem)
    return wrong


def _sentence(measure: Measure, problem: ItemProblem) -> str:
    low, high = f"{measure.item_minimum:g}", f"{measure.item_maximum:g}"
    which = measure.name if measure.items == 1 else f"{measure.name}, item {problem.item}"
    match problem.code:
        case "too_many":
            return f"{measure.name} has {measure.items} items, not {problem.observed:g}."
        case "too_few":
            return (
                f"{measure.name} needs at least {measure.minimum_answered} of its {measure.items} items; "
                f"{problem.observed:g} are there."
            )
        case "not_a_number":
            return f"{which}: this is not a number."
    return f"{which} goes from {low} to {high}, not {problem.observed:g}."
