"""Laws that any plan keeps: lengths add up, and neither the room nor the end one starts from changes a
figure."""

import itertools
import json
import math
import random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from independent import routes, splits, walker
from independent.routes import Run, examples, runs
from independent.space import Vector, add, distance, turned

import bendcore

# mm and degrees. Doubles of a run of some tens of metres, through a turned room; a roll or an angle is worse
# by what a short leg (1 mm at the least here) amplifies, but still far below anything measurable.
SAME_FIGURE = 1e-5

Numbers = dict[str, float]


def planned(spec: dict[str, Any]) -> dict[str, Any]:
    plan: dict[str, Any] = json.loads(json.dumps(bendcore.plan(spec).to_dict(), allow_nan=False))
    return plan


def figures(plan: dict[str, Any]) -> tuple[list[Any], list[float], list[float]]:
    """A plan's sticks as (all that is no turning figure, in order), its rolls, its clocks; findings by rule
    and level."""
    plain: list[Any] = [plan["developed_length"], plan["total_bend"]]
    rolls: list[float] = []
    clocks: list[float] = []
    for stick in plan["sticks"]:
        plain += [stick["number"], stick["cut_length"]]
        clocks += [] if stick["clock"] is None else [stick["clock"]]
        plain += [stick["start"].get(k) for k in ("kind", "allowance")]
        plain += [stick["finish"].get(k) for k in ("kind", "allowance", "gap")]
        for bend in stick["bends"]:
            rolls.append(bend["roll"])
            plain += [bend[k] for k in ("number", "corner", "begin", "angle", "radius", "order", "held")]
            plain += [bend["marks"][k] for k in ("begin", "centre", "back", "inside")]
            plain += [bend["set"].get(k) for k in ("line", "mark", "sweep", "held_start", "held_finish")]
            remeasure = bend["set"].get("remeasure")
            plain.append("near a right angle" if remeasure is None else remeasure)
    return plain, rolls, clocks


def same(left: list[Any], right: list[Any]) -> None:
    assert len(left) == len(right)
    for a, b in zip(left, right, strict=True):
        if isinstance(a, float) and isinstance(b, float):
            # A back mark near a closed bend grows without bound, and rounding with it.
            assert a == pytest.approx(b, abs=SAME_FIGURE, rel=1e-9)
        else:
            assert a == b


def same_turns(left: list[float], right: list[float]) -> None:
    """Angles about the stick, a whole turn being none."""
    assert len(left) == len(right)
    for a, b in zip(left, right, strict=True):
        assert math.remainder(a - b, 360.0) == pytest.approx(0.0, abs=SAME_FIGURE)


def rules_told(plan: dict[str, Any]) -> list[tuple[str, str, str]]:
    return [(f["rule"], f["level"], f["where"]) for f in plan["findings"]]


def with_points(run: Run, points: list[Vector]) -> dict[str, Any]:
    return run.spec | {"route": {"points": [list(p) for p in points]}}


@given(run=runs())
@examples(150)
def test_developed_length_is_the_legs_less_the_gains_and_the_allowances(run: Run) -> None:
    plan = planned(run.spec)
    wanted = walker.path_length(run.points) + sum(run.allowances)
    for angle in run.angles:
        # What a corner saves: from tangent point to tangent point over the corner, less along the arc.
        wanted -= 2 * run.radius * math.tan(math.radians(angle) / 2) - run.radius * math.radians(angle)
    assert plan["developed_length"] == pytest.approx(wanted, abs=SAME_FIGURE)
    assert plan["total_bend"] == pytest.approx(sum(run.angles), abs=SAME_FIGURE)


@given(run=runs(as_steps=False, joints=None, stock_length=7000.0), rng=st.randoms())
@examples(80)
def test_turning_and_moving_the_room_changes_no_figure(run: Run, rng: random.Random) -> None:
    axis, angle = routes.any_direction(rng), rng.uniform(-180.0, 180.0)
    shift: Vector = (rng.uniform(-5e3, 5e3), rng.uniform(-5e3, 5e3), rng.uniform(-5e3, 5e3))
    elsewhere = with_points(run, [add(turned(p, axis, angle), shift) for p in run.points])
    if splits.least_by_default(run, stock=7000.0) is None:
        for spec in (run.spec, elsewhere):
            with pytest.raises(bendcore.SpecProblem):
                bendcore.plan(spec)
        return
    here, there = planned(with_points(run, list(run.points))), planned(elsewhere)
    for compare, left, right in zip(
        (same, same_turns, same_turns), figures(here), figures(there), strict=True
    ):
        compare(left, right)
    assert rules_told(here) == rules_told(there)


@given(run=runs(as_steps=False, joints=None, stock_length=7000.0), axis=st.integers(0, 2))
@examples(60)
def test_in_the_mirror_only_the_turning_figures_change_their_sign(run: Run, axis: int) -> None:
    if splits.least_by_default(run, stock=7000.0) is None:
        return
    mirrored: list[Vector] = []
    for x, y, z in run.points:
        mirrored.append([(-x, y, z), (x, -y, z), (x, y, -z)][axis])
    here, there = planned(with_points(run, list(run.points))), planned(with_points(run, mirrored))
    (plain, rolls, clocks), (plain_there, rolls_there, clocks_there) = figures(here), figures(there)
    same(plain, plain_there)
    same_turns([-v for v in rolls], rolls_there)
    same_turns([-v for v in clocks], clocks_there)
    assert rules_told(here) == rules_told(there)


# The twenty-four ways to set a room down squarely, as words for words, and the twenty-four mirrored ones.
AXES = ("right", "in", "up")
OPPOSITE = {"right": "left", "in": "out", "up": "down"}
PLAIN_WORD = {
    "north": "in",
    "in": "in",
    "south": "out",
    "out": "out",
    "east": "right",
    "right": "right",
    "west": "left",
    "left": "left",
    "up": "up",
    "down": "down",
}


def square_rooms(mirrored: bool) -> list[dict[str, str]]:
    rooms = []
    for order in itertools.permutations(range(3)):
        for signs in itertools.product((1, -1), repeat=3):
            parity = 1 if order in ((0, 1, 2), (1, 2, 0), (2, 0, 1)) else -1
            if (parity * math.prod(signs) < 0) == mirrored:
                words: dict[str, str] = {}
                for axis, (to, sign) in zip(AXES, zip(order, signs, strict=True), strict=True):
                    plus, minus = AXES[to], OPPOSITE[AXES[to]]
                    words[axis], words[OPPOSITE[axis]] = (plus, minus) if sign > 0 else (minus, plus)
                rooms.append({word: words[plain] for word, plain in PLAIN_WORD.items()})
    return rooms


def in_room(route: dict[str, Any], words: dict[str, str]) -> dict[str, Any]:
    """The same steps with every direction word changed."""

    def reworded(value: Any) -> Any:
        if isinstance(value, dict):
            return {
                k: words[v] if k in ("toward", "spread_toward", "heading") else reworded(v)
                for k, v in value.items()
            }
        return [reworded(v) for v in value] if isinstance(value, list) else value

    turned_route: dict[str, Any] = reworded({"heading": "up"} | route)
    turned_route.pop("start", None)
    return turned_route


@given(run=runs(as_steps=True), mirrored=st.booleans(), which=st.integers(0, 23))
@examples(80)
def test_measured_steps_in_a_turned_or_mirrored_room_give_the_same_figures(
    run: Run, mirrored: bool, which: int
) -> None:
    words = square_rooms(mirrored)[which]
    here = planned(run.spec)
    there = planned(run.spec | {"route": in_room(run.spec["route"], words)})
    (plain, rolls, clocks), (plain_there, rolls_there, clocks_there) = figures(here), figures(there)
    same(plain, plain_there)
    sign = -1.0 if mirrored else 1.0
    same_turns([sign * v for v in rolls], rolls_there)
    same_turns([sign * v for v in clocks], clocks_there)


@given(run=runs(as_steps=False))
@examples(80)
def test_planning_from_the_other_end_keeps_the_length_and_every_angle(run: Run) -> None:
    ends = run.spec.get("ends", {})
    other_ends = {{"start": "finish", "finish": "start"}[k]: v for k, v in ends.items()}
    here = planned(with_points(run, list(run.points)))
    there = planned(with_points(run, list(reversed(run.points))) | ({"ends": other_ends} if ends else {}))
    assert there["developed_length"] == pytest.approx(here["developed_length"], abs=SAME_FIGURE)
    assert there["total_bend"] == pytest.approx(here["total_bend"], abs=SAME_FIGURE)
    (stick,), (other,) = here["sticks"], there["sticks"]
    assert len(stick["bends"]) == len(other["bends"]) == len(run.points) - 2
    for bend, opposite in zip(stick["bends"], reversed(other["bends"]), strict=True):
        assert opposite["angle"] == pytest.approx(bend["angle"], abs=SAME_FIGURE)
        finish = bend["begin"] + math.radians(bend["angle"]) * bend["radius"]
        assert opposite["begin"] == pytest.approx(stick["cut_length"] - finish, abs=SAME_FIGURE)
        # From the other end the stick turns about the opposite axis, and counts from its own first bend.
        wanted = stick["bends"][-1]["roll"] - bend["roll"]
        assert math.remainder(opposite["roll"] - wanted, 360.0) == pytest.approx(0.0, abs=SAME_FIGURE)


@given(run=runs(), joined=runs(joints=None, stock_length=7000.0))
@examples(60)
def test_rolls_and_clocks_lie_above_minus_180_and_up_to_180(run: Run, joined: Run) -> None:
    specs = [run.spec]
    if splits.least_by_default(joined, stock=7000.0) is not None:
        specs.append(joined.spec)
    for spec in specs:
        _, rolls, clocks = figures(planned(spec))
        assert all(-180.0 < v <= 180.0 for v in rolls + clocks)


@pytest.mark.parametrize(
    ("points", "rolls"),
    [
        # Up, right, down: both close the same way.
        ([[0, 0, 0], [0, 0, 500], [500, 0, 500], [500, 0, 0]], [0.0, 0.0]),
        # Up, right, up: the opposite way.
        ([[0, 0, 0], [0, 0, 500], [500, 0, 500], [500, 0, 1000]], [0.0, 180.0]),
        # Up, right, then in. On the straight stick, still standing up, the first bend closes toward the
        # right. Bending it turns up into right and right into down, about the axis pointing in, which stays.
        # So the second, toward in on the bent stick, is toward in on the straight one: from right to in about
        # up is a quarter turn, counterclockwise from above.
        ([[0, 0, 0], [0, 0, 500], [500, 0, 500], [500, 500, 500]], [0.0, 90.0]),
        ([[0, 0, 0], [0, 0, 500], [500, 0, 500], [500, -500, 500]], [0.0, -90.0]),
        # Level, in first, then left, then up: toward up is a quarter turn from left about in: left (-x), in
        # cross left = y cross -x = z, so +90.
        ([[0, 0, 0], [0, 500, 0], [-500, 500, 0], [-500, 500, 500]], [0.0, 90.0]),
    ],
)
def test_roll_counts_by_the_right_hand_rule_from_start_to_finish(
    points: list[list[float]], rolls: list[float]
) -> None:
    plan = planned(
        {
            "conduit": {"outside_diameter": 20.0, "stock_length": 3750.0},
            "former": {"centreline_radius": 73.0},
            "route": {"points": points},
        }
    )
    found = [b["roll"] for b in plan["sticks"][0]["bends"]]
    assert found == pytest.approx(rolls, abs=SAME_FIGURE)


@given(run=runs(joints=None, stock_length=7000.0))
@examples(40)
def test_the_straight_pieces_of_a_plan_are_the_legs_less_their_tangents(run: Run) -> None:
    if splits.least_by_default(run, stock=7000.0) is None:
        return
    plan = planned(run.spec)
    told = []
    at = 0.0
    for stick in plan["sticks"]:
        told += [(at + bend["begin"], bend["corner"]) for bend in stick["bends"]]
        at += stick["cut_length"] + stick["finish"].get("gap", 0.0)
    line = splits.developed(run)
    assert [corner for _, corner in told] == list(range(1, len(line.bends) + 1))
    for (begin, _), (wanted, _) in zip(told, line.bends, strict=True):
        assert begin == pytest.approx(wanted, abs=SAME_FIGURE)
    assert distance((at, 0, 0), (line.length, 0, 0)) < SAME_FIGURE
