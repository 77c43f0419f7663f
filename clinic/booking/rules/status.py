"""Which status may follow which, and from when on. Codes are those of FHIR R4 Appointment.status."""

from __future__ import annotations

from datetime import date, datetime

# each step has a way back, so that a wrong click at the desk can be undone; an error stays an error
NEXT: dict[str, tuple[str, ...]] = {
    "proposed": ("pending", "booked", "cancelled", "entered-in-error"),
    "pending": ("booked", "cancelled", "entered-in-error"),
    "waitlist": ("booked", "cancelled", "entered-in-error"),
    "booked": ("arrived", "checked-in", "fulfilled", "noshow", "cancelled", "entered-in-error"),
    "arrived": ("checked-in", "fulfilled", "booked", "cancelled", "entered-in-error"),
    "checked-in": ("fulfilled", "arrived", "cancelled", "entered-in-error"),
    "fulfilled": ("checked-in", "entered-in-error"),
    "noshow": ("booked", "arrived", "entered-in-error"),
    "cancelled": ("booked", "entered-in-error"),
    "entered-in-error": (),
}
ON_THE_DAY = {"arrived", "checked-in", "fulfilled"}


def why_not(current: str, wanted: str, *, starts: datetime, day: date, now: datetime, today: date) -> str | None:
    """None when the step may be taken now; else `wrong_step` or `too_early`.

    `day` is the visit's day and `today` the present one, both in the site's zone.
    """
    if wanted not in NEXT.get(current, ()):
        return "wrong_step"
    if wanted in ON_THE_DAY and today < day:
        return "too_early"
    if wanted == "noshow" and now < starts:
        return "too_early"
    return None
