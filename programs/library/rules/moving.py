"""A drawing that a script can move from its start to its end and back.

The picture is the still one; every path that moves carries its way in data-way (rules.motion.way). Without the script, or
when less motion is asked for, it stays the still picture.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from programs.library.rules.figure import Scene, figure_svg, layers, picture, scene_of
from programs.library.rules.motion import LEAST, between, steps, way
from programs.library.rules.props import FOLLOWING, draw_prop

HEAVY = 24_000   # characters; past it, fewer steps do


def moving_svg(drawing: Mapping[str, Any], *, side: str = "right", title: str) -> str:
    """The drawing with the ways of its parts; the still one when it has one pose only. ValueError for an empty drawing."""
    if "start" not in drawing or drawing["start"] == drawing.get("end"):
        return figure_svg(drawing, side=side, title=title)
    scene = scene_of(drawing, side)
    count = steps(*scene.poses)
    svg = _moving(drawing, scene, title, count)
    while len(svg) > HEAVY and count > LEAST:
        count -= 1
        svg = _moving(drawing, scene, title, count)
    return svg


def _moving(drawing: Mapping[str, Any], scene: Scene, title: str, count: int) -> str:
    frames = []
    for step in range(count + 1):
        body = between(*scene.poses, step / count, scene.bodies)
        props = [
            piece for prop in drawing.get("props", [])
            for piece in draw_prop(prop, body if prop["prop"] in FOLLOWING else scene.bodies[1], scene.view)
        ]
        frames.append([layer.path for layer in layers(body, props, scene.view, scene.scale)])
    ways = [way(paths) for paths in zip(*frames, strict=True)]
    return picture(drawing, scene, title, [f' data-way="{text}"' if text else "" for text in ways])
