"""A new user books a follow-up inside its due window with the keyboard alone, in under twenty seconds.

The time is the keystroke-level model's (Card SK, Moran TP, Newell A. The keystroke-level model for user performance time
with interactive systems. Communications of the ACM 1980;23(7):396-410): 0.28 s a key for an average typist who is no
secretary, 1.35 s for each time the user must think; from memory. What the pages take comes on top and is measured.
"""

from __future__ import annotations

import re
import time
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from clinic.booking.models import Appointment, WorkingHours
from clinic.visits.actions.plan_reassessment import plan_reassessment
from clinic.visits.models import Reassessment
from tests.browser.test_whole_line import sign_in_staff

pytestmark = pytest.mark.browser
KEY, THINK = 0.28, 1.35   # seconds


@pytest.mark.django_db(transaction=True)
def test_a_new_user_books_inside_the_due_window_by_keyboard(cast, person):
    WorkingHours.objects.update(rule="FREQ=DAILY")
    today = timezone.localdate()
    due = plan_reassessment(
        by=cast.mina.user, episode=cast.ada_hip, reason="interval", earliest=today + timedelta(days=4),
        due=today + timedelta(days=6), latest=today + timedelta(days=10), now=timezone.now(),
    )
    page = person()
    sign_in_staff(page, cast.desk.user.email)
    page.goto("/booking/")
    spent, started = 0.0, time.monotonic()

    def press(*keys):
        nonlocal spent
        for key in keys:
            page.keyboard.press(key)
            spent += KEY

    spent += THINK   # where do I book?
    for _ in range(12):
        press("Tab")
        if page.evaluate("document.activeElement.textContent.trim()") == "Book":
            break
    press("Enter")
    expect(page.get_by_label("Find a client, or say what to book")).to_be_focused()
    spent += 2 * THINK   # who, and what
    press(*"ada reassess", "Enter")
    expect(page.get_by_text("Inside the due window").first).to_be_visible()
    expect(page.get_by_role("button", name=re.compile("^Book ?:")).first).to_be_focused()
    spent += 2 * THINK   # is that what I meant, is that time right?
    press("Enter")
    expect(page.get_by_text("Booked: Ada Quill")).to_be_visible()
    spent += time.monotonic() - started
    visit = Appointment.objects.get()
    assert due.earliest <= visit.starts.date() <= due.latest
    assert Reassessment.objects.get().appointment == visit
    assert spent < 20, f"{spent:.1f} s"
