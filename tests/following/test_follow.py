"""The tick: once a day in each client's zone, harmless when doubled; silence is told once; all of it can be rebuilt."""

from datetime import timedelta
from io import StringIO
from uuid import uuid4

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from clinic.project.celery import app
from clinic.reminders.kinds import kind
from clinic.reminders.models import Message
from programs.following.actions.answer_morning import answer_morning
from programs.following.actions.follow_programs import follow_programs
from programs.following.actions.load_rule_set import load_rule_set
from programs.following.actions.raise_alert import raise_alert
from programs.following.actions.rebuild_following import rebuild_following
from programs.following.actions.refold import refold
from programs.following.models import DayRecord, MorningAnswer, ProgramState, RuleSet, Suggestion
from programs.following.queries import programs_behind
from programs.following.tasks import follow, reconcile
from programs.prescribing.actions.end_program import end_program
from programs.prescribing.actions.pause_program import pause_program
from programs.prescribing.actions.resume_program import resume_program
from tests.following.conftest import START, done


def days(number: int) -> timedelta:
    return timedelta(days=number)


def test_a_prescribed_program_has_a_state_at_once(program):
    state = ProgramState.objects.get(program=program)
    assert (state.band, state.as_of, state.phase_kind) == ("new", START, "kick_off")


def test_the_tick_follows_once_a_day(program, now):
    assert follow_programs(now=now) == 0
    assert follow_programs(now=now + days(1)) == 1
    assert follow_programs(now=now + days(1)) == 0
    assert DayRecord.objects.filter(program=program).count() == 2


def test_the_day_turns_in_the_clients_zone(cast, program, now):
    cast.ada.zone = "Pacific/Auckland"
    cast.ada.save()
    refold(program.__class__.objects.get(pk=program.pk), now)             # already the second of March there, at 22:00
    assert programs_behind(now) == []
    assert programs_behind(now.replace(hour=11)) == [program.pk]          # their third of March has begun


def test_an_ended_program_is_left_alone(cast, program, now):
    end_program(by=cast.mina.user, program=program, status="completed", now=now)
    assert follow_programs(now=now + days(5)) == 0
    assert DayRecord.objects.filter(program=program).count() == 1


def test_pausing_and_resuming_is_folded_at_once(cast, program, report, now):
    report(0)
    pause_program(by=cast.mina.user, program=program, reason="Away", now=now + days(1))
    assert ProgramState.objects.get().band == "paused"
    resume_program(by=cast.mina.user, program=program, now=now + days(3))
    assert [row.state for row in DayRecord.objects.all()] == ["prescribed", "paused", "paused", "prescribed"]
    assert ProgramState.objects.get().adherence_all == 1.0


def test_silence_is_told_to_the_clinician_once(cast, program, report, now):
    report(0)
    for day in range(1, 7):
        follow_programs(now=now + days(day))
    letter = Message.objects.get(kind="client_silent")
    assert letter.staff == cast.mina
    assert letter.values == {"first_name": "Ada", "day": "3 March", "url": "/suggestions/"}
    assert kind("client_silent").still_wanted(letter, now + days(6)) is None
    report(6)
    assert kind("client_silent").still_wanted(letter, now + days(6)) == "heard_from"
    for day in range(7, 11):
        follow_programs(now=now + days(day))
    assert Message.objects.filter(kind="client_silent").count() == 2   # a new silence, from the ninth


def test_nothing_received_is_not_nothing_done(program, report, now):
    report(0)
    follow_programs(now=now + days(8))
    state = ProgramState.objects.get()
    assert (state.band, state.silent_days, state.last_logged) == ("silent", 7, START)
    assert not DayRecord.objects.get(day=START + days(3)).logged


def test_the_morning_after_is_answered_once_and_counts(cast, program, report, now):
    report(0, pain_before=1, pain_during=2)
    answer = uuid4()
    for _ in range(3):
        answer_morning(by=cast.ada.user, program=program, answer_id=answer, day=START, pain=4, now=now + days(1))
    assert MorningAnswer.objects.count() == 1
    assert DayRecord.objects.get(day=START).pain_next_morning == 4
    assert Suggestion.objects.get(state="open").evidence["rule"] == "pain_unplaced"
    answer_morning(by=cast.ada.user, program=program, answer_id=uuid4(), day=START, pain=1, now=now + days(1))
    assert DayRecord.objects.get(day=START).pain_next_morning == 1
    assert not Suggestion.objects.filter(state="open").exists()


@pytest.mark.parametrize(("day", "pain", "field"), [(0, 11, "pain"), (-1, 3, "day"), (3, 3, "day")])
def test_a_morning_that_cannot_be_is_refused(cast, program, now, day, pain, field):
    from clinic.people.refusal import Refusal

    with pytest.raises(Refusal) as caught:
        answer_morning(by=cast.ada.user, program=program, answer_id=uuid4(), day=START + days(day), pain=pain, now=now)
    assert list(caught.value.fields) == [field]
    assert not MorningAnswer.objects.exists()


@pytest.fixture
def busy(cast, program, report, now):
    """Ten days with edits, a pause, a morning, an alert and a gap."""
    for day in (0, 1, 1, 3):
        report(day, pain_before=1, pain_during=day, items=done(share=0.5 + day / 4))
    log = uuid4()
    report(4, log_id=log, edit=1, pain_during=3)
    report(4, log_id=log, pain_during=9)
    answer_morning(by=cast.ada.user, program=program, answer_id=uuid4(), day=START, pain=2, now=now + days(4))
    pause_program(by=cast.mina.user, program=program, reason="Away", now=now + days(5))
    resume_program(by=cast.mina.user, program=program, now=now + days(7))
    raise_alert(by=cast.ada.user, client=cast.ada, answer_id=uuid4(), flag="chest_pain", now=now + days(8))
    follow_programs(now=now + days(9))
    return program


def stored(program):
    rows = DayRecord.objects.filter(program=program).order_by("day").values()
    state = ProgramState.objects.filter(program=program).values()
    strip = lambda row: {key: value for key, value in row.items() if key != "id"}   # noqa: E731
    return [strip(row) for row in rows], [strip(row) for row in state]


def test_everything_stored_can_be_rebuilt_from_the_records(busy, now):
    before = stored(busy)
    DayRecord.objects.all().delete()
    ProgramState.objects.all().delete()
    refold(busy, now + days(9))
    assert stored(busy) == before


def test_the_command_proves_it_and_names_what_differs(busy, now):
    out = StringIO()
    call_command("rebuild_following", stdout=out)
    assert out.getvalue() == "1 programs, 10 days, 0 differences.\n"
    DayRecord.objects.filter(day=START).update(credit=0.25)
    found = rebuild_following(now=now)
    assert found.differences == [f"{busy.public_id}: {START} credit differs"]
    err = StringIO()
    with pytest.raises(CommandError, match="1 differences"):
        call_command("rebuild_following", stderr=err)
    assert "0.25" not in err.getvalue()
    call_command("rebuild_following", "--write", stdout=StringIO(), stderr=StringIO())
    assert rebuild_following(now=now).differences == []


def test_folding_again_writes_nothing(busy, now, django_assert_num_queries):
    with django_assert_num_queries(READS_ONLY) as seen:
        refold(busy, now + days(9))
    assert not [query for query in seen.captured_queries if query["sql"].startswith(("UPDATE", "INSERT", "DELETE"))]


# savepoint and release, the rule set, the eight of a course; days, phases, levels, ribbon and state as they are stored
READS_ONLY = 16


def test_a_program_that_cannot_be_followed_holds_up_no_other(cast, program, shelf, now, monkeypatch, caplog):
    from programs.following.actions import follow_programs as module
    from programs.prescribing.actions.prescribe_program import prescribe_program
    from tests.following.conftest import hip_plan

    other = prescribe_program(by=cast.theo.user, episode=cast.bo_neck, plan=hip_plan(), title="Neck", starts=START, now=now)
    original = module.follow_program

    def breaks(*, program, now):
        if program.client_id == cast.ada.pk:
            raise ValueError("Ada Quill")
        return original(program=program, now=now)

    monkeypatch.setattr(module, "follow_program", breaks)
    assert follow_programs(now=now + days(1)) == 1
    assert ProgramState.objects.get(program=other).as_of == START + days(1)
    assert "Quill" not in caplog.text


def test_the_rule_set_is_loaded_once(db, now):
    first, again = load_rule_set(now=now), load_rule_set(now=now + days(1))
    assert (first, RuleSet.objects.count(), again.at) == (again, 1, now)


def test_the_task_is_there_for_beat(db, now):
    assert follow.name == "following.follow"
    assert follow.apply().get() == 0


def test_once_a_day_everything_is_worked_out_anew_set_right_and_counted(busy, now, caplog):
    caplog.set_level("INFO", logger="intervale.following")
    assert reconcile.apply().get() == 0
    DayRecord.objects.filter(program=busy, day=START).update(credit=0.123)
    ProgramState.objects.filter(program=busy).update(silent_days=99)
    assert reconcile.apply().get() == 2
    assert reconcile.apply().get() == 0
    counted = [record.args for record in caplog.records if record.msg == "rebuilt"]
    assert [(row["programs"], row["days"], row["differences"]) for row in counted] == [(1, 10, 0), (1, 10, 2), (1, 10, 0)]
    assert app.conf.beat_schedule["reconcile-programs"]["task"] == reconcile.name
