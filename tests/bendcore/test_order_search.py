"""The bending order: against every order tried, and the laws that it keeps."""

import dataclasses
import math
import random
from collections import Counter
from itertools import pairwise

import pytest
from independent import bender
from independent.bender import Bend, Doubtful, Job, Machine, Trials

from bendcore.clearance import TOUCH
from bendcore.order import MOST_BENDS, Order, Setting, StickBend, bending_order
from bendcore.spec import BenderAsked, BodyAsked, Motion, PlaneAsked
from bendcore.units import Deg, Mm

EXACT = 1e-6
"""mm and degrees, between two ways of working out one figure."""


def on_stick(job: Job) -> list[StickBend]:
    return [StickBend(Mm(b.begin), Mm(b.finish), Deg(b.angle), Mm(b.radius), Deg(b.roll)) for b in job.bends]


def asked(machine: Machine, motion: Motion = Motion.TAIL) -> BenderAsked:
    """The contract's bender of a machine: its first plane is the floor."""
    planes = tuple(PlaneAsked(normal, Mm(offset)) for normal, offset in machine.planes)
    return BenderAsked(
        Mm(machine.hold_min),
        Mm(machine.swing_min),
        motion,
        planes[0] if planes else None,
        planes[1:],
        tuple(BodyAsked(low, high) for low, high in machine.bodies),
    )


def order_of(job: Job, *, motion: Motion = Motion.TAIL, joint_places: dict[int, Mm] | None = None) -> Order:
    reach = None if job.reach is None else Mm(job.reach)
    return bending_order(
        on_stick(job),
        Mm(job.cut_length),
        diameter=Mm(job.diameter),
        bender=asked(job.machine, motion),
        reaches=[reach] * len(job.bends),
        joint_places=joint_places,
    )


def way_of(order: Order) -> tuple[tuple[int, str], ...] | None:
    """Bends and how each is held, in the order made."""
    if order.settings is None:
        return None
    return tuple((each.bend, each.held) for each in sorted(order.settings, key=lambda each: each.order))


# ---------------------------------------------------------------------------------- against every order tried


def compared(job: Job) -> str:
    """Compares the order of a job with the best of all orders tried; says what came out."""
    order = order_of(job)
    trials = Trials(job)
    try:
        best = trials.best
        assert way_of(order) == best
        if best is not None:
            turns = sum(a[1] != b[1] for a, b in pairwise(best))
            assert order.turn_rounds == turns
            assert order.obstacle is None
            return "turned" if turns else "in order" if best == tuple(sorted(best)) else "out of order"
        assert order.turn_rounds is None
        obstacle = order.obstacle
        assert obstacle is not None
        assert obstacle.short > 0.0
        freed_by = None
        for number in range(1, len(job.bends)):
            place = (job.bends[number - 1].finish + job.bends[number].begin) / 2.0
            if job.bends[number].begin - job.bends[number - 1].finish <= EXACT:
                continue
            parts = (
                trials.part(1, number, 0.0, place),
                trials.part(number + 1, len(job.bends), place, job.cut_length),
            )
            if all(part.best is not None for part in parts):
                freed_by = number
                break
        assert order.freed_by == freed_by
    except Doubtful:
        return "doubtful"
    return "none" if freed_by is None else "freed"


def outcome_of(job: Job) -> str:
    order = order_of(job)
    if order.settings is None:
        return "none" if order.freed_by is None else "freed"
    if order.turn_rounds:
        return "turned"
    way = way_of(order)
    assert way is not None
    return "in order" if way == tuple(sorted(way)) else "out of order"


@pytest.mark.parametrize("outcome", ["in order", "out of order", "turned", "freed", "none"])
def test_the_order_is_the_best_of_all_orders(outcome: str) -> None:
    # Jobs are drawn until the engine says so; then every order is tried.
    rng = random.Random(f"orders {outcome}")
    found: Counter[str] = Counter()
    while found.total() < 24:
        job = bender.any_job(rng, rng.choice([1, 2, 2, 3, 3]))
        if outcome_of(job) == outcome and (job.machine.planes or job.machine.bodies):
            found[compared(job)] += 1
    assert found["doubtful"] <= 8
    assert found[outcome] == found.total() - found["doubtful"]


@pytest.mark.parametrize("outcome", ["out of order", "turned", "none"])
def test_the_order_of_four_bends_is_the_best_of_all_384(outcome: str) -> None:
    rng = random.Random(f"four {outcome}")
    found: Counter[str] = Counter()
    while found.total() < 6:
        job = bender.any_job(rng, 4)
        if outcome_of(job) == outcome and (job.machine.planes or job.machine.bodies):
            found[compared(job)] += 1
    assert found["doubtful"] < 4


def test_among_straights_alone_the_order_is_the_best_of_all_orders() -> None:
    # Without obstacles trying everything is quick, so that five bends (3840 orders) can be tried.
    rng = random.Random("straights")
    outcomes: Counter[str] = Counter()
    for count in [2] * 50 + [3] * 60 + [4] * 40 + [5] * 6:
        job = bender.any_job(rng, count)
        machine = Machine(rng.uniform(0.0, 220.0), rng.uniform(0.0, 40.0))
        reach = rng.choice([0.0, 0.0, -60.0, job.reach])
        outcomes[compared(dataclasses.replace(job, machine=machine, reach=reach))] += 1
    assert set(outcomes) >= {"turned", "in order", "out of order", "none"}
    assert min(outcomes.values()) >= 3


# ------------------------------------------------------------------------------------------------------- laws


def many_jobs(name: str, count: int) -> list[Job]:
    rng = random.Random(name)
    return [bender.any_job(rng, rng.randint(1, 5)) for _ in range(count)]


def test_in_the_mirror_the_order_is_the_same() -> None:
    # Mirrored across the plane of the bend being made: rolls change sign, and so do z of planes and bodies.
    found = 0
    for job in many_jobs("mirror", 120):
        machine = job.machine
        mirrored = dataclasses.replace(
            job,
            bends=tuple(
                dataclasses.replace(b, roll=180.0 if b.roll == 180.0 else -b.roll) for b in job.bends
            ),
            machine=dataclasses.replace(
                machine,
                planes=tuple(((x, y, -z), offset) for (x, y, z), offset in machine.planes),
                bodies=tuple(((x0, y0, -z1), (x1, y1, -z0)) for (x0, y0, z0), (x1, y1, z1) in machine.bodies),
            ),
        )
        here, there = order_of(job), order_of(mirrored)
        assert way_of(here) == way_of(there)
        assert here.turn_rounds == there.turn_rounds
        assert here.freed_by == there.freed_by
        if here.obstacle is not None:
            assert there.obstacle is not None
            assert there.obstacle.short == pytest.approx(here.obstacle.short, abs=EXACT)
            assert dataclasses.replace(there.obstacle, short=Mm(0), at=None) == dataclasses.replace(
                here.obstacle, short=Mm(0), at=None
            )
        for a, b in zip(here.settings or (), there.settings or (), strict=True):
            found += 1
            assert a.sweep == pytest.approx(b.sweep, abs=EXACT)
            assert (a.posture is None) == (b.posture is None)
            if a.posture is not None and b.posture is not None:
                assert math.remainder(a.posture.angle + b.posture.angle, 360.0) == pytest.approx(0, abs=EXACT)
                assert a.posture.lies == b.posture.lies
    assert found > 100


def test_read_from_the_other_end_there_is_an_order_with_as_few_turn_rounds() -> None:
    # From the finish a stick's bends come the other way round; the step of roll from one to the next keeps
    # its sign (docs/method/roll.md), so that each roll counts back from the last.
    found = 0
    for job in many_jobs("other end", 120):
        last = job.bends[-1].roll
        turned = tuple(
            Bend(job.cut_length - b.finish, b.angle, b.radius, math.remainder(last - b.roll, 360.0))
            for b in reversed(job.bends)
        )
        here, there = order_of(job), order_of(dataclasses.replace(job, bends=turned))
        assert here.turn_rounds == there.turn_rounds
        found += here.turn_rounds is not None
    assert 20 < found < 120


def test_more_room_never_takes_an_order_away() -> None:
    rng = random.Random("more room")
    kept = won = 0
    for job in many_jobs("more room", 150):
        before = order_of(job)
        machine = job.machine
        bodies = list(machine.bodies)
        if bodies:
            bodies.pop(rng.randrange(len(bodies)))
        roomier = Machine(
            machine.hold_min * rng.random(),
            machine.swing_min * rng.random(),
            tuple((normal, offset - rng.uniform(0.0, 400.0)) for normal, offset in machine.planes),
            tuple(
                ((x0 + 2.0, y0 + 1.0, z0 + 3.0), (x1 - 4.0, y1 - 2.0, z1 - 1.0))
                for (x0, y0, z0), (x1, y1, z1) in bodies
            ),
        )
        after = order_of(dataclasses.replace(job, machine=roomier))
        if before.turn_rounds is not None:
            kept += 1
            assert after.turn_rounds is not None
            assert after.turn_rounds <= before.turn_rounds
        elif after.turn_rounds is not None:
            won += 1
    assert kept > 20
    assert won > 5


def with_floor(job: Job, offset: float) -> Job:
    machine = dataclasses.replace(job.machine, planes=(((0.0, 1.0, 0.0), offset),))
    return dataclasses.replace(job, machine=machine)


def test_the_room_that_is_missing_over_a_floor_is_what_the_second_bend_wants() -> None:
    # A first bend always clears a floor that it closes away from. Lowered by what is missing the floor lets
    # the second be made, and by a little less it does not.
    rng = random.Random("missing room")
    judged = 0
    while judged < 40:
        bends, cut_length = bender.any_bends(rng, 2)
        job = with_floor(Job(bends, cut_length, 22.0, Machine()), -rng.uniform(20.0, 350.0))
        obstacle = order_of(job).obstacle
        if obstacle is None:
            continue
        judged += 1
        assert obstacle.kind == "floor"
        assert obstacle.at is not None
        offset = job.machine.planes[0][1]
        # Arcs are measured by chords that they stand 0.1 from at most.
        assert order_of(with_floor(job, offset - obstacle.short - 0.15)).settings is not None
        assert order_of(with_floor(job, offset - obstacle.short + 0.05)).settings is None


def test_the_straight_that_is_missing_is_enough_for_one_more_bend() -> None:
    rng = random.Random("missing straight")
    judged = 0
    while judged < 40:
        bends, cut_length = bender.any_bends(rng, rng.choice([2, 3, 4]))
        job = Job(bends, cut_length, 22.0, Machine(hold_min=rng.uniform(100.0, 400.0)))
        obstacle = order_of(job).obstacle
        if obstacle is None:
            continue
        judged += 1
        assert obstacle.kind == "hold"
        assert obstacle.straight is not None
        assert obstacle.straight + obstacle.short == pytest.approx(job.machine.hold_min, abs=EXACT)
        less = dataclasses.replace(job, machine=Machine(hold_min=obstacle.straight - EXACT))
        assert Trials(less).most_made > Trials(job).most_made


# ------------------------------------------------------------------------------------------ what is looked at


def two_bends(**machine: object) -> Job:
    """Two right angles, a Z: begins 500 and 900 on, R = 73, 400 past the second."""
    arc = 73.0 * math.pi / 2
    bends = (Bend(500.0, 90.0, 73.0, 0.0), Bend(900.0, 90.0, 73.0, 180.0))
    return Job(bends, 900.0 + arc + 400.0, 20.0, Machine(**machine))  # type: ignore[arg-type]


@pytest.mark.parametrize("motion", [Motion.HOOKED, Motion.BOTH])
def test_where_more_than_the_tail_moves_straights_count_and_clearance_does_not(motion: Motion) -> None:
    job = two_bends(planes=(((0.0, 1.0, 0.0), -20.0),))
    assert order_of(job).obstacle is not None
    order = order_of(job, motion=motion)
    assert way_of(order) == ((1, "start"), (2, "start"))
    # 400 - 114.668 = 285.332 of straight between them: with 290 to hold bend 2 is made first.
    assert way_of(order_of(two_bends(hold_min=290.0), motion=motion)) == ((2, "start"), (1, "start"))
    assert order_of(two_bends(hold_min=510.0), motion=motion).obstacle is not None


def test_without_a_bender_bends_are_made_one_after_the_other_held_by_the_start() -> None:
    job = two_bends()
    order = bending_order(
        on_stick(job), Mm(job.cut_length), diameter=Mm(20.0), bender=None, reaches=[Mm(-3000.0)] * 2
    )
    assert way_of(order) == ((1, "start"), (2, "start"))
    assert order.turn_rounds == 0
    assert order.searched
    # 900 + 114.668 + 400 - 614.668 = 800 from bend 1; 400 from bend 2.
    assert [each.sweep for each in order.settings or ()] == pytest.approx([800.0, 400.0], abs=EXACT)


def test_a_stick_without_bends_has_the_empty_order() -> None:
    for bender_asked in (None, BenderAsked(hold_min=Mm(100.0))):
        order = bending_order([], Mm(900.0), diameter=Mm(20.0), bender=bender_asked, reaches=[])
        assert order == Order((), 0)


def many_bends(count: int) -> Job:
    bends = tuple(Bend(200.0 + 150.0 * k, 30.0, 73.0, 0.0 if k % 2 == 0 else 180.0) for k in range(count))
    return Job(bends, 200.0 + 150.0 * count, 20.0, Machine(hold_min=190.0))


def test_ten_bends_are_searched_and_eleven_are_made_one_to_n() -> None:
    # 150 - 38.22 = 111.78 of straight between bends: each but the first wants all before it unmade.
    ten = order_of(many_bends(MOST_BENDS))
    assert ten.searched
    assert way_of(ten) == tuple((number, "start") for number in range(MOST_BENDS, 0, -1))
    eleven = order_of(many_bends(MOST_BENDS + 1))
    assert not eleven.searched
    assert way_of(eleven) == tuple((number, "start") for number in range(1, MOST_BENDS + 2))
    assert eleven.turn_rounds == 0
    assert eleven.obstacle is None


@pytest.mark.parametrize(
    ("reach", "way"),
    [
        # The line lies 300 before the tangent point: held by the start, bend 2 is set before bend 1 is made,
        # for 285.3 are left between them.
        (-300.0, ((2, "start"), (1, "start"))),
        # 405 before: only the 500 before bend 1 and all before bend 2 are enough.
        (-405.0, ((2, "start"), (1, "start"))),
        # 420 past: on bend 2 when it is made (400 from one begin to the other), so bend 1 first.
        (420.0, ((1, "start"), (2, "start"))),
        # 520 past: off the finish of the stick at bend 2 (514.7), so it is held by the finish, after bend 1;
        # but there bend 1 is in the way of the mark (400 back), so before it; then bend 1 by the finish
        # (614.7 back from its finish).
        (520.0, ((2, "finish"), (1, "finish"))),
        # In the middle of the arc any order will do.
        (None, ((1, "start"), (2, "start"))),
    ],
)
def test_a_mark_is_set_on_the_straight_that_its_bend_is_made_in(
    reach: float | None, way: tuple[tuple[int, str], ...]
) -> None:
    job = dataclasses.replace(two_bends(), reach=reach)
    assert way_of(order_of(job)) == Trials(job).best == way


def test_a_mark_that_comes_to_no_straight_is_told_by_how_far_it_is_off() -> None:
    # 700 past the tangent point. Bend 1 can be set first, held by the start (914.668 from its begin to the
    # stick's finish); then bend 2 has 514.668 to the finish, or 400 back to bend 1. Or bend 2 first, held by
    # the finish (1014.668 back to the start); then bend 1 has 400 to bend 2, or 614.668 back to the start,
    # which misses by the least.
    order = order_of(dataclasses.replace(two_bends(), reach=700.0))
    obstacle = order.obstacle
    assert obstacle is not None
    assert (obstacle.kind, obstacle.bend, obstacle.held) == ("mark", 1, "finish")
    assert obstacle.short == pytest.approx(85.332, abs=1e-3)


def test_a_joint_frees_at_the_place_that_is_said_and_only_where_one_may_stand() -> None:
    # Over a floor 250 below neither bend of the Z can be made after the other; alone each can.
    job = two_bends(planes=(((0.0, 1.0, 0.0), -250.0),))
    assert order_of(job).freed_by == 1
    assert order_of(job, joint_places={}).freed_by is None
    assert order_of(job, joint_places={1: Mm(700.0)}).freed_by == 1
    # With 150 to hold the first part has enough on its start; a joint 60 before bend 2 leaves it too little
    # there, but not on its finish; and 420 on either side is more than the second has.
    tight = dataclasses.replace(job, machine=dataclasses.replace(job.machine, hold_min=150.0))
    assert order_of(tight, joint_places={1: Mm(840.0)}).freed_by == 1
    tighter = dataclasses.replace(job, machine=dataclasses.replace(job.machine, hold_min=420.0))
    assert order_of(tighter, joint_places={1: Mm(840.0)}).freed_by is None


def test_what_touches_says_where_first_and_by_how_much_at_worst() -> None:
    # A Z over a floor: with bend 1 made its leg points 73 + 500 = 573 down at bend 2; with bend 2 made its
    # leg points 73 + 400 = 473 down at bend 1. The floor is 300 below: 473 + 10 + 0.5 - 300 = 183.5.
    order = order_of(two_bends(planes=(((0.0, 5.0, 0.0), -300.0),)))
    obstacle = order.obstacle
    assert obstacle is not None
    assert (obstacle.bend, obstacle.held, obstacle.kind, obstacle.index) == (1, "start", "floor", None)
    assert obstacle.at == 0.0
    assert obstacle.part == "tail"
    assert obstacle.short == pytest.approx(473.0 + 10.0 + TOUCH - 300.0, abs=1e-3)


def test_by_how_much_is_told_of_the_whole_stick_whatever_touches_first() -> None:
    # A ceiling 10.2 over the centreline leaves a stick of 20 a clearance of 0.2 before the pull. Held by the
    # start the tail then ends 73 + 300 = 373 high, held by the finish 573.
    arc = 73.0 * math.pi / 2
    job = Job(
        (Bend(500.0, 90.0, 73.0, 0.0),),
        500.0 + arc + 300.0,
        20.0,
        Machine(planes=(((0.0, 0.0, 1.0), -900.0), ((0.0, -1.0, 0.0), -10.2))),
    )
    obstacle = order_of(job).obstacle
    assert obstacle is not None
    assert (obstacle.held, obstacle.kind, obstacle.index) == ("start", "plane", 0)
    assert (obstacle.at, obstacle.part) == (0.0, "held side")
    assert obstacle.short == pytest.approx(373.0 + 10.0 + TOUCH - 10.2, abs=1e-3)


def test_a_setting_says_whether_the_stick_was_turned_round_for_it() -> None:
    # 120 to hold at neither end's own side: bend 1 is held by the finish, bend 2 by the start.
    arc = 73.0 * math.pi / 2
    bends = (Bend(100.0, 90.0, 73.0, 0.0), Bend(500.0, 90.0, 73.0, 90.0))
    order = order_of(Job(bends, 500.0 + arc + 110.0, 20.0, Machine(hold_min=120.0)))
    assert order.settings is not None
    assert order.turn_rounds == 1
    first, second = order.settings
    assert isinstance(first, Setting)
    assert (first.held, first.turned, first.order) == ("finish", False, 1)
    assert (second.held, second.turned, second.order) == ("start", True, 2)
    assert [first.sweep, second.sweep] == pytest.approx([100.0, 110.0], abs=EXACT)
