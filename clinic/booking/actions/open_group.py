"""Plan a group: a time at which a clinician sees several clients together."""

from __future__ import annotations

from datetime import datetime, timedelta

from clinic.booking import availability, checking, claiming
from clinic.booking.models import GroupVisit, Room, VisitType
from clinic.people import audit
from clinic.people.models import Site, Staff, User
from clinic.people.refusal import Refusal
from clinic.people.retrying import in_one_transaction
from clinic.people.rules import zones

MOST_WEEKS = 26


def open_group(
    *, by: User, site: Site, visit_type: VisitType, clinician: Staff, start: datetime, now: datetime, weeks: int = 1,
    room: Room | None = None,
) -> list[GroupVisit]:
    """Hold clinician and room at that local time once a week, `weeks` times; all of them or none.

    Refusals: `slot_taken` (409) with taken= and openings=; `invalid`, `outside_hours`, `in_the_past`, `off_grid`, `too_far`,
    `nonexistent_time`, `ambiguous_time` (400); `no_room` (409).
    """
    checking.check_group(visit_type, clinician, site, room, weeks, MOST_WEEKS)
    claiming.check_start(start, now)
    local = start.astimezone(zones.zone(site.zone))
    starts = [start]
    for week in range(1, weeks):
        try:
            starts.append(zones.instant(local.date() + timedelta(weeks=week), local.time(), site.zone))
        except zones.LocalTimeProblem as problem:
            raise Refusal(
                problem.code, f"In week {week + 1} the clocks change and that time is not clear. Plan fewer weeks.",
                status=400,
            ) from problem
    for each in starts:
        claiming.check_start(each, now)
        asked = claiming.Asked(site, visit_type, clinician, None, each, now)
        claiming.check_hours(asked, claiming.presence_for(asked))
    asked = claiming.Asked(site, visit_type, clinician, None, start, now)
    return claiming.or_refuse(lambda: _write(asked, starts, room, by), asked)


@in_one_transaction
def _write(asked: claiming.Asked, starts: list[datetime], room: Room | None, by: User) -> list[GroupVisit]:
    claiming.lock([asked.clinician.pk], None, asked.site)
    made = []
    for start in starts:
        (begins, ends), (busy_from, busy_until) = availability.spans_of(asked.visit_type, start)
        group = GroupVisit(
            site=asked.site, clinician=asked.clinician, visit_type=asked.visit_type, starts=begins, ends=ends,
            busy_from=busy_from, busy_until=busy_until, at=asked.now, by=by,
        )
        if room is not None:
            group.room = room
        else:
            claiming.choose_room(group)
        claiming.hold(group)
        audit.record(
            by=by, verb="open_group", kind="group", public_id=group.public_id, at=asked.now, client=None,
            starts=begins.isoformat(), clinician=str(asked.clinician.public_id),
        )
        made.append(group)
    return made
