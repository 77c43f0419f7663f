"""One more log reads the end of the history only, and comes to what the whole of it would have come to."""

from datetime import timedelta
from uuid import UUID, uuid4

from django.db import connection
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from programs.following import ends, recent
from programs.following.actions.answer_morning import answer_morning
from programs.following.actions.follow_program import follow_program
from programs.following.actions.log_sessions import log_sessions
from programs.following.actions.rebuild_following import rebuild_following
from programs.following.models import DayRecord, ItemLog, ItemRun, ProgramState, SessionLog, Suggestion
from programs.following.rules.entry import SessionEntry
from programs.prescribing.actions.pause_program import pause_program
from programs.prescribing.models import Program, Revision
from tests.following.conftest import START, done
from tests.following.test_nothing_by_itself import WORK, forget

DAYS = 40
SHORT_WAY = 30   # queries, savepoints included; one more where an engine locks rows
QUICK = settings(
    deadline=None, max_examples=5, phases=(Phase.generate,), suppress_health_check=[HealthCheck.function_scoped_fixture]
)
logged = st.tuples(
    st.integers(30, DAYS), st.integers(0, 1), st.integers(0, 2), st.sampled_from([None, 1, 4, 6, 9]), st.sampled_from(WORK)
)


def in_bulk(cast, program, now, *, days, moods):
    """Two sessions a day as they would have been stored, and followed once."""
    revision = Revision.objects.get(program=program)
    logs = [
        SessionLog(
            log_id=UUID(int=9500 + 2 * day + half), program=program, revision=revision, day=START + timedelta(days=day),
            received=now, source="portal", by=cast.ada.user, pain_during=moods[(day + half) % len(moods)],
        )
        for day in range(days) for half in (0, 1)
    ]
    saved = SessionLog.objects.bulk_create(logs)
    ItemLog.objects.bulk_create(
        ItemLog(log=log, item_key=item.item_key, done_left=item.done_left, done_right=item.done_right,
                rating=item.rating, skipped=item.skipped, reps_last_set=item.reps_last_set)
        for place, log in enumerate(saved) for item in WORK[place % 3]
    )
    follow_program(program=program, now=now + timedelta(days=days))


def stored() -> tuple:
    opened = Suggestion.objects.filter(state="open").values_list("kind", "item_key", "evidence", "revision")
    tables = [
        sorted(({**row, "id": 0} for row in kind.objects.values()), key=str) for kind in (DayRecord, ProgramState, ItemRun)
    ]
    return tables, sorted(opened, key=str)


def entry(day, log, edit, pain, items, revision) -> SessionEntry:
    return SessionEntry(
        UUID(int=9000 + 10 * log + day % 3), edit, revision.public_id, START + timedelta(days=day), pain_during=pain,
        items=items,
    )


@QUICK
@given(st.lists(logged, min_size=5, max_size=8), st.lists(st.sampled_from([None, 1, 3, 6]), min_size=1, max_size=4))
def test_the_end_is_equal_to_the_whole_after_each_log(cast, program, short, ways, now, rows, moods):
    """Edits that move a session to another day, late ones and ones sent twice, after five weeks of two sessions a day."""
    forget()
    in_bulk(cast, program, now, days=35, moods=moods)
    at, revision, taken = now + timedelta(days=DAYS), Revision.objects.get(program=program), ways["recent"]
    for row in rows:
        log_sessions(by=cast.ada.user, program=program, entries=[entry(*row, revision)], now=at)
        quick = stored()
        follow_program(program=program, now=at)
        assert stored() == quick
    assert ways["recent"] > taken
    assert rebuild_following(now=at).differences == []


def daily(cast, program, now, first, last):
    revision = Revision.objects.filter(program=program).latest("number")
    for day in range(first, last):
        log_sessions(
            by=cast.ada.user, program=program, now=now + timedelta(days=day), entries=[
                SessionEntry(
                    uuid4(), 0, revision.public_id, START + timedelta(days=day), pain_during=day % 5, items=done(reps=8)
                )
            ],
        )


def test_a_long_program_takes_the_short_way(cast, program, now, ways):
    in_bulk(cast, program, now, days=36, moods=[1, 2, 5])
    whole = ways["whole"]
    daily(cast, program, now, 36, 40)
    assert (ways["recent"], ways["whole"]) == (4, whole)
    assert rebuild_following(now=now + timedelta(days=39)).differences == []


def test_the_short_way_reads_a_fixed_number_of_reports_in_a_fixed_number_of_queries(
    cast, program, now, ways, django_assert_num_queries
):
    in_bulk(cast, program, now, days=60, moods=[1, 2])
    numbers = {row.pk: row.number for row in program.revisions.all()}
    since = recent._since(program, START + timedelta(days=60), recent.ROWS)
    assert len(ends.sessions_since(program, numbers, since)) == recent.ROWS < 120
    daily(cast, program, now, 60, 61)
    with django_assert_num_queries(SHORT_WAY + connection.features.has_select_for_update):
        daily(cast, program, now, 61, 62)
    assert ways["recent"] == 2


def test_a_late_log_and_a_morning_take_the_short_way_and_a_pause_reads_the_whole(cast, program, now, ways):
    in_bulk(cast, program, now, days=40, moods=[1, 2])
    day = now + timedelta(days=40)
    follow_program(program=program, now=day)
    quick, whole = ways["recent"], ways["whole"]
    revision = Revision.objects.get(program=program)
    log_sessions(
        by=cast.ada.user, program=program, now=day,
        entries=[SessionEntry(uuid4(), 0, revision.public_id, START, pain_during=9, items=done())],
    )
    answer_morning(
        by=cast.ada.user, program=program, answer_id=uuid4(), day=START + timedelta(days=39), pain=7, now=day
    )
    answer_morning(by=cast.ada.user, program=program, answer_id=uuid4(), day=START, pain=3, now=day)
    assert (ways["recent"], ways["whole"]) == (quick + 3, whole)
    pause_program(by=cast.mina.user, program=Program.objects.get(), reason="Away", now=day)
    assert (ways["recent"], ways["whole"]) == (quick + 3, whole + 1)
    assert DayRecord.objects.get(day=START).pain == 9
    assert DayRecord.objects.get(day=START).pain_next_morning == 3
    assert DayRecord.objects.get(day=START + timedelta(days=39)).pain_next_morning == 7
    assert rebuild_following(now=day).differences == []


def test_a_session_that_an_edit_moved_to_long_ago_is_not_heard_where_it_was(cast, program, short, now, ways):
    in_bulk(cast, program, now, days=35, moods=[1])
    at, revision, moved = now + timedelta(days=DAYS), Revision.objects.get(program=program), uuid4()
    for edit, day, pain in ((0, 39, 9), (1, 3, 9)):
        log_sessions(by=cast.ada.user, program=program, now=at, entries=[
            SessionEntry(moved, edit, revision.public_id, START + timedelta(days=day), pain_during=pain, items=done())
        ])
    quick = ways["recent"]
    daily(cast, program, now, 38, 39)
    assert ways["recent"] == quick + 1
    before = stored()
    follow_program(program=program, now=now + timedelta(days=38))
    assert stored() == before


def test_levels_that_are_stored_wrongly_are_not_added_to(cast, program, now, ways):
    in_bulk(cast, program, now, days=40, moods=[1, 2])
    ItemRun.objects.filter(number=0).first().delete()
    whole = ways["whole"]
    daily(cast, program, now, 40, 41)
    assert ways["whole"] == whole + 1
    assert rebuild_following(now=now + timedelta(days=40)).differences == []
