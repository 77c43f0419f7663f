"""Record what happened at a visit, with what was measured."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from clinic.booking.models import Appointment
from clinic.people import audit
from clinic.people.models import Episode, Staff, User
from clinic.people.refusal import Refusal
from clinic.people.rules import zones
from clinic.people.vocab import BodySide
from clinic.visits.actions.plan_reassessment import OVER, plan_reassessment
from clinic.visits.actions.record_result import record_result, wrong_fields
from clinic.visits.models import Measure, Reassessment, Visit
from clinic.visits.queries import LIVE
from clinic.visits.rules.plan import Window, after_visits, before_visits_run_out
from clinic.visits.vocab import ReassessmentReason, ReassessmentStatus

MOST_NOTE = 8000


@dataclass(frozen=True)
class Measured:
    """Numbers of one measure and side, not yet scored."""

    measure: Measure
    values: Sequence[float | None]
    side: str = BodySide.NONE


@transaction.atomic
def record_visit(
    *,
    by: User,
    episode: Episode,
    note: str,
    now: datetime,
    appointment: Appointment | None = None,
    results: Sequence[Measured] = (),
) -> Visit:
    """Write the record and its results together; plan the look that so many visits call for.

    The visit is dated by its appointment, without one by `now`. Refusal `invalid` (400) with fields `note`,
    `appointment` or `results.<code>.<side>.values.<number>`; `already_recorded` (409) for a second record of one visit.
    """
    wrong = _wrong(episode, note, now, appointment, results)
    if wrong:
        raise Refusal("invalid", "Some values cannot be used. Nothing was saved.", status=400, fields=wrong)
    if appointment:
        # the lock makes two senders of one form take turns
        Appointment.objects.select_for_update().get(pk=appointment.pk)
        if Visit.objects.filter(appointment=appointment).exists():
            raise Refusal("already_recorded", "This visit has been recorded already.")
    visit = Visit.objects.create(
        episode=episode, appointment=appointment, clinician=_clinician(by, episode, appointment),
        at=appointment.starts if appointment else now, note=note.strip(), by=by,
    )
    audit.record(by=by, verb="record_visit", kind="visit", public_id=visit.public_id, at=now, client=episode.client)
    for each in results:
        record_result(
            by=by, episode=episode, measure=each.measure, values=each.values, side=each.side, now=now, visit=visit
        )
    _plan_by_count(by, episode, now)
    return visit


def _wrong(
    episode: Episode, note: str, now: datetime, appointment: Appointment | None, results: Sequence[Measured]
) -> dict[str, str]:
    wrong: dict[str, str] = {}
    if len(note) > MOST_NOTE:
        wrong["note"] = f"A note can have {MOST_NOTE} characters at most, not {len(note)}."
    if not note.strip() and not results:
        wrong["note"] = "Write a note or enter a measure."
    if appointment:
        if appointment.client_id != episode.client_id:
            wrong["appointment"] = "That visit belongs to somebody else."
        elif appointment.status not in LIVE:
            wrong["appointment"] = "That visit did not take place."
        elif appointment.starts > now:
            wrong["appointment"] = "That visit has not begun yet."
    seen: set[tuple[int, str]] = set()
    for each in results:
        where = f"results.{each.measure.code}.{each.side}"
        if (each.measure.pk, each.side) in seen:
            wrong[where] = f"{each.measure.name} is there twice."
        seen.add((each.measure.pk, each.side))
        for name, sentence in wrong_fields(each.measure, each.values, each.side).items():
            wrong[f"{where}.{name}"] = sentence
    return wrong


def _clinician(by: User, episode: Episode, appointment: Appointment | None) -> Staff:
    if appointment:
        return appointment.clinician
    return Staff.objects.filter(user=by).first() or episode.lead


def _plan_by_count(by: User, episode: Episode, now: datetime) -> None:
    if episode.status in OVER:
        return
    records = Visit.objects.filter(episode=episode, superseded_by__isnull=True)
    zone = episode.client.site.zone
    days = {zones.day_in(at, zone) for at in records.values_list("at", flat=True)}
    closed = Reassessment.objects.filter(episode=episode, status=ReassessmentStatus.DONE).order_by("-closed_at").first()
    since = {day for day in days if closed is None or closed.closed_at is None or day > zones.day_in(closed.closed_at, zone)}
    today = zones.day_in(now, zone)
    _plan(by, episode, ReassessmentReason.VISIT_COUNT, after_visits(len(since), today), now)
    if episode.visits_allowed is not None:
        span = before_visits_run_out(episode.visits_allowed, len(days), today)
        _plan(by, episode, ReassessmentReason.REFERRAL_LIMIT, span, now)


def _plan(by: User, episode: Episode, reason: str, span: Window | None, now: datetime) -> None:
    open_now = Reassessment.objects.filter(episode=episode, reason=reason, status=ReassessmentStatus.OPEN)
    if span is None or open_now.exists():
        return   # a window that is open is not pushed back by every further visit
    plan_reassessment(
        by=by, episode=episode, reason=reason, earliest=span.earliest, due=span.due, latest=span.latest, now=now
    )
