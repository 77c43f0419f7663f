"""The fixed cast. Everybody is invented.

The practice is Harbour Lane; it is Monday 2 March 2026, nine o'clock in London. Ada runs a stiff left hip with Mina
(clinician); Bo is the other clinician's client. Dara sits at the front desk, Lou leads the practice.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time
from types import SimpleNamespace

import hypothesis
import pytest
from django.core.cache import cache
from django.test import Client as Browser
from django.utils import timezone

from clinic.booking.models import Room, VisitType, WorkingHours
from clinic.people.models import Client, Consent, Episode, Site, Staff, User
from clinic.people.tour import LEFT
from clinic.people.vocab import Channel, Role
from programs.prescribing.models import Screening

# a busy machine is no failure: property tests have no deadline and may draw slowly
hypothesis.settings.register_profile(
    "house", deadline=None, suppress_health_check=[hypothesis.HealthCheck.too_slow]
)
hypothesis.settings.load_profile("house")
NOW = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _quick_and_fresh(settings):
    """A cheap password hash, so that the cast is made in no time; rate limits live in the cache and start empty."""
    settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
    cache.clear()


@pytest.fixture
def now() -> datetime:
    return NOW


@pytest.fixture
def site(db) -> Site:
    return Site.objects.create(
        name="Harbour Lane", zone="Europe/London", phone="+441632960100", emergency_number="999", region_code="GB"
    )


def _staff(site: Site, name: str, role: Role) -> Staff:
    user = User.objects.create_user(f"{name.lower()}@harbour.example", role, "a long enough passphrase")
    User.objects.filter(pk=user.pk).update(tour_stop=LEFT)   # tests/people/test_tour.py takes the round
    user.refresh_from_db()
    staff = Staff.objects.create(user=user, name=name)
    staff.sites.add(site)
    return staff


def _client(site: Site, given: str, family: str, phone: str) -> Client:
    email = f"{given.lower()}@client.example"
    user = User.objects.create_user(email, Role.CLIENT)
    client = Client.objects.create(
        user=user, site=site, given_name=given, family_name=family, birth_date=date(1984, 5, 17), email=email,
        phone=phone, zone=site.zone, registered=NOW,
    )
    Consent.objects.create(client=client, channel=Channel.EMAIL, granted=True, at=NOW, by=user)
    return client


def screen(client: Client, by: User, *moments: datetime, **answers) -> None:
    """Ask a client the screening questions at each of these moments; nothing is in the way unless `answers` say so."""
    plain = {"active": True, "intensity": "light_moderate"}
    for moment in moments or (NOW, timezone.now()):   # pages read the real clock, actions are handed the cast's
        Screening.objects.create(client=client, day=moment.date(), asked_by=by, at=moment, **plain | answers)


@pytest.fixture
def cast(site: Site) -> SimpleNamespace:
    """site; staff: desk (Dara), mina, theo (clinicians), lead (Lou); clients: ada (Mina's), bo (Theo's), gone (deactivated
    user), Ada and Bo screened; episodes: ada_hip, bo_neck; rooms: room, hall; visit types: first, follow_up, review; hours
    Mon–Fri 9–17."""
    desk = _staff(site, "Dara", Role.FRONT_DESK)
    mina, theo = _staff(site, "Mina", Role.CLINICIAN), _staff(site, "Theo", Role.CLINICIAN)
    lead = _staff(site, "Lou", Role.LEAD)
    ada, bo = _client(site, "Ada", "Quill", "+447700900101"), _client(site, "Bo", "Marsh", "+447700900102")
    screen(ada, mina.user)
    screen(bo, theo.user)
    gone = User.objects.create_user("gone@harbour.example", Role.CLINICIAN, "a long enough passphrase")
    gone_staff = Staff.objects.create(user=gone, name="Gone")
    gone_staff.sites.add(site)
    gone.is_active = False
    gone.save()
    for clinician in (mina, theo):
        WorkingHours.objects.create(
            clinician=clinician, site=site, rule="FREQ=WEEKLY;BYDAY=MO,TU,WE,TH,FR", first_day=date(2026, 1, 5),
            starts=time(9), ends=time(17),
        )
    return SimpleNamespace(
        site=site, desk=desk, mina=mina, theo=theo, lead=lead, ada=ada, bo=bo, gone=gone,
        ada_hip=Episode.objects.create(
            client=ada, lead=mina, region="hip", side="left", complaint="Stiff left hip after sitting", opened=NOW.date()
        ),
        bo_neck=Episode.objects.create(
            client=bo, lead=theo, region="neck", side="both", complaint="Neck ache at the desk", opened=NOW.date()
        ),
        room=Room.objects.create(site=site, name="Room 1", features=["table"]),
        hall=Room.objects.create(site=site, name="Hall", features=["open_floor", "table"]),
        first=VisitType.objects.create(
            code="first", name="First visit", minutes=60, cleanup_minutes=10, room_features=["table"]
        ),
        follow_up=VisitType.objects.create(
            code="follow-up", name="Follow-up", minutes=30, cleanup_minutes=5, clients_may_book=True
        ),
        review=VisitType.objects.create(
            code="review", name="Reassessment", minutes=45, cleanup_minutes=5, is_reassessment=True
        ),
    )


@pytest.fixture
def browse():
    """browse(user) -> a Django test browser signed in as that user; browse() -> a visitor."""

    def signed_in(user: User | None = None) -> Browser:
        browser = Browser(raise_request_exception=True)
        if user is not None:
            browser.force_login(user)
        return browser

    return signed_in
