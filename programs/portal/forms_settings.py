"""The form of the reminders page."""

from __future__ import annotations

from datetime import time
from typing import Any, cast

from django import forms
from django.utils.translation import gettext_lazy as _

from clinic.people.vocab import Channel
from programs.following.rules.nudge import times

FIRST = [(Channel.EMAIL, _("By mail")), (Channel.SMS, _("By text message"))]
TIME = _("Write a time such as 21:00.")


def _time(label: object) -> forms.TimeField:
    return forms.TimeField(
        label=label,   # type: ignore[arg-type]   # a lazy sentence
        input_formats=["%H:%M", "%H:%M:%S"], error_messages={"required": TIME, "invalid": TIME},
        widget=forms.TimeInput(format="%H:%M", attrs={"type": "time"}),
    )


class RemindersForm(forms.Form):
    """Channels and the hours without messages."""

    channels = forms.MultipleChoiceField(
        label=_("How may we remind you?"), required=False, widget=forms.CheckboxSelectMultiple,
        choices=FIRST,
        error_messages={"invalid_choice": _("Choose one of the answers.")},
    )
    def __init__(self, *args: Any, with_devices: bool, **more: Any) -> None:
        super().__init__(*args, **more)
        if with_devices:
            field = cast(forms.MultipleChoiceField, self.fields["channels"])
            field.choices = [*FIRST, (Channel.PUSH, _("On my devices"))]

    quiet_from = _time(_("No messages from"))
    quiet_until = _time(_("until"))
    nudge_at = forms.TypedChoiceField(
        label=_("Remind me on days with a session"), required=False, coerce=time.fromisoformat, empty_value=None,
        choices=[("", _("Never")), *((each.isoformat("minutes"), each.isoformat("minutes")) for each in times())],
        error_messages={"invalid_choice": _("Choose one of the answers.")},
    )
