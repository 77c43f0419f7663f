"""Everything about one person as a file: JSON for machines, a CSV a table for people."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db.models import Model

from clinic.people.importing.cells import guarded
from clinic.people.models import Client
from clinic.trust.registered import rows_about
from clinic.trust.rules.register import Entry

FORM = "intervale person 1"
# things of the practice are named, not numbered: a key of ours says nothing outside
NAMED = {
    "people.Site", "people.Staff", "booking.Room", "booking.VisitType", "visits.Measure", "library.Exercise", "library.Level",
}


def person(client: Client) -> dict[str, list[dict[str, Any]]]:
    """model label -> rows of plain JSON values, every model that holds something about this client, secrets left out."""
    return {
        entry.label: json.loads(json.dumps([_row(row, entry) for row in rows], cls=DjangoJSONEncoder))
        for entry, rows in rows_about(client)
    }


def _row(row: Model, entry: Entry) -> dict[str, Any]:
    return {name: _value(row, name) for name in entry.exported}


def _value(row: Model, name: str) -> Any:
    field = row._meta.get_field(name)
    related = field.related_model
    if related is not None and getattr(row, f"{name}_id") is not None and related._meta.label in NAMED:
        thing = getattr(row, name)
        return str(getattr(thing, "name", thing))
    return getattr(row, getattr(field, "attname", name))


def written(client: Client, extra: Mapping[str, str], now: datetime) -> bytes:
    """A ZIP: `person.json`, `tables/<model>.csv` (RFC 4180, cells that a spreadsheet would run are defused), and `extra`
    files by name."""
    records = person(client)
    whole = {"form": FORM, "written": now.isoformat(), "records": records}
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as file:
        file.writestr("person.json", json.dumps(whole, ensure_ascii=False, indent=1))
        for label, rows in records.items():
            if rows:
                file.writestr(f"tables/{label}.csv", _table(rows))
        for name, text in extra.items():
            file.writestr(name, text)
    return out.getvalue()


def _table(rows: list[dict[str, Any]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out)
    writer.writerow(rows[0])
    for row in rows:
        writer.writerow([guarded(json.dumps(value) if isinstance(value, list | dict) else value) for value in row.values()])
    return "\N{ZERO WIDTH NO-BREAK SPACE}" + out.getvalue()
