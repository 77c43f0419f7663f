"""What a request for a dashboard asks for, and a figure on its way into the page."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import date, datetime
from html import unescape
from typing import Any

import plotly.graph_objects as go
from django.http import HttpRequest
from django.utils import timezone

from clinic.people.access import me
from clinic.people.rules import zones
from clinic.people.vocab import Role
from dashboards.figures.look import whole_ticks
from dashboards.read_models.people import chosen_clinician, clinicians, staff_zone

VIEWERS = (Role.CLINICIAN, Role.LEAD)


@dataclass(frozen=True)
class Asked:
    """Who asks, when, and of whom: `clinician` None is one's whole caseload; `choices` are whom the lead may choose."""

    user: Any
    now: datetime
    today: date
    clinician: Any
    choices: list[Any]
    zone: str

    @property
    def context(self) -> dict[str, Any]:
        return {"clinician": self.clinician, "choices": self.choices}


def asked(request: HttpRequest) -> Asked:
    """Read `?clinician=`. NotThere for a clinician who cannot be chosen."""
    user, now = me(request), timezone.now()
    zone = staff_zone(user)
    choices = list(clinicians(user))
    chosen = chosen_clinician(choices, request.GET.get("clinician", ""))
    return Asked(user, now, zones.day_in(now, zone), chosen, choices, zone)


@dataclass(frozen=True)
class Chart:
    """A figure for parts/chart.html; `name` is its own on its page, `key` are (sign, words) of what its cells mean."""

    name: str
    title: str
    figure: dict[str, Any]
    wide: bool = False
    key: list[tuple[str, str]] = field(default_factory=list)

    @property
    def id(self) -> str:
        return f"figure-{self.name}"


def chart(name: str, figure: go.Figure, *, wide: bool = False, key: list[tuple[str, str]] | None = None) -> Chart:
    """The figure as plain values, its title as the heading."""
    return Chart(name, unescape(figure.layout.title.text), json.loads(whole_ticks(figure).to_json()), wide, key or [])
