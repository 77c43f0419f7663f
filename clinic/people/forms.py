"""The forms of people's pages. They parse; the actions decide."""

from __future__ import annotations

from typing import Any

from django import forms

from clinic.people.vocab import BodySide, ConditionCode, CorrectionOutcome, CorrectionReason, Region

LANGUAGES = [("en", "English"), ("es", "Español")]


class ClientForm(forms.Form):
    site = forms.ChoiceField(label="Site")
    given_name = forms.CharField(label="First name", max_length=120)
    family_name = forms.CharField(label="Family name", max_length=120, required=False)
    birth_date = forms.DateField(
        label="Birth date", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    email = forms.CharField(
        label="Mail address", max_length=254, required=False, help_text="The client signs in with a code or link sent here."
    )
    phone = forms.CharField(label="Phone", max_length=40, required=False)
    language = forms.ChoiceField(label="Language", choices=LANGUAGES)
    conditions = forms.MultipleChoiceField(
        label="Screening: what applies today", choices=ConditionCode.choices, required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text="Exercises that do not go with these are refused or marked when a program is written.",
    )
    consent_email = forms.BooleanField(label="The client agreed to reminders by mail", required=False)
    consent_sms = forms.BooleanField(label="The client agreed to text messages", required=False)

    def __init__(self, *args: Any, sites: list[tuple[str, str]], clinical: bool, **kwargs: Any) -> None:
        """`clinical`: whether the answers about health are asked here; the desk leaves them to a clinician."""
        super().__init__(*args, **kwargs)
        if not clinical:
            del self.fields["conditions"]
        self.fields["site"].choices = sites  # type: ignore[attr-defined]
        if len(sites) == 1:
            self.fields["site"].widget = forms.HiddenInput()
            self.fields["site"].initial = sites[0][0]


class DetailsForm(forms.Form):
    given_name = forms.CharField(label="First name", max_length=120)
    family_name = forms.CharField(label="Family name", max_length=120, required=False)
    birth_date = forms.DateField(
        label="Birth date", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    email = forms.CharField(label="Mail address", max_length=254, required=False)
    phone = forms.CharField(label="Phone", max_length=40, required=False)
    language = forms.ChoiceField(label="Language", choices=LANGUAGES)
    zone = forms.CharField(label="Time zone", max_length=64, help_text="As in Europe/London.")
    why = forms.ChoiceField(label="How it came up", choices=CorrectionReason.choices)


class AnswerForm(forms.Form):
    outcome = forms.ChoiceField(
        label="What became of it", choices=[one for one in CorrectionOutcome.choices if one[0] != CorrectionOutcome.OPEN],
        widget=forms.RadioSelect,
    )
    reason = forms.CharField(
        label="What the client reads", required=False, widget=forms.Textarea(attrs={"rows": 3, "maxlength": 500}),
        help_text="Needed when it stays as it is. The client reads it in the portal.",
    )


class EpisodeForm(forms.Form):
    lead = forms.ChoiceField(label="Clinician")
    region = forms.ChoiceField(label="Region", choices=Region.choices)
    side = forms.ChoiceField(label="Side", choices=BodySide.choices, initial=BodySide.NONE)
    complaint = forms.CharField(label="What it is about", max_length=200)
    goals = forms.CharField(
        label="Goals, in the client's words", max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 3})
    )
    visits_allowed = forms.IntegerField(label="Visits the referral allows", required=False, min_value=1, max_value=200)
    referral_expires = forms.DateField(
        label="The referral runs out on", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def __init__(self, *args: Any, clinicians: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["lead"].choices = clinicians  # type: ignore[attr-defined]


def put_refusal(form: forms.Form, fields: dict[str, str]) -> None:
    """Show an action's field sentences beside the fields; what was typed stays."""
    for name, sentence in fields.items():
        if name in form.fields:
            form.add_error(name, sentence)
