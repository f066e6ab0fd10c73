"""Directions in the room: the few operations on triples of floats that routes need.

Plain tuples: a route has a handful of corners, and an array library costs more to enter than the sums take.
"""

import math

Vec = tuple[float, float, float]


def dot(a: Vec, b: Vec) -> float:
    """Scalar product."""
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vec, b: Vec) -> Vec:
    """Vector product, right-handed."""
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def combine(p: float, a: Vec, q: float, b: Vec) -> Vec:
    """p a + q b."""
    return (p * a[0] + q * b[0], p * a[1] + q * b[1], p * a[2] + q * b[2])


def along(start: Vec, distance: float, direction: Vec) -> Vec:
    """The place so far from start in a direction."""
    return (
        start[0] + distance * direction[0],
        start[1] + distance * direction[1],
        start[2] + distance * direction[2],
    )


def length(a: Vec) -> float:
    """Euclidean length."""
    return math.sqrt(a[0] * a[0] + a[1] * a[1] + a[2] * a[2])


def part_square_to(a: Vec, direction: Vec) -> Vec | None:
    """The unit vector of a's part square to a unit direction; None if a lies along it (within 1e-9)."""
    part = along(a, -dot(a, direction), direction)
    size = length(part)
    if size <= 1e-9:
        return None
    return (part[0] / size, part[1] / size, part[2] / size)


def any_square_to(direction: Vec) -> Vec:
    """Some unit vector square to a unit direction."""
    least = min(range(3), key=lambda axis: abs(direction[axis]))
    part = part_square_to((float(least == 0), float(least == 1), float(least == 2)), direction)
    assert part is not None  # noqa: S101 - the axis least along the direction is never along it
    return part
