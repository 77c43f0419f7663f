"""The forms of trust's pages. They parse; the actions decide."""

from __future__ import annotations

from django import forms


class ErasingForm(forms.Form):
    name = forms.CharField(label="The client's full name", max_length=250, help_text="Type it to show that you mean it.")


class OpeningForm(forms.Form):
    name = forms.CharField(label="Full name", max_length=240, help_text="As it is registered: first name and family name.")
    born = forms.DateField(label="Birth date", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    reason = forms.CharField(
        label="Why you need this record", max_length=300, widget=forms.Textarea(attrs={"rows": 3}),
        help_text="The practice lead reads this. Leave the client's name out of it.",
    )
