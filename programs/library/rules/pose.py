"""A pose: joint angles, and what the body rests on.

The stored form: angles of the body (`lean`, `neck`, …) at the top, those of the limbs under `right`, `left` or `both`, and
`rest`: one or two [point, height] pairs that put the body on the floor, a seat or a roller (heights in per cent of stature);
with two, the body is turned about `axis` (`lean` or `tilt`) until both hold. `pin` [point, x] says where it stands.
`from` names another pose to begin with.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from programs.library.rules.limits import BODY_LIMITS, LIMB_LIMITS, clamped, out_of_range

SIDES = ("right", "left")
_OTHER = {"rest", "axis", "pin", "from", "right", "left", "both"}


@dataclass(frozen=True, slots=True)
class Pose:
    """Angles in degrees, heights and places in per cent of stature."""

    body: Mapping[str, float]
    right: Mapping[str, float]
    left: Mapping[str, float]
    rest: tuple[tuple[str, float], ...] = ()
    axis: str = "lean"
    pin: tuple[str, float] = ("pelvis", 0.0)

    def limb(self, side: str) -> Mapping[str, float]:
        """The angles of one side."""
        return self.right if side == "right" else self.left


def flatten(data: Any, named: Mapping[str, Any]) -> dict[str, Any]:
    """The stored form without `from`: the named pose's angles with this one's laid over them. ValueError names a fault."""
    if isinstance(data, str):
        data = {"from": data}
    if not isinstance(data, Mapping):
        raise ValueError(f"must be the name of a pose or an object, not {data!r}")
    base: dict[str, Any] = {"right": {}, "left": {}}
    if "from" in data:
        if data["from"] not in named:
            raise ValueError(f"from: there is no pose named {data['from']!r}")
        base = flatten(named[data["from"]], named)
    both = data.get("both", {})
    for side in SIDES:
        base[side] = {**base[side], **both, **data.get(side, {})}
    own = {key: value for key, value in data.items() if key not in {"from", "both", "right", "left"}}
    return {**base, **own}


def problems(data: Mapping[str, Any]) -> list[str]:
    """What is wrong with a flattened pose; empty when it can be drawn."""
    found = [
        out_of_range(key, value, BODY_LIMITS) if isinstance(value, int | float) else f"{key}: must be a number"
        for key, value in data.items()
        if key not in _OTHER
    ]
    for side in SIDES:
        found += [
            f"{side}.{problem}"
            for joint, degrees in data.get(side, {}).items()
            if (problem := out_of_range(joint, degrees, LIMB_LIMITS))
        ]
    if data.get("axis", "lean") not in {"lean", "tilt"}:
        found.append(f"axis: must be lean or tilt, not {data['axis']!r}")
    return [problem for problem in found if problem]


def pose_of(data: Mapping[str, Any]) -> Pose:
    """Read a flattened pose; an angle past a limit is drawn at the limit."""
    return Pose(
        body={key: clamped(key, value, BODY_LIMITS) for key, value in data.items() if key in BODY_LIMITS},
        right={key: clamped(key, value, LIMB_LIMITS) for key, value in data.get("right", {}).items() if key in LIMB_LIMITS},
        left={key: clamped(key, value, LIMB_LIMITS) for key, value in data.get("left", {}).items() if key in LIMB_LIMITS},
        rest=tuple((point, float(level)) for point, level in data.get("rest", [])),
        axis=data.get("axis", "lean"),
        pin=tuple(data.get("pin", ("pelvis", 0.0))),
    )
