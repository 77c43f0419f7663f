"""The columns of the access matrix and how a row is written.

A row is `Row(method, route, kwargs, expect)`: `route` a URL name, `kwargs` the name of a maker in MAKERS (a function of
the cast giving the URL's arguments for a thing of Ada, Mina's client), `expect` one status per role in the order of ROLES.
302 for a visitor means: sent to sign in. 404 means the same answer as for a thing that does not exist.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from types import SimpleNamespace
from typing import Any

# the client and clinician Ada and Mina, another client and clinician Bo and Theo
ROLES = ("anonymous", "ada", "bo", "desk", "mina", "theo", "lead", "deactivated")


@dataclass(frozen=True)
class Row:
    """One route and method. `expect` holds a status per role of ROLES; `body` and `query` make the request valid."""

    method: str
    route: str
    expect: tuple[int, int, int, int, int, int, int, int]
    make: Callable[[SimpleNamespace], dict[str, Any]] = field(default=lambda cast: {})
    body: Callable[[SimpleNamespace], dict[str, Any]] | None = None
    query: Callable[[SimpleNamespace], dict[str, Any]] | None = None


def user_of(cast: SimpleNamespace, role: str) -> Any:
    """The cast's user in that column; None for a visitor."""
    users = {
        "anonymous": None, "ada": cast.ada.user, "bo": cast.bo.user, "desk": cast.desk.user, "mina": cast.mina.user,
        "theo": cast.theo.user, "lead": cast.lead.user, "deactivated": cast.gone,
    }
    return users[role]
