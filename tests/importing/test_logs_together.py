"""Home logs of one sheet: each program is brought up to date once, and all stands as if the rows had come one by one."""

import pytest
from django.db import OperationalError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from clinic.people.importing import run as engine
from clinic.people.importing.sheet import all_sheets
from clinic.people.queries import system_actor
from programs.following.actions import follow_programs, store_entry
from programs.following.models import DayRecord, SessionLog, Suggestion
from programs.following.queries import programs_behind
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


def test_a_long_sheet_is_followed_once_at_its_end(bring, followed, monkeypatch):
    monkeypatch.setattr(engine, "TOGETHER", 3)
    assert bring(LOGS, *LINES).counts == {"new": 5, "refused": 2}
    assert followed == sorted(Program.objects.values_list("pk", flat=True))


def test_a_dry_run_leaves_nothing_and_says_the_same(bring, followed, monkeypatch):
    monkeypatch.setattr(engine, "TOGETHER", 3)
    before = stored()
    tried = bring(LOGS, *LINES, dry_run=True)
    assert (SessionLog.objects.count(), stored(), followed) == (0, before, [])
    done = bring(LOGS, *LINES)
    assert (tried.counts, tried.entries) == (done.counts, done.entries)


def test_many_at_once_say_the_same_as_one_by_one(bring, monkeypatch):
    with transaction.atomic():
        at_once, logs = bring(LOGS, *LINES), logged()
        transaction.set_rollback(True)
    monkeypatch.setattr(engine, "TOGETHER", 1)
    one_by_one = bring(LOGS, *LINES)
    assert (at_once.counts, at_once.entries, logs) == (one_by_one.counts, one_by_one.entries, logged())
    assert len(logs) == 5


def test_a_lot_that_cannot_be_saved_at_once_is_saved_row_by_row(bring, monkeypatch, caplog):
    store = store_entry.ItemLog.objects.bulk_create
    lots = []

    def broken(rows, **options):
        lots.append(len({row.log_id for row in rows}))
        if lots[-1] > 1:
            raise OperationalError("text that no log may hold")
        return store(rows, **options)

    monkeypatch.setattr(store_entry.ItemLog.objects, "bulk_create", broken)
    done = bring(LOGS, *LINES)
    assert (done.counts, codes(done)) == ({"new": 5, "refused": 2}, FAULTS)
    assert lots == [5, 1, 1, 1, 1, 1]
    assert [record.getMessage() for record in caplog.records] == ["rows not saved together"]


def test_two_rows_of_one_log_in_a_lot_are_a_log_and_its_edit(bring):
    lines = ("L1,Ada Quill,2026-02-16,1,yes,,,3,4,", 'L1,"Quill, Ada",2026-02-16,1,half,,,3,4,')
    assert bring(LOGS, *lines).counts == {"new": 1, "updated": 1}
    assert sorted(SessionLog.objects.values_list("edit", flat=True)) == [0, 1]


def test_an_import_that_is_killed_leaves_programs_that_the_next_tick_follows(bring, followed, monkeypatch):
    monkeypatch.setattr(engine, "TOGETHER", 3)
    entered = []

    def killed(found, done, total):
        entered.append(done)
        if done == 3:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        bring(LOGS, *LINES, progress=killed)
    assert (entered, SessionLog.objects.count(), followed) == ([0, 3], 3, [])
    behind = programs_behind(timezone.now())
    assert set(behind) == set(SessionLog.objects.values_list("program", flat=True))
    assert follow_programs.follow_programs(now=timezone.now()) == len(behind)
    assert bring(LOGS, *LINES).counts == {"unchanged": 3, "new": 2, "refused": 2}


@pytest.mark.parametrize("rows", [2, 9])
def test_a_lot_costs_the_same_queries_however_many_rows_it_has(bring, rows):
    system_actor()
    names = ("Ada Quill", "Bo Marsh")
    lines = [f"L{number},{names[number % 2]},2026-02-{18 + number},1,yes,,,3,4," for number in range(rows)]
    with CaptureQueriesContext(connection) as queries:
        assert bring(LOGS, *lines, finish=False).counts == {"new": rows}
    # the actor; two savepoints opened and released; the names, the clients; the programs, locked and read; the newest
    # versions and their plans (4), the logs there are; a savepoint, logs, items, the trail, the mark on the states
    assert len(queries) == 19, [query["sql"][:90] for query in queries]


def logged():
    rows = SessionLog.objects.order_by("log_id", "edit")
    return [
        (row.log_id, row.edit, row.day, row.words, sorted(row.items.values_list("item_key", "done_left", "done_right")))
        for row in rows
    ]


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
