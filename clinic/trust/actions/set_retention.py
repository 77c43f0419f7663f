"""Write down how long a site keeps what."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.models import Site, User
from clinic.people.refusal import Refusal
from clinic.trust import keeping
from clinic.trust.models import Retention
from clinic.trust.rules.keeping import LIMITS, wrong_settings


@transaction.atomic
def set_retention(*, by: User, site: Site, given: Mapping[str, int | None], now: datetime) -> Retention:
    """Nothing goes by this alone: `apply_retention` does it. The trail keeps the numbers. Refusal `invalid` (400) by field;
    NotThere but for a lead of the site."""
    site = Site.objects.select_for_update().get(pk=keeping.site_for(by, str(site.pk)).pk)
    if wrong := wrong_settings(given):
        raise Refusal("invalid", "Some values cannot be used.", status=400, fields=wrong)
    values = {name: given.get(name) for name in LIMITS}
    row, _ = Retention.objects.update_or_create(site=site, defaults={**values, "changed": now, "changed_by": by})
    audit.record(by=by, verb="set_retention", kind="site", public_id=site.pk, at=now, client=None, **values)
    return row
