"""All of docker-compose.yml as real processes: each may be killed, stopped and started again, as its container would be."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Callable
from contextlib import ExitStack, contextmanager
from datetime import timedelta
from pathlib import Path

from django.conf import settings
from django.db import connections
from django.utils import timezone

from clinic.reminders.models import Message
from tests.faults import ledger
from tests.faults.post import Post
from tests.faults.practice import Practice, open_practice
from tests.faults.services import NAME, USER, Cluster, OwnRedis
from tests.house.test_compose import ROOT, SERVICES
from tests.reminders import gateway as gateways
from tests.reminders.processes import environment, free_port, kill

SIGNING_KEY = "whsec_" + "Zm9y" * 8
OURS = ("web", "worker", "beat")
ENDED = ("sent", "skipped", "failed", "unknown")


class Stack:
    """`practice`, `post`, `gateway`, `database`, `redis` and the processes, by the name of their service."""

    def __init__(self, folder: Path, post: Post, gateway: gateways.Gateway, database: Cluster, redis: OwnRedis) -> None:
        self.post, self.gateway, self.database, self.redis = post, gateway, database, redis
        self.log = folder / "log"
        self.log.touch()
        self.not_taken: Counter[str] = Counter()   # texts that the gateway got and said no to, by id
        self.running: dict[str, list[subprocess.Popen]] = {name: [] for name in OURS}
        port = str(free_port())
        self.env = environment(
            folder,
            PORT=port,
            INTERVALE_MODE="full",
            INTERVALE_SECRET_KEY=settings.SECRET_KEY,   # a session made here holds there
            INTERVALE_DATABASE=database.url,
            INTERVALE_REDIS=redis.url,
            INTERVALE_URL=f"http://127.0.0.1:{port}",
            INTERVALE_HOSTS="127.0.0.1",
            INTERVALE_PLAIN_STATIC="1",
            INTERVALE_SMTP_PORT=str(post.port),
            INTERVALE_SMTP_TLS="0",
            INTERVALE_SMTP_SECONDS="2",
            INTERVALE_SMS_SECONDS="2",
            INTERVALE_SMS_URL=gateway.url,
            INTERVALE_SMS_KEY="a key",
            INTERVALE_SMS_SIGNING_KEY=SIGNING_KEY,
            INTERVALE_FROM=settings.DEFAULT_FROM_EMAIL,
            INTERVALE_TICK_SECONDS="0.4",
            INTERVALE_DIGEST_HOUR="off",   # the tests queue their own
        )
        self.migrate()
        self.practice: Practice = open_practice(self.env["INTERVALE_URL"])

    # --- processes -------------------------------------------------------------------------------------------------
    def migrate(self) -> None:
        """The service that runs first."""
        _, *rest = SERVICES["migrate"]["command"]
        done = subprocess.run([sys.executable, *rest], cwd=ROOT, env=self.env, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr

    def start(self, name: str) -> subprocess.Popen:
        """One more process of a service, by the command in docker-compose.yml."""
        first, *rest = SERVICES[name]["command"]
        # two beats write their schedules into two containers; web shares a pool of connections, a worker keeps its own
        pool = {"INTERVALE_DATABASE_POOL": "4"} if name == "web" else {}
        env = {**self.env, **pool, "INTERVALE_DATA": f"{self.env['INTERVALE_DATA']}/{name}{len(self.running[name])}"}
        with self.log.open("ab") as output:
            process = subprocess.Popen(
                [str(Path(sys.executable).parent / first), *rest], cwd=ROOT, env=env, stdin=subprocess.DEVNULL,
                stdout=output, stderr=output, start_new_session=True,
            )
        self.running[name].append(process)
        return process

    def kill(self, name: str) -> None:
        """SIGKILL to all of a service's processes: its container is gone."""
        for process in self.running[name]:
            kill(process)
        self.running[name] = []

    def restart(self, name: str) -> None:
        """The service anew."""
        self.kill(name)
        self.start(name)

    def tend(self) -> None:
        """What `restart: unless-stopped` does: a process that ended by itself is gone with all below it, and starts again."""
        for name in OURS:
            for place, process in enumerate(list(self.running[name])):
                if process.poll() is not None:
                    assert SERVICES[name]["restart"] == "unless-stopped"
                    kill(process)
                    self.start(name)
                    self.running[name][place] = self.running[name].pop()

    def children(self, name: str) -> list[int]:
        """The processes below the first one of a service."""
        parent = str(self.running[name][0].pid)
        done = subprocess.run(["ps", "-o", "pid=", "--ppid", parent], capture_output=True, text=True, check=False)
        return [int(pid) for pid in done.stdout.split()]

    def stop_group(self, name: str, signals: int) -> None:
        """Send a signal to a service's processes and all below them."""
        for process in self.running[name]:
            for pid in (*self.children(name), process.pid):
                os.kill(pid, signals)

    def stop(self) -> None:
        for name in OURS:
            self.kill(name)

    # --- what is seen of them --------------------------------------------------------------------------------------
    def health(self) -> tuple[int, dict]:
        """The page of health, asked without leaving a mark among the practice's answers."""
        found = self.practice.ask("/health/ready", seconds=15)
        self.practice.answers.remove(found)
        return found.status, found.body

    def healthcheck(self, name: str) -> bool:
        """What the health check of a service's container says, by its command in docker-compose.yml."""
        kind, first, *rest = SERVICES[name]["healthcheck"]["test"]
        assert (kind, first) == ("CMD", "python")
        done = subprocess.run([sys.executable, *rest], cwd=ROOT, env=self.env, capture_output=True, check=False)
        return done.returncode == 0

    def until(self, there: Callable[[], object], what: str, seconds: float = 60) -> None:
        """Return as soon as `there()`; fail with what the processes wrote when that takes too long."""
        ends = time.monotonic() + seconds
        while time.monotonic() < ends:
            if there():
                return
            self.tend()
            time.sleep(0.05)
        raise AssertionError(f"{what} did not happen:\n{self.log.read_text(errors='replace')[-6000:]}")

    def until_green(self) -> None:
        self.until(lambda: self.health()[0] == 200, "green health")

    # --- the outbox ------------------------------------------------------------------------------------------------
    def of(self, client: object) -> Message:
        """What a client was last told of a visit booked."""
        return Message.objects.filter(client=client, kind="visit_booked").order_by("-pk")[0]

    def hurry_leases(self) -> None:
        """Rather than wait: the leases of the dead are over."""
        Message.objects.filter(state="claimed").update(lease_until=timezone.now() - timedelta(seconds=1))

    def hurry_waiting(self) -> None:
        """Rather than wait: whatever is to be tried again is due."""
        past = timezone.now() - timedelta(seconds=1)
        Message.objects.filter(state="pending", attempts__gt=0, due__gt=past).update(due=past)

    def settle(self) -> None:
        """Until nothing due is left; then the ledger must add up."""
        due = Message.objects.exclude(state__in=ENDED).filter(due__lte=timezone.now() + timedelta(minutes=5))

        def quiet() -> bool:
            self.hurry_waiting()
            return not due.exists()

        self.until(quiet, f"an end of {list(due.values_list('kind', 'state', 'attempts'))}")
        self.check()

    def check(self) -> None:
        """The ledger."""
        texts = Counter(text["id"] for text in self.gateway.texts) - self.not_taken
        found = ledger.wrong(self.post.copies(), texts)
        assert not found, "\n".join(found)


@contextmanager
def connected(database: Cluster):
    """This process's own queries go to the harness's cluster instead of the tests' database."""
    before = connections["default"]
    there = {"HOST": "127.0.0.1", "PORT": str(database.port), "NAME": NAME, "USER": USER, "PASSWORD": ""}
    entry = {**before.settings_dict, **there}
    connections["default"] = type(before)(entry, "default")
    try:
        yield
    finally:
        connections["default"].close()
        connections["default"] = before


@contextmanager
def running_stack(folder: Path):
    """Everything up and green."""
    with ExitStack() as ending:
        database = Cluster()
        ending.callback(database.remove)
        redis = OwnRedis(folder / "redis-log")
        ending.callback(redis.kill)
        post = Post()
        ending.callback(post.shut)
        gateway = ending.enter_context(gateways.running())
        ending.enter_context(connected(database))
        stack = Stack(folder, post, gateway, database, redis)
        ending.callback(stack.stop)
        for name in OURS:
            stack.start(name)
        stack.until_green()
        yield stack


SIGKILL, SIGSTOP, SIGCONT = signal.SIGKILL, signal.SIGSTOP, signal.SIGCONT
