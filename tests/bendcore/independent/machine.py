"""A bender and a fitter in software: bends straight sticks by a plan's JSON and screws them together.

Nothing of the engine is used: the plan's figures are read as a person at the machine would read them, and the
stick is really bent, turned end for end and rolled, in whatever order and from whichever end is asked. What
comes out is measured.

The frame of the machine is fixed: origin at the hold-side tangent point of the bend being made, x along the
straight stick from the hold side to the swing side, y toward the former's axis, z = x cross y. The hold side
never moves.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from independent.space import (
    Vector,
    add,
    along,
    cross,
    distance,
    dot,
    meeting_point,
    scale,
    square_part,
    sub,
    turned,
    unit,
)

X, Y, Z = 0, 1, 2
# Tangent points of neighbouring bends may coincide; by how much they may seem to swap for mere rounding, mm.
SWAPPED_BY_ROUNDING = 1e-5


@dataclass(frozen=True)
class SetLine:
    """A set line by what it physically is: how far it lies past the hold-side tangent point, for a bend of
    `arc` mm."""

    kind: str
    reach_for: Callable[[float], float]


def back_of_a_squared_spare(former_radius: float, outside_diameter: float) -> float:
    """How far from the hold-side tangent point the back of a spare piece, bent square in the former, stands:
    measured.

    The spare is bent a quarter turn in the software bender; the back is the far face of the leg that stands
    square.
    """
    spare = Stick(
        cut_length=math.pi * former_radius + 2.0, tangent_points=[(1.0, 1.0 + math.pi / 2 * former_radius)]
    )
    spare.pull(0, hold_side_at=1.0, held="start", angle=90.0, roll=0.0, former_radius=former_radius)
    standing_leg = spare.place(2)
    assert abs(spare.heading(2)[X]) < 1e-12
    return standing_leg[X] + outside_diameter / 2


def set_line(spec: Mapping[str, Any] | None, former_radius: float, outside_diameter: float) -> SetLine:
    """The set line that a run's `former.set_line` asks for; begin when it asks for none."""
    kind = "begin" if spec is None else spec["kind"]
    if kind == "begin":
        return SetLine(kind, lambda arc: 0.0)
    if kind == "middle":
        return SetLine(kind, lambda arc: arc / 2)
    if kind == "own":
        assert spec is not None
        own_reach = float(spec["reach"])
        return SetLine(kind, lambda arc: own_reach)
    back = back_of_a_squared_spare(former_radius, outside_diameter)
    if kind == "back":
        return SetLine(kind, lambda arc: back)
    assert kind == "arrow"
    assert spec is not None
    # The wanted length to the back of a right angle, less the take-up, is where the arrow goes.
    arrow = back - float(spec["take_up"])
    return SetLine(kind, lambda arc: arrow)


class Stick:
    """A stick in the machine: its two ends and the two tangent points of each bend, with a pencil line along
    it.

    A station is a place, the heading there from the stick's start to its finish, and the side on which the
    pencil line runs. Stations are numbered along the stick: 0 its start, 2k+1 and 2k+2 the tangent points of
    its bend k (from 0), the last its finish.
    """

    def __init__(self, cut_length: float, tangent_points: Sequence[tuple[float, float]]) -> None:
        self.material = [0.0, *(s for pair in tangent_points for s in pair), cut_length]
        for earlier, later in zip(self.material, self.material[1:], strict=False):
            assert later >= earlier - SWAPPED_BY_ROUNDING, f"bends overlap on the stick: {self.material}"
        count = len(self.material)
        self.places = np.zeros((count, 3))
        self.places[:, X] = self.material
        self.headings = np.tile([1.0, 0.0, 0.0], (count, 1))
        self.lines = np.tile([0.0, 1.0, 0.0], (count, 1))
        self.made: list[int] = []

    def pull(
        self,
        bend: int,
        *,
        hold_side_at: float,
        held: str,
        angle: float,
        roll: float,
        former_radius: float,
    ) -> None:
        """Make one bend: load the stick, roll it, swing the swing side. `bend` counts from 0.

        hold_side_at: where on the stick, from its start, the hold-side tangent point is.
        """
        first, second = 2 * bend + 1, 2 * bend + 2
        arc = math.radians(angle) * former_radius
        if held == "start":
            hold, swing, swinging, way = first, second, slice(second, None), 1.0
            ends_at = hold_side_at + arc
        else:
            hold, swing, swinging, way = second, first, slice(None, first + 1), -1.0
            ends_at = hold_side_at - arc
        # What the mark, the held side and the angle give must be where this stick's stations were put.
        assert abs(self.material[hold] - hold_side_at) < SWAPPED_BY_ROUNDING
        assert abs(self.material[swing] - ends_at) < SWAPPED_BY_ROUNDING
        # Load: the hold-side tangent point at the origin, the swing side along +x, the closing side toward
        # +y.
        heading, line = self.headings[hold].copy(), self.lines[hold].copy()
        closing = math.cos(math.radians(roll)) * line + math.sin(math.radians(roll)) * np.cross(heading, line)
        # Squared and made unit length afresh at each pull, or rounding would double at each loading.
        x = way * heading / np.linalg.norm(heading)
        closing -= np.dot(closing, x) * x
        closing /= np.linalg.norm(closing)
        load = np.array([x, closing, np.cross(x, closing)])
        self.places = (self.places - self.places[hold]) @ load.T
        self.headings = self.headings @ load.T
        self.lines = self.lines @ load.T
        held_before = self.places[hold].copy()
        # Swing: the arc takes up `arc` of the stick, and the rest turns about the former's axis, from x
        # toward y.
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        swung = np.array([[c, -s, 0.0], [s, c, 0.0], [0.0, 0.0, 1.0]])
        axis = np.array([0.0, former_radius, 0.0])
        straight_on = self.places[swinging] - np.array([arc, 0.0, 0.0])
        self.places[swinging] = (straight_on - axis) @ swung.T + axis
        self.headings[swinging] = self.headings[swinging] @ swung.T
        self.lines[swinging] = self.lines[swinging] @ swung.T
        assert np.array_equal(self.places[hold], held_before)
        self.made.append(bend)

    def place(self, station: int) -> Vector:
        x, y, z = (float(v) for v in self.places[station])
        return (x, y, z)

    def heading(self, station: int) -> Vector:
        x, y, z = (float(v) for v in self.headings[station])
        return (x, y, z)

    def side(self, station: int, roll: float) -> Vector:
        """The side of the stick at a station that lies `roll` degrees from the pencil line, by the right-hand
        rule."""
        x, y, z = (float(v) for v in self.lines[station])
        return turned((x, y, z), self.heading(station), roll)

    def corner(self, bend: int) -> Vector:
        """Where the tangents at the two ends of a bend meet."""
        first, second = 2 * bend + 1, 2 * bend + 2
        return meeting_point(self.place(first), self.heading(first), self.place(second), self.heading(second))


# How one stick is to be made: the bend's index in the JSON, and the side that is held, in the order made.
Method = list[tuple[int, str]]


def as_planned(stick: Mapping[str, Any]) -> Method:
    bends = stick["bends"]
    return [(i, bends[i]["held"]) for i in sorted(range(len(bends)), key=lambda i: bends[i]["order"])]


def held_by_the_start(stick: Mapping[str, Any]) -> Method:
    return [(i, "start") for i in range(len(stick["bends"]))]


def held_by_the_finish(stick: Mapping[str, Any]) -> Method:
    return [(i, "finish") for i in reversed(range(len(stick["bends"])))]


def mark_for(bend: Mapping[str, Any], held: str) -> float:
    """The pencil mark for a held side; that for the planned side must be the one the plan calls the mark."""
    mark = float(bend["set"]["held_start" if held == "start" else "held_finish"])
    if held == bend["held"]:
        assert bend["set"]["mark"] == mark
    return mark


def hold_side_tangent_point(bend: Mapping[str, Any], held: str, line: SetLine) -> float:
    """Where on the straight stick the hold-side tangent point comes, the mark being on the set line."""
    reach = line.reach_for(math.radians(bend["angle"]) * bend["radius"])
    mark = mark_for(bend, held)
    return mark - reach if held == "start" else mark + reach


def bend_stick(stick: Mapping[str, Any], line: SetLine, method: Method) -> Stick:
    """Bend one stick of a plan from its marks alone."""
    points: list[tuple[float, float]] = [(0.0, 0.0)] * len(stick["bends"])
    for i, held in method:
        bend = stick["bends"][i]
        arc = math.radians(bend["angle"]) * bend["radius"]
        at = hold_side_tangent_point(bend, held, line)
        points[i] = (at, at + arc) if held == "start" else (at - arc, at)
    made = Stick(stick["cut_length"], points)
    for i, held in method:
        bend = stick["bends"][i]
        made.pull(
            i,
            hold_side_at=hold_side_tangent_point(bend, held, line),
            held=held,
            angle=bend["angle"],
            roll=bend["roll"],
            former_radius=bend["radius"],
        )
    return made


@dataclass(frozen=True)
class MadeRun:
    """A run as made and screwed together: its ends (allowances cut off), corners and tangent points, in that
    order.

    begins and finishes are the tangent points of each bend; stick_ends the two ends of each stick, allowances
    on.
    """

    start: Vector
    corners: tuple[Vector, ...]
    finish: Vector
    begins: tuple[Vector, ...]
    finishes: tuple[Vector, ...]
    stick_ends: tuple[tuple[Vector, Vector], ...]

    @property
    def points(self) -> tuple[Vector, ...]:
        return (self.start, *self.corners, self.finish)


def _moved_by(
    place: Vector, heading: Vector, side: Vector, to: tuple[Vector, Vector, Vector]
) -> Callable[..., Vector]:
    """The rigid motion that brings a place, its heading and a side square to it onto those in `to`."""
    heading = unit(heading)
    side = unit(square_part(side, heading))
    across = cross(heading, side)
    to_place, to_heading, to_side = to
    to_across = cross(to_heading, to_side)

    def moved(v: Vector, is_direction: bool = False) -> Vector:
        w = v if is_direction else sub(v, place)
        turned_vector = add(
            add(scale(to_heading, dot(w, heading)), scale(to_side, dot(w, side))),
            scale(to_across, dot(w, across)),
        )
        return turned_vector if is_direction else add(to_place, turned_vector)

    return moved


def make_run(
    plan: Mapping[str, Any],
    line: SetLine,
    method: Callable[[Mapping[str, Any]], Method] = as_planned,
    fittings: Sequence[tuple[float, float]] = (),
) -> MadeRun:
    """Bend every stick of a plan's JSON and screw them together along the run, first stick's start at the
    origin.

    fittings: the two legs of each fitting in the run, as measured on it; the stick before a fitting says by
    what angle it turns, and at what clock.

    The next stick begins the joint's gap further on, in line, and is turned by its `clock` from the closing
    side of the last bend before it. A stick without bends carries that side through unturned.
    """
    at: Vector = (0.0, 0.0, 0.0)
    heading: Vector = (1.0, 0.0, 0.0)
    closing: Vector = (0.0, 1.0, 0.0)  # of the last bend so far, carried along the conduit
    any_bend_yet = False
    corners: list[Vector] = []
    begins: list[Vector] = []
    finishes: list[Vector] = []
    ends: list[tuple[Vector, Vector]] = []
    start = finish = at
    count = len(plan["sticks"])
    waiting = iter(fittings)
    for index, stick in enumerate(plan["sticks"]):
        assert stick["number"] == index + 1
        made = bend_stick(stick, line, method(stick))
        last = len(made.material) - 1
        bends = stick["bends"]
        if bends and any_bend_yet:
            side_there = turned(closing, heading, stick["clock"])
        else:
            assert stick["clock"] is None, "a clock needs a bend before this stick and one on it"
            side_there = closing
        if bends:
            assert bends[0]["roll"] == 0.0, "a stick's first bend is what rolls are counted from"
        moved = _moved_by(made.place(0), made.heading(0), made.side(0, 0.0), (at, heading, side_there))
        here = moved(made.place(0))
        if index == 0:
            start = along(here, heading, stick["start"]["allowance"] or 0.0)
        else:
            assert stick["start"].keys() <= {"kind", "thread"}, "a joint is told once, at the earlier stick"
            assert stick["start"]["kind"] == "joint"
        for i in range(len(bends)):
            corners.append(moved(made.corner(i)))
            begins.append(moved(made.place(2 * i + 1)))
            finishes.append(moved(made.place(2 * i + 2)))
        end, heading = moved(made.place(last)), unit(moved(made.heading(last), is_direction=True))
        ends.append((here, end))
        if bends:
            closing = moved(made.side(last, bends[-1]["roll"]), is_direction=True)
            any_bend_yet = True
        else:
            closing = side_there
        closing = unit(square_part(closing, heading))
        if index == count - 1:
            finish = along(end, heading, -(stick["finish"]["allowance"] or 0.0))
        elif "angle" in stick["finish"]:
            fitting = stick["finish"]
            leg_in, leg_out = next(waiting)
            corner = along(end, heading, leg_in)
            if fitting["angle"]:
                corners.append(corner)
                side = turned(closing, heading, fitting["clock"]) if any_bend_yet else closing
                assert any_bend_yet or fitting["clock"] is None
                axis = cross(heading, side)
                turn = fitting["angle"]
                heading, closing = turned(heading, axis, turn), turned(side, axis, turn)
                any_bend_yet = True
            at = along(corner, heading, leg_out)
        else:
            at = along(end, heading, stick["finish"]["gap"])
    return MadeRun(start, tuple(corners), finish, tuple(begins), tuple(finishes), tuple(ends))


def fitted(made: MadeRun, route: Sequence[Vector]) -> MadeRun:
    """The run as made, held to the building: its start at the route's, its first leg along the route's.

    The one freedom left, turning the whole about its first leg, is used as a fitter would: until it fits
    best.
    """
    heading = unit(sub(made.points[1], made.start))
    wanted_heading = unit(sub(route[1], route[0]))
    helper: Vector = min(
        ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), key=lambda v: abs(dot(v, heading))
    )
    wanted_helper: Vector = min(
        ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), key=lambda v: abs(dot(v, wanted_heading))
    )
    side, wanted_side = unit(square_part(helper, heading)), unit(square_part(wanted_helper, wanted_heading))
    moved = _moved_by(made.start, heading, side, (route[0], wanted_heading, wanted_side))
    sines = cosines = 0.0
    for q, p in zip(made.points, route, strict=True):
        q_across = square_part(sub(moved(q), route[0]), wanted_heading)
        p_across = square_part(sub(p, route[0]), wanted_heading)
        cosines += dot(q_across, p_across)
        sines += dot(cross(q_across, p_across), wanted_heading)
    best = math.degrees(math.atan2(sines, cosines))
    final = _moved_by(
        made.start, heading, side, (route[0], wanted_heading, turned(wanted_side, wanted_heading, best))
    )
    return MadeRun(
        final(made.start),
        tuple(final(p) for p in made.corners),
        final(made.finish),
        tuple(final(p) for p in made.begins),
        tuple(final(p) for p in made.finishes),
        tuple((final(a), final(b)) for a, b in made.stick_ends),
    )


def farthest_miss(made: MadeRun, route: Sequence[Vector]) -> float:
    """The greatest distance, mm, between a point of the run as made, fitted, and the route's; infinite if
    counts differ."""
    if len(made.points) != len(route):
        return math.inf
    return max(distance(a, b) for a, b in zip(fitted(made, route).points, route, strict=True))
