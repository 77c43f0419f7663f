"""Each row for itself: a failure in the middle of one leaves nothing of it, and loses nothing else."""

import weakref
from dataclasses import replace
from types import SimpleNamespace

import pytest
from django.db import IntegrityError, connection
from django.test.utils import CaptureQueriesContext

from clinic.people import audit
from clinic.people.importing import fields, reading
from clinic.people.importing.faults import Fault, RowFaults
from clinic.people.importing.recognise import recognise
from clinic.people.importing.report import KEPT, Report
from clinic.people.importing.run import import_tables
from clinic.people.importing.sheet import Context, Saved, Sheet, all_sheets
from clinic.people.models import AuditEvent, Client
from clinic.people.queries import system_actor
from clinic.people.refusal import Refusal
from tests.conftest import NOW


def towns(save):
    """A sheet of the tests' own: towns with a number each."""
    return Sheet(
        code="towns", label="Towns", requires=(("town",),), key=lambda row: row.get("number") or None, save=save,
        fields=(
            fields.text("town", "Town", needed=True), fields.text("number", "Number"),
            fields.whole("people", "People", least=0, most=10),
        ),
        mends={"full": "Build another."},
    )


def run(path, site, sheets, *, dry_run=False, progress=lambda *_: None, finish=True, keep=None):
    found = [recognise(table, sheets) for table in reading.tables(path)]
    if not finish:
        found = [replace(one, sheet=replace(one.sheet, finish=None)) for one in found]
    report, entries = Report(keep=keep), []
    report.sink = entries.append

    def begin():
        return Context(by=system_actor(), site=site, now=NOW)

    import_tables(found, begin, report, dry_run=dry_run, progress=progress)
    return SimpleNamespace(report=report, entries=entries, counts=dict(report.totals.get(path.name, {})))


def laid(tmp_path, text):
    path = tmp_path / "towns.csv"
    path.write_text(text, encoding="utf-8")
    return path


def write(site, name, context):
    client = Client.objects.create(site=site, given_name=name, zone=site.zone)
    audit.record(by=context.by, verb="test", kind="client", public_id=client.public_id, at=NOW, client=client)


FAILURES = [
    (lambda: Fault("odd", "Odd.", "Mend it.", "town"), "odd", "town"),
    (lambda: RowFaults([Fault("odd", "Odd.", "Mend it.")]), "odd", ""),
    (lambda: Refusal("full", "The town is full."), "full", ""),
    (lambda: Refusal("invalid", "No.", fields={"people": "Too many."}), "invalid", "people"),
    (lambda: Refusal("invalid", "No.", fields={"elsewhere": "Too many."}), "invalid", ""),
    (lambda: IntegrityError("secret text"), "not_saved", ""),
    (lambda: ZeroDivisionError("secret text"), "not_saved", ""),
]


@pytest.mark.parametrize(("failure", "code", "column"), FAILURES)
def test_a_failing_save_leaves_nothing_half_saved(site, tmp_path, failure, code, column):
    def save(row, context):
        write(site, row["town"], context)
        if row["town"] == "Bad":
            raise failure()
        return Saved("new")

    done = run(laid(tmp_path, "town,people\nFirst,1\nBad,2\nLast,3\n"), site, [towns(save)])
    assert list(Client.objects.order_by("pk").values_list("given_name", flat=True)) == ["First", "Last"]
    assert AuditEvent.objects.count() == 2
    assert done.counts == {"new": 2, "refused": 1}
    assert [(entry.line, entry.code, entry.column) for entry in done.entries] == [(3, code, column)]
    assert "secret" not in done.entries[0].wrong


def test_a_constraint_broken_in_a_row_spoils_no_later_one(site, tmp_path):
    def save(row, context):
        Client.objects.create(site=site, given_name=row["town"], zone=site.zone, external_ref="same")
        return Saved("new")

    done = run(laid(tmp_path, "town,people\nFirst,1\nSecond,2\n"), site, [towns(save)])
    assert done.counts == {"new": 1, "refused": 1}


def test_a_dry_run_saves_and_undoes(site, tmp_path):
    def save(row, context):
        write(site, row["town"], context)
        return Saved("new")

    path = laid(tmp_path, "town,people\nFirst,1\n")
    assert run(path, site, [towns(save)], dry_run=True).counts == {"new": 1}
    assert not Client.objects.exists()
    assert run(path, site, [towns(save)]).counts == {"new": 1}
    assert Client.objects.count() == 1


def test_every_faulty_cell_of_a_row_is_named_at_once(site, tmp_path):
    done = run(laid(tmp_path, "town,people\n,many\n"), site, [towns(lambda *_: Saved("new"))])
    assert [(entry.column, entry.code) for entry in done.entries] == [
        ("town", "missing_value"), ("people", "not_a_number"),
    ]


def test_a_row_twice_in_a_file_names_the_first_line(site, tmp_path):
    done = run(laid(tmp_path, "town,number\nFirst,1\nLast,2\nFirst,1\nNone,\nNone,\n"), site,
               [towns(lambda *_: Saved("new"))])
    assert done.counts == {"new": 4, "refused": 1}
    assert [(entry.line, entry.wrong) for entry in done.entries] == [(4, "This is the same as line 2.")]


def test_a_corrected_row_may_follow_a_refused_one(site, tmp_path):
    def save(row, context):
        if row["town"] == "Wrong":
            raise Fault("odd", "Odd.", "Mend it.")
        return Saved("new")

    done = run(laid(tmp_path, "town,number\nWrong,1\nRight,1\nRight,1\n"), site, [towns(save)])
    assert [(entry.line, entry.code) for entry in done.entries] == [(2, "odd"), (4, "duplicate_in_file")]


def test_a_log_line_of_an_unforeseen_failure_quotes_nothing(site, tmp_path, caplog):
    def save(row, context):
        raise ZeroDivisionError("Ada Quill")

    run(laid(tmp_path, "town,people\nFirst,1\n"), site, [towns(save)])
    assert [record.getMessage() for record in caplog.records] == ["row not saved"]


def test_twenty_thousand_rows_are_never_all_held(site, tmp_path):
    alive, most, asked = [0], [0], [0]

    def watch(row):
        alive[0] += 1
        weakref.finalize(row, lambda: alive.__setitem__(0, alive[0] - 1))
        most[0] = max(most[0], alive[0])
        return ()

    def save(row, context):
        watch(row)
        return Saved("unchanged")

    def count(execute, *arguments):
        asked[0] += 1
        return execute(*arguments)

    path = tmp_path / "towns.csv"
    with path.open("w", encoding="utf-8") as stream:
        stream.write("town,number,people\n")
        stream.writelines(f"Town,{number},{1 if number % 20 == 0 else 'many'}\n" for number in range(20_000))
    actor, report = system_actor(), Report()
    found = [recognise(table, [replace(towns(save), marks=watch)]) for table in reading.tables(path)]
    context = Context(by=actor, site=site, now=NOW)
    with connection.execute_wrapper(count):
        import_tables(found, lambda: context, report, dry_run=False, progress=lambda *_: None)
    assert report.totals[path.name] == {"unchanged": 1_000, "refused": 19_000}
    assert len(report.entries) == KEPT
    assert most[0] < 500   # refused rows hang on their tracebacks until the next collection
    assert asked[0] == 1_000 * 2   # a savepoint opened and released; a row with a bad cell never asks the database


@pytest.mark.parametrize("rows", [1, 3])
def test_a_client_row_costs_the_same_however_many_there_are(site, tmp_path, rows):
    lines = [f"{number},Given{number},Family,1980-0{number}-01,0770090010{number}" for number in range(1, rows + 1)]
    path = laid(tmp_path, "Client No,First name,Surname,DOB,Phone\n" + "\n".join(lines) + "\n")
    system_actor()
    with CaptureQueriesContext(connection) as queries:
        done = run(path, site, all_sheets())
    assert done.counts == {"new": rows}
    # the actor, once; a row: its savepoint and the action's (2 each), 3 searches for a double, the client, the audit
    assert len(queries) == 1 + rows * 9
