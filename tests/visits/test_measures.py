"""Loading measures, recording visits and results; rows that are written once."""

from __future__ import annotations

import json
from datetime import timedelta

import pytest
from django.db import DatabaseError, connection, transaction

from clinic.booking.actions.book_visit import book_visit
from clinic.people.models import AuditEvent
from clinic.people.refusal import NotThere, Refusal
from clinic.visits import queries
from clinic.visits.actions.load_measures import load_measures
from clinic.visits.actions.record_result import record_result
from clinic.visits.actions.record_visit import Measured, record_visit
from clinic.visits.models import Measure, Reassessment, Result, Visit


def test_loading_measures_twice_changes_nothing(db):
    first = load_measures()
    assert first["created"] == Measure.objects.count() >= 8
    assert load_measures() == {"created": 0, "changed": 0, "same": first["created"]}


def test_a_changed_number_is_updated_in_place(measures):
    Measure.objects.filter(code="lefs").update(mcid=6)
    assert load_measures()["changed"] == 1
    assert queries.measure("lefs").mcid == 9


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"scoring": "median"}, "median"), ({"minimum_answered": 0}, "fewest"), ({"item_maximum": 0}, "empty"),
        ({"wording": "How is it?"}, "wording"),
    ],
)
def test_a_bad_measure_is_named_and_nothing_is_stored(db, tmp_path, change, says):
    good = {
        "code": "a", "name": "A", "scoring": "mean", "items": 3, "item_minimum": 0, "item_maximum": 10,
        "minimum_answered": 2, "unit": "", "direction": "higher", "mdc": None, "mdc_confidence": None, "mcid": None,
        "by_side": False, "side_mdc": None, "source": "Somebody 2020",
    }
    path = tmp_path / "measures.json"
    path.write_text(json.dumps({"measures": [good, {**good, "code": "b", **change}]}))
    with pytest.raises(ValueError, match=rf"measure 2 \(b\).*{says}"):
        load_measures(path)
    assert Measure.objects.count() == 0


def test_a_result_keeps_its_items_and_its_score(cast, measures, now):
    values = [2] * 10 + [None]
    result = record_result(
        by=cast.mina.user, episode=cast.ada_hip, measure=queries.measure("quickdash"), values=values, now=now
    )
    stored = Result.objects.get()
    assert (stored.value, stored.item_values, stored.at) == (25.0, values, now)
    assert AuditEvent.objects.get(verb="record_result").record == f"result:{result.public_id}"


@pytest.mark.parametrize(
    ("code", "values", "side", "field", "says"),
    [
        ("pain-now", [11], "none", "values.1", "goes from 0 to 10, not 11"),
        ("pain-now", [1, 2], "none", "values", "has 1 items, not 2"),
        ("lefs", [4] * 19, "none", "values", "at least 20 of its 20 items; 19 are there"),
        ("lefs", [4] * 19 + [5], "none", "values.20", "item 20 goes from 0 to 4, not 5"),
        ("hip-flexion", [110], "none", "side", "on the left or on the right"),
        ("pain-now", [3], "left", "side", "has no side"),
        ("pain-now", [float("nan")], "none", "values.1", "not a number"),
    ],
)
def test_bad_numbers_are_named_and_nothing_is_kept(cast, measures, now, code, values, side, field, says):
    with pytest.raises(Refusal) as refused:
        record_result(
            by=cast.mina.user, episode=cast.ada_hip, measure=queries.measure(code), values=values, side=side, now=now
        )
    assert refused.value.status == 400
    assert says in refused.value.fields[field]
    assert not Result.objects.exists()


def test_a_visit_keeps_its_note_and_results_together(cast, measures, now):
    visit = record_visit(
        by=cast.mina.user, episode=cast.ada_hip, note="  Moves better. ", now=now,
        results=[
            Measured(queries.measure("pain-now"), [4]),
            Measured(queries.measure("hip-flexion"), [105], "left"),
            Measured(queries.measure("hip-flexion"), [120], "right"),
        ],
    )
    assert (visit.note, visit.at, visit.clinician) == ("Moves better.", now, cast.mina)
    assert visit.results.count() == 3
    series = queries.results_for(cast.mina.user, cast.ada_hip)
    assert queries.symmetries(series) == {queries.measure("hip-flexion").pk: 87.5}


def test_one_bad_number_leaves_neither_visit_nor_result(cast, measures, now):
    with pytest.raises(Refusal) as refused:
        record_visit(
            by=cast.mina.user, episode=cast.ada_hip, note="", now=now,
            results=[Measured(queries.measure("pain-now"), [4]), Measured(queries.measure("lefs"), [4] * 19 + [7])],
        )
    assert list(refused.value.fields) == ["results.lefs.none.values.20"]
    assert not Visit.objects.exists()
    assert not Result.objects.exists()


@pytest.mark.parametrize(
    ("note", "says"), [("", "Write a note or enter a measure"), ("x" * 8001, "8000 characters at most, not 8001")]
)
def test_a_visit_needs_content_within_bounds(cast, now, note, says):
    with pytest.raises(Refusal) as refused:
        record_visit(by=cast.mina.user, episode=cast.ada_hip, note=note, now=now)
    assert says in refused.value.fields["note"]


def test_a_visit_in_the_book_is_recorded_once_and_not_before_it_began(cast, now):
    booked = book_visit(
        by=cast.desk.user, client=cast.ada, visit_type=cast.follow_up, clinician=cast.mina, start=now + timedelta(hours=1),
        now=now, episode=cast.ada_hip,
    )
    write = {"by": cast.mina.user, "episode": cast.ada_hip, "note": "Seen.", "appointment": booked}
    with pytest.raises(Refusal) as early:
        record_visit(**write, now=now)
    assert "not begun" in early.value.fields["appointment"]
    later = now + timedelta(hours=2)
    assert list(queries.unrecorded_appointments(cast.ada_hip, later)) == [booked]
    assert record_visit(**write, now=later).at == booked.starts
    assert not queries.unrecorded_appointments(cast.ada_hip, later).exists()
    with pytest.raises(Refusal) as again:
        record_visit(**write, now=later)
    assert again.value.code == "already_recorded"
    with pytest.raises(Refusal) as other:
        record_visit(**{**write, "episode": cast.bo_neck}, now=later)
    assert "somebody else" in other.value.fields["appointment"]


def test_nine_days_of_treatment_open_a_look_and_two_records_of_a_day_count_once(cast, now):
    for day in range(8):
        record_visit(by=cast.mina.user, episode=cast.ada_hip, note="Seen.", now=now + timedelta(days=day))
    record_visit(by=cast.mina.user, episode=cast.ada_hip, note="Again.", now=now + timedelta(days=7, hours=1))
    assert not Reassessment.objects.exists()
    record_visit(by=cast.mina.user, episode=cast.ada_hip, note="Seen.", now=now + timedelta(days=8))
    row = Reassessment.objects.get()
    assert (row.reason, row.earliest) == ("visit_count", (now + timedelta(days=8)).date())


def test_the_last_allowed_visit_opens_a_look_at_the_referral(cast, now):
    cast.ada_hip.visits_allowed = 2
    cast.ada_hip.save()
    record_visit(by=cast.mina.user, episode=cast.ada_hip, note="Seen.", now=now)
    assert [row.reason for row in Reassessment.objects.all()] == ["referral_limit"]


def test_the_desk_and_another_clinician_see_neither_results_nor_notes(cast, measures, now):
    record_visit(by=cast.mina.user, episode=cast.ada_hip, note="Private.", now=now)
    assert queries.visits_of(cast.lead.user, cast.ada_hip).count() == 1
    assert queries.results_for(cast.mina.user, cast.ada_hip) == []
    for user in (cast.desk.user, cast.theo.user, cast.ada.user):
        with pytest.raises(NotThere):
            queries.results_for(user, cast.ada_hip)
        with pytest.raises(NotThere):
            queries.visits_of(user, cast.ada_hip)


def test_the_database_refuses_to_change_a_visit_or_a_result(cast, measures, now):
    record_visit(
        by=cast.mina.user, episode=cast.ada_hip, note="As it was.", now=now,
        results=[Measured(queries.measure("pain-now"), [4])],
    )
    for statement in ("UPDATE visits_visit SET note = 'Other.'", "UPDATE visits_result SET value = 0"):
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(statement)
    assert Visit.objects.get().note == "As it was."
    assert Result.objects.get().value == 4
    # the neighbour that is accepted: a further row
    record_visit(by=cast.mina.user, episode=cast.ada_hip, note="A correction.", now=now)
    assert Visit.objects.count() == 2
    with pytest.raises(TypeError, match="append-only"):
        Visit.objects.update(note="Other.")
