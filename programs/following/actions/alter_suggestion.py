"""A clinician takes a suggestion up in another way: another level, dose, number of days or day."""

from __future__ import annotations

from datetime import date, datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from clinic.people.rules import zones
from programs.following.actions import deciding
from programs.following.actions.decline_suggestion import open_and_locked
from programs.following.models import Suggestion
from programs.following.queries import today_of
from programs.following.rules import change
from programs.following.vocab import SuggestionKind, SuggestionState
from programs.prescribing.rules.plan import Plan

LOOK_EARLIER, LOOK_LATER = 2, 4    # days around the day chosen for a look (common practice, no source)
MOST_AHEAD = 60                    # days a look can be put off: later than that it is another one
REASONS = {
    SuggestionKind.PROGRESS: "Suggestion altered: harder, in another way",
    SuggestionKind.REGRESS: "Suggestion altered: easier, in another way",
    SuggestionKind.TAPER: "Suggestion altered: the next step down on another day",
    SuggestionKind.EXTEND_KICK_OFF: "Suggestion altered: a longer kick-off",
}


@transaction.atomic
def alter_suggestion(
    *, by: User, suggestion: Suggestion, now: datetime, level: int | None = None, amount: tuple[int, int] | None = None,
    days: int | None = None, effective_from: date | None = None, note: str = "",
) -> Suggestion:
    """Carry it out with what was chosen instead; the state is `altered`.

    An exercise takes `level` and `amount` (least and full: seconds, repetitions or minutes), a kick-off `days` (3 to 7), all
    of them and a taper `effective_from`; for a reassessment that is the day it is due. Contact and pause are accepted or
    declined. Refusal: `not_alterable`, `nothing_altered`, `already_decided`, `ground_gone` (409), `invalid` (400) by field,
    and those of the actions it calls; nothing is saved then. NotThere for who is no clinician.
    """
    row = open_and_locked(by=by, suggestion=suggestion)
    kind = SuggestionKind(row.kind)
    if kind not in {*REASONS, SuggestionKind.REASSESS}:
        raise Refusal("not_alterable", "This one can be accepted or declined, not altered.")
    deciding.close(row, SuggestionState.ALTERED, by=by, note=note, now=now)
    if kind == SuggestionKind.REASSESS:
        _look(by, row, effective_from, now)
    else:
        effective = deciding.first_day(row, now, effective_from)
        plan = _chosen(row, deciding.plan_behind(row), effective, level, amount, days, now)
        deciding.revise(row, plan, effective, by=by, reason=REASONS[kind], now=now)
    audit.record(
        by=by, verb="alter_suggestion", kind="suggestion", public_id=row.public_id, at=now, client=row.program.client,
        suggested=row.kind, revision=row.resulting_revision.number if row.resulting_revision else None,
        chosen=sorted(name for name, value in (("level", level), ("amount", amount), ("days", days),
                                               ("effective_from", effective_from)) if value is not None),
    )
    return row


def _chosen(
    row: Suggestion, plan: Plan, effective: date, level: int | None, amount: tuple[int, int] | None, days: int | None,
    now: datetime,
) -> Plan | None:
    """The plan as chosen. Refusal when it is the same as was suggested."""
    made = deciding.as_made(row, plan, now, effective)
    chosen = made
    if row.kind == SuggestionKind.EXTEND_KICK_OFF and days is not None:
        least, most = change.EXTEND_LEAST, change.EXTEND_MOST
        if not least <= days <= most:
            raise _invalid("days", f"A kick-off is made {least} to {most} days longer at a time, not {days}.")
        chosen = change.kick_off_extended(plan, days, today_of(row.program, now))
    elif row.kind in {SuggestionKind.PROGRESS, SuggestionKind.REGRESS} and (level is not None or amount is not None):
        chosen = _item(row, plan, made, level, amount)
    if chosen == made and effective == deciding.first_day(row, now, None):
        raise Refusal("nothing_altered", "This is what was suggested. Accept it, or change something first.")
    return chosen


def _item(
    row: Suggestion, plan: Plan, made: Plan | None, level: int | None, amount: tuple[int, int] | None
) -> Plan | None:
    """The exercise as suggested where nothing else was chosen, on the level and with the amount that were."""
    start = change.item_of(made or plan, row.item_key) if row.item_key else None
    if start is None:
        return None
    try:
        item = change.altered(start, deciding.ladder_of(row, plan), level, amount)
    except ValueError as error:
        raise _invalid("amount", f"This is not a range from least to full: {error}.") from error
    if item is None:
        raise _invalid("level", f"This exercise has no level {level}.")
    return change.with_item(plan, item)


def _look(by: User, row: Suggestion, due: date | None, now: datetime) -> None:
    today = zones.day_in(now, row.program.client.site.zone)
    if due is None or not 0 <= (due - today).days <= MOST_AHEAD:
        raise _invalid("effective_from", f"Choose a day from today to {MOST_AHEAD} days ahead.")
    ahead = (due - today).days
    deciding.look_again(by, row.program, (max(0, ahead - LOOK_EARLIER), ahead, ahead + LOOK_LATER), now)


def _invalid(field: str, sentence: str) -> Refusal:
    return Refusal("invalid", sentence, status=400, fields={field: sentence})
