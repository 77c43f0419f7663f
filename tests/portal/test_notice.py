"""Until how long before a visit Ada moves or cancels it herself: as the practice says, on her page and over the API."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.set_notice import set_notice
from clinic.booking.models import Appointment
from clinic.booking.rules.notice import is_short
from clinic.people.models import AuditEvent
from clinic.people.refusal import Refusal

START = datetime(2026, 3, 10, 10, 0, tzinfo=UTC)
LAST = START - timedelta(hours=24)
LATER = (START + timedelta(days=2)).isoformat()
SECOND = timedelta(seconds=1)


@pytest.fixture
def visit(cast, now):
    set_notice(by=cast.lead.user, site=cast.site, hours=24, now=now)
    return book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=START, now=now
    )


@pytest.mark.parametrize("way", ["page", "api"])
@pytest.mark.parametrize("change", ["move", "cancel"])
def test_she_changes_it_up_to_the_last_moment_and_not_after(cast, browse, visit, clock, way, change):
    own = browse(cast.ada.user)
    body = {"start": LATER} if change == "move" else {}

    def tried():
        if way == "page":
            return own.post(f"/portal/visits/{visit.public_id}/{change}/", body)
        return own.post(f"/api/v1/me/visits/{visit.public_id}/{change}", body, "application/json")

    clock.move_to(LAST + SECOND)
    late = tried()
    assert late.status_code == 409
    if way == "page":
        assert "Please ring us: the desk can still do it." in late.content.decode()
    else:
        told = late.json()
        assert (told["title"], told["notice_hours"], told["phone"]) == ("inside_notice", 24, "+441632960100")
    visit.refresh_from_db()
    assert (visit.status, visit.starts) == ("booked", START)
    clock.move_to(LAST)
    assert tried().status_code == (302 if way == "page" else 200)
    visit.refresh_from_db()
    assert (visit.status, visit.starts) != ("booked", START)


def test_her_page_says_to_ring_instead_of_offering_it(cast, browse, visit, clock):
    own = browse(cast.ada.user)
    assert "I cannot come" in own.get("/portal/visits/").content.decode()
    clock.move_to(LAST + SECOND)
    page = own.get("/portal/visits/").content.decode()
    assert "less than 24 hours away" in page
    assert "tel:+441632960100" in page
    for word in ("I cannot come", "Move it"):
        assert word not in page


def test_the_api_says_until_when(cast, browse, visit):
    assert browse(cast.ada.user).get("/api/v1/me/visits").json()["results"][0]["change_until"] == "2026-03-09T10:00:00Z"


def test_an_hour_that_waits_for_her_yes_can_be_declined(cast, browse, visit, clock):
    Appointment.objects.filter(pk=visit.pk).update(status="pending")
    clock.move_to(START - timedelta(hours=1))
    assert browse(cast.ada.user).post(f"/portal/visits/{visit.public_id}/cancel/").status_code == 302


def test_the_desk_changes_it_at_any_time(cast, browse, visit, clock):
    clock.move_to(START - timedelta(hours=1))
    browse(cast.desk.user).post(f"/booking/{visit.public_id}/", {"reason": "client"})
    visit.refresh_from_db()
    assert visit.status == "cancelled"


def test_without_a_notice_it_is_until_the_visit_begins():
    assert not is_short(START, 0, START)
    assert is_short(START, 0, START + SECOND)


def test_hours_are_real_ones_when_the_clock_changes():
    """On 29 March 2026 the United Kingdom's day has 23 hours: a notice of 24 ends at 9 on Saturday for 10 on Sunday."""
    sunday = datetime(2026, 3, 29, 9, 0, tzinfo=UTC)   # ten o'clock there
    assert not is_short(sunday, 24, datetime(2026, 3, 28, 9, 0, tzinfo=UTC))
    assert is_short(sunday, 24, datetime(2026, 3, 28, 9, 0, 1, tzinfo=UTC))


def test_the_lead_sets_it_on_a_page(cast, browse):
    lead = browse(cast.lead.user)
    for wrong in ("", "-1", "169", "soon"):
        assert lead.post("/booking/notice/", {"hours": wrong}).status_code == 400
    assert lead.post("/booking/notice/", {"hours": "48"}).status_code == 302
    cast.site.refresh_from_db()
    assert cast.site.notice_hours == 48
    assert 'value="48"' in lead.get("/booking/notice/").content.decode()
    assert AuditEvent.objects.filter(verb="set_notice").count() == 1


@pytest.mark.parametrize("hours", [-1, 169])
def test_hours_out_of_bounds_are_refused(cast, now, hours):
    with pytest.raises(Refusal, match="Choose 0 to 168 hours"):
        set_notice(by=cast.lead.user, site=cast.site, hours=hours, now=now)
