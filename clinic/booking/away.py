"""Doors and reads of days away: who may see what, in a fixed number of queries."""

from __future__ import annotations

from uuid import UUID

from django.db.models import Count, Q, QuerySet

from clinic.booking.models import Away, ProposedMove
from clinic.booking.vocab import UNSETTLED, MoveState
from clinic.people.models import User
from clinic.people.refusal import NotThere
from clinic.people.vocab import Role

_OF_MOVE = (
    "away__site", "appointment__site", "appointment__client__site", "appointment__clinician__user",
    "appointment__visit_type", "appointment__room", "appointment__episode", "clinician__user", "room", "was_clinician",
)


def aways_for(user: User) -> QuerySet[Away]:
    """Days away that a person may see: front desk and lead, those at their sites. Counts of moves come along."""
    if not user.is_active or user.role not in (Role.FRONT_DESK, Role.LEAD):
        return Away.objects.none()
    return Away.objects.filter(site__staff__user=user).select_related("site", "clinician__user").annotate(
        visits=Count("moves"),
        moved=Count("moves", filter=Q(moves__state=MoveState.CONFIRMED)),
        unsettled=Count("moves", filter=Q(moves__state__in=UNSETTLED)),
    ).order_by("-first_day", "-pk")


def away_for(user: User, public_id: UUID | str) -> Away:
    """One of them."""
    found = aways_for(user).filter(public_id=public_id).first()
    if found is None:
        raise NotThere
    return found


def moves_for(user: User) -> QuerySet[ProposedMove]:
    """Proposed moves that a person may see: the desk's and lead's as above; a client's own once they were asked."""
    rows = ProposedMove.objects.select_related(*_OF_MOVE)
    if user.is_active and user.role == Role.CLIENT:
        return rows.filter(appointment__client__user=user, state=MoveState.ASKED, away__withdrawn_at__isnull=True)
    return rows.filter(away__in=aways_for(user).order_by().values("pk"))


def open_moves(user: User) -> QuerySet[ProposedMove]:
    """Those that the desk may see and that are still to be settled."""
    rows = moves_for(user).filter(state__in=UNSETTLED, away__withdrawn_at__isnull=True)
    return rows.order_by("was_starts", "pk")


def move_for(user: User, public_id: UUID | str) -> ProposedMove:
    """One of them."""
    found = moves_for(user).filter(public_id=public_id).first()
    if found is None:
        raise NotThere
    return found


def locked_move(move: ProposedMove) -> ProposedMove:
    """The same move as it is now, locked until the transaction ends: first locked, then read (as `queries.locked`)."""
    list(ProposedMove.objects.select_for_update().filter(pk=move.pk).order_by().values("pk"))
    return ProposedMove.objects.select_related(*_OF_MOVE).get(pk=move.pk)


def move_of(about: str) -> ProposedMove | None:
    """The move that a message is about; None when it is gone."""
    kind, _, public_id = about.partition(":")
    rows = ProposedMove.objects.select_related("appointment", "away")
    return rows.filter(public_id=public_id).first() if kind == "move" else None
