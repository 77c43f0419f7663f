"""Aerobic exercises are held against the activity guideline of a week together (WHO 2020, see library.rules.guideline)."""

from uuid import UUID

import pytest

from programs.library.models import Exercise, Level
from programs.library.rules.dose import Continuous, Span, dose_to_json
from programs.prescribing.rules.plan import ItemPlan, PhasePlan, Plan
from programs.prescribing.showing import guideline_rows

WALK = Continuous(Span(10, 15))


@pytest.mark.django_db
@pytest.mark.parametrize(("count", "told"), [(1, []), (2, [(150, "within")])])
def test_two_quarters_of_an_hour_on_five_days_are_the_lower_edge_together(count, told, now):
    """2 x 15 minutes x 5 days = 150 minutes a week; one exercise alone is told by its own line already."""
    items = []
    for number in range(count):
        exercise = Exercise.objects.create(
            slug=f"walk-{number}", name="Walk", region="trunk", kind="aerobic", side="both", setup="Go.", feel="Warm",
            not_feel="Pain",
        )
        Level.objects.create(exercise=exercise, number=1, name="Easy", dose=dose_to_json(WALK))
        items.append(ItemPlan(UUID(int=number), exercise.slug, 1, WALK))
    plan = Plan(now.date(), (PhasePlan("maintenance", None, Span(1, 1), 5),), tuple(items))
    [(_, _, found)] = guideline_rows(plan)
    together = [row.finding for row in found if row.exercise == "All aerobic exercises together"]
    assert [(finding.observed, finding.code) for finding in together] == told
