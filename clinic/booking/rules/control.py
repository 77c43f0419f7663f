"""A control chart of shares: which weeks differ from the others by more than chance would make them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt

WIDTH = 3.0   # standard deviations between the centre and a limit


@dataclass(frozen=True, slots=True)
class Sample:
    """One sample: `share` 0-1 of `size` with its limits, None where nothing was sampled. `signal` is 1 above, -1 below."""

    count: int
    size: int
    share: float | None
    low: float | None
    high: float | None
    signal: int = 0


@dataclass(frozen=True, slots=True)
class Chart:
    """The centre is the share over all samples; None when there is none at all."""

    centre: float | None
    samples: tuple[Sample, ...]

    @property
    def signals(self) -> list[int]:
        """Places of the samples outside their limits."""
        return [place for place, sample in enumerate(self.samples) if sample.signal]


def p_chart(counts: Sequence[int], sizes: Sequence[int], width: float = WIDTH) -> Chart:
    """Shares with limits centre -/+ width x sqrt(centre (1 - centre) / size), kept within 0 and 1.

    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.2 (proportions control charts). Limits follow each sample's own
    size. ValueError unless 0 <= count <= size for each pair.
    """
    pairs = list(zip(counts, sizes, strict=True))
    for count, size in pairs:
        if not 0 <= count <= size:
            raise ValueError(f"count must lie between 0 and size {size}, not {count}")
    whole = sum(sizes)
    if not whole:
        return Chart(None, tuple(Sample(0, 0, None, None, None) for _ in pairs))
    centre = sum(counts) / whole
    return Chart(centre, tuple(_sample(count, size, centre, width) for count, size in pairs))


def _sample(count: int, size: int, centre: float, width: float) -> Sample:
    if not size:
        return Sample(0, 0, None, None, None)
    reach, share = width * sqrt(centre * (1 - centre) / size), count / size
    low, high = max(0.0, centre - reach), min(1.0, centre + reach)
    return Sample(count, size, share, low, high, int(share > high) - int(share < low))
