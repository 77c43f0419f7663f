"""Change a program: a new revision, the old ones stay as they are."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import User
from clinic.people.queries import open_conditions
from clinic.people.refusal import Refusal
from clinic.people.rules import zones
from programs.prescribing.actions.plan_kick_off_review import plan_kick_off_review
from programs.prescribing.actions.plan_phase_messages import plan_phase_messages
from programs.prescribing.actions.refuse_contraindicated import (
    contraindications,
    note_override,
    refuse_contraindicated,
)
from programs.prescribing.actions.refuse_unscreened import note_screening_override, refuse_unscreened
from programs.prescribing.actions.write_revision import MOST_REASON, refuse_bad_plan, write_revision
from programs.prescribing.models import Program, Revision
from programs.prescribing.queries import OPEN, levels_named, locked, plans_of
from programs.prescribing.rules.diff import differences
from programs.prescribing.rules.plan import Plan
from programs.prescribing.screening import standing_for_change
from programs.prescribing.signals import program_changed

FURTHEST_AHEAD = 180   # days


@transaction.atomic
def revise_program(
    *,
    by: User,
    program: Program,
    plan: Plan,
    effective_from: date,
    reason: str,
    based_on: int,
    now: datetime,
    override_reason: str = "",
    screening_reason: str = "",
) -> Revision:
    """Write revision `based_on` + 1, counting from `effective_from` with `plan.anchor` as day one of its first phase.

    Refusal: `changed_meanwhile` (412) with `newest` and the `differences` since `based_on` when that is not the newest;
    `invalid` (400) with the fields; `not_open` (409) when the program has ended; `screening` (409) when the newest
    screening speaks against exercise; `contraindicated` (409). What stood in the way when the revision before was written
    was decided then and is not asked again.
    """
    program, override_reason, screening_reason = locked(program), override_reason.strip(), screening_reason.strip()
    if program.status not in OPEN:
        raise Refusal("not_open", "This program has ended, so it cannot be changed.")
    seen = plans_of(program)
    newest, newest_plan = seen[-1]
    if newest.number != based_on:
        raise _changed_meanwhile(seen, based_on)
    levels = levels_named(plan)
    today = zones.day_in(now, program.client.zone)
    refuse_bad_plan(plan, levels, _wrong(program, plan, effective_from, reason, override_reason, today))
    standing = standing_for_change(program, today)
    if standing:
        refuse_unscreened(standing, screening_reason)
    against = _undecided(program, newest, newest_plan, plan, today)
    refuse_contraindicated(against, override_reason)
    revision = write_revision(
        by=by, program=program, plan=plan, levels=levels, number=newest.number + 1, effective_from=effective_from,
        reason=(f"{reason.strip()} {override_reason}" if against else reason.strip())[:MOST_REASON], now=now,
    )
    note_override(by=by, program=program, against=against, now=now)
    if standing:
        note_screening_override(by=by, program=program, standing=standing, reason=screening_reason, now=now)
    audit.record(
        by=by, verb="revise_program", kind="program", public_id=program.public_id, at=now, client=program.client,
        number=revision.number, changed=sorted({change.code for change in differences(newest_plan, plan)}),
    )
    plan_kick_off_review(by=by, program=program, plan=plan, now=now, before=newest_plan)
    plan_phase_messages(by=by, program=program, now=now)
    program_changed.send(sender=Program, program=program, now=now)
    return revision


def _wrong(
    program: Program, plan: Plan, effective_from: date, reason: str, override_reason: str, today: date
) -> dict[str, str]:
    wrong = {}
    if not 1 <= len(reason.strip()) <= MOST_REASON:
        wrong["reason"] = f"Say in 1 to {MOST_REASON} characters why the program changes."
    if len(override_reason) > MOST_REASON:
        wrong["override_reason"] = f"The reason can have {MOST_REASON} characters at most."
    if effective_from < today:
        wrong["effective_from"] = f"A change counts from today or later, not from {effective_from:%d %B %Y}."
    elif effective_from < program.starts:
        wrong["effective_from"] = f"The program starts on {program.starts:%d %B %Y}; a change cannot count before that."
    elif (effective_from - today).days > FURTHEST_AHEAD:
        wrong["effective_from"] = f"A change counts within {FURTHEST_AHEAD} days from today."
    if plan.anchor > effective_from:
        wrong["anchor"] = f"The first phase cannot begin on {plan.anchor:%d %B %Y}, after the change counts."
    return wrong


def _changed_meanwhile(seen: list[tuple[Revision, Plan]], based_on: int) -> Refusal:
    newest, plan = seen[-1]
    base = next((old for revision, old in seen if revision.number == based_on), None)
    changes = [change.as_json() for change in differences(base, plan)] if base else []
    return Refusal(
        "changed_meanwhile",
        f"Somebody changed this program meanwhile: it is at revision {newest.number}, you saw {based_on}. "
        "Nothing was saved.",
        status=412, newest=newest.number, based_on=based_on, differences=changes,
    )


def _undecided(program: Program, newest: Revision, old: Plan, plan: Plan, today: date) -> list[dict[str, str]]:
    """Contraindications of `plan` today that did not hold when `newest` was written."""
    then = zones.day_in(newest.at, program.client.zone)
    decided = contraindications((item.exercise for item in old.items), open_conditions(program.client, then))
    today_against = contraindications((item.exercise for item in plan.items), open_conditions(program.client, today))
    return [row for row in today_against if row not in decided]
