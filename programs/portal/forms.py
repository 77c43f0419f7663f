"""The forms of the client's pages. They parse and keep what was typed; following's actions decide."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django import forms
from django.utils.formats import date_format
from django.utils.translation import gettext as _now
from django.utils.translation import gettext_lazy as _

from programs.following.vocab import Rating, RedFlag, SkipReason
from programs.portal.queries.today import Card
from programs.portal.rules.answers import MOST_SECONDS, has_range
from programs.portal.vocab import HowMuch
from programs.portal.wording import day_in_words, way_in_words

SCALE = [(number, str(number)) for number in range(11)]
DAYS_BACK = 6   # a session can be told about up to this many days later
HOW_MUCH = [
    (HowMuch.FULL, _("All of it")),
    (HowMuch.MINIMUM, _("The least that counts")),
    (HowMuch.PARTLY, _("Only a part")),
    (HowMuch.NOT, _("Not this time")),
]
REASONS = [
    ("", _("Choose a reason")),
    (SkipReason.PAIN, _("It hurt")),
    (SkipReason.NO_TIME, _("I had no time")),
    (SkipReason.FORGOT, _("I forgot")),
    (SkipReason.UNWELL, _("I felt unwell")),
    (SkipReason.NO_EQUIPMENT, _("I did not have the things for it")),
]
RATINGS = [(Rating.TOO_EASY, _("Too easy")), (Rating.ABOUT_RIGHT, _("About right")), (Rating.TOO_HARD, _("Too hard"))]
RED_FLAGS = [
    (RedFlag.CHEST_PAIN, _("I have chest pain, I fainted, or I suddenly cannot get my breath")),
    (RedFlag.FACE_ARM_SPEECH, _("My face, arm or leg is suddenly weak, or my speech is odd")),
    (RedFlag.SADDLE_NUMBNESS, _("I am newly numb between my legs, or I cannot control my bladder or bowel")),
    (RedFlag.BOTH_LEGS_WEAK, _("Both my legs are newly weak")),
    (RedFlag.CALF_SWELLING, _("One calf is newly swollen, warm or sore to touch")),
]


NO_PAIN = _("0 is no pain. 10 is the worst you can think of.")
NUMBER = _("Choose a number from 0 to 10.")
ANSWERS = _("Choose one of the answers.")


def _scale(label: Any, help_text: Any = "", *, required: bool = False) -> forms.TypedChoiceField:
    return forms.TypedChoiceField(
        label=label, help_text=help_text, choices=SCALE, coerce=int, empty_value=None, required=required,
        widget=forms.RadioSelect,
        error_messages={"required": NUMBER, "invalid_choice": NUMBER},
    )


def _seconds(label: Any) -> forms.IntegerField:
    words = _("Seconds are a whole number from 0 to 7200.")   # MOST_SECONDS
    return forms.IntegerField(
        label=label, required=False, min_value=0, max_value=MOST_SECONDS,
        error_messages={"invalid": words, "min_value": words, "max_value": words},
        widget=forms.NumberInput(attrs={"inputmode": "numeric"}),
    )


class ItemForm(forms.Form):
    """One exercise: how much of it, and why not."""

    done = forms.ChoiceField(
        label=_("How much did you do?"), widget=forms.RadioSelect, choices=HOW_MUCH,
        error_messages={"required": _("Say how much you did of this one."), "invalid_choice": ANSWERS},
    )
    skipped = forms.ChoiceField(label=_("Why not?"), choices=REASONS, required=False)
    left = _seconds(_("Seconds on the left"))
    right = _seconds(_("Seconds on the right"))
    level = forms.TypedChoiceField(
        label=_("Which level today?"), coerce=int, empty_value=None, required=False, widget=forms.RadioSelect,
        help_text=_("You do as much of it as planned."),
        error_messages={"invalid_choice": _("Choose one of the levels shown.")},
    )
    rating = forms.ChoiceField(label=_("How was it?"), choices=[("", _("No answer")), *RATINGS], required=False)

    def __init__(self, *args: Any, card: Card, **kwargs: Any) -> None:
        item = card.item
        super().__init__(*args, **{**kwargs, "prefix": str(item.key)})
        self.item = item
        if card.beside:
            self.fields["level"].choices = _levels(card)  # type: ignore[attr-defined]
        else:
            del self.fields["level"]
        if not has_range(item):
            self.fields["done"].choices = [pair for pair in HOW_MUCH if pair[0] != HowMuch.MINIMUM]  # type: ignore[attr-defined]
        if item.side not in {"each", "left", "right"}:
            self.fields["left"].label = _("Seconds")
        if item.side != "each":
            del self.fields["left" if item.side == "right" else "right"]

    @property
    def more(self) -> list[forms.BoundField]:
        """The answers that are rarely given."""
        return [self[name] for name in ("left", "right", "rating") if name in self.fields]

    def clean(self) -> dict[str, Any]:
        values = super().clean() or {}
        if values.get("done") == HowMuch.NOT and not values.get("skipped"):
            self.add_error("skipped", _now("Choose a reason. It helps your clinician to help you."))
        return values


def _levels(card: Card) -> list[tuple[str, str]]:
    """The prescribed level first, then those that the clinician left to the client."""
    return [("", _now("As planned: %(level)s") % {"level": card.level_words.name})] + [
        (str(other.level.number), way_in_words(other)) for other in card.beside
    ]


class SessionForm(forms.Form):
    """The session as a whole. `log_id` and `revision` were written when the page was made."""

    log_id = forms.UUIDField(widget=forms.HiddenInput)
    revision = forms.UUIDField(widget=forms.HiddenInput)
    started = forms.DateTimeField(widget=forms.HiddenInput, required=False)
    day = forms.TypedChoiceField(
        label=_("Which day was it?"), coerce=date.fromisoformat,
        error_messages={"invalid_choice": _("Choose one of the last seven days."), "required": _("Choose the day.")},
    )
    pain_before = _scale(_("Pain before you started"), NO_PAIN)
    pain_during = _scale(_("Worst pain while you did it"), NO_PAIN)
    effort = _scale(_("How hard did you work?"), _("0 is no work at all. 10 is all that you can give."))
    rating = forms.ChoiceField(
        label=_("The whole session was"), choices=RATINGS, required=False, widget=forms.RadioSelect,
        error_messages={"invalid_choice": ANSWERS},
    )
    words = forms.CharField(
        label=_("Anything to tell your clinician?"), required=False, max_length=2000,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={"max_length": _("Your words can have 2000 letters at most.")},
    )

    def __init__(self, *args: Any, today: date, first: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        days = [today - timedelta(days=back) for back in range(DAYS_BACK + 1)]
        self.fields["day"].choices = [(day.isoformat(), _day_words(day, today)) for day in days if day >= first]  # type: ignore[attr-defined]


def _day_words(day: date, today: date) -> str:
    names = {0: _now("Today"), 1: _now("Yesterday")}
    back = (today - day).days
    return f"{names[back]}, {date_format(day, 'l')}" if back in names else day_in_words(day)


class MorningForm(forms.Form):
    answer_id = forms.UUIDField(widget=forms.HiddenInput)
    day = forms.DateField(widget=forms.HiddenInput)
    pain = _scale(_("Pain this morning"), NO_PAIN, required=True)


class FlagForm(forms.Form):
    answer_id = forms.UUIDField()
    flag = forms.ChoiceField(choices=RED_FLAGS)
