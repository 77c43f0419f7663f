"""Import a clinic's own spreadsheets."""

from __future__ import annotations

import argparse
import os
from contextlib import ExitStack
from pathlib import Path
from typing import Any, TextIO

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone
from tqdm import tqdm

from clinic.people.importing import reading
from clinic.people.importing.faults import Unreadable
from clinic.people.importing.lookups import site_named, staff_named
from clinic.people.importing.recognise import Recognised, recognise
from clinic.people.importing.refused import ENDING, RefusedRows
from clinic.people.importing.report import Report, csv_sink
from clinic.people.importing.run import import_tables
from clinic.people.importing.sheet import Context, all_sheets
from clinic.people.queries import system_actor

UNREADABLE = 2   # exit code when a file cannot be read; refused rows are no failure: the report names them
SHOWN = 20
RESULTS = ("new", "updated", "unchanged", "refused")


class Command(BaseCommand):
    help = "Import clients, visits, programs and home logs from CSV and XLSX files. Try --dry-run first."

    def add_arguments(self, parser: argparse.ArgumentParser) -> None:
        parser.add_argument("paths", nargs="+", type=Path, metavar="FOLDER_OR_FILE")
        parser.add_argument("--site", required=True, help="name of the site the sheets belong to")
        parser.add_argument("--by", default="", metavar="EMAIL", help="who imports; the system actor if left out")
        parser.add_argument("--dry-run", action="store_true", help="do everything, then undo all of it")
        parser.add_argument("--report", type=Path, help="write every remark, row by row, to this CSV file")
        parser.add_argument(
            "--refused", type=Path, metavar="FOLDER", help="write the refused rows themselves, a file a sheet, to be mended"
        )
        parser.add_argument("--dates", choices=["dmy", "mdy"], help="day or month first, where a column does not say")
        parser.add_argument("--quiet", action="store_true", help="no progress bar")

    def handle(self, *args: Any, **options: Any) -> None:
        site = site_named(options["site"])
        if site is None:
            raise CommandError(f"There is no site called {options['site']!r}.", returncode=UNREADABLE)
        by = staff_named(options["by"], site) if options["by"] else None
        if options["by"] and by is None:
            raise CommandError("--by is nobody who works at this site.", returncode=UNREADABLE)
        found = self._read(_files(options["paths"], options["report"]))

        def begin() -> Context:
            return Context(by=by or system_actor(), site=site, now=timezone.now(), dates=options["dates"])

        with ExitStack() as stack:
            report = Report()
            if options["report"]:
                report.sink = csv_sink(stack.enter_context(_written(options["report"])))
            refused = _refused(options["refused"])
            if refused:
                report.keep = stack.enter_context(refused).keep
            progress = stack.enter_context(_Bars(hidden=options["quiet"]))
            try:
                import_tables(found, begin, report, dry_run=options["dry_run"], progress=progress.show)
            except Unreadable as problem:   # a file that turns out to be damaged further down
                raise CommandError(problem.sentence, returncode=UNREADABLE) from None
        self._summary(report, options["dry_run"], options["report"])
        for name, path in (refused.files if refused else {}).items():
            self._say(f"The refused rows of {name} stand in {path}.")

    def _read(self, files: list[Path]) -> list[Recognised]:
        """Every file is opened and recognised before the first row is imported: one bad file and nothing is."""
        sheets, found, bad = all_sheets(), list[Recognised](), list[str]()
        for path in files:
            try:
                tables = reading.tables(path)
            except Unreadable as problem:
                bad.append(problem.sentence)
                continue
            known: list[Recognised] = []
            unknown: list[str] = []
            for table in tables:
                try:
                    known.append(recognise(table, sheets))
                except Unreadable as problem:
                    unknown.append(problem.sentence)
            found += known
            if known:   # a worksheet of notes beside a sheet we know does no harm
                self._say(*(f"{sentence} It is left aside." for sentence in unknown))
            else:
                bad += unknown
        if bad or not found:
            raise CommandError("\n".join([*bad, "Nothing was imported."]), returncode=UNREADABLE)
        order = {sheet.code: place for place, sheet in enumerate(sheets)}
        found.sort(key=lambda one: order[one.sheet.code])
        for one in found:
            self._understood(one)
        return found

    def _understood(self, one: Recognised) -> None:
        columns = one.columns
        labels = {field.code: field.label for field in one.sheet.fields}
        self._say(f"\n{one.table.name}: {one.sheet.label.lower()}.", *(f"  {note}" for note in one.table.notes))
        pairs = (f"{columns.headings[at]} = {labels[code]}" for code, at in columns.index.items())
        self._say(f"  Understood: {'; '.join(pairs)}.")
        if columns.ignored:
            self._say(f"  Left aside: {'; '.join(columns.ignored)}.")
        for left, taken in columns.doubled:
            self._say(f"  Left aside: {left}, because {taken} already means the same.")

    def _summary(self, report: Report, dry_run: bool, path: Path | None) -> None:
        self._say("", *report.understood)
        for entry in report.entries[:SHOWN]:
            where = f"{entry.file}, line {entry.line}" + (f", {entry.column}" if entry.column else "")
            self._say(f"{entry.outcome.capitalize()}: {where}: {entry.wrong} {entry.mend}")
        if len(report.entries) > SHOWN:
            self._say(f"… more in {path}." if path else "… more: give --report FILE to see every one.")
        self._say("", f"{'':24}{''.join(f'{result:>11}' for result in RESULTS)}")
        for name, counts in report.totals.items():
            self._say(f"{name:24}{''.join(f'{counts[result]:>11}' for result in RESULTS)}")
        self._say("", "Dry run: nothing was written." if dry_run else "Done.")

    def _say(self, *lines: str) -> None:
        for line in lines:
            self.stdout.write(line)


def _files(paths: list[Path], report: Path | None) -> list[Path]:
    """The files named, and those in folders named that have an ending we read, by name; never the report itself."""
    files: list[Path] = []
    for path in paths:
        inside = sorted(path.iterdir()) if path.is_dir() else [path]
        files += [
            one for one in inside
            if one == path or (
                one.suffix.lower() in reading.ENDINGS and one.name[0] not in "~." and one != report
                and not one.name.endswith(ENDING)
            )
        ]
    if not files:
        raise CommandError("There are no CSV or XLSX files there.", returncode=UNREADABLE)
    return files


def _refused(folder: Path | None) -> RefusedRows | None:
    if folder is None:
        return None
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    except OSError as error:
        raise CommandError(
            f"The refused rows cannot be written to {folder}: {error.strerror}.", returncode=UNREADABLE
        ) from None
    return RefusedRows(folder)


def _written(path: Path) -> TextIO:
    """The report's file, readable by its owner only: it quotes what the sheets say about clients."""
    try:
        return open(path, "w", encoding="utf-8-sig", newline="", opener=lambda name, flags: os.open(name, flags, 0o600))
    except OSError as error:
        raise CommandError(f"The report cannot be written to {path}: {error.strerror}.", returncode=UNREADABLE) from None


class _Bars:
    """A progress bar per table."""

    def __init__(self, *, hidden: bool) -> None:
        self.hidden = hidden
        self.bar: Any = None

    def __enter__(self) -> _Bars:
        return self

    def __exit__(self, *_: object) -> None:
        if self.bar is not None:
            self.bar.close()

    def show(self, one: Recognised, done: int, total: int) -> None:
        """Told by the engine before the first row and as they go."""
        if done == 0:
            self.__exit__()
            self.bar = tqdm(desc=one.table.name, total=total, unit=" rows", disable=self.hidden or None)
        else:
            self.bar.update(done - self.bar.n)


