"""A small practice for the harness, and people who go on booking and logging whatever happens."""

from __future__ import annotations

import itertools
import json
import time as clock
import urllib.error
import urllib.request
import uuid
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from importlib import import_module

from allauth.mfa.models import Authenticator
from django.conf import settings
from django.contrib.auth import BACKEND_SESSION_KEY, HASH_SESSION_KEY, SESSION_KEY
from django.utils import timezone

from clinic.booking.models import Room, VisitType, WorkingHours
from clinic.people.models import Client, Consent, Episode, Site, Staff, User
from clinic.people.rules import zones
from clinic.people.vocab import Channel, Role
from clinic.reminders.models import Suppression
from programs.library.models import Exercise, Level
from programs.library.rules.dose import Span, dose_to_json
from programs.portal.actions.make_token import make_token
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.queries import newest_revision
from programs.prescribing.rules.plan import ItemPlan, Plan
from tests.conftest import screen
from tests.portal.conftest import HOLD, MAINTENANCE

ZONE = "Europe/London"
PATIENCE = 60   # seconds for which a caller tries again
CSRF = "c" * 32


@dataclass
class Answer:
    """What one request came to; 0 is a line that broke."""

    status: int
    body: dict
    headers: dict
    seconds: float


@dataclass
class Practice:
    """Its people, and the address it is served at. `answers` keeps each answer that anybody got, the refused ones too."""

    site: Site
    desk: Staff
    mina: Staff
    clients: list[Client]
    texter: Client
    url: str
    cookie: str
    token: str
    revision: str
    item: uuid.UUID
    answers: list[Answer] = field(default_factory=list)

    def __post_init__(self) -> None:
        self._starts = _starts()

    def ask(self, path: str, body: dict | None = None, seconds: float = 30, **headers: str) -> Answer:
        """One request, as it comes out."""
        began = clock.monotonic()
        request = urllib.request.Request(
            self.url + path, None if body is None else json.dumps(body).encode(),
            {"Content-Type": "application/json", "Accept": "application/json", **headers},
        )
        try:
            with urllib.request.urlopen(request, timeout=seconds) as answer:
                found = Answer(answer.status, _read(answer.read()), dict(answer.headers), clock.monotonic() - began)
        except urllib.error.HTTPError as refused:
            with refused:
                found = Answer(refused.code, _read(refused.read()), dict(refused.headers), clock.monotonic() - began)
        except OSError:   # refused, cut, or silent
            found = Answer(0, {}, {}, clock.monotonic() - began)
        self.answers.append(found)
        return found

    def book(self, client: Client | None = None) -> dict:
        """The desk's request for a visit at the next free hour."""
        return {
            "client": str((client or self.clients[0]).public_id), "clinician": str(self.mina.public_id),
            "visit_type": "follow-up", "start": next(self._starts).isoformat(),
        }

    def send_booking(self, wanted: dict, key: str, **more: float) -> Answer:
        """The request once, under its key."""
        cookies = f"{settings.SESSION_COOKIE_NAME}={self.cookie}; csrftoken={CSRF}"
        return self.ask(
            "/api/v1/appointments", wanted, **more, **{"Cookie": cookies, "X-CSRFToken": CSRF, "Idempotency-Key": key}
        )

    def booked(self, client: Client | None = None) -> list[Answer]:
        """A booking, sent again under its key for as long as it is told to: every answer, the last one 201."""
        wanted, key = self.book(client), str(uuid.uuid4())
        return self._until(lambda: self.send_booking(wanted, key), 201)

    def logged(self) -> list[Answer]:
        """A session that a phone hands over, again and again under its id until it is taken: every answer."""
        session = {
            "log_id": str(uuid.uuid4()), "revision": self.revision, "day": zones.day_in(timezone.now(), ZONE).isoformat(),
            "pain_during": 2, "effort": 4, "rating": "about_right",
            "items": [{"item_key": str(self.item), "done_left": 60, "done_right": 60}],
        }
        headers = {"Authorization": f"Bearer {self.token}"}
        return self._until(lambda: self.ask("/api/v1/me/sessions", {"sessions": [session]}, **headers), 200)

    def _until(self, send, status: int) -> list[Answer]:
        ends, found = clock.monotonic() + PATIENCE, []
        while clock.monotonic() < ends:
            found.append(send())
            if found[-1].status == status:
                return found
            # whoever is turned away is told when to come again; a line that broke says nothing
            assert found[-1].status in {0, 409, 503}, found[-1]
            assert found[-1].status == 0 or "Retry-After" in found[-1].headers, found[-1]
            clock.sleep(0.2)
        raise AssertionError(f"never answered with {status}: {found[-3:]}")


def _read(raw: bytes) -> dict:
    try:
        return json.loads(raw)
    except ValueError:
        return {"text": raw.decode(errors="replace")}


def _starts():
    """Hours of Mina's, half an hour and its clean-up apart, from a week ahead on."""
    today = zones.day_in(timezone.now(), ZONE)
    for ahead in itertools.count(7):
        day = today + timedelta(days=ahead)
        if day.weekday() < 5:
            yield from (zones.instant(day, time(hour, minute), ZONE) for hour in range(9, 17) for minute in (0,))


def open_practice(url: str, clients: int = 6) -> Practice:
    """Make it in the database that is connected."""
    now = timezone.now()
    site = Site.objects.create(
        name="Harbour Lane", zone=ZONE, phone="+441632960100", emergency_number="999", region_code="GB"
    )
    desk, mina = _staff(site, "Dara", Role.FRONT_DESK), _staff(site, "Mina", Role.CLINICIAN)
    WorkingHours.objects.create(
        clinician=mina, site=site, rule="FREQ=WEEKLY;BYDAY=MO,TU,WE,TH,FR", first_day=date(2026, 1, 5), starts=time(9),
        ends=time(17),
    )
    Room.objects.create(site=site, name="Room 1", features=["table"])
    VisitType.objects.create(code="follow-up", name="Follow-up", minutes=30, cleanup_minutes=5, clients_may_book=True)
    people = [_client(site, f"Client{number}", Channel.EMAIL, now) for number in range(clients)]
    texter = _client(site, "Texter", Channel.SMS, now, phone="+447700900101")
    revision, item = _program(people[0], mina, now)
    # something for the desk to look at, or nobody would get a digest
    Suppression.objects.create(channel=Channel.EMAIL, address=texter.email, client=texter, since=now)
    scopes = {"plan", "log"}
    _, token = make_token(by=people[0].user, label="Phone", scopes=scopes, days=2, now=now)
    return Practice(site, desk, mina, people, texter, url, _signed_in(desk.user), token, revision, item)


def _staff(site: Site, name: str, role: Role) -> Staff:
    user = User.objects.create_user(f"{name.lower()}@harbour.example", role)
    Authenticator.objects.create(user=user, type=Authenticator.Type.TOTP, data={"secret": "x"})
    staff = Staff.objects.create(user=user, name=name)
    staff.sites.add(site)
    return staff


def _client(site: Site, name: str, channel: Channel, now: datetime, phone: str = "") -> Client:
    user = User.objects.create_user(f"{name.lower()}@client.example", Role.CLIENT)
    client = Client.objects.create(
        user=user, site=site, given_name=name, family_name="Quill", birth_date=date(1984, 5, 17), email=user.email,
        phone=phone, zone=ZONE, registered=now, quiet_from=time(0), quiet_until=time(0),   # the harness runs at any hour
    )
    Consent.objects.create(client=client, channel=channel, granted=True, at=now, by=user)
    return client


def _program(client: Client, lead: Staff, now: datetime) -> tuple[str, uuid.UUID]:
    exercise = Exercise.objects.create(
        slug="half-kneel", name="Half-kneeling lean", region="hip", kind="static_stretch", side="each",
        setup="Kneel on the left knee.", feel="A pull in front", not_feel="A pinch in the back",
    )
    Level.objects.create(exercise=exercise, number=1, name="Easy", cues=["Breathe"], dose=dose_to_json(HOLD))
    screen(client, lead.user, now)
    today = zones.day_in(now, ZONE)
    episode = Episode.objects.create(
        client=client, lead=lead, region="hip", side="left", complaint="Stiff left hip", opened=today
    )
    item = ItemPlan(uuid.UUID(int=1), "half-kneel", 1, HOLD, side="each")
    daily = type(MAINTENANCE)("kick_off", 7, Span(1, 2))
    plan = Plan(today - timedelta(days=1), (daily, MAINTENANCE), (item,))
    program = prescribe_program(
        by=lead.user, episode=episode, plan=plan, title="Hip at home", starts=plan.anchor, now=now
    )
    return str(newest_revision(program).public_id), item.key


def _signed_in(user: User) -> str:
    """The key of a session that its owner has just opened."""
    session = import_module(settings.SESSION_ENGINE).SessionStore()
    session[SESSION_KEY], session[BACKEND_SESSION_KEY] = str(user.pk), settings.AUTHENTICATION_BACKENDS[0]
    session[HASH_SESSION_KEY] = user.get_session_auth_hash()
    session["started"] = int(datetime.now(UTC).timestamp())
    session.create()
    return session.session_key
