"""The restore drill: a whole practice into a file, and back into an empty machine on either engine."""

from __future__ import annotations

import json
import os
import sqlite3
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.core.serializers.json import DjangoJSONEncoder

from clinic.people import audit
from clinic.people.refusal import Refusal
from clinic.reminders.models import Hold
from clinic.trust import moving, queries
from clinic.trust.actions.seal_trail import seal_trail
from tests.trust.test_person import ada  # noqa: F401  fixture

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def copy(ada, cast, now, tmp_path):  # noqa: F811
    """A copy of a practice with a sealed trail."""
    audit.record(by=cast.mina.user, verb="look", kind="page", public_id="x", at=now, client=ada)
    seal_trail(now=now)
    path = tmp_path / "practice.zip"
    call_command("export_practice", path)
    return path


def rows():
    """Every stored value of what is moved, by model."""
    held = {model._meta.label: list(model._base_manager.order_by("pk").values()) for model in moving.moved_models()}
    return json.loads(json.dumps(held, cls=DjangoJSONEncoder))


@pytest.mark.django_db(transaction=True)
def test_out_and_into_an_emptied_database_gives_the_same_records(copy, now, cast):
    before, head, sites = rows(), queries.head(), list(cast.mina.sites.values_list("pk", flat=True))
    call_command("flush", interactive=False, verbosity=0)
    parts = moving.read(copy, now)
    after = rows()
    holds, told = after.pop("reminders.Hold"), after["people.AuditEvent"].pop()
    assert before.pop("reminders.Hold") == []
    # the restore adds two rows of its own: the hold over the outbox, and the line of the trail that tells of it
    assert (len(holds), told["verb"]) == (1, "hold_messages")
    added = {row["role"] for row in after["people.User"]} - {row["role"] for row in before["people.User"]}
    after["people.User"] = [row for row in after["people.User"] if row["role"] not in added]
    assert after == before
    assert added <= {"system"}
    assert list(cast.mina.sites.values_list("pk", flat=True)) == sites
    assert queries.verdict(now=now, known=head).first_break is None
    assert sum(part.rows for part in parts) == sum(len(each) for each in before.values())
    assert Hold.objects.get().why == "restored"
    # new rows get keys of their own: the sequences were set behind the old ones
    audit.record(by=cast.mina.user, verb="look", kind="page", public_id="y", at=now, client=None)


@pytest.mark.django_db
def test_the_drill_into_a_new_machine(copy, tmp_path):
    """A process with nothing but the file: another data folder, always SQLite, so that PostgreSQL's copy changes engines."""
    data = tmp_path / "new"
    environment = {
        **{key: value for key, value in os.environ.items() if key not in ("INTERVALE_DATABASE", "INTERVALE_REDIS")},
        "INTERVALE_DATA": str(data), "INTERVALE_PREPARED": "1", "INTERVALE_MODE": "embedded",
    }

    def manage(*words):
        command = [sys.executable, str(ROOT / "manage.py"), *map(str, words)]
        return subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True)

    assert manage("migrate", "--verbosity", "0").returncode == 0
    done = manage("import_practice", copy)
    assert done.returncode == 0, done.stderr
    assert "the trail is whole" in done.stdout
    again = manage("import_practice", copy)
    assert again.returncode == 1
    assert "There are rows here already" in again.stderr
    assert manage("verify_trail").returncode == 0
    file = next(data.glob("*.sqlite3"))
    with sqlite3.connect(file) as database:
        assert database.execute("SELECT given_name FROM people_client ORDER BY given_name").fetchall() == [("Ada",), ("Bo",)]
        assert database.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert database.execute("PRAGMA foreign_key_check").fetchall() == []
        with pytest.raises(sqlite3.IntegrityError, match="append-only"):
            database.execute("UPDATE trust_seal SET digest = ''")


def tampered(path: Path, name: str, change) -> Path:
    """A copy of the copy with one part changed."""
    out = path.with_name("tampered.zip")
    with zipfile.ZipFile(path) as old, zipfile.ZipFile(out, "w") as new:
        for info in old.infolist():
            content = old.read(info)
            new.writestr(info.filename, change(content) if info.filename == name else content)
    return out


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize(
    ("name", "change", "code"),
    [
        ("data/people.Client.jsonl", lambda text: text.replace(b"Quill", b"Quell"), "damaged"),
        ("data/people.Client.jsonl", lambda text: text.splitlines(keepends=True)[0], "damaged"),
        ("manifest.json", lambda text: text.replace(b"intervale practice 1", b"something else"), "not_a_copy"),
        ("manifest.json", lambda text: text.replace(b"people.0001_initial", b"people.0009_later"), "other_version"),
        ("manifest.json", lambda text: b"{", "not_a_copy"),
    ],
)
def test_a_damaged_or_foreign_copy_leaves_nothing_behind(copy, now, name, change, code):
    bad = tampered(copy, name, change)
    call_command("flush", interactive=False, verbosity=0)
    with pytest.raises(Refusal) as refused:
        moving.read(bad, now)
    assert refused.value.code == code
    assert all(not each for each in rows().values())


@pytest.mark.django_db
def test_a_filled_installation_or_no_file_is_refused(copy, tmp_path):
    with pytest.raises(CommandError, match="rows here already"):
        call_command("import_practice", copy)
    with pytest.raises(CommandError, match="There is no file"):
        call_command("import_practice", tmp_path / "nothing.zip")
    (tmp_path / "text.zip").write_text("not a zip")
    with pytest.raises(CommandError, match="cannot be read as a copy"):
        call_command("import_practice", tmp_path / "text.zip")
    with pytest.raises(CommandError, match="is there already"):
        call_command("export_practice", copy)
