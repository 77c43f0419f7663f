"""From places in space to SVG path data: a view, tapered capsules, hulls."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from math import acos, atan2, cos, hypot, pi, radians, sin
from typing import NamedTuple

from programs.library.rules.skeleton import Station
from programs.library.rules.vector import Vec, column, dot

Point = tuple[float, float]
ROUND = 24   # corners of an outline
DIRECTIONS = [(cos(2 * pi * step / ROUND), sin(2 * pi * step / ROUND)) for step in range(ROUND)]


class View(NamedTuple):
    """Where the eye is: unit vectors to the picture's right, its top and towards the eye; mirrored for the other side."""

    right: Vec
    up: Vec
    toward: Vec
    mirror: bool = False

    def flat(self, at: Vec) -> Point:
        """Picture coordinates, y down."""
        x = dot(self.right, at)
        return (-x if self.mirror else x), -dot(self.up, at)

    def depth(self, at: Vec) -> float:
        """How near the eye."""
        return dot(self.toward, at)


# azimuth from the person's right side towards the front, and elevation, in degrees
VIEWS = {"side": (0, 0), "front": (90, 0), "back": (-90, 0), "quarter": (45, 14), "high": (90, 40), "low": (90, 20)}


def view_named(name: str, *, mirror: bool = False) -> View:
    """KeyError for a view that is not in VIEWS."""
    azimuth, elevation = (radians(number) for number in VIEWS[name])
    ca, sa, ce, se = cos(azimuth), sin(azimuth), cos(elevation), sin(elevation)
    return View((ca, sa, 0.0), (-sa * se, ca * se, ce), (sa * ce, -ca * ce, se), mirror)


def number(value: float) -> str:
    """One decimal, without a superfluous zero."""
    return f"{value:.1f}".removesuffix(".0").replace("-0", "-0" if abs(value) >= 0.05 else "0")


def _at(point: Point) -> str:
    return f"{number(point[0])} {number(point[1])}"


def circle(centre: Point, radius: float) -> str:
    """A circle as path data."""
    x, y = centre
    r = number(radius)
    return f"M{_at((x - radius, y))}A{r} {r} 0 1 0 {_at((x + radius, y))}A{r} {r} 0 1 0 {_at((x - radius, y))}Z"


def capsule(a: Point, ra: float, b: Point, rb: float) -> str:
    """The outline around two circles. Always the same commands, so that two of them can be blended number by number."""
    apart = max(hypot(b[0] - a[0], b[1] - a[1]), 1e-6)
    along = atan2(b[1] - a[1], b[0] - a[0])
    spread = acos(min(max((ra - rb) / apart, -0.98), 0.98))   # past that, one circle holds the other

    def on(centre: Point, radius: float, angle: float) -> str:
        return _at((centre[0] + radius * cos(angle), centre[1] + radius * sin(angle)))

    big_b, big_a = int(ra < rb), int(ra > rb)
    return (
        f"M{on(a, ra, along + spread)}L{on(b, rb, along + spread)}"
        f"A{number(rb)} {number(rb)} 0 {big_b} 0 {on(b, rb, along - spread)}"
        f"L{on(a, ra, along - spread)}A{number(ra)} {number(ra)} 0 {big_a} 0 {on(a, ra, along + spread)}Z"
    )


def chain(view: View, stations: Sequence[Station]) -> str:
    """A limb: capsules from station to station; the stations are balls."""
    flat = [(view.flat(station.at), station.semi[0]) for station in stations]
    return "".join(capsule(a, ra, b, rb) for (a, ra), (b, rb) in pairwise(flat))


def _shadow(view: View, station: Station) -> tuple[Point, list[Point]]:
    """A station's ellipsoid on the picture: its middle and its three half-axes."""
    flat = [view.flat(column(station.frame, i)) for i in range(3)]
    return view.flat(station.at), [(x * semi, y * semi) for (x, y), semi in zip(flat, station.semi, strict=True)]


def extent(view: View, station: Station) -> tuple[Point, Point]:
    """Two opposite corners of the box round a station."""
    (x, y), axes = _shadow(view, station)
    wide, tall = hypot(*(ax for ax, _ in axes)), hypot(*(ay for _, ay in axes))
    return (x - wide, y - tall), (x + wide, y + tall)


def around(view: View, stations: Sequence[Station]) -> list[Point]:
    """The outline round the ellipsoids of some stations: the furthest point in each of ROUND directions."""
    shadows = [_shadow(view, station) for station in stations]
    points = []
    for ux, uy in DIRECTIONS:
        best, furthest = (0.0, 0.0), float("-inf")
        for (cx, cy), axes in shadows:
            parts = [ax * ux + ay * uy for ax, ay in axes]
            size = hypot(*parts) or 1.0
            if cx * ux + cy * uy + size > furthest:
                furthest = cx * ux + cy * uy + size
                best = (
                    cx + sum(ax * part for (ax, _), part in zip(axes, parts, strict=True)) / size,
                    cy + sum(ay * part for (_, ay), part in zip(axes, parts, strict=True)) / size,
                )
        points.append(best)
    return points


def hull(points: Iterable[Point]) -> list[Point]:
    """The convex hull (Andrew's monotone chain), in one direction."""
    ordered = sorted(set(points))

    def half(run: Iterable[Point]) -> list[Point]:
        kept: list[Point] = []
        for p in run:
            while len(kept) > 1 and _turn(kept[-2], kept[-1], p) <= 0:
                kept.pop()
            kept.append(p)
        return kept[:-1]

    return half(ordered) + half(reversed(ordered))


def _turn(o: Point, a: Point, b: Point) -> float:
    return (a[0] - o[0]) * (b[1] - o[1]) - (a[1] - o[1]) * (b[0] - o[0])


def polygon(points: Sequence[Point]) -> str:
    """Closed path data."""
    return "M" + "L".join(_at(point) for point in points) + "Z" if points else ""


def mass(view: View, stations: Sequence[Station]) -> str:
    """The trunk or the head: outlines round neighbouring ellipsoids."""
    if len(stations) == 1:
        return polygon(around(view, stations))
    return "".join(polygon(around(view, pair)) for pair in pairwise(stations))


def arrow(start: Point, middle: Point, end: Point, scale: float = 1.0) -> tuple[str, str]:
    """A bent line through three points and its head, as path data. The line stops short of the head."""
    control = (2 * middle[0] - (start[0] + end[0]) / 2, 2 * middle[1] - (start[1] + end[1]) / 2)
    heading = atan2(end[1] - control[1], end[0] - control[0])

    def back(length: float, turn: float = 0.0) -> Point:
        return end[0] - length * scale * cos(heading + turn), end[1] - length * scale * sin(heading + turn)

    return f"M{_at(start)}Q{_at(control)} {_at(back(3.0))}", polygon([end, back(5.0, 0.48), back(5.0, -0.48)])
