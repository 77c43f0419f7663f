"""Whose caseload: the programs and episodes that somebody looks after."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django.contrib.postgres.expressions import ArraySubquery
from django.db import connection
from django.db.models import BooleanField, Exists, F, Func, OuterRef, Q, QuerySet

from clinic.booking.models import Appointment
from clinic.people.models import Episode, Staff, User
from clinic.people.prepared import READER
from clinic.people.queries import clients_for, sites_for
from clinic.people.refusal import NotThere
from clinic.people.vocab import EpisodeStatus, Role
from dashboards.read_models.planned import Planned
from programs.prescribing.models import Program
from programs.prescribing.queries import OPEN


def staff_zone(user: User) -> str:
    """The zone of the first of the user's sites; reviews and visits are counted in its calendar."""
    return next((zone for zone, in _ZONES.rows(reader=user.pk)), "UTC")


_ZONES = Planned(lambda _: sites_for(User(pk=READER, role=Role.CLINICIAN)).values_list("zone")[:1])


def clinicians(user: User) -> Sequence[Staff]:
    """Whom the lead may choose from: the clinicians of their sites, by name; nobody else chooses."""
    if user.role != Role.LEAD:
        return []
    sites = list(sites_for(user))
    rows = Staff.objects.filter(sites__in=sites, user__role=Role.CLINICIAN, user__is_active=True)
    return list(rows.distinct().order_by("name", "pk"))


def chosen_clinician(choices: Sequence[Staff], public_id: str) -> Staff | None:
    """The clinician asked for by `?clinician=`; None for all. NotThere for anybody who cannot be chosen."""
    if not public_id:
        return None
    try:
        key = UUID(public_id)
    except ValueError:
        raise NotThere from None
    found = next((row for row in choices if row.public_id == key), None)
    if found is None:
        raise NotThere
    return found


def caseload_programs(user: User, clinician: Staff | None = None) -> QuerySet[Program]:
    """Open programs: a clinician's own (they gave it, or lead the episode), a lead's sites' (or those of one clinician).

    Who may see which client is asked of people's door. A clinician's own are found by their two indexes, so that the
    caseload costs the same however large the practice is.
    """
    rows = Program.objects.filter(status__in=OPEN, client__archived__isnull=True)
    if user.role == Role.CLINICIAN and user.is_active:
        return rows.filter(_among(_own(user)))
    if user.role != Role.LEAD:
        return rows.none()
    rows = rows.filter(client__in=clients_for(user))
    return rows.filter(Q(clinician=clinician) | Q(episode__lead=clinician)) if clinician else rows


def _among(keys: QuerySet[Any, Any]) -> Q | Func:
    """Rows with one of these keys. PostgreSQL takes its index for an array and reads the whole table for a subquery."""
    if connection.vendor == "postgresql":
        among = {"arg_joiner": " = ANY (", "template": "%(expressions)s)"}
        return Func(F("pk"), ArraySubquery(keys), output_field=BooleanField(), **among)
    return Q(pk__in=keys)


def _own(user: User) -> QuerySet[Any, Any]:
    """Keys of the open programs whose episode a clinician leads, and of those they gave to somebody they still may see."""
    running = Program.objects.filter(status__in=OPEN).order_by()
    led = running.filter(episode__lead__user=user).values("pk")
    seen = Q(Exists(Episode.objects.filter(client=OuterRef("client"), lead__user=user))) | Q(
        Exists(Appointment.objects.filter(client=OuterRef("client"), clinician__user=user))
    )
    return led.union(running.filter(seen, clinician__user=user).values("pk"))


def unprogrammed_episodes(user: User, clinician: Staff | None = None) -> QuerySet[Episode]:
    """Episodes being worked on that have no open program, by client's name; scoped like `caseload_programs`."""
    running = Program.objects.filter(episode=OuterRef("pk"), status__in=OPEN)
    rows = Episode.objects.filter(~Exists(running), status=EpisodeStatus.ACTIVE, client__archived__isnull=True).order_by(
        "client__family_name", "client__given_name", "pk"
    )
    if user.role == Role.CLINICIAN and user.is_active:
        return rows.filter(lead__user=user)   # whoever leads an episode may see its client
    if user.role != Role.LEAD:
        return rows.none()
    rows = rows.filter(client__in=clients_for(user))
    return rows.filter(lead=clinician) if clinician else rows
