"""How numbers, sides and times of a program are said to a client."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date, datetime, timedelta

import phonenumbers
from django import template
from django.utils.safestring import SafeString, mark_safe

from clinic.people.rules.zones import zone
from programs.library.rules.dose import Span
from programs.portal.rules.steps import Step
from programs.prescribing.rules.ribbon import RibbonDay, ribbon_svg

register = template.Library()
SIDES = {
    "both": "Both sides together", "each": "First left, then right", "alternating": "Left and right in turn",
    "left": "Left side only", "right": "Right side only",
}
PHASES = {"kick_off": "Kick-off", "taper": "Taper", "maintenance": "Maintenance"}


@register.filter
def spoken(span: Span | tuple[int, int]) -> str:
    """A range in words: '2', or '1 to 2'."""
    least, most = (span.minimum, span.full) if isinstance(span, Span) else span
    return str(most) if least == most else f"{least} to {most}"


@register.filter
def most(span: Span | tuple[int, int]) -> int:
    """The upper end of a range, for choosing between singular and plural."""
    return span.full if isinstance(span, Span) else span[1]


@register.filter
def which_side(side: str) -> str:
    """Which side an exercise is for."""
    return SIDES[side]


@register.filter
def phase_words(kind: str) -> str:
    """The name of a phase."""
    return PHASES[kind]


@register.filter
def day_words(day: date) -> str:
    """'Monday 2 March'."""
    return f"{day:%A} {day.day} {day:%B}"


@register.filter
def short_day(day: date) -> str:
    """'2 March'."""
    return f"{day.day} {day:%B}"


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
    return f"{day_words(local.date())}, {local:%H:%M}"


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

