"""The forms of following's pages. They parse; the actions decide."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any
from uuid import UUID, uuid4

from django import forms

from programs.following.rules.entry import ItemEntry, SessionEntry
from programs.following.rules.ruleset import Threshold
from programs.following.vocab import Rating
from programs.prescribing.rules.plan import ItemPlan, Plan

AMOUNTS = [("full", "All of it"), ("minimum", "The least"), ("half", "About half of the least"), ("none", "Not done")]
SCALE = [("", "No answer"), *((str(number), str(number)) for number in range(11))]


class DeclineForm(forms.Form):
    reason = forms.CharField(label="Why not", max_length=300)


def first_errors(form: forms.Form) -> dict[str, str]:
    """The first thing that is wrong with each field."""
    return {name: str(errors[0]) for name, errors in form.errors.items()}


class AlterForm(forms.Form):
    """What to do instead of what was suggested; only what the kind of suggestion takes is filled in."""

    level = forms.IntegerField(min_value=1, max_value=99, required=False)
    least = forms.IntegerField(min_value=1, max_value=3600, required=False)
    full = forms.IntegerField(min_value=1, max_value=3600, required=False)
    days = forms.IntegerField(min_value=1, max_value=366, required=False)
    effective_from = forms.DateField(required=False)
    note = forms.CharField(max_length=300, required=False)

    def chosen(self) -> dict[str, Any]:
        """As the action takes it. Only after `is_valid`."""
        given = self.cleaned_data
        least, full = given["least"] or given["full"], given["full"] or given["least"]
        return {
            "level": given["level"], "amount": (least, full) if least else None, "days": given["days"],
            "effective_from": given["effective_from"], "note": given["note"],
        }


class NoteForm(forms.Form):
    note = forms.CharField(label="What you did about it", max_length=2000, widget=forms.Textarea(attrs={"rows": 3}))


class WriteForm(forms.Form):
    """A note; `about` is the log id of the session it is about, `until` the newest note on the screen."""

    note_id = forms.UUIDField(widget=forms.HiddenInput)
    about = forms.UUIDField(widget=forms.HiddenInput, required=False)
    until = forms.UUIDField(widget=forms.HiddenInput, required=False)
    text = forms.CharField(
        label="Your note", widget=forms.Textarea(attrs={"rows": 4, "maxlength": 2000}), strip=False,
        error_messages={"required": "Write something first."},
    )


class WhatIfForm(forms.Form):
    """One threshold, another value as people write it, and how far to look back. `choices` groups the thresholds."""

    threshold = forms.ChoiceField(label="Threshold")
    value = forms.FloatField(
        label="Would be", widget=forms.NumberInput(attrs={"step": "any", "inputmode": "decimal"}),
        help_text="Counted as the threshold is: percent, days, points, sessions",
    )
    weeks = forms.TypedChoiceField(
        label="Over the last", choices=[(4, "4 weeks"), (8, "8 weeks"), (12, "12 weeks")], coerce=int, initial=4
    )

    def __init__(self, *args: Any, choices: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["threshold"] = forms.ChoiceField(label="Threshold", choices=choices)


class RuleSetForm(forms.Form):
    """Every threshold with a value to keep or change, as people write it, and why. Field names are the thresholds' own."""

    based_on = forms.IntegerField(widget=forms.HiddenInput, min_value=0, max_value=2**31 - 1)
    reason = forms.CharField(label="Why", max_length=200)

    def __init__(self, *args: Any, thresholds: Sequence[Threshold], labels: Mapping[str, str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rows = thresholds
        self.names = [row.name for row in thresholds]
        for row in thresholds:
            least, most, value = (row.written(number) for number in (row.least, row.most, row.value))
            self.fields[row.name] = forms.FloatField(
                label=labels[row.name], min_value=least, max_value=most, initial=f"{value:g}",
                widget=forms.NumberInput(attrs={"step": "1" if row.whole else "any", "inputmode": "decimal"}),
                help_text=f"{least:g} to {most:g} {row.measure}",
            )
        self.order_fields([*self.names, "reason", "based_on"])

    def values(self) -> dict[str, float]:
        """The thresholds as they are stored. Only after `is_valid`."""
        return {row.name: row.meant(self.cleaned_data[row.name]) for row in self.rows}


class LogForm(forms.Form):
    """One session on the client's behalf: the day, how it felt, and how much of each exercise."""

    log_id = forms.UUIDField(widget=forms.HiddenInput)
    day = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    pain_before = forms.ChoiceField(label="Pain before, 0 to 10", choices=SCALE, required=False)
    pain_during = forms.ChoiceField(label="Worst pain during, 0 to 10", choices=SCALE, required=False)
    effort = forms.ChoiceField(label="Effort, 0 to 10", choices=SCALE, required=False)
    rating = forms.ChoiceField(label="It was", choices=[("", "No answer"), *Rating.choices], required=False)
    words = forms.CharField(
        label="In the client's words", max_length=2000, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, plan: Plan, names: dict[UUID, str], today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.plan = plan
        self.fields["log_id"].initial, self.fields["day"].initial = uuid4(), today
        for item in plan.items:
            self.fields[f"item_{item.key.hex}"] = forms.ChoiceField(
                label=names.get(item.key, item.exercise), choices=AMOUNTS, initial="minimum"
            )

    def entry(self, revision: UUID) -> SessionEntry:
        """What was typed, as the log action takes it. Only after `is_valid`."""
        given = self.cleaned_data
        return SessionEntry(
            log_id=given["log_id"], edit=0, revision=revision, day=given["day"], pain_before=_number(given["pain_before"]),
            pain_during=_number(given["pain_during"]), effort=_number(given["effort"]), rating=given["rating"],
            words=given["words"].strip(),
            items=tuple(_item_entry(item, given[f"item_{item.key.hex}"]) for item in self.plan.items),
        )


def _number(text: str) -> int | None:
    return int(text) if text else None


def _item_entry(item: ItemPlan, amount: str) -> ItemEntry:
    if amount == "none":
        return ItemEntry(item.key)
    seconds = item.work("full" if amount == "full" else "minimum") // item.sides
    seconds = seconds // 2 if amount == "half" else seconds
    return ItemEntry(
        item.key, done_left=0 if item.side == "right" else seconds,
        done_right=seconds if item.side in {"right", "each"} else 0,
    )
