"""Program assignments and home logs: whose they are, what they hang on, and what a corrected sheet changes."""

from datetime import date

import pytest

from clinic.people.importing.sheet import all_sheets
from clinic.people.models import Condition, Episode
from programs.following.models import DayRecord, SessionLog
from programs.library.actions.load_library import load_library
from programs.library.models import Exercise, Precaution
from programs.prescribing.actions.load_templates import load_templates
from programs.prescribing.models import Program
from tests.importing.test_run import laid, run

PROGRAMS = "Program ID,Client,Template,Start date,Clinician,Region,Side\n"
LOGS = "Log ID,Client,Date,Session,Done,Exercises,Minutes,Pain,Effort,Comment\n"
ADAS = "P1,Ada Quill,hip-and-glute-start,2026-02-16,Mina,,left"


@pytest.fixture
def shelf(cast):
    """The cast with the exercise library and the program templates loaded."""
    load_library()
    load_templates()
    return cast


@pytest.fixture
def bring(shelf, tmp_path):
    """bring(head, line, …) -> the run of a sheet with these lines."""
    return lambda head, *lines: run(
        laid(tmp_path, head + "".join(f"{line}\n" for line in lines)), shelf.site, all_sheets()
    )


def codes(done):
    return [(entry.line, entry.column, entry.code) for entry in done.entries]


def test_a_program_goes_into_the_open_episode_with_its_clinician(shelf, bring):
    assert bring(PROGRAMS, ADAS).counts == {"new": 1}
    program = Program.objects.get()
    assert (program.episode, program.clinician, program.starts) == (shelf.ada_hip, shelf.mina, date(2026, 2, 16))
    assert bring(PROGRAMS, ADAS).counts == {"unchanged": 1}


def test_another_region_opens_an_episode(shelf, bring):
    bring(PROGRAMS, "P1,Ada Quill,Knee strength,2026-02-16,Theo,Knee,R")
    episode = Episode.objects.exclude(pk__in=[shelf.ada_hip.pk, shelf.bo_neck.pk]).get()
    assert (episode.region, episode.side, episode.lead, episode.opened) == ("knee", "right", shelf.theo, date(2026, 2, 16))


def test_no_episode_and_no_region_is_refused_and_opens_nothing(shelf, bring):
    done = bring(PROGRAMS, "P1,Ada Quill,knee-strength,2026-02-16,Theo,,left")
    assert codes(done) == [(2, "Region", "missing_value")]
    assert Episode.objects.count() == 2


def test_a_second_open_program_in_an_episode_is_refused(bring):
    done = bring(PROGRAMS, ADAS, "P2,Ada Quill,ankle-return,2026-02-23,Mina,,left")
    assert codes(done) == [(3, "", "already_open")]


def test_a_contraindicated_program_is_left_to_a_clinician(shelf, bring):
    Condition.objects.create(client=shelf.ada, code="fracture", since=date(2026, 1, 1))
    exercise = Exercise.objects.get(slug="clamshell")
    Precaution.objects.update_or_create(
        exercise=exercise, condition="fracture", defaults={"severity": "do_not", "reason": "It needs to heal."}
    )
    done = bring(PROGRAMS, ADAS)
    assert codes(done) == [(2, "", "contraindicated")]
    assert not Program.objects.exists()


def test_a_log_makes_the_day_at_once(bring):
    bring(PROGRAMS, ADAS)
    assert bring(LOGS, "L1,Ada Quill,2026-02-16,1,yes,,,3,4,fine").counts == {"new": 1}
    day = DayRecord.objects.get(day=date(2026, 2, 16))
    assert (day.logged, day.credit, day.pain) == (True, 1.0, 3)


@pytest.mark.parametrize(("done", "credit"), [("yes", 1.0), ("half", 0.5), ("no", 0.0)])
def test_how_much_was_done(bring, done, credit):
    bring(PROGRAMS, ADAS)
    bring(LOGS, f"L1,Ada Quill,2026-02-16,1,{done},,,3,4,")
    assert DayRecord.objects.get(day=date(2026, 2, 16)).credit == pytest.approx(credit, abs=0.02)


def test_minutes_are_spread_over_the_session(bring):
    bring(PROGRAMS, ADAS)
    bring(LOGS, 'L1,Ada Quill,2026-02-16,1,,,"0,5",3,4,')
    log = SessionLog.objects.get()
    assert 0 < sum(item.done_left + item.done_right for item in log.items.all()) < 30
    assert DayRecord.objects.get(day=date(2026, 2, 16)).credit < 0.2


def test_a_corrected_sheet_is_an_edit_and_the_first_answer_stays(bring):
    bring(PROGRAMS, ADAS)
    bring(LOGS, "L1,Ada Quill,2026-02-16,1,yes,,,3,4,")
    corrected = "L1,Ada Quill,2026-02-16,1,half,,,6,4,"
    assert bring(LOGS, corrected).counts == {"updated": 1}
    assert bring(LOGS, corrected).counts == {"unchanged": 1}
    assert list(SessionLog.objects.order_by("edit").values_list("edit", "pain_during")) == [(0, 3), (1, 6)]
    assert DayRecord.objects.get(day=date(2026, 2, 16)).pain == 6


def test_without_a_number_client_day_and_session_say_which_log_it_is(bring):
    bring(PROGRAMS, ADAS)
    lines = [",Ada Quill,2026-02-16,1,yes,,,3,4,", ",Ada Quill,2026-02-16,2,yes,,,3,4,"]
    assert bring(LOGS, *lines).counts == {"new": 2}
    assert bring(LOGS, *lines).counts == {"unchanged": 2}


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        ("L1,Ada Quill,2026-02-15,1,yes,,,3,4,", ("Date", "no_program")),
        ("L1,Bo Marsh,2026-02-16,1,yes,,,3,4,", ("Date", "no_program")),
        ("L1,Ada Quill,2026-03-09,1,yes,,,3,4,", ("Date", "clock_ahead")),
        ("L1,Ada Quill,2026-02-16,1,,clamshell,,3,4,", ("Exercises", "not_an_amount")),
        ("L1,Ada Quill,2026-02-16,1,,clamshell: plenty,,3,4,", ("Exercises", "not_an_amount")),
        ("L1,Ada Quill,2026-02-16,1,,levitation: yes,,3,4,", ("Exercises", "unknown_exercise")),
        ("L1,Ada Quill,2026-02-16,1,,,,3,4,", ("Done", "missing_value")),
        ("L1,Ada Quill,2026-02-16,7,yes,,,3,4,", ("Session", "out_of_range")),
        ("L1,Ada Quill,2026-02-16,1,yes,,,11,4,", ("Pain", "out_of_range")),
        ("L1,Ada Quill,2026-02-16,1,yes,,-5,3,4,", ("Minutes", "out_of_range")),
    ],
)
def test_logs_refused(bring, line, fault):
    bring(PROGRAMS, ADAS)
    assert codes(bring(LOGS, line)) == [(2, *fault)]
    assert not SessionLog.objects.exists()
