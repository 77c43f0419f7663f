"""Lengths of the body as fractions of stature.

Drillis R, Contini R 1966, Body Segment Parameters (NYU Technical Report 1166.03), as drawn in Winter DA, Biomechanics and
Motor Control of Human Movement, figure 4.1. Chin height, hand, foot and head are from memory of the same figure.
"""

from __future__ import annotations

TRUNK = 0.288            # hip to shoulder
SHOULDER_WIDTH = 0.259   # outline, not joint centres
HIP_WIDTH = 0.191        # outline
THIGH = 0.245
SHANK = 0.246
UPPER_ARM = 0.186
FOREARM = 0.146
HAND = 0.108
FOOT_LENGTH = 0.152
FOOT_BREADTH = 0.055
HEAD = 0.130             # chin to vertex

ANKLE_HEIGHT = 0.039
KNEE_HEIGHT = 0.285
HIP_HEIGHT = 0.530
SHOULDER_HEIGHT = 0.818
CHIN_HEIGHT = 0.870
EYE_HEIGHT = 0.936

LENGTHS = {
    "trunk": TRUNK, "shoulder width": SHOULDER_WIDTH, "hip width": HIP_WIDTH, "thigh": THIGH, "shank": SHANK,
    "upper arm": UPPER_ARM, "forearm": FOREARM, "hand": HAND, "foot length": FOOT_LENGTH, "foot breadth": FOOT_BREADTH,
    "head": HEAD,
}
HEIGHTS = {
    "ankle": ANKLE_HEIGHT, "knee": KNEE_HEIGHT, "hip": HIP_HEIGHT, "shoulder": SHOULDER_HEIGHT, "chin": CHIN_HEIGHT,
    "eye": EYE_HEIGHT,
}


def length(part: str, stature: float) -> float:
    """The length of a part in the unit of `stature`. KeyError for a part that is not listed."""
    return LENGTHS[part] * stature


def height(landmark: str, stature: float) -> float:
    """The height of a landmark above the floor when standing, in the unit of `stature`."""
    return HEIGHTS[landmark] * stature
