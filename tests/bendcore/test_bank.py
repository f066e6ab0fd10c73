"""Parallel conduits: each lies at its spacing beside the last, ends squared off, and its marks step as they
should."""

import itertools
import json
import math
import random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from independent import machine, routes
from independent.routes import examples
from independent.space import (
    Vector,
    add,
    along,
    cross,
    distance,
    dot,
    length,
    line_distance,
    meeting_point,
    scale,
    square_part,
    sub,
    turned,
    unit,
)
from independent.walker import DIRECTIONS

import bendcore

# mm. The engine's promise for a route, at which each conduit of a bank is made.
REPRODUCED_WITHIN = 0.01
# mm. Between figures: rounding of doubles over a few tens of metres.
SAME_FIGURE = 1e-6


def bank_of(spec: dict[str, Any]) -> list[dict[str, Any]]:
    answer = json.loads(json.dumps(bendcore.plan(spec).to_dict(), allow_nan=False))
    plans: list[dict[str, Any]] = answer["plans"]
    return plans


def beside(points: list[Vector], toward: Vector, by: float) -> list[Vector]:
    """The route of a conduit `by` millimetres beside another: each leg's line shifted, and the lines
    intersected.

    The shift is square to the first leg and is carried round each corner as the conduit itself turns: without
    twist.
    """
    headings = [unit(sub(b, a)) for a, b in itertools.pairwise(points)]
    shift = scale(unit(square_part(toward, headings[0])), by)
    shifts = [shift]
    for before, after in itertools.pairwise(headings):
        axis = cross(before, after)
        angle = math.degrees(math.atan2(length(axis), dot(before, after)))
        shifts.append(turned(shifts[-1], unit(axis), angle))
    corners = [
        meeting_point(add(points[i], shifts[i - 1]), headings[i - 1], add(points[i], shifts[i]), headings[i])
        for i in range(1, len(points) - 1)
    ]
    return [add(points[0], shifts[0]), *corners, add(points[-1], shifts[-1])]


@st.composite
def banks(draw: st.DrawFn) -> tuple[routes.Run, int, float, str]:
    """A route with straights long enough for a whole bank, its count, spacing and side."""
    rng: random.Random = draw(st.randoms(use_true_random=False))
    count = draw(st.integers(2, 4))
    outside_diameter, radius = rng.choice(routes.FORMERS[1:6])
    spacing = rng.uniform(outside_diameter, 120.0)
    # An equal-radius corner moves by up to spacing * tan(angle / 2) for each conduit, so every leg keeps that
    # spare.
    angle_limit = 135.0
    spare = 2 * (count - 1) * spacing * math.tan(math.radians(angle_limit / 2))
    heading: Vector = (
        DIRECTIONS[rng.choice(routes.WORDS)] if rng.random() < 0.5 else routes.any_direction(rng)
    )
    points: list[Vector] = [(rng.uniform(-500, 500), 0.0, 0.0)]
    before = 0.0
    for _ in range(rng.randint(0, 5)):
        angle = routes.any_angle(rng, 5.0, angle_limit)
        leg = before + spare + rng.uniform(10.0, 1500.0) + routes.tangent(radius, angle)
        points.append(along(points[-1], heading, leg))
        way = routes.any_way(rng, heading)
        heading = unit(turned(heading, cross(heading, way), angle))
        before = routes.tangent(radius, angle)
    points.append(along(points[-1], heading, before + spare + rng.uniform(10.0, 1500.0)))
    first = unit(sub(points[1], points[0]))
    side = rng.choice([w for w in routes.WORDS if length(square_part(DIRECTIONS[w], first)) > 0.3])
    spec = {
        "conduit": {"outside_diameter": outside_diameter, "stock_length": 3750.0},
        "former": {"centreline_radius": radius, "set_line": {"kind": "back"}},
        "route": {"points": [list(p) for p in points]},
        "joints": "none",
        "parallel": {"count": count, "spacing": spacing, "toward": side, "corners": "equal"},
    }
    run = routes.Run(
        spec,
        tuple(points),
        outside_diameter,
        radius,
        line=machine.set_line({"kind": "back"}, radius, outside_diameter),
    )
    return run, count, spacing, side


@given(bank=banks())
@examples(100)
def test_each_conduit_of_a_bank_is_made_beside_the_first_at_its_spacing(
    bank: tuple[routes.Run, int, float, str],
) -> None:
    run, count, spacing, side = bank
    plans = bank_of(run.spec)
    assert len(plans) == count
    points = list(run.points)
    first = machine.fitted(machine.make_run(plans[0], run.line), points)
    assert machine.farthest_miss(first, points) < REPRODUCED_WITHIN
    for k, plan in enumerate(plans):
        wanted = beside(points, DIRECTIONS[side], k * spacing)
        for method in (machine.as_planned, machine.held_by_the_finish):
            made = machine.make_run(plan, run.line, method)
            assert machine.farthest_miss(made, wanted) < REPRODUCED_WITHIN
        made = machine.fitted(machine.make_run(plan, run.line), wanted)
        # Starts and finishes squared off, and each leg parallel to the first conduit's at exactly the
        # spacing.
        for end in (0, -1):
            heading = unit(sub(points[1], points[0])) if end == 0 else unit(sub(points[-1], points[-2]))
            assert dot(sub(made.points[end], first.points[end]), heading) == pytest.approx(
                0.0, abs=REPRODUCED_WITHIN
            )
            assert distance(made.points[end], first.points[end]) == pytest.approx(
                k * spacing, abs=REPRODUCED_WITHIN
            )
        for a, b, c, d in zip(points, points[1:], made.points, made.points[1:], strict=False):
            heading = unit(sub(b, a))
            for end in (c, d):
                assert line_distance(end, a, heading) == pytest.approx(k * spacing, abs=REPRODUCED_WITHIN)


def begins(plan: dict[str, Any]) -> list[float]:
    return [b["begin"] for s in plan["sticks"] for b in s["bends"]]


def planned_bank(
    points: list[list[float]], toward: str, spacing: float, count: int = 3, corners: str = "equal"
) -> list[dict[str, Any]]:
    return bank_of(
        {
            "conduit": {"outside_diameter": 20.0, "stock_length": 3750.0},
            "former": {"centreline_radius": 73.0},
            "route": {"points": points},
            "joints": "none",
            "parallel": {"count": count, "spacing": spacing, "toward": toward, "corners": corners},
        }
    )


@pytest.mark.parametrize(
    ("points", "toward", "spacing", "steps"),
    [
        # One right angle: tan(45) = 1, so each conduit on the side it closes toward begins one spacing nearer
        # the start.
        ([[0, 0, 0], [0, 0, 900], [800, 0, 900]], "right", 60.0, [-60.0]),
        # On the other side it begins that much farther on.
        ([[0, 0, 0], [0, 0, 900], [800, 0, 900]], "left", 60.0, [60.0]),
        # Square to the plane nothing changes.
        ([[0, 0, 0], [0, 0, 900], [800, 0, 900]], "in", 60.0, [0.0]),
        # A U: first step 60, the leg between is shorter by 60 at both its ends, so the second steps three
        # times as far.
        ([[0, 0, 0], [0, 0, 900], [800, 0, 900], [800, 0, 0]], "right", 60.0, [-60.0, -180.0]),
        # A Z: what the first corner takes from the leg between the second gives back, so both take the same
        # step.
        ([[0, 0, 0], [0, 0, 900], [800, 0, 900], [800, 0, 1700]], "right", 60.0, [-60.0, -60.0]),
        # Two right angles in two planes: nothing in the second's plane until the section has been carried
        # round. Beside toward right, after up-to-right it lies below; the turn toward in is square to that.
        ([[0, 0, 0], [0, 0, 900], [800, 0, 900], [800, 700, 900]], "right", 60.0, [-60.0, -120.0]),
    ],
    ids=["toward", "away", "square", "U", "Z", "two planes"],
)
def test_marks_of_a_bank_step_by_the_spacing_times_the_tangent_of_half_the_angle(
    points: list[list[float]], toward: str, spacing: float, steps: list[float]
) -> None:
    plans = planned_bank(points, toward, spacing)
    for k, plan in enumerate(plans):
        moved = [b - a for a, b in zip(begins(plans[0]), begins(plan), strict=True)]
        assert moved == pytest.approx([k * step for step in steps], abs=SAME_FIGURE)
        told = [bend["step"] for stick in plan["sticks"] for bend in stick["bends"]]
        assert told == ([None] * len(steps) if k == 0 else pytest.approx(steps, abs=SAME_FIGURE))


def test_an_offset_bank_of_thirty_degrees_steps_both_marks_by_the_same_16_077() -> None:
    # 60 * tan(15 degrees) = 60 * (2 - sqrt 3) = 16.07695 for each conduit on the side that the first bend
    # closes toward.
    rise, run_out = 100.0, 173.20508075688772
    points = [[0, 0, 0], [0, 0, 600], [rise, 0, 600 + run_out], [rise, 0, 1400]]
    plans = planned_bank(points, "right", 60.0)
    for k, plan in enumerate(plans):
        moved = [b - a for a, b in zip(begins(plans[0]), begins(plan), strict=True)]
        assert moved == pytest.approx([-16.076951545867 * k, -16.076951545867 * k], abs=SAME_FIGURE)
        assert plan["developed_length"] == pytest.approx(plans[0]["developed_length"], abs=SAME_FIGURE)


def test_the_first_plan_of_a_bank_is_the_plan_without_the_bank() -> None:
    points = [[0, 0, 0], [0, 0, 900], [800, 0, 900], [800, 700, 900]]
    alone = {
        "conduit": {"outside_diameter": 20.0, "stock_length": 3750.0},
        "former": {"centreline_radius": 73.0},
        "route": {"points": points},
        "joints": "none",
    }
    single = json.loads(json.dumps(bendcore.plan(alone).to_dict()))
    first = planned_bank([list(p) for p in points], "right", 60.0)[0]
    for stick in first["sticks"]:
        for bend in stick["bends"]:
            assert bend.pop("step") is None  # the step of a mark is from the conduit before
    assert first["sticks"] == single["sticks"]
    assert first["developed_length"] == single["developed_length"]


def test_one_overlap_refuses_the_whole_bank_and_says_which_conduit() -> None:
    # The leg between is 300: the first conduit has 300 - 73 - 73 = 154 between its bends. Each further
    # conduit on the side that both close toward has 120 less: the third would have 154 - 240 < 0.
    points = [[0, 0, 0], [0, 0, 900], [300, 0, 900], [300, 0, 0]]
    with pytest.raises(bendcore.SpecProblem) as refused:
        planned_bank([list(p) for p in points], "right", 60.0)
    overlaps = [p.to_dict() for p in refused.value.problems]
    assert [p["leg"] for p in overlaps] == [2]
    assert overlaps[0]["grow_mm"] == pytest.approx(86.0, abs=SAME_FIGURE)
    assert len(planned_bank([list(p) for p in points], "right", 60.0, count=2)) == 2


def test_concentric_bends_share_their_centre_and_stop_where_the_former_has_not_their_radius() -> None:
    # Up 900, then right: the first conduit's bend begins at 827 and its centre stands 73 to the right. Each
    # conduit 60 to the left turns about the same centre, so it begins at 827 too, with 60 more of radius, and
    # goes on 727 straight.
    plans = planned_bank([[0, 0, 0], [0, 0, 900], [800, 0, 900]], "left", 60.0, corners="concentric")
    for plan, radius in zip(plans, (73.0, 133.0, 193.0), strict=True):
        (stick,) = plan["sticks"]
        (bend,) = stick["bends"]
        assert bend["radius"] == pytest.approx(radius, abs=SAME_FIGURE)
        assert bend["begin"] == pytest.approx(827.0, abs=SAME_FIGURE)
        assert stick["cut_length"] == pytest.approx(827.0 + radius * math.pi / 2 + 727.0, abs=SAME_FIGURE)
        assert [f["level"] for f in plan["findings"]] == ([] if radius == 73.0 else ["stop"])


def test_a_concentric_bend_without_a_throat_refuses_the_bank() -> None:
    # 60 toward the centre leaves 13 of radius, above half the diameter of 20; 120 leaves none.
    points: list[list[float]] = [[0, 0, 0], [0, 0, 900], [800, 0, 900]]
    assert len(planned_bank(points, "right", 60.0, count=2, corners="concentric")) == 2
    with pytest.raises(bendcore.SpecProblem):
        planned_bank(points, "right", 60.0, count=3, corners="concentric")


@given(bank=banks())
@examples(40)
def test_concentric_conduits_are_made_beside_the_first_as_well(
    bank: tuple[routes.Run, int, float, str],
) -> None:
    run, count, spacing, side = bank
    parallel = run.spec["parallel"] | {"corners": "concentric"}
    former = {"centreline_radius": run.radius}
    spec = run.spec | {"parallel": parallel, "former": former}
    shifted = [beside(list(run.points), DIRECTIONS[side], k * spacing) for k in range(count)]
    try:
        plans = bank_of(spec)
    except bendcore.SpecProblem:
        # Only a radius used up on the inner side refuses such a bank; legs are long enough for any
        # equal radius.
        assert any(run.radius - k * spacing <= run.outside_diameter / 2 for k in range(count))
        return
    for plan, wanted in zip(plans, shifted, strict=True):
        made = machine.make_run(plan, machine.set_line(None, run.radius, run.outside_diameter))
        assert machine.farthest_miss(made, wanted) < REPRODUCED_WITHIN
