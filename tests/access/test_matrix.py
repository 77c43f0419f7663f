"""Every route, every method, every role, as a literal table; a route without a row and a row without a route fail. Beside
the status of each answer, no answer to somebody who may not see Ada's record may hold anything of it."""

from __future__ import annotations

import importlib
import pkgutil

import pytest
from django.urls import get_resolver

import tests.access
from tests.access import sweep
from tests.access.canaries import CANARIES
from tests.access.roles import Row


def _rows() -> list[Row]:
    names = [name for _, name, _ in pkgutil.iter_modules(tests.access.__path__) if name.startswith("matrix_")]
    return [row for name in names for row in importlib.import_module(f"tests.access.{name}").ROWS]


ROWS = _rows()
by_row = pytest.mark.parametrize("row", ROWS, ids=lambda row: f"{row.method} {row.route}")


def test_every_route_has_a_row_and_every_row_a_route():
    assert sweep.unmatched(get_resolver(), ROWS) == []


@by_row
def test_the_row_holds(row: Row, cast):
    assert sweep.wrong_answers(row, cast) == []


@by_row
def test_nothing_of_a_record_gets_out(row: Row, cast):
    assert sweep.leaks(row, cast) == []


def test_the_sweep_is_not_blind(cast):
    """Each planted value is on some page of somebody who may see it; else not finding it would say nothing."""
    found = set()
    for row in sorted(ROWS, key=lambda row: row.route not in ("trust:export_client", "dashboards:timeline")):
        found |= sweep.seen(row, cast) if found < CANARIES else set()
    assert CANARIES - found == set()
