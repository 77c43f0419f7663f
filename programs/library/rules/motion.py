"""The way from one pose to another, joint by joint, and what of a picture moves on it."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from programs.library.rules.pose import SIDES, Pose
from programs.library.rules.skeleton import TURNS, Body, levelling, moved, skeleton, underside, unplaced
from programs.library.rules.vector import IDENTITY

LEAST, MOST = 3, 6   # steps from start to end
STEP = 20.0          # degrees that a joint turns in a step, about
_ARC = re.compile(r"A[\d.]+ [\d.]+ 0 [01] [01]")
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def mixed(start: Pose, end: Pose, share: float) -> Pose:
    """Every angle a share of the way; a joint that one pose does not name stays as the other has it."""

    def mix(a: Mapping[str, float], b: Mapping[str, float]) -> dict[str, float]:
        return {
            joint: a.get(joint, b.get(joint, 0.0)) * (1 - share) + b.get(joint, a.get(joint, 0.0)) * share
            for joint in {*a, *b}
        }

    goals = dict(end.rest)
    rest = tuple((point, level * (1 - share) + goals[point] * share) for point, level in start.rest if point in goals)
    pin = (end.pin[0], start.pin[1] * (1 - share) + end.pin[1] * share) if start.pin[0] == end.pin[0] else end.pin
    return replace(
        end, body=mix(start.body, end.body), right=mix(start.right, end.right), left=mix(start.left, end.left), rest=rest,
        pin=pin,
    )


def between(start: Pose, end: Pose, share: float, ends: tuple[Body, Body]) -> Body:
    """The body a share (0 to 1) of the way; `ends` are the skeletons of both poses.

    What both poses rest on or are pinned by goes straight from one place to the other.
    """
    if share in {0.0, 1.0}:
        return ends[int(share)]
    pose = mixed(start, end, share)
    if [point for point, _ in start.rest] == [point for point, _ in end.rest] and start.axis == end.axis:
        body = skeleton(pose)
    else:
        body = unplaced(pose)
        for axis, turn in TURNS.items():
            angles = [levelling(unplaced(p), p) if p.axis == axis else 0.0 for p in (start, end)]
            body = moved(body, turn(angles[0] * (1 - share) + angles[1] * share), (0.0, 0.0, 0.0))
        name = pose.rest[0][0] if pose.rest else "pelvis"
        level = underside(ends[0][name]) * (1 - share) + underside(ends[1][name]) * share
        body = moved(body, IDENTITY, (0.0, 0.0, level - underside(body[name])))
    name = end.pin[0] if start.pin[0] == end.pin[0] else "pelvis"
    x = ends[0][name].at[0] * (1 - share) + ends[1][name].at[0] * share
    return moved(body, IDENTITY, (x - body[name].at[0], 0.0, 0.0))


def steps(start: Pose, end: Pose) -> int:
    """How many steps the way is cut into: more where a joint turns far."""
    furthest = max(
        (abs(a.get(joint, b.get(joint, 0.0)) - b.get(joint, a.get(joint, 0.0)))
         for a, b in [(start.body, end.body), *((start.limb(side), end.limb(side)) for side in SIDES)]
         for joint in {*a, *b}),
        default=0.0,
    )
    return min(max(LEAST, round(furthest / STEP)), MOST)


def coordinates(path: str) -> list[int]:
    """The coordinates of path data in tenths, without the radii and flags of arcs."""
    return [round(float(number) * 10) for number in _NUMBER.findall(_ARC.sub("A", path))]


def way(paths: Sequence[str]) -> str:
    """How the last of the paths goes back to the first: the differences step by step, in tenths; empty when it stays.

    ValueError when the paths are not made of the same commands.
    """
    frames = [coordinates(path) for path in reversed(paths)]
    if len({len(frame) for frame in frames}) > 1:
        raise ValueError("the steps of a way must have the same commands")
    if max((abs(a - b) for frame in frames[1:] for a, b in zip(frame, frames[0], strict=True)), default=0) < 2:
        return ""
    return ";".join(
        " ".join(str(b - a) if a != b else "" for a, b in zip(one, other, strict=True)) for one, other in pairwise(frames)
    )
