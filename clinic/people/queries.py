"""Doors and reads of people. Each says who may see what; whoever may not gets NotThere."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.db.models import Q, QuerySet
from django.db.models.functions import Now

from clinic.people import looking, sections
from clinic.people.models import Client, Consent, Episode, Site, Staff, User
from clinic.people.refusal import NotThere
from clinic.people.rules import zones
from clinic.people.rules.contacts import search_form
from clinic.people.vocab import EpisodeStatus, Role


def system_actor() -> User:
    """The named actor of scheduled work."""
    return User.objects.system()


def staff_for(user: User) -> Staff:
    """The staff row of a signed-in member of the practice."""
    staff = Staff.objects.filter(user=user, user__is_active=True).first()
    if staff is None:
        raise NotThere
    return staff


def sites_for(user: User) -> QuerySet[Site]:
    """Sites a member of staff works at, by name; a client's own site for a client."""
    if user.role == Role.CLIENT:
        return Site.objects.filter(clients__user=user)
    return Site.objects.filter(staff__user=user).order_by("name")


def clients_for(user: User) -> QuerySet[Client]:
    """Clients a person may see.

    Front desk and lead: everyone of their sites. A clinician: clients with an episode they lead, a visit with them, no
    episode yet at one of their sites, or a record they opened for a written reason, until its time is over.
    A client: themselves. The system: everyone.
    """
    if not user.is_active:
        return Client.objects.none()
    match user.role:
        case Role.FRONT_DESK | Role.LEAD:
            return Client.objects.filter(site__staff__user=user)
        case Role.CLINICIAN:
            mine = Q(pk__in=Episode.objects.filter(lead__user=user).values("client")) | Q(
                pk__in=Client.objects.filter(appointments__clinician__user=user).values("pk")
            )
            # someone just registered, whom nobody looks after yet, can be taken on by any clinician of the site
            fresh = Q(site__in=Site.objects.filter(staff__user=user), episodes__isnull=True)
            opened = Client.objects.filter(openings__clinician__user=user, openings__ends__gt=Now())
            return Client.objects.filter(
                mine | Q(pk__in=Client.objects.filter(fresh).values("pk")) | Q(pk__in=opened.values("pk"))
            )
        case Role.CLIENT:
            return Client.objects.filter(user=user)
        case Role.SYSTEM:
            return Client.objects.all()
    return Client.objects.none()


def client_for(user: User, public_id: UUID | str) -> Client:
    """One client the user may see."""
    client = clients_for(user).filter(public_id=public_id).select_related("site", "user").first()
    if client is None:
        raise NotThere
    looking.note(user, client.pk)
    return client


def own_client(user: User) -> Client:
    """The client who is signed in."""
    client = Client.objects.filter(user=user, archived__isnull=True).select_related("site").first()
    if client is None:
        raise NotThere
    return client


def episodes_for(user: User) -> QuerySet[Episode]:
    """Episodes of the clients a person may see."""
    return Episode.objects.filter(client__in=clients_for(user)).select_related("client", "lead")


def episode_for(user: User, public_id: UUID | str) -> Episode:
    """One episode the user may see."""
    episode = episodes_for(user).filter(public_id=public_id).select_related("client__site", "lead__user").first()
    if episode is None:
        raise NotThere
    looking.note(user, episode.client_id)
    return episode


def open_episode(client: Client) -> Episode | None:
    """The newest episode that is being worked on."""
    return client.episodes.filter(status=EpisodeStatus.ACTIVE).select_related("lead").first()


def clinicians_at(site: Site) -> QuerySet[Staff]:
    """Active clinicians of a site, by name."""
    return Staff.objects.filter(sites=site, user__role=Role.CLINICIAN, user__is_active=True).select_related("user")


def clinician_at(site: Site, public_id: UUID | str) -> Staff:
    """One active clinician of a site."""
    staff = clinicians_at(site).filter(public_id=public_id).first()
    if staff is None:
        raise NotThere
    return staff


def search_clients(user: User, text: str) -> QuerySet[Client]:
    """Clients the user may see whose names, phone, birth date or number match every word typed; accents are ignored.

    The name comparison runs over the visible names once and is exact on every database.
    """
    visible = clients_for(user).filter(archived__isnull=True).select_related("site")
    words = search_form(text).split()
    if not words:
        return visible
    keys = [
        pk
        for pk, given, family, phone, born, ref in visible.order_by().values_list(
            "pk", "given_name", "family_name", "phone", "birth_date", "external_ref"
        )
        if _matches(words, f"{search_form(given)} {search_form(family)}", phone, born, ref)
    ]
    return visible.filter(pk__in=keys)


def words_of_clients(user: User, words: Sequence[str]) -> set[str]:
    """Those words that match some client the user may see, in the way search_clients compares. One query."""
    rows = list(
        clients_for(user).filter(archived__isnull=True).order_by()
        .values_list("given_name", "family_name", "phone", "birth_date", "external_ref")
    ) if words else []
    return {
        word for word in words
        if any(
            _matches(search_form(word).split(), f"{search_form(given)} {search_form(family)}", phone, born, ref)
            for given, family, phone, born, ref in rows
        )
    }


def _matches(words: Sequence[str], name: str, phone: str, born: date | None, ref: str) -> bool:
    digits = phone.lstrip("+")
    birth = f"{born:%Y-%m-%d} {born:%d/%m/%Y} {born:%d.%m.%Y}" if born else ""
    return all(
        word in name
        or word in birth
        or (ref and word == ref.casefold())
        or (word.strip("+").isdigit() and len(word.strip("+")) >= 3 and word.strip("+").lstrip("0") in digits)
        for word in words
    )


def consents(client: Client) -> dict[str, bool]:
    """The newest answer per channel; a channel never asked about is absent."""
    rows = Consent.objects.filter(client=client).order_by("pk").values_list("channel", "granted")
    return dict(rows)


def consents_to(client: Client, channel: str) -> bool:
    """Whether the client agreed to messages on this channel."""
    return consents(client).get(channel, False)


def open_conditions(client: Client, today: date) -> list[str]:
    """Codes of the conditions that hold today."""
    rows = client.conditions.filter(since__lte=today).filter(Q(until__isnull=True) | Q(until__gte=today))
    return sorted(rows.values_list("code", flat=True))


def contact_line(client: Client) -> dict[str, Any]:
    """What a message may say and where it goes: first name, address, language, zone and quiet hours."""
    return {
        "first_name": client.given_name,
        "email": client.email,
        "phone": client.phone,
        "language": client.language,
        "zone": client.zone,
        "quiet": (client.quiet_from, client.quiet_until),
    }




def today_of(client: Client, now: datetime) -> date:
    """The calendar day where the client is."""
    return zones.day_in(now, client.zone)


def client_sections(user: User, client: Client) -> list[tuple[str, dict[str, Any]]]:
    """(template, context) of every section other apps add to this client's page for this user."""
    return sections.built("client", user, client)


def demo_people() -> list[tuple[str, list[dict[str, Any]]]]:
    """(role label, people) to choose from in the demo: all staff, and the first clients by name."""
    staff = [
        {"id": row.user.public_id, "name": row.name, "role": row.user.role}
        for row in Staff.objects.filter(user__is_active=True).select_related("user")
    ]
    people = Client.objects.filter(user__isnull=False, archived__isnull=True).select_related("user")[:12]
    clients = [{"id": row.user.public_id, "name": row.name, "role": Role.CLIENT} for row in people if row.user]
    return [
        (str(role.label), [person for person in staff + clients if person["role"] == role])
        for role in (Role.FRONT_DESK, Role.CLINICIAN, Role.LEAD, Role.CLIENT)
    ]


def demo_user(public_id: str) -> User | None:
    """The person chosen in the demo; None for anything else."""
    try:
        key = UUID(public_id)
    except ValueError:
        return None
    return User.objects.filter(public_id=key, is_active=True).exclude(role=Role.SYSTEM).first()
