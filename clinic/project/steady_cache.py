"""The shared cache on Redis, and what happens while Redis is away: each process goes on with a memory of its own.

What lies in the cache is counters (tries at signing in, requests of a token, looks already noted). While Redis is away
each process counts for itself: with n processes a limit is at most n times as wide, never open, and nobody waits.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from typing import Any, TypeVar

from django.core.cache.backends.base import DEFAULT_TIMEOUT
from django.core.cache.backends.locmem import LocMemCache
from django.core.cache.backends.redis import RedisCache
from redis.backoff import NoBackoff
from redis.exceptions import RedisError
from redis.retry import Retry

T = TypeVar("T")
log = logging.getLogger("intervale.cache")
ANSWER_SECONDS = 0.5   # a request waits this long for Redis, twice at most
REST_SECONDS = 10.0    # how long Redis is left alone after it failed
# one entry a server for the whole process: Django makes a cache object for each thread
_away_until: dict[str, float] = {}


class SteadyCache(RedisCache):
    """Django's Redis cache with a bound on every wait and a memory of the process to fall back to."""

    def __init__(self, server: str, params: dict[str, Any]) -> None:
        # a connection that Redis closed meanwhile is opened once anew
        waits = {
            "socket_connect_timeout": ANSWER_SECONDS, "socket_timeout": ANSWER_SECONDS, "retry": Retry(NoBackoff(), 1),
        }
        super().__init__(server, {**params, "OPTIONS": {**waits, **params.get("OPTIONS", {})}})
        self._server = server
        self._own = LocMemCache(f"instead of {server}", params)

    def _do(self, there: Callable[[], T], here: Callable[[], T]) -> T:
        if time.monotonic() < _away_until.get(self._server, 0):
            return here()
        try:
            return there()
        except RedisError as error:   # gone, silent, or full
            _away_until[self._server] = time.monotonic() + REST_SECONDS
            log.warning("cache_away", {"error_type": type(error).__name__})
            return here()

    def add(self, key: Any, value: Any, timeout: Any = DEFAULT_TIMEOUT, version: int | None = None) -> bool:
        return self._do(
            lambda: super(SteadyCache, self).add(key, value, timeout, version),
            lambda: self._own.add(key, value, timeout, version),
        )

    def get(self, key: Any, default: Any = None, version: int | None = None) -> Any:
        return self._do(
            lambda: super(SteadyCache, self).get(key, default, version), lambda: self._own.get(key, default, version)
        )

    def set(self, key: Any, value: Any, timeout: Any = DEFAULT_TIMEOUT, version: int | None = None) -> None:
        self._do(
            lambda: super(SteadyCache, self).set(key, value, timeout, version),
            lambda: self._own.set(key, value, timeout, version),
        )

    def touch(self, key: Any, timeout: Any = DEFAULT_TIMEOUT, version: int | None = None) -> bool:
        return self._do(
            lambda: super(SteadyCache, self).touch(key, timeout, version),
            lambda: self._own.touch(key, timeout, version),
        )

    def delete(self, key: Any, version: int | None = None) -> bool:
        return self._do(lambda: super(SteadyCache, self).delete(key, version), lambda: self._own.delete(key, version))

    def get_many(self, keys: Any, version: int | None = None) -> dict[Any, Any]:
        return self._do(lambda: super(SteadyCache, self).get_many(keys, version), lambda: self._own.get_many(keys, version))

    def has_key(self, key: Any, version: int | None = None) -> bool:
        return self._do(lambda: super(SteadyCache, self).has_key(key, version), lambda: self._own.has_key(key, version))

    def incr(self, key: Any, delta: int = 1, version: int | None = None) -> int:
        return self._do(
            lambda: super(SteadyCache, self).incr(key, delta, version), lambda: self._own.incr(key, delta, version)
        )

    def set_many(self, data: Any, timeout: Any = DEFAULT_TIMEOUT, version: int | None = None) -> list[Any]:
        return self._do(
            lambda: super(SteadyCache, self).set_many(data, timeout, version),
            lambda: self._own.set_many(data, timeout, version),
        )

    def delete_many(self, keys: Any, version: int | None = None) -> None:
        self._do(
            lambda: super(SteadyCache, self).delete_many(keys, version), lambda: self._own.delete_many(keys, version)
        )

    def clear(self) -> None:
        self._own.clear()
        self._do(lambda: super(SteadyCache, self).clear(), lambda: None)
