"""The phone sends what it kept: in any order, twice, and with a bad one among them."""

from dataclasses import replace
from datetime import timedelta
from uuid import UUID

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from programs.following.actions.log_sessions import log_sessions
from programs.following.models import DayRecord, ItemLog, ProgramState, SessionLog, Suggestion
from programs.following.rules.entry import ItemEntry, SessionEntry
from programs.prescribing.models import Revision
from tests.following.conftest import BRIDGE, START, done


@pytest.fixture
def shown(program) -> UUID:
    return Revision.objects.get(program=program).public_id


def entry(shown: UUID, number: int, edit: int = 0, **answers) -> SessionEntry:
    day = START + timedelta(days=number // 2 % 20)
    return SessionEntry(UUID(int=9000 + number), edit, shown, day, **{"items": done(), "pain_during": number % 3, **answers})


def stored_rows(program) -> dict[str, list]:
    """What the database holds of the program, without row numbers and times."""
    days = DayRecord.objects.filter(program=program).values_list(
        "day", "logged", "sessions_done", "done_seconds", "credit", "pain", "effort"
    )
    state = ProgramState.objects.filter(program=program).values_list(
        "band", "adherence_7", "adherence_all", "sessions_done", "overdose", "pain_last", "attention", "reasons"
    )
    logs = SessionLog.objects.filter(program=program).order_by("log_id", "edit").values_list("log_id", "edit", "pain_during")
    return {"days": list(days), "state": list(state), "logs": list(logs)}


def test_one_bad_entry_of_forty_costs_no_other(cast, program, shown, now):
    entries = [entry(shown, number) for number in range(40)]
    entries[17] = replace(entries[17], items=(ItemEntry(UUID(int=77), 10),))
    outcomes = log_sessions(by=cast.ada.user, program=program, entries=entries, now=now + timedelta(days=20))
    assert [outcome.result for outcome in outcomes].count("stored") == 39
    bad = outcomes[17]
    assert (bad.result, bad.code, bad.log_id) == ("refused", "unknown_item", str(entries[17].log_id))
    assert str(UUID(int=77)) in bad.sentence
    assert SessionLog.objects.count() == 39
    assert ItemLog.objects.count() == 39 * 3


def test_the_same_batch_five_times_is_one_set_of_rows(cast, program, shown, now):
    entries = [entry(shown, number) for number in range(6)]
    later = now + timedelta(days=5)
    for expected in ["stored", "already", "already", "already", "already"]:
        outcomes = log_sessions(by=cast.ada.user, program=program, entries=entries, now=later)
        assert {outcome.result for outcome in outcomes} == {expected}
    assert SessionLog.objects.count() == 6


def test_a_batch_and_single_logs_come_to_the_same(cast, program, shown, report, now):
    entries = [entry(shown, number) for number in range(6)]
    log_sessions(by=cast.ada.user, program=program, entries=entries[:3], now=now + timedelta(days=5))
    log_sessions(by=cast.ada.user, program=program, entries=entries[3:], now=now + timedelta(days=5))
    assert [day.sessions_done for day in DayRecord.objects.filter(program=program)[:3]] == [2, 2, 2]


def test_the_fold_runs_once_for_a_batch(cast, program, shown, now, monkeypatch):
    runs = []
    original = log_sessions.__wrapped__.__globals__["follow_program"]
    monkeypatch.setitem(
        log_sessions.__wrapped__.__globals__, "follow_program", lambda **kwargs: runs.append(1) or original(**kwargs)
    )
    log_sessions(by=cast.ada.user, program=program, entries=[entry(shown, n) for n in range(6)], now=now + timedelta(days=5))
    assert runs == [1]


moves = st.lists(
    st.tuples(st.integers(0, 5), st.integers(0, 2), st.integers(0, 10), st.sampled_from([0.0, 0.5, 1.0, 3.0])),
    min_size=1, max_size=5, unique_by=lambda move: move[:2],
)


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(moves, st.randoms())
def test_any_order_comes_to_the_same_rows(cast, program, shown, now, moves, dice):
    """Edits before what they edit, late before early: the rows are equal, and so are the suggestions."""
    from django.db import transaction

    entries = [entry(shown, n, edit, pain_during=pain, items=done(share=share)) for n, edit, pain, share in moves]
    shuffled = list(entries)
    dice.shuffle(shuffled)
    seen = []
    for order in (entries, shuffled):
        with transaction.atomic():
            for one in order:
                log_sessions(by=cast.ada.user, program=program, entries=[one], now=now + timedelta(days=4))
            kinds = Suggestion.objects.filter(state="open").order_by("kind", "item_key")
            seen.append((stored_rows(program), [(row.kind, row.item_key, row.evidence) for row in kinds]))
            transaction.set_rollback(True)
    assert seen[0] == seen[1]


def test_items_keep_their_left_and_right(cast, program, shown, now):
    items = (ItemEntry(BRIDGE, 60, 0, 9, "about_right"),)
    log_sessions(by=cast.ada.user, program=program, entries=[entry(shown, 0, items=items)], now=now)
    row = ItemLog.objects.get()
    assert (row.done_left, row.done_right, row.reps_last_set, row.rating, row.skipped) == (60, 0, 9, "about_right", "")
