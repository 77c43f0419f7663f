"""The shape of every benchmark: work measured against a yardstick in the same run, so that a slow machine slows both alike.

A benchmark is a module of this folder with

    SETTING = "plain"      # or "demo", or "postgres": what stands when measure() is called
    def measure() -> list[Measured]: ...

`plain` is Django set up with an empty migrated SQLite file; `demo` the demo clinic in a folder of its own; `postgres` an
empty migrated database of its own on the server that INTERVALE_DATABASE names (left out, and said so, where there is none).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from time import process_time


@dataclass(frozen=True, slots=True)
class Measured:
    """One figure: `took` and `against` in the same unit (seconds unless `unit` says otherwise), and the promise.

    `most`: the ratio took/against may be at most this. `most_took`: `took` itself may be at most this. Both are optional.
    """

    name: str
    took: float
    yardstick: str
    against: float
    most: float | None = None
    most_took: float | None = None
    unit: str = "s"

    @property
    def ratio(self) -> float:
        """How many yardsticks it took."""
        return self.took / self.against if self.against else float("inf")

    @property
    def met(self) -> bool:
        """Whether every promise holds."""
        return (self.most is None or self.ratio <= self.most) and (self.most_took is None or self.took <= self.most_took)

    @property
    def promise(self) -> str:
        """The promise in words."""
        words = []
        if self.most is not None:
            words.append(f"ratio at most {self.most:.3g}")
        if self.most_took is not None:
            words.append(f"at most {amount(self.most_took, self.unit)}")
        return ", ".join(words) or "reported"


def amount(value: float, unit: str) -> str:
    """A measured value with its unit: seconds as s, ms or µs."""
    if unit != "s":
        return f"{value:,.3g} {unit}"
    for factor, name in ((1, "s"), (1e3, "ms")):
        if value * factor >= 1:
            return f"{value * factor:.3g} {name}"
    return f"{value * 1e6:.3g} µs"


def quickest(
    work: Callable[[], object], *, rounds: int = 3, times: int = 1, clock: Callable[[], float] = process_time
) -> float:
    """Seconds of one call of `work`: the quickest of `rounds` rounds of `times` calls; the others were disturbed."""
    took = []
    for _ in range(rounds):
        begun = clock()
        for _ in range(times):
            work()
        took.append((clock() - begun) / times)
    return min(took)
