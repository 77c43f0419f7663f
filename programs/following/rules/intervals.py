"""An interval for a share of sessions."""

from __future__ import annotations

from math import sqrt

Z_95 = 1.959963984540054   # the 97.5 % point of the standard normal distribution


def wilson(done: int, asked: int, z: float = Z_95) -> tuple[float, float] | None:
    """Lower and upper limit of the share `done` out of `asked`; None when nothing was asked: there is no estimate.

    Wilson EB 1927, J Am Stat Assoc 22:209-212; method 3 of Newcombe RG 1998, Stat Med 17:857-872.
    ValueError unless 0 <= done <= asked.
    """
    if not 0 <= done <= asked:
        raise ValueError(f"done must lie between 0 and asked {asked}, not {done}")
    if asked == 0:
        return None
    share, square = done / asked, z * z
    centre = (2 * done + square) / (2 * (asked + square))
    half = z * sqrt(square / 4 + asked * share * (1 - share)) / (asked + square)
    # at the ends the limit is exactly 0 or 1; rounding must not pass them
    low = 0.0 if done == 0 else max(0.0, centre - half)
    high = 1.0 if done == asked else min(1.0, centre + half)
    return low, high
