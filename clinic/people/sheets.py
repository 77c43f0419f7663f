"""The sheet of clients."""

from __future__ import annotations

import re
from collections.abc import Hashable
from datetime import date
from typing import Any

from clinic.people.actions.complete_client import complete_client
from clinic.people.actions.register_client import register_client
from clinic.people.importing import fields, values
from clinic.people.importing.cells import Cell, as_text
from clinic.people.importing.faults import Fault
from clinic.people.importing.lookups import client_marks, plain_name
from clinic.people.importing.sheet import Context, Field, Reading, Row, Saved, Sheet, register
from clinic.people.models import Client
from clinic.people.vocab import ConditionCode

_LANGUAGES = {"en": "en", "english": "en", "es": "es", "spanish": "es", "espanol": "es", "castellano": "es"}
_CONDITIONS = {" ".join(re.findall(r"[^\W_]+", text.casefold())): code for code, label in ConditionCode.choices
               for text in (code, label)}
_FILLED = {"birth_date": "birth date", "email": "mail address", "phone": "phone number", "external_ref": "number"}


def _conditions(cell: Cell, _: Reading) -> tuple[str, ...]:
    parts = [part.strip() for part in re.split(r"[;,/]", as_text(cell)) if part.strip()]
    return tuple(values.read_choice(part, _CONDITIONS, "screening answer") for part in parts)


FIELDS = (
    fields.text(
        "client_ref", "Client number", "client no", "client id", "id", "number", "no", "ref", "patient no",
        "patient id", most=64,
    ),
    Field("client_name", "Name", ("full name", "client name", "client"), lambda cell, _: values.read_name(cell)),
    Field(
        "given_name", "First name", ("given name", "forename", "christian name", "nombre"),
        lambda cell, _: values.read_name(cell), needed=True,
    ),
    Field(
        "family_name", "Family name", ("surname", "last name", "apellido", "apellidos"),
        lambda cell, _: values.read_name(cell),
    ),
    fields.day("birth_date", "Birth date", "date of birth", "dob", "born", "birthday", short_years=False),
    Field(
        "email", "Mail address", ("email", "e mail", "mail", "email address"), lambda cell, _: values.read_email(cell)
    ),
    Field(
        "phone", "Phone", ("telephone", "tel", "mobile", "mobile phone", "phone number", "mobile no", "contact number"),
        lambda cell, reading: values.read_phone(cell, reading.region_code),
    ),
    fields.choice("language", "Language", _LANGUAGES, "lang", "spoken language"),
    fields.yes_no("consent_email", "Agrees to email", "email consent", "email ok", "mail ok"),
    fields.yes_no("consent_sms", "Agrees to text messages", "sms consent", "sms ok", "text ok"),
    Field("conditions", "Screening answers", ("precautions", "conditions", "medical alerts"), _conditions),
)


def _names(row: Row) -> tuple[str, str]:
    """(first name, family name). A single name is all first name; `Quill, Ada` and `Ada Quill` are the same person."""
    if row.get("given_name"):
        return row["given_name"], row.get("family_name")
    family, comma, given = row.get("client_name").partition(",")
    if comma:
        return given.strip(), family.strip()
    given, _, family = row.get("client_name").partition(" ")
    return given, family


def _key(row: Row) -> Hashable | None:
    return ("ref", row["client_ref"]) if row.get("client_ref") else None


def _same_person(row: Row, context: Context) -> Client | None:
    """A client of the site with this name and the same birth date; or, one having none, the same phone or mail."""
    name = plain_name(" ".join(_names(row)))
    everyone = Client.objects.select_related("site", "user").filter(site=context.site)
    for field in ("birth_date", "phone", "email"):
        if not row.get(field):
            continue
        for client in everyone.filter(**{field: row[field]}):
            other_birth = row.get("birth_date") and client.birth_date and row["birth_date"] != client.birth_date
            if plain_name(client.name) == name and not other_birth:
                return client
    return None


def _existing(row: Row, context: Context) -> Client | None:
    """The client this row is about, if already there. Fault duplicate_client when the row names them a second time."""
    lines: dict[int, int] = context.memo.setdefault("client_lines", {})
    ref = row.get("client_ref")
    if ref:
        known = Client.objects.select_related("site", "user").filter(site=context.site, external_ref=ref).first()
        if known:
            lines[known.pk] = row.line
            return known
    same = _same_person(row, context)
    if same is None:
        return None
    if same.pk in lines:
        raise Fault("duplicate_client", f"This is the person of line {lines[same.pk]}.", "Keep one of the two rows.")
    if ref and same.external_ref:
        raise Fault(
            "duplicate_client", "A client with this name and birth date is there under another number.",
            "Use the number the client already has, or correct the birth date.", "client_ref",
        )
    lines[same.pk] = row.line
    return same


def _save(row: Row, context: Context) -> Saved:
    given, family = _names(row)
    if not given:
        raise Fault("missing_value", "The row names nobody.", "Fill in a name.", "given_name")
    if not any(row.get(field) for field in ("client_ref", "birth_date", "phone", "email")):
        raise Fault(
            "cannot_identify", "A name alone cannot be told from a namesake when the sheet comes a second time.",
            "Add a client number, birth date, phone number or mail address.",
        )
    known = _existing(row, context)
    if known:
        return _complete(known, row, context)
    client = register_client(
        by=context.by, site=context.site, given_name=given, family_name=family, now=context.now,
        birth_date=row.get("birth_date", None), email=row.get("email"), phone=row.get("phone"),
        language=row.get("language", "en"), conditions=row.get("conditions", ()),
        consent_email=row.get("consent_email", False), consent_sms=row.get("consent_sms", False),
        external_ref=row.get("client_ref"),
    )
    context.memo["client_lines"][client.pk] = row.line
    return Saved("new")


def _complete(client: Client, row: Row, context: Context) -> Saved:
    """Fill what was empty; what differs stays as it is here, and is remarked on."""
    offered: dict[str, Any] = {name: row.get(name) for name in ("email", "phone")}
    birth: date | None = row.get("birth_date", None)
    offered |= {"birth_date": birth, "external_ref": row.get("client_ref")}
    filled = complete_client(by=context.by, client=client, now=context.now, **offered)
    remarks = tuple(
        (f"{name}_differs", f"The {_FILLED[name]} here is another one; it was kept.")
        for name, value in offered.items()
        if value and name not in filled and getattr(client, name) != value
    )
    if plain_name(client.name) != plain_name(" ".join(_names(row))):
        remarks += (("name_differs", "The name here is another one; it was kept."),)
    return Saved("updated" if filled else "unchanged", remarks)


CLIENTS = Sheet(
    code="clients", label="Clients", fields=FIELDS, requires=(("given_name", "client_name"),), key=_key, save=_save,
    mends={
        "email_taken": "Give each person an address of their own, or leave it empty.",
        "invalid": "Correct the value.",
    },
    marks=client_marks,
)
register(CLIENTS)
