"""What is used besides the body: roller, ball, step, chair, wall, post, mat, strap, band, bottle.

Lengths in per cent of stature.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import product
from math import cos, pi, sin
from typing import Any, NamedTuple

from programs.library.rules.shapes import DIRECTIONS, Point, View, circle, hull, polygon
from programs.library.rules.skeleton import Body
from programs.library.rules.vector import IDENTITY, Mat, Vec, add, apply

ROLLER_RADIUS, ROLLER_LENGTH = 4.4, 27.0   # 15 cm across, 46 cm long for a person of 170 cm
BALL_RADIUS = 3.2
SEAT_HEIGHT = 26.5                         # 45 cm
ALONG = {"x": 0, "y": 1, "z": 2}
FOLLOWING = frozenset({"strap", "band", "bottle"})   # these go where the hands go; the rest stays where it stands
KINDS = ("roller", "ball", "step", "chair", "wall", "post", "mat", "strap", "band", "bottle")


class Drawn(NamedTuple):
    """One piece: its class, path data, depth, and corners for the frame. A line has no inside."""

    css: str
    path: str
    depth: float
    corners: tuple[Point, ...]
    line: bool = False


def _box(view: View, css: str, low: Vec, high: Vec) -> Drawn:
    corners = [view.flat((x, y, z)) for x, y, z in product(*zip(low, high, strict=True))]
    middle: Vec = ((low[0] + high[0]) / 2, (low[1] + high[1]) / 2, (low[2] + high[2]) / 2)
    outline = hull(corners)
    return Drawn(css, polygon(outline), view.depth(middle), tuple(outline))


def _cylinder(view: View, css: str, middle: Vec, radius: float, half: float, axis: int, frame: Mat = IDENTITY) -> Drawn:
    """A cylinder along one axis of a frame. Always as many corners, so that two of them can be blended."""
    rim = [index for index in range(3) if index != axis]
    points = []
    for end, step in product((-half, half), range(24)):
        place = [0.0, 0.0, 0.0]
        place[axis] = end
        place[rim[0]] = radius * cos(2 * pi * step / 24)
        place[rim[1]] = radius * sin(2 * pi * step / 24)
        points.append(view.flat(add(middle, apply(frame, (place[0], place[1], place[2])))))
    outline = [max(points, key=lambda point: point[0] * ux + point[1] * uy) for ux, uy in DIRECTIONS]
    return Drawn(css, polygon(outline), view.depth(middle), tuple(outline))


def _place(prop: Mapping[str, Any], body: Body, radius: float) -> Vec:
    """Under a point of the body on the floor (`under`), touching it (`touch` with a direction) or at a place (`at`)."""
    if "under" in prop:
        station = body[prop["under"]]
        return station.at[0] + prop.get("shift", 0), station.at[1], prop.get("z", radius)
    if "touch" in prop:
        station, (dx, dy, dz) = body[prop["touch"]], prop["toward"]
        far = station.reach((dx, dy, dz)) + radius * prop.get("sink", 0.8)
        return station.at[0] + dx * far, station.at[1] + dy * far, station.at[2] + dz * far
    x, y, z = prop["at"]
    return float(x), float(y), float(z)


def _chair(view: View, prop: Mapping[str, Any]) -> Iterator[Drawn]:
    x, seat, facing = prop.get("at", 0.0), prop.get("seat", SEAT_HEIGHT), prop.get("facing", 1)
    y, half, back = prop.get("y", 0.0), 12.5, x - facing * 12.5
    for dx, dy in product((-half, half - 1.6), (-half, half - 1.6)):
        yield _box(view, "prop thin", (x + dx, y + dy, 0.0), (x + dx + 1.6, y + dy + 1.6, seat - 2))
    yield _box(view, "prop", (x - half, y - half, seat - 2.2), (x + half, y + half, seat))
    low, high = sorted((back, back - facing * 2))
    yield _box(view, "prop", (low, y - half, seat), (high, y + half, seat + 27))


def _line(view: View, css: str, through: Sequence[Any], body: Body) -> Drawn:
    places = [body[point].at if isinstance(point, str) else (point[0], point[1], point[2]) for point in through]
    flat = [view.flat(place) for place in places]
    path = "M" + "L".join(f"{x:.1f} {y:.1f}" for x, y in flat)
    return Drawn(css, path, max(map(view.depth, places)) + 1, tuple(flat), line=True)


def draw_prop(prop: Mapping[str, Any], body: Body, view: View) -> list[Drawn]:
    """The pieces of one prop, beside the body in its end pose. KeyError for a point or kind that is not there."""
    kind = prop["prop"]
    if kind in {"strap", "band"}:
        return [_line(view, kind, prop["through"], body)]
    if kind == "roller":
        across = prop.get("lies", "across") == "across"
        at = _place(prop, body, ROLLER_RADIUS)
        return [_cylinder(view, "prop", at, ROLLER_RADIUS, ROLLER_LENGTH / 2, 1 if across else 0)]
    if kind == "ball":
        at = _place(prop, body, prop.get("radius", BALL_RADIUS))
        radius, (x, y) = prop.get("radius", BALL_RADIUS), view.flat(at)
        corners = ((x - radius, y - radius), (x + radius, y + radius))
        return [Drawn("prop", circle((x, y), radius), view.depth(at), corners)]
    if kind == "bottle":
        hand, lies = body[prop["in"]], prop.get("lies", "y")
        bottle = _cylinder(view, "prop", hand.at, 2.0, 6.0, ALONG.get(lies, 0), hand.frame if lies == "hand" else IDENTITY)
        return [bottle._replace(depth=bottle.depth + 4)]   # in the hand, not behind it
    if kind == "chair":
        return list(_chair(view, prop))
    if kind == "wall":
        return [_wall(prop, body, view)]
    return [_block(kind, prop, view)]


def _wall(prop: Mapping[str, Any], body: Body, view: View) -> Drawn:
    """In front of a point of the body (`touch`), behind one (`behind`), at its right side (`beside`), or at `at`."""
    height = prop.get("height", 104.0)
    if "beside" in prop:
        y = body[prop["beside"]].at[1] - body[prop["beside"]].reach((0, -1, 0)) - prop.get("gap", 0)
        return _box(view, "prop wall", (-24.0, y - 3.0, 0.0), (24.0, y, height))
    if "touch" in prop:
        x = max(body[point].at[0] + body[point].reach((1, 0, 0)) for point in (prop["touch"], f"left{prop['touch'][5:]}"))
        x += prop.get("gap", 0)
    elif "behind" in prop:
        x = body[prop["behind"]].at[0] - body[prop["behind"]].reach((-1, 0, 0)) - 3.0 - prop.get("gap", 0)
    else:
        x = float(prop["at"])
    return _box(view, "prop wall", (x, -24.0, 0.0), (x + 3.0, 24.0, height))


def _block(kind: str, prop: Mapping[str, Any], view: View) -> Drawn:
    if kind == "post":
        x, y = prop["at"]
        return _box(view, "prop", (x - 2.0, y - 2.0, 0.0), (x + 2.0, y + 2.0, prop.get("height", 108.0)))
    x = float(prop.get("at", 0.0))
    if kind == "step":
        half, height = prop.get("depth", 20) / 2, prop.get("height", 10)
        return _box(view, "prop", (x - half, -15.0, 0.0), (x + half, 15.0, height))
    if kind == "mat":
        half, wide = prop.get("length", 110) / 2, prop.get("wide", 40) / 2
        return _box(view, "prop mat", (x - half, -wide, -1.6), (x + half, wide, 0.0))
    raise KeyError(kind)

