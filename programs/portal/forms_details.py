"""The form of what we know about the client."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from clinic.people.actions.ask_correction import MOST_WORDS


class CorrectionForm(forms.Form):
    words = forms.CharField(
        label=_("What is wrong, and what is right?"), widget=forms.Textarea(attrs={"rows": 4, "maxlength": MOST_WORDS}),
        error_messages={"required": _("Write what is wrong first.")},
    )
