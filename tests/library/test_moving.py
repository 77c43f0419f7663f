"""Drawings that move from the start pose to the end pose and back."""

import json
import re
from xml.etree import ElementTree

import pytest

from programs.library.rules.entry import drawn
from programs.library.rules.motion import LEAST, MOST, between, coordinates, mixed, steps, way
from programs.library.rules.moving import moving_svg
from programs.library.rules.pose import pose_of
from programs.library.rules.skeleton import skeleton, underside
from programs.library.templatetags.library_tags import moving_drawing
from tests.library.test_figure import BENT, LEVELS, POSES
from tests.library.test_reading import add

STRAIGHT = {"right": {"knee": 0}, "left": {}, "rest": [["left_heel", 0]]}
KICK = {"start": STRAIGHT, "end": BENT["end"]}
WAY = re.compile(r'data-way="([^"]*)" d="([^"]*)"')
NUMBER, ARC = re.compile(r"-?\d+(?:\.\d+)?"), re.compile(r"A[\d.]+ [\d.]+ 0 [01] [01]")


def walk(start, end, share):
    poses = pose_of(start), pose_of(end)
    return between(*poses, share, (skeleton(poses[0]), skeleton(poses[1])))


@pytest.mark.parametrize(("name", "drawing"), LEVELS[::4], ids=[name for name, _ in LEVELS[::4]])
def test_a_moving_drawing_is_light_and_every_step_has_the_same_commands(name, drawing):
    svg = moving_svg(drawn(drawing, POSES), title=name)
    assert len(svg) < 25_000
    assert "style=" not in svg
    ElementTree.fromstring(svg)
    ways = WAY.findall(svg)
    assert len(ways) >= 1
    for steps_text, path in ways:
        assert {len(step.split(" ")) for step in steps_text.split(";")} == {len(coordinates(path))}


def test_every_level_of_the_library_has_a_start_and_an_end():
    assert [name for name, drawing in LEVELS if "start" not in drawing or drawing["start"] == drawing["end"]] == []


def test_going_back_all_the_steps_ends_at_the_start_pose():
    svg = moving_svg(KICK, title="Kick")
    still = moving_svg({"start": BENT["end"], "end": STRAIGHT}, title="Kick")   # drawn at the other pose
    begun = {tuple(coordinates(path)) for path in re.findall(r' d="([^"]*)"', still)}
    for steps_text, path in WAY.findall(svg):
        place = coordinates(path)
        for step in steps_text.split(";"):
            place = [a + int(b or 0) for a, b in zip(place, step.split(" "), strict=True)]
        alike = (zip(place, other, strict=True) for other in begun if len(other) == len(place))
        assert any(all(abs(a - b) <= 3 for a, b in pairs) for pairs in alike)   # tenths, as rounded


def test_only_what_moves_has_a_way():
    moving = WAY.findall(moving_svg(KICK, title="Kick"))
    assert 0 < len(moving) <= 4    # the leg, its shoe, its shorts


def test_one_pose_alone_stays_still():
    assert "data-way" not in moving_svg(BENT, title="Bend")


def test_half_way_is_half_of_every_angle():
    half = mixed(pose_of(STRAIGHT), pose_of(BENT["end"]), 0.5)
    assert half.right["knee"] == 30
    assert walk(STRAIGHT, BENT["end"], 0.0) == skeleton(pose_of(STRAIGHT))
    assert walk(STRAIGHT, BENT["end"], 1.0) == skeleton(pose_of(BENT["end"]))


def test_what_both_poses_stand_on_stays_where_it_is():
    squat = {"lean": 30, "right": {"hip": 82, "knee": 72, "ankle": 20}, "left": {"hip": 82, "knee": 72, "ankle": 20},
             "rest": [["right_heel", 0]], "pin": ["right_heel", 5]}
    tall = {"right": {}, "left": {}, "rest": [["right_heel", 0], ["left_heel", 0]], "pin": ["right_heel", 5]}
    for share in (0.25, 0.5, 0.75):
        heel = walk(tall, squat, share)["right_heel"]
        assert underside(heel) == pytest.approx(0, abs=0.01)
        assert heel.at[0] == pytest.approx(5, abs=0.01)


@pytest.mark.parametrize(("knee", "count"), [(5, LEAST), (80, 4), (150, MOST)])
def test_a_long_way_has_more_steps(knee, count):
    assert steps(pose_of(STRAIGHT), pose_of({**STRAIGHT, "right": {"knee": knee}})) == count


def test_steps_of_unlike_paths_are_refused():
    with pytest.raises(ValueError, match="same commands"):
        way(["M0 0L1 1Z", "M0 0Z"])


def test_radii_and_flags_of_arcs_are_no_coordinates():
    assert coordinates("M1.5 -2L3 4A2.5 2.5 0 1 0 7 8Z") == [15, -20, 30, 40, 70, 80]


def test_the_tag_gives_the_figure_a_button_that_is_hidden_without_the_script(db):
    level = add(1).levels.first()
    level.drawing = KICK
    context = moving_drawing(level, "left", "ask")
    assert context["play"] == "ask"
    assert "data-way" in context["figure"]
    assert context["figure"] != moving_drawing(level)["figure"]


def test_the_page_of_an_exercise_moves_its_drawings_without_inline_style_or_script(cast, browse):
    exercise = add(1)
    exercise.levels.update(drawing=json.loads(json.dumps(KICK)))
    page = browse(cast.mina.user).get("/library/lift-1/").content.decode()
    assert page.count('class="moving" data-moving="auto"') == 2
    assert page.count("hidden") >= 2
    assert "library/moving.js" in page
    assert "style=" not in page
    assert "<script>" not in page
