"""How a stick lies in the bender: pose, sweep and posture, against a stick walked by products of matrices.

`independent.bender` lays the stick into the machine from its start to its finish and turns it end for end
only then; it knows neither the engine's mirrored rolls nor its rolling tail.
"""

import math
import random
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from independent import bender
from independent.bender import Bend, Job, Machine, lying

from bendcore.clearance import ArcPiece, LinePiece
from bendcore.order import Held, Order, Posture, StickBend, bending_order, pose
from bendcore.spec import BenderAsked, Motion, PlaneAsked
from bendcore.units import Deg, Mm

CLOSE = 1e-8
"""mm, degrees: doubles over a few metres round at 1e-12, and a dozen turns follow one another."""


def on_stick(bends: tuple[Bend, ...]) -> list[StickBend]:
    return [StickBend(Mm(b.begin), Mm(b.finish), Deg(b.angle), Mm(b.radius), Deg(b.roll)) for b in bends]


def order_of(job: Job, floor: PlaneAsked | None = None) -> Order:
    """The order on a bender that asks for straights only."""
    machine = job.machine
    asked = BenderAsked(Mm(machine.hold_min), Mm(machine.swing_min), motion=Motion.HOOKED, floor=floor)
    reaches = [Mm(0.0)] * len(job.bends)
    return bending_order(
        on_stick(job.bends), Mm(job.cut_length), diameter=Mm(20.0), bender=asked, reaches=reaches
    )


# ------------------------------------------------------------------------------------------------------- pose


@pytest.mark.parametrize("seed", range(6))
def test_a_pose_is_where_matrices_lay_the_stick(seed: int) -> None:
    rng = random.Random(f"poses {seed}")
    for _ in range(60):
        count = rng.randint(1, 5)
        bends, cut_length = bender.any_bends(rng, count)
        number = rng.randint(1, count)
        made = {k for k in range(1, count + 1) if k != number and rng.random() < 0.6}
        held: Held = rng.choice(["start", "finish"])
        angle = bends[number - 1].angle
        pulled = rng.choice([0.0, angle, rng.uniform(0.0, angle)])
        found = pose(on_stick(bends), Mm(cut_length), number, made=made, held=held, pulled=Deg(pulled))
        # Where along the straight stick each piece begins, counted from the end that the pose begins with.
        along, parts = [0.0], []
        for piece in found.pieces:
            size = (
                math.dist(piece.start, piece.end)
                if isinstance(piece, LinePiece)
                else piece.radius * math.radians(piece.angle)
            )
            parts.append((piece, along[-1], size))
            along.append(along[-1] + size)
        assert along[-1] == pytest.approx(cut_length, abs=CLOSE)
        for piece, after in pairwise(found.pieces):
            assert math.dist(piece.end, after.start) < CLOSE
        marks = [m for _, begin, size in parts for m in (begin, begin + size / 2, begin + size)]
        marks = [min(max(m, 0.0), cut_length) for m in marks]
        on = [m if held == "start" else cut_length - m for m in marks]
        there = lying(
            bends, cut_length, number, made=made, held=held, pulled=pulled, also_at=[*on, cut_length]
        )
        ends = there.from_hold_side(held)
        assert math.dist(found.pieces[0].start, ends[0]) < CLOSE
        assert math.dist(found.pieces[-1].end, ends[-1]) < CLOSE
        told: list[Any] = []
        for piece in found.pieces:
            if isinstance(piece, LinePiece):
                middle = tuple((a + b) / 2 for a, b in zip(piece.start, piece.end, strict=True))
            else:
                middle = piece.at(math.radians(piece.angle) / 2)
                assert math.dist(piece.at(math.radians(piece.angle)), piece.end) < CLOSE
                assert math.dist(piece.centre, piece.start) == pytest.approx(piece.radius, abs=CLOSE)
            told += [piece.start, middle, piece.end]
        for mark, place in zip(on, told, strict=True):
            near = there.places[np.abs(there.along - mark) < 1e-7]
            assert min(math.dist(place, each) for each in near) < 1e-6
        assert [p.part for p in found.pieces] == sorted(
            (p.part for p in found.pieces), key=["held side", "arc", "tail"].index
        )


def test_the_held_side_never_moves_and_the_arc_grows_to_the_finished_angle() -> None:
    rng = random.Random("still")
    bends, cut_length = bender.any_bends(rng, 4)
    before = pose(on_stick(bends), Mm(cut_length), 3, made={1, 4}, held="start", pulled=Deg(0.0))
    after = pose(on_stick(bends), Mm(cut_length), 3, made={1, 4}, held="start", pulled=Deg(bends[2].angle))
    assert [p for p in before.pieces if p.part == "held side"] == [
        p for p in after.pieces if p.part == "held side"
    ]
    assert [p for p in before.pieces if p.part == "arc"] == []
    (arc,) = (p for p in after.pieces if p.part == "arc")
    assert isinstance(arc, ArcPiece)
    assert arc.start == (0.0, 0.0, 0.0)
    assert arc.centre == (0.0, bends[2].radius, 0.0)
    assert arc.axis == (0.0, 0.0, 1.0)
    assert arc.angle == bends[2].angle


def test_a_right_angle_held_by_the_start_stands_up_at_the_end_of_its_pull() -> None:
    # Begin 500, R = 73, finish 614.668; 300 past it: the tail ends at x = 73, y = 73 + 300.
    bend = StickBend(Mm(500.0), Mm(500.0 + 73.0 * math.pi / 2), Deg(90.0), Mm(73.0), Deg(0.0))
    cut_length = Mm(bend.finish + 300.0)
    found = pose([bend], cut_length, 1, made=(), held="start", pulled=Deg(90.0))
    assert found.pieces[0].start == (-500.0, 0.0, 0.0)
    assert found.pieces[-1].end == pytest.approx((73.0, 373.0, 0.0), abs=CLOSE)
    # Held by the finish the 500 swing.
    found = pose([bend], cut_length, 1, made=(), held="finish", pulled=Deg(90.0))
    assert found.pieces[0].start == (-300.0, 0.0, 0.0)
    assert found.pieces[-1].end == pytest.approx((73.0, 573.0, 0.0), abs=CLOSE)


@pytest.mark.parametrize(
    ("number", "made", "pulled"),
    [(0, (), 0.0), (3, (), 0.0), (1, (1,), 0.0), (1, (3,), 0.0), (1, (2,), -0.1), (1, (2,), 45.1)],
)
def test_a_pose_of_no_such_bend_or_angle_is_an_error(
    number: int, made: tuple[int, ...], pulled: float
) -> None:
    bends = (Bend(200.0, 45.0, 73.0, 0.0), Bend(500.0, 90.0, 73.0, 90.0))
    with pytest.raises(ValueError, match="bend"):
        pose(on_stick(bends), Mm(900.0), number, made=made, held="start", pulled=Deg(pulled))


# ------------------------------------------------------------------------------------------ sweep and posture


@pytest.mark.parametrize("seed", range(4))
def test_sweep_and_posture_are_measured_on_the_stick_as_it_lies(seed: int) -> None:
    rng = random.Random(f"postures {seed}")
    with_posture = other_held = 0
    while with_posture < 60:
        count = rng.randint(2, 5)
        bends, cut_length = bender.any_bends(rng, count)
        job = Job(bends, cut_length, 20.0, Machine(hold_min=rng.uniform(0.0, 160.0)))
        normal = rng.choice([(0.0, 1.0, 0.0), (0.0, 0.0, 2.0), (0.3, 1.0, -0.4), (0.0, -1.0, 1.0)])
        settings = order_of(job, PlaneAsked(normal, Mm(-5000.0))).settings
        if settings is None:
            continue
        made: set[int] = set()
        for setting in sorted(settings, key=lambda each: each.order):
            number, held = setting.bend, setting.held
            bend = bends[number - 1]
            arc = bend.finish - bend.begin
            # mm; the farthest of places 1 mm apart is short by less than 0.01 on a bend.
            there = lying(
                bends,
                cut_length,
                number,
                made=made,
                held=held,
                pulled=0.0,
                on_arcs=1.0,
                also_at=[bend.begin, bend.finish],
            )
            past = there.along >= bend.finish if held == "start" else there.along <= bend.begin
            away = np.linalg.norm(there.places[past] - np.array([arc, 0.0, 0.0]), axis=1)
            assert setting.sweep == pytest.approx(float(away.max()), abs=0.01)
            posture = setting.posture
            if not made:
                assert posture is None
            else:
                assert posture is not None
                with_posture += 1
                other_held += held == "finish"
                straights = {
                    k: (bends[k - 1].begin - bend.finish if k > number else bend.begin - bends[k - 1].finish)
                    for k in made
                }
                assert straights[posture.bend] == min(straights.values())
                beyond = bends[posture.bend - 1]
                # The leg beyond: from where that bend ends, seen from the bend being made, a little on.
                at, on = (
                    (beyond.finish, beyond.finish + 1e-3)
                    if posture.bend > number
                    else (beyond.begin, beyond.begin - 1e-3)
                )
                alone = lying(
                    (*bends[: posture.bend - 1], beyond, *bends[posture.bend :]),
                    cut_length,
                    number,
                    made={posture.bend},
                    held=held,
                    pulled=0.0,
                    also_at=[at, on],
                )
                a, b = (alone.places[int(np.argmin(np.abs(alone.along - mark)))] for mark in (at, on))
                leg = (b - a)[1:]
                wanted = math.degrees(math.atan2(leg[1], leg[0]))
                assert math.remainder(posture.angle - wanted, 360.0) == pytest.approx(0.0, abs=1e-4)
                assert -180.0 < posture.angle <= 180.0
                up = np.array(normal[1:]) / np.linalg.norm(normal[1:])
                cosine = float(leg @ up / np.linalg.norm(leg))
                tilt = math.degrees(math.acos(max(-1.0, min(1.0, cosine))))
                if posture.lies == "aslant":
                    assert 0.999 < tilt < 179.001
                    assert abs(tilt - 90.0) > 0.999
                else:
                    assert tilt == pytest.approx(
                        {"up": 0, "flat": 90, "down": 180}[posture.lies or ""], abs=1.001
                    )
            made.add(number)
    assert other_held > 2


def test_where_two_made_bends_are_as_near_the_held_sides_counts() -> None:
    # 200 of straight on either side of bend 2. Lines 250 before the tangent point at bend 1 and 330 past it
    # at bend 3 let neither be set once bend 2 is made, nor be held the other way: 240 and 200 are left there.
    arc = 73.0 * math.pi / 2
    bends = on_stick(
        (
            Bend(240.0, 90.0, 73.0, 0.0),
            Bend(440.0 + arc, 90.0, 73.0, 90.0),
            Bend(640.0 + 2 * arc, 90.0, 73.0, 180.0),
        )
    )
    asked = BenderAsked(motion=Motion.HOOKED)
    settings = bending_order(
        bends,
        Mm(840.0 + 3 * arc),
        diameter=Mm(20.0),
        bender=asked,
        reaches=[Mm(-250.0), Mm(0.0), Mm(330.0)],
    ).settings
    assert settings is not None
    assert [(each.order, each.held) for each in settings] == [(1, "finish"), (3, "finish"), (2, "finish")]
    # Bend 3 closes at 180 - 90 from bend 2, seen from the finish the other way round.
    assert settings[1].posture == Posture(3, Deg(-90.0), None)
    # The same stick, its lines before the tangent point at bend 3 and past it at bend 1: held by the start.
    settings = bending_order(
        bends[:2] + on_stick((Bend(640.0 + 2 * arc, 90.0, 73.0, 30.0),)),
        Mm(880.0 + 3 * arc),
        diameter=Mm(20.0),
        bender=asked,
        reaches=[Mm(360.0), Mm(0.0), Mm(-250.0)],
    ).settings
    assert settings is not None
    assert [(each.order, each.held) for each in settings] == [(1, "start"), (3, "start"), (2, "start")]
    assert settings[1].posture == Posture(1, Deg(-90.0), None)


def test_a_floor_square_to_the_stick_leaves_every_leg_level() -> None:
    bends = (Bend(200.0, 90.0, 73.0, 0.0), Bend(600.0, 90.0, 73.0, 37.0))
    job = Job(bends, 1200.0, 20.0, Machine())
    settings = order_of(job, PlaneAsked((1.0, 0.0, 0.0), Mm(-5000.0))).settings
    assert settings is not None
    assert settings[1].posture == Posture(1, Deg(-37.0), "flat")
