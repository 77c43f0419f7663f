"""What a token may do, in plain words."""

from __future__ import annotations

from django.utils.translation import gettext_lazy as _

from programs.portal.vocab import Scope

SCOPES = [
    (Scope.PLAN.value, _("Read what is asked of me, and how it goes")),
    (Scope.LOG.value, _("Say for me what I did and how it felt")),
    (Scope.VISITS.value, _("Read my visits")),
    (Scope.CHANGE_VISITS.value, _("Confirm, move and cancel my visits")),
    (Scope.MEASURES.value, _("Read what was measured")),
    (Scope.REMINDERS.value, _("Read and choose my reminders")),
    (Scope.NOTES.value, _("Read and write notes to my clinician")),
]
# the same as a lead reads it
CLINIC_SCOPES = [
    (Scope.PLAN.value, "Read the program and how it goes"),
    (Scope.LOG.value, "Hand over sessions, mornings and red-flag answers"),
    (Scope.VISITS.value, "Read visits"),
    (Scope.CHANGE_VISITS.value, "Confirm, move and cancel visits"),
    (Scope.MEASURES.value, "Read what was measured"),
    (Scope.REMINDERS.value, "Read and choose reminders"),
    (Scope.NOTES.value, "Read and write notes"),
]
HOW_LONG = [(30, _("30 days")), (90, _("90 days")), (365, _("a year"))]
