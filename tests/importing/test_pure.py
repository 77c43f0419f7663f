"""What reads and understands a sheet works in a bare interpreter: no Django, no database."""

import subprocess
import sys

import pytest

PURE = (
    "cells", "columns", "dates", "faults", "fields", "keys", "reading", "reading_csv", "reading_xlsx", "recognise", "report",
    "sheet", "table", "times", "values",
)


@pytest.fixture(scope="module")
def loaded():
    """{module: what it drags in of Django}, found out in an interpreter of its own."""
    script = (
        "import importlib, sys\n"
        "sys.modules['django'] = None\n"   # importing it raises ImportError
        f"for name in {PURE!r}:\n"
        "    importlib.import_module('clinic.people.importing.' + name)\n"
        "print('pure')\n"
    )
    return subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False)


def test_the_reading_half_needs_no_django(loaded):
    assert loaded.stdout.strip() == "pure", loaded.stderr
