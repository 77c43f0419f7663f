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


class KeepForm(forms.Form):
    why = forms.CharField(
        label="Why it stays", required=False, widget=forms.Textarea(attrs={"rows": 3, "maxlength": 300}),
        help_text="A court, an insurer or a complaint that goes on. Empty: it need not stay any more.",
    )


class RetentionForm(forms.Form):
    record_years = forms.IntegerField(label="A record that was put away: years", required=False)
    message_months = forms.IntegerField(label="What stood in a message: months", required=False)
    proof_days = forms.IntegerField(label="Sign-in links and sessions that are over: days", required=False)
    key_days = forms.IntegerField(label="Answers kept for requests that are sent twice: days", required=False)
