"""The proportions that figures are drawn with.

Drillis R, Contini R 1966 (NYU TR 1166.03), as drawn in Winter DA, Biomechanics and Motor Control of Human Movement,
figure 4.1; hand, foot, head and chin from memory of the same figure.
"""

import pytest

from programs.library.rules import body
from programs.library.rules.pose import Pose
from programs.library.rules.skeleton import skeleton

UPRIGHT = Pose({}, {"elbow": 0, "shoulder_out": 0}, {"elbow": 0, "shoulder_out": 0}, rest=(("right_heel", 0.0),))


def test_the_lengths_close_on_the_heights():
    assert pytest.approx(body.KNEE_HEIGHT) == body.ANKLE_HEIGHT + body.SHANK
    assert pytest.approx(body.HIP_HEIGHT) == body.KNEE_HEIGHT + body.THIGH
    assert pytest.approx(body.SHOULDER_HEIGHT) == body.HIP_HEIGHT + body.TRUNK
    assert pytest.approx(1) == body.CHIN_HEIGHT + body.HEAD
    assert pytest.approx(0.440) == body.UPPER_ARM + body.FOREARM + body.HAND


@pytest.mark.parametrize(
    ("landmark", "centimetres"), [("ankle", 6.6), ("knee", 48.45), ("hip", 90.1), ("shoulder", 139.1), ("eye", 159.1)]
)
def test_heights_of_a_person_of_170_cm(landmark, centimetres):
    assert body.height(landmark, 170) == pytest.approx(centimetres, abs=0.05)


@pytest.mark.parametrize(
    ("part", "centimetres"), [("thigh", 41.65), ("upper arm", 31.6), ("forearm", 24.8), ("hand", 18.4), ("foot length", 25.8)]
)
def test_lengths_of_a_person_of_170_cm(part, centimetres):
    assert body.length(part, 170) == pytest.approx(centimetres, abs=0.05)


def test_a_figure_that_stands_upright_has_its_joints_at_those_heights():
    standing = skeleton(UPRIGHT)
    heights = {name: standing[f"right_{name}"].at[2] / 100 for name in ("ankle", "knee", "hip", "shoulder")}
    for name, height in heights.items():
        expected = {"ankle": 0.039, "knee": 0.285, "hip": 0.530, "shoulder": 0.806}[name]   # the joint lies in the shoulder
        assert height == pytest.approx(expected, abs=0.001), name


def test_a_figure_is_as_tall_as_its_stature():
    standing = skeleton(UPRIGHT)
    top = standing["head"].at[2] + standing["head"].reach((0, 0, 1))
    assert top == pytest.approx(100, abs=0.5)


def test_the_outline_of_the_shoulders_and_the_foot():
    standing = skeleton(UPRIGHT)
    width = 2 * (standing["left_shoulder"].at[1] + standing["left_shoulder"].reach((0, 1, 0)))
    assert width == pytest.approx(25.9, abs=0.1)
    foot = standing["right_toe"].at[0] + standing["right_toe"].reach((1, 0, 0))
    foot -= standing["right_heel"].at[0] - standing["right_heel"].reach((-1, 0, 0))
    assert foot == pytest.approx(15.2, abs=0.05)
