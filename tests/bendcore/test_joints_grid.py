"""Where a run is parted: within stock, clear of bends, with the fewest sticks and cuts; judged by trying
every millimetre."""

import json
import math
import random
from dataclasses import dataclass
from typing import Any

import pytest
from hypothesis import assume, example, given
from hypothesis import strategies as st
from independent import routes, splits
from independent.routes import Run, examples, runs
from independent.space import Vector, along, cross, square_part, turned, unit

import bendcore

# mm. What the contract itself allows when it asks whether a run fits in stock.
FITS_WITHIN = 1e-6
# Small conduit whose right angle takes exactly 12 mm of stick, so that every figure on the developed run is
# whole.
QUARTER_ARC = 12
RADIUS = QUARTER_ARC / (math.pi / 2)
DIAMETER = 4.0


@dataclass(frozen=True)
class WholeRun:
    """A run by whole millimetres of developed length: straights, and right (90) or half-right (45) angles
    between."""

    straights: tuple[int, ...]
    angles: tuple[int, ...]
    stock: int
    clearance: int
    min_piece: int
    gap: int
    allowance: int = 0

    @property
    def bends(self) -> list[tuple[int, int]]:
        at, found = self.allowance, []
        for straight, angle in zip(self.straights, self.angles, strict=False):
            begin = at + straight
            at = begin + QUARTER_ARC * angle // 90
            found.append((begin, at))
        return found

    @property
    def length(self) -> int:
        return self.allowance + sum(self.straights) + sum(QUARTER_ARC * a // 90 for a in self.angles)

    @property
    def spec(self) -> dict[str, Any]:
        at: Vector = (0.0, 0.0, 0.0)
        heading: Vector = (0.0, 0.0, 1.0)
        points = [at]
        before = 0.0
        for i, angle in enumerate(self.angles):
            t = routes.tangent(RADIUS, angle)
            at = along(at, heading, before + self.straights[i] + t)
            points.append(at)
            way = unit(square_part(((1.0, 0.2, 0.1), (0.1, 1.0, -0.3), (0.3, 0.1, 1.0))[i % 3], heading))
            heading = unit(turned(heading, cross(heading, way), angle))
            before = t
        points.append(along(at, heading, before + self.straights[-1]))
        return {
            "conduit": {"outside_diameter": DIAMETER, "stock_length": float(self.stock)},
            "former": {"centreline_radius": RADIUS},
            "route": {"points": [list(p) for p in points]},
            "ends": {"start": {"kind": "spout", "allowance": float(self.allowance)}},
            "joints": {
                "clearance": float(self.clearance),
                "min_piece": float(self.min_piece),
                "gap": float(self.gap),
            },
        }


@st.composite
def whole_runs(draw: st.DrawFn) -> WholeRun:
    angles = draw(st.lists(st.sampled_from((45, 90)), max_size=4))
    straights = draw(st.lists(st.integers(1, 220), min_size=len(angles) + 1, max_size=len(angles) + 1))
    stock = draw(st.integers(100, 160))
    return WholeRun(
        tuple(straights),
        tuple(angles),
        stock,
        clearance=draw(st.integers(0, 40)),
        min_piece=draw(st.integers(1, 60) | st.integers(1, stock)),
        gap=draw(st.integers(0, 4)),
        allowance=draw(st.sampled_from((0, 0, 3))),
    )


def sticks_of(spec: dict[str, Any]) -> list[dict[str, Any]]:
    plan = json.loads(json.dumps(bendcore.plan(spec).to_dict(), allow_nan=False))
    sticks: list[dict[str, Any]] = plan["sticks"]
    return sticks


def joint_positions(sticks: list[dict[str, Any]]) -> list[float]:
    """Where each stick but the last ends, along the developed run."""
    at, ends = 0.0, []
    for stick in sticks[:-1]:
        ends.append(at + stick["cut_length"])
        at = ends[-1] + stick["finish"]["gap"]
    return ends


@given(run=whole_runs())
@example(run=WholeRun((100, 100), (90,), stock=100, clearance=10, min_piece=10, gap=0))
@example(run=WholeRun((300,), (), stock=100, clearance=10, min_piece=10, gap=0))
@example(run=WholeRun((250,), (), stock=100, clearance=10, min_piece=10, gap=0))
@example(run=WholeRun((205,), (), stock=100, clearance=0, min_piece=10, gap=0))
# Found on 2026-11-24: chains of shortest sticks, which stop a joint from standing farther on.
@example(run=WholeRun((570,), (), stock=100, clearance=18, min_piece=95, gap=0))
@example(run=WholeRun((1, 132, 13, 115, 18), (45,) * 4, stock=100, clearance=37, min_piece=41, gap=0))
@example(run=WholeRun((1, 132, 14, 124, 9), (45,) * 4, stock=100, clearance=36, min_piece=51, gap=0))
@example(run=WholeRun((27, 150, 130, 147, 67), (90,) * 4, stock=119, clearance=36, min_piece=58, gap=1))
@example(
    run=WholeRun((3, 51, 208, 130, 144), (90, 90, 45, 45), stock=141, clearance=11, min_piece=110, gap=0)
)
# Found on 2026-11-24: no straight has room for a joint at all.
@example(run=WholeRun((60, 60), (90,), stock=100, clearance=60, min_piece=10, gap=0))
@examples(150)
def test_joints_are_those_that_trying_every_millimetre_finds_best(run: WholeRun) -> None:
    best = splits.best_on_a_grid(
        run.length, run.bends, stock=run.stock, clearance=run.clearance, min_piece=run.min_piece, gap=run.gap
    )
    if best is None:
        with pytest.raises(bendcore.SpecProblem):
            bendcore.plan(run.spec)
        return
    sticks = sticks_of(run.spec)
    count, cuts, joints = best
    assert len(sticks) == count
    assert sum(abs(s["cut_length"] - run.stock) > FITS_WITHIN for s in sticks) == cuts
    assert joint_positions(sticks) == pytest.approx(list(joints), abs=FITS_WITHIN)


@pytest.mark.parametrize(
    ("run", "ends"),
    [
        # 300 of straight conduit from lengths of 100: three whole lengths, nothing cut.
        (WholeRun((300,), (), stock=100, clearance=10, min_piece=10, gap=0), [100, 200]),
        # 250: two whole lengths and a cut of 50; joints as far on as can be.
        (WholeRun((250,), (), stock=100, clearance=10, min_piece=10, gap=0), [100, 200]),
        # 205 leaves 5 for a third length of at least 10, so only one of the others stays whole: the first.
        (WholeRun((205,), (), stock=100, clearance=0, min_piece=10, gap=0), [100, 195]),
        # A right angle lies from 95 to 107. 100 is on it; 85 is the last place that is 10 clear. 85 + 100 =
        # 185 is clear of it as well, and 212 in all wants a third: the first ends at 85, the second is whole.
        (WholeRun((95, 105), (90,), stock=100, clearance=10, min_piece=10, gap=0), [85, 185]),
        # Gaps: 100, then 2 of gap, 100, 2, and the last 46 of 250.
        (WholeRun((250,), (), stock=100, clearance=10, min_piece=10, gap=2), [100, 202]),
    ],
)
def test_joints_by_hand(run: WholeRun, ends: list[int]) -> None:
    assert joint_positions(sticks_of(run.spec)) == pytest.approx(ends, abs=FITS_WITHIN)


@st.composite
def jointed_runs(draw: st.DrawFn) -> Run:
    joints = {
        "clearance": draw(st.sampled_from((0.0, 60.0, 120.0, 187.5))),
        "min_piece": draw(st.sampled_from((1.0, 150.0, 400.0))),
        "gap": draw(st.sampled_from((0.0, 0.0, 4.0, 32.5))),
    }
    stock = draw(st.sampled_from((3048.0, 3750.0, 6000.0, 9000.0)))
    return draw(runs(most_corners=7, joints=joints, stock_length=stock))


@given(run=jointed_runs())
@examples(200)
def test_every_split_keeps_stock_clearance_and_least_piece_and_takes_the_fewest_sticks(run: Run) -> None:
    stock, joints = run.spec["conduit"]["stock_length"], run.spec["joints"]
    line = splits.developed(run)
    least = splits.fewest_sticks(line, stock=stock, **joints)
    if least is None:
        with pytest.raises(bendcore.SpecProblem):
            bendcore.plan(run.spec)
        return
    plan = json.loads(json.dumps(bendcore.plan(run.spec).to_dict(), allow_nan=False))
    sticks = plan["sticks"]
    assert len(sticks) == least
    total = sum(s["cut_length"] for s in sticks) + sum(s["finish"]["gap"] for s in sticks[:-1])
    assert plan["developed_length"] == pytest.approx(total, abs=FITS_WITHIN)
    assert [s["number"] for s in sticks] == list(range(1, least + 1))
    corners = [b["corner"] for s in sticks for b in s["bends"]]
    assert corners == list(range(1, len(line.bends) + 1))
    for index, stick in enumerate(sticks):
        assert stick["cut_length"] <= stock + FITS_WITHIN
        if least > 1:
            assert stick["cut_length"] >= joints["min_piece"] - FITS_WITHIN
        straight_from = 0.0
        for number, bend in enumerate(stick["bends"], 1):
            assert bend["number"] == number
            clear = joints["clearance"] if index > 0 and number == 1 else 0.0
            assert bend["begin"] - straight_from >= clear - FITS_WITHIN
            straight_from = bend["begin"] + math.radians(bend["angle"]) * bend["radius"]
        clear = joints["clearance"] if index < least - 1 and stick["bends"] else 0.0
        assert stick["cut_length"] - straight_from >= clear - FITS_WITHIN
        if index < least - 1:
            assert stick["finish"]["gap"] == joints["gap"]
        if index > 0:
            assert stick["start"]["kind"] == "joint"


@given(
    seed=st.integers(0, 2**32),
    corners=st.integers(50, 500),
    clearance=st.sampled_from((0.0, 10.0, 120.0)),
    min_share=st.sampled_from((0.0, 0.05, 0.3, 0.51, 0.9)),
    gap=st.sampled_from((0.0, 3.0, 40.0)),
)
@examples(25)
def test_the_fewest_sticks_are_found_on_runs_of_hundreds_of_corners(
    seed: int, corners: int, clearance: float, min_share: float, gap: float
) -> None:
    rng = random.Random(seed)
    stock = rng.choice((3048.0, 3750.0, 6000.0, 9000.0))
    joints = {"clearance": clearance, "min_piece": min_share * stock, "gap": gap}
    run = routes.run_of(
        rng, corners, as_steps=False, longest=rng.choice((300.0, 4000.0)), joints=joints, stock_length=stock
    )
    least = splits.fewest_sticks(splits.developed(run), stock=stock, **joints)
    if least is None:
        with pytest.raises(bendcore.SpecProblem):
            bendcore.plan(run.spec)
    else:
        assert len(sticks_of(run.spec)) == least


@given(run=runs(joints="none", stock_length=500.0))
@examples(40)
def test_without_joints_there_is_one_stick_however_long(run: Run) -> None:
    assert len(sticks_of(run.spec)) == 1


@given(corners=st.integers(0, 3), seed=st.integers(0, 2**32))
@examples(40)
def test_a_run_as_long_as_stock_is_one_stick_and_one_longer_by_a_hair_is_not(corners: int, seed: int) -> None:
    rng = random.Random(seed)
    run = routes.run_of(rng, corners, as_steps=False, joints=None)
    length = splits.developed(run).length
    assume(length > 400.0)
    fits = run.spec | {"conduit": run.spec["conduit"] | {"stock_length": length}}
    (stick,) = sticks_of(fits)
    assert stick["cut_length"] == pytest.approx(length, abs=FITS_WITHIN)
    short = run.spec | {"conduit": run.spec["conduit"] | {"stock_length": length - 1e-3}}
    try:
        sticks = sticks_of(short)
    except bendcore.SpecProblem:
        return  # no straight long enough to part it
    assert len(sticks) == 2
