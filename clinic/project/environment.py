"""Reading the environment: one function per kind of value, each error naming the variable."""

from __future__ import annotations

import contextlib
import os
import secrets
from pathlib import Path
from typing import Any
from urllib.parse import SplitResult, unquote, urlsplit

from django.core.exceptions import ImproperlyConfigured

CONNECT_SECONDS = 3   # a database that does not answer is away, rather than waited for


def text(name: str, default: str = "") -> str:
    """The value of `name`, or of the file that `name`_FILE points to (secrets are mounted as files)."""
    path = os.environ.get(f"{name}_FILE")
    if path:
        return Path(path).read_text(encoding="utf-8").strip()
    return os.environ.get(name, default).strip()


def flag(name: str, default: bool = False) -> bool:
    """True for 1/true/yes, False for 0/false/no or empty; anything else is refused."""
    value = text(name, "1" if default else "0").lower()
    if value in {"1", "true", "yes"}:
        return True
    if value in {"0", "false", "no", ""}:
        return False
    raise ImproperlyConfigured(f"{name} must be 1 or 0, not {value!r}")


def hour(name: str, default: str) -> int | None:
    """An hour of the day, 0 to 23; None for `off`. Anything else is refused."""
    value = text(name, default)
    if value == "off":
        return None
    if not (value.isascii() and value.isdigit() and int(value) <= 23):
        raise ImproperlyConfigured(f"{name} must be an hour from 0 to 23, or off, not {value!r}")
    return int(value)


def count(name: str, default: str) -> int:
    """A whole number, 0 or more. Anything else is refused."""
    value = text(name, default)
    if not (value.isascii() and value.isdigit()):
        raise ImproperlyConfigured(f"{name} must be a whole number, 0 or more, not {value!r}")
    return int(value)


def kept_secret(folder: Path) -> str:
    """A secret made once for the embedded mode and kept beside its database, readable by the owner only."""
    path = folder / "secret-key"
    if not path.exists():
        folder.mkdir(parents=True, exist_ok=True)
        draft = folder / f"secret-key.{os.getpid()}"
        draft.touch(mode=0o600)
        draft.write_text(secrets.token_urlsafe(50), encoding="utf-8")
        with contextlib.suppress(FileExistsError):   # another process was first: its key counts
            os.link(draft, path)
        draft.unlink()
    return path.read_text(encoding="utf-8")


def database(url: str, folder: Path, test_suffix: str = "") -> dict[str, Any]:
    """Django's DATABASES entry for `sqlite` (kept in `folder`), `sqlite:///path` or `postgres://user@host:port/name`."""
    parts = urlsplit(url)
    if url == "sqlite" or parts.scheme == "sqlite":
        path = Path(parts.path) if parts.scheme and parts.path else folder / "intervale.sqlite3"
        return {
            "ENGINE": "django.db.backends.sqlite3",
            "NAME": str(path),
            "OPTIONS": {
                # BEGIN IMMEDIATE waits for the lock; a deferred transaction that turns into a writer fails at once
                "transaction_mode": "IMMEDIATE",
                "timeout": 20,
                "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=NORMAL;",
            },
            # a file, because threads and worker processes of the tests must see the same database
            "TEST": {"NAME": str(folder / f"test{test_suffix}.sqlite3")},
        }
    if parts.scheme in {"postgres", "postgresql"}:
        return _postgres(parts, test_suffix)
    raise ImproperlyConfigured(f"INTERVALE_DATABASE must be sqlite or postgres://…, not {parts.scheme!r}")


def number(name: str, default: int, least: int, most: int) -> int:
    """A whole number within bounds; anything else is refused."""
    value = text(name, str(default))
    if not (value.isascii() and value.isdigit() and least <= int(value) <= most):
        raise ImproperlyConfigured(f"{name} must be a whole number from {least} to {most}, not {value!r}")
    return int(value)


def _postgres(parts: SplitResult, test_suffix: str) -> dict[str, Any]:
    """One connection a thread, kept for a minute; or a pool of the process; or a pooler in between, which keeps its own."""
    pool, pooler = number("INTERVALE_DATABASE_POOL", 0, 0, 200), flag("INTERVALE_DATABASE_POOLER")
    options: dict[str, Any] = {"connect_timeout": CONNECT_SECONDS}
    if pool:
        options["pool"] = {"min_size": 1, "max_size": pool, "timeout": CONNECT_SECONDS}
    return {
        "ENGINE": "django.db.backends.postgresql",
        "NAME": parts.path.lstrip("/"),
        "USER": unquote(parts.username or ""),
        "PASSWORD": unquote(parts.password or "") or text("INTERVALE_DATABASE_PASSWORD"),
        "HOST": parts.hostname or "",
        "PORT": str(parts.port or ""),
        "CONN_MAX_AGE": 0 if pool else 60,
        "CONN_HEALTH_CHECKS": True,
        # a pooler gives each transaction another connection: a cursor that outlives one is lost
        "DISABLE_SERVER_SIDE_CURSORS": pooler,
        "OPTIONS": options,
        "TEST": {"NAME": f"test_intervale{test_suffix}"},
    }
