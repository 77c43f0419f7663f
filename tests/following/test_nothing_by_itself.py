"""Whatever is logged, in whatever order and however often: no program changes by itself, and the read models follow."""

from datetime import timedelta
from uuid import UUID

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from clinic.people.refusal import Refusal
from programs.following.actions.accept_suggestion import accept_suggestion
from programs.following.actions.decline_suggestion import decline_suggestion
from programs.following.actions.follow_programs import follow_programs
from programs.following.actions.log_sessions import log_sessions
from programs.following.actions.rebuild_following import rebuild_following
from programs.following.models import DayRecord, ItemRun, PhaseRun, ProgramState, RibbonRow, SessionLog, Suggestion
from programs.following.rules.entry import SessionEntry
from programs.prescribing.models import Pause, Program, Revision
from tests.following.conftest import START, done

QUICK = settings(
    deadline=None, max_examples=8, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
WORK = [done(), done(reps=12), done(rating="too_hard"), done(rating="too_easy"), done(skipped="pain"), done(share=4), ()]
reports = st.lists(
    st.tuples(st.integers(0, 7), st.integers(0, 1), st.integers(0, 2), st.sampled_from([None, 1, 4, 6, 9]),
              st.sampled_from(WORK)),
    min_size=3, max_size=9, unique_by=lambda row: row[:3],
)


def entries(rows, revision) -> list[SessionEntry]:
    return [
        SessionEntry(
            UUID(int=7000 + 10 * day + log), edit, revision.public_id, START + timedelta(days=day), pain_during=pain,
            items=items,
        )
        for day, log, edit, pain, items in rows
    ]


def stored() -> tuple:
    days = list(DayRecord.objects.order_by("day").values())
    state = list(ProgramState.objects.values())
    opened = sorted(Suggestion.objects.filter(state="open").values_list("kind", "item_key", "evidence__rule"), key=str)
    return [{**row, "id": 0} for row in days], [{**row, "id": 0} for row in state], opened


def forget() -> None:
    """As before the first log: rows that are only ever added are cut off with their tables' own door shut."""
    Suggestion.objects.all().delete()
    for read_model in (DayRecord, ItemRun, PhaseRun, RibbonRow, ProgramState):
        read_model.objects.all().delete()
    for log in SessionLog.objects.all():
        log.items.all()._raw_delete(log.items.db)
    SessionLog.objects.all()._raw_delete(SessionLog.objects.db)


@pytest.fixture
def eight_days_later(now):
    return now + timedelta(days=8)


@QUICK
@given(reports, st.randoms(use_true_random=False))
def test_any_order_and_any_repetition_gives_the_same_state_and_changes_no_program(
    cast, program, eight_days_later, rows, dice
):
    revision = Revision.objects.get(program=program)
    plain = entries(rows, revision)
    forget()
    log_sessions(by=cast.ada.user, program=program, entries=plain, now=eight_days_later)
    straight = stored()
    forget()
    mixed = [*plain, *dice.sample(plain, len(plain) // 2)]
    dice.shuffle(mixed)
    for entry in mixed:
        log_sessions(by=cast.ada.user, program=program, entries=[entry], now=eight_days_later)
    assert stored() == straight
    follow_programs(now=eight_days_later)
    assert stored() == straight
    assert rebuild_following(now=eight_days_later).differences == []
    assert list(Revision.objects.values_list("pk", flat=True)) == [revision.pk]
    assert not Pause.objects.exists()
    assert Program.objects.get().status == "active"


@QUICK
@given(reports, st.booleans())
def test_a_program_changes_by_a_clinicians_yes_and_by_nothing_else(cast, program, eight_days_later, rows, yes):
    forget()
    before = Revision.objects.filter(program=program).count()
    newest = Revision.objects.filter(program=program).latest("number")
    log_sessions(by=cast.ada.user, program=program, entries=entries(rows, newest), now=eight_days_later)
    made = Suggestion.objects.filter(state="open").first()
    assert Revision.objects.filter(program=program).count() == before
    if made is None or made.kind == "pause_and_refer":
        return
    if not yes:
        decline_suggestion(by=cast.mina.user, suggestion=made, reason="Not now", now=eight_days_later)
        assert Revision.objects.filter(program=program).count() == before
        return
    try:
        accepted = accept_suggestion(by=cast.mina.user, suggestion=made, now=eight_days_later)
    except Refusal:
        assert Revision.objects.filter(program=program).count() == before
        return
    revisions = Revision.objects.filter(program=program, number__gt=newest.number)
    assert list(revisions) == ([accepted.resulting_revision] if accepted.resulting_revision else [])
    assert {revision.author for revision in revisions} <= {cast.mina.user}
