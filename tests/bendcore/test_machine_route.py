"""The plan, bent forward in a software bender that knows nothing of the engine, gives the route again."""

import json
import math
import random
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from independent import machine, routes, splits, walker
from independent.routes import Run, examples, runs
from independent.space import Vector, along, cross, distance, dot, square_part, sub, turned, unit

import bendcore

# mm. What the engine promises of any feasible route up to 500 corners and 1 km.
REPRODUCED_WITHIN = 0.01
# mm. Figures of one plan against each other or against the same thing measured on the made stick: rounding of
# doubles over some hundred turned vectors of metres.
SAME_FIGURE = 1e-6
EVERY_SET_LINE: tuple[dict[str, Any] | None, ...] = (
    None,
    {"kind": "begin"},
    {"kind": "back"},
    {"kind": "arrow", "take_up": 137.5},
    {"kind": "middle"},
    {"kind": "own", "reach": -41.3},
    {"kind": "own", "reach": 66.7},
)
METHODS = (machine.as_planned, machine.held_by_the_start, machine.held_by_the_finish)


def planned(spec: dict[str, Any]) -> dict[str, Any]:
    """The plan as whoever reads the JSON gets it."""
    plan: dict[str, Any] = json.loads(json.dumps(bendcore.plan(spec).to_dict(), allow_nan=False))
    return plan


def shuffled(rng: random.Random) -> Any:
    """Bends in any order, each held by either side."""

    def method(stick: dict[str, Any]) -> machine.Method:
        order = list(range(len(stick["bends"])))
        rng.shuffle(order)
        return [(i, rng.choice(("start", "finish"))) for i in order]

    return method


@given(run=runs())
@examples(150)
def test_sticks_bent_by_their_marks_reproduce_the_route_from_either_held_side(run: Run) -> None:
    plan = planned(run.spec)
    for method in METHODS:
        made = machine.make_run(plan, run.line, method)
        assert machine.farthest_miss(made, run.points) < REPRODUCED_WITHIN


@given(run=runs(), rng=st.randoms(use_true_random=True))
@examples(60)
def test_a_stick_comes_out_the_same_whatever_the_order_and_the_held_sides(
    run: Run, rng: random.Random
) -> None:
    plan = planned(run.spec)
    made = machine.make_run(plan, run.line, shuffled(rng))
    assert machine.farthest_miss(made, run.points) < REPRODUCED_WITHIN


@given(seed=st.integers(0, 2**32), corners=st.integers(100, 497), as_steps=st.booleans())
@examples(8)
def test_up_to_five_hundred_corners_and_a_kilometre_are_reproduced(
    seed: int, corners: int, as_steps: bool
) -> None:
    rng = random.Random(seed)
    run = routes.run_of(rng, corners, as_steps=as_steps, longest=1.6e6 / corners)
    plan = planned(run.spec)
    for method in (*METHODS, shuffled(rng)):
        made = machine.make_run(plan, run.line, method)
        assert machine.farthest_miss(made, run.points) < REPRODUCED_WITHIN


@pytest.mark.parametrize("as_steps", [False, True], ids=["points", "steps"])
def test_five_hundred_corners_over_a_kilometre_are_reproduced(as_steps: bool) -> None:
    rng = random.Random(20261124)
    run = routes.run_of(
        rng, 497 if as_steps else 500, as_steps=as_steps, longest=14000.0 if as_steps else 4500.0
    )
    assert len(run.points) >= 499
    assert walker.path_length(run.points) > 1e6
    plan = planned(run.spec)
    for method in (*METHODS, shuffled(rng)):
        made = machine.make_run(plan, run.line, method)
        assert machine.farthest_miss(made, run.points) < REPRODUCED_WITHIN


@pytest.mark.parametrize("method", METHODS)
@pytest.mark.parametrize(
    "line", EVERY_SET_LINE, ids=lambda v: "none" if v is None else "-".join(map(str, v.values()))
)
def test_every_set_line_and_held_side_lays_an_awkward_run_where_it_was_surveyed(
    line: dict[str, Any] | None, method: Any
) -> None:
    points: list[Vector] = [
        (12.5, -7.25, 0.0),
        (12.5, -7.25, 1187.3),
        (955.1, -7.25, 1402.9),
        (1333.3, 801.7, 1402.9),
        (871.3, 1377.7, 2201.1),
        (871.3, 1377.7, 3309.9),
    ]
    spec = {
        "conduit": {"outside_diameter": 25.4, "stock_length": 3000.0},
        "former": {"centreline_radius": 107.9} | ({} if line is None else {"set_line": line}),
        "route": {"points": [list(p) for p in points]},
    }
    plan = planned(spec)
    assert len(plan["sticks"]) > 1
    assert {b["set"]["line"] for s in plan["sticks"] for b in s["bends"]} == {
        "begin" if line is None else line["kind"]
    }
    made = machine.make_run(plan, machine.set_line(line, 107.9, 25.4), method)
    assert machine.farthest_miss(made, points) < REPRODUCED_WITHIN


@given(
    run=runs(most_corners=6, joints=None, stock_length=6000.0),
    joints=st.sampled_from((None, {"gap": 3.0}, {"clearance": 90.0, "min_piece": 300.0, "gap": 41.5})),
)
@examples(100)
def test_sticks_screwed_together_by_clock_and_gap_reproduce_the_route(
    run: Run, joints: dict[str, float] | None
) -> None:
    figures = {"clearance": 120.0, "min_piece": 150.0, "gap": 0.0} | (joints or {})
    least = splits.fewest_sticks(splits.developed(run), stock=6000.0, **figures)
    spec = run.spec | ({} if joints is None else {"joints": joints})
    if least is None:
        with pytest.raises(bendcore.SpecProblem):
            bendcore.plan(spec)
        return
    plan = planned(spec)
    assert len(plan["sticks"]) == least
    for method in METHODS:
        made = machine.make_run(plan, run.line, method)
        assert machine.farthest_miss(made, run.points) < REPRODUCED_WITHIN


def long_route(
    seed: int, *, straights: tuple[float, float], angles: Callable[[random.Random], float], shift: Vector
) -> list[Vector]:
    """Five hundred corners for a radius of 73, in any planes."""
    rng = random.Random(seed)
    at: Vector = shift
    heading = routes.any_direction(rng)
    points = [at]
    before = 0.0
    for _ in range(500):
        angle = angles(rng)
        t = routes.tangent(73.0, angle)
        at = along(at, heading, before + rng.uniform(*straights) + t)
        points.append(at)
        heading = unit(turned(heading, cross(heading, routes.any_way(rng, heading)), angle))
        before = t
    return [*points, along(at, heading, before + rng.uniform(*straights))]


def spec_73(points: list[Vector], **more: Any) -> dict[str, Any]:
    return {
        "conduit": {"outside_diameter": 20.0, "stock_length": 6000.0},
        "former": {"centreline_radius": 73.0},
        "route": {"points": [list(p) for p in points]},
    } | more


def test_five_hundred_corners_over_a_kilometre_in_many_sticks_are_reproduced() -> None:
    points = long_route(
        20261125,
        straights=(300.0, 3800.0),
        angles=lambda rng: routes.any_angle(rng, 0.5, 135.0),
        shift=(0, 0, 0),
    )
    assert walker.path_length(points) > 1e6
    plan = planned(spec_73(points, joints={"gap": 12.0}))
    assert len(plan["sticks"]) > 166
    for method in METHODS:
        made = machine.make_run(plan, machine.set_line(None, 73.0, 20.0), method)
        assert machine.farthest_miss(made, points) < REPRODUCED_WITHIN


@pytest.mark.parametrize(
    "shift", [(0.0, 0.0, 0.0), (8e6, -8e6, 8e6)], ids=["here", "at the edge of the frame"]
)
@pytest.mark.parametrize(
    "angles",
    [
        lambda rng: 10.0 ** rng.uniform(-3.6, 1.0),  # from 0.00025 degrees
        lambda rng: 180.0 - 10.0 ** rng.uniform(-1.0, 1.0),  # up to 179.9 degrees
    ],
    ids=["nearly straight", "nearly closed"],
)
def test_five_hundred_corners_that_are_hard_on_rounding_are_reproduced(
    angles: Callable[[random.Random], float], shift: Vector
) -> None:
    points = long_route(20261126, straights=(1.0, 1500.0), angles=angles, shift=shift)
    plan = planned(spec_73(points, joints="none"))
    for method in METHODS:
        made = machine.make_run(plan, machine.set_line(None, 73.0, 20.0), method)
        assert machine.farthest_miss(made, points) < REPRODUCED_WITHIN


@given(run=runs())
@examples(60)
def test_a_nearly_straight_corner_and_a_nearly_closed_one_are_still_bends(run: Run) -> None:
    # One more leg, turned by so little or so much that the sheet shows nothing, after the run's own.
    for angle in (0.01, 0.2, 179.0, 179.9):
        t = routes.tangent(run.radius, angle)
        a, b = run.points[-2], run.points[-1]
        heading = unit(sub(b, a))
        helper: Vector = min(
            ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0)), key=lambda v: abs(dot(v, heading))
        )
        way = unit(square_part(helper, heading))
        corner = along(b, heading, t + 1.0)
        new_heading = unit(turned(heading, cross(heading, way), angle))
        points = [*run.points[:-1], corner, along(corner, new_heading, t + 250.0)]
        spec = run.spec | {"route": {"points": [list(p) for p in points]}}
        spec.pop("ends", None)
        plan = planned(spec)
        bend = plan["sticks"][-1]["bends"][-1]
        assert bend["angle"] == pytest.approx(angle, abs=1e-6)
        told = [bend["marks"][name] is not None for name in ("back", "inside")]
        if angle != 179.0:  # on the very limit rounding decides
            assert told == [angle < 179.0] * 2
        for method in METHODS:
            made = machine.make_run(plan, run.line, method)
            assert machine.farthest_miss(made, points) < REPRODUCED_WITHIN


@given(run=runs(most_corners=5))
@examples(60)
def test_the_outline_marks_are_where_the_made_stick_shows_them(run: Run) -> None:
    plan = planned(run.spec)
    (stick,) = plan["sticks"]
    made = machine.bend_stick(stick, run.line, machine.as_planned(stick))
    for i, bend in enumerate(stick["bends"]):
        begin, marks, angle = made.material[2 * i + 1], bend["marks"], bend["angle"]
        to_corner = distance(made.place(2 * i + 1), made.corner(i))
        assert marks["begin"] == bend["begin"] == pytest.approx(begin, abs=SAME_FIGURE)
        assert marks["centre"] == pytest.approx((begin + made.material[2 * i + 2]) / 2, abs=SAME_FIGURE)
        for name in ("back", "inside"):
            past = walker.beyond_the_corner(name, angle, run.outside_diameter, 0.0)
            assert marks[name] == pytest.approx(begin + to_corner + past, abs=1e-5)


@given(run=runs(most_corners=5, joints=None, stock_length=9000.0))
@examples(60)
def test_sweep_is_the_farthest_point_of_the_swing_side_from_its_tangent_point(run: Run) -> None:
    if splits.least_by_default(run, stock=9000.0) is None:
        return
    plan = planned(run.spec)
    for stick in plan["sticks"]:
        for bend in stick["bends"]:
            # Bent 1..n held by the start, the swing side is straight: its farthest point is the stick's
            # finish.
            assert (bend["order"], bend["held"]) == (bend["number"], "start")
            tail = stick["cut_length"] - _finish(bend)
            assert bend["set"]["sweep"] == pytest.approx(tail, abs=SAME_FIGURE)


SQUARE_WITHIN_DEG = 0.1
"""What a square on site cannot tell from a right angle."""


@given(run=runs(most_corners=6))
@examples(80)
def test_a_remeasure_is_read_on_the_stick_as_it_is_from_the_back_of_the_right_angle_before(run: Run) -> None:
    plan = planned(run.spec)
    (stick,) = plan["sticks"]
    bends = stick["bends"]
    for i, bend in enumerate(bends):
        remeasure = bend["set"].get("remeasure")
        before = bends[i - 1]["angle"] if i > 0 else None
        if before is None or abs(before - 90.0) > SQUARE_WITHIN_DEG:
            assert remeasure is None
            continue
        if abs(before - 90.0) > 1e-7 or bend["set"]["mark"] < _finish(bends[i - 1]):
            continue
        # The stick with the bends before this one made: the right angle's back is half a diameter behind the
        # corner.
        half_made = _bent_up_to(stick, run.line, i)
        corner = half_made.corner(i - 1)
        station = 2 * i  # the finish of the right angle; the stick is straight from there on
        heading = half_made.heading(station)
        mark_at = along(half_made.place(station), heading, bend["set"]["mark"] - half_made.material[station])
        read = dot(sub(mark_at, corner), heading) + run.outside_diameter / 2
        assert remeasure == pytest.approx(read, abs=1e-5)


def _finish(bend: dict[str, Any]) -> float:
    return float(bend["begin"] + math.radians(bend["angle"]) * bend["radius"])


def _bent_up_to(stick: dict[str, Any], line: machine.SetLine, count: int) -> machine.Stick:
    """The stick with only its first `count` bends made, held by the start."""
    first = stick | {"bends": stick["bends"][:count]}
    return machine.bend_stick(first, line, machine.held_by_the_start(first))


@given(run=runs(most_corners=6))
@examples(120)
def test_a_mark_off_the_straight_that_is_to_be_bent_is_told_and_no_other(run: Run) -> None:
    plan = planned(run.spec)
    (stick,) = plan["sticks"]
    off = 0
    on_the_edge = False
    for i, bend in enumerate(stick["bends"]):
        mark = bend["set"]["mark"]
        straight_from = _finish(stick["bends"][i - 1]) if i > 0 else 0.0
        on_the_edge |= min(abs(mark - straight_from), abs(mark - stick["cut_length"])) < SAME_FIGURE
        # Before it lie the bends already made, and legs round their corners from the set line.
        off += not straight_from <= mark <= stick["cut_length"]
    if not on_the_edge:
        told = [f for f in plan["findings"] if f["rule"] == "mark-off"]
        assert len(told) == off
        assert all(f["level"] == "stop" for f in told)
