"""The whole line through a browser: from a new client to a booked reassessment and the mails that went out.

Wren is invented. The kick-off of the template waits for a decision; it lasts seven days.
"""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
import time_machine
from django.conf import settings
from django.utils import timezone
from playwright.sync_api import Page, expect

from clinic.people.models import Client
from clinic.reminders.actions.deliver_due import deliver_due
from clinic.reminders.models import InboxMessage
from clinic.visits.actions.load_measures import load_measures
from clinic.visits.actions.plan_reassessment_reminders import plan_reassessment_reminders
from clinic.visits.models import Reassessment
from programs.following.actions.follow_programs import follow_programs
from programs.following.actions.load_rule_set import load_rule_set
from programs.following.models import DayRecord, ProgramState, SessionLog
from programs.library.actions.load_library import load_library
from programs.prescribing.actions.load_templates import load_templates
from programs.prescribing.models import Program

pytestmark = pytest.mark.browser
PASSPHRASE = "a long enough passphrase"
PHONE = {"viewport": {"width": 360, "height": 780}, "has_touch": True}


def sign_in_staff(page: Page, address: str) -> None:
    page.goto("/account/login/")
    page.get_by_label("Mail address").fill(address)
    page.get_by_label("Password").fill(PASSPHRASE)
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("button", name="Sign out")).to_be_visible()


def sign_in_by_mail(page: Page, address: str) -> None:
    page.goto("/account/login/")
    page.get_by_role("link", name="Send me a mail").click()
    page.get_by_label("Mail address").fill(address)
    page.get_by_role("button", name="Send the mail").click()
    expect(page.get_by_role("heading", name="Look into your mail")).to_be_visible()
    body = InboxMessage.objects.filter(to=address).latest("pk").body
    page.goto(re.search(r"(/sign-in/link/\S+)", body)[1])
    page.get_by_role("button", name="Sign in").click()
    expect(page.get_by_role("heading", name="Hello Wren")).to_be_visible()


def register(page: Page) -> Client:
    page.goto("/clients/")
    page.get_by_role("link", name="Register a client").click()
    page.get_by_label("First name").fill("Wren")
    page.get_by_label("Family name").fill("Halloway")
    page.get_by_label("Mail address").fill("wren@client.example")
    page.get_by_label("Phone").fill("07700 900150")
    page.get_by_label("The client agreed to reminders by mail").check()
    page.get_by_role("button", name="Register").click()
    page.get_by_label("Clinician").select_option(label="Mina")
    page.get_by_label("What it is about").fill("Stiff hip after long drives")
    page.get_by_role("button", name="Open the episode").click()
    expect(page.get_by_text("The episode is open.")).to_be_visible()
    return Client.objects.get(given_name="Wren")


def book_first_visit(page: Page, client: Client, cast) -> None:
    page.goto(f"/booking/new/?client={client.public_id}")
    page.get_by_label("Kind of visit").select_option("first")
    page.get_by_label("With").first.select_option(label="Mina")
    page.get_by_role("button", name="Show openings").click()
    page.get_by_role("button", name=re.compile("^Book ?:")).first.click()
    expect(page.get_by_text("Wren").first).to_be_visible()
    assert client.appointments.get().visit_type == cast.first


def screen(page: Page, client: Client) -> None:
    """The questions that stand before a program: nothing to note."""
    page.goto(f"/clients/{client.public_id}/screening/")
    for box in page.get_by_role("checkbox", name="None of these").all():
        box.check()
    page.get_by_role("radio", name="Yes").check()
    page.get_by_role("button", name=re.compile("Keep these answers")).click()
    expect(page.get_by_text("Nothing has been asked yet.")).to_have_count(0)


def prescribe(page: Page, client: Client) -> Program:
    page.goto(f"/programs/new/?episode={client.episodes.get().public_id}")
    page.get_by_role("link", name="Begin with Hip and glute start").click()
    page.get_by_role("button", name="Give this program").click()
    program = Program.objects.get(client=client)
    expect(page).to_have_url(re.compile(str(program.public_id)))
    return program


def log_today(page: Page) -> None:
    page.goto("/portal/")
    page.get_by_role("link", name=re.compile("Start")).first.click()
    for exercise in page.locator("[data-exercise]").all():
        exercise.get_by_role("radio", name="All of it").check()
    for number, scale in (("1", "Pain before"), ("2", "Worst pain"), ("3", "How hard did you work?")):
        page.get_by_role("group", name=re.compile(scale)).get_by_role("radio", name=number, exact=True).check()
    page.get_by_role("group", name=re.compile("The whole session was")).get_by_role("radio", name="About right").check()
    page.get_by_role("button", name="Save my session").click()
    expect(page).to_have_url(re.compile("/portal/session/saved/"))


def log_by_api(page: Page, program: Program, days: int) -> list[str]:
    """What a phone without signal kept, sent in one go; the results by entry."""
    revision = program.revisions.get(number=1)
    entries = [
        {
            "log_id": f"00000000-0000-4000-8000-{number:012d}", "revision": str(revision.public_id),
            "day": str(program.starts + timedelta(days=1 + number // 2)), "pain_before": 1, "pain_during": 1, "effort": 3,
            "rating": "about_right",
            "items": [
                {"item_key": str(item.key), "done_left": 900, "done_right": 900} for item in revision.items.all()
            ],
        }
        for number in range(2 * days)
    ]
    answer = page.evaluate(
        """async (entries) => {
            const token = document.querySelector('[name=csrfmiddlewaretoken]').value;
            const answer = await fetch('/api/v1/me/sessions', {
                method: 'POST', body: JSON.stringify({sessions: entries}),
                headers: {'Content-Type': 'application/json', 'X-CSRFToken': token},
            });
            return await answer.json();
        }""",
        entries,
    )
    return [row["result"] for row in answer["results"]]


@pytest.mark.django_db(transaction=True)
def test_the_whole_line(cast, person, settings, now):
    settings.EMAIL_BACKEND = "clinic.reminders.inbox.InboxBackend"
    with time_machine.travel(now, tick=True) as clock:
        load_library()
        load_templates()
        load_measures()
        load_rule_set(now=timezone.now())
        desk, mina, wren = person(), person(), person(**PHONE)

        sign_in_staff(desk, "dara@harbour.example")
        client = register(desk)
        book_first_visit(desk, client, cast)

        sign_in_staff(mina, "mina@harbour.example")
        screen(mina, client)
        program = prescribe(mina, client)

        sign_in_by_mail(wren, "wren@client.example")
        log_today(wren)
        day = DayRecord.objects.get(program=program)
        assert (day.logged, day.sessions_done, day.credit) == (True, 1, 1.0)
        mina.goto("/caseload/")
        expect(mina.get_by_role("link", name="Wren Halloway").first).to_be_visible()

        clock.shift(timedelta(days=7, hours=1))
        assert log_by_api(wren, program, days=6) == ["stored"] * 12
        assert log_by_api(wren, program, days=6) == ["already"] * 12
        assert SessionLog.objects.filter(program=program).count() == 13
        assert ProgramState.objects.get(program=program).adherence_all == pytest.approx(1.0)
        follow_programs(now=timezone.now())

        sign_in_staff(mina, "mina@harbour.example")   # a new shift
        mina.goto("/suggestions/")
        expect(mina.get_by_role("heading", name="Begin the taper")).to_be_visible()
        mina.get_by_text("Evidence").first.click()
        mina.get_by_role("button", name=re.compile("^Accept ?: Begin the taper")).click()
        program.refresh_from_db()
        taper = program.revisions.get(number=2)
        assert taper.phases.first().kind == "taper"
        mina.goto(f"/programs/{program.public_id}/")
        expect(mina.get_by_text("Taper").first).to_be_visible()

        plan_reassessment_reminders(now=timezone.now())
        clock.shift(timedelta(hours=8, minutes=10))   # ten past six in the evening: the word about tomorrow is due
        deliver_due(now=timezone.now(), worker="test")

        clock.shift(timedelta(days=10))
        sign_in_staff(desk, "dara@harbour.example")
        desk.goto("/reassessments/")
        row = desk.get_by_role("row", name=re.compile("Wren Halloway"))
        expect(row.get_by_text(re.compile("overdue by"))).to_be_visible()
        row.get_by_role("button").first.click()
        reassessment = Reassessment.objects.get(episode=client.episodes.get(), status="open")
        assert reassessment.appointment is not None
        assert reassessment.appointment.starts > timezone.now()

        deliver_due(now=timezone.now(), worker="test")
        subjects = list(InboxMessage.objects.filter(to="wren@client.example").values_list("subject", flat=True))
        kinds = set(client.messages.filter(state="sent").values_list("kind", flat=True))
        assert {"visit_booked", "phase_change", "reassessment_due"} <= kinds, subjects


def test_the_settings_of_the_tests_are_those_of_the_embedded_mode():
    assert settings.MODE == "embedded"
