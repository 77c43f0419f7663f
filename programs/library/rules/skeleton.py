"""From joint angles to places in space, in per cent of stature.

Every named point is a Station: where it is, how it is turned, and how thick the body is there (half-axes front-back,
sideways, lengthwise). Thicknesses are our own, chosen by eye so that a figure reads as a person.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt

from programs.library.rules import body as b
from programs.library.rules.pose import SIDES, Pose
from programs.library.rules.vector import IDENTITY, Mat, Vec, about_x, about_y, about_z, add, apply, column, dot, times

H = 100.0                  # stature
JOINT_INSET = 0.036        # shoulder joint inside the shoulder's outline
HIP_JOINT = 0.052          # hip joint from the midline
LUMBAR = 0.105             # where the trunk bends, above the hips
TURNS = {"lean": about_y, "tilt": about_x}   # of the whole body, by a pose's axis


@dataclass(frozen=True, slots=True)
class Station:
    """A point of the body with its frame and half-axes."""

    at: Vec
    frame: Mat
    semi: Vec

    def reach(self, direction: Vec) -> float:
        """How far the body extends from the point in a direction."""
        return sqrt(sum((dot(column(self.frame, i), direction) * self.semi[i]) ** 2 for i in range(3)))


Body = dict[str, Station]


def _ball(at: Vec, frame: Mat, radius: float) -> Station:
    return Station(at, frame, (radius * H, radius * H, radius * H))


def _along(origin: Vec, frame: Mat, x: float, y: float, z: float) -> Vec:
    return add(origin, apply(frame, (x * H, y * H, z * H)))


def _trunk(pose: Pose) -> tuple[Body, Mat, Mat]:
    angle = pose.body.get
    hips = times(about_z(angle("turn", 0)), times(about_x(angle("tilt", 0)), about_y(angle("lean", 0))))
    bend = times(about_y(angle("lumbar", 0)), times(about_x(angle("lumbar_side", 0)), about_z(angle("lumbar_turn", 0))))
    chest = times(hips, bend)
    turn = times(about_y(angle("neck", 0)), times(about_x(angle("neck_side", 0)), about_z(angle("neck_turn", 0))))
    neck = times(chest, turn)
    head = times(neck, about_y(angle("nod", 0)))
    origin: Vec = (0.0, 0.0, 0.0)
    waist = _along(origin, hips, 0, 0, LUMBAR)
    base = _along(waist, chest, -0.004, 0, b.TRUNK - LUMBAR + 0.006)
    nape = _along(base, neck, 0.004, 0, 0.05)
    skull = _along(nape, head, 0.012, 0, 1 - b.HEAD / 2 - b.SHOULDER_HEIGHT - 0.056)
    big = H
    points = {
        "pelvis": Station(_along(origin, hips, -0.006, 0, 0.018), hips, (0.064 * big, 0.088 * big, 0.055 * big)),
        "waist": Station(_along(waist, hips, 0.004, 0, 0), hips, (0.054 * big, 0.074 * big, 0.045 * big)),
        "chest": Station(_along(waist, chest, 0.004, 0, 0.095), chest, (0.064 * big, 0.090 * big, 0.055 * big)),
        "yoke": Station(_along(waist, chest, -0.004, 0, 0.163), chest, (0.044 * big, 0.108 * big, 0.030 * big)),
        "neck": _ball(base, neck, 0.029),
        "nape": _ball(nape, neck, 0.027),
        "head": Station(skull, head, (0.051 * big, 0.044 * big, 0.065 * big)),
        "hair": Station(_along(skull, head, -0.009, 0, 0.013), head, (0.050 * big, 0.049 * big, 0.058 * big)),
        "nose": _ball(_along(skull, head, 0.050, 0, -0.010), head, 0.0095),
        "back": Station(_along(waist, chest, -0.01, 0, 0.10), chest, (0.06 * big, 0.08 * big, 0.04 * big)),
    }
    return points, hips, chest


def _arm(points: Body, pose: Pose, side: str, chest: Mat) -> None:
    sign, angle = (1 if side == "right" else -1), pose.limb(side).get
    root = _along(
        points["yoke"].at, chest, 0, -sign * (b.SHOULDER_WIDTH / 2 - JOINT_INSET), b.TRUNK - LUMBAR - 0.163 - 0.012
    )
    upper = times(chest, times(about_y(-angle("shoulder", 0)), times(
        about_x(-sign * angle("shoulder_out", 4)), about_z(-sign * angle("shoulder_turn", 0)))))
    fore = times(upper, about_y(-angle("elbow", 6)))
    hand = times(fore, times(about_z(sign * angle("forearm", 70)), about_y(-angle("wrist", 0))))
    fingers = times(hand, about_y(-angle("grip", 15)))
    elbow = _along(root, upper, 0, 0, -b.UPPER_ARM)
    wrist = _along(elbow, fore, 0, 0, -b.FOREARM)
    knuckles = _along(wrist, hand, 0, 0, -b.HAND * 0.5)
    points |= {
        f"{side}_shoulder": _ball(root, upper, 0.036),
        f"{side}_elbow": _ball(elbow, upper, 0.025),
        f"{side}_forearm": _ball(_along(elbow, fore, 0, 0, -0.04), fore, 0.027),
        f"{side}_wrist": _ball(wrist, fore, 0.017),
        f"{side}_hand": _ball(knuckles, hand, 0.019),
        f"{side}_thumb": _ball(_along(wrist, hand, 0.018, -sign * 0.022, -b.HAND * 0.42), hand, 0.009),
        f"{side}_fingers": _ball(_along(knuckles, fingers, 0, 0, -b.HAND * 0.5 + 0.012), fingers, 0.012),
    }


def _leg(points: Body, pose: Pose, side: str, hips: Mat) -> None:
    sign, angle = (1 if side == "right" else -1), pose.limb(side).get
    root = _along((0.0, 0.0, 0.0), hips, 0, -sign * HIP_JOINT, 0)
    thigh = times(hips, times(about_y(-angle("hip", 0)), times(
        about_x(-sign * angle("hip_out", 0)), about_z(-sign * angle("hip_turn", 0)))))
    shank = times(thigh, about_y(angle("knee", 0)))
    foot = times(shank, about_y(-angle("ankle", 0)))
    toes = times(foot, about_y(-angle("toes", 0)))
    knee = _along(root, thigh, 0, 0, -b.THIGH)
    ankle = _along(knee, shank, 0, 0, -b.SHANK)
    ball = _along(ankle, foot, 0.066, 0, -(b.ANKLE_HEIGHT - 0.015))
    points |= {
        f"{side}_hip": _ball(root, thigh, 0.060),
        f"{side}_thigh": _ball(_along(root, thigh, 0.004, 0, -0.11), thigh, 0.050),
        f"{side}_knee": _ball(knee, thigh, 0.036),
        f"{side}_calf": _ball(_along(knee, shank, -0.010, 0, -0.085), shank, 0.037),
        f"{side}_ankle": _ball(ankle, shank, 0.021),
        f"{side}_heel": _ball(_along(ankle, foot, -0.026, 0, -(b.ANKLE_HEIGHT - 0.018)), foot, 0.018),
        f"{side}_ball": _ball(ball, foot, 0.015),
        f"{side}_toe": _ball(_along(ball, toes, b.FOOT_LENGTH - 0.044 - 0.066 - 0.011, 0, -0.004), toes, 0.011),
    }


def moved(points: Body, turn: Mat, shift: Vec) -> Body:
    """The same body, turned about the origin and then shifted."""
    return {
        name: Station(add(apply(turn, s.at), shift), times(turn, s.frame), s.semi) for name, s in points.items()
    }


def underside(station: Station) -> float:
    """The height of the lowest part of a station."""
    return station.at[2] - station.reach((0.0, 0.0, 1.0))


def levelling(points: Body, pose: Pose) -> float:
    """The smallest turn about the pose's axis, in degrees, that brings both resting points to their heights."""
    if len(pose.rest) < 2:
        return 0.0
    (one, first), (two, second) = pose.rest[:2]
    about = TURNS[pose.axis]

    def gap(degrees: float) -> float:
        up = about(degrees)[2]   # the floor's upward direction, as the unturned body sees it
        low, high = (dot(up, points[name].at) - points[name].reach(up) for name in (one, two))
        return high - low - (second - first)

    for step in range(0, 91, 3):
        for low, high in ((float(step), step + 3.0), (-step - 3.0, -float(step))):
            if gap(low) * gap(high) <= 0:
                for _ in range(30):
                    middle = (low + high) / 2
                    low, high = (low, middle) if gap(low) * gap(middle) <= 0 else (middle, high)
                return low
    return 0.0


def unplaced(pose: Pose) -> Body:
    """All stations of a pose, the hips at the origin."""
    points, hips, chest = _trunk(pose)
    for side in SIDES:
        _arm(points, pose, side, chest)
        _leg(points, pose, side, hips)
    return points


def skeleton(pose: Pose) -> Body:
    """All stations of a pose, standing where the pose says."""
    points = unplaced(pose)
    points = moved(points, TURNS[pose.axis](levelling(points, pose)), (0.0, 0.0, 0.0))
    name, level = pose.rest[0] if pose.rest else ("", 0.0)
    lowest = underside(points[name]) if name else min(map(underside, points.values()))
    point, x = pose.pin
    return moved(points, IDENTITY, (x - points[point].at[0], 0.0, level - lowest))
