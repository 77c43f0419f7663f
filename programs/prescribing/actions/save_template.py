"""Keep a plan as a template of a site."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils.text import slugify

from clinic.people import audit
from clinic.people.models import Site, User
from clinic.people.refusal import Refusal
from programs.prescribing.actions.write_revision import refuse_bad_plan
from programs.prescribing.models import Template
from programs.prescribing.queries import levels_named, with_library
from programs.prescribing.rules.plan import Plan
from programs.prescribing.rules.plan_json import plan_to_json

MOST_NAME, MOST_SUMMARY = 80, 300


def wrong_words(name: str, summary: str) -> dict[str, str]:
    """What is wrong with a template's name and summary, by field."""
    wrong = {}
    if not slugify(name)[:48] or len(name.strip()) > MOST_NAME:
        wrong["name"] = f"Give the template a name of 1 to {MOST_NAME} characters, letters among them."
    if len(summary.strip()) > MOST_SUMMARY:
        wrong["summary"] = f"The summary can have {MOST_SUMMARY} characters at most."
    return wrong


@transaction.atomic
def save_template(*, by: User, site: Site, name: str, plan: Plan, now: datetime, summary: str = "") -> Template:
    """A template that this site's clinicians can choose. Notes to a client are left out.

    Refusal `invalid` (400), `name_taken` (409).
    """
    slug = slugify(name)[:48]
    levels = levels_named(plan)
    refuse_bad_plan(plan, levels, wrong_words(name, summary))
    # a template is for anybody: what was written to one client does not go with it
    plan = replace(plan, items=tuple(replace(item, note="") for item in plan.items))
    try:
        with transaction.atomic():
            template = Template.objects.create(
                site=site, slug=slug, name=name.strip(), summary=summary.strip(),
                plan=plan_to_json(with_library(plan, levels)),
            )
    except IntegrityError as error:
        sentence = "There is a template of this name. Choose another."
        raise Refusal("name_taken", sentence, fields={"name": sentence}) from error
    audit.record(by=by, verb="save_template", kind="template", public_id=template.public_id, at=now, client=None)
    return template
