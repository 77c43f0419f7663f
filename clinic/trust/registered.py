"""The register as it stands, tied to the models it names."""

from __future__ import annotations

import json
from collections.abc import Iterator
from functools import cache
from typing import Any

from django.apps import apps
from django.conf import settings
from django.db.models import Model, QuerySet

from clinic.people.models import Client
from clinic.trust.rules.register import Entry, read

PLACES = ("clinic.", "programs.", "dashboards.")   # our own models; the libraries' are named where they are handled


@cache
def register() -> dict[str, Entry]:
    """Every entry, by model label."""
    return read(json.loads((settings.ROOT / "fixtures" / "privacy" / "register.json").read_text(encoding="utf-8")))


def own_models() -> dict[str, type[Model]]:
    """Our models, by label."""
    return {model._meta.label: model for model in apps.get_models() if model.__module__.startswith(PLACES)}


def fields_of(model: type[Model]) -> list[str]:
    """Names of the model's stored fields."""
    return [field.name for field in model._meta.concrete_fields]


def rows_about(client: Client) -> Iterator[tuple[Entry, QuerySet[Any]]]:
    """(entry, rows) of each model that holds something about this client, in the register's order."""
    models = own_models()
    for entry in register().values():
        if entry.path is not None:
            where = {entry.path or "pk": client.pk}
            yield entry, models[entry.label]._base_manager.filter(**where).order_by("pk")
