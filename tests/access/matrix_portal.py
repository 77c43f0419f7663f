"""Who may do what in the portal: clients only, each their own. Ids in these rows are Ada's."""

from __future__ import annotations

import uuid
from datetime import UTC, date, datetime, timedelta

from allauth.mfa.models import Authenticator
from django.test import Client as Browser
from django.utils import timezone

from clinic.booking.actions.ask_move import ask_move
from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.actions.join_waitlist import join_waitlist
from clinic.booking.actions.make_feed import make_feed
from clinic.booking.actions.offer_opening import offer_opening
from clinic.booking.actions.plan_away import plan_away
from clinic.booking.models import Appointment, WorkingHours
from clinic.booking.waiting import matches
from programs.library.models import Exercise, Level
from programs.library.rules.dose import Hold, Span, dose_to_json
from programs.portal.actions.make_token import make_token
from programs.portal.models import Device
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.queries import newest_revision
from programs.prescribing.rules.plan import ItemPlan, PhasePlan, Plan
from tests.access.roles import Row

KEY = uuid.UUID(int=5)
LONG_AFTER = datetime(2040, 3, 5, 10, 0, tzinfo=UTC)   # a Monday that is still to come


def _program(cast):
    held = cast.ada.programs.first()
    if held:
        return held
    dose = Hold(Span(2, 2), Span(30, 30))
    exercise = Exercise.objects.create(
        slug="portal-lean", name="Lean", region="hip", kind="static_stretch", side="left", setup="Kneel.", feel="A pull",
        not_feel="A pinch",
    )
    Level.objects.create(exercise=exercise, number=1, name="Easy", dose=dose_to_json(dose))
    plan = Plan(
        date(2026, 3, 1), (PhasePlan("maintenance", None, Span(1, 1)),), (ItemPlan(KEY, "portal-lean", 1, dose, side="left"),)
    )
    return prescribe_program(
        by=cast.mina.user, episode=cast.ada_hip, plan=plan, title="Hip", starts=plan.anchor,
        now=datetime(2026, 3, 2, 9, 0, tzinfo=UTC),
    )


def program(cast):
    return {"public_id": _program(cast).public_id}


def visit(cast):
    booked = book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=LONG_AFTER,
        now=LONG_AFTER.replace(month=2),
    )
    return {"public_id": booked.public_id}


def proposed(cast):
    WorkingHours.objects.update(rule="FREQ=DAILY")
    now = timezone.now()
    start = (now + timedelta(days=3)).replace(hour=10, minute=0, second=0, microsecond=0)
    book_visit(by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=start, now=now)
    days = {"first_day": start.date(), "last_day": start.date()}
    away = plan_away(by=cast.desk.user, site=cast.site, clinician=cast.mina, anyone=True, now=now, **days)
    return {"public_id": ask_move(by=cast.desk.user, move=away.moves.get(), now=now).public_id}


def yes(cast):
    return {"answer": "yes"}


def offer(cast):
    """Bo's hour, given back and held for Ada."""
    now = timezone.now()
    WorkingHours.objects.update(rule="FREQ=DAILY")
    start = (now + timedelta(days=3)).replace(hour=10, minute=0, second=0, microsecond=0)
    freed = book_visit(
        by=cast.desk.user, client=cast.bo, visit_type=cast.follow_up, clinician=cast.mina, start=start, now=now
    )
    cancel_visit(by=cast.desk.user, appointment=freed, reason="client", now=now)
    join_waitlist(by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, priority=2, now=now)
    found = matches(cast.desk.user, Appointment.objects.get(pk=freed.pk), now)
    held = offer_opening(by=cast.desk.user, freed=freed, chosen=found, minutes=60, now=now)
    return {"public_id": held.public_id}


def own_time(cast):
    """A time with Mina, who looks after Ada; Bo, whose clinician is not in then, cannot have it."""
    WorkingHours.objects.filter(clinician=cast.mina).update(rule="FREQ=DAILY")
    WorkingHours.objects.filter(clinician=cast.theo).delete()
    start = (timezone.now() + timedelta(days=3)).replace(hour=12, minute=0, second=0, microsecond=0)
    return {"start": start.isoformat()}


def session(cast):
    revision = newest_revision(_program(cast)).public_id
    return {"log_id": uuid.uuid4(), "revision": revision, "day": timezone.now().date().isoformat(), f"{KEY}-done": "full"}


def hand_over(cast):
    revision = str(newest_revision(_program(cast)).public_id)
    return {"sessions": [{"log_id": str(uuid.uuid4()), "revision": revision, "day": "2026-03-02", "items": []}]}


def morning(cast):
    _program(cast)
    return {"answer_id": str(uuid.uuid4()), "day": "2026-03-02", "pain": 2}


def morning_over_the_api(cast):
    return {**morning(cast), "program": str(_program(cast).public_id)}


def flag(cast):
    return {"answer_id": str(uuid.uuid4()), "flag": "calf_swelling"}


def words(cast):
    _program(cast)
    return {"note_id": str(uuid.uuid4()), "text": "It pulls at the front"}


def words_over_the_api(cast):
    return {**words(cast), "program": str(_program(cast).public_id)}


def read_over_the_api(cast):
    return {"program": str(_program(cast).public_id), "read_until": str(uuid.uuid4())}


def another_time(cast):
    soon = timezone.now() + timedelta(days=7)
    monday = (soon - timedelta(days=soon.weekday())).replace(hour=10, minute=0, second=0, microsecond=0)
    return {"start": (monday + timedelta(days=7)).isoformat()}


def push(cast):
    return {"endpoint": "https://push.example.com/x", "p256dh": "x", "auth": "x"}   # the clinic of these tests has no key


def reminders(cast):
    return {"channels": ["email"], "quiet_from": "20:00", "quiet_until": "09:00"}


def wrong_here(cast):
    return {"words": "I was born a day later"}


def device(cast):
    """A second phone of Ada's."""
    browser = Browser()
    browser.force_login(cast.ada.user)
    return {"public_id": Device.objects.get(session_key=browser.session.session_key).public_id}


def own_calendar(cast):
    feed, _ = make_feed(by=cast.ada.user, kind="client", now=timezone.now())
    return {"public_id": feed.public_id}


def token(cast):
    """A token of Ada's own."""
    made, _ = make_token(by=cast.ada.user, label="Watch", scopes={"log"}, days=30, now=timezone.now())
    return {"public_id": made.public_id}


def site_token(cast):
    """A token of the clinic's own portal."""
    made, _ = make_token(by=cast.lead.user, label="Front", scopes={"log"}, days=30, now=timezone.now(), site=cast.site)
    return {"public_id": made.public_id}


def passkey(cast):
    """A passkey of Ada's; what it holds is not looked at when it goes."""
    return {"key": Authenticator.objects.create(user=cast.ada.user, type="webauthn", data={"name": "Phone"}).pk}


def new_token(cast):
    return {"label": "Watch", "scopes": ["log"], "days": 30}


# fmt: off
#                                              anonymous ada bo desk mina theo lead deactivated
ROWS = [
    Row("GET", "portal:today",                 (302, 200, 200, 404, 404, 404, 404, 302)),
    # without a program there is no session: back to today
    Row("GET", "portal:session",               (302, 302, 302, 404, 404, 404, 404, 302)),
    Row("POST", "portal:session",              (302, 302, 404, 404, 404, 404, 404, 302), body=session),
    Row("GET", "portal:saved",                 (302, 200, 404, 404, 404, 404, 404, 302), make=program),
    Row("GET", "portal:morning",               (302, 200, 200, 404, 404, 404, 404, 302)),
    # Bo has no program to answer for
    Row("POST", "portal:morning",              (302, 302, 404, 404, 404, 404, 404, 302), body=morning),
    Row("GET", "portal:manifest",              (302, 200, 200, 404, 404, 404, 404, 302)),
    Row("GET", "portal:weeks",                 (302, 200, 200, 404, 404, 404, 404, 302)),
    Row("GET", "portal:handout",               (302, 200, 404, 404, 404, 404, 404, 302), program),
    Row("GET", "portal:notes",                 (302, 200, 200, 404, 404, 404, 404, 302)),
    # Bo has no program to write about
    Row("POST", "portal:notes",                (302, 302, 404, 404, 404, 404, 404, 302), body=words),
    Row("POST", "portal:read_notes",           (302, 302, 404, 404, 404, 404, 404, 302), body=words),
    Row("GET", "portal:visits",                (302, 200, 200, 404, 404, 404, 404, 302)),
    Row("GET", "portal:cancel",                (302, 200, 404, 404, 404, 404, 404, 302), make=visit),
    Row("POST", "portal:cancel",               (302, 302, 404, 404, 404, 404, 404, 302), make=visit),
    Row("GET", "portal:confirm",               (302, 200, 404, 404, 404, 404, 404, 302), make=visit),
    Row("POST", "portal:confirm",              (302, 302, 404, 404, 404, 404, 404, 302), make=visit),
    Row("GET", "portal:move",                  (302, 200, 404, 404, 404, 404, 404, 302), make=visit),
    Row("POST", "portal:move",                 (302, 302, 404, 404, 404, 404, 404, 302), make=visit, body=another_time),
    Row("GET", "portal:proposed",              (302, 200, 404, 404, 404, 404, 404, 302), make=proposed),
    Row("POST", "portal:proposed",             (302, 302, 404, 404, 404, 404, 404, 302), make=proposed, body=yes),
    Row("GET", "portal:calendar",              (302, 200, 404, 404, 404, 404, 404, 302), make=visit),
    Row("GET", "portal:messages",              (302, 200, 200, 404, 404, 404, 404, 302)),
    Row("POST", "portal:messages",             (302, 302, 302, 404, 404, 404, 404, 302), body=reminders),
    Row("GET", "portal:details",               (302, 200, 200, 404, 404, 404, 404, 302)),
    Row("POST", "portal:details",              (302, 302, 302, 404, 404, 404, 404, 302), body=wrong_here),
    Row("GET", "api:my-details",               (401, 200, 200, 404, 404, 404, 404, 401)),
    Row("GET", "api:my-corrections",           (401, 200, 200, 404, 404, 404, 404, 401)),
    Row("POST", "api:my-corrections",          (401, 201, 201, 404, 404, 404, 404, 401), body=wrong_here),
    Row("GET", "portal:devices",               (302, 200, 200, 404, 404, 404, 404, 302)),
    Row("POST", "portal:seen",                 (302, 204, 204, 404, 404, 404, 404, 302)),
    Row("POST", "portal:end_device",           (302, 302, 404, 404, 404, 404, 404, 302), make=device),
    # the worker's script holds nothing of anybody
    Row("GET", "portal:worker",                (200, 200, 200, 200, 200, 200, 200, 200)),
    Row("GET", "portal:pocket",                (302, 200, 200, 404, 404, 404, 404, 302)),
    Row("GET", "portal:untold",                (302, 200, 200, 404, 404, 404, 404, 302)),
    Row("GET", "portal:help",                  (302, 200, 200, 404, 404, 404, 404, 302)),
    Row("POST", "portal:help",                 (302, 302, 302, 404, 404, 404, 404, 302), body=flag),
    Row("GET", "portal:stop",                  (302, 200, 200, 404, 404, 404, 404, 302)),
    Row("GET", "api:me",                       (401, 200, 200, 404, 404, 404, 404, 401)),
    Row("GET", "api:my-today",                 (401, 200, 200, 404, 404, 404, 404, 401)),
    Row("GET", "api:my-plan",                  (401, 200, 200, 404, 404, 404, 404, 401)),
    Row("GET", "api:my-weeks",                 (401, 200, 200, 404, 404, 404, 404, 401)),
    # Bo's batch is taken, its entry refused: the plan is not his (tests/portal/test_api_sessions.py)
    Row("POST", "api:my-sessions",             (401, 200, 200, 404, 404, 404, 404, 401), body=hand_over),
    Row("POST", "api:my-mornings",             (401, 200, 404, 404, 404, 404, 404, 401), body=morning_over_the_api),
    Row("POST", "api:my-alerts",               (401, 200, 200, 404, 404, 404, 404, 401), body=flag),
    Row("GET", "api:my-notes",                 (401, 200, 200, 404, 404, 404, 404, 401)),
    Row("POST", "api:my-notes",                (401, 200, 404, 404, 404, 404, 404, 401), body=words_over_the_api),
    Row("POST", "api:read-my-notes",           (401, 200, 404, 404, 404, 404, 404, 401), body=read_over_the_api),
    Row("GET", "api:my-visits",                (401, 200, 200, 404, 404, 404, 404, 401)),
    Row("POST", "api:cancel-my-visit",         (401, 200, 404, 404, 404, 404, 404, 401), make=visit),
    Row("POST", "api:confirm-my-visit",        (401, 200, 404, 404, 404, 404, 404, 401), make=visit),
    Row("GET", "api:my-openings",              (401, 200, 200, 404, 404, 404, 404, 401)),
    Row("POST", "api:my-visits",               (401, 201, 409, 404, 404, 404, 404, 401), body=own_time),
    Row("GET", "portal:book",                  (302, 200, 200, 404, 404, 404, 404, 302)),
    Row("POST", "portal:book",                 (302, 302, 409, 404, 404, 404, 404, 302), body=own_time),
    Row("GET", "api:my-offers",                (401, 200, 200, 404, 404, 404, 404, 401)),
    Row("POST", "api:accept-my-offer",         (401, 200, 404, 404, 404, 404, 404, 401), make=offer),
    Row("POST", "api:decline-my-offer",        (401, 200, 404, 404, 404, 404, 404, 401), make=offer),
    Row("GET", "api:my-proposed-moves",        (401, 200, 200, 404, 404, 404, 404, 401)),
    Row("POST", "api:accept-my-proposed-move", (401, 200, 404, 404, 404, 404, 404, 401), make=proposed),
    Row("POST", "api:decline-my-proposed-move", (401, 200, 404, 404, 404, 404, 404, 401), make=proposed),
    Row("GET", "api:my-handout",               (401, 200, 404, 404, 404, 404, 404, 401), make=program),
    Row("GET", "api:move-my-visit",            (401, 200, 404, 404, 404, 404, 404, 401), make=visit),
    Row("POST", "api:move-my-visit",           (401, 200, 404, 404, 404, 404, 404, 401), make=visit, body=another_time),
    Row("GET", "api:my-visit-file",            (401, 200, 404, 404, 404, 404, 404, 401), make=visit),
    Row("GET", "api:my-push-devices",          (401, 200, 200, 404, 404, 404, 404, 401)),
    Row("POST", "api:my-push-devices",         (401, 409, 409, 404, 404, 404, 404, 401), body=push),
    Row("POST", "api:remove-my-push-device",   (401, 204, 204, 404, 404, 404, 404, 401), body=push),
    Row("GET", "api:my-reminders",             (401, 200, 200, 404, 404, 404, 404, 401)),
    Row("PUT", "api:my-reminders",             (401, 200, 200, 404, 404, 404, 404, 401), body=reminders),
    Row("GET", "api:my-devices",               (401, 200, 200, 404, 404, 404, 404, 401)),
    Row("POST", "api:end-my-device",           (401, 204, 404, 404, 404, 404, 404, 401), make=device),
    Row("GET", "api:my-measures",              (401, 200, 200, 404, 404, 404, 404, 401)),
    Row("GET", "portal:measures",              (302, 200, 200, 404, 404, 404, 404, 302)),
    Row("GET", "portal:calendars",             (302, 200, 200, 404, 404, 404, 404, 302)),
    Row("POST", "portal:calendars",            (302, 200, 200, 404, 404, 404, 404, 302)),
    Row("POST", "portal:end_calendar",         (302, 302, 404, 404, 404, 404, 404, 302), make=own_calendar),
    Row("GET", "portal:tokens",                (302, 200, 200, 404, 404, 404, 404, 302)),
    Row("POST", "portal:tokens",               (302, 200, 200, 404, 404, 404, 404, 302), body=new_token),
    Row("POST", "portal:end_token",            (302, 302, 404, 404, 404, 404, 404, 302), make=token),
    # both are clients of the site that asks
    Row("POST", "portal:answer_own_portal",    (302, 302, 302, 404, 404, 404, 404, 302), make=site_token),
    Row("GET", "portal:site_access",           (302, 404, 404, 404, 404, 404, 200, 302)),
    # without a name or a scope it says so
    Row("POST", "portal:site_access",          (302, 404, 404, 404, 404, 404, 400, 302)),
    Row("POST", "portal:end_site_access",      (302, 404, 404, 404, 404, 404, 302, 302), make=site_token),
    Row("GET", "portal:passkeys",              (302, 200, 200, 404, 404, 404, 404, 302)),
    # nothing that a phone made: refused
    Row("POST", "portal:passkeys",             (302, 400, 400, 404, 404, 404, 404, 302)),
    Row("POST", "portal:remove_passkey",       (302, 302, 404, 404, 404, 404, 404, 302), make=passkey),
]
