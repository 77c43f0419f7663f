"""A PostgreSQL cluster and a Redis of the harness's own, on free ports: they may be killed, stopped and filled."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import tempfile
import time
from contextlib import suppress
from pathlib import Path

import psycopg
import redis
from django.db import connection

from tests.house.test_compose import SERVICES
from tests.reminders.processes import free_port

FOLDERS = ("/usr/lib/postgresql/*/bin", "/usr/local/bin", "/opt/homebrew/bin")
ENVIRONMENT = SERVICES["postgres"]["environment"]
USER, NAME = ENVIRONMENT["POSTGRES_USER"], ENVIRONMENT["POSTGRES_DB"]


def _tool(name: str) -> str:
    """The path of one of PostgreSQL's programs; Debian keeps the server's off the PATH."""
    found = shutil.which(name)
    if found:
        return found
    for pattern in FOLDERS:
        for path in sorted(Path("/").glob(f"{pattern[1:]}/{name}"), reverse=True):
            return str(path)
    raise AssertionError(f"PostgreSQL's {name} is not on this machine: the faults of a database need a server to restart")


class Cluster:
    """A cluster in a folder under /tmp: PostgreSQL refuses to run as root, so root hands it to the user postgres."""

    def __init__(self) -> None:
        self.port = free_port()
        self.folder = Path(tempfile.mkdtemp(prefix="intervale-faults-"))
        self._as = ["runuser", "-u", "postgres", "--"] if os.geteuid() == 0 else []
        if self._as:
            shutil.chown(self.folder, "postgres")
        self._run("initdb", "-D", str(self.data), "-U", "postgres", "--auth=trust", "--no-sync", "--encoding=UTF8")
        self.start()
        self._fill()

    @property
    def data(self) -> Path:
        return self.folder / "data"

    @property
    def url(self) -> str:
        return f"postgres://{USER}@127.0.0.1:{self.port}/{NAME}"

    def start(self) -> None:
        # what a power cut leaves on the disk is no part of these faults, so nothing waits for the disk
        options = f"-p {self.port} -h 127.0.0.1 -c unix_socket_directories= -c fsync=off -c max_connections=40"
        self._run("pg_ctl", "-D", str(self.data), "-w", "-o", options, "-l", str(self.folder / "log"), "start")

    def crash(self) -> None:
        """As if the machine had lost its power: no connection is ended in order, the next start recovers."""
        self._run("pg_ctl", "-D", str(self.data), "-w", "-m", "immediate", "stop")

    def remove(self) -> None:
        with suppress(subprocess.CalledProcessError):
            self.crash()
        shutil.rmtree(self.folder, ignore_errors=True)

    def _fill(self) -> None:
        """The tables of the tests' own database, which pytest has migrated already; else the service `migrate` makes them."""
        with psycopg.connect(host="127.0.0.1", port=self.port, user="postgres", dbname="postgres", autocommit=True) as line:
            line.execute(f"CREATE ROLE {USER} LOGIN")
            line.execute(f"CREATE DATABASE {NAME} OWNER {USER}")
        entry = connection.settings_dict
        there = ["-h", entry["HOST"] or "127.0.0.1", "-p", entry["PORT"] or "5432", "-U", entry["USER"] or "postgres"]
        if not {"people_site"} <= set(connection.introspection.table_names()):
            return
        here = ["-h", "127.0.0.1", "-p", str(self.port), "-U", USER, "-d", NAME]
        copy = subprocess.run(
            [_tool("pg_dump"), "--no-owner", "--no-privileges", *there, entry["NAME"]], check=True, capture_output=True,
            env={**os.environ, "PGPASSWORD": entry["PASSWORD"]},
        ).stdout
        # an extension's comment belongs to the superuser
        copy = b"\n".join(line for line in copy.splitlines() if not line.startswith(b"COMMENT ON EXTENSION"))
        subprocess.run([_tool("psql"), "-q", "-v", "ON_ERROR_STOP=1", *here], input=copy, check=True, capture_output=True)

    def _run(self, tool: str, *words: str) -> None:
        subprocess.run(
            [*self._as, _tool(tool), *words], cwd="/", check=True, stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )


class OwnRedis:
    """Redis as docker-compose.yml starts it, on a port of its own."""

    def __init__(self, log: Path) -> None:
        self.port, self._log = free_port(), log
        self.start()

    @property
    def url(self) -> str:
        return f"redis://127.0.0.1:{self.port}/0"

    def line(self) -> redis.Redis:
        return redis.Redis(port=self.port, socket_timeout=5)

    def start(self) -> None:
        command = [*SERVICES["redis"]["command"], "--port", str(self.port), "--bind", "127.0.0.1"]
        with self._log.open("ab") as output:
            self.process = subprocess.Popen(command, cwd="/tmp", stdin=subprocess.DEVNULL, stdout=output, stderr=output)
        ends = time.monotonic() + 20
        while time.monotonic() < ends:
            with suppress(redis.RedisError):
                if self.line().ping():
                    return
            time.sleep(0.02)
        raise AssertionError("Redis did not start")

    def kill(self) -> None:
        self.process.send_signal(signal.SIGCONT)
        self.process.kill()
        self.process.wait(timeout=10)

    def silence(self) -> None:
        """The kernel goes on taking calls for it; nobody answers them."""
        self.process.send_signal(signal.SIGSTOP)

    def wake(self) -> None:
        self.process.send_signal(signal.SIGCONT)

    def fill(self) -> None:
        self.line().config_set("maxmemory", "1mb")
        self.line().config_set("maxmemory", "1")

    def empty(self) -> None:
        self.line().config_set("maxmemory", "128mb")
