"""The form of a calendar at a secret address."""

from __future__ import annotations

from typing import Any

from django import forms

OWN = "own"


class FeedForm(forms.Form):
    """Whose time: one's own visits (clinicians), or a room's."""

    of = forms.ChoiceField(
        label="What should be in it?",
        error_messages={"required": "Choose what should be in it.", "invalid_choice": "Choose one from the list."},
    )

    def __init__(self, *args: Any, rooms: list[tuple[str, str]], own: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        mine = [(OWN, "My own visits")] if own else []
        self.fields["of"].choices = [*mine, *rooms]   # type: ignore[attr-defined]
