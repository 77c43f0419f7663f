"""The sheet of program assignments: who was given which template, and from when on."""

from __future__ import annotations

import re
from collections.abc import Hashable

from django.db.models import Q

from clinic.people.actions.open_episode import open_episode
from clinic.people.importing import fields
from clinic.people.importing.faults import Fault
from clinic.people.importing.keys import derived_ref
from clinic.people.importing.lookups import client_of, clinician_of
from clinic.people.importing.sheet import Context, Row, Saved, Sheet, register
from clinic.people.models import Client, Episode, Staff
from clinic.people.rules.contacts import search_form
from clinic.people.vocab import BodySide, EpisodeStatus, Region, Role
from programs.prescribing.actions.prescribe_program import prescribe_program
from programs.prescribing.models import Program, Template
from programs.prescribing.rules.plan_json import plan_from_json


def _plain(text: str) -> str:
    return " ".join(re.findall(r"[^\W_]+", search_form(text)))


_REGIONS = {_plain(text): code for code, label in Region.choices for text in (code, label)}
_REGIONS |= {"foot": Region.FOOT_ANKLE, "ankle": Region.FOOT_ANKLE, "back": Region.TRUNK, "low back": Region.TRUNK}
_REGIONS |= {"wrist": Region.WRIST_HAND, "hand": Region.WRIST_HAND}
_SIDES = {"left": "left", "l": "left", "right": "right", "r": "right", "both": "both", "both sides": "both", "none": "none"}

FIELDS = (
    *fields.CLIENT,
    fields.text("external_ref", "Program number", "program id", "assignment id", "program ref", "ref", most=64),
    fields.text("template", "Program", "template", "home program", "protocol", needed=True),
    fields.day("starts", "Start date", "start", "starts", "first day", "assigned", "assigned on", "date", needed=True),
    fields.CLINICIAN,
    fields.choice("region", "Body region", _REGIONS, "region", "area", "body part"),
    fields.choice("side", "Side", _SIDES, "affected side"),
    fields.text("complaint", "Complaint", "reason", "problem", "presenting with"),
)


def _key(row: Row) -> Hashable | None:
    if row.get("external_ref"):
        return row["external_ref"]
    return row.get("client_ref") or row.get("client_name"), row.get("template"), row.get("starts")


def _save(row: Row, context: Context) -> Saved:
    client = client_of(row, context)
    clinician = clinician_of(row, context)
    if context.by.role == Role.CLINICIAN and clinician.user_id != context.by.pk:
        raise Fault(
            "not_yours", "A clinician can bring in programs of their own only.", "Let the practice lead import this.",
            "clinician",
        )
    template = _template(row, context)
    number = row.get("external_ref") or derived_ref(client.public_id, template.slug, row["starts"].isoformat())
    known = Program.objects.filter(client=client, external_ref=number).first()
    if known:
        if known.starts == row["starts"]:
            return Saved("unchanged")
        return Saved("unchanged", (("starts_differs", "The program here starts on another day; it was kept."),))
    prescribe_program(
        by=context.by, episode=_episode(row, context, client, clinician, template),
        plan=plan_from_json(template.plan, row["starts"]), title=template.name, starts=row["starts"], now=context.now,
        external_ref=number,
    )
    return Saved("new")


def _template(row: Row, context: Context) -> Template:
    if "templates" not in context.memo:
        usable = Template.objects.filter(Q(site__isnull=True) | Q(site=context.site))
        context.memo["templates"] = {_plain(text): one for one in usable for text in (one.slug, one.name)}
    known: dict[str, Template] = context.memo["templates"]
    found = known.get(_plain(row["template"]))
    if found is None:
        names = ", ".join(sorted({template.name for template in known.values()}))
        raise Fault("unknown_template", "There is no such program template.", f"Use one of: {names}.", "template")
    return found


def _episode(row: Row, context: Context, client: Client, clinician: Staff, template: Template) -> Episode:
    """The client's open episode with this clinician (and for this region, when the row names one), or a new one."""
    mine = Episode.objects.filter(client=client, lead=clinician, status=EpisodeStatus.ACTIVE)
    if row.get("region"):
        mine = mine.filter(region=row["region"])
    found = mine.select_related("client__site", "lead__user").first()
    if found:
        return found
    if not row.get("region"):
        raise Fault(
            "missing_value", "There is no open episode for this program, and the row names no region for a new one.",
            "Fill in the body region.", "region",
        )
    return open_episode(
        by=context.by, client=client, lead=clinician, region=row["region"], side=row.get("side", BodySide.NONE),
        complaint=row.get("complaint") or template.name, opened=row["starts"], now=context.now,
    )


PROGRAMS = Sheet(
    code="programs", label="Program assignments", fields=FIELDS, after=("clients", "visits"), key=_key, save=_save,
    requires=(fields.CLIENT_KNOWN_BY, ("template",), ("starts",), ("clinician",)),
    mends={
        "already_open": "Keep the program that is followed now; end the other before it is brought in.",
        "contraindicated": "Prescribe this one in Intervale, where a clinician can say why it is safe.",
        "episode_closed": "Open a new episode first.",
    },
)
register(PROGRAMS)
