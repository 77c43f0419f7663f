"""How numbers, sides and times of a program are said to a client."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date, datetime, timedelta
from typing import Any

import phonenumbers
from django import template
from django.utils.formats import localize
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import get_language, ngettext
from django.utils.translation import gettext as _

from clinic.people.rules.zones import zone
from programs.library.rules.dose import Span
from programs.library.wording import SIDES, dose_in_words, ends, equipment_in_words, in_words, rounds_in_words
from programs.portal.rules.steps import Step
from programs.portal.vocab import Stand
from programs.portal.wording import (
    DEVICES,
    PHASES,
    day_and_month,
    day_in_words,
    days_in_words,
    times_in_words,
    way_in_words,
    whole_date,
)
from programs.portal.wording_measures import change_in_words, measure_in_words, side_of_measure, unit_in_words
from programs.portal.wording_tokens import SCOPES
from programs.prescribing.rules.plan import DayPlan
from programs.prescribing.rules.ribbon import RibbonDay, ribbon_svg

register = template.Library()
Range = Span | tuple[int, int]
register.filter("spoken", in_words)
register.filter("day_words", day_in_words)
register.filter("short_day", day_and_month)
register.filter("full_date", whole_date)
register.filter("dose_spoken", dose_in_words)
register.filter("equipment_spoken", equipment_in_words)
register.filter("rounds_count", rounds_in_words)
register.filter("days_spoken", days_in_words)
register.filter("times_spoken", times_in_words)


def _pair(span: Range | int) -> tuple[int, int]:
    return (span, span) if isinstance(span, int) else ends(span)


@register.filter
def most(span: Range) -> int:
    """The upper end of a range, for choosing between singular and plural."""
    return ends(span)[1]


@register.filter
def sessions_count(span: Range | int) -> str:
    """'1 to 2 sessions'."""
    both = _pair(span)
    return ngettext("%(number)s session", "%(number)s sessions", both[1]) % {"number": in_words(both)}


@register.filter
def days_count(number: int) -> str:
    """'3 days'."""
    return ngettext("%(number)s day", "%(number)s days", number) % {"number": number}


@register.filter
def asked_count(number: int) -> str:
    """'1 was asked', '3 were asked'."""
    return ngettext("%(number)s was asked", "%(number)s were asked", number) % {"number": number}


@register.filter
def minutes_count(span: Range) -> str:
    """'6 to 8 minutes'."""
    both = _pair(span)
    return ngettext("%(number)s minute", "%(number)s minutes", both[1]) % {"number": in_words(both)}


@register.filter
def which_side(side: str) -> str:
    """Which side an exercise is for."""
    return SIDES[side]()


@register.filter
def way_words(beside: Any) -> str:
    """The level beside the prescribed one, as it is offered."""
    return way_in_words(beside)


@register.filter
def phase_words(kind: str) -> str:
    """The name of a phase."""
    return PHASES[kind]()


@register.filter
def phase_day(asked: DayPlan) -> str:
    """'Kick-off, day 3 of 7'; without the end where the phase has none, or has gone past it."""
    words = {"phase": PHASES[asked.phase.kind](), "day": asked.day_of_phase, "of": asked.phase.days}
    if asked.phase.days and asked.day_of_phase <= asked.phase.days:
        return _("%(phase)s, day %(day)s of %(of)s") % words
    return _("%(phase)s, day %(day)s") % words


def _day_sentence(held: Any) -> str:
    """What one of the days ahead asks for, in a sentence."""
    match held.stand:
        case Stand.ASKED:
            return f"{phase_day(held.asked)}. {_('Asked of you today:')} {sessions_count(held.asked.sessions)}."
        case Stand.REST:
            return _("Nothing is asked of you today. Rest is part of the plan.")
        case Stand.PAUSED:
            return f"{_('Your program is paused')}."
        case _other:
            return _("Until then you can look at the exercises and get your things ready.")


@register.filter
def days_json(days: list[Any]) -> str:
    """The days ahead for a data attribute: date, where the client stands, the revision that counts, a sentence."""
    rows = [
        {
            "day": held.day.isoformat(), "stand": held.stand, "words": _day_sentence(held),
            "revision": str(held.revision.public_id) if held.revision else "",
        }
        for held in days
    ]
    return json.dumps(rows, separators=(",", ":"))


@register.filter
def phone_words(number: str) -> str:
    """A stored number in groups, as it is read aloud: '+44 1632 960100'. What cannot be read stays as it is."""
    try:
        read = phonenumbers.parse(number)
    except phonenumbers.NumberParseException:
        return number
    words = phonenumbers.format_number(read, phonenumbers.PhoneNumberFormat.INTERNATIONAL)
    return words.replace(" ", "\u00a0")   # a number is not broken over two lines


@register.filter
def at_place(moment: datetime, zone_name: str) -> str:
    """'Monday 2 March, 09:30' in that zone."""
    local = moment.astimezone(zone(zone_name))
    return f"{day_in_words(local.date())}, {local:%H:%M}"


@register.filter
def kind_of_visit(visit_type: Any) -> str:
    """What the practice calls this kind of visit in the language that is spoken now."""
    return str(visit_type.name_in(get_language() or "en"))


@register.filter
def clock_at(moment: datetime, zone_name: str) -> str:
    """'09:30' in that zone."""
    return f"{moment.astimezone(zone(zone_name)):%H:%M}"


@register.filter
def place(zone_name: str) -> str:
    """The city that an IANA zone is named after: 'London', 'New York'."""
    return zone_name.rsplit("/", 1)[-1].replace("_", " ")


@register.filter
def same_clock(moment: datetime, zones: str) -> bool:
    """Whether the clocks of two zones ('A|B') show the same at that moment."""
    first, second = (moment.astimezone(zone(name)).utcoffset() for name in zones.split("|"))
    return first == second


@register.filter
def steps_json(steps: list[Step]) -> str:
    """The timer's steps for a data attribute."""
    return json.dumps([asdict(step) for step in steps], separators=(",", ":"))


@register.filter
def tomorrow(day: date) -> date:
    """The day after."""
    return day + timedelta(days=1)


@register.simple_tag
def ribbon(days: list[RibbonDay], title: str) -> SafeString:
    """The dose ribbon as a picture; `title` is read aloud."""
    return mark_safe(ribbon_svg(days, title=title, width=640, height=72))   # noqa: S308  numbers, and an escaped title


@register.filter
def device_words(kind: str) -> str:
    """What a device is called."""
    return DEVICES[kind]()


@register.filter
def measure_words(line: Any) -> str:
    """'How far your hip bends, left'."""
    side = side_of_measure(line.side)
    return measure_in_words(line.measure.code, line.measure.name) + (f", {side}" if side else "")


def _value(line: Any, value: float) -> str:
    number = localize(int(value) if value == int(value) else round(value, 1))
    return f"{number} {unit_in_words(line.measure.unit, value)}".strip()


@register.filter
def newest_words(line: Any) -> str:
    """'118 degrees'."""
    return _value(line, line.points[-1].value)


@register.filter
def first_words(line: Any) -> str:
    """The same of the first value."""
    return _value(line, line.points[0].value)


register.filter("change_words", change_in_words)


@register.filter
def day_at_place(moment: datetime, zone_name: str) -> str:
    """'2 March' in that zone."""
    return day_and_month(moment.astimezone(zone(zone_name)).date())


@register.filter
def scopes_words(scopes: list[str]) -> list[Any]:
    """What a token may do, a sentence each."""
    return [words for code, words in SCOPES if code in scopes]
