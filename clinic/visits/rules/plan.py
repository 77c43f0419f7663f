"""When to look again: the window of each reason. Every number is a default that a clinic may change."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

GRACE_DAYS = 7               # from due to the last day that still answers the question (common practice, no source)
INTERVAL_DAYS = 28           # every four weeks (common practice, no source)
INTERVAL_EARLY_DAYS = 3      # how much earlier than that is still a fair comparison (common practice, no source)
# One payer's rule, as a documented default: a progress report at least once every 10 treatment days, day 1 being the
# first day of treatment. Medicare Benefit Policy Manual (CMS Pub. 100-02), chapter 15, section 220.3 D.
VISITS_BETWEEN = 10
REFERRAL_LEAD_DAYS = 14      # time to write to the referrer before the referral ends (common practice, no source)


@dataclass(frozen=True, slots=True)
class Window:
    """Three local days in order."""

    earliest: date
    due: date
    latest: date


def after_kick_off(first_day: date, days: int) -> Window:
    """The look at the end of a kick-off of `days` days: from the day before its last day, due the day after it.

    ValueError below one day.
    """
    if days < 1:
        raise ValueError(f"a kick-off lasts at least 1 day, not {days}")
    last = first_day + timedelta(days=days - 1)
    due = last + timedelta(days=1)
    return Window(last - timedelta(days=1), due, due + timedelta(days=GRACE_DAYS))


def after_interval(last_look: date, every: int = INTERVAL_DAYS) -> Window:
    """The regular look `every` days after the last one. ValueError below one day."""
    if every < 1:
        raise ValueError(f"an interval has at least 1 day, not {every}")
    due = last_look + timedelta(days=every)
    early = min(INTERVAL_EARLY_DAYS, every - 1)
    return Window(due - timedelta(days=early), due, due + timedelta(days=GRACE_DAYS))


def after_visits(treatment_days: int, today: date, every: int = VISITS_BETWEEN) -> Window | None:
    """The look that the visit after `treatment_days` days of treatment since the last look should be; None if too early.

    It opens when one treatment day is left, so that it falls on the `every`-th at the latest.
    """
    if every < 2:
        raise ValueError(f"a look every {every} visits would be at every visit")
    if treatment_days < every - 1:
        return None
    due = today + timedelta(days=GRACE_DAYS)
    return Window(today, due, due + timedelta(days=GRACE_DAYS))


def before_referral_ends(expires: date, today: date) -> Window | None:
    """The look before a referral's last day: due REFERRAL_LEAD_DAYS before it, never after it; None once it is over."""
    if today > expires:
        return None
    due = max(expires - timedelta(days=REFERRAL_LEAD_DAYS), min(today, expires))
    return Window(due - timedelta(days=GRACE_DAYS), due, expires)


def before_visits_run_out(allowed: int, attended: int, today: date) -> Window | None:
    """The look while one allowed visit is left or none; None while there are more."""
    if allowed - attended > 1:
        return None
    due = today + timedelta(days=GRACE_DAYS)
    return Window(today, due, due + timedelta(days=GRACE_DAYS))
