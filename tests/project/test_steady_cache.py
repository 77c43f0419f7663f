"""Redis may be gone, silent or full: what is counted is counted on, and nobody waits for long."""

from __future__ import annotations

import socket
import threading
import time
from contextlib import contextmanager

import pytest

from clinic.project import steady_cache
from clinic.project.steady_cache import SteadyCache
from clinic.reminders.redis_state import redis_state


@contextmanager
def answering(words: bytes | None):
    """A port that takes every call and answers each request with `words`, or never."""
    with socket.create_server(("127.0.0.1", 0)) as door:
        calls = []

        def take():
            while True:
                try:
                    line, _ = door.accept()
                except OSError:
                    return
                calls.append(line)
                threading.Thread(target=serve, args=(line,), daemon=True).start()

        def serve(line):
            try:
                while line.recv(4096):
                    if words is not None:
                        line.sendall(words)
            except OSError:
                return

        threading.Thread(target=take, daemon=True).start()
        yield f"redis://127.0.0.1:{door.getsockname()[1]}/0"
        door.shutdown(socket.SHUT_RDWR)
        for line in calls:
            line.close()


@pytest.fixture(autouse=True)
def _nothing_known(monkeypatch):
    monkeypatch.setattr(steady_cache, "_away_until", {})


def uses(cache):
    """Every operation once, and what came of it."""
    cache.set("a", 1, 60)
    counted = [cache.incr("a"), cache.add("a", 9), cache.add("b", 5, 60)]
    cache.set_many({"c": 3, "d": 4}, 60)
    found = cache.get_many(["a", "c", "d", "e"])
    touched = cache.touch("a", 60), cache.has_key("a"), cache.get("e", "none")
    cache.delete("a")
    cache.delete_many(["b"])
    left = cache.get("a"), cache.get("b"), cache.get("c")
    cache.clear()
    return counted, found, touched, left, cache.get("c")


EXPECTED = ([2, False, True], {"a": 2, "c": 3, "d": 4}, (True, True, "none"), (None, None, 3), None)


def test_a_redis_that_is_gone_costs_nothing_and_counting_goes_on(caplog):
    started = time.monotonic()
    assert uses(SteadyCache("redis://127.0.0.1:1/0", {})) == EXPECTED
    assert time.monotonic() - started < 1
    assert [record.getMessage() for record in caplog.records] == ["cache_away"]   # once, not for each use


def test_a_redis_that_says_nothing_is_waited_for_once(caplog):
    with answering(None) as address:
        started = time.monotonic()
        assert uses(SteadyCache(address, {})) == EXPECTED
        assert time.monotonic() - started < 4 * steady_cache.ANSWER_SECONDS
        assert redis_state(address) == "down"


def test_a_full_redis_is_named_so_and_counting_goes_on():
    # what Redis answers to a write with maxmemory reached and noeviction (its documentation, "Key eviction")
    with answering(b"-OOM command not allowed when used memory > 'maxmemory'.\r\n") as address:
        assert uses(SteadyCache(address, {})) == EXPECTED
        assert redis_state(address) == "full"


def test_threads_of_a_process_count_together_while_it_is_away():
    address = "redis://127.0.0.1:1/0"
    SteadyCache(address, {}).clear()
    counted = [SteadyCache(address, {}).add("one", 1, 60) for _ in range(3)]   # Django makes one object a thread
    assert counted == [True, False, False]


def test_it_is_asked_again_after_a_rest(monkeypatch, caplog):
    cache = SteadyCache("redis://127.0.0.1:1/0", {})
    cache.get("x")
    monkeypatch.setattr(steady_cache.time, "monotonic", lambda: 10**9)
    cache.get("x")
    assert len(caplog.records) == 2


def test_without_redis_its_state_is_none():
    assert redis_state("") == "none"
