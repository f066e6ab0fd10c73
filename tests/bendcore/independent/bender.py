"""A stick in a bender, by products of 4 x 4 matrices; and the Flexible Collision Library's word on what
touches.

Nothing of the engine is used. The stick is walked from its start to its finish in its own frame, bend by
bend, as the roll is defined (docs/method/roll.md); only then is it laid into the machine, turned end for end
where it is held by its finish. So neither the mirror of a turned stick nor the rolling of the tail is a
formula here: the bend being made is simply a shorter bend, with straight conduit where it is not yet bent.
"""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import fcl
import numpy as np


@dataclass(frozen=True)
class Bend:
    """A bend on the straight stick, mm and degrees."""

    begin: float
    angle: float
    radius: float
    roll: float

    @property
    def finish(self) -> float:
        return self.begin + self.radius * math.radians(self.angle)


@dataclass(frozen=True)
class Machine:
    """A bender: straights, planes as (normal, offset) with the floor first, bodies as (low, high)."""

    hold_min: float = 0.0
    swing_min: float = 0.0
    planes: tuple[tuple[tuple[float, float, float], float], ...] = ()
    bodies: tuple[tuple[tuple[float, float, float], tuple[float, float, float]], ...] = ()


@dataclass(frozen=True)
class Job:
    """A stick and what it is bent on. reach: of the set line past the hold-side tangent point; None: the
    middle of the arc."""

    bends: tuple[Bend, ...]
    cut_length: float
    diameter: float
    machine: Machine
    reach: float | None = 0.0


def about_x(angle_rad: float) -> Any:
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    return np.array([[1, 0, 0, 0], [0, c, -s, 0], [0, s, c, 0], [0, 0, 0, 1.0]])


def bent(angle_rad: float, radius: float, roll_rad: float) -> Any:
    """From the begin of a bend to so far round it, in the frame there: x the heading, y the pencil line."""
    c, s = math.cos(angle_rad), math.sin(angle_rad)
    in_plane = np.array([[c, -s, 0, radius * s], [s, c, 0, radius * (1 - c)], [0, 0, 1, 0], [0, 0, 0, 1.0]])
    return about_x(roll_rad) @ in_plane @ about_x(-roll_rad)


def straight(length: float) -> Any:
    shift = np.eye(4)
    shift[0, 3] = length
    return shift


@dataclass(frozen=True)
class Lying:
    """The centreline in the machine: places, n x 3, in order from the stick's start, and how far along the
    straight stick each is."""

    places: Any
    along: Any

    def from_hold_side(self, held: str) -> Any:
        return self.places if held == "start" else self.places[::-1]


def lying(
    bends: Sequence[Bend],
    cut_length: float,
    number: int,
    *,
    made: Collection[int],
    held: str,
    pulled: float,
    apart: float = math.inf,
    on_arcs: float = 4.0,
    also_at: Sequence[float] = (),
) -> Lying:
    """The stick while bend `number` (from 1) is pulled to `pulled` degrees, with `made` already bent.

    apart: the greatest distance of neighbouring places on straights; on_arcs: on arcs, along the stick.
    also_at: further places to tell, by how far along the stick they are.
    """
    chosen = bends[number - 1]
    anchor = chosen.begin if held == "start" else chosen.finish
    stretches: list[tuple[float, float, Bend | None]] = []  # from, to, the bend that it is part of
    at = 0.0
    for index, bend in enumerate(bends, start=1):
        begin, finish = bend.begin, bend.finish
        if bend is chosen:
            laid = bend.radius * math.radians(pulled)
            begin, finish = (anchor, anchor + laid) if held == "start" else (anchor - laid, anchor)
        elif index not in made:
            continue
        stretches += [(at, begin, None), (begin, finish, bend)]
        at = finish
    stretches.append((at, cut_length, None))
    frame = there = np.eye(4)
    places, along = [np.zeros((1, 3))], [np.zeros(1)]
    for begin, finish, part in stretches:
        count = max(1, math.ceil((finish - begin) / (apart if part is None else on_arcs)))
        marks = [mark for mark in also_at if begin <= mark < finish]
        on = np.unique([*np.linspace(begin, finish, count + 1)[1:], *marks])
        # In the frame where the stretch begins: along x, and for a bend toward its closing way.
        ahead, up = on - begin, np.zeros(len(on))
        roll = 0.0
        if part is not None:
            roll, turned = math.radians(part.roll), ahead / part.radius
            ahead, up = part.radius * np.sin(turned), part.radius * (1.0 - np.cos(turned))
        local = np.stack([ahead, up * math.cos(roll), up * math.sin(roll)])
        places.append((frame[:3, :3] @ local).T + frame[:3, 3])
        along.append(on)
        step = (
            straight(finish - begin)
            if part is None
            else bent((finish - begin) / part.radius, part.radius, roll)
        )
        if part is chosen and held == "start":
            there = frame
        frame = frame @ step
        if part is chosen and held == "finish":
            there = frame
    roll = math.radians(chosen.roll)
    heading = there[:3, 0]
    closes = math.cos(roll) * there[:3, 1] + math.sin(roll) * there[:3, 2]
    x = heading if held == "start" else -heading
    machine = np.array([x, closes, np.cross(x, closes)])
    return Lying((np.concatenate(places) - there[:3, 3]) @ machine.T, np.concatenate(along))


# ---------------------------------------------------------------------------------------- a collision library


def capsule(a: Any, b: Any, radius: float) -> Any:
    """A round bar with round ends between two places."""
    a, b = np.asarray(a, float), np.asarray(b, float)
    size = float(np.linalg.norm(b - a))
    turn = np.eye(3)
    if size > 1e-12:
        z = (b - a) / size
        x = np.cross(np.eye(3)[np.argmin(np.abs(z))], z)
        x /= np.linalg.norm(x)
        turn = np.stack([x, np.cross(z, x), z], axis=1)
    return fcl.CollisionObject(fcl.Capsule(radius, size), fcl.Transform(turn, (a + b) / 2))


def box(low: Sequence[float], high: Sequence[float]) -> Any:
    return fcl.CollisionObject(fcl.Box(*np.subtract(high, low)), fcl.Transform(np.add(low, high) / 2.0))


def behind(normal: Sequence[float], offset: float) -> Any:
    """What lies behind a plane: normal . p < offset."""
    unit = np.asarray(normal, float) / np.linalg.norm(normal)
    return fcl.CollisionObject(fcl.Halfspace(unit, offset), fcl.Transform())


def meet(one: Any, other: Any) -> bool:
    return bool(fcl.collide(one, other, fcl.CollisionRequest(), fcl.CollisionResult()))


def distance(one: Any, other: Any) -> float:
    """The distance of a capsule and a box; 0 or less where they meet."""
    return float(fcl.distance(one, other, fcl.DistanceRequest(), fcl.DistanceResult()))


def depth(one: Any, other: Any) -> float:
    """How deep two bodies that meet lie in each other."""
    found = fcl.CollisionResult()
    assert fcl.collide(one, other, fcl.CollisionRequest(num_max_contacts=100, enable_contact=True), found)
    return max(float(contact.penetration_depth) for contact in found.contacts)


def conduit_meets(places: Any, radius: float, machine: Machine) -> bool:
    """Whether the library finds conduit, `radius` round straights between the places, in anything."""
    solids = [(behind(*plane), None) for plane in machine.planes]
    solids += [(box(*body), np.array(body)) for body in machine.bodies]
    low = np.minimum(places[:-1], places[1:]) - radius - 1.0
    high = np.maximum(places[:-1], places[1:]) + radius + 1.0
    for solid, corners in solids:
        near = range(len(low))
        if corners is not None:
            # Bars whose own box is far from the body cannot meet it.
            near = np.nonzero(((low <= corners[1]) & (high >= corners[0])).all(axis=1))[0]
        if any(meet(capsule(places[k], places[k + 1], radius), solid) for k in near):
            return True
    return False


# --------------------------------------------------------------------------------------- by trying everything

APART = 2.0
"""mm between neighbouring places looked at."""

# A place midway between two that are looked at is nearer to an edge than they by less than this, mm, at the
# 8 mm of the thinnest conduit here: sqrt(8.5^2 + 1^2) - 8.5 = 0.059.
BETWEEN = 0.06

TOUCHING = 0.5


class Doubtful(Exception):
    """A clearance so near to TOUCHING that the places looked at cannot tell."""


def gap(places: Any, radius: float, machine: Machine) -> float:
    """The least distance of the conduit's outside round these places to anything of the machine."""
    least = math.inf
    for normal, offset in machine.planes:
        unit = np.asarray(normal) / np.linalg.norm(normal)
        least = min(least, float((places @ unit).min()) - offset - radius)
    for low, high in machine.bodies:
        nearest = np.clip(places, low, high)
        least = min(least, float(np.linalg.norm(places - nearest, axis=1).min()) - radius)
    return least


def deepest_place(places: Any, machine: Machine) -> float:
    """How deep the deepest of these places lies in anything of the machine; below 0 by its distance."""
    deepest = -math.inf
    for normal, offset in machine.planes:
        unit = np.asarray(normal) / np.linalg.norm(normal)
        deepest = max(deepest, offset - float((places @ unit).min()))
    for low, high in machine.bodies:
        inside = np.minimum(places - np.asarray(low), np.asarray(high) - places).min(axis=1)
        away = np.linalg.norm(places - np.clip(places, low, high), axis=1)
        deepest = max(deepest, float(np.where(inside > 0.0, inside, -away).max()))
    return deepest


def keeps_clear(at: Callable[[float], float], angle: float, fastest: float) -> bool:
    """Whether a clearance stays TOUCHING or more from 0 to an angle, degrees.

    fastest: mm a degree that it may change by.  Halves what it cannot tell, and raises Doubtful where the
    least is too near TOUCHING to be told.
    """
    ends = np.linspace(0.0, angle, max(2, math.ceil(angle / 4.0) + 1))
    looks = [(float(a), at(float(a))) for a in ends]
    spans = list(itertools.pairwise(looks))
    if min(found for _, found in looks) < TOUCHING - 0.02:
        return False
    doubtful = any(found < TOUCHING + BETWEEN + 0.02 for _, found in looks)
    while spans:
        (a, at_a), (b, at_b) = spans.pop()
        if (at_a + at_b - fastest * (b - a)) / 2.0 >= TOUCHING + BETWEEN:
            continue
        middle = (a + b) / 2.0
        found = at(middle)
        if found < TOUCHING - 0.02:
            return False
        if found < TOUCHING + BETWEEN + 0.02 or b - a < 1e-4:
            doubtful = True
            if b - a < 0.1:
                continue
        spans += [((a, at_a), (middle, found)), ((middle, found), (b, at_b))]
    if doubtful:
        raise Doubtful
    return True


Way = tuple[tuple[int, str], ...]
"""Bends from 1 and how each is held, in the order made."""


@dataclass
class Trials:
    """Every order of a job's bends, tried."""

    job: Job
    _fits: dict[tuple[int, str, frozenset[int]], bool] = field(default_factory=dict)

    def fits(self, number: int, held: str, made: frozenset[int]) -> bool:
        """Whether a bend can be set with others made."""
        key = (number, held, made)
        if key not in self._fits:
            self._fits[key] = self._has_straights(number, held, made) and self._is_clear(number, held, made)
        return self._fits[key]

    def _has_straights(self, number: int, held: str, made: frozenset[int]) -> bool:
        job = self.job
        bend = job.bends[number - 1]
        before = max([0.0, *(job.bends[k - 1].finish for k in made if k < number)])
        after = min([job.cut_length, *(job.bends[k - 1].begin for k in made if k > number)])
        hold, swing = bend.begin - before, after - bend.finish
        if held == "finish":
            hold, swing = swing, hold
        if hold < job.machine.hold_min - 1e-6 or swing < job.machine.swing_min - 1e-6:
            return False
        # The mark is on its line when it has come to where the line stands on the machine's x axis.
        line = job.reach if job.reach is not None else (bend.finish - bend.begin) / 2.0
        mark = bend.begin + line if held == "start" else bend.finish - line
        if not 0.0 <= mark <= job.cut_length:
            return False
        there = lying(job.bends, job.cut_length, number, made=made, held=held, pulled=0.0, also_at=[mark])
        place = there.places[int(np.argmin(np.abs(there.along - mark)))]
        return float(np.linalg.norm(place - np.array([line, 0.0, 0.0]))) < 1e-6

    def _is_clear(self, number: int, held: str, made: frozenset[int]) -> bool:
        job = self.job
        if not job.machine.planes and not job.machine.bodies:
            return True

        def at(pulled: float) -> float:
            stick = lying(
                job.bends,
                job.cut_length,
                number,
                made=made,
                held=held,
                pulled=pulled,
                apart=APART,
                on_arcs=APART,
            )
            return gap(stick.places, job.diameter / 2.0, job.machine)

        # No place is farther from where the conduit leaves the former than the stick is long.
        return keeps_clear(at, job.bends[number - 1].angle, math.radians(job.cut_length))

    @cached_property
    def best(self) -> Way | None:
        """The best of all orders and held ends, each tried from its first bend on; None if none can be
        made."""
        count = len(self.job.bends)
        ways = []
        for numbers in itertools.permutations(range(1, count + 1)):
            for sides in itertools.product(("start", "finish"), repeat=count):
                way = tuple(zip(numbers, sides, strict=True))
                turns = sum(a != b for a, b in itertools.pairwise(sides))
                ways.append((turns, sides.count("finish"), numbers, [s == "finish" for s in sides], way))
        for *_, way in sorted(ways):
            if self.can_make(way):
                return way
        return None

    def can_make(self, way: Way) -> bool:
        made: frozenset[int] = frozenset()
        for number, held in way:
            if not self.fits(number, held, made):
                return False
            made |= {number}
        return True

    @cached_property
    def most_made(self) -> int:
        """How many bends can be made at most, in whatever order."""
        numbers = range(1, len(self.job.bends) + 1)
        sets = {frozenset[int]()}
        for count in range(len(self.job.bends)):
            grown = {
                made | {number}
                for made in sets
                for number in numbers
                if number not in made and any(self.fits(number, held, made) for held in ("start", "finish"))
            }
            if not grown:
                return count
            sets = grown
        return len(self.job.bends)

    def part(self, first: int, last: int, begin: float, finish: float) -> Trials:
        """The part of the stick from begin to finish, with its bends from first to last."""
        bends = tuple(
            Bend(b.begin - begin, b.angle, b.radius, b.roll) for b in self.job.bends[first - 1 : last]
        )
        job = self.job
        return Trials(Job(bends, finish - begin, job.diameter, job.machine, job.reach))


# ---------------------------------------------------------------------------------------------- random sticks


def any_bends(
    rng: random.Random, count: int, *, least_straight: float = 0.0
) -> tuple[tuple[Bend, ...], float]:
    """Bends along a stick, and its length: awkward angles and rolls among right angles, U and Z."""
    bends: list[Bend] = []
    at = rng.uniform(30.0, 450.0)
    radius = rng.choice([61.3, 73.0, 118.9])
    for index in range(count):
        angle = rng.choice([15.0, 30.0, 45.0, 90.0, 90.0, rng.uniform(3.0, 170.0)])
        roll = 0.0 if index == 0 else rng.choice([0.0, 180.0, 90.0, -90.0, rng.uniform(-179.0, 180.0)])
        bends.append(Bend(at, angle, radius, roll))
        at = bends[-1].finish + rng.choice([least_straight, rng.uniform(max(least_straight, 1.0), 420.0)])
    return tuple(bends), bends[-1].finish + rng.uniform(25.0, 600.0)


def any_body(rng: random.Random) -> tuple[tuple[float, float, float], tuple[float, float, float]]:
    """A box that stands for a part of a bender: under the stick, over it, or somewhere in the swing."""
    kind = rng.randrange(3)
    x, z = rng.uniform(-400.0, 300.0), rng.uniform(-220.0, 60.0)
    if kind == 0:
        y, top = rng.uniform(-500.0, -150.0), rng.uniform(-130.0, -40.0)
    elif kind == 1:
        y, top = rng.uniform(45.0, 160.0), rng.uniform(170.0, 400.0)
    else:
        x, y = rng.uniform(-600.0, 900.0), rng.uniform(-700.0, 800.0)
        top = y + rng.uniform(5.0, 250.0)
    return (x, y, z), (x + rng.uniform(10.0, 420.0), top, z + rng.uniform(10.0, 260.0))


def any_job(rng: random.Random, count: int) -> Job:
    """A stick with so many bends, and a bender with real obstacles."""
    bends, cut_length = any_bends(rng, count)
    planes: list[tuple[tuple[float, float, float], float]] = []
    if rng.random() < 0.7:
        up = rng.choice([(0.0, 1.0, 0.0), (0.0, 0.0, 1.0), (0.2, 3.0, -0.4)])
        planes.append((up, -rng.uniform(250.0, 1100.0)))
        if rng.random() < 0.3:
            planes.append((rng.choice([(0.0, -1.0, 0.0), (0.0, 0.3, -1.0)]), -rng.uniform(500.0, 1300.0)))
    bodies = tuple(any_body(rng) for _ in range(rng.randrange(4)))
    machine = Machine(
        rng.choice([0.0, 60.0, rng.uniform(20.0, 160.0)]),
        rng.choice([0.0, rng.uniform(10.0, 120.0)]),
        tuple(planes),
        bodies,
    )
    reach = rng.choice([0.0, 0.0, None, rng.uniform(-150.0, 0.0), rng.uniform(0.0, 200.0)])
    return Job(bends, cut_length, rng.uniform(17.0, 48.0), machine, reach)
