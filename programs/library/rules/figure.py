"""A person doing an exercise, as SVG: the start pose ghosted, the end pose solid, an arrow for the way between.

A drawing is {"view", "start", "end", "props", "arrow", "focus"}; poses as in rules.pose, already flattened. Poses are written
for the right side; the left side is the mirror image. Colours are attributes, so that it prints without a style sheet;
classes let a screen's style sheet follow dark mode.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from math import hypot
from typing import Any, NamedTuple

from programs.library.rules.motion import between
from programs.library.rules.pose import SIDES, Pose, pose_of
from programs.library.rules.props import Drawn, draw_prop
from programs.library.rules.shapes import Point, View, arrow, chain, circle, extent, mass, number, view_named
from programs.library.rules.skeleton import Body, Station, skeleton
from programs.library.rules.vector import Vec, add, apply, column

MARGIN, ASPECT, LEAST_HEIGHT = 4.0, 4 / 3, 52.0   # of the frame; per cent of stature
MOVED = 1.5          # a part that moves less is not ghosted
_INK = "#22282a"
_FILLS = {"skin": "#e6cfb6", "shoe": "#47565a", "shirt": "#7fb0ac", "shorts": "#2f5f66", "hair": "#47433f"}
_EDGE = f'stroke="{_INK}" stroke-linejoin="round" paint-order="stroke"'
_PROP = f'fill="#d9b36a" stroke="{_INK}" stroke-linejoin="round"'
_MAT = f'fill="#efe3c8" stroke="{_INK}" stroke-linejoin="round"'
_LINE = 'fill="none" stroke="#8a4b12" stroke-linejoin="round" stroke-linecap="round"'
_GHOST = 'fill="#fff" stroke="#77807d" stroke-dasharray="2 1.5" paint-order="stroke"'


class Part(NamedTuple):
    """A piece of the body: class, path data, depth, and the stations it is made of."""

    css: str
    path: str
    depth: float
    stations: tuple[str, ...]


def _between(a: Station, b: Station, share: float) -> Station:
    mix: Vec = tuple(p + (q - p) * share for p, q in zip(a.at, b.at, strict=True))  # type: ignore[assignment]
    radius = a.semi[0] + (b.semi[0] - a.semi[0]) * share
    return Station(mix, a.frame, (radius, radius, radius))


def _grown(station: Station, by: float) -> Station:
    return Station(station.at, station.frame, (station.semi[0] + by, station.semi[1] + by, station.semi[2] + by))


def _limb_parts(body: Body, view: View, side: str) -> list[Part]:
    def get(*names: str) -> list[Station]:
        return [body[f"{side}_{name}"] for name in names]

    def depth(stations: Sequence[Station]) -> float:
        return sum(view.depth(s.at) for s in stations) / len(stations)

    arm = ("shoulder", "elbow", "forearm", "wrist", "hand", "fingers")
    leg = ("hip", "thigh", "knee", "calf", "ankle")
    foot = ("heel", "ball", "toe")
    names = {part: tuple(f"{side}_{n}" for n in part) for part in (arm, leg, foot)}
    at_arm, at_leg = depth(get(*arm)) + 0.6, depth(get(*leg, *foot)) - 0.4
    shoulder, elbow, hip, thigh, knee = get("shoulder", "elbow", "hip", "thigh", "knee")
    sleeve = [_grown(shoulder, 0.3), _grown(_between(shoulder, elbow, 0.5), 0.5)]
    shorts = [_grown(hip, 0.3), _grown(thigh, 0.3), _grown(_between(thigh, knee, 0.35), 0.6)]
    shoe = chain(view, get(*foot)) + chain(view, get("heel", "ankle", "ball"))
    return [
        Part("skin", chain(view, get(*arm)) + chain(view, get("wrist", "thumb")), at_arm, names[arm]),
        Part("shirt", chain(view, sleeve), at_arm + 0.01, names[arm][:2]),
        Part("skin", chain(view, get(*leg)), at_leg, names[leg]),
        Part("shoe", shoe, at_leg + 0.01, (names[leg][-1], *names[foot])),
        Part("shorts", chain(view, shorts), at_leg + 0.02, names[leg][:3]),
    ]


def _parts(body: Body, view: View) -> list[Part]:
    trunk = ("pelvis", "waist", "chest", "yoke")
    middle = sum(view.depth(body[name].at) for name in trunk) / 4
    head = view.depth(body["head"].at)
    away = view.depth(column(body["head"].frame, 0)) < -0.35   # the back of the head is towards the eye
    parts = [
        Part("skin", chain(view, [body["neck"], body["nape"]]), middle - 0.2, ("neck", "nape")),
        Part("shirt", mass(view, [body[name] for name in trunk]), middle, trunk),
        Part("shorts", mass(view, [body["pelvis"]]), middle + 0.01, ("pelvis",)),
        Part("hair", mass(view, [body["hair"]]), head + (0.3 if away else 0.0), ("head",)),
        Part("skin", mass(view, [body["head"]]) + chain(view, [body["nose"], body["nose"]]), head + 0.1, ("head",)),
    ]
    for side in SIDES:
        parts += _limb_parts(body, view, side)
    return parts


def _ghost(start: Body, end: Body, view: View, scale: float) -> str:
    """The parts of the start pose that are elsewhere in the end pose."""

    def moved(name: str) -> bool:
        (ax, ay), (bx, by) = view.flat(start[name].at), view.flat(end[name].at)
        return abs(ax - bx) + abs(ay - by) > MOVED

    width = number(1.4 * scale)
    return "".join(
        f'<path class="ghost" {_GHOST} stroke-width="{width}" d="{part.path}"/>'
        for part in sorted(_parts(start, view), key=lambda part: part.depth)
        if any(map(moved, part.stations))
    )


class Layer(NamedTuple):
    """One path of the solid figure: its attributes, path data and depth; `shown` is off for an eye that looks away."""

    look: str
    path: str
    depth: float
    shown: bool = True


def layers(body: Body, props: Sequence[Drawn], view: View, scale: float) -> list[Layer]:
    """The solid figure with its props, always in the same order: what is nearer the eye has the larger depth."""
    fine, thin, thick = (f'stroke-width="{number(width * scale)}"' for width in (0.6, 1.1, 1.7))
    middle = view.depth(body["pelvis"].at)
    found = []
    for part in _parts(body, view):
        css = part.css + (" far" if part.depth < middle - 3 else "")
        edge = "" if part.stations == ("pelvis",) else f" {_EDGE} {thin}"
        found.append(Layer(f'class="{css}" fill="{_FILLS[part.css]}"{edge}', part.path, part.depth))
    for prop in props:
        look = f"{_LINE} {thick}" if prop.line else f"{_MAT if 'mat' in prop.css else _PROP} {fine}"
        found.append(Layer(f'class="{prop.css}" {look}', prop.path, prop.depth))
    return found + [_eye(body["head"], view, sign) for sign in (1, -1)]


def _solid(found: Sequence[Layer], ways: Sequence[str]) -> str:
    """The layers from the furthest to the nearest; a way is what a layer carries to be moved by."""
    ordered = sorted(zip(found, ways, strict=True), key=lambda pair: pair[0].depth)
    return "".join(f'<path {layer.look}{way} d="{layer.path}"/>' for layer, way in ordered if layer.shown)


def _eye(head: Station, view: View, sign: int) -> Layer:
    looks = apply(head.frame, (0.75, sign * 0.66, 0.0))
    at = add(head.at, apply(head.frame, (4.0, sign * 1.9, 0.2)))
    look = f'class="eye" fill="{_INK}"'
    return Layer(look, circle(view.flat(at), 0.7), view.depth(head.at) + 0.2, view.depth(looks) >= 0.2)


def _way(drawing: Mapping[str, Any], poses: tuple[Pose, Pose], bodies: tuple[Body, Body], view: View) -> list[Point]:
    """Start, middle and end of the way of one point, {"point", "shift"}; shifted by [right, up] so that it hides nothing."""
    if "arrow" not in drawing:
        return []
    point, (dx, dy) = drawing["arrow"]["point"], drawing["arrow"].get("shift", (0, 0))
    places = [view.flat(between(*poses, share, bodies)[point].at) for share in (0.0, 0.5, 1.0)]
    dx = -dx if view.mirror else dx
    return [(x + dx, y - dy) for x, y in places]


def _arrow(way: Sequence[Point], scale: float) -> str:
    if not way:
        return ""
    start, middle, end = _longer(way, 9 * scale)
    straight = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    if hypot(middle[0] - straight[0], middle[1] - straight[1]) > 0.45 * hypot(end[0] - start[0], end[1] - start[1]):
        middle = straight   # the two poses stand differently: the bend between them means nothing
    line, tip = arrow(start, middle, end, scale)
    width = number(1.7 * scale)
    return (
        f'<path class="way" fill="none" stroke="#b45309" stroke-width="{width}" d="{line}"/>'
        f'<path class="way tip" fill="#b45309" d="{tip}"/>'
    )


def _longer(way: Sequence[Point], least: float) -> Sequence[Point]:
    """The same way, stretched about its middle until it can be seen."""
    apart = hypot(way[2][0] - way[0][0], way[2][1] - way[0][1])
    if apart >= least or apart < 0.1:
        return way
    (mx, my), grow = way[1], least / apart
    return [(mx + (x - mx) * grow, my + (y - my) * grow) for x, y in way]


def _frame(
    drawing: Mapping[str, Any], bodies: Sequence[Body], props: Sequence[Drawn], way: Sequence[Point], view: View
) -> tuple[float, ...]:
    """x, y, width, height of what is shown, four by three."""
    if "focus" in drawing:
        x, y = view.flat(bodies[-1][drawing["focus"]["point"]].at)
        half = drawing["focus"]["half"]
        return x - half * ASPECT, y - half, 2 * half * ASPECT, 2 * half
    points = [corner for body in bodies for station in body.values() for corner in extent(view, station)]
    points += [corner for prop in props for corner in prop.corners] + list(way)
    left, right = min(x for x, _ in points) - MARGIN, max(x for x, _ in points) + MARGIN
    top, bottom = min(y for _, y in points) - MARGIN, max(y for _, y in points) + MARGIN
    height = max(bottom - top, (right - left) / ASPECT, LEAST_HEIGHT)
    width = height * ASPECT
    return (left + right - width) / 2, bottom - height, width, height


class Scene(NamedTuple):
    """A drawing made ready: both poses and bodies, the props, and the frame they are shown in."""

    poses: tuple[Pose, Pose]
    bodies: tuple[Body, Body]
    props: tuple[Drawn, ...]
    way: tuple[Point, ...]     # of the arrow; empty without one
    view: View
    frame: tuple[float, ...]   # x, y, width, height
    scale: float               # of lines


def scene_of(drawing: Mapping[str, Any], side: str) -> Scene:
    """ValueError for an empty drawing."""
    if "end" not in drawing:
        raise ValueError("a drawing needs an end pose")
    view = view_named(drawing.get("view", "side"), mirror=side == "left")
    poses = pose_of(drawing.get("start", drawing["end"])), pose_of(drawing["end"])
    bodies = skeleton(poses[0]), skeleton(poses[1])
    props = tuple(piece for prop in drawing.get("props", []) for piece in draw_prop(prop, bodies[1], view))
    way = tuple(_way(drawing, poses, bodies, view))
    frame = _frame(drawing, bodies, props, way, view)
    return Scene(poses, bodies, props, way, view, frame, max(0.35, min(1.2, frame[3] / 80)))


def picture(drawing: Mapping[str, Any], scene: Scene, title: str, ways: Sequence[str] | None = None) -> str:
    """The SVG of a scene; `ways` has one text for each layer."""
    x, y, width, height = scene.frame
    floor = ""
    if drawing.get("view", "side") in {"side", "front", "back"} and "focus" not in drawing:
        floor = (
            f'<path class="floor" fill="none" stroke="currentColor" stroke-width=".6" stroke-opacity=".5" '
            f'd="M{number(x)} 0.3H{number(x + width)}"/>'
        )
    found = layers(scene.bodies[1], scene.props, scene.view, scene.scale)
    return (
        f'<svg class="figure" role="img" viewBox="{number(x)} {number(y)} {number(width)} {number(height)}" '
        f'xmlns="http://www.w3.org/2000/svg"><title>{escape(title)}</title>{floor}'
        f"{_ghost(*scene.bodies, scene.view, scene.scale)}{_solid(found, ways or [''] * len(found))}"
        f"{_arrow(scene.way, scene.scale)}</svg>"
    )


def figure_svg(drawing: Mapping[str, Any], *, side: str = "right", title: str) -> str:
    """The drawing for one side of the body. `title` is read out by screen readers. ValueError for an empty drawing."""
    return picture(drawing, scene_of(drawing, side), title)
