"""The services of docker-compose.yml as real local processes: a message goes in at one end and arrives at a mail server."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
import urllib.error
import urllib.request
from email import message_from_bytes

import pytest
from aiosmtpd.controller import Controller
from django.utils import timezone

from clinic.reminders.actions.check_mail import check_mail
from tests.house.test_compose import ROOT, SERVICES
from tests.reminders.processes import environment, free_port, running, wait_until

LONG_RUNNING = ("web", "worker", "beat")


class Postman:
    """Keeps what is delivered to it."""

    def __init__(self):
        self.letters = []

    async def handle_DATA(self, server, session, envelope):
        self.letters.append((envelope.rcpt_tos, message_from_bytes(envelope.content)))
        return "250 taken"


def _answer(url: str) -> tuple[int, dict]:
    try:
        with urllib.request.urlopen(url, timeout=5) as answer:
            return answer.status, json.load(answer)
    except urllib.error.HTTPError as refused:
        with refused:
            return refused.code, json.load(refused)
    except (urllib.error.URLError, TimeoutError):
        return 0, {}


@pytest.fixture
def postman():
    handler = Postman()
    controller = Controller(handler, hostname="127.0.0.1", port=free_port())
    controller.start()
    handler.port = controller.port
    yield handler
    controller.stop()


@pytest.fixture
def full(tmp_path, postman):
    """The environment of the compose file with local addresses in the place of the containers'."""
    port = str(free_port())
    return environment(
        tmp_path,
        PORT=port,
        INTERVALE_MODE="full",
        INTERVALE_SECRET_KEY="only for this test, and long enough to pass the check",
        INTERVALE_URL=f"http://127.0.0.1:{port}",
        INTERVALE_HOSTS="127.0.0.1",
        INTERVALE_PLAIN_STATIC="1",
        INTERVALE_SMTP_PORT=str(postman.port),
        INTERVALE_SMTP_TLS="0",
        INTERVALE_FROM="desk@harbour.example",
        INTERVALE_TICK_SECONDS="0.5",
    )


@pytest.mark.django_db(transaction=True)
def test_what_the_compose_file_starts_delivers_a_message_and_stops_cleanly(cast, full, postman, tmp_path):
    log = tmp_path / "log"
    ready = f"{full['INTERVALE_URL']}/health/ready"
    first, *rest = SERVICES["migrate"]["command"]
    assert first == "python"
    migrated = subprocess.run([sys.executable, *rest], cwd=ROOT, env=full, capture_output=True, text=True, check=False)
    assert migrated.returncode == 0, migrated.stderr

    with (
        running(SERVICES["web"]["command"], full, log) as web,
        running(SERVICES["worker"]["command"], full, log) as worker,
        running(SERVICES["beat"]["command"], full, log) as beat,
    ):
        processes = (web, worker, beat)
        wait_until(lambda: _answer(ready)[0] == 200, "green health", log, *processes)
        message = check_mail(by=cast.desk.user, now=timezone.now())
        wait_until(lambda: len(postman.letters) > 0, "a letter", log, *processes)
        assert _answer(ready)[1]["mail"] == "ok"

        for process in (beat, worker, web):
            process.send_signal(signal.SIGTERM)
        assert [process.wait(timeout=40) for process in processes] == [0, 0, 0]

    (to, letter), = postman.letters
    assert to == ["dara@harbour.example"]
    assert letter["Subject"] == "Mail from Harbour Lane works"
    assert letter["Message-ID"] == f"<{message.public_id}@harbour.example>"
    assert letter["Auto-Submitted"] == "auto-generated"
    message.refresh_from_db()
    assert (message.state, message.attempts, message.resends) == ("sent", 1, 0)
    assert "Traceback" not in log.read_text("utf-8")
    assert "Dara" not in log.read_text("utf-8")


def test_only_known_services_are_started():
    assert set(SERVICES) == {"migrate", *LONG_RUNNING, "postgres", "redis"}
