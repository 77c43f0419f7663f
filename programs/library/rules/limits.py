"""How far a joint may bend in a drawing: the larger of the ranges that are printed, in degrees.

AAOS-style table (from memory); the printed disability-rating set, the Merck Manual and Kurz tables where they are larger;
Soucie JM et al. 2011, Haemophilia 17:500-507 for hip flexion, ankle plantarflexion and (children) knee flexion. Rows marked M
are from memory. These are for drawing only, never for judging a person.
"""

from __future__ import annotations

from collections.abc import Mapping

LIMB_LIMITS: dict[str, tuple[int, int]] = {
    "shoulder": (-60, 180),        # extension, flexion
    "shoulder_out": (-75, 180),    # across the body (M), abduction
    "shoulder_turn": (-90, 90),    # inward, outward
    "elbow": (-5, 160),
    "forearm": (0, 180),           # palm forward 0, mid 90, palm back 180
    "wrist": (-70, 80),            # extension, flexion
    "grip": (0, 100),              # fingers (M)
    "hip": (-30, 134),
    "hip_out": (-30, 45),
    "hip_turn": (-45, 60),
    "knee": (-5, 153),
    "ankle": (-62, 25),            # plantarflexion, dorsiflexion (weight-bearing reaches further than 20: M)
    "toes": (-40, 75),             # first toe (M)
}
BODY_LIMITS: dict[str, tuple[int, int]] = {
    "lumbar": (-30, 80),
    "lumbar_side": (-35, 35),
    "lumbar_turn": (-45, 45),      # thorax and low back together (M)
    "neck": (-55, 90),
    "neck_side": (-45, 45),
    "neck_turn": (-70, 70),
    "nod": (-30, 30),              # head on neck (M)
    "lean": (-180, 180),           # the whole body in space: no joint
    "tilt": (-180, 180),
    "turn": (-180, 180),
}


def out_of_range(joint: str, degrees: float, limits: Mapping[str, tuple[int, int]]) -> str:
    """What is wrong with an angle; empty when it can be drawn."""
    if joint not in limits:
        return f"{joint}: is not a joint; known are {', '.join(limits)}"
    low, high = limits[joint]
    return "" if low <= degrees <= high else f"{joint}: {degrees:g} degrees is outside {low} to {high}"


def clamped(joint: str, degrees: float, limits: Mapping[str, tuple[int, int]]) -> float:
    """The nearest angle that a joint allows."""
    low, high = limits[joint]
    return min(max(degrees, low), high)
