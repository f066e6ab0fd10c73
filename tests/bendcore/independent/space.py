"""Vectors of three floats for the oracles, written apart from the engine."""

from __future__ import annotations

import math

Vector = tuple[float, float, float]


def add(a: Vector, b: Vector) -> Vector:
    return (a[0] + b[0], a[1] + b[1], a[2] + b[2])


def sub(a: Vector, b: Vector) -> Vector:
    return (a[0] - b[0], a[1] - b[1], a[2] - b[2])


def scale(a: Vector, factor: float) -> Vector:
    return (a[0] * factor, a[1] * factor, a[2] * factor)


def along(point: Vector, direction: Vector, distance: float) -> Vector:
    return add(point, scale(direction, distance))


def dot(a: Vector, b: Vector) -> float:
    return a[0] * b[0] + a[1] * b[1] + a[2] * b[2]


def cross(a: Vector, b: Vector) -> Vector:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])


def length(a: Vector) -> float:
    return math.hypot(*a)


def distance(a: Vector, b: Vector) -> float:
    return length(sub(a, b))


def unit(a: Vector) -> Vector:
    return scale(a, 1.0 / length(a))


def square_part(a: Vector, axis: Vector) -> Vector:
    """The part of `a` square to the unit vector `axis`."""
    return along(a, axis, -dot(a, axis))


def turned(a: Vector, axis: Vector, angle: float) -> Vector:
    """`a` turned by `angle` degrees about the unit vector `axis`, right-hand rule (Rodrigues' formula)."""
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    part = scale(axis, dot(axis, a) * (1.0 - c))
    return add(add(scale(a, c), scale(cross(axis, a), s)), part)


def angle_between(a: Vector, b: Vector) -> float:
    """Degrees, 0 to 180, good at both ends of the range."""
    return math.degrees(math.atan2(length(cross(a, b)), dot(a, b)))


def meeting_point(p: Vector, along_p: Vector, q: Vector, along_q: Vector) -> Vector:
    """Where the line through p along the unit vector `along_p` meets that through q: midway between their
    nearest points.

    Two parallel lines have no such point: ZeroDivisionError.
    """
    w = sub(q, p)
    n = cross(along_p, along_q)
    n2 = dot(n, n)
    s = dot(cross(w, along_q), n) / n2
    t = dot(cross(w, along_p), n) / n2
    return scale(add(along(p, along_p, s), along(q, along_q, t)), 0.5)


def line_distance(point: Vector, p: Vector, along_p: Vector) -> float:
    """Distance from a point to the line through p along the unit vector `along_p`."""
    return length(square_part(sub(point, p), along_p))
