"""A whole practice as one file, and back into an empty installation: the way to another engine, another machine, or away.

The file is a ZIP: `manifest.json` (form, migrations, rows and SHA-256 of each part, head of the trail) and
`data/<model>.jsonl`, one row a line in Django's own JSON form, rows streamed both ways. Sessions and devices stay behind:
everybody signs in anew. It holds health data and proofs of identity in plain text: keep it as you keep the database.
"""

from __future__ import annotations

import hashlib
import json
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import IO, Any
from uuid import UUID

from django.apps import apps
from django.core import serializers
from django.core.management.color import no_style
from django.db import connection, transaction
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import Model

from clinic.people.queries import system_actor
from clinic.people.refusal import Refusal
from clinic.reminders.actions.hold_messages import hold_messages
from clinic.reminders.vocab import HoldReason
from clinic.trust import queries
from clinic.trust.actions.erase_again import erase_again
from clinic.trust.registered import own_models
from clinic.trust.rules.chain import Head

FORM = "intervale practice 1"
CHUNK = 1000
# of the moment, or of a session
LEFT = {"portal.Device", "people.IdempotencyKey", "people.SignInLink", "reminders.Heartbeat"}
ALSO = ("account.EmailAddress", "mfa.Authenticator")   # the sign-in library's own


@dataclass(frozen=True, slots=True)
class Part:
    """One model in the file."""

    label: str
    rows: int
    sha256: str


def moved_models() -> list[type[Model]]:
    """The models of the file, each after those it points at (itself aside)."""
    left = {label: model for label, model in own_models().items() if label not in LEFT}
    left |= {label: apps.get_model(label) for label in ALSO}
    ordered: list[type[Model]] = []
    while left:
        free = [label for label, model in left.items() if not _points_at(model) & (left.keys() - {label})]
        if not free:
            raise RuntimeError(f"models point at each other in a circle: {sorted(left)}")
        ordered += [left.pop(label) for label in free]
    return ordered


def _points_at(model: type[Model]) -> set[str]:
    fields = [*model._meta.concrete_fields, *model._meta.many_to_many]
    return {field.related_model._meta.label for field in fields if field.related_model}


def _migrations() -> list[str]:
    return sorted(f"{app}.{name}" for app, name in MigrationRecorder(connection).applied_migrations())


def write(path: Path, now: datetime) -> list[Part]:
    """Write the file in one read of the database as it stands; what each part holds."""
    parts, alone = [], not connection.in_atomic_block
    with transaction.atomic(), zipfile.ZipFile(path, "x", zipfile.ZIP_DEFLATED) as file:
        if connection.vendor == "postgresql" and alone:
            with connection.cursor() as cursor:   # one moment for all parts
                cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ READ ONLY")
        for model in moved_models():
            digest, rows = hashlib.sha256(), 0
            with file.open(f"data/{model._meta.label}.jsonl", "w", force_zip64=True) as out:
                for row in model._base_manager.order_by("pk").iterator(chunk_size=CHUNK):
                    line = serializers.serialize("jsonl", [row]).encode()
                    digest.update(line)
                    out.write(line)
                    rows += 1
            parts.append(Part(model._meta.label, rows, digest.hexdigest()))
        head = queries.head()
        manifest = {
            "form": FORM, "written": now.isoformat(), "migrations": _migrations(), "head": [head.number, head.digest],
            "parts": [[part.label, part.rows, part.sha256] for part in parts],
        }
        file.writestr("manifest.json", json.dumps(manifest, indent=1))
    return parts


def read(path: Path, now: datetime, erased: Iterable[UUID] = ()) -> list[Part]:
    """Bring the file into an empty, migrated installation, all of it or nothing, and hold the outbox.

    `erased` are the clients who were erased after the file was written: they are taken out again before anybody can look.

    Refusals: `not_a_copy`, `other_version` (migrations differ), `not_empty`, `damaged` (a part's rows or digest differ),
    `trail_broken`.
    """
    try:
        with zipfile.ZipFile(path) as file:
            manifest = json.loads(file.read("manifest.json"))
            if manifest.get("form") != FORM:
                raise Refusal("not_a_copy", f"{path.name} is not a copy in the form {FORM!r}.", status=400)
            _compare(manifest)
            with transaction.atomic():
                parts = [_read_part(file, *part) for part in manifest["parts"]]
                _mend_sequences()
                found = queries.verdict(now=now, known=Head(*manifest["head"]))
                if found.first_break or found.known_head is False:
                    raise Refusal("trail_broken", "The trail in this copy is not whole.", status=400)
                hold_messages(by=None, why=HoldReason.RESTORED, now=now)
                erase_again(by=system_actor(), erased=erased, now=now)
            return parts
    except (zipfile.BadZipFile, KeyError, json.JSONDecodeError, UnicodeDecodeError) as error:
        raise Refusal("not_a_copy", f"{path.name} cannot be read as a copy: {type(error).__name__}.", status=400) from error


def _compare(manifest: dict[str, Any]) -> None:
    here, there = set(_migrations()), set(manifest["migrations"])
    if here != there:
        names = ", ".join(sorted(here ^ there)[:4])
        raise Refusal("other_version", f"The copy is of another version of Intervale ({names} …).", status=409)
    filled = [model._meta.label for model in moved_models() if model._base_manager.exists()]
    if filled:
        raise Refusal("not_empty", f"There are rows here already: {', '.join(filled[:4])}.", status=409)
    known = {model._meta.label for model in moved_models()}
    if odd := [label for label, _, _ in manifest["parts"] if label not in known]:
        raise Refusal("not_a_copy", f"The copy holds {', '.join(odd)}, which is not known here.", status=400)


def _read_part(file: zipfile.ZipFile, label: str, rows: int, sha256: str) -> Part:
    model, count, digest = apps.get_model(label), 0, hashlib.sha256()
    with file.open(f"data/{label}.jsonl") as lines:
        batch: list[Any] = []
        for line in _digested(lines, digest):
            batch.extend(serializers.deserialize("jsonl", line.decode()))
            if len(batch) >= CHUNK:
                count += _store(model, batch)
        count += _store(model, batch)
    if (count, digest.hexdigest()) != (rows, sha256):
        raise Refusal("damaged", f"{label}: {count} rows were read, {rows} were written, or they changed.", status=400)
    return Part(label, count, sha256)


def _digested(lines: IO[bytes], digest: Any) -> Iterator[bytes]:
    for line in lines:
        digest.update(line)
        yield line


def _store(model: type[Model], batch: list[Any]) -> int:
    model._base_manager.bulk_create([each.object for each in batch])
    for each in batch:
        for name, keys in (each.m2m_data or {}).items():
            getattr(each.object, name).set(keys)
    stored = len(batch)
    batch.clear()
    return stored


def _mend_sequences() -> None:
    statements = connection.ops.sequence_reset_sql(no_style(), moved_models())
    with connection.cursor() as cursor:
        for statement in statements:
            cursor.execute(statement)
