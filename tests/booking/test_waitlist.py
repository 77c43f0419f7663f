"""The waitlist, and a freed hour offered to one after another. Monday 2 March 2026, nine o'clock in London."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta

import pytest
import time_machine
from django.db import IntegrityError, transaction

from clinic.booking.actions.answer_offer import answer_offer
from clinic.booking.actions.book_visit import book_visit
from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.actions.join_waitlist import join_waitlist
from clinic.booking.actions.leave_waitlist import leave_waitlist
from clinic.booking.actions.offer_opening import offer_opening
from clinic.booking.actions.pass_on_offers import pass_on_offers
from clinic.booking.actions.withdraw_offers import withdraw_offers
from clinic.booking.models import Appointment, Claim, Offer, WaitlistEntry
from clinic.booking.rules.matching import Candidate, Slot, match, rank
from clinic.booking.waiting import Match, matches
from clinic.people.models import Client, Consent, Episode, User
from clinic.people.refusal import Refusal
from clinic.reminders.models import Message
from clinic.visits.actions.plan_reassessment import plan_reassessment
from clinic.visits.models import Reassessment
from tests.booking.test_pages import text_of
from tests.conftest import NOW

TUESDAY = date(2026, 3, 3)
TEN = datetime(2026, 3, 3, 10, 0, tzinfo=UTC)
SLOT = Slot(TUESDAY, time(10), clinician=1)
LONG_AGO = TUESDAY - timedelta(days=30)


@pytest.mark.parametrize(("wish", "reasons"), [
    ({"priority": 1}, ("urgent",)),
    ({"priority": 2, "clinician": 1}, ("soon", "same_clinician")),
    ({"priority": 3, "own_clinician": 1, "weekdays": frozenset({1, 3})}, ("waiting", "same_clinician", "wished_day")),
    ({"priority": 3, "earliest": time(10), "latest": time(11)}, ("waiting", "wished_time")),
    ({"priority": 2, "clinician": 2}, None),
    ({"priority": 2, "weekdays": frozenset({0})}, None),
    ({"priority": 2, "earliest": time(10, 5)}, None),
    ({"priority": 2, "latest": time(10)}, None),
    ({"priority": 2, "until": TUESDAY - timedelta(days=1)}, None),
    ({"priority": 2, "until": TUESDAY}, ("soon",)),
    ({"window": (LONG_AGO, LONG_AGO, LONG_AGO)}, ("overdue",)),
    ({"window": (TUESDAY, TUESDAY, TUESDAY)}, ("in_window",)),
    ({"window": (TUESDAY + timedelta(days=1),) * 3}, None),
])
def test_wishes_leave_out_or_become_reasons(wish, reasons):
    found = match(SLOT, Candidate("x", LONG_AGO, **wish))
    assert (found.reasons if found else None) == reasons


def test_the_urgent_come_first_then_the_overdue_then_who_waited_longest():
    people = [
        Candidate("whenever", LONG_AGO, 3), Candidate("soon", LONG_AGO, 2),
        Candidate("sooner", LONG_AGO - timedelta(days=9), 2),
        Candidate("theirs", TUESDAY, 2, own_clinician=1), Candidate("urgent", TUESDAY, 1),
        Candidate("overdue", LONG_AGO, window=(LONG_AGO,) * 3), Candidate("due", TUESDAY, window=(TUESDAY,) * 3),
    ]
    order = [each.candidate.key for each in rank(SLOT, people, 9)]
    assert order == ["urgent", "overdue", "theirs", "sooner", "soon", "due", "whenever"]


@pytest.fixture
def cy(cast):
    user = User.objects.create_user("cy@client.example", "client")
    client = Client.objects.create(
        user=user, site=cast.site, given_name="Cy", family_name="Dell", email="cy@client.example", zone=cast.site.zone,
        language="es", registered=NOW,
    )
    Consent.objects.create(client=client, channel="email", granted=True, at=NOW, by=user)
    Episode.objects.create(client=client, lead=cast.mina, region="hip", side="left", complaint="Hip", opened=NOW.date())
    return client


@pytest.fixture
def freed(cast, now):
    visit = book_visit(
        by=cast.desk.user, client=cast.bo, visit_type=cast.follow_up, clinician=cast.mina, start=TEN, now=now
    )
    return cancel_visit(by=cast.desk.user, appointment=visit, reason="client", now=now)


@pytest.fixture
def wait(cast, now):
    def waits(client, priority=2, kind=None, **wishes):
        return join_waitlist(
            by=cast.desk.user, client=client, visit_type=kind or cast.follow_up, priority=priority, now=now, **wishes
        )

    return waits


@pytest.fixture
def asked(cast, freed, now):
    def offered(minutes=60):
        found = matches(cast.desk.user, freed, now)
        return offer_opening(by=cast.desk.user, freed=freed, chosen=found, minutes=minutes, now=now)

    return offered


def states(freed):
    return [(offer.client.given_name, offer.state) for offer in freed.offers.order_by("position")]


def test_matches_come_from_the_waitlist_and_from_what_is_due_and_fit_into_the_hour(cast, freed, cy, wait, now):
    wait(cast.ada)
    plan_reassessment(
        by=cast.mina.user, episode=cy.episodes.get(), reason="interval", earliest=TUESDAY - timedelta(days=12),
        due=TUESDAY - timedelta(days=9), latest=TUESDAY, now=now,
    )
    found = matches(cast.desk.user, freed, now)
    assert [(each.client.given_name, each.visit_type.code, each.reasons, each.days) for each in found] == [
        ("Cy", "review", ("overdue", "same_clinician"), 9), ("Ada", "follow-up", ("soon", "same_clinician"), 1),
    ]
    # beside the freed half hour another visit begins: forty-five minutes no longer fit, and Ada is elsewhere then
    book_visit(
        by=cast.desk.user, client=cast.bo, visit_type=cast.follow_up, clinician=cast.mina, now=now,
        start=TEN + timedelta(minutes=40),
    )
    assert [each.client.given_name for each in matches(cast.desk.user, freed, now)] == ["Ada"]
    book_visit(by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.theo, start=TEN, now=now)
    assert matches(cast.desk.user, freed, now) == []


def test_the_hour_is_held_for_the_first_and_passed_on_when_nobody_answers(cast, freed, cy, wait, asked, now):
    wait(cast.ada, priority=1)
    wait(cy)
    first = asked()
    assert states(freed) == [("Ada", "open"), ("Cy", "queued")]
    assert Claim.objects.filter(appointment=first.visit).count() == 20
    with pytest.raises(Refusal, match="already has a visit"):
        book_visit(by=cast.desk.user, client=cast.bo, visit_type=cast.follow_up, clinician=cast.mina, start=TEN, now=now)
    assert pass_on_offers(by=cast.desk.user, now=now + timedelta(minutes=59)) == 0
    assert pass_on_offers(by=cast.desk.user, now=now + timedelta(minutes=60)) == 1
    assert pass_on_offers(by=cast.desk.user, now=now + timedelta(minutes=60)) == 0, "a doubled tick is harmless"
    assert states(freed) == [("Ada", "expired"), ("Cy", "open")]
    message = Message.objects.filter(kind="visit_offered").latest("pk")
    assert set(message.values) == {"first_name", "day", "time", "clinic", "phone", "url"}
    assert message.values["day"] == "martes 3 de marzo"


def test_the_first_yes_wins_and_closes_the_wish(cast, freed, cy, wait, asked, now):
    wait(cast.ada, priority=1)
    wait(cy)
    offer = asked()
    done = answer_offer(by=cast.ada.user, offer=offer, yes=True, now=now + timedelta(minutes=5))
    assert (done.visit.status, done.visit.client) == ("booked", cast.ada)
    told = Message.objects.get(kind="visit_booked", about=f"appointment:{done.visit.public_id}")
    assert told.dedup_key.endswith(f":{done.visit.version}"), "with the invitation to the visit as it stands"
    assert states(freed) == [("Ada", "accepted"), ("Cy", "withdrawn")]
    assert WaitlistEntry.objects.get(client=cast.ada).state == "booked"
    assert answer_offer(by=cast.ada.user, offer=offer, yes=True, now=now + timedelta(minutes=6)).state == "accepted"
    again = [Match("x", cy, cast.follow_up, (), 0, None, None)]
    with pytest.raises(Refusal, match="Somebody has said yes"):
        offer_opening(by=cast.desk.user, freed=freed, chosen=again, minutes=60, now=now)


def test_a_yes_after_the_time_is_refused_with_the_next_openings(cast, freed, wait, asked, now):
    wait(cast.ada)
    offer = asked()
    late = now + timedelta(minutes=61)
    with pytest.raises(Refusal) as caught:
        answer_offer(by=cast.ada.user, offer=offer, yes=True, now=late)
    assert (caught.value.code, len(caught.value.numbers["openings"])) == ("offer_over", 3)
    pass_on_offers(by=cast.desk.user, now=late)
    assert states(freed) == [("Ada", "expired")]
    assert not Claim.objects.exists()
    assert not Message.objects.filter(kind="visit_cancelled", client=cast.ada).exists(), "an offer is no visit"


def test_a_no_gives_the_hour_to_the_next_and_somebody_who_cannot_is_passed_over(cast, freed, cy, wait, asked, now):
    wait(cast.ada, priority=1)
    wait(cy)
    offer = asked()
    book_visit(by=cast.desk.user, client=cy, visit_type=cast.follow_up, clinician=cast.theo, start=TEN, now=now)
    answer_offer(by=cast.ada.user, offer=offer, yes=False, now=now)
    assert states(freed) == [("Ada", "declined"), ("Cy", "impossible")]


def test_an_answer_is_due_an_hour_before_the_visit_at_the_latest(cast, freed, wait, asked, now):
    wait(cast.ada)
    assert asked(minutes=1440).expires == TEN - timedelta(hours=1)
    Offer.objects.all().update(state="withdrawn")


def test_an_overdue_look_is_tied_by_the_yes(cast, freed, now):
    row = plan_reassessment(
        by=cast.mina.user, episode=cast.ada_hip, reason="interval", earliest=TUESDAY - timedelta(days=9),
        due=TUESDAY - timedelta(days=5), latest=TUESDAY, now=now,
    )
    found = matches(cast.desk.user, freed, now)
    offer = offer_opening(by=cast.desk.user, freed=freed, chosen=found, minutes=60, now=now)
    assert Reassessment.objects.get(pk=row.pk).appointment is None
    done = answer_offer(by=cast.ada.user, offer=offer, yes=True, now=now)
    assert Reassessment.objects.get(pk=row.pk).appointment == done.visit


def test_withdrawing_gives_the_hour_back(cast, freed, cy, wait, asked, now):
    wait(cast.ada, priority=1)
    wait(cy)
    asked()
    assert withdraw_offers(by=cast.desk.user, freed=freed, now=now) == 2
    assert {state for _, state in states(freed)} == {"withdrawn"}
    assert not Claim.objects.exists()


def test_what_the_waitlist_refuses(cast, wait, now):
    entry = wait(cast.ada)
    with pytest.raises(Refusal, match="waits for a follow-up already"):
        wait(cast.ada)
    for wishes, field in [
        ({"priority": 9}, "priority"), ({"weekdays": [7]}, "weekdays"), ({"until": date(2026, 3, 1)}, "until"),
        ({"earliest": time(10), "latest": time(10)}, "latest"),
    ]:
        with pytest.raises(Refusal) as caught:
            wait(cast.bo, **wishes)
        assert list(caught.value.fields) == [field]
    assert leave_waitlist(by=cast.desk.user, entry=entry, now=now)
    assert not leave_waitlist(by=cast.desk.user, entry=entry, now=now)
    assert wait(cast.ada).state == "waiting"


def test_the_database_holds_one_open_offer_and_one_yes_an_hour(cast, freed, cy, wait, asked, now):
    wait(cast.ada, priority=1)
    wait(cy)
    asked()
    second = Offer.objects.get(state="queued")
    with pytest.raises(IntegrityError), transaction.atomic():
        Offer.objects.filter(pk=second.pk).update(state="open")
    with pytest.raises(IntegrityError), transaction.atomic():
        WaitlistEntry.objects.filter(client=cy).update(priority=4)
    assert Offer.objects.filter(pk=second.pk).update(state="withdrawn") == 1


@pytest.fixture
def desk(cast, browse):
    with time_machine.travel(NOW, tick=False):
        yield browse(cast.desk.user)


def test_the_desk_offers_a_freed_hour_and_notes_the_answer(cast, freed, wait, desk):
    wait(cast.ada, priority=1, weekdays=[1], until=date(2026, 4, 3))
    page = f"/booking/{freed.public_id}/offer/"
    shown = desk.get(page)
    assert "Ada Quill Follow-up Needs it as soon as it can be, their own clinician, a day they wished for" in text_of(shown)
    chosen = re.findall(r'name="chosen" value="([^"]+)"', shown.content.decode())
    assert "Choose somebody to ask." in text_of(desk.post(page, {"minutes": "60"}))
    assert "Give between five minutes and a day" in text_of(desk.post(page, {"chosen": chosen, "minutes": "x"}))
    answer = desk.post(page, {"chosen": chosen, "minutes": "60"}, follow=True)
    assert "The hour is held for Ada Quill, who is asked now." in text_of(answer)
    assert "Held, waiting for an answer until 10:00" in text_of(answer)
    offer = Offer.objects.get()
    assert "Ada Quill has the hour." in text_of(desk.post(page, {"yes": str(offer.public_id)}, follow=True))
    assert Appointment.objects.get(client=cast.ada).status == "booked"


def test_offers_that_were_not_taken_are_no_visits_of_the_day(cast, freed, wait, asked, desk, now):
    wait(cast.ada)
    asked()
    assert "Ada Quill" in text_of(desk.get("/booking/?day=2026-03-03"))
    withdraw_offers(by=cast.desk.user, freed=freed, now=now)
    assert "Ada Quill" not in text_of(desk.get("/booking/?day=2026-03-03"))


@pytest.mark.parametrize("more", [1, 3])
def test_the_waitlist_is_shown_in_a_fixed_number_of_queries(cast, wait, desk, more, django_assert_num_queries):
    for kind in [cast.follow_up, cast.first, cast.review][:more]:
        wait(cast.ada, kind=kind, weekdays=[1, 3], earliest=time(9))
    desk.get("/booking/new/")
    with django_assert_num_queries(4):   # session, user, count, page
        answer = desk.get("/booking/waitlist/")
    assert "Tuesday or Thursday, not before 09:00" in text_of(answer)


def test_somebody_is_put_on_the_list_and_taken_off(cast, desk):
    page = f"/booking/waitlist/new/{cast.ada.public_id}/"
    assert desk.post(page, {"visit_type": "follow-up", "priority": "2", "latest": "late"}).status_code == 400
    body = {"visit_type": "follow-up", "priority": "1", "weekdays": ["1"], "clinician": str(cast.mina.public_id)}
    answer = desk.post(page, body, follow=True)
    assert "Ada Quill is on the waitlist." in text_of(answer)
    assert "waits for a follow-up already" in text_of(desk.post(page, body))
    entry = WaitlistEntry.objects.get()
    assert "Nobody waits." in text_of(desk.post(f"/booking/waitlist/{entry.public_id}/leave/", follow=True))


def test_the_client_sees_takes_and_declines_offers_over_the_api_and_in_the_portal(cast, freed, wait, asked, browse, now):
    wait(cast.ada)
    asked()
    with time_machine.travel(now, tick=False):
        ada, bo = browse(cast.ada.user), browse(cast.bo.user)
        rows = ada.get("/api/v1/me/offers").json()["results"]
        assert [(row["starts"], row["expires"], row["state"]) for row in rows] == [
            ("2026-03-03T10:00:00Z", "2026-03-02T10:00:00Z", "open")
        ]
        address = f"/api/v1/me/offers/{rows[0]['id']}"
        assert bo.get("/api/v1/me/offers").json()["results"] == []
        assert bo.post(f"{address}/accept").status_code == 404
        assert "It is held for you until" in text_of(ada.get("/portal/visits/"))
        assert ada.post(f"{address}/accept").json()["state"] == "accepted"
        assert ada.get("/api/v1/me/offers").json()["results"] == []
        late = ada.post(f"{address}/decline")
        assert (late.status_code, late.json()["title"], len(late.json()["openings"])) == (409, "offer_over", 3)


def test_i_cannot_come_declines_an_hour_that_is_only_held(cast, freed, wait, asked, browse, now):
    wait(cast.ada)
    visit = asked().visit
    with time_machine.travel(now, tick=False):
        ada = browse(cast.ada.user)
        assert ada.post(f"/portal/visits/{visit.public_id}/move/", {"start": TEN.isoformat()}).status_code == 409
        answer = ada.post(f"/portal/visits/{visit.public_id}/cancel/", follow=True)
    assert "The time goes to somebody else." in text_of(answer)
    assert states(freed) == [("Ada", "declined")]
