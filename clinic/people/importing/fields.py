"""Fields that several sheets share, and short ways to make one."""

from __future__ import annotations

from collections.abc import Mapping

from clinic.people.importing import values
from clinic.people.importing.dates import read_date
from clinic.people.importing.sheet import Field


def text(code: str, label: str, *names: str, needed: bool = False, most: int = 200) -> Field:
    """Free text."""
    return Field(code, label, names, lambda cell, _: values.read_text(cell, most), needed)


def day(code: str, label: str, *names: str, needed: bool = False, short_years: bool = True) -> Field:
    """A calendar day."""
    return Field(
        code, label, names, lambda cell, reading: read_date(cell, reading.order, short_years=short_years),
        needed, has_days=True,
    )


def whole(code: str, label: str, *names: str, least: int, most: int) -> Field:
    """A whole number within bounds."""
    return Field(code, label, names, lambda cell, _: values.read_whole(cell, least, most))


def number(code: str, label: str, *names: str, least: float, most: float) -> Field:
    """A number within bounds."""
    return Field(code, label, names, lambda cell, _: values.read_number(cell, least, most))


def yes_no(code: str, label: str, *names: str) -> Field:
    """Yes or no."""
    return Field(code, label, names, lambda cell, _: values.read_yes_no(cell))


def choice(code: str, label: str, words: Mapping[str, str], *names: str, needed: bool = False) -> Field:
    """One of a list of words."""
    return Field(code, label, names, lambda cell, _: values.read_choice(cell, words, label.lower()), needed)


CLIENT = (
    text("client_ref", "Client number", "client no", "client id", "patient no", "patient id", "client", "patient", most=64),
    Field(
        "client_name", "Client name", ("name", "full name", "patient name", "client", "patient"),
        lambda cell, _: values.read_name(cell),
    ),
)
CLIENT_KNOWN_BY = ("client_ref", "client_name")
CLINICIAN = text("clinician", "Clinician", "practitioner", "therapist", "seen by", "with", "provider", most=254)
