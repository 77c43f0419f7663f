"""Small three-dimensional geometry. x is forward, y to the person's left, z up; angles in degrees."""

from __future__ import annotations

from math import cos, radians, sin

Vec = tuple[float, float, float]
Mat = tuple[Vec, Vec, Vec]   # rows
IDENTITY: Mat = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))


def add(a: Vec, b: Vec) -> Vec:
    """The sum."""
    return a[0] + b[0], a[1] + b[1], a[2] + b[2]


def dot(a: Vec, b: Vec) -> float:
    """The scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def apply(m: Mat, v: Vec) -> Vec:
    """A vector turned by a matrix."""
    return dot(m[0], v), dot(m[1], v), dot(m[2], v)


def column(m: Mat, index: int) -> Vec:
    """One axis of a frame, in the surrounding frame."""
    return m[0][index], m[1][index], m[2][index]


def times(a: Mat, b: Mat) -> Mat:
    """First b, then a."""
    columns = column(b, 0), column(b, 1), column(b, 2)
    return (
        (dot(a[0], columns[0]), dot(a[0], columns[1]), dot(a[0], columns[2])),
        (dot(a[1], columns[0]), dot(a[1], columns[1]), dot(a[1], columns[2])),
        (dot(a[2], columns[0]), dot(a[2], columns[1]), dot(a[2], columns[2])),
    )


def about_x(degrees: float) -> Mat:
    """Tips up towards the person's right."""
    c, s = cos(radians(degrees)), sin(radians(degrees))
    return (1.0, 0.0, 0.0), (0.0, c, s * -1), (0.0, s, c)


def about_y(degrees: float) -> Mat:
    """Tips up towards forward."""
    c, s = cos(radians(degrees)), sin(radians(degrees))
    return (c, 0.0, s), (0.0, 1.0, 0.0), (-s, 0.0, c)


def about_z(degrees: float) -> Mat:
    """Turns forward towards the left."""
    c, s = cos(radians(degrees)), sin(radians(degrees))
    return (c, -s, 0.0), (s, c, 0.0), (0.0, 0.0, 1.0)
