"""Whole runs: fittings, joints at least cost, any order of fitting, a bender; the sticks walk the route.

A run is drawn from chance as legs, bends and fittings; where its corners come is reckoned here, from the
directions themselves. The plan is then bent and screwed together in the software bender, which knows nothing
of the engine."""

import json
import math
import random
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from independent import machine
from independent.routes import examples
from independent.space import Vector, along, cross, length, square_part, turned, unit
from worked import places, refused, steps

import bendcore
from bendcore.errors import NoJoint, SpecProblem

REPRODUCED_WITHIN = 0.01
"""mm: what the engine promises of any run."""

WORDS: dict[str, Vector] = {
    "up": (0.0, 0.0, 1.0),
    "down": (0.0, 0.0, -1.0),
    "in": (0.0, 1.0, 0.0),
    "out": (0.0, -1.0, 0.0),
    "right": (1.0, 0.0, 0.0),
    "left": (-1.0, 0.0, 0.0),
}
RADIUS, DIAMETER = 73.0, 20.0


class Room:
    """A run under construction: its steps, its corners, and the two legs of each of its fittings."""

    def __init__(self, rng: random.Random) -> None:
        self.rng = rng
        self.heading: Vector = WORDS["up"]
        self.at: Vector = (0.0, 0.0, 0.0)
        self.points: list[Vector] = [self.at]
        self.steps: list[dict[str, Any]] = []
        self.fittings: list[tuple[float, float]] = []
        self.taken = 0.0  # of the leg in hand, by what stands at its start

    def way(self) -> tuple[str, Vector]:
        open_ways = [word for word, way in WORDS.items() if length(square_part(way, self.heading)) > 0.3]
        word = self.rng.choice(open_ways)
        return word, unit(square_part(WORDS[word], self.heading))

    def leg(self, takes: float) -> None:
        size = self.taken + self.rng.uniform(120.0, 1900.0) + takes
        self.steps.append({"leg": size})
        self.at = along(self.at, self.heading, size)

    def turn(self, angle: float, way: Vector) -> None:
        self.points.append(self.at)
        self.heading = unit(turned(self.heading, cross(self.heading, way), angle))

    def bend(self) -> None:
        angle = self.rng.choice((22.5, 30.0, 45.0, 60.0, 90.0, 90.0, self.rng.uniform(3.0, 130.0)))
        tangent = RADIUS * math.tan(math.radians(angle) / 2)
        self.leg(tangent)
        word, way = self.way()
        self.steps.append({"bend": angle, "toward": word})
        self.turn(angle, way)
        self.taken = tangent

    def fitting(self) -> None:
        kind = self.rng.choice(("draw_in_box", "inspection_bend", "tee", "bought_bend"))
        told: dict[str, Any] = {"kind": kind}
        least = 0.0
        if kind == "bought_bend" or self.rng.random() < 0.5:
            told["angle"] = self.rng.choice((45.0, 90.0))
            if kind == "bought_bend":
                told["radius"] = 110.0
                least = 110.0 * math.tan(math.radians(told["angle"]) / 2)
        legs = least + self.rng.uniform(20.0, 90.0), least + self.rng.uniform(20.0, 90.0)
        told["leg_in"], told["leg_out"] = legs
        self.leg(legs[0])
        if "angle" in told:
            told["toward"], way = self.way()
            self.turn(told["angle"], way)
        self.steps.append({"fitting": told})
        self.fittings.append(legs)
        self.taken = legs[1]

    def done(self) -> list[Vector]:
        self.leg(0.0)
        return [*self.points, self.at]


def a_run(rng: random.Random, *, things: int) -> tuple[dict[str, Any], list[Vector], Room]:
    """A spec, its start, corners and finish, and the room it was built in."""
    room = Room(rng)
    for _ in range(things):
        room.bend() if rng.random() < 0.7 else room.fitting()
    points = room.done()
    costs = {name: rng.choice((0.0, rng.uniform(0.1, 9.0))) for name in ("stick", "metre", "cut", "thread")}
    costs |= {"coupler": rng.uniform(0.0, 3.0), "running_coupler": rng.uniform(0.0, 9.0), "union": 7.0}
    conduit: dict[str, Any] = {"outside_diameter": DIAMETER, "stock_length": rng.choice((3000.0, 3750.0))}
    if rng.random() < 0.5:
        conduit["stock"] = [{"length": rng.uniform(600.0, 2900.0), "threaded_ends": 1, "count": 2}]
    if rng.random() < 0.2:
        conduit["joining"] = "plain"
    spec: dict[str, Any] = {
        "conduit": conduit,
        "former": {"centreline_radius": RADIUS},
        "route": {"heading": "up", "steps": room.steps},
        "ends": {"start": {"kind": "spout", "allowance": 13.0}, "finish": {"kind": "open"}},
        "joints": {"clearance": 50.0, "min_piece": 60.0, "gap": rng.choice((0.0, 3.0)), "costs": costs},
        "fit_from": rng.choice(("start", "finish", "both")),
    }
    if rng.random() < 0.5:
        spec["joints"] |= {"long_thread": 20.0, "union_gap": 31.0}
    if rng.random() < 0.3:
        spec["joints"].pop("costs")
    if rng.random() < 0.5:
        spec["rules"] = rng.choice(("uk", "us"))
    if rng.random() < 0.5:
        spec["bender"] = {
            "hold_min": 20.0,
            "swing_min": 20.0,
            "floor": {"normal": [0, 1, 0], "offset": -900.0},
        }
    return spec, points, room


def plan_of(spec: dict[str, Any]) -> dict[str, Any] | None:
    """The plan as a reader of its JSON has it; None where no joint position can split the run."""
    try:
        planned = bendcore.plan(spec)
    except SpecProblem as told:
        if all(isinstance(problem, NoJoint) for problem in told.problems):
            return None
        raise
    plan: dict[str, Any] = json.loads(json.dumps(planned.to_dict(), allow_nan=False))
    return plan


@given(seed=st.integers(0, 2**32), things=st.integers(1, 9))
@examples(200)
def test_sticks_and_fittings_screwed_together_walk_the_route(seed: int, things: int) -> None:
    spec, points, room = a_run(random.Random(seed), things=things)
    plan = plan_of(spec)
    if plan is None:
        return
    line = machine.SetLine("begin", lambda arc: 0.0)
    method = machine.as_planned
    if any(bend["order"] is None for stick in plan["sticks"] for bend in stick["bends"]):
        method = machine.held_by_the_start
        for stick in plan["sticks"]:
            for bend in stick["bends"]:
                bend["held"] = "start"
    made = machine.make_run(plan, line, method, room.fittings)
    assert machine.farthest_miss(made, points) < REPRODUCED_WITHIN


@given(seed=st.integers(0, 2**32), things=st.integers(1, 9))
@examples(200)
def test_every_stick_can_be_cut_and_all_of_them_make_the_run(seed: int, things: int) -> None:
    spec, _, room = a_run(random.Random(seed), things=things)
    plan = plan_of(spec)
    if plan is None:
        return
    sticks = plan["sticks"]
    gaps = [stick["finish"].get("gap", 0.0) for stick in sticks]
    assert sum(stick["cut_length"] for stick in sticks) + sum(gaps) == pytest.approx(plan["developed_length"])
    assert sum("angle" in stick["finish"] for stick in sticks) == len(room.fittings)
    clearance = spec["joints"]["clearance"]
    for stick in sticks:
        assert stick["cut_length"] <= stick["blank"]["length"] + 1e-5
        joined_before = stick["number"] > 1 and "angle" not in sticks[stick["number"] - 2]["finish"]
        if stick["bends"]:
            if joined_before:
                assert stick["bends"][0]["begin"] >= clearance - 1e-5
            if "gap" in stick["finish"] and "angle" not in stick["finish"]:
                assert stick["cut_length"] - stick["bends"][-1]["finish"] >= clearance - 1e-5
    offcuts = [stick["blank"] for stick in sticks if stick["blank"]["offcut"]]
    assert len(offcuts) <= sum(each["count"] for each in spec["conduit"].get("stock", ()))


@given(seed=st.integers(0, 2**32), things=st.integers(1, 9))
@examples(200)
def test_threads_and_the_order_of_fitting_are_told_for_every_stick(seed: int, things: int) -> None:
    spec, _, _ = a_run(random.Random(seed), things=things)
    plan = plan_of(spec)
    if plan is None:
        return
    sticks = plan["sticks"]
    assert sorted(stick["fit"] for stick in sticks) == list(range(1, len(sticks) + 1))
    threaded = spec["conduit"].get("joining") != "plain"
    closing = "union" if spec.get("rules") == "us" else "running_coupler"
    for stick, following in zip(sticks, [*sticks[1:], None], strict=True):
        threads = [stick["start"].get("thread"), stick["finish"].get("thread")]
        assert sum(each in ("cut", "long") for each in threads) == stick["blank"]["threads"]
        if not threaded:
            assert threads == [None, None]
            assert stick["finish"]["kind"] not in ("union", "running_coupler")
            continue
        if following is None:
            continue
        assert None not in (threads[1], following["start"]["thread"])
        long = [threads[1], following["start"]["thread"]].count("long")
        assert long == (stick["finish"]["kind"] == "running_coupler")
        if "angle" in stick["finish"]:
            continue
        # Those fitted from the start come first: fitted from both ends, the last of all closes the run.
        closes = spec["fit_from"] == "both" and following["fit"] == len(sticks)
        from_start = stick["fit"] < following["fit"]
        wants = closes or bool((following if from_start else stick)["bends"])
        assert stick["finish"]["kind"] == (closing if wants else "coupler")


# ------------------------------------------------------------------------------------------------ by hand

BOX = {"kind": "draw_in_box", "leg_in": 46.0, "leg_out": 46.0}


def test_two_fittings_without_conduit_between_them_are_refused() -> None:
    told = refused(steps({"leg": 500}, {"fitting": BOX}, {"leg": 92}, {"fitting": BOX}, {"leg": 500}))
    assert places(told) == [("out-of-range", "route.steps[3].fitting")]


def test_a_leg_shorter_than_its_fitting_overlaps() -> None:
    (told,) = refused(
        steps({"leg": 500}, {"fitting": BOX}, {"leg": 100}, {"bend": 90, "toward": "in"}, {"leg": 500})
    )
    assert (told["code"], told["leg"]) == ("overlap", 2)
    assert told["grow_mm"] == pytest.approx(46.0 + 73.0 - 100.0)
    assert "the fitting takes 46 mm" in told["text"]


def test_only_the_corner_of_a_fitting_is_measured_to() -> None:
    told = refused(steps({"leg": 500, "to": "back"}, {"fitting": BOX}, {"leg": 500, "from": "wall"}))
    assert places(told) == [("cannot-walk", "route.steps[0].to"), ("cannot-walk", "route.steps[2].from")]


def test_joints_none_still_parts_at_a_fitting() -> None:
    plan = bendcore.plan(steps({"leg": 5000}, {"fitting": BOX}, {"leg": 6000}, joints="none"))
    assert isinstance(plan, bendcore.Plan)
    assert [stick.cut_length for stick in plan.sticks] == [4954.0, 5954.0]
    assert [stick.blank for stick in plan.sticks] == [None, None]


def test_an_untold_leg_of_a_fitting_counts_as_little_as_can_be_and_is_warned_of() -> None:
    bend = {"kind": "bought_bend", "angle": 90, "toward": "in", "radius": 100, "leg_out": 150}
    plan = bendcore.plan(steps({"leg": 900}, {"fitting": bend}, {"leg": 900}))
    assert isinstance(plan, bendcore.Plan)
    assert [stick.cut_length for stick in plan.sticks] == pytest.approx([800.0, 750.0])
    assert [finding.rule for finding in plan.findings] == ["fitting-legs-untold"]


def test_a_bank_goes_through_its_boxes_side_by_side() -> None:
    turn = {**BOX, "angle": 90, "toward": "right"}
    bank = {"count": 2, "spacing": 40, "toward": "right"}
    plans = bendcore.plan(
        steps(
            {"leg": 900},
            {"fitting": turn},
            {"leg": 900},
            {"bend": 90, "toward": "in"},
            {"leg": 900},
            parallel=bank,
        )
    )
    assert isinstance(plans, bendcore.Bank)
    first, second = plans.plans
    # the inner conduit's box stands a spacing nearer on both legs; square to the plane nothing changes
    assert [stick.cut_length for stick in second.sticks] == pytest.approx(
        [first.sticks[0].cut_length - 40.0, first.sticks[1].cut_length - 40.0]
    )


def test_fitted_from_both_ends_through_a_box_the_run_closes_once() -> None:
    plan = bendcore.plan(
        steps({"leg": 5000}, {"fitting": BOX}, {"leg": 6000}, fit_from="both", joints={"long_thread": 40})
    )
    assert isinstance(plan, bendcore.Plan)
    kinds = [stick.finish.kind for stick in plan.sticks]
    assert kinds.count("running_coupler") == 1
    assert kinds.count("draw_in_box") == 1
    assert [stick.fit for stick in plan.sticks] in ([1, 4, 3, 2], [1, 2, 3, 4], [1, 2, 4, 3])


def test_single_sticks_between_fittings_leave_no_joint_to_close_at() -> None:
    plan = bendcore.plan(steps({"leg": 900}, {"fitting": BOX}, {"leg": 900}, fit_from="both"))
    assert isinstance(plan, bendcore.Plan)
    assert [finding.rule for finding in plan.findings] == ["no-joint-to-close"]


# ----------------------------------------------------------------------------------- sharing offcuts out

THROUGH = ({"leg": 1200}, {"fitting": {**BOX, "leg_in": 40.0, "leg_out": 40.0}}, {"leg": 2500})


def blanks(plan: object) -> list[tuple[float, bool]]:
    assert isinstance(plan, bendcore.Plan)
    return [(stick.blank.length, stick.blank.offcut) for stick in plan.sticks if stick.blank]


def test_offcuts_go_to_the_stretch_where_they_save_most() -> None:
    # 1160 or 2460 of the one offcut of 2600, the other bought at 5 a metre: 5.80, not 12.30
    conduit = {"outside_diameter": 20.0, "stock": [{"length": 3750}, {"length": 2600, "count": 1}]}
    plan = bendcore.plan(steps(*THROUGH, conduit=conduit, joints={"costs": {"metre": 5}}))
    assert blanks(plan) == [(3750.0, False), (2600.0, True)]


def test_offcuts_are_shared_out_so_that_every_stretch_has_enough() -> None:
    stock = [{"length": 2600, "count": 1}, {"length": 1300, "threaded_ends": 0, "count": 1}]
    conduit = {"outside_diameter": 20.0, "stock": stock}
    plan = bendcore.plan(steps(*THROUGH, conduit=conduit, joints={"costs": {"thread": 3}}))
    assert blanks(plan) == [(1300.0, True), (2600.0, True)]


def test_too_few_offcuts_for_all_stretches_are_told() -> None:
    conduit = {"outside_diameter": 20.0, "stock": [{"length": 2600, "count": 1}]}
    told = refused(steps(*THROUGH, conduit=conduit))
    assert places(told) == [("no-joint", "conduit.stock")]


def test_where_there_are_too_many_ways_to_share_offcuts_out_that_is_said() -> None:
    stock = [{"length": 900 + 10 * number, "count": 3} for number in range(4)]
    conduit = {"outside_diameter": 20.0, "stock_length": 3750.0, "stock": stock}
    plan = bendcore.plan(steps(*THROUGH, conduit=conduit, joints={"costs": {"metre": 5}}))
    assert isinstance(plan, bendcore.Plan)
    assert "joints-not-searched" in {finding.rule for finding in plan.findings}


# ---------------------------------------------------------------------------------- what is told must be true

OVER_A_FLOOR: dict[str, Any] = {
    "route": {"points": [[0, 0, 0], [0, 0, 1000], [220, 0, 1000], [220, 0, 2000]]},
    "bender": {"floor": {"normal": [0, 1, 0], "offset": -500}},
}


@pytest.mark.parametrize(
    ("joints", "freed_by"),
    [
        ({"clearance": 120}, None),
        ({"clearance": 36}, 1),
        ({"clearance": 38}, None),
        ({"clearance": 20, "gap": 20, "long_thread": 20}, None),
        ({"clearance": 20, "gap": 14, "long_thread": 20}, 1),
    ],
)
def test_a_joint_frees_a_stick_only_where_one_has_room(joints: dict[str, Any], freed_by: int | None) -> None:
    # 74 mm are straight between the two bends
    plan = bendcore.plan(steps(joints=joints) | OVER_A_FLOOR)
    assert isinstance(plan, bendcore.Plan)
    (stop,) = [finding for finding in plan.findings if finding.rule == "bending-order"]
    assert stop.figures["freed_by"] == freed_by


def test_what_leaves_no_joint_is_told_by_its_place_along_the_run() -> None:
    rows = (
        {"leg": 2000}, {"bend": 90, "toward": "in"}, {"leg": 1000}, {"fitting": BOX}, {"leg": 2200},
        {"bend": 90, "toward": "up"}, {"leg": 2900},
    )  # fmt: skip
    (told,) = refused(steps(*rows, joints={"clearance": 5000}))
    # the first stick: 2000 - 73, its arc, 1000 - 73 - 46; then the box, 92
    begin = 1927.0 + 114.668131856027 + 881.0 + 92.0
    assert (told["where"], told["first_bend"]) == ("route.steps[5]", 2)
    assert f"from {begin:.1f} mm" in told["text"]


def test_a_gap_that_does_not_fit_is_told_as_such() -> None:
    conduit = {"outside_diameter": 20.0, "stock_length": 1000.0}
    told = refused(steps({"leg": 1960}, conduit=conduit, joints={"gap": 9000, "min_piece": 0}))
    assert places(told) == [("no-joint", "joints.gap")]


def test_where_both_ends_meet_it_is_not_a_bend_that_keeps_the_stick_from_turning() -> None:
    plan = bendcore.plan(steps({"leg": 9000}, fit_from="both", joints={"long_thread": 40}))
    assert isinstance(plan, bendcore.Plan)
    texts = [finding["text"] for finding in plan.to_dict()["findings"]]  # type: ignore[attr-defined]
    assert any("nothing turns between what is fixed" in text for text in texts)
    assert not any("a bent length" in text for text in texts)


def test_an_offcut_serves_one_conduit_of_a_bank() -> None:
    conduit = {"outside_diameter": 20.0, "stock_length": 3750.0, "stock": [{"length": 2500, "count": 1}]}
    bank = {"count": 3, "spacing": 40, "toward": "right"}
    plans = bendcore.plan(
        steps({"leg": 2000}, conduit=conduit, parallel=bank, joints={"costs": {"metre": 5}})
    )
    assert isinstance(plans, bendcore.Bank)
    assert [blanks(plan) for plan in plans.plans] == [[(2500.0, True)], [(3750.0, False)], [(3750.0, False)]]


def test_a_bank_of_too_few_offcuts_says_so() -> None:
    conduit = {"outside_diameter": 20.0, "stock": [{"length": 2500, "count": 2}]}
    bank = {"count": 3, "spacing": 40, "toward": "right"}
    told = refused(steps({"leg": 2000}, conduit=conduit, parallel=bank))
    assert places(told)[0] == ("no-joint", "conduit.stock")
