"""What a dose is, and how long it takes.

A dose is one of four structures; every number in it is a range `minimum..full`. Seconds are for one side and one round.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Literal

End = Literal["minimum", "full"]
ENDS: tuple[End, End] = ("minimum", "full")
MOST = 3600   # no single number of a dose may pass this: an hour, in seconds


@dataclass(frozen=True, slots=True)
class Span:
    """A range: the least that counts as done, and all that is asked for."""

    minimum: int
    full: int

    def __post_init__(self) -> None:
        if not 1 <= self.minimum <= self.full <= MOST:
            raise ValueError(f"a range needs 1 <= minimum <= full <= {MOST}, not {self.minimum}..{self.full}")

    def at(self, end: End) -> int:
        """The number at one end of the range."""
        return self.minimum if end == "minimum" else self.full


@dataclass(frozen=True, slots=True)
class Hold:
    """Hold a position: `holds` times `seconds`, with `rest` seconds between."""

    holds: Span
    seconds: Span
    rest: int = 0
    type: Literal["hold"] = "hold"


@dataclass(frozen=True, slots=True)
class Reps:
    """Repeat a movement: `sets` x `reps`, `tempo` seconds a repetition, `rest` seconds between sets."""

    sets: Span
    reps: Span
    tempo: int = 4
    rest: int = 0
    type: Literal["reps"] = "reps"


@dataclass(frozen=True, slots=True)
class Roll:
    """Roll slowly: `sets` of `seconds`, one one-way pass taking `pass_seconds`."""

    sets: Span
    seconds: Span
    pass_seconds: int = 3
    rest: int = 0
    type: Literal["roll"] = "roll"


@dataclass(frozen=True, slots=True)
class Continuous:
    """Keep going for `minutes`."""

    minutes: Span
    type: Literal["continuous"] = "continuous"


Dose = Hold | Reps | Roll | Continuous
_TYPES: dict[str, type[Hold] | type[Reps] | type[Roll] | type[Continuous]] = {
    "hold": Hold, "reps": Reps, "roll": Roll, "continuous": Continuous,
}
_PLAIN = {"tempo": (1, 30), "rest": (0, 600), "pass_seconds": (1, 30)}   # seconds: least, most


def work_seconds(dose: Dose, end: End) -> int:
    """Seconds of one round on one side, rests between sets or holds included."""
    match dose:
        case Hold():
            holds = dose.holds.at(end)
            return holds * dose.seconds.at(end) + (holds - 1) * dose.rest
        case Reps():
            sets = dose.sets.at(end)
            return sets * dose.reps.at(end) * dose.tempo + (sets - 1) * dose.rest
        case Roll():
            sets = dose.sets.at(end)
            return sets * dose.seconds.at(end) + (sets - 1) * dose.rest
        case Continuous():
            return dose.minutes.at(end) * 60


def dose_to_json(dose: Dose) -> dict[str, Any]:
    """The stored form: ranges as [minimum, full]."""
    return {
        name: [value["minimum"], value["full"]] if isinstance(value, dict) else value
        for name, value in asdict(dose).items()
    }


def dose_from_json(data: Mapping[str, Any]) -> Dose:
    """Read the stored form. ValueError names the part that cannot be used."""
    kind = data.get("type")
    if kind not in _TYPES:
        raise ValueError(f"type: must be one of {', '.join(_TYPES)}, not {kind!r}")
    parts: dict[str, Any] = {}
    for name, field in _TYPES[kind].__dataclass_fields__.items():
        if name == "type":
            continue
        if name not in data:
            if name in _PLAIN:
                continue   # has a default
            raise ValueError(f"{name}: is missing")
        parts[name] = _span(name, data[name]) if field.type == "Span" else _plain(name, data[name])
    unknown = set(data) - set(parts) - {"type"}
    if unknown:
        raise ValueError(f"{sorted(unknown)[0]}: is not part of a {kind} dose")
    return _TYPES[kind](**parts)


def _span(name: str, value: Any) -> Span:
    pair = [value, value] if isinstance(value, int) else value
    if not isinstance(pair, list | tuple) or len(pair) != 2 or not all(type(number) is int for number in pair):
        raise ValueError(f"{name}: must be a whole number or a pair [minimum, full], not {value!r}")
    try:
        return Span(*pair)
    except ValueError as error:
        raise ValueError(f"{name}: {error}") from None


def _plain(name: str, value: Any) -> int:
    least, most = _PLAIN[name]
    if type(value) is not int or not least <= value <= most:
        raise ValueError(f"{name}: must be {least} to {most} seconds, not {value!r}")
    return value
