"""What the desk types."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms

from clinic.booking import queries
from clinic.booking.rules.closing import parts_of
from clinic.booking.rules.notice import MOST_HOURS
from clinic.booking.serializers import EARLIEST, LATEST
from clinic.booking.vocab import CancelReason, Priority, SeriesScope
from clinic.booking.wording import WEEKDAYS
from clinic.people.models import Site, User

ASKED_REASONS = [(code, words) for code, words in CancelReason.choices if code != CancelReason.OFFER]


class AskForm(forms.Form):
    """The one box. Sent by POST, so that no name stands in an address."""

    text = forms.CharField(
        label="Find a client, or say what to book", max_length=300,
        widget=forms.TextInput(attrs={"autocomplete": "off", "autofocus": True, "spellcheck": "false"}),
    )


class OpeningsForm(forms.Form):
    """What kind of visit, with whom, and from which day on."""

    visit_type = forms.ChoiceField(label="Kind of visit")
    clinician = forms.ChoiceField(label="With", required=False)
    day = forms.DateField(label="From", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))

    def __init__(self, *args: Any, user: User, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = [(str(person.public_id), person.name) for person in queries.bookable_clinicians(user, site)]
        self.fields["clinician"].choices = [("", "Anyone"), *people] if len(people) > 1 else people   # type: ignore[attr-defined]
        self.fields["visit_type"].choices = [   # type: ignore[attr-defined]
            (kind.code, f"{kind.name}, {kind.minutes} minutes") for kind in queries.visit_types()
        ]

    def clean_day(self) -> date | None:
        day = self.cleaned_data["day"]
        if day and not EARLIEST <= day <= LATEST:
            raise forms.ValidationError("Choose a day near today.")
        return day


class TimeForm(forms.Form):
    """A time of one's own choice, on the clock of the site.

    It shares a page's form with the openings, and is folded away: the browser must not insist on it.
    """

    use_required_attribute = False
    own_day = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    own_time = forms.TimeField(label="Time", widget=forms.TimeInput(attrs={"type": "time", "step": 300}, format="%H:%M"))
    own_clinician = forms.ChoiceField(label="With")

    def __init__(self, *args: Any, user: User, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = [(str(person.public_id), person.name) for person in queries.bookable_clinicians(user, site)]
        self.fields["own_clinician"].choices = people   # type: ignore[attr-defined]

    def clean_own_day(self) -> date:
        day: date = self.cleaned_data["own_day"]
        if not EARLIEST <= day <= LATEST:
            raise forms.ValidationError("Choose a day near today.")
        return day


EVERYBODY = "everybody"


class AwayForm(forms.Form):
    """Who is away, and on which days."""

    clinician = forms.ChoiceField(label="Who is away")
    first_day = forms.DateField(label="First day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    last_day = forms.DateField(label="Last day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    anyone = forms.BooleanField(label="Other clinicians may take over", required=False, initial=True)

    def __init__(self, *args: Any, user: User, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = [(str(person.public_id), person.name) for person in queries.bookable_clinicians(user, site)]
        self.fields["clinician"].choices = [   # type: ignore[attr-defined]
            ("", "Choose"), *people, (EVERYBODY, "Everybody: the site is closed")
        ]


class WaitlistForm(forms.Form):
    """What somebody who waits would come for, and when."""

    visit_type = forms.ChoiceField(label="Kind of visit")
    priority = forms.ChoiceField(label="How soon", choices=Priority.choices, initial=Priority.SOON)
    clinician = forms.ChoiceField(label="With", required=False)
    weekdays = forms.MultipleChoiceField(
        label="Days", required=False, widget=forms.CheckboxSelectMultiple, choices=list(enumerate(WEEKDAYS)),
        help_text="None ticked: any day.",
    )
    earliest = forms.TimeField(label="Not before", required=False, widget=forms.TimeInput(attrs={"type": "time"}))
    latest = forms.TimeField(label="Not after", required=False, widget=forms.TimeInput(attrs={"type": "time"}))
    until = forms.DateField(
        label="Until which day it helps", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def __init__(self, *args: Any, user: User, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = [(str(person.public_id), person.name) for person in queries.bookable_clinicians(user, site)]
        self.fields["clinician"].choices = [("", "Anyone"), *people]   # type: ignore[attr-defined]
        self.fields["visit_type"].choices = [(kind.code, kind.name) for kind in queries.visit_types()]   # type: ignore[attr-defined]


class GroupForm(forms.Form):
    """When a group meets, on the clock of the site."""

    visit_type = forms.ChoiceField(label="Kind of group")
    clinician = forms.ChoiceField(label="With")
    day = forms.DateField(label="First day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    time = forms.TimeField(label="Time", widget=forms.TimeInput(attrs={"type": "time", "step": 300}, format="%H:%M"))
    weeks = forms.IntegerField(label="How many weeks", min_value=1, max_value=26, initial=1)

    def __init__(self, *args: Any, user: User, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = [(str(person.public_id), person.name) for person in queries.bookable_clinicians(user, site)]
        self.fields["clinician"].choices = people   # type: ignore[attr-defined]
        self.fields["visit_type"].choices = [   # type: ignore[attr-defined]
            (kind.code, f"{kind.name}, {kind.places} places, {kind.minutes} minutes")
            for kind in queries.visit_types() if kind.is_group
        ]

    def clean_day(self) -> date:
        day: date = self.cleaned_data["day"]
        if not EARLIEST <= day <= LATEST:
            raise forms.ValidationError("Choose a day near today.")
        return day


class CallOffForm(forms.Form):
    reason = forms.ChoiceField(label="Reason for calling it off", choices=[("", "Choose a reason"), *ASKED_REASONS])


class CancelForm(forms.Form):
    reason = forms.ChoiceField(label="Reason for cancelling", choices=[("", "Choose a reason"), *ASKED_REASONS])
    scope = forms.ChoiceField(label="Which visits", choices=SeriesScope.choices, required=False)


class DaysField(forms.Field):
    """Several ISO days, each once."""

    widget = forms.MultipleHiddenInput

    def to_python(self, value: Any) -> list[date]:
        try:
            days = sorted({date.fromisoformat(each) for each in value or []})
        except (TypeError, ValueError) as error:
            raise forms.ValidationError("Not a day.") from error
        if not days or not EARLIEST <= days[0] <= days[-1] <= LATEST or (days[-1] - days[0]).days > 400:
            raise forms.ValidationError("Not the days of a series.")
        return days


class SeriesForm(forms.Form):
    """The dates of a series as they were shown."""

    days = DaysField()
    at = forms.TimeField()
    choice = forms.ChoiceField(choices=[("all", "all"), ("good", "good")])


class ClosedDayForm(forms.Form):
    day = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    name = forms.CharField(label="Why", max_length=80)


class NoticeForm(forms.Form):
    """How long before a visit clients change it themselves."""

    hours = forms.IntegerField(
        label="Hours before the visit", min_value=0, max_value=MOST_HOURS, help_text="0: until the visit begins."
    )


class HolidaysForm(forms.Form):
    """The public holidays of a year, where the site is."""

    part = forms.ChoiceField(label="Part of the country", required=False)
    year = forms.TypedChoiceField(label="Year", coerce=int)

    def __init__(self, *args: Any, site: Site, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        parts = [(part, part) for part in parts_of(site.region_code)]
        self.fields["part"].choices = [("", "All of it"), *parts]   # type: ignore[attr-defined]
        self.fields["year"].choices = [(year, str(year)) for year in range(today.year, today.year + 3)]   # type: ignore[attr-defined]


class ExtraHoursForm(forms.Form):
    clinician = forms.ChoiceField(label="Who")
    day = forms.DateField(label="Day", widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"))
    starts = forms.TimeField(label="From", widget=forms.TimeInput(attrs={"type": "time", "step": 300}, format="%H:%M"))
    ends = forms.TimeField(label="Until", widget=forms.TimeInput(attrs={"type": "time", "step": 300}, format="%H:%M"))

    def __init__(self, *args: Any, user: User, site: Site, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = [(str(person.public_id), person.name) for person in queries.bookable_clinicians(user, site)]
        self.fields["clinician"].choices = people   # type: ignore[attr-defined]
