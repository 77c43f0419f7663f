"""The forms of tokens."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from programs.portal.wording_tokens import CLINIC_SCOPES, HOW_LONG, SCOPES

WHAT = _("Choose what it may do.")
NAME = _("Give it a name of up to 60 letters, so that you know it again.")


class TokenForm(forms.Form):
    """A name, what it may do, and for how long."""

    label = forms.CharField(
        label=_("What is it for?"), max_length=60, error_messages={"required": NAME, "max_length": NAME},
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    scopes = forms.MultipleChoiceField(
        label=_("What may it do?"), choices=SCOPES, widget=forms.CheckboxSelectMultiple,
        error_messages={"required": WHAT, "invalid_choice": WHAT},
    )
    days = forms.TypedChoiceField(
        label=_("For how long?"), choices=HOW_LONG, coerce=int, initial=90, widget=forms.RadioSelect,
        error_messages={"required": _("Choose how long it holds."), "invalid_choice": _("Choose how long it holds.")},
    )


class SiteTokenForm(TokenForm):
    """The same for a clinic's own portal, at one of the lead's sites."""

    site = forms.ChoiceField(label="For which site?")

    def __init__(self, *args: Any, sites: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["scopes"].choices = CLINIC_SCOPES   # type: ignore[attr-defined]
        self.fields["site"].choices = sites   # type: ignore[attr-defined]
