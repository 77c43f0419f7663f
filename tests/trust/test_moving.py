"""The restore drill: a whole practice into a file, and back into an empty machine on either engine."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import threading
import zipfile
from contextlib import closing
from pathlib import Path
from uuid import uuid4

import psycopg
import pytest
from django.core.management import CommandError, call_command
from django.core.serializers.json import DjangoJSONEncoder
from django.db import DatabaseError, connection
from django.db.backends.postgresql import base as postgres_base
from django.db.backends.sqlite3 import base as sqlite_base

from clinic.people import audit
from clinic.people.models import Client, Episode, User
from clinic.people.refusal import Refusal
from clinic.people.vocab import Role
from clinic.project import environment
from clinic.reminders.models import Hold
from clinic.trust import moving, queries
from clinic.trust.actions.erase_person import erase_person
from clinic.trust.actions.seal_trail import seal_trail
from tests.house.walls import walls
from tests.reminders.processes import database_url
from tests.trust.test_person import WORDS, ada  # noqa: F401  fixture

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
    differ = {label: [row for row in after[label] if row not in before[label]] for label in before}
    assert {label: new for label, new in differ.items() if new} == {}
    assert after == before
    assert added <= {"system"}
    assert list(cast.mina.sites.values_list("pk", flat=True)) == sites
    assert queries.verdict(now=now, known=head).first_break is None
    assert sum(part.rows for part in parts) == sum(len(each) for each in before.values())
    assert Hold.objects.get().why == "restored"
    # new rows get keys of their own: the sequences were set behind the old ones
    audit.record(by=cast.mina.user, verb="look", kind="page", public_id="y", at=now, client=None)


RUN_THE_OUTBOX = """
import json, django
django.setup()
from django.core.management import call_command
from django.utils import timezone
from clinic.people.models import User
from clinic.reminders.actions.deliver_due import deliver_due
from clinic.reminders.actions.release_messages import release_messages
from clinic.reminders.models import Message

def run():
    sent = deliver_due(now=timezone.now(), worker="drill")
    return [dict(sent), sorted(Message.objects.values_list("state", flat=True))]

held = run()
release_messages(by=User.objects.get(email="lou@harbour.example"), now=timezone.now())
print(json.dumps([held, run()]))
call_command("verify_trail")
"""


class Machine:
    """A new machine: a process has nothing but the file, another data folder, and an empty database."""

    def __init__(self, data, database):
        self.database = database
        self.environment = {
            **{key: value for key, value in os.environ.items() if key not in ("INTERVALE_DATABASE", "INTERVALE_REDIS")},
            "INTERVALE_DATA": str(data), "INTERVALE_PREPARED": "1", "INTERVALE_MODE": "embedded",
            "INTERVALE_DATABASE": database, "DJANGO_SETTINGS_MODULE": "clinic.project.settings", "PYTHONPATH": str(ROOT),
        }

    def run(self, *command):
        return subprocess.run(
            [sys.executable, *map(str, command)], cwd=ROOT, env=self.environment, capture_output=True, text=True
        )

    def manage(self, *words):
        return self.run(str(ROOT / "manage.py"), *words)

    def line(self):
        """A connection of the test's own."""
        parts = environment.database(self.database, Path("."))
        engine = sqlite_base if "sqlite" in parts["ENGINE"] else postgres_base
        return engine.DatabaseWrapper({**connection.settings_dict, **parts, "OPTIONS": parts.get("OPTIONS", {})}, "default")


ENGINES = ["sqlite", "postgresql"] if os.environ.get("INTERVALE_DATABASE", "").startswith("postgres") else ["sqlite"]


@pytest.fixture(params=ENGINES)
def machine(request, tmp_path):
    """Always SQLite, so that PostgreSQL's copy changes engines; and a new database beside the tests' own PostgreSQL."""
    if request.param == "sqlite":
        yield Machine(tmp_path / "new", f"sqlite://{tmp_path}/new.sqlite3")
        return
    entry = connection.settings_dict
    name, there = f"{entry['NAME']}_drill", {key: entry[key.upper()] or None for key in ("host", "port", "user", "password")}
    with psycopg.connect(**there, dbname="postgres", autocommit=True) as server:
        server.execute(f'DROP DATABASE IF EXISTS "{name}"')
        server.execute(f'CREATE DATABASE "{name}"')
        yield Machine(tmp_path / "new", database_url().rpartition("/")[0] + f"/{name}")
        server.execute(f'DROP DATABASE "{name}" WITH (FORCE)')


@pytest.mark.django_db(transaction=True)
def test_the_drill_into_a_new_machine(copy, cast, now, machine, capsys):
    """Counts, walls and trail as they were, nothing sent until the lead says so; then it is a clinic again."""
    assert machine.manage("migrate", "--verbosity", "0").returncode == 0
    done = machine.manage("import_practice", copy)
    assert done.returncode == 0, done.stderr
    assert "the trail is whole" in done.stdout
    took = re.search(r"It took (\d+\.\d) seconds", done.stdout)[1]
    with capsys.disabled():
        print(f"\n  restored into {machine.database.partition(':')[0]} in {took} s")
    again = machine.manage("import_practice", copy)
    assert again.returncode == 1
    assert "There are rows here already" in again.stderr
    with closing(machine.line()) as line:
        with line.cursor() as cursor:
            for model in moving.moved_models():
                cursor.execute(f'SELECT count(*) FROM "{model._meta.db_table}"')
                added = {"reminders.Hold": 1, "people.AuditEvent": 1, "people.User": 1}.get(model._meta.label, 0)
                assert 0 <= cursor.fetchone()[0] - model._base_manager.count() <= added, model._meta.label
            cursor.execute("SELECT given_name FROM people_client ORDER BY given_name")
            assert [row[0] for row in cursor.fetchall()] == ["Ada", "Bo"]
            if line.vendor == "sqlite":
                cursor.execute("PRAGMA integrity_check")
                assert cursor.fetchone() == ("ok",)
                assert cursor.execute("PRAGMA foreign_key_check").fetchall() == []
        if line.vendor == connection.vendor:
            assert walls(line) == walls(connection)
        assert len([row for row in walls(line) if row[0] == "trigger"]) >= 15
        with line.cursor() as cursor, pytest.raises(DatabaseError, match="append-only"):
            cursor.execute("UPDATE trust_seal SET digest = ''")
    # what waited goes on waiting, whoever runs the outbox, until the lead lets it go
    outbox = machine.run("-c", RUN_THE_OUTBOX)
    assert outbox.returncode == 0, outbox.stderr
    held, sent = json.loads(outbox.stdout.splitlines()[0])
    assert held == [{}, ["pending", "pending"]]
    assert sum(sent[0].values()) == 2
    assert "pending" not in sent[1]


@pytest.mark.django_db(transaction=True)
def test_a_copy_made_while_people_write_is_of_one_moment(cast, now, tmp_path, monkeypatch):
    """Somebody comes in with an episode after the clients were written out and before the episodes are."""
    def comes_in():
        user = User.objects.create_user("cleo@client.example", Role.CLIENT)
        client = Client.objects.create(
            user=user, site=cast.site, given_name="Cleo", family_name="Late", birth_date=now.date(), email=user.email,
            zone=cast.site.zone, registered=now,
        )
        Episode.objects.create(client=client, lead=cast.mina, region="hip", side="left", complaint="x", opened=now.date())
        connection.close()

    writer, models = threading.Thread(target=comes_in), moving.moved_models()

    def one_by_one():
        for model in models:
            yield model
            if model is Client:
                writer.start()
                if connection.vendor == "postgresql":   # SQLite lets the writer wait until the copy is done
                    writer.join()

    with monkeypatch.context() as patch:
        patch.setattr(moving, "moved_models", one_by_one)
        call_command("export_practice", tmp_path / "practice.zip")
    writer.join()
    assert Client.objects.filter(given_name="Cleo").exists()
    call_command("flush", interactive=False, verbosity=0)
    call_command("import_practice", tmp_path / "practice.zip")   # proves that every row points at one that is there
    assert not Client.objects.filter(given_name="Cleo").exists()
    assert Episode.objects.count() == 2


@pytest.mark.django_db(transaction=True)
def test_whoever_was_erased_since_is_taken_out_again_before_anybody_can_look(copy, ada, cast, now, tmp_path, caplog):  # noqa: F811
    with caplog.at_level("INFO", logger="intervale.trust"):
        erase_person(by=cast.lead.user, client=ada, name="Ada Quill", now=now)
    told = [record.args["client"] for record in caplog.records if record.msg == "person_erased"]
    assert told == [str(ada.public_id)]   # the log, which outlives the machine, says who
    call_command("flush", interactive=False, verbosity=0)
    listed = tmp_path / "erased"
    listed.write_text(f"# since Monday\n{told[0]}\n{uuid4()}  # came after the copy\n", encoding="utf-8")
    call_command("import_practice", copy, erased=listed)
    client = Client.objects.get(public_id=told[0])
    assert "Ada" not in client.name
    assert client.archived is not None
    assert Client.objects.filter(given_name="Bo").exists()
    everything = json.dumps(rows())
    for word in ("Quill", "ada@client.example", "+447700900101", WORDS):
        assert word not in everything
    assert queries.verdict(now=now, known=None).first_break is None


@pytest.mark.django_db(transaction=True)
def test_a_list_that_cannot_be_read_stops_before_anything_is_written(copy, tmp_path):
    call_command("flush", interactive=False, verbosity=0)
    listed = tmp_path / "erased"
    listed.write_text("not an id\n", encoding="utf-8")
    with pytest.raises(CommandError, match="line 1: this is not the id of a client"):
        call_command("import_practice", copy, erased=listed)
    with pytest.raises(CommandError, match="There is no file"):
        call_command("import_practice", copy, erased=tmp_path / "nothing")
    assert all(not each for each in rows().values())


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
