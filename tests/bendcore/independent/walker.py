"""Walks a route as measured on site to its corner points, with drawn lines where the engine has formulas.

A corner's outer, inner and wall corners are found by drawing the parallel lines and intersecting them; the
height of a three-bend saddle set's corner by laying the circle between the two slopes and looking where its
top is.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence
from typing import Any

from independent.space import Vector, add, along, cross, distance, length, scale, square_part, turned, unit

DIRECTIONS: dict[str, Vector] = {
    "up": (0.0, 0.0, 1.0),
    "down": (0.0, 0.0, -1.0),
    "north": (0.0, 1.0, 0.0),
    "in": (0.0, 1.0, 0.0),
    "south": (0.0, -1.0, 0.0),
    "out": (0.0, -1.0, 0.0),
    "east": (1.0, 0.0, 0.0),
    "right": (1.0, 0.0, 0.0),
    "west": (-1.0, 0.0, 0.0),
    "left": (-1.0, 0.0, 0.0),
}
Flat = tuple[float, float]


def lines_meet(p: Flat, along_p: Flat, q: Flat, along_q: Flat) -> Flat:
    """Where two lines of a plane meet, each by a point and a direction."""
    det = along_p[0] * along_q[1] - along_p[1] * along_q[0]
    s = ((q[0] - p[0]) * along_q[1] - (q[1] - p[1]) * along_q[0]) / det
    return (p[0] + s * along_p[0], p[1] + s * along_p[1])


def beyond_the_corner(convention: str, angle: float, outside_diameter: float, standoff: float) -> float:
    """How far past the centrelines' corner, along the incoming leg, a measured corner lies; negative: before
    it.

    In the plane of the bend the incoming leg comes along +x to the origin and turns by `angle` toward +y. The
    lines that people measure to run beside both legs: half a diameter outside (back), inside, or at the
    wall's distance outside.
    """
    if convention in ("corner", "face"):
        return 0.0
    outward = {
        "back": outside_diameter / 2,
        "inside": -outside_diameter / 2,
        "wall": outside_diameter / 2 + standoff,
    }[convention]
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    beside_incoming, beside_outgoing = (0.0, -outward), (outward * s, -outward * c)
    return lines_meet(beside_incoming, (1.0, 0.0), beside_outgoing, (c, s))[0]


def toward(word: str, heading: Vector) -> Vector:
    """The direction a turn or a shift goes: the part of the named direction square to the heading."""
    return unit(square_part(DIRECTIONS[word], heading))


def slope_of(heading: Vector, shift: Vector, angle: float) -> Vector:
    """The leg that climbs by `shift`, square to the heading, at `angle` degrees to the heading."""
    return along(shift, heading, length(shift) / math.tan(math.radians(angle)))


def saddle_corner_height(rise: float, angle: float, radius: float) -> float:
    """How high the middle corner must stand for the arc below it to top out at `rise`; slopes of `angle` both
    sides.

    Two slopes through a peak at height 0, and the circle of the radius that touches both from below: its
    centre is where the lines parallel to the slopes, one radius below them, meet.
    """
    c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    rising, falling = (c, s), (c, -s)
    below_rising, below_falling = (radius * s, -radius * c), (-radius * s, -radius * c)
    centre = lines_meet(below_rising, rising, below_falling, falling)
    top_below_peak = -(centre[1] + radius)
    return rise + top_below_peak


def feature_shift(feature: Mapping[str, Any], heading: Vector) -> Vector:
    """The whole sideways shift of an offset: its rise, and its spread square to both heading and rise."""
    rise_way = toward(feature["toward"], heading)
    shift = scale(rise_way, feature["rise"])
    if "spread" in feature:
        sideways = square_part(square_part(DIRECTIONS[feature["spread_toward"]], heading), rise_way)
        shift = add(shift, scale(unit(sideways), feature["spread"]))
    return shift


def saddle_vectors(feature: Mapping[str, Any], heading: Vector, radius: float) -> list[Vector]:
    """The legs between a saddle set's corners, in order."""
    way = toward(feature["toward"], heading)
    if feature["bends"] == 3:
        height = saddle_corner_height(feature["rise"], feature["angle"], radius)
        return [
            slope_of(heading, scale(way, height), feature["angle"]),
            slope_of(heading, scale(way, -height), feature["angle"]),
        ]
    up_and_down = [scale(way, feature["rise"]), scale(way, -feature["rise"])]
    return [
        slope_of(heading, up_and_down[0], feature["angle"]),
        scale(heading, feature["width"]),
        slope_of(heading, up_and_down[1], feature["angle"]),
    ]


class _Leg:
    """The measured legs since the last corner: what was read, and between what and what."""

    def __init__(self) -> None:
        self.steps: list[Mapping[str, Any]] = []

    def corner_to_corner(
        self, near_angle: float | None, far_angle: float | None, outside_diameter: float, standoff: float
    ) -> float:
        total = float(sum(step["leg"] for step in self.steps))
        if near_angle is not None:
            first = self.steps[0]
            total -= beyond_the_corner(
                first.get("from", "corner"), near_angle, outside_diameter, first.get("standoff", standoff)
            )
        if far_angle is not None:
            last = self.steps[-1]
            total -= beyond_the_corner(
                last.get("to", "corner"), far_angle, outside_diameter, last.get("standoff", standoff)
            )
        return total


def walk(route: Mapping[str, Any], outside_diameter: float, radius: float) -> list[Vector]:
    """Start, corners and finish of a route given as steps. Fittings are not walked here."""
    x, y, z = route.get("start", (0.0, 0.0, 0.0))
    at: Vector = (float(x), float(y), float(z))
    heading = DIRECTIONS[route.get("heading", "up")]
    standoff = float(route.get("standoff", 0.0))
    points = [at]
    near_angle: float | None = (
        None  # of the corner that the next leg starts from; None at the start or mid-saddle
    )
    leg = _Leg()

    def go_to_corner(far_angle: float | None, *, less: float = 0.0) -> None:
        """Walk what was measured; `less` of it belongs to the feature that follows."""
        nonlocal at, leg
        if leg.steps:
            measured = leg.corner_to_corner(near_angle, far_angle, outside_diameter, standoff)
            at = along(at, heading, measured - less)
        else:
            assert less == 0.0, "a saddle set measured to its middle needs a leg before it"
        leg = _Leg()

    for step in route["steps"]:
        if "leg" in step:
            leg.steps.append(step)
        elif "bend" in step:
            go_to_corner(step["bend"])
            points.append(at)
            way = toward(step["toward"], heading)
            heading = unit(turned(heading, cross(heading, way), step["bend"]))
            near_angle = step["bend"]
        elif "kick" in step:
            kick = step["kick"]
            go_to_corner(kick["angle"])
            points.append(at)
            slope = slope_of(heading, scale(toward(kick["toward"], heading), kick["rise"]), kick["angle"])
            at = add(at, slope)
            heading = unit(slope)
            near_angle = None
        elif "offset" in step or "box_set" in step:
            offset = step.get("offset") or step["box_set"]
            go_to_corner(offset["angle"])
            points.append(at)
            at = add(at, slope_of(heading, feature_shift(offset, heading), offset["angle"]))
            points.append(at)
            near_angle = offset["angle"]
        else:
            saddle = step["saddle_set"]
            vectors = saddle_vectors(saddle, heading, radius)
            over = (0.0, 0.0, 0.0)
            for vector in vectors:
                over = add(over, vector)
            to_middle = saddle.get("measured_to", "outer") == "middle"
            half = length(over) / 2
            go_to_corner(None if to_middle else saddle["angle"], less=half if to_middle else 0.0)
            points.append(at)
            for vector in vectors:
                at = add(at, vector)
                points.append(at)
            if to_middle:
                at = along(at, heading, -half)  # the next leg is read from the middle of the obstruction
            near_angle = None if to_middle else saddle["angle"]
    go_to_corner(None)
    points.append(at)
    return points


def shift_to(point: Vector, line_start: Vector, heading: Vector) -> Vector:
    """How far a point stands off a line, as a vector square to it."""
    return square_part(
        (point[0] - line_start[0], point[1] - line_start[1], point[2] - line_start[2]), heading
    )


def path_length(points: Sequence[Vector]) -> float:
    return sum(distance(a, b) for a, b in itertools.pairwise(points))
