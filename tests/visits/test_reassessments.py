"""Planning, withdrawing, booking, and following the book."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import IntegrityError, transaction

from clinic.booking.actions.cancel_visit import cancel_visit
from clinic.booking.actions.mark_visit import mark_visit
from clinic.booking.models import Appointment
from clinic.people.models import AuditEvent
from clinic.people.refusal import NotThere, Refusal
from clinic.visits import queries
from clinic.visits.actions.book_reassessment import book_reassessment
from clinic.visits.actions.plan_reassessment import plan_reassessment
from clinic.visits.actions.plan_referral_looks import plan_referral_looks
from clinic.visits.actions.withdraw_reassessments import withdraw_reassessments
from clinic.visits.models import Reassessment

DUE = date(2026, 3, 10)
WINDOW = {"earliest": date(2026, 3, 8), "due": DUE, "latest": date(2026, 3, 17)}
TUESDAY_TEN = datetime(2026, 3, 10, 10, 0, tzinfo=UTC)


def plan(cast, now, **values):
    return plan_reassessment(
        by=cast.mina.user, now=now, **{"episode": cast.ada_hip, "reason": "kick_off_end", **WINDOW, **values}
    )


def book(cast, row, now, start=TUESDAY_TEN, by=None):
    return book_reassessment(by=(by or cast.desk).user, reassessment=row, clinician=cast.mina, start=start, now=now)


def test_planning_twice_keeps_one_and_a_new_window_moves_it(cast, now):
    first = plan(cast, now)
    assert plan(cast, now) is None
    moved = plan(cast, now, due=date(2026, 3, 12))
    assert (moved.pk, moved.due) == (first.pk, date(2026, 3, 12))
    assert Reassessment.objects.count() == 1
    verbs = AuditEvent.objects.order_by("pk").values_list("verb", flat=True)
    assert list(verbs) == ["plan_reassessment", "move_reassessment"]


def test_a_booked_one_is_not_moved(cast, now):
    row = plan(cast, now)
    book(cast, row, now)
    assert plan(cast, now, due=date(2026, 3, 12)) is None
    row.refresh_from_db()
    assert row.due == DUE


def test_never_two_open_for_one_reason_and_the_neighbours_are_accepted(cast, now, look):
    row = look(DUE)
    with pytest.raises(IntegrityError), transaction.atomic():
        look(DUE + timedelta(days=1))
    look(DUE, reason="interval")
    look(DUE, episode=cast.bo_neck)
    row.status = "done"
    row.save()
    assert look(DUE + timedelta(days=1)).pk != row.pk


@pytest.mark.parametrize(
    ("values", "code"),
    [
        ({"reason": "birthday"}, "invalid"), ({"earliest": date(2026, 3, 11)}, "invalid"),
        ({"latest": date(2026, 3, 9)}, "invalid"),
    ],
)
def test_a_window_that_makes_no_sense_is_refused(cast, now, values, code):
    with pytest.raises(Refusal) as refused:
        plan(cast, now, **values)
    assert (refused.value.code, refused.value.status) == (code, 400)
    assert not Reassessment.objects.exists()


def test_nothing_is_planned_for_an_episode_that_is_over(cast, now):
    cast.ada_hip.status = "finished"
    with pytest.raises(Refusal) as refused:
        plan(cast, now)
    assert refused.value.code == "episode_over"


def test_withdrawing_leaves_a_booked_one_to_a_person(cast, now):
    booked, waiting = plan(cast, now), plan(cast, now, reason="interval")
    book(cast, booked, now)
    assert withdraw_reassessments(by=cast.mina.user, episode=cast.ada_hip, reasons=["kick_off_end", "interval"], now=now) == 1
    waiting.refresh_from_db()
    assert (waiting.status, waiting.closed_at) == ("withdrawn", now)
    assert plan(cast, now, reason="interval").pk != waiting.pk


def test_booking_ties_both_together_and_carries_the_window(cast, now):
    row = plan(cast, now)
    visit = book(cast, row, now)
    row.refresh_from_db()
    assert row.appointment == visit
    assert (visit.visit_type.code, visit.episode) == ("review", cast.ada_hip)
    assert (visit.due_earliest, visit.due_latest) == (date(2026, 3, 8), date(2026, 3, 17))
    assert queries.row_of(row, now.date()).state == "booked"


def test_a_second_booking_is_refused_and_leaves_no_visit(cast, now):
    row = plan(cast, now)
    book(cast, row, now)
    with pytest.raises(Refusal) as refused:
        book(cast, row, now, start=TUESDAY_TEN + timedelta(hours=2))
    assert refused.value.code == "already_booked"
    assert "Tuesday 10 March, 10:00" in refused.value.sentence
    assert Appointment.objects.count() == 1


def test_a_taken_time_leaves_the_reassessment_open(cast, now):
    book(cast, plan(cast, now), now)
    other = plan(cast, now, episode=cast.bo_neck)
    with pytest.raises(Refusal) as refused:
        book(cast, other, now)
    assert (refused.value.code, refused.value.numbers["taken"]) == ("slot_taken", "clinician")
    other.refresh_from_db()
    assert other.appointment is None


def test_a_visit_nobody_closed_blocks_with_a_sentence(cast, now):
    row = plan(cast, now)
    book(cast, row, now)
    later = TUESDAY_TEN + timedelta(days=2)
    with pytest.raises(Refusal, match="has not been closed"):
        book(cast, row, later, start=TUESDAY_TEN + timedelta(days=3))
    row.refresh_from_db()
    assert queries.row_of(row, later.date()).unclosed


def test_without_a_visit_type_for_it_nothing_can_be_booked(cast, now):
    cast.review.delete()
    with pytest.raises(Refusal) as refused:
        book(cast, plan(cast, now), now)
    assert refused.value.code == "no_visit_type"


def test_cancelling_or_missing_the_visit_frees_the_reassessment(cast, now):
    row = plan(cast, now)
    cancel_visit(by=cast.desk.user, appointment=book(cast, row, now), reason="client", now=now)
    row.refresh_from_db()
    assert (row.status, row.appointment) == ("open", None)
    missed = book(cast, row, now)
    mark_visit(by=cast.desk.user, appointment=missed, status="noshow", now=TUESDAY_TEN + timedelta(hours=1))
    row.refresh_from_db()
    assert (row.status, row.appointment) == ("open", None)


def test_a_finished_visit_closes_it_and_plans_the_next_look(cast, now):
    row = plan(cast, now)
    done_at = TUESDAY_TEN + timedelta(hours=1)
    visit = mark_visit(by=cast.mina.user, appointment=book(cast, row, now), status="fulfilled", now=done_at)
    row.refresh_from_db()
    assert (row.status, row.closed_at) == ("done", done_at)
    following = Reassessment.objects.get(status="open")
    assert (following.reason, following.due) == ("interval", date(2026, 4, 7))
    # a wrong click at the desk: no longer finished, so open again, and the next look stays
    mark_visit(by=cast.desk.user, appointment=visit, status="checked-in", now=done_at)
    row.refresh_from_db()
    assert (row.status, row.closed_at, row.appointment) == ("open", None, visit)


def test_a_visit_put_back_into_the_book_takes_its_reassessment_back(cast, now):
    row = plan(cast, now)
    visit = cancel_visit(by=cast.desk.user, appointment=book(cast, row, now), reason="mistake", now=now)
    mark_visit(by=cast.desk.user, appointment=visit, status="booked", now=now)
    row.refresh_from_db()
    assert row.appointment == visit


def test_a_regular_look_that_was_done_stays_done_when_the_next_is_open_already(cast, now):
    row = plan(cast, now, reason="interval")
    done_at = TUESDAY_TEN + timedelta(hours=1)
    visit = mark_visit(by=cast.mina.user, appointment=book(cast, row, now), status="fulfilled", now=done_at)
    mark_visit(by=cast.desk.user, appointment=visit, status="entered-in-error", now=done_at)
    row.refresh_from_db()
    assert row.status == "done"
    assert Reassessment.objects.filter(status="open").count() == 1


@pytest.mark.parametrize("offset", [-30, -8, -7, -1, 0, 1, 2, 3, 30])
def test_the_list_and_the_rules_agree_on_every_state(cast, look, now, offset):
    today = DUE + timedelta(days=offset)
    look(**WINDOW)
    booked = look(**WINDOW, reason="interval")
    book(cast, booked, now)
    done = look(**WINDOW, reason="flag", status="done")
    for row in (*queries.overdue_list(cast.desk.user, today), done):
        state = queries.row_of(row, today).state
        found = [code for code in queries.state_counts(cast.desk.user, today) if code != "all"
                 and queries.overdue_list(cast.desk.user, today, code).filter(pk=row.pk).exists()]
        assert found == [state]
    counts = queries.state_counts(cast.desk.user, today)
    assert (counts["all"], counts["booked"], counts["done"]) == (2, 1, 1)


def test_who_sees_which(cast, look):
    hers, his = look(DUE), look(DUE - timedelta(days=1), episode=cast.bo_neck)
    seen = {
        name: list(queries.reassessments_for(getattr(cast, name).user)) for name in ("desk", "lead", "mina", "theo", "ada")
    }
    assert seen == {"desk": [his, hers], "lead": [his, hers], "mina": [hers], "theo": [his], "ada": [hers]}
    with pytest.raises(NotThere):
        queries.reassessment_for(cast.theo.user, hers.public_id)
    assert queries.reassessments_for(cast.gone).count() == 0


def test_an_unknown_state_and_an_archived_client_show_nothing(cast, look, now):
    look(DUE)
    assert queries.overdue_list(cast.desk.user, DUE, "sideways").count() == 0
    assert queries.overdue_list(cast.desk.user, DUE).count() == 1
    cast.ada.archived = now
    cast.ada.save()
    assert queries.overdue_list(cast.desk.user, DUE).count() == 0


def test_the_next_one_of_each_episode_in_one_query(cast, look, django_assert_num_queries):
    look(DUE, reason="interval")
    first = look(DUE - timedelta(days=3))
    other = look(DUE, episode=cast.bo_neck)
    with django_assert_num_queries(1):
        found = queries.next_reassessments([cast.ada_hip.pk, cast.bo_neck.pk], DUE)
    assert {key: row.public_id for key, row in found.items()} == {
        cast.ada_hip.pk: first.public_id, cast.bo_neck.pk: other.public_id
    }
    assert found[cast.ada_hip.pk].days_overdue == 3
    assert found[cast.bo_neck.pk].days_overdue == 0


def test_a_referral_that_ends_soon_is_looked_at_once(cast, now):
    cast.ada_hip.referral_expires = now.date() + timedelta(days=21)
    cast.ada_hip.save()
    assert plan_referral_looks(now=now - timedelta(days=1)) == 0
    assert plan_referral_looks(now=now) == 1
    assert plan_referral_looks(now=now) == 0
    row = Reassessment.objects.get()
    assert (row.reason, row.due, row.latest) == (
        "referral_limit", now.date() + timedelta(days=7), cast.ada_hip.referral_expires
    )
    withdraw_reassessments(by=cast.mina.user, episode=cast.ada_hip, reasons=["referral_limit"], now=now)
    assert plan_referral_looks(now=now) == 0
    cast.ada_hip.referral_expires += timedelta(days=1)
    cast.ada_hip.save()
    assert plan_referral_looks(now=now + timedelta(days=1)) == 1
