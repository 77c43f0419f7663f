"""Home logs of one sheet: each program is brought up to date once, and all stands as if the rows had come one by one."""

import pytest
from django.db import OperationalError, transaction

from clinic.people.importing import run as engine
from clinic.people.importing.sheet import all_sheets
from programs.following.actions import follow_programs
from programs.following.models import DayRecord, SessionLog, Suggestion
from programs.library.actions.load_library import load_library
from programs.prescribing.actions.load_templates import load_templates
from programs.prescribing.models import Program
from tests.following.test_rebuild import stored
from tests.importing.test_program_and_log_sheets import ADAS, LOGS, PROGRAMS, codes
from tests.importing.test_run import laid, run

BOS = "P2,Bo Marsh,hip-and-glute-start,2026-02-18,Theo,,left"
LINES = (
    "L1,Ada Quill,2026-02-16,1,yes,,,3,4,", "M1,Bo Marsh,2026-02-18,1,half,,,7,4,", "L2,Ada Quill,2026-02-17,1,no,,,3,4,",
    "L3,Ada Quill,2026-02-15,1,yes,,,3,4,", "M2,Bo Marsh,2026-02-19,1,yes,,,8,4,", "L4,Ada Quill,2026-02-20,1,yes,,,1,4,",
    "L4,Ada Quill,2026-02-20,1,yes,,,1,4,",
)
FAULTS = [(5, "Date", "no_program"), (8, "", "duplicate_in_file")]


@pytest.fixture
def bring(cast, tmp_path):
    """bring(head, line, …) -> the run of a sheet with these lines; Ada and Bo have a program each."""
    load_library()
    load_templates()

    def bring(head, *lines, **options):
        return run(laid(tmp_path, head + "".join(f"{line}\n" for line in lines)), cast.site, all_sheets(), **options)

    assert bring(PROGRAMS, ADAS, BOS).counts == {"new": 2}
    return bring


@pytest.fixture
def followed(monkeypatch):
    """The programs that were brought up to date, in order."""
    keys, follow = [], follow_programs.follow_program

    def noted(*, program, now):
        keys.append(program.pk)
        return follow(program=program, now=now)

    monkeypatch.setattr(follow_programs, "follow_program", noted)
    return keys


def open_now():
    rows = Suggestion.objects.filter(state="open").values_list("program", "kind", "item_key", "evidence", "revision")
    return sorted(rows, key=repr)


def test_each_program_is_followed_once_and_refused_rows_stay_refused(bring, followed):
    done = bring(LOGS, *LINES)
    assert (done.counts, codes(done)) == ({"new": 5, "refused": 2}, FAULTS)
    assert followed == sorted(Program.objects.values_list("pk", flat=True))
    assert bring(LOGS, *LINES).counts == {"unchanged": 5, "refused": 2}
    assert len(followed) == 2


def test_the_same_stands_as_when_rows_come_one_by_one(bring):
    before = stored()
    with transaction.atomic():
        for line in LINES:
            bring(LOGS, line)
        one_by_one, suggested = stored(), open_now()
        transaction.set_rollback(True)
    assert stored() == before
    bring(LOGS, *LINES)
    assert (stored(), open_now()) == (one_by_one, suggested)
    assert one_by_one != before
    assert suggested


def test_a_long_sheet_is_followed_in_between(bring, followed, monkeypatch):
    monkeypatch.setattr(engine, "TOGETHER", 3)
    assert bring(LOGS, *LINES).counts == {"new": 5, "refused": 2}
    ada, bo = Program.objects.order_by("starts").values_list("pk", flat=True)
    assert sorted(followed) == sorted([ada, bo, ada, bo])


def test_a_dry_run_follows_and_leaves_nothing(bring, followed):
    before = stored()
    assert bring(LOGS, *LINES, dry_run=True).counts == {"new": 5, "refused": 2}
    assert len(followed) == 2
    assert (SessionLog.objects.count(), stored()) == (0, before)


def test_a_program_that_cannot_be_followed_costs_no_other_and_no_log(bring, monkeypatch, caplog):
    ada, _ = Program.objects.order_by("starts").values_list("pk", flat=True)
    follow = follow_programs.follow_program

    def broken(*, program, now):
        follow(program=program, now=now)
        if program.pk == ada:
            raise OperationalError("text that no log may hold")

    monkeypatch.setattr(follow_programs, "follow_program", broken)
    assert bring(LOGS, *LINES).counts == {"new": 5, "refused": 2}
    logged = DayRecord.objects.filter(logged=True)
    assert (logged.filter(program=ada).count(), logged.exclude(program=ada).count()) == (0, 2)
    assert SessionLog.objects.filter(program=ada).count() == 3
    assert "program_not_followed" in caplog.text
    assert "text that no log" not in caplog.text
