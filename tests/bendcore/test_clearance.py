"""Clearance of conduit from planes and boxes, against the Flexible Collision Library (python-fcl), by hand.

The library knows capsules, boxes and half-spaces and nothing of bending; where the conduit is at an angle of
the pull comes from `independent.bender`, by products of matrices.
"""

import dataclasses
import math
import random
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from independent import bender
from independent.bender import Job, Machine, lying

from bendcore.clearance import STILL, TOUCH, ArcPiece, LinePiece, Piece, Room, Solid, Swing, farthest
from bendcore.order import Held, StickBend, pose
from bendcore.spec import BenderAsked, BodyAsked, PlaneAsked
from bendcore.units import Deg, Mm
from bendcore.vectors import Vec

LIBRARY = 0.02
"""mm: the library's distances of capsules a few hundred mm long were off by 0.008 at most over 3000 pairs."""

LIBRARY_DEPTH = 0.05
"""mm: its depths are found by iteration, to about 0.01 where it finds the least."""

UNSEEN = 0.02
"""mm: how far below TOUCH clearance may dip unseen, and how far an arc's chords stand off, in the engine."""

CHORDS = 0.08
"""mm: arcs are handed to the library as chords 6 mm long or less: 6^2 / (8 x 61.3) = 0.073."""

CLOSE = 1e-9


def asked(machine: Machine, motion: str = "tail") -> BenderAsked:
    """The contract's bender of a machine: its first plane is the floor."""
    from bendcore.spec import Motion

    planes = tuple(PlaneAsked(normal, Mm(offset)) for normal, offset in machine.planes)
    return BenderAsked(
        Mm(machine.hold_min),
        Mm(machine.swing_min),
        Motion(motion),
        planes[0] if planes else None,
        planes[1:],
        tuple(BodyAsked(low, high) for low, high in machine.bodies),
    )


def on_stick(job: Job) -> list[StickBend]:
    return [StickBend(Mm(b.begin), Mm(b.finish), Deg(b.angle), Mm(b.radius), Deg(b.roll)) for b in job.bends]


def line(a: Vec, b: Vec) -> LinePiece:
    return LinePiece(a, b, "tail")


def any_place(rng: random.Random, most: float) -> Vec:
    return (rng.uniform(-most, most), rng.uniform(-most, most), rng.uniform(-most, most))


def any_line(rng: random.Random) -> LinePiece:
    """A straight; some are points, and some lie along an axis."""
    a = any_place(rng, 180.0)
    b = (
        a[0] + rng.choice([0.0, rng.uniform(-400.0, 400.0)]),
        a[1] + rng.choice([0.0, rng.uniform(-400.0, 400.0)]),
        a[2] + rng.choice([0.0, rng.uniform(-400.0, 400.0)]),
    )
    return line(a, b)


def any_box(rng: random.Random) -> tuple[Vec, Vec]:
    low = any_place(rng, 200.0)
    return low, (
        low[0] + rng.uniform(5.0, 250.0),
        low[1] + rng.uniform(5.0, 250.0),
        low[2] + rng.uniform(5.0, 250.0),
    )


def room_of(machine: Machine, diameter: float) -> Room:
    return Room.of(asked(machine), Mm(diameter))


# ---------------------------------------------------------------------------------------- against the library


@pytest.mark.parametrize("seed", range(8))
def test_the_clearance_of_a_straight_from_a_box_is_the_librarys(seed: int) -> None:
    rng = random.Random(f"boxes {seed}")
    apart = 0
    for _ in range(250):
        piece, (low, high), half = any_line(rng), any_box(rng), rng.uniform(5.0, 60.0)
        room = room_of(Machine(bodies=((low, high),)), 2 * half)
        clearance = -room.depth([piece], room.solids[0], STILL)
        bar, body = bender.capsule(piece.start, piece.end, half), bender.box(low, high)
        if clearance > LIBRARY:
            apart += 1
            assert bender.distance(bar, body) == pytest.approx(clearance, abs=LIBRARY)
        elif clearance < -LIBRARY:
            assert bender.meet(bar, body)
        if abs(clearance - TOUCH) > LIBRARY:
            assert room.is_clear(piece, STILL) == (clearance > TOUCH)
    assert 10 <= apart <= 240


def shortest_way(a: Any, b: Any, low: Vec, high: Vec) -> Any:
    """From a straight to a box: its length is convex along the straight, so thirds close in on the least."""

    def way(t: float) -> Any:
        place = a + (b - a) * t
        return np.clip(place, low, high) - place

    begin, finish = 0.0, 1.0
    for _ in range(120):
        left, right = begin + (finish - begin) / 3.0, finish - (finish - begin) / 3.0
        if np.linalg.norm(way(left)) > np.linalg.norm(way(right)):
            begin = left
        else:
            finish = right
    return way((begin + finish) / 2.0)


@pytest.mark.parametrize("seed", range(4))
def test_the_depth_of_a_straight_in_a_box_is_the_least_shift_that_parts_them(seed: int) -> None:
    rng = random.Random(f"depths {seed}")
    same = count = 0
    while count < 100:
        piece, (low, high), half = any_line(rng), any_box(rng), rng.uniform(5.0, 60.0)
        room = room_of(Machine(bodies=((low, high),)), 2 * half)
        deep = float(room.depth([piece], room.solids[0], STILL))
        if deep < 1.0:
            continue
        count += 1
        a, b = np.array(piece.start), np.array(piece.end)
        body, found = bender.box(low, high), bender.depth(bender.capsule(a, b, half), bender.box(low, high))
        # The library never finds less. It often finds more, for its search may end in a face that is not the
        # nearest: of a ball whose centre is 0.3 mm inside a face of a box it says 22 mm more than that face.
        assert found > deep - LIBRARY_DEPTH
        same += abs(found - deep) < LIBRARY_DEPTH
        # No shift a little smaller parts them, whichever way it goes...
        for way in np.array([any_place(rng, 1.0) for _ in range(60)]):
            shift = way / np.linalg.norm(way) * (deep - LIBRARY)
            assert bender.meet(bender.capsule(a + shift, b + shift, half), body)
        # ... and one a little greater does, along some square of a face, an edge, or the nearest way out.
        ways = [*np.eye(3)]
        if piece.start != piece.end:
            ways += [np.cross(edge, b - a) for edge in np.eye(3)]
        ways.append(shortest_way(a, b, low, high))
        parted = False
        for way in ways:
            size = np.linalg.norm(way)
            for sign in (1.0, -1.0) if size > 1e-9 else ():
                shift = sign * way / size * (deep + LIBRARY)
                parted = parted or not bender.meet(bender.capsule(a + shift, b + shift, half), body)
        assert parted, (piece, low, high, half)
    assert same > 0.25 * count


@pytest.mark.parametrize("seed", range(4))
def test_the_clearance_from_a_plane_is_the_librarys(seed: int) -> None:
    rng = random.Random(f"planes {seed}")
    for _ in range(150):
        piece, half = any_line(rng), rng.uniform(5.0, 60.0)
        normal, offset = any_place(rng, 3.0), rng.uniform(-200.0, 200.0)
        room = room_of(Machine(planes=((normal, offset),)), 2 * half)
        deep = room.depth([piece], room.solids[0], STILL)
        # Pushed in by 5 m, so that the library always has a depth to tell.
        bar = bender.capsule(piece.start, piece.end, half)
        found = bender.depth(bar, bender.behind(normal, offset + 5000.0)) - 5000.0
        assert deep == pytest.approx(found, abs=1e-6)
        assert room.is_clear(piece, STILL) == (-deep >= TOUCH)


def any_arc(rng: random.Random) -> ArcPiece:
    start = np.array(any_place(rng, 200.0))
    axis, out = np.array(any_place(rng, 1.0)), np.array(any_place(rng, 1.0))
    axis /= np.linalg.norm(axis)
    out -= (out @ axis) * axis
    radius, angle = rng.uniform(61.3, 300.0), rng.uniform(1.0, 175.0)
    out *= radius / np.linalg.norm(out)
    rad = math.radians(angle)
    end = start - out + math.cos(rad) * out + math.sin(rad) * np.cross(axis, out)
    as_vec = [(float(v[0]), float(v[1]), float(v[2])) for v in (start, end, start - out, axis)]
    return ArcPiece(*as_vec, Mm(radius), Deg(angle), "tail")


@pytest.mark.parametrize("seed", range(4))
def test_the_clearance_of_a_bend_from_a_box_is_the_librarys(seed: int) -> None:
    rng = random.Random(f"arcs {seed}")
    told = {True: 0, False: 0}
    for _ in range(60):
        arc, half = any_arc(rng), rng.uniform(5.0, 40.0)
        # A box near the middle of the arc, on either side of touching it.
        near, size = arc.at(math.radians(arc.angle) * rng.random()), rng.uniform(20.0, 200.0)
        low = (
            near[0] + rng.uniform(-1.2, 0.2) * size,
            near[1] + rng.uniform(10.0, 60.0),
            near[2] - size / 2.0,
        )
        high = (low[0] + size, low[1] + size, low[2] + size)
        body = bender.box(low, high)
        count = math.ceil(arc.radius * math.radians(arc.angle) / 6.0)
        centre, out = np.array(arc.centre), np.array(arc.start) - np.array(arc.centre)
        across = np.cross(np.array(arc.axis), out)
        turned = np.radians(np.linspace(0.0, arc.angle, count + 1))[:, None]
        places = centre + np.cos(turned) * out + np.sin(turned) * across
        assert np.allclose(places[-1], arc.end, atol=1e-9)
        bars = [bender.capsule(a, b, half) for a, b in pairwise(places)]
        apart = min(bender.distance(bar, body) for bar in bars)
        clear = room_of(Machine(bodies=((low, high),)), 2 * half).is_clear(arc, STILL)
        if abs(apart - TOUCH) > CHORDS + LIBRARY:
            assert clear == (apart > TOUCH)
            told[clear] += 1
    assert min(told.values()) > 10


# ------------------------------------------------------------------------------------- through the whole pull


def sides(job: Job, number: int, made: set[int], held: Held) -> tuple[list[Piece], list[Piece]]:
    """The held side and the swing side before the pull, each outward from the origin."""
    pieces = pose(on_stick(job), Mm(job.cut_length), number, made=made, held=held, pulled=Deg(0.0)).pieces
    hold = [piece for piece in pieces if piece.part == "held side"]
    return hold[::-1], [piece for piece in pieces if piece.part == "tail"]


@pytest.mark.parametrize("seed", range(6))
def test_no_touch_in_a_pull_is_missed_and_none_is_made_up(seed: int) -> None:
    rng = random.Random(f"pulls {seed}")
    touched = clear = later = 0
    for _ in range(16):
        job = bender.any_job(rng, rng.randint(1, 4))
        number = rng.randint(1, len(job.bends))
        made = {k for k in range(1, len(job.bends) + 1) if k != number and rng.random() < 0.7}
        held: Held = rng.choice(["start", "finish"])
        bend, half = job.bends[number - 1], job.diameter / 2.0
        room = room_of(job.machine, job.diameter)
        hold, tail = sides(job, number, made, held)
        swing = Swing(Mm(bend.radius), math.radians(bend.angle))
        found = [room.first_touch(hold, STILL), room.first_touch(tail, swing)]
        angles = [math.degrees(each.angle_rad) for each in found if each is not None]

        def meets(
            pulled: float,
            radius: float,
            *,
            job: Job = job,
            number: int = number,
            made: set[int] = made,
            held: Held = held,
        ) -> bool:
            stick = lying(job.bends, job.cut_length, number, made=made, held=held, pulled=pulled, on_arcs=6.0)
            return bender.conduit_meets(stick.places, radius, job.machine)

        first = min(angles, default=bend.angle)
        # Up to the first touch the library finds nothing, at looks half a degree apart or nearer.
        for pulled in np.linspace(0.0, first, math.ceil(2.0 * first) + 1):
            if pulled < first - 1e-6 or not angles:
                assert not meets(float(pulled), half + TOUCH - UNSEEN - LIBRARY)
        if angles:
            # And there it does.
            assert meets(first, half + TOUCH + CHORDS + LIBRARY)
            touched += 1
            later += first > 0.0
            touch = min((each for each in found if each is not None), key=lambda each: each.angle_rad)
            pieces, moves = (hold, STILL) if touch.part == "held side" else (tail, swing)
            deep = room.depth(pieces, touch.solid, moves, after_rad=touch.angle_rad)
            assert deep > -TOUCH
            # The deepest of places 4 mm apart or nearer, of that side of the stick.
            alone = dataclasses.replace(
                job.machine,
                planes=tuple(p for k, p in enumerate(job.machine.planes) if room.solids[k] is touch.solid),
                bodies=tuple(
                    b
                    for k, b in enumerate(job.machine.bodies, start=len(job.machine.planes))
                    if room.solids[k] is touch.solid
                ),
            )

            def deepest(
                pulled: float,
                *,
                job: Job = job,
                number: int = number,
                made: set[int] = made,
                held: Held = held,
                still: bool = moves is STILL,
                alone: Machine = alone,
            ) -> float:
                there = lying(
                    job.bends, job.cut_length, number, made=made, held=held, pulled=pulled, apart=4.0
                )
                bend = job.bends[number - 1]
                on_start = there.along < bend.begin if held == "start" else there.along <= bend.finish
                return job.diameter / 2.0 + bender.deepest_place(
                    there.places[on_start == ((held == "start") == still)], alone
                )

            looks = [float(a) for a in np.linspace(first, bend.angle, math.ceil(4.0 * bend.angle) + 1)]
            worst = max(deepest(a) for a in looks)
            assert deep > worst - 0.11
            if touch.solid.kind != "body":
                around = max(looks, key=deepest)
                near = [
                    around + k / 200.0 for k in range(-50, 51) if first <= around + k / 200.0 <= bend.angle
                ]
                assert deep == pytest.approx(max(worst, *map(deepest, near)), abs=0.11)
        else:
            clear += 1
    assert min(touched, clear, later) >= 1


def test_looks_fall_on_both_sides_of_a_thin_plate_in_a_long_tails_way() -> None:
    # 1 mm thick, and the end of the tail passes at 3 m a radian: 200 looks over the pull would step over it.
    plate = ((1800.0, 2300.0, -200.0), (1801.0, 2310.0, 200.0))
    room = room_of(Machine(bodies=(plate,)), 20.0)
    tail = [line((0.0, 0.0, 0.0), (3000.0, 0.0, 0.0))]
    touch = room.first_touch(tail, Swing(Mm(73.0), math.radians(90.0)))
    assert touch is not None
    # The tail's line passes D/2 + 0.5 from the plate's corner (1801, 2300):
    # (2300 - 73 (1 - cos)) cos - (1801 - 73 sin) sin = 10.5 at 52.2875 degrees, by bisection.
    psi = math.radians(52.2875)
    s, c = math.sin(psi), math.cos(psi)
    assert (2300.0 - 73.0 * (1.0 - c)) * c - (1801.0 - 73.0 * s) * s == pytest.approx(10.5, abs=0.01)
    assert math.degrees(touch.angle_rad) == pytest.approx(52.2875, abs=0.001)


# ---------------------------------------------------------------------------------------------------- by hand


def test_the_end_of_a_tail_reaches_a_ceiling_where_the_rolled_end_does() -> None:
    # R = 100, tail 1000, D = 20, ceiling 600: the end rises to 100 (1 - cos) + (1000 - 100 psi) sin, which
    # is 600 - 10 - 0.5 = 589.5 at psi = 0.654387: 20.6579 + 934.5613 x 0.6086729 = 20.6579 + 568.8421.
    room = room_of(Machine(planes=(((0.0, -2.0, 0.0), -600.0),)), 20.0)
    tail = [line((0.0, 0.0, 0.0), (1000.0, 0.0, 0.0))]
    swing = Swing(Mm(100.0), math.radians(90.0))
    touch = room.first_touch(tail, swing)
    assert touch is not None
    psi = touch.angle_rad
    end = 100.0 * (1.0 - math.cos(psi)) + (1000.0 - 100.0 * psi) * math.sin(psi)
    assert end == pytest.approx(589.5, abs=UNSEEN)
    assert psi == pytest.approx(0.654387, abs=5e-5)
    assert touch.part == "tail"
    # At 90 degrees the end stands 100 + 1000 - 157.0796 = 942.9204 high: 942.9204 + 10 - 600 deep.
    assert room.depth(tail, touch.solid, swing) == pytest.approx(352.9204, abs=1e-3)


@pytest.mark.parametrize(
    "machine",
    [
        Machine(planes=(((0.0, 1.0, 0.0), -400.0),)),
        Machine(bodies=(((-1500.0, -700.0, -50.0), (-100.0, -400.0, 50.0)),)),
    ],
    ids=["plane", "box"],
)
def test_a_leg_that_rises_first_and_comes_down_on_the_other_side_is_found(machine: Machine) -> None:
    # A U: 300, a right angle of R = 73, then 900 that stand up before the pull. Pulled to 170 degrees its end
    # is 73 (1 - cos) + (373 - 73 psi) sin + 973 cos high. That grows at first, and is -400 + 10.5 at
    # 132.8361 degrees: 122.633 + 149.414 - 661.547.
    leg = line((373.0, 73.0, 0.0), (373.0, 973.0, 0.0))
    first = line((0.0, 0.0, 0.0), (300.0, 0.0, 0.0))
    room = room_of(machine, 20.0)
    touch = room.first_touch([first, leg], Swing(Mm(73.0), math.radians(170.0)))
    assert touch is not None
    assert math.degrees(touch.angle_rad) == pytest.approx(132.8361, abs=0.005)
    for piece in (leg, line(leg.end, leg.start)):
        assert not room.is_clear(piece, Swing(Mm(73.0), math.radians(170.0)))
        assert room.is_clear(piece, Swing(Mm(73.0), math.radians(132.7)))


@pytest.mark.parametrize(("clearance", "clear"), [(0.4999, False), (0.5001, True)])
@pytest.mark.parametrize("moves", [False, True])
def test_under_half_a_millimetre_counts_as_touching(clearance: float, clear: bool, moves: bool) -> None:
    # The floor lies so far under a tail that swings away from it: it is nearest before the pull.
    room = room_of(Machine(planes=(((0.0, 1.0, 0.0), -10.0 - clearance),)), 20.0)
    swing = Swing(Mm(73.0), math.radians(45.0)) if moves else STILL
    piece = line((0.0, 0.0, 0.0), (700.0, 0.0, 0.0))
    assert room.is_clear(piece, swing, leaves_former=moves) == clear
    touch = room.first_touch([piece], swing)
    assert (touch is None) == clear
    if touch is not None:
        assert touch.angle_rad == 0.0


def test_what_touches_before_the_swing_side_tangent_point_is_told_as_the_arc() -> None:
    # Inside a right angle of R = 200 with its centre at (0, 200): the body's corner (185, 150) lies
    # sqrt(185^2 + 50^2) = 191.638 from the centre, 74.8760 degrees round. The conduit's line is 200 from the
    # centre, and comes within 10.5 of the corner where cos(74.8760 - psi) = 189.5 / 191.638: psi = 66.3101,
    # 28.54 past the place where it leaves the former, and so 231.47 + 28.54 = 260.01 along: the bend takes
    # 314.16.
    room = room_of(Machine(bodies=(((170.0, 150.0, -30.0), (185.0, 205.0, 30.0)),)), 20.0)
    tail = [line((0.0, 0.0, 0.0), (700.0, 0.0, 0.0))]
    touch = room.first_touch(tail, Swing(Mm(200.0), math.radians(90.0)))
    assert touch is not None
    assert touch.solid == Solid("body", 0, (170.0, 185.0, 150.0, 205.0, -30.0, 30.0))
    assert math.degrees(touch.angle_rad) == pytest.approx(66.3101, abs=0.005)
    assert touch.part == "arc"
    # Of a bend that ends at 70 degrees the same place lies past the 244.35 that it takes.
    touch = room.first_touch(tail, Swing(Mm(200.0), math.radians(70.0)))
    assert touch is not None
    assert touch.part == "tail"


def test_the_floor_is_told_first_then_planes_then_bodies() -> None:
    floor, wall = ((0.0, 3.0, 0.0), -5.0), ((0.0, 0.0, -1.0), -5.0)
    body = ((100.0, -5.0, -5.0), (200.0, 5.0, 5.0))
    room = room_of(Machine(planes=(floor, wall), bodies=(body, body)), 20.0)
    assert [(solid.kind, solid.index) for solid in room.solids] == [
        ("floor", None),
        ("plane", 0),
        ("body", 0),
        ("body", 1),
    ]
    assert room.solids[0].shape == (0.0, 1.0, 0.0, -5.0)  # unit normal; the offset is along it, in mm
    touch = room.first_touch([line((0.0, 0.0, 0.0), (500.0, 0.0, 0.0))], STILL)
    assert touch is not None
    assert touch.solid.kind == "floor"


@pytest.mark.parametrize("seed", range(3))
def test_the_farthest_place_of_a_chain_is_the_farthest_of_many(seed: int) -> None:
    rng = random.Random(f"farthest {seed}")
    inside = 0
    for _ in range(60):
        arc, straight, place = any_arc(rng), any_line(rng), any_place(rng, 400.0)
        centre, out = np.array(arc.centre), np.array(arc.start) - np.array(arc.centre)
        across = np.cross(np.array(arc.axis), out)
        turned = np.radians(np.linspace(0.0, arc.angle, 20001))[:, None]
        places = centre + np.cos(turned) * out + np.sin(turned) * across
        on_arc = np.linalg.norm(places - np.array(place), axis=1)
        ends = [math.dist(place, straight.start), math.dist(place, straight.end)]
        assert farthest(place, [arc]) == pytest.approx(float(on_arc.max()), abs=1e-4)
        assert farthest(place, [straight, arc]) == pytest.approx(max(float(on_arc.max()), *ends), abs=1e-4)
        inside += float(on_arc.max()) > max(on_arc[0], on_arc[-1]) + 0.01
    assert inside > 5
    assert farthest((1.0, 2.0, 3.0), []) == pytest.approx(0.0, abs=CLOSE)
