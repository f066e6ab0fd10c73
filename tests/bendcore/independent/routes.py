"""Hypothesis strategies: runs that can be bent, as points or as measured steps, with formers, set lines,
ends, joints.

A run is built forward, from the straights that will be left between its bends, so that it is feasible by
construction; where its corners come is then asked of the points themselves, or of the walker.
"""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from hypothesis import Phase, settings
from hypothesis import strategies as st
from independent import machine, walker
from independent.space import Vector, add, along, cross, dot, length, scale, square_part, sub, turned, unit

USUAL_ANGLES = (10.0, 15.0, 22.5, 30.0, 45.0, 60.0, 90.0, 90.0, 90.0)
# (outside diameter, centreline radius): a small tube, metric and inch conduit, a bought-bend radius, a fat
# one.
FORMERS = (
    (6.0, 9.5),
    (16.0, 60.0),
    (20.0, 73.0),
    (25.0, 101.6),
    (17.9324, 101.6),
    (33.4, 146.05),
    (60.3, 241.3),
)
END_KINDS = (
    "open",
    "spout",
    "coupler_and_male_bush",
    "locknuts_and_female_bush",
    "connector",
    "coupler",
    "flexible",
)
FACES = (("up", "down"), ("north", "in", "south", "out"), ("east", "right", "west", "left"))
WORDS = tuple(word for words in FACES for word in words)


def examples(everyday: int, *, shrinking: bool = True) -> settings:
    """So many examples on an ordinary day, more in proportion under a larger profile.

    shrinking: False where examples are small as they are and a failing one may take seconds.
    """
    default = settings.get_profile(settings.get_current_profile_name())
    phases = [phase for phase in Phase if shrinking or phase not in (Phase.shrink, Phase.explain)]
    return settings(max_examples=max(1, everyday * default.max_examples // 100), phases=phases)


@dataclass(frozen=True)
class Run:
    """A spec, and what is known of it beforehand."""

    spec: dict[str, Any]
    points: tuple[Vector, ...]  # start, corners, finish
    outside_diameter: float
    radius: float
    allowances: tuple[float, float] = (0.0, 0.0)
    line: machine.SetLine = field(default_factory=lambda: machine.SetLine("begin", lambda arc: 0.0))

    @property
    def angles(self) -> list[float]:
        legs = [unit(sub(b, a)) for a, b in zip(self.points, self.points[1:], strict=False)]
        return [
            math.degrees(math.atan2(length(cross(a, b)), a[0] * b[0] + a[1] * b[1] + a[2] * b[2]))
            for a, b in itertools.pairwise(legs)
        ]


def tangent(radius: float, angle: float) -> float:
    return radius * math.tan(math.radians(angle) / 2)


def rounded(rng: random.Random, value: float) -> float:
    """Now and then a figure as a person writes it: whole millimetres, rounded up."""
    return float(math.ceil(value)) if rng.random() < 0.5 else value


def any_angle(rng: random.Random, least: float = 0.5, most: float = 178.0) -> float:
    usual = [a for a in USUAL_ANGLES if least <= a <= most]
    if usual and rng.random() < 0.6:
        return rng.choice(usual)
    return rng.uniform(least, most)


def any_straight(rng: random.Random, longest: float) -> float:
    """What is left straight between two bends: none at all, a hand's breadth, or long."""
    kind = rng.random()
    if kind < 0.15:
        return 0.0
    return rounded(rng, rng.uniform(0.0, 150.0 if kind < 0.4 else longest))


def any_direction(rng: random.Random) -> Vector:
    """A unit vector; any value that the source of chance gives will do, so nothing is drawn again."""
    height, around = rng.uniform(-1.0, 1.0), rng.uniform(0.0, 2 * math.pi)
    level = math.sqrt(max(0.0, 1.0 - height * height))
    return unit((level * math.cos(around), level * math.sin(around), height))


def any_way(rng: random.Random, heading: Vector) -> Vector:
    """A unit vector square to the heading."""
    axes: tuple[Vector, ...] = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
    least_along = min(axes, key=lambda axis: abs(dot(axis, heading)))
    return turned(unit(square_part(least_along, heading)), heading, rng.uniform(-180.0, 180.0))


def points_route(
    rng: random.Random, corners: int, radius: float, longest: float, first: float = 0.0, last: float = 0.0
) -> list[Vector]:
    """Start, `corners` corners and finish; `first` and `last`: least straights at the two ends."""
    square_room = rng.random() < 0.5
    heading: Vector = (0.0, 0.0, 1.0) if square_room else any_direction(rng)
    at: Vector = (
        (0.0, 0.0, 0.0)
        if rng.random() < 0.5
        else (rng.uniform(-1e4, 1e4), rng.uniform(-1e4, 1e4), rng.uniform(-1e4, 1e4))
    )
    points = [at]
    tangent_before, least = 0.0, first
    for _ in range(corners):
        angle = 90.0 if square_room and rng.random() < 0.7 else any_angle(rng)
        leg = tangent_before + max(any_straight(rng, longest), least, 1.0) + tangent(radius, angle)
        at = along(at, heading, leg)
        points.append(at)
        if square_room:
            ways = [d for d in walker.DIRECTIONS.values() if length(square_part(d, heading)) > 0.3]
            way = unit(square_part(rng.choice(ways), heading))
        else:
            way = any_way(rng, heading)
        heading = unit(turned(heading, cross(heading, way), angle))
        tangent_before, least = tangent(radius, angle), 0.0
    last += 0.0 if corners else first  # with no bend between, both ends take from the one leg
    points.append(along(at, heading, tangent_before + max(any_straight(rng, longest), last, 1.0)))
    return points


def with_points_on_the_way(rng: random.Random, points: list[Vector]) -> list[Vector]:
    """The same route with points told twice, and points told in the middle of a leg: neither is a corner."""
    told = [points[0]]
    for a, b in itertools.pairwise(points):
        extra = rng.random()
        if extra < 0.1:
            told.append(a)
        elif extra < 0.2:
            told.append(scale(add(a, b), 0.5))
        told.append(b)
    return told


class _Steps:
    """Steps under construction, with the heading and the tangent length and angle of the last bend."""

    def __init__(self, rng: random.Random, outside_diameter: float, radius: float, longest: float) -> None:
        self.rng = rng
        self.diameter = outside_diameter
        self.radius = radius
        self.longest = longest
        self.word = rng.choice(WORDS)
        self.heading = walker.DIRECTIONS[self.word]
        self.steps: list[dict[str, Any]] = []
        self.angle_before: float | None = None
        self.convention_before: str | None = None  # None: a leg may not start here with anything but `corner`
        self.from_middle = 0.0  # half the last saddle set's span, when the next leg is read from its middle
        self.standing = False  # at the end of a kick's own leg: no leg may follow
        self.standoff = rounded(rng, rng.uniform(0.0, 60.0)) if rng.random() < 0.5 else None

    def toward(self) -> tuple[str, Vector]:
        words = [w for w in WORDS if length(square_part(walker.DIRECTIONS[w], self.heading)) > 0.3]
        word = self.rng.choice(words)
        return word, walker.toward(word, self.heading)

    def leg(self, angle: float | None, *, feature: bool, middle: float | None, least: float = 0.0) -> None:
        """The leg up to a corner of `angle` (None: the end of the route) that leaves a random straight.

        middle: half the span of a saddle set that is measured to its middle.
        """
        rng = self.rng
        straight = max(
            any_straight(rng, self.longest), least, 1.0 if angle is None or not self.steps else 0.0
        )
        before = 0.0 if self.angle_before is None else tangent(self.radius, self.angle_before)
        after = 0.0 if angle is None else tangent(self.radius, angle)
        reading = before + straight + after + self.from_middle + (middle or 0.0)
        first: dict[str, Any] = {}
        last: dict[str, Any] = {}
        standoff = self.standoff
        if self.convention_before is not None:
            choices = ["corner", "back", "inside"] + (["wall"] if self.convention_before == "turn" else [])
            if rng.random() < 0.7:
                first["from"] = rng.choice(choices)
        elif not self.steps and rng.random() < 0.3:
            first["from"] = rng.choice(("corner", "face"))
        elif self.steps and rng.random() < 0.2:
            first["from"] = "corner"
        if angle is None:
            if rng.random() < 0.4:
                last["to"] = rng.choice(("corner", "face"))
        elif middle is not None:
            if rng.random() < 0.3:
                last["to"] = "corner"
        elif rng.random() < 0.7:
            last["to"] = rng.choice(["corner", "back", "inside"] + ([] if feature else ["wall"]))
        if "wall" in (first.get("from"), last.get("to")) and rng.random() < 0.3:
            standoff = rounded(rng, rng.uniform(0.0, 60.0))
            first["standoff"] = last["standoff"] = standoff
        if self.angle_before is not None:
            reading += walker.beyond_the_corner(
                first.get("from", "corner"), self.angle_before, self.diameter, standoff or 0.0
            )
        if angle is not None:
            reading += walker.beyond_the_corner(
                last.get("to", "corner"), angle, self.diameter, standoff or 0.0
            )
        reading = rounded(rng, reading)
        if rng.random() < 0.1 and reading > 1.0:
            part = reading * rng.uniform(0.2, 0.8)
            self.steps += [{"leg": part, **first}, {"leg": reading - part, **last}]
        else:
            self.steps.append({"leg": reading, **first, **last})

    def feature_angle(self, most: float = 80.0) -> float:
        return any_angle(self.rng, 5.0, most)

    def slack(self) -> float:
        return any_straight(self.rng, min(self.longest, 600.0))

    def element(self, least: float = 0.0) -> int:
        """One turn or feature, with the leg before it; returns how many corners it has."""
        rng = self.rng
        kind = rng.choice(
            ("bend", "bend", "bend", "offset", "rolling", "saddle3", "saddle4", "kick", "box_set")
        )
        angle = any_angle(rng) if kind == "bend" else self.feature_angle()
        t = tangent(self.radius, angle)
        sine = math.sin(math.radians(angle))
        word, way = self.toward()
        middle: float | None = None
        corners, angle_after = 1, angle
        after: str | None = "feature"
        step: dict[str, Any]
        new_heading = self.heading
        stands = False
        if kind == "bend":
            step = {"bend": angle, "toward": word}
            new_heading = unit(turned(self.heading, cross(self.heading, way), angle))
            after = "turn"
        elif kind in ("offset", "rolling", "box_set"):
            rise = rounded(rng, (2 * t + self.slack()) * sine)
            body: dict[str, Any] = {"rise": rise, "angle": angle, "toward": word}
            if kind == "rolling":
                tilt = math.radians(rng.uniform(5.0, 85.0))
                sideways = [
                    w
                    for w in WORDS
                    if length(square_part(square_part(walker.DIRECTIONS[w], self.heading), way)) > 0.3
                ]
                body |= {
                    "rise": rise * math.cos(tilt),
                    "spread": rise * math.sin(tilt),
                    "spread_toward": rng.choice(sideways),
                }
            step = {"box_set" if kind == "box_set" else "offset": body}
            corners = 2
        elif kind == "kick":
            # No leg follows to make room for the next corner's tangent, so the slope does, for up to a right
            # angle.
            room = t + tangent(self.radius, 90.0) + self.slack()
            rise = rounded(rng, room * sine)
            step = {"kick": {"rise": rise, "angle": angle, "toward": word}}
            new_heading = unit(
                walker.slope_of(self.heading, scale(walker.toward(word, self.heading), rise), angle)
            )
            stands, after = True, None
        else:
            if kind == "saddle3":
                middle_t = tangent(self.radius, 2 * angle)
                height = (t + middle_t + self.slack()) * sine
                rise = height - walker.saddle_corner_height(0.0, angle, self.radius)
                body = {"bends": 3, "rise": rounded(rng, rise), "angle": angle, "toward": word}
                corners = 3
            else:
                body = {
                    "bends": 4,
                    "rise": rounded(rng, (2 * t + self.slack()) * sine),
                    "angle": angle,
                    "width": rounded(rng, 2 * t + self.slack()),
                    "toward": word,
                }
                corners = 4
            if rng.random() < 0.5:
                body["measured_to"] = rng.choice(("outer", "middle"))
            if body.get("measured_to") == "middle" and not self.standing:
                over: Vector = (0.0, 0.0, 0.0)
                for vector in walker.saddle_vectors(body, self.heading, self.radius):
                    over = add(over, vector)
                middle, after = length(over) / 2, None
            elif "measured_to" in body:
                body["measured_to"] = "outer"
            step = {"saddle_set": body}
        if self.standing:
            if kind == "bend" and angle > 90.0:
                step["bend"] = angle = angle_after = 90.0
                new_heading = unit(turned(self.heading, cross(self.heading, way), angle))
        else:
            self.leg(angle, feature=kind != "bend", middle=middle, least=least)
        self.steps.append(step)
        self.heading, self.angle_before, self.convention_before = new_heading, angle_after, after
        self.from_middle = middle or 0.0
        self.standing = stands
        return corners


def steps_route(
    rng: random.Random,
    corners: int,
    outside_diameter: float,
    radius: float,
    longest: float,
    *,
    first: float = 0.0,
    last: float = 0.0,
) -> dict[str, Any]:
    """A route as measured steps with at least `corners` corners (by at most three more)."""
    building = _Steps(rng, outside_diameter, radius, longest)
    count = 0
    while count < corners:
        count += building.element(first if count == 0 else 0.0)
    if building.standing and rng.random() < 0.5:
        # Otherwise the route ends where its kick's own leg ends.
        word, way = building.toward()
        building.steps.append({"bend": 30.0, "toward": word})
        building.heading = unit(turned(building.heading, cross(building.heading, way), 30.0))
        building.standing = False
        building.angle_before, building.convention_before = 30.0, "turn"
    if not building.standing:
        least = last if corners else first + last  # with no bend between, both ends take from the one leg
        building.leg(None, feature=False, middle=None, least=least)
    route: dict[str, Any] = {"steps": building.steps}
    if building.word != "up" or rng.random() < 0.5:
        route["heading"] = building.word
    if building.standoff is not None:
        route["standoff"] = building.standoff
    if rng.random() < 0.5:
        route["start"] = [rng.uniform(-5e3, 5e3), rng.uniform(-5e3, 5e3), 0]
    return route


def any_set_line(rng: random.Random, radius: float) -> dict[str, Any] | None:
    return rng.choice(
        (
            None,
            {"kind": "begin"},
            {"kind": "back"},
            {"kind": "middle"},
            {"kind": "arrow", "take_up": rounded(rng, radius * rng.uniform(0.3, 2.0))},
            {"kind": "own", "reach": rng.uniform(-radius, 2 * radius)},
        )
    )


def any_end(rng: random.Random) -> tuple[dict[str, Any] | None, float]:
    """An end and the allowance that is to be cut off it again."""
    choice = rng.random()
    if choice < 0.3:
        return None, 0.0
    if choice < 0.4:
        return {"kind": "open"}, 0.0
    kind = rng.choice(END_KINDS[1:])
    if choice < 0.5:
        return {"kind": kind}, 0.0  # untold: counts 0 and is a warning
    allowance = rng.uniform(-20.0, 40.0)
    return {"kind": kind, "allowance": allowance}, allowance


def run_of(
    rng: random.Random,
    corners: int,
    *,
    as_steps: bool,
    longest: float = 2000.0,
    joints: dict[str, Any] | str | None = "none",
    stock_length: float = 3750.0,
    line: dict[str, Any] | Callable[[random.Random, float], dict[str, Any] | None] | None = any_set_line,
    ends: bool = True,
) -> Run:
    """One run with the corners asked for. joints None: the key is left out."""
    outside_diameter, radius = rng.choice(FORMERS)
    set_line = line(rng, radius) if callable(line) else line
    start, start_allowance = any_end(rng) if ends else (None, 0.0)
    finish, finish_allowance = any_end(rng) if ends else (None, 0.0)
    first, last = max(0.0, 1.0 - start_allowance), max(0.0, 1.0 - finish_allowance)
    points: list[Vector]
    if as_steps:
        route = steps_route(rng, corners, outside_diameter, radius, longest, first=first, last=last)
        if "kick" in route["steps"][-1] and finish_allowance < 0.0:
            finish, finish_allowance = (
                None,
                0.0,
            )  # a route that ends on a kick's leg may have no straight to take from
        points = walker.walk(route, outside_diameter, radius)
    else:
        points = points_route(rng, corners, radius, longest, first, last)
        told = with_points_on_the_way(rng, points) if rng.random() < 0.3 else points
        route = {"points": [list(p) for p in told]}
    former: dict[str, Any] = {"centreline_radius": radius}
    if set_line is not None:
        former["set_line"] = set_line
    spec: dict[str, Any] = {
        "conduit": {"outside_diameter": outside_diameter, "stock_length": stock_length},
        "former": former,
        "route": route,
    }
    told_ends = {k: v for k, v in (("start", start), ("finish", finish)) if v is not None}
    if told_ends:
        spec["ends"] = told_ends
    if joints is not None:
        spec["joints"] = joints
    return Run(
        spec,
        tuple(points),
        outside_diameter,
        radius,
        (start_allowance, finish_allowance),
        machine.set_line(set_line, radius, outside_diameter),
    )


@st.composite
def runs(
    draw: st.DrawFn,
    *,
    most_corners: int = 8,
    as_steps: bool | None = None,
    large: bool = False,
    **details: Any,
) -> Run:
    """Feasible runs. Small ones shrink choice by choice; large ones come from one seed, for speed."""
    rng = draw(st.randoms(use_true_random=large))
    corners = draw(st.integers(0, most_corners))
    steps = draw(st.booleans()) if as_steps is None else as_steps
    return run_of(rng, corners, as_steps=steps, **details)
