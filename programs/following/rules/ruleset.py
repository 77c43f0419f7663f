"""The thresholds suggestions are made with: data with bounds and sources, read into numbers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from programs.following.rules.adherence import Bands
from programs.following.rules.symptoms import Edges

NAMES = (
    "bands.on_track", "bands.partly", "bands.silent_kick_off", "bands.silent_after", "bands.new_days", "bands.overdose",
    "pain.safe_most", "pain.acceptable_most", "pain.morning_rise", "pain.progress_most", "pain.severe",
    "pain.ease_sessions", "pain.rising_weeks", "pain.slope",
    "progress.extra_reps", "progress.sessions", "progress.easy_sessions",
    "regress.skips", "regress.skip_window", "regress.hard_sessions",
    "taper.adherence", "taper.least_days", "taper.window_days",
    "contact.low_days", "rest.days",
)
SHARES = {"bands.on_track", "bands.partly", "bands.overdose", "pain.slope", "taper.adherence"}   # the others are whole


@dataclass(frozen=True, slots=True)
class RuleSet:
    """A version of the thresholds: `numbers` and the citation of each, by dotted name."""

    version: int
    numbers: Mapping[str, float]
    sources: Mapping[str, str]

    def whole(self, name: str) -> int:
        return int(self.numbers[name])

    @property
    def bands(self) -> Bands:
        return Bands(
            on_track=self.numbers["bands.on_track"], partly=self.numbers["bands.partly"],
            silent_kick_off=self.whole("bands.silent_kick_off"), silent_after=self.whole("bands.silent_after"),
            new_days=self.whole("bands.new_days"), overdose=self.numbers["bands.overdose"],
            pain_most=self.whole("pain.acceptable_most"),
        )

    @property
    def edges(self) -> Edges:
        return Edges(
            self.whole("pain.safe_most"), self.whole("pain.acceptable_most"), self.whole("pain.morning_rise")
        )


def read(version: int, data: Mapping[str, Any]) -> RuleSet:
    """Read the stored form: `sources` (key to citation) and `thresholds` (name to value, least, most, source).

    ValueError names the threshold that is missing, unknown, out of its bounds or without a source.
    """
    sources, thresholds = data.get("sources"), data.get("thresholds")
    if not isinstance(sources, Mapping) or not isinstance(thresholds, Mapping):
        raise ValueError("a rule set needs sources and thresholds")
    for name in sorted(set(NAMES) ^ set(thresholds)):
        raise ValueError(f"thresholds.{name}: " + ("is missing" if name in NAMES else "is not known"))
    numbers = {name: _number(name, thresholds[name]) for name in NAMES}
    cited = {}
    for name in NAMES:
        key = thresholds[name].get("source")
        if key not in sources:
            raise ValueError(f"thresholds.{name}.source: {key!r} is not among the sources")
        cited[name] = str(sources[key])
    _in_order(numbers)
    return RuleSet(version, numbers, cited)


@dataclass(frozen=True, slots=True)
class Threshold:
    """One threshold as it is stored: its value, bounds, unit and where it is from."""

    name: str
    value: float
    least: float
    most: float
    unit: str
    source: str

    @property
    def whole(self) -> bool:
        return self.name not in SHARES

    @property
    def factor(self) -> int:
        """What the number is multiplied by as people write it: a share of 0.8 is 80 %."""
        return 100 if self.unit == "share" else 1

    @property
    def measure(self) -> str:
        """The unit as people write it."""
        return "%" if self.unit == "share" else self.unit

    def written(self, value: float) -> float:
        """The number as people write it."""
        return round(value * self.factor, 6)

    def meant(self, written: float) -> float:
        """The number that was written, as it is stored."""
        return round(written / self.factor, 8)


def thresholds(data: Mapping[str, Any]) -> tuple[Threshold, ...]:
    """The thresholds of the stored form, in the order of NAMES."""
    rows = ((name, data["thresholds"][name]) for name in NAMES)
    return tuple(
        Threshold(
            name, row["value"], row["least"], row["most"], row.get("unit", ""), data["sources"].get(row["source"], "")
        )
        for name, row in rows
    )


def problems(data: Mapping[str, Any], values: Mapping[str, float]) -> dict[str, str]:
    """What is wrong with these values for a stored rule set, by name; empty when each is within its bounds."""
    known = {row.name: row for row in thresholds(data)}
    wrong: dict[str, str] = {}
    for name, value in values.items():
        row = known.get(name)
        if row is None:
            wrong[name] = f"{name!r} is not a threshold."
        elif not row.least <= value <= row.most:
            least, most, given = (f"{row.written(number):g}" for number in (row.least, row.most, value))
            wrong[name] = f"This is {least} to {most} {row.measure}, not {given}."
        elif row.whole and value != int(value):
            wrong[name] = f"This is a whole number, not {value:g}."
    return wrong


def changed(rules: RuleSet, values: Mapping[str, float]) -> RuleSet:
    """The rule set with these values instead. ValueError when two thresholds are then out of order."""
    numbers = {**rules.numbers, **values}
    _in_order(numbers)
    return RuleSet(rules.version, numbers, rules.sources)


def _number(name: str, entry: Any) -> float:
    if not isinstance(entry, Mapping):
        raise ValueError(f"thresholds.{name}: needs value, least, most and source")
    value, least, most = (_plain(name, part, entry.get(part)) for part in ("value", "least", "most"))
    if not least <= value <= most:
        raise ValueError(f"thresholds.{name}.value: must be {least} to {most}, not {value}")
    return float(value)


def _plain(name: str, part: str, number: Any) -> float:
    if isinstance(number, bool) or not isinstance(number, int | float):
        raise ValueError(f"thresholds.{name}.{part}: must be a number, not {number!r}")
    if name not in SHARES and number != int(number):
        raise ValueError(f"thresholds.{name}.{part}: must be a whole number, not {number!r}")
    return number


ORDER = (   # the first is never above the second
    ("bands.partly", "bands.on_track"), ("pain.safe_most", "pain.acceptable_most"),
    ("pain.progress_most", "pain.acceptable_most"), ("pain.acceptable_most", "pain.severe"),
    ("regress.skips", "regress.skip_window"),
)


def out_of_order(numbers: Mapping[str, float]) -> tuple[str, str] | None:
    """Two thresholds of which the first is above the second and must not be."""
    return next(((less, more) for less, more in ORDER if numbers[less] > numbers[more]), None)


def _in_order(numbers: Mapping[str, float]) -> None:
    wrong = out_of_order(numbers)
    if wrong:
        raise ValueError(f"thresholds.{wrong[0]}: cannot be above {wrong[1]}")
