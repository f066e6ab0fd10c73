"""The run in the room: its centreline as a curve, and the view from which it is drawn."""

import math
from bisect import bisect_right
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from bendcore import tape
from bendcore.bends import arc_length, outgoing, tangent_length
from bendcore.drawing.plane import Spot, box_round, distance, line_to_line, lines_cross
from bendcore.route import Route
from bendcore.units import Deg, Mm, Units
from bendcore.vectors import Vec, along, combine, dot

# ---------------------------------------------------------------------------------------------- centreline


@dataclass(frozen=True, slots=True)
class Piece:
    """A straight, or the arc of a corner.

    begin, finish: mm along the conduit, from the run's developed start.  start: where it begins.  direction:
    unit, there.  toward, radius, angle: how an arc closes; angle 0: a straight.
    """

    begin: Mm
    finish: Mm
    start: Vec
    direction: Vec
    toward: Vec = (0.0, 0.0, 0.0)
    radius: Mm = Mm(0.0)
    angle: Deg = Deg(0.0)

    def at(self, place: float) -> Vec:
        """The centreline at so many mm along the conduit."""
        if not self.angle:
            return along(self.start, place - self.begin, self.direction)
        turn = (place - self.begin) / self.radius
        ahead, across = self.radius * math.sin(turn), self.radius * (1.0 - math.cos(turn))
        return along(along(self.start, ahead, self.direction), across, self.toward)

    def heading(self, place: float) -> Vec:
        """Unit direction of the centreline there."""
        if not self.angle:
            return self.direction
        turn = (place - self.begin) / self.radius
        return combine(math.cos(turn), self.direction, math.sin(turn), self.toward)


@dataclass(frozen=True, slots=True)
class Centreline:
    """The run's centreline, end allowances included: straights and arcs in turn."""

    pieces: tuple[Piece, ...]

    def piece_at(self, place: float) -> Piece:
        """The piece that so many mm along the conduit lie on; past an end, the end piece."""
        index = bisect_right(self.pieces, place, key=lambda piece: piece.begin) - 1
        return self.pieces[max(index, 0)]

    def at(self, place: float) -> Vec:
        """The centreline so many mm along the conduit."""
        return self.piece_at(place).at(place)

    def cut(self, begin: float, finish: float) -> list[Piece]:
        """The pieces between two places along the conduit."""
        found = []
        for piece in self.pieces:
            first, last = max(begin, piece.begin), min(finish, piece.finish)
            if last > first:
                angle = Deg(piece.angle * (last - first) / (piece.finish - piece.begin))
                heading = piece.heading(first)
                toward = piece.toward
                if piece.angle:
                    turn = (first - piece.begin) / piece.radius
                    toward = combine(-math.sin(turn), piece.direction, math.cos(turn), piece.toward)
                found.append(
                    Piece(Mm(first), Mm(last), piece.at(first), heading, toward, piece.radius, angle)
                )
        return found


def centreline(route: Route, start_allowance: Mm, finish_allowance: Mm) -> Centreline:
    """The curve that the conduit follows: each corner rounded, both ends longer by their allowance.

    Through a fitting it runs along the fitting's own legs, by its bend if it has one, so that places along
    the conduit count the gap there.
    """
    pieces: list[Piece] = []
    place = 0.0

    def straight(at: Vec, direction: Vec, size: float) -> None:
        nonlocal place
        if size > 0.0:
            pieces.append(Piece(Mm(place), Mm(place + size), at, direction))
            place += size

    at = along(route.start, -start_allowance, route.legs[0].direction)
    before = -start_allowance
    for index, leg in enumerate(route.legs):
        corner = route.corners[index] if index < len(route.corners) else None
        after = -finish_allowance if corner is None else corner.lead_in
        straight(at, leg.direction, leg.length - before - after)
        if corner is None:
            break
        # from the corner, not from the last piece: nothing adds up over five hundred corners
        leaves = outgoing(leg.direction, corner.toward, corner.angle) if corner.angle else leg.direction
        tangent = corner.lead_in if corner.fitting is None else tangent_length(corner.radius, corner.angle)
        straight(along(corner.at, -corner.lead_in, leg.direction), leg.direction, corner.lead_in - tangent)
        arc = arc_length(corner.radius, corner.angle)
        if arc > 0.0:
            at = along(corner.at, -tangent, leg.direction)
            pieces.append(
                Piece(
                    Mm(place), Mm(place + arc), at, leg.direction, corner.toward, corner.radius, corner.angle
                )
            )
            place += arc
        straight(along(corner.at, tangent, leaves), leaves, corner.lead_out - tangent)
        at = along(corner.at, corner.lead_out, leaves)
        before = corner.lead_out
    return Centreline(tuple(pieces))


def sampled(piece: Piece, px_per_mm: float) -> list[Vec]:
    """Points along a piece, from its begin to its finish."""
    steps = 1
    if piece.angle:
        flatness = 0.05 / max(piece.radius * px_per_mm, 0.1)
        step = 2.0 * math.acos(max(1.0 - flatness, 0.0))
        steps = max(2, math.ceil(math.radians(piece.angle) / step))
    size = piece.finish - piece.begin
    return [piece.at(piece.begin + size * i / steps) for i in range(steps + 1)]


def opposite(way: Vec) -> Vec:
    """The direction turned round."""
    return (-way[0], -way[1], -way[2])


# ---------------------------------------------------------------------------------------------- views


@dataclass(frozen=True, slots=True)
class View:
    """A direction to look from, without perspective.

    name: where the viewer stands.  right, up: unit directions of the sheet.  toward: unit, to the viewer.
    back: the two sides of the room that stand behind the run, of (axis, side): (0, 1) is the east wall.
    """

    name: str
    right: Vec
    up: Vec
    toward: Vec
    back: tuple[tuple[int, int], tuple[int, int]]

    def flat(self, point: Vec) -> Spot:
        """Where a point, or a direction, comes on the sheet: mm, y down."""
        return (dot(point, self.right), -dot(point, self.up))

    def depth(self, point: Vec) -> float:
        """How near the viewer a point lies; more is nearer."""
        return dot(point, self.toward)


def _view(name: str, azimuth: float, elevation: float) -> View:
    """From where a viewer looks. azimuth: from east toward north; elevation: above level; degrees."""
    a, e = math.radians(azimuth), math.radians(elevation)
    return View(
        name,
        right=(-math.sin(a), math.cos(a), 0.0),
        up=(-math.sin(e) * math.cos(a), -math.sin(e) * math.sin(a), math.cos(e)),
        toward=(math.cos(e) * math.cos(a), math.cos(e) * math.sin(a), math.sin(e)),
        back=((0, -1 if math.cos(a) > 0 else 1), (1, -1 if math.sin(a) > 0 else 1)),
    )


_ISOMETRIC: Final = math.degrees(math.atan(1.0 / math.sqrt(2.0)))
"""Elevation from which the three axes are foreshortened alike: ISO 5456-3, isometric axonometry."""

_FROM: Final = (("south-east", -45.0), ("south-west", -135.0), ("north-east", 45.0), ("north-west", 135.0))

VIEWS: Final = (
    *(_view(name, azimuth, _ISOMETRIC) for name, azimuth in _FROM),
    # turned, for a route that has a leg along each of the four lines of sight
    *(_view(name, azimuth + 22.5, 14.0) for name, azimuth in _FROM),
)
"""Views to choose from, the first wanted first. In it east runs right and down, north right and up."""

_FEW: Final = 60  # legs up to which crossings are counted


def choose_view(route: Route) -> View:
    """The view that shows a route best: no leg end on, few over each other, the walls it lies on behind it.

    One view for the whole run, so that a stick lies in its own drawing as it lies in the room.
    """
    walls = lies_on(route)
    costs = [
        (_hidden(route, view) - sum(walls[side] for side in view.back) + _unwanted(view, rank), rank)
        for rank, view in enumerate(VIEWS)
    ]
    return VIEWS[min(costs)[1]]


def _unwanted(view: View, rank: int) -> float:
    """What a view costs for itself: one faces north, and right should stay right."""
    return 0.02 * rank + (0.6 if view.name.startswith("north") else 0.0)


def lies_on(route: Route) -> dict[tuple[int, int], float]:
    """What share of the run lies on each side of the box round it, by (axis, side): on a wall, maybe."""
    points = route.points
    total = sum(leg.length for leg in route.legs)
    shares = {}
    for axis in (0, 1):
        values = [point[axis] for point in points]
        reach = 0.04 * max(
            max(point[i] for point in points) - min(point[i] for point in points) for i in (0, 1, 2)
        )
        for side, limit in ((-1, min(values)), (1, max(values))):
            on = sum(
                leg.length
                for leg, (a, b) in zip(route.legs, pairwise(points), strict=True)
                if abs(a[axis] - limit) <= reach and abs(b[axis] - limit) <= reach
            )
            shares[axis, side] = on / total
    return shares


def _hidden(route: Route, view: View) -> float:
    """How much a view hides: legs end on, legs over each other, bends that look straight, crossings."""
    cost = 0.0
    spots = [view.flat(point) for point in route.points]
    for leg, (a, b) in zip(route.legs, pairwise(spots), strict=True):
        if distance(a, b) < 0.4 * leg.length:
            cost += 1.0
    turned = 0.0 if view in VIEWS[:4] else 0.4
    if len(route.legs) > _FEW:
        return cost / len(route.legs) + turned
    size = distance(*box_round(spots).diagonal)
    lines = list(pairwise(spots))
    for i, (a, b) in enumerate(lines):
        for j in range(i + 1, len(lines)):
            c, d = lines[j]
            shared = _along_each_other(a, b, c, d, 0.02 * size)
            if j == i + 1:
                cost += 1.0 if shared > 0.05 * size else 0.0
                cost += 0.7 if _looks_straight(route.corners[i].angle, a, b, d) else 0.0
            elif shared:
                cost += 0.5 + shared / size
            elif lines_cross(a, b, c, d):
                cost += 0.1
    return cost + turned


def _looks_straight(angle: Deg, a: Spot, b: Spot, c: Spot) -> bool:
    """Whether a bend of some size comes out as a straight line through a, b and c."""
    turned = math.degrees(math.atan2(c[1] - b[1], c[0] - b[0]) - math.atan2(b[1] - a[1], b[0] - a[0]))
    return angle >= 10.0 and abs(math.remainder(turned, 360.0)) < 0.25 * min(angle, 40.0)


def _along_each_other(a: Spot, b: Spot, c: Spot, d: Spot, near: float) -> float:
    """Over what length two lines on the sheet lie on each other."""
    size, other = distance(a, b), distance(c, d)
    if size == 0.0 or other == 0.0 or line_to_line(a, b, c, d) > near:
        return 0.0
    ux, uy = (b[0] - a[0]) / size, (b[1] - a[1]) / size
    if abs(ux * (d[1] - c[1]) - uy * (d[0] - c[0])) > 0.15 * other:
        return 0.0
    ends = sorted((spot[0] - a[0]) * ux + (spot[1] - a[1]) * uy for spot in (c, d))
    return max(min(ends[1], size) - max(ends[0], 0.0), 0.0)


# ---------------------------------------------------------------------------------------------- in words

_AXES: Final = (("east", "west"), ("north", "south"), ("up", "down"))


def way_said(a: Vec, b: Vec, units: Units) -> str:
    """A leg in words: "950 mm up", or aslant with its parts: "140 mm aslant (121 mm south, 70 mm west)"."""
    parts = [
        (abs(b[axis] - a[axis]), names[0] if b[axis] > a[axis] else names[1])
        for axis, names in enumerate(_AXES)
    ]
    size = math.dist(a, b)
    told = tape.say(Mm(size), units)
    main = max(parts)
    if main[0] >= size * (1.0 - 1e-5):
        return f"{told} {main[1]}"
    said = [f"{tape.say(Mm(part), units)} {name}" for part, name in parts if part > 1e-3 * size]
    return f"{told} aslant ({', '.join(said)})"
