"""How Redis is, asked anew each time and with a bound on the wait."""

from __future__ import annotations

from redis import Redis
from redis.backoff import NoBackoff
from redis.exceptions import OutOfMemoryError, RedisError
from redis.retry import Retry

SECONDS = 1.0


def redis_state(address: str) -> str:
    """`ok`, `down` (gone, or silent for a second), `full` (it takes no more); `none` when the clinic runs without."""
    if not address:
        return "none"
    line = Redis.from_url(address, socket_connect_timeout=SECONDS, socket_timeout=SECONDS, retry=Retry(NoBackoff(), 0))
    try:
        line.set("intervale:health", 1, ex=60)   # a full Redis still answers a ping
    except OutOfMemoryError:
        return "full"
    except RedisError:
        return "down"
    finally:
        line.close()
    return "ok"
