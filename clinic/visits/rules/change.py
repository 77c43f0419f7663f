"""What a difference between two values means.

Measurement error: Weir JP 2005, J Strength Cond Res 19(1):231-240. Reliable change: Jacobson NS, Truax P 1991,
J Consult Clin Psychol 59(1):12-19. A published MDC is stored as printed, with its confidence level, and never worked out
again from a printed SEM: papers round and estimate differently.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

Code = Literal[
    "improved_beyond_mcid", "changed_beyond_error", "no_detectable_change", "worse_beyond_mcid", "not_judged"
]
Z = {90: 1.645, 95: 1.96}   # two-sided normal quantiles, rounded as the sources round them
_ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Change:
    """The answer with its numbers. `difference` is after minus before; `gain` the same with better counted upwards."""

    code: Code
    before: float
    after: float
    difference: float
    gain: float
    mdc: float | None
    mcid: float | None

    @property
    def better(self) -> bool:
        return self.gain > _ROUNDING

    @property
    def worse(self) -> bool:
        return self.gain < -_ROUNDING


def judge(
    before: float, after: float, *, higher_is_better: bool, mdc: float | None, mcid: float | None
) -> Change:
    """Judge a change against the error of measurement (MDC) and against what matters to people (MCID).

    A change counts from the bound itself on. Beyond the MCID asks for both bounds: where a published MCID is smaller
    than the MDC, a change between them cannot be told from error. Without any bound the answer is not_judged.
    """
    difference = after - before
    gain = difference if higher_is_better else -difference
    size = abs(gain) + _ROUNDING
    code: Code
    if mdc is None and mcid is None:
        code = "not_judged"
    elif mdc is not None and size < mdc:
        code = "no_detectable_change"
    elif mcid is not None and size >= mcid:
        code = "improved_beyond_mcid" if gain > 0 else "worse_beyond_mcid"
    elif mdc is not None:
        code = "changed_beyond_error"
    else:
        code = "no_detectable_change"
    return Change(code, before, after, difference, gain, mdc, mcid)


def sem(sd: float, icc: float) -> float:
    """Standard error of measurement, SD x sqrt(1 - ICC). ValueError for an impossible SD or ICC."""
    if sd < 0 or not 0 <= icc <= 1:
        raise ValueError(f"SD {sd} must not be below 0, ICC {icc} must lie in 0 .. 1")
    return sd * math.sqrt(1 - icc)


def sem_of_trials(first: Sequence[float], second: Sequence[float]) -> float:
    """Standard error of measurement as the root of the error mean square of two trials of the same people."""
    if len(first) != len(second) or len(first) < 2:
        raise ValueError(f"two trials of the same two or more people are needed, not {len(first)} and {len(second)}")
    differences = [b - a for a, b in zip(first, second, strict=True)]
    mean = math.fsum(differences) / len(differences)
    spread = math.fsum((each - mean) ** 2 for each in differences) / (len(differences) - 1)
    return math.sqrt(spread / 2)


def mdc_from_sem(error: float, confidence: int = 95) -> float:
    """Minimal detectable change, SEM x z x sqrt(2). KeyError unless confidence is 90 or 95 (percent)."""
    return error * Z[confidence] * math.sqrt(2)


def reliable_change(before: float, after: float, sd: float, reliability: float) -> float:
    """Reliable change index: the difference over its standard error; beyond 1.96 either way is reliable at 95 %."""
    error = sem(sd, reliability)
    if error == 0:
        raise ValueError("a measure without any error has no reliable change index")
    return (after - before) / (error * math.sqrt(2))


def reliable_index(difference: float, mdc: float, confidence: int) -> float:
    """Reliable change index from a printed MDC: the difference over its standard error, which is MDC / z.

    `confidence` is the one the MDC was printed with, in percent; KeyError unless 90 or 95. Beyond 1.96 either way a change is
    reliable at 95 %, whatever level the MDC itself stands for. ValueError for an MDC that is not above 0.
    """
    if mdc <= 0:
        raise ValueError(f"MDC {mdc} must be above 0")
    return difference * Z[confidence] / mdc


def smallest_reliable(sd: float, reliability: float) -> float:
    """The smallest difference that is reliable at 95 %."""
    return mdc_from_sem(sem(sd, reliability))


def symmetry(left: float, right: float) -> float | None:
    """The smaller side in percent of the larger one, 100 being alike; None when the larger is 0 or a side is below 0.

    Alike is not the norm everywhere: Rabin A et al. 2015, J Athl Train 50:30-35 (lunge of healthy men).
    """
    small, large = sorted((left, right))
    return None if large <= 0 or small < 0 else 100 * small / large
