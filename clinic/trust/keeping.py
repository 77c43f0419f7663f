"""What is kept no more, by the settings of a site: the page shows the numbers, the command takes it out.

Nobody's record goes while a visit is to come, an episode or a program goes on, an alert is open or somebody wrote down why it
stays. Sessions and the post box name no site: they go when every site lets them go, by the longest time.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.contrib.sessions.models import Session
from django.db.models import Q, QuerySet

from clinic.people.models import AuditEvent, Client, IdempotencyKey, SignInLink, Site, User
from clinic.people.queries import clients_for, sites_for
from clinic.people.refusal import NotThere
from clinic.people.rules import zones
from clinic.people.vocab import EpisodeStatus, Role
from clinic.reminders.models import InboxMessage, Message
from clinic.reminders.vocab import MessageState
from clinic.trust.models import Retention
from clinic.trust.rules.keeping import may_go

OVER = (EpisodeStatus.FINISHED, EpisodeStatus.CANCELLED, EpisodeStatus.ENTERED_IN_ERROR)


@dataclass(frozen=True, slots=True)
class Due:
    """Rows of a kind that are kept no more."""

    kind: str
    rows: QuerySet[Any]


def site_for(user: User, key: str) -> Site:
    """The lead's site of that key, the first by name without one."""
    if user.role != Role.LEAD:
        raise NotThere
    sites = list(sites_for(user)[:100])
    found = next((site for site in sites if str(site.pk) == key), None) if key else next(iter(sites), None)
    if found is None:
        raise NotThere
    return found


def settings_of(site: Site) -> Retention | None:
    """What the site wrote down; None: everything is kept for ever."""
    return Retention.objects.filter(site=site).first()


def in_care(now: datetime) -> Q:
    """Clients whose record stays, whenever it was put away. Apps above this one are asked by their relation to the client."""
    held = (
        Q(appointments__starts__gt=now, appointments__status__in=("booked", "pending", "proposed")),
        Q(programs__status__in=("active", "on-hold")),
        Q(alerts__isnull=False, alerts__closed_at__isnull=True),
        Q(episodes__isnull=False) & ~Q(episodes__status__in=OVER),
    )
    found = Q()
    for each in held:
        found |= Q(pk__in=Client.objects.filter(each).values("pk"))
    return found


def put_away(user: User) -> QuerySet[Client]:
    """Records that were put away and not erased, the oldest first; for the lead."""
    if user.role != Role.LEAD:
        raise NotThere
    return not_erased(clients_for(user).filter(archived__isnull=False)).select_related("site").order_by("archived", "pk")


def not_erased(rows: QuerySet[Client]) -> QuerySet[Client]:
    """Without those who were taken out of the records."""
    return rows.exclude(pk__in=AuditEvent.objects.filter(verb="erase_person", client__isnull=False).values("client"))


def due_records(site: Site, months: int, now: datetime) -> QuerySet[Client]:
    """Records put away so long ago that they go."""
    end = _end(site, months, now)
    if end is None:
        return Client.objects.none()
    rows = Client.objects.filter(site=site, archived__lt=end, keep="")
    return not_erased(rows.exclude(in_care(now))).order_by("archived", "pk")


def due_of(site: Site, now: datetime) -> list[Due]:
    """Of each kind that belongs to the site what is kept no more."""
    held = settings_of(site)
    if held is None:
        return []
    found = []
    if held.record_years is not None:
        found.append(Due("records", due_records(site, 12 * held.record_years, now)))
    if held.message_months is not None and (end := _end(site, held.message_months, now)) is not None:
        found.append(Due("messages", _messages(site, end)))
    theirs = Q(user__client__site=site) | Q(user__in=User.objects.filter(staff__sites=site))
    if held.proof_days is not None:
        end = now - timedelta(days=held.proof_days)
        found.append(Due("links", SignInLink.objects.filter(theirs, expires__lt=end).order_by("pk")))
    if held.key_days is not None:
        end = now - timedelta(days=held.key_days)
        found.append(Due("keys", IdempotencyKey.objects.filter(theirs, created__lt=end).order_by("pk")))
    return found


def due_everywhere(now: datetime) -> list[Due]:
    """What names no site, once every site lets it go."""
    held = list(Retention.objects.all())
    if not held or Site.objects.exclude(retention__isnull=False).exists():
        return []
    found = []
    days = [row.proof_days for row in held if row.proof_days is not None]
    if len(days) == len(held):
        found.append(Due("sessions", Session.objects.filter(expire_date__lt=now - timedelta(days=max(days))).order_by("pk")))
    months = [row.message_months for row in held if row.message_months is not None]
    if len(months) == len(held) and (day := may_go(now.date(), max(months))) is not None:
        end = zones.day_bounds(day, "UTC")[1]
        found.append(Due("post box", InboxMessage.objects.filter(at__lt=end).order_by("pk")))
    return found


def counts(due: list[Due]) -> list[tuple[str, int]]:
    """How many of each kind. One query a kind."""
    return [(each.kind, each.rows.count()) for each in due]


def forecast(now: datetime) -> Iterator[tuple[str, list[tuple[str, int]]]]:
    """(site, counts) of each site, and what names none at the end."""
    for site in Site.objects.order_by("name"):
        yield site.name, counts(due_of(site, now))
    yield "all sites", counts(due_everywhere(now))


def _messages(site: Site, end: datetime) -> QuerySet[Message]:
    # the row stays: it is what keeps the same message from being written again
    ours = Q(client__site=site, client__keep="") | Q(staff__in=site.staff.all())
    settled = Message.objects.exclude(state__in=(MessageState.PENDING, MessageState.CLAIMED))
    return settled.filter(ours, created__lt=end).exclude(values={}).order_by("pk")


def _end(site: Site, months: int, now: datetime) -> datetime | None:
    day = may_go(zones.day_in(now, site.zone), months)
    return None if day is None else zones.day_bounds(day, site.zone)[1]
