"""Choose another time for a displaced visit than the one proposed, or leave it to the desk."""

from __future__ import annotations

from datetime import datetime

from clinic.booking import availability, checking, claiming
from clinic.booking.away import locked_move
from clinic.booking.models import Appointment, ProposedMove
from clinic.booking.moves import check_open
from clinic.booking.rules import grid as g
from clinic.booking.vocab import MoveState
from clinic.people import audit
from clinic.people.models import Staff, User
from clinic.people.refusal import Refusal
from clinic.people.retrying import in_one_transaction


def edit_move(
    *, by: User, move: ProposedMove, now: datetime, clinician: Staff | None = None, start: datetime | None = None
) -> ProposedMove:
    """Set time and clinician of the proposal; without a start the visit is left to the desk. The visit itself stays.

    Refusals as for moving a visit: `slot_taken` (409) with openings=, `outside_hours`, `off_grid`, `in_the_past` (400);
    `also_proposed` (409) when another row of the same days has that time; `changed_meanwhile` (409).
    """
    if start is None:
        return _write(move, None, by, now)
    visit = move.appointment
    person = clinician or visit.clinician
    checking.check_people(visit.client, person, None, visit.visit_type, visit.episode)
    claiming.check_start(start, now)
    asked = claiming.Asked(visit.site, visit.visit_type, person, visit.client, start, now, moving=visit)
    claiming.check_hours(asked, claiming.presence_for(asked))
    _check_free(asked, visit)
    return _write(move, asked, by, now)


def _check_free(asked: claiming.Asked, visit: Appointment) -> None:
    """The time is free now; whether it still is when the move is confirmed is asked again then."""

    def take() -> Appointment:
        trial = Appointment.objects.select_related("site", "client", "clinician", "room", "visit_type").get(pk=visit.pk)
        length = int((visit.ends - visit.starts).total_seconds() // 60)
        (trial.starts, trial.ends), (trial.busy_from, trial.busy_until) = availability.spans_of(
            visit.visit_type, asked.start, length
        )
        trial.clinician = asked.clinician
        claiming.settle(trial, first=visit.room)
        taken = claiming.in_the_way(claiming.needs(trial), visit.pk)
        if taken is not None:
            raise claiming.Taken(taken, asked.clinician.name)
        return trial

    claiming.or_refuse(take, asked)


@in_one_transaction
def _write(seen: ProposedMove, asked: claiming.Asked | None, by: User, now: datetime) -> ProposedMove:
    move = locked_move(seen)
    check_open(move)
    move.why_not, move.room, move.reasons, move.asked_at = "", None, [], None
    if asked is None:
        move.state, move.starts, move.clinician = MoveState.LEFT, None, None
    else:
        _check_others(move, asked)
        move.state, move.starts, move.clinician = MoveState.PROPOSED, asked.start, asked.clinician
        move.reasons = [["chosen_by_desk", 0]]
    move.save()
    audit.record(
        by=by, verb="edit_move", kind="move", public_id=move.public_id, at=now, client=move.appointment.client,
        starts=asked.start.isoformat() if asked else "",
    )
    return move


def _check_others(move: ProposedMove, asked: claiming.Asked) -> None:
    """Nobody else of the same days is proposed the same clinician's time."""
    _, wanted = availability.spans_of(asked.visit_type, asked.start)
    others = ProposedMove.objects.filter(
        away=move.away, clinician=asked.clinician, state__in=(MoveState.PROPOSED, MoveState.ASKED)
    ).exclude(pk=move.pk).select_related("appointment__visit_type", "appointment__client")
    for other in others if not asked.visit_type.is_group else ():   # several may join the same one
        if other.starts is not None and g.overlaps(
            wanted, availability.spans_of(other.appointment.visit_type, other.starts)[1]
        ):
            raise Refusal(
                "also_proposed", f"That time is proposed to {other.appointment.client.name} already.", status=409,
                fields={"start": "Another visit of these days is proposed that time."},
            )
