"""The form of the notes page."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy as _

from programs.following.rules.notes import MOST_TEXT


class NoteForm(forms.Form):
    """A note; `about` is the log id of the session it is about, `until` the newest note on the screen."""

    note_id = forms.UUIDField(widget=forms.HiddenInput)
    about = forms.UUIDField(widget=forms.HiddenInput, required=False)
    until = forms.UUIDField(widget=forms.HiddenInput, required=False)
    text = forms.CharField(
        label=_("Your note"), widget=forms.Textarea(attrs={"rows": 4, "maxlength": MOST_TEXT}), strip=False,
        error_messages={"required": _("Write something first.")},
    )
