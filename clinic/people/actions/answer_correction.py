"""The practice answers what a client asked to have set right."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from clinic.people import audit
from clinic.people.corrections import correction_for
from clinic.people.models import Correction, User
from clinic.people.refusal import Refusal
from clinic.people.rules.plain_words import has_controls, tidy
from clinic.people.vocab import CorrectionOutcome

MOST_WORDS = 500


@transaction.atomic
def answer_correction(*, by: User, correction: Correction, outcome: str, reason: str, now: datetime) -> Correction:
    """Done, or left as it is for a reason that the client reads; once. The details themselves are set right elsewhere.

    Refusals: `invalid` (400) with the fields; `answered_already` (409). NotThere for whoever may not see the client.
    """
    correction_for(by, correction.public_id)
    row = Correction.objects.select_for_update(of=("self",)).select_related("client").get(pk=correction.pk)
    said, wrong = tidy(reason), {}
    if outcome not in (CorrectionOutcome.DONE, CorrectionOutcome.DECLINED):
        wrong["outcome"] = "Say whether it was set right or left as it is."
    if outcome == CorrectionOutcome.DECLINED and not said:
        wrong["reason"] = "The client is told why it stays as it is."
    elif len(said) > MOST_WORDS:
        wrong["reason"] = f"This can have {MOST_WORDS} letters at most."
    elif has_controls(said):
        wrong["reason"] = "This cannot hold control characters."
    if wrong:
        raise Refusal("invalid", "Some values cannot be used.", status=400, fields=wrong)
    if row.outcome != CorrectionOutcome.OPEN:
        raise Refusal("answered_already", "Somebody has answered this already.")
    row.outcome, row.reason, row.answered, row.answered_by = outcome, said, now, by
    row.save(update_fields=["outcome", "reason", "answered", "answered_by"])
    audit.record(
        by=by, verb="answer_correction", kind="correction", public_id=row.public_id, at=now, client=row.client,
        outcome=outcome,
    )
    return row
