"""Runs the benchmarks and prints one table: `python -m tests.benchmarks [NAME …] [--write]`.

Each runs in a process of its own on data of its own. `--write` puts the figures into DEVELOPERS.md's table. The exit code
is 1 when a promise is not met. Run it on a quiet machine.
"""

from __future__ import annotations

import argparse
import dataclasses
import json
import os
import pkgutil
import re
import subprocess
import sys
import tempfile
from importlib import import_module
from pathlib import Path
from urllib.parse import urlsplit

from tests.benchmarks.common import Measured, amount

ROOT = Path(__file__).resolve().parents[2]
DOCUMENT = ROOT / "DEVELOPERS.md"
TABLE = re.compile(r"(<!-- benchmarks -->\n).*?(<!-- /benchmarks -->)", re.DOTALL)
MARK = "measured: "
HELPERS = ("__main__", "big_practice", "common")


def names() -> list[str]:
    """The benchmarks of this folder."""
    there = [each.name for each in pkgutil.iter_modules([str(Path(__file__).parent)])]
    return sorted(set(there) - set(HELPERS))


def manage(*words: str) -> None:
    """Run one of the project's commands in the benchmark's environment."""
    done = subprocess.run([sys.executable, "manage.py", *words], cwd=ROOT, capture_output=True, text=True)
    if done.returncode:
        raise SystemExit(f"manage.py {' '.join(words)} ended with {done.returncode}:\n{done.stderr}")


def run_one(name: str) -> None:
    """In a process of its own: set up what the benchmark needs, measure, print the figures as JSON."""
    module = import_module(f"tests.benchmarks.{name}")
    os.environ |= {"DJANGO_SETTINGS_MODULE": "clinic.project.settings", "INTERVALE_PREPARED": "1"}
    server = os.environ.get("INTERVALE_DATABASE", "")
    if module.SETTING != "postgres":
        os.environ.pop("INTERVALE_DATABASE", None)
    with tempfile.TemporaryDirectory() as folder:
        os.environ["INTERVALE_DATA"] = folder
        if module.SETTING == "postgres":
            with_database(module, server, f"intervale_bench_{name}")
            return
        if module.SETTING == "demo":
            os.environ["INTERVALE_DEMO"] = "1"
            manage("demo", "--no-serve")
        else:
            manage("migrate", "--verbosity", "0")
        report(module)


def with_database(module, server: str, database: str) -> None:
    """Measure on a new database of that server, and drop it."""
    import psycopg

    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(f'DROP DATABASE IF EXISTS "{database}" WITH (FORCE)')
        connection.execute(f'CREATE DATABASE "{database}"')
        try:
            os.environ["INTERVALE_DATABASE"] = urlsplit(server)._replace(path=f"/{database}").geturl()
            manage("migrate", "--verbosity", "0")
            report(module)
        finally:
            connection.execute(f'DROP DATABASE IF EXISTS "{database}" WITH (FORCE)')


def report(module) -> None:
    """Measure and print, one line of JSON a figure."""
    import django

    django.setup()
    for each in module.measure():
        sys.stdout.write(MARK + json.dumps(dataclasses.asdict(each)) + "\n")


def measured(name: str) -> list[Measured]:
    """The figures of one benchmark."""
    command = [sys.executable, "-m", "tests.benchmarks", "--one", name]
    done = subprocess.run(command, cwd=ROOT, check=True, stdout=subprocess.PIPE, text=True)
    lines = [line.removeprefix(MARK) for line in done.stdout.splitlines() if line.startswith(MARK)]
    return [Measured(**json.loads(line)) for line in lines]


def table(figures: list[Measured]) -> str:
    """The figures as a Markdown table."""
    rows = ["| what | took | yardstick | yardstick took | ratio | promised | met |", "| --- " * 7 + "|"]
    rows += [
        f"| {each.name} | {amount(each.took, each.unit)} | {each.yardstick} | {amount(each.against, each.unit)} "
        f"| {each.ratio:.3g} | {each.promise} | {'yes' if each.met else '**no**'} |"
        for each in figures
    ]
    return "\n".join(rows) + "\n"


def kept(document: str, figures: list[Measured]) -> str:
    """The document with these figures in its table; rows of benchmarks that were not run stay as they were."""
    found = TABLE.search(document)
    if found is None:
        raise SystemExit(f"{DOCUMENT.name} has no place for the table")
    new = {line.split(" | ")[0]: line for line in table(figures).splitlines()}
    old = found[0].splitlines()[1:-1]
    rows = [new.pop(line.split(" | ")[0], line) for line in old] + list(new.values())
    return document.replace(found[0], found[1] + "\n".join(rows) + "\n" + found[2])


def main() -> int:
    """0 when every promise is met."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("names", nargs="*", metavar="NAME", help=", ".join(names()))
    parser.add_argument("--write", action="store_true", help="put the table into DEVELOPERS.md")
    parser.add_argument("--one", help=argparse.SUPPRESS)
    arguments = parser.parse_args()
    if arguments.one:
        run_one(arguments.one)
        return 0
    if unknown := set(arguments.names) - set(names()):
        parser.error(f"no benchmark {', '.join(sorted(unknown))}; there are {', '.join(names())}")
    figures: list[Measured] = []
    for name in arguments.names or names():
        if import_module(f"tests.benchmarks.{name}").SETTING == "postgres" and not os.environ.get("INTERVALE_DATABASE"):
            sys.stderr.write(f"{name}: left out, INTERVALE_DATABASE names no PostgreSQL server\n")
            continue
        sys.stderr.write(f"{name} …\n")
        figures += measured(name)
    sys.stdout.write(table(figures))
    if arguments.write:
        DOCUMENT.write_text(kept(DOCUMENT.read_text(), figures))
    return int(not all(each.met for each in figures))


if __name__ == "__main__":
    sys.exit(main())
