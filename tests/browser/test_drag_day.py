"""Dragging a visit on the day, an extra beside the page of moving: dropped, refused, let go, and the link still a link."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.utils import timezone
from playwright.sync_api import expect

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.models import Appointment, WorkingHours
from tests.browser.test_whole_line import sign_in_staff

pytestmark = pytest.mark.browser
QUARTER = 3   # rows


@pytest.fixture
def tomorrow(cast):
    WorkingHours.objects.update(rule="FREQ=DAILY")
    return timezone.localdate(timezone=ZoneInfo(cast.site.zone)) + timedelta(days=1)


@pytest.fixture
def book(cast, tomorrow):
    def booked(client, clock, clinician):
        start = datetime.combine(tomorrow, time(*clock), ZoneInfo(cast.site.zone))
        return book_visit(
            by=cast.desk.user, client=client, visit_type=cast.follow_up, clinician=clinician, start=start, now=timezone.now()
        )

    return booked


def drag(page, visit, lane, row, *, drop=True):
    """Take the visit in its upper part and carry it to a row of a lane."""
    item = page.locator(f'[data-visit="{visit.public_id}"]')
    box = item.bounding_box()
    tall = box["height"] / int(item.get_attribute("data-rows"))
    column = page.get_by_role("region", name=lane, exact=True).locator("ol").bounding_box()
    page.mouse.move(box["x"] + 30, box["y"] + 4)
    page.mouse.down()
    page.mouse.move(box["x"] + 40, box["y"] + 20)
    page.mouse.move(column["x"] + 40, column["y"] + row * tall + 5, steps=4)
    if drop:
        page.mouse.up()
    return item


@pytest.mark.django_db(transaction=True)
def test_a_visit_is_dragged_to_another_time_and_column_or_put_back_with_the_reason(cast, person, book, tomorrow):
    ada = book(cast.ada, (10,), cast.mina)
    book(cast.bo, (13,), cast.theo)
    page = person(refused=1, viewport={"width": 1280, "height": 1400})
    sign_in_staff(page, cast.desk.user.email)
    page.goto(f"/booking/?day={tomorrow.isoformat()}")
    before = page.locator(f'[data-visit="{ada.public_id}"]').bounding_box()

    # onto Bo's visit: refused, said, put back
    drag(page, ada, "Theo", 4 * 12)
    expect(page.get_by_role("alert")).to_contain_text("Theo already has a visit at that time.")
    expect(page.get_by_role("alert")).to_contain_text("Still free:")
    assert page.locator(f'[data-visit="{ada.public_id}"]').bounding_box()["x"] == before["x"]
    expect(page.locator(f'[data-visit="{ada.public_id}"]')).to_contain_text("10:00")
    assert Appointment.objects.get(pk=ada.pk).version == 1

    # let go with Escape: nothing is asked of the server
    drag(page, ada, "Theo", 2 * 12, drop=False)
    page.keyboard.press("Escape")
    page.mouse.up()
    expect(page.locator(f'[data-visit="{ada.public_id}"]')).to_contain_text("10:00")

    # to Theo at a quarter past eleven
    with page.expect_navigation():
        drag(page, ada, "Theo", 2 * 12 + QUARTER)
    expect(page.get_by_text("Take it back")).to_be_visible()
    moved = Appointment.objects.get(pk=ada.pk)
    assert (moved.clinician, moved.version) == (cast.theo, 2)
    assert moved.starts.astimezone(ZoneInfo(cast.site.zone)).time() == time(11, 15)

    # a press that goes nowhere is still the link to the visit
    page.locator(f'[data-visit="{ada.public_id}"] a').click()
    expect(page.get_by_role("heading", name="Ada Quill")).to_be_visible()


@pytest.mark.django_db(transaction=True)
def test_what_has_happened_cannot_be_dragged(cast, person, book, tomorrow):
    ada = book(cast.ada, (10,), cast.mina)
    Appointment.objects.filter(pk=ada.pk).update(status="fulfilled")
    page = person()
    sign_in_staff(page, cast.desk.user.email)
    page.goto(f"/booking/?day={tomorrow.isoformat()}")
    expect(page.get_by_text("Ada Quill")).to_be_visible()
    assert page.locator("[data-visit]").count() == 0
