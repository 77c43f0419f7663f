"""Write one immutable revision with its phases and items. Part of a larger action's transaction."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from clinic.people.models import User
from clinic.people.refusal import Refusal
from programs.library.models import Level
from programs.library.rules.dose import dose_to_json
from programs.prescribing.models import Item, Phase, Program, Revision
from programs.prescribing.queries import unknown_levels
from programs.prescribing.rules.bits import to_bits
from programs.prescribing.rules.plan import TIMES, WEEKDAYS, Plan, problems

MOST_REASON = 300


def refuse_bad_plan(plan: Plan, levels: dict[tuple[str, int], Level], wrong: dict[str, str]) -> None:
    """Refusal `invalid` (400) with `wrong` and everything that is wrong with the plan, by field path."""
    found = {**wrong, **unknown_levels(plan.items, levels), **problems(plan.phases, plan.items)}
    if found:
        raise Refusal("invalid", "Some values cannot be used.", status=400, fields=found)


@transaction.atomic
def write_revision(
    *,
    by: User,
    program: Program,
    plan: Plan,
    levels: dict[tuple[str, int], Level],
    number: int,
    effective_from: date,
    reason: str,
    now: datetime,
) -> Revision:
    """The revision and all its parts. The plan has been checked; `levels` comes from `levels_named`."""
    revision = Revision.objects.create(
        program=program, number=number, effective_from=effective_from, anchor=plan.anchor, author=by,
        reason=reason, at=now,
    )
    Phase.objects.bulk_create(
        Phase(
            revision=revision, number=place, kind=phase.kind, days=phase.days,
            sessions_minimum=phase.sessions.minimum, sessions_full=phase.sessions.full,
            days_per_week=phase.days_per_week, advance=phase.advance,
            weekdays=to_bits(phase.weekdays, WEEKDAYS), times=to_bits(phase.times, TIMES),
        )
        for place, phase in enumerate(plan.phases, start=1)
    )
    Item.objects.bulk_create(
        Item(
            revision=revision, key=item.key, position=place, level=levels[item.exercise, item.level],
            exercise=levels[item.exercise, item.level].exercise, side=item.side, dose=dose_to_json(item.dose),
            rounds_minimum=item.rounds.minimum, rounds_full=item.rounds.full, priority=item.priority, note=item.note,
            leeway=item.leeway,
        )
        for place, item in enumerate(plan.items, start=1)
    )
    return revision
