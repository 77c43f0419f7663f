"""Rename a template of a site, or describe it anew."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import User
from clinic.people.refusal import Refusal
from programs.prescribing.actions.save_template import wrong_words
from programs.prescribing.models import Template


@transaction.atomic
def edit_template(*, by: User, template: Template, name: str, summary: str, now: datetime) -> Template:
    """New words; the plan and the address stay. Refusal: `invalid` (400), `name_taken` (409)."""
    wrong = wrong_words(name, summary)
    if wrong:
        raise Refusal("invalid", "Some values cannot be used.", status=400, fields=wrong)
    template = Template.objects.select_for_update(of=("self",)).get(pk=template.pk)
    if Template.objects.filter(name__iexact=name.strip()).exclude(pk=template.pk).exists():
        sentence = "There is a template of this name. Choose another."
        raise Refusal("name_taken", sentence, fields={"name": sentence})
    changed = [part for part, text in (("name", name), ("summary", summary)) if getattr(template, part) != text.strip()]
    template.name, template.summary = name.strip(), summary.strip()
    template.save(update_fields=["name", "summary"])
    audit.record(
        by=by, verb="edit_template", kind="template", public_id=template.public_id, at=now, client=None, changed=changed
    )
    return template
