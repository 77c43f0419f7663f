"""The form of a screening. It parses; the action decides."""

from __future__ import annotations

from typing import Any

from django import forms

from programs.prescribing.actions.record_screening import MOST_NOTE
from programs.prescribing.vocab import Disease, Intensity, ScreeningFlag, Sign

NONE = ("none", "None of these")   # ticked, so that a question passed over is told apart from a no


class Answered(forms.MultipleChoiceField):
    """Any of some answers, or none of them said out loud. Cleans to the codes, empty for none."""

    widget = forms.CheckboxSelectMultiple

    def __init__(self, *, choices: list[tuple[str, str]], label: str) -> None:
        super().__init__(
            choices=[*choices, NONE], label=label,
            error_messages={"required": "Tick what was answered with yes, or “None of these”."},
        )

    def clean(self, value: Any) -> list[str]:
        """The codes that were answered with yes."""
        codes = super().clean(value)
        if NONE[0] in codes and len(codes) > 1:
            raise forms.ValidationError("“None of these” goes with nothing else ticked.")
        return [code for code in codes if code != NONE[0]]


class ScreeningForm(forms.Form):
    """The questions, each to be answered."""

    red_flags = Answered(label="Any of these?", choices=ScreeningFlag.choices)
    signs = Answered(label="Any of these, at rest or in effort?", choices=Sign.choices)
    diseases = Answered(label="A disease that is known?", choices=Disease.choices)
    active = forms.ChoiceField(
        label="Has the client exercised at least 30 minutes, on 3 days a week or more, for the last 3 months?",
        choices=[("yes", "Yes"), ("no", "No")], widget=forms.RadioSelect,
        error_messages={"required": "Answer yes or no."},
    )
    intensity = forms.ChoiceField(
        label="The hardest that is planned", choices=Intensity.choices, initial=Intensity.LIGHT_MODERATE,
        widget=forms.RadioSelect,
    )
    cleared_on = forms.DateField(
        label="A doctor who knows of this allowed exercise on", required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="It counts for twelve months. Leave it empty when nobody was asked.",
    )
    note = forms.CharField(label="Note", max_length=MOST_NOTE, required=False, widget=forms.Textarea(attrs={"rows": 2}))

    def answers(self) -> dict[str, Any]:
        """As the action takes them. Only after `is_valid`."""
        return {**self.cleaned_data, "active": self.cleaned_data["active"] == "yes"}
