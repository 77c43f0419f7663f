"""Where a reassessment stands: a fold over its window, its booking and its end."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Literal

State = Literal["not_yet", "due_soon", "due", "overdue", "booked", "done"]
STATES: tuple[State, ...] = ("not_yet", "due_soon", "due", "overdue", "booked", "done")
SOON_DAYS = 7   # how long before the window opens the desk may start to ask (common practice, no source)


def state(
    earliest: date, due: date, latest: date, today: date, booked_for: date | None = None, done: bool = False
) -> tuple[State, int]:
    """(state, days). The days count to the window for not_yet and due_soon, to `due` for due, since `due` for overdue,
    to the visit for booked (below 0: the visit's day has passed and nobody closed it); 0 for done.

    ValueError when the window is not in order earliest <= due <= latest.
    """
    if not earliest <= due <= latest:
        raise ValueError(f"the window {earliest} .. {due} .. {latest} is not in order")
    if done:
        return "done", 0
    if booked_for is not None:
        return "booked", (booked_for - today).days
    if today > due:
        return "overdue", (today - due).days
    if today >= earliest:
        return "due", (due - today).days
    to_window = (earliest - today).days
    return ("due_soon" if to_window <= SOON_DAYS else "not_yet"), to_window


def soon_until(today: date) -> date:
    """The last `earliest` that counts as due soon on `today`."""
    return today + timedelta(days=SOON_DAYS)
