"""Figures from joint angles."""

import json
import re
from xml.etree import ElementTree

import pytest

from programs.library.actions.load_library import FOLDER
from programs.library.rules.entry import drawn
from programs.library.rules.figure import figure_svg
from programs.library.rules.pose import flatten, pose_of, problems
from programs.library.rules.skeleton import skeleton, underside

POSES = json.loads((FOLDER / "poses" / "common.json").read_text())
LEVELS = [
    (f"{entry['slug']} {number}", level["drawing"])
    for path in sorted(FOLDER.glob("*.json"))
    for entry in json.loads(path.read_text())["exercises"]
    for number, level in enumerate(entry["levels"], start=1)
]
STANDING = {"rest": [["left_heel", 0]]}
BENT = {"end": {"right": {"knee": 60}, "left": {}, **STANDING}}


def parse(svg):
    return ElementTree.fromstring(svg)


def numbers(svg):
    return [float(n) for n in re.findall(r"-?\d+\.?\d*", parse(svg).attrib["viewBox"])]


@pytest.mark.parametrize(("name", "drawing"), LEVELS, ids=[name for name, _ in LEVELS])
def test_every_drawing_of_the_library_can_be_printed(name, drawing):
    root = parse(figure_svg(drawn(drawing, POSES), title=name))
    assert root.find("{http://www.w3.org/2000/svg}title").text == name
    _, _, width, height = (float(n) for n in root.attrib["viewBox"].split())
    assert width / height == pytest.approx(4 / 3, abs=0.01)
    shapes = root.findall("{http://www.w3.org/2000/svg}path")
    assert len(shapes) > 15
    assert all("nan" not in shape.attrib["d"] for shape in shapes)
    assert all("style" not in shape.attrib for shape in shapes)   # the content policy refuses inline styles


@pytest.mark.parametrize(("name", "drawing"), LEVELS, ids=[name for name, _ in LEVELS])
def test_nobody_sinks_into_the_floor(name, drawing):
    for part in ("start", "end"):
        if part in drawing:
            body = skeleton(pose_of(flatten(drawing[part], POSES)))
            deepest = min(body, key=lambda point: underside(body[point]))
            assert underside(body[deepest]) > -2.5, (part, deepest)   # per cent of stature: the pile of a mat


@pytest.mark.parametrize(("name", "pose"), POSES.items())
def test_every_named_pose_is_within_the_joint_limits(name, pose):
    assert problems(flatten(pose, POSES)) == []


def test_an_angle_past_the_limit_is_named_and_drawn_at_the_limit():
    assert problems({"right": {"knee": 200}}) == ["right.knee: 200 degrees is outside -5 to 153"]
    assert problems({"right": {"knee": 150}}) == []
    assert pose_of({"right": {"knee": 200}}).right["knee"] == 153


def test_a_pose_is_laid_over_the_one_it_comes_from():
    named = {"a": {"lean": 10, "both": {"knee": 20}}, "b": {"from": "a", "right": {"knee": 30}}}
    assert flatten("b", named) == {"lean": 10, "right": {"knee": 30}, "left": {"knee": 20}}
    with pytest.raises(ValueError, match="there is no pose named 'c'"):
        flatten({"from": "c"}, named)


def test_the_left_side_is_the_mirror_image():
    right, left = (figure_svg(BENT, side=side, title="Bend") for side in ("right", "left"))
    assert right != left
    (x, _, width, height), (mirrored, _, same, tall) = numbers(right), numbers(left)
    assert (width, height) == (same, tall)
    assert x + width / 2 == pytest.approx(-(mirrored + width / 2), abs=0.11)


def test_only_what_moves_is_ghosted():
    still = figure_svg({**BENT, "start": BENT["end"]}, title="Bend")
    moving = figure_svg({**BENT, "start": {"right": {"knee": 20}, "left": {}, **STANDING}}, title="Bend")
    assert still.count('class="ghost"') == 0
    assert 0 < moving.count('class="ghost"') <= 4   # the leg, its shoe


def test_two_resting_points_turn_the_body_until_both_hold():
    pose = pose_of(flatten({"from": "hook-lying", "rest": [["yoke", 0], ["right_heel", 10]]}, POSES))
    body = skeleton(pose)
    assert underside(body["yoke"]) == pytest.approx(0, abs=0.05)
    assert underside(body["right_heel"]) == pytest.approx(10, abs=0.05)


def test_the_title_is_escaped():
    assert "<script>" not in figure_svg(BENT, title="<script>alert(1)</script>")


def test_a_drawing_without_an_end_is_refused():
    with pytest.raises(ValueError, match="needs an end pose"):
        figure_svg({}, title="Nothing")


@pytest.mark.parametrize("view", ["side", "front", "back", "quarter", "high", "low"])
def test_every_view_and_prop_draws(view):
    props = [
        {"prop": "roller", "under": "right_calf"}, {"prop": "ball", "at": [0, 0, 50]}, {"prop": "step"}, {"prop": "chair"},
        {"prop": "wall", "at": 20}, {"prop": "wall", "behind": "back"}, {"prop": "wall", "touch": "right_hand"},
        {"prop": "wall", "beside": "right_hip"}, {"prop": "post", "at": [10, 10]}, {"prop": "mat"},
        {"prop": "strap", "through": ["right_hand", "right_ball"]}, {"prop": "band", "through": ["left_hand", [40, 0, 60]]},
        {"prop": "bottle", "in": "left_hand"},
    ]
    bare = parse(figure_svg({**BENT, "view": view}, title="Bare"))
    full = parse(figure_svg({**BENT, "view": view, "props": props}, title="Full"))
    assert len(full) >= len(bare) + len(props)
