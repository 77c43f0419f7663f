"""A clinic as one JSON file: site, rooms, visit types, staff with their hours. Loading it again changes what differs."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from datetime import date, time
from pathlib import Path
from typing import Any, TypeVar

from dateutil.rrule import rrulestr
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Model

from clinic.booking.models import Room, VisitType, WorkingHours
from clinic.people.models import Site, Staff, User
from clinic.people.rules import contacts, zones
from clinic.people.vocab import Role

Row = TypeVar("Row", bound=Model)
STAFF_ROLES = (Role.FRONT_DESK, Role.CLINICIAN, Role.LEAD)


class BadClinicFile(ValueError):
    """What cannot be used, with its place in the file."""


@transaction.atomic
def load_clinic(path: Path) -> Site:
    """Create or update everything the file names, all or nothing. BadClinicFile says where it is wrong.

    Rows that the file does not name stay as they are; nobody gets a password: staff choose theirs by the link that
    "Forgotten it?" mails them.
    """
    try:
        data = json.loads(path.read_text("utf-8"))
    except ValueError as error:
        raise BadClinicFile(f"{path.name} is not JSON: {error}") from error
    site = _site(_part(data, "site"))
    for index, room in enumerate(data.get("rooms", [])):
        _put(Room, f"rooms[{index}]", {"site": site, "name": _text(room, "name", f"rooms[{index}]")}, room)
    for index, kind in enumerate(data.get("visit_types", [])):
        names = kind.get("names", {})
        if not isinstance(names, dict) or not all(isinstance(name, str) and name.strip() for name in names.values()):
            raise BadClinicFile(f'visit_types[{index}].names: must be a name for each language: {{"es": "Seguimiento"}}')
        _put(VisitType, f"visit_types[{index}]", {"code": _text(kind, "code", f"visit_types[{index}]")}, kind)
    for index, person in enumerate(data.get("staff", [])):
        _staff(site, person, f"staff[{index}]")
    return site


def _site(given: Mapping[str, Any]) -> Site:
    values = dict(given)
    _read(values, "zone", "site", lambda name: zones.zone(name).key)
    values["phone"] = contacts.clean_phone(_text(values, "phone", "site"), _text(values, "region_code", "site"))
    return _put(Site, "site", {"name": _text(values, "name", "site")}, values)


def _staff(site: Site, given: Mapping[str, Any], where: str) -> None:
    values = dict(given)
    _read(values, "email", where, contacts.clean_email)
    if values.get("role") not in STAFF_ROLES:
        raise BadClinicFile(f"{where}.role: must be one of {', '.join(STAFF_ROLES)}")
    user = User.objects.filter(email=values["email"]).first() or User.objects.create_user(values["email"], values["role"])
    if user.role != values["role"]:
        raise BadClinicFile(f"{where}.role: this address already signs in as {user.role}")
    details = {"name": _text(values, "name", where), "credentials": values.get("credentials", "")}
    person = _put(Staff, where, {"user": user}, details)
    person.sites.add(site)
    for index, hours in enumerate(values.get("hours", [])):
        _hours(person, site, hours, f"{where}.hours[{index}]")


def _hours(person: Staff, site: Site, given: Mapping[str, Any], where: str) -> None:
    values = dict(given)
    for name, read in (("rule", _rule), ("first_day", date.fromisoformat), ("starts", time.fromisoformat),
                       ("ends", time.fromisoformat)):
        _read(values, name, where, read)
    key = {"clinician": person, "site": site, "rule": values["rule"], "starts": values["starts"]}
    _put(WorkingHours, where, key, values)


def _rule(text: str) -> str:
    rrulestr(text)
    return text


def _read(values: dict[str, Any], name: str, where: str, read: Callable[[str], Any]) -> None:
    try:
        values[name] = read(_text(values, name, where))
    except ValueError as error:
        raise BadClinicFile(f"{where}.{name}: {error}") from error


def _part(data: Any, name: str) -> Mapping[str, Any]:
    if not isinstance(data, dict) or not isinstance(data.get(name), dict):
        raise BadClinicFile(f"{name}: is missing")
    part: Mapping[str, Any] = data[name]
    return part


def _text(values: Mapping[str, Any], name: str, where: str) -> str:
    value = values.get(name)
    if not isinstance(value, str) or not value.strip():
        raise BadClinicFile(f"{where}.{name}: is missing")
    return value.strip()


def _put(model: type[Row], where: str, key: dict[str, Any], values: Mapping[str, Any]) -> Row:
    row = model._default_manager.filter(**key).first() or model(**key)
    known = {field.name for field in model._meta.fields}
    unknown = set(values) - known - {"hours", "email", "role"}
    if unknown:
        raise BadClinicFile(f"{where}.{sorted(unknown)[0]}: is not known")
    for name, value in values.items():
        if name in known and name not in key:
            setattr(row, name, value)
    try:
        row.full_clean()
    except ValidationError as error:
        name, sentences = next(iter(error.message_dict.items()))
        raise BadClinicFile(f"{where}.{name}: {sentences[0]}") from error
    row.save()
    return row
