"""Real processes of the project on the tests' own database, and the broker the environment offers."""

from __future__ import annotations

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import contextmanager, suppress
from pathlib import Path
from urllib.parse import quote

from django.conf import settings
from django.db import connection

ROOT = Path(__file__).resolve().parents[2]


def free_port() -> int:
    """A port nobody listens on at this moment."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]


def database_url() -> str:
    """The tests' database as a child process names it."""
    entry = connection.settings_dict
    if connection.vendor == "sqlite":
        return f"sqlite://{entry['NAME']}"
    password = f":{quote(entry['PASSWORD'])}" if entry["PASSWORD"] else ""
    return f"postgres://{entry['USER']}{password}@{entry['HOST']}:{entry['PORT'] or 5432}/{entry['NAME']}"


def environment(folder: Path, **more: str) -> dict[str, str]:
    """What a child needs: a data folder, a queue and a database of its own; Redis when the tests were given one."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith("INTERVALE_")}
    redis = {"INTERVALE_REDIS": settings.REDIS_URL} if settings.REDIS_URL else {}
    return {
        **kept,
        **redis,
        "PYTHONPATH": str(ROOT),
        "PYTHONWARNINGS": "ignore",
        "DJANGO_SETTINGS_MODULE": "clinic.project.settings",
        "INTERVALE_DATA": str(folder),
        "INTERVALE_DATABASE": database_url(),
        "INTERVALE_QUEUE": f"tests-{folder.name}-{os.getpid()}",
        **more,
    }


@contextmanager
def running(command: list[str], env: dict[str, str], log: Path):
    """The command in a process group of its own; the whole group is gone afterwards."""
    if command[0] != sys.executable:
        command = [str(Path(sys.executable).parent / command[0]), *command[1:]]
    with log.open("ab") as output:
        process = subprocess.Popen(
            command, cwd=ROOT, env=env, stdin=subprocess.DEVNULL, stdout=output, stderr=output, start_new_session=True
        )
        try:
            yield process
        finally:
            kill(process)


def kill(process: subprocess.Popen) -> None:
    """SIGKILL to every process of the group: none gets to tidy up."""
    with suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)
    process.wait(timeout=10)


def wait_until(there: Callable[[], bool], what: str, log: Path, *alive: subprocess.Popen, seconds: float = 90) -> None:
    """Return as soon as `there()`; fail with what the processes wrote when one ends or that takes too long."""
    ends = time.monotonic() + seconds
    while time.monotonic() < ends and all(process.poll() is None for process in alive):
        if there():
            return
        time.sleep(0.05)
    raise AssertionError(f"{what} did not happen:\n{log.read_text(errors='replace')[-4000:]}")
