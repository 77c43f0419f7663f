"""Doors and reads of reminders."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import datetime, timedelta
from uuid import UUID

from django.conf import settings
from django.db.models import Count, Exists, OuterRef, Prefetch, Q, QuerySet, Subquery
from django.db.models.functions import Lower

from clinic.people.models import Client, Consent, Site, Staff, User
from clinic.people.queries import sites_for
from clinic.people.refusal import NotThere
from clinic.people.vocab import Channel, Role
from clinic.reminders.models import Heartbeat, Hold, InboxMessage, Message, PushDevice, Suppression
from clinic.reminders.redis_state import redis_state
from clinic.reminders.sealing import public_key
from clinic.reminders.vocab import DELIVER, MessageState, down

NEEDS_A_PERSON = (MessageState.FAILED, MessageState.UNKNOWN)
DIGEST_ROLES = (Role.CLINICIAN, Role.FRONT_DESK)
LATEST_ALARM = timedelta(minutes=5)


def messages_for(user: User, needing_a_person: bool = False) -> QuerySet[Message]:
    """Messages to clients and staff of the sites the user works at, newest first: for the front desk and the lead only.

    Nothing clinical is in a message; who gets which kind when is what these two roles work with.
    """
    if not user.is_active or user.role not in (Role.FRONT_DESK, Role.LEAD):
        return Message.objects.none()
    sites = Site.objects.filter(staff__user=user)
    # a subquery for staff: a join would show a member of staff of two sites twice
    mine = Message.objects.filter(Q(client__site__in=sites) | Q(staff__in=Staff.objects.filter(sites__in=sites)))
    if needing_a_person:
        mine = mine.filter(state__in=NEEDS_A_PERSON)
    return mine.select_related("client", "staff")


def message_for(user: User, public_id: UUID | str) -> Message:
    """One message the user may see."""
    message = messages_for(user).filter(public_id=public_id).first()
    if message is None:
        raise NotThere
    return message


def zone_for(user: User) -> str:
    """The zone that times are shown in: that of the first site the user works at."""
    site = first_site(user)
    return site.zone if site else "UTC"


def first_site(user: User) -> Site | None:
    """The first site the user works at, by name."""
    return sites_for(user).first()


def digest_readers() -> list[tuple[Staff, str]]:
    """Active clinicians and the desk, each with the zone of the first of their sites by name. Two queries."""
    staff = Staff.objects.filter(user__role__in=DIGEST_ROLES, user__is_active=True, sites__isnull=False).distinct()
    rows = staff.select_related("user").prefetch_related(Prefetch("sites", Site.objects.order_by("name"))).order_by("pk")
    return [(row, row.sites.all()[0].zone) for row in rows]


def held() -> Hold | None:
    """The hold that stands over the outbox, if any."""
    return Hold.objects.filter(lifted_at__isnull=True).first()


def counts_by_kind_and_state() -> Counter[tuple[str, str]]:
    """Messages of the whole installation by kind and state."""
    rows = Message.objects.order_by().values_list("kind", "state").annotate(count=Count("pk"))
    return Counter({(kind, state): count for kind, state, count in rows})


def oldest_due_age(now: datetime) -> timedelta:
    """How long the waiting message that was due first has been due; nothing when none is due."""
    firsts = [waiting(channel, now).values_list("due", flat=True).first() for channel in Channel.values]
    return max((now - first for first in firsts if first), default=timedelta(0))


def beats() -> dict[str, datetime]:
    """Every heartbeat and every mark of a channel that is down, by name."""
    return dict(Heartbeat.objects.values_list("name", "at"))


def waiting(channel: str, now: datetime) -> QuerySet[Message]:
    """What is due on a channel, oldest due first."""
    return Message.objects.filter(state=MessageState.PENDING, channel=channel, due__lte=now).order_by("due", "pk")


def with_recipient(rows: QuerySet[Message]) -> QuerySet[Message]:
    """The rows with all that is asked about who gets them, as of this moment.

    `suppressed`: nothing may go to the address they have. `consented`: the newest answer about the channel; None when a
    client was never asked, and for staff.
    """
    standing = Suppression.objects.filter(lifted_at__isnull=True, channel=OuterRef("channel"))
    address = Q(address=Lower(OuterRef("client__email"))) | Q(address=Lower(OuterRef("staff__user__email")))
    mail = standing.filter(address, channel=Channel.EMAIL)
    texts = standing.filter(address=OuterRef("client__phone"), channel=Channel.SMS)
    answers = Consent.objects.filter(client=OuterRef("client"), channel=OuterRef("channel")).order_by("-pk")
    return rows.annotate(
        suppressed=Exists(mail) | Exists(texts), consented=Subquery(answers.values("granted")[:1])
    ).select_related("client__site", "client__user", "staff__user").prefetch_related(
        Prefetch("staff__sites", Site.objects.order_by("pk"))
    )


def suppressions_for(user: User) -> QuerySet[Suppression]:
    """Addresses at the user's sites that nothing goes to, newest first: for the front desk and the lead only."""
    if not user.is_active or user.role not in (Role.FRONT_DESK, Role.LEAD):
        return Suppression.objects.none()
    sites = Site.objects.filter(staff__user=user)
    mine = Q(client__site__in=sites) | Q(staff__in=Staff.objects.filter(sites__in=sites))
    return Suppression.objects.filter(mine, lifted_at__isnull=True).select_related("client", "staff")


def suppression_for(user: User, public_id: UUID | str) -> Suppression:
    """One of them."""
    row = suppressions_for(user).filter(public_id=public_id).first()
    if row is None:
        raise NotThere
    return row


def push_public_key() -> str:
    """What a browser subscribes with; empty when the clinic sends no notifications."""
    return public_key(settings.PUSH_KEY) if settings.PUSH_KEY else ""


def push_device_count(client: Client) -> int:
    """How many devices of theirs show notifications."""
    return PushDevice.objects.filter(client=client).count()


def inbox() -> QuerySet[InboxMessage]:
    """All mail of the embedded mode's post box, newest first. For the demo only: the view sees to that."""
    return InboxMessage.objects.all()


@dataclass(frozen=True)
class Health:
    """Whether messages are being delivered. `age` in seconds since the last delivery run, None when there was none."""

    worker: str       # ok | late | never
    age: int | None
    mail: str         # ok | down
    redis: str        # ok | down | full | none: the clinic runs without

    @property
    def ready(self) -> bool:
        return self.worker == "ok" and self.redis in {"ok", "none"}

    def parts(self) -> dict[str, object]:
        """Each part by name, for a health page."""
        return {"worker": self.worker, "worker_age_seconds": self.age, "mail": self.mail, "redis": self.redis}


def alarm_after() -> timedelta:
    """How old the heartbeat may be: a few ticks, at least a minute and never more than five."""
    return min(LATEST_ALARM, max(timedelta(minutes=1), timedelta(seconds=5 * settings.TICK_SECONDS)))


def health(now: datetime) -> Health:
    """Read from the heartbeat rows, and from Redis itself. A database error goes through to the caller."""
    beats = dict(Heartbeat.objects.filter(name__in=[DELIVER, down(Channel.EMAIL)]).values_list("name", "at"))
    mail, redis = "down" if down(Channel.EMAIL) in beats else "ok", redis_state(settings.REDIS_URL)
    if DELIVER not in beats:
        return Health("never", None, mail, redis)
    age = now - beats[DELIVER]
    return Health("ok" if age <= alarm_after() else "late", max(0, int(age.total_seconds())), mail, redis)
