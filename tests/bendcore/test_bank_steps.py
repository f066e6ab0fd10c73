"""Parallel conduits worked by hand: the steps of their marks, concentric corners, and what refuses a bank.

Spacing 40. A right angle takes 40 tan 45 = 40 of each leg beside it, 30 degrees 40 tan 15 = 10.717967697245.
"""

from typing import Any

import pytest
from worked import CLOSE, bends, places, planned, points, refused, run, steps

import bendcore

Row = dict[str, Any]

RIGHT_ANGLE: Row = {"bend": 90, "toward": "right"}


def bank(spec: dict[str, Any], toward: str, **more: Any) -> list[dict[str, Any]]:
    asked = {"count": 3, "spacing": 40, "toward": toward, **more}
    plans: list[dict[str, Any]] = planned({**spec, "parallel": asked})["plans"]
    return plans


def marks(plans: list[dict[str, Any]], bend: int) -> list[float]:
    return [bends(plan)[bend]["marks"]["begin"] for plan in plans]


def close(*figures: float) -> Any:
    return pytest.approx(list(figures), abs=CLOSE)


L = steps({"leg": 1200}, RIGHT_ANGLE, {"leg": 900})
U = steps({"leg": 1200}, RIGHT_ANGLE, {"leg": 600}, {"bend": 90, "toward": "down"}, {"leg": 900})
OFFSET = steps({"leg": 500}, {"offset": {"rise": 100, "angle": 30, "toward": "in"}}, {"leg": 400})


def test_the_count_includes_the_given_route_and_it_is_the_first_plan() -> None:
    plans = bank(L, "right")
    assert len(plans) == 3
    assert [plan["conduit"] for plan in plans] == [1, 2, 3]
    alone = planned(L)
    assert plans[0]["developed_length"] == alone["developed_length"]
    assert [bend["marks"] for bend in bends(plans[0])] == [bend["marks"] for bend in bends(alone)]


def test_a_bank_of_one_is_the_given_route() -> None:
    (plan,) = bank(L, "right", count=1)
    assert plan["developed_length"] == planned(L)["developed_length"]


def test_on_the_side_that_the_first_bend_closes_toward_it_comes_a_spacing_nearer_the_start() -> None:
    plans = bank(L, "right")
    assert marks(plans, 0) == close(1127.0, 1087.0, 1047.0)
    # Each leg is 40 shorter: 2068.668131856027, and 80 less for each conduit.
    assert [plan["developed_length"] for plan in plans] == close(
        2068.668131856027, 1988.668131856027, 1908.668131856027
    )


def test_on_the_other_side_it_goes_as_much_farther() -> None:
    plans = bank(L, "left")
    assert marks(plans, 0) == close(1127.0, 1167.0, 1207.0)
    assert [plan["developed_length"] for plan in plans] == close(
        2068.668131856027, 2148.668131856027, 2228.668131856027
    )


def test_at_another_angle_the_step_is_the_spacing_by_the_tangent_of_half_of_it() -> None:
    spec = steps({"leg": 1200}, {"bend": 60, "toward": "right"}, {"leg": 900})
    # 40 tan 30 = 23.094010767585; 1200 - 42.146569650843
    assert marks(bank(spec, "right"), 0) == close(1157.853430349157, 1134.759419581572, 1111.665408813987)


def test_an_offset_has_the_same_step_at_both_its_marks() -> None:
    plans = bank(OFFSET, "in")
    assert marks(plans, 0) == close(480.439708952528, 469.721741255283, 459.003773558038)
    assert marks(plans, 1) == close(679.541837476260, 668.823869779015, 658.105902081770)
    assert [plan["developed_length"] for plan in plans] == close(*[1098.204257047464] * 3)


def test_the_second_mark_of_a_u_of_two_right_angles_moves_three_times_the_step() -> None:
    plans = bank(U, "right")
    # First 1127; second 1241.668131856027 + 600 - 146
    assert marks(plans, 0) == close(1127.0, 1087.0, 1047.0)
    assert marks(plans, 1) == close(1695.668131856027, 1575.668131856027, 1455.668131856027)


def test_square_to_the_plane_nothing_changes() -> None:
    plans = bank(L, "in")
    assert marks(plans, 0) == close(1127.0, 1127.0, 1127.0)
    assert [plan["developed_length"] for plan in plans] == close(*[2068.668131856027] * 3)


def test_each_bend_tells_the_step_of_its_mark_from_the_conduit_before() -> None:
    plans = bank(U, "right")
    assert [bend["step"] for bend in bends(plans[0])] == [None, None]
    assert [bend["step"] for bend in bends(plans[1])] == close(-40.0, -120.0)
    assert [bend["step"] for bend in bends(plans[2])] == close(-40.0, -120.0)


def test_every_conduit_of_a_bank_has_the_rolls_and_angles_of_the_first() -> None:
    spec = steps({"leg": 1200}, RIGHT_ANGLE, {"leg": 600}, {"bend": 45, "toward": "in"}, {"leg": 900})
    told = [[(bend["angle"], bend["roll"]) for bend in bends(plan)] for plan in bank(spec, "right")]
    assert told == [[(90.0, 0.0), (45.0, 90.0)]] * 3


# --------------------------------------------------------------------------------------- where the others lie


def route_of(spec: dict[str, Any], conduit: int, **asked: Any) -> bendcore.Plan:
    found = bendcore.plan({**spec, "parallel": {"count": 3, "spacing": 40, **asked}})
    assert isinstance(found, bendcore.Bank)
    return found.plans[conduit - 1]


def test_starts_and_finishes_are_squared_off() -> None:
    route = route_of(L, 3, toward="right").route
    assert route.start == pytest.approx((80.0, 0.0, 0.0), abs=CLOSE)
    assert route.finish == pytest.approx((900.0, 0.0, 1120.0), abs=CLOSE)


def test_the_part_of_toward_square_to_the_first_leg_counts() -> None:
    # The first leg goes up and to the right at 45 degrees: of up, up and to the left is square to it.
    spec = points([0, 0, 0], [800, 0, 800])
    route = route_of(spec, 2, toward="up").route
    assert route.start == pytest.approx((-28.284271247462, 0.0, 28.284271247462), abs=CLOSE)
    assert route.finish == pytest.approx((771.715728752538, 0.0, 828.284271247462), abs=CLOSE)


@pytest.mark.parametrize("toward", ["up", "down"])
def test_toward_along_the_first_leg_is_refused(toward: str) -> None:
    problems = refused({**L, "parallel": {"count": 2, "spacing": 40, "toward": toward}})
    assert places(problems) == [("cannot-walk", "parallel.toward")]


def test_the_ends_are_made_alike_in_every_conduit() -> None:
    spec = {**L, "ends": {"start": {"kind": "spout", "allowance": 14}}}
    plans = bank(spec, "right")
    assert marks(plans, 0) == close(1141.0, 1101.0, 1061.0)
    alike = {"kind": "spout", "allowance": 14.0, "thread": "factory"}
    assert all(plan["sticks"][0]["start"] == alike for plan in plans)


def test_each_conduit_is_split_into_sticks_for_itself() -> None:
    spec = steps({"leg": 2000}, RIGHT_ANGLE, {"leg": 1800})
    # Developed 3768.668131856027, and 80 less for each next conduit: only the first is longer than 3750.
    assert [len(plan["sticks"]) for plan in bank(spec, "right")] == [2, 1, 1]


def test_marks_measured_from_unlike_ends_have_no_step() -> None:
    spec = steps(
        {"leg": 1000},
        RIGHT_ANGLE,
        {"leg": 2400},
        {"bend": 90, "toward": "down"},
        {"leg": 500},
        joints={"clearance": 400},
    )
    plans = bank(spec, "right", count=2)
    # The first conduit, 3837.336 long, is parted 400 before its second bend; the next, 160 shorter, is one
    # stick.
    assert [[len(stick["bends"]) for stick in plan["sticks"]] for plan in plans] == [[1, 1], [2]]
    assert [bend["step"] for bend in bends(plans[1])] == [pytest.approx(-40.0, abs=CLOSE), None]


# ----------------------------------------------------------------------------------------- concentric corners


def test_concentric_bends_share_their_centre() -> None:
    plans = bank(L, "left", corners="concentric")
    # Outside the bend: radius 73, 113, 153 about one centre, so that every begin is level with the first.
    assert [bends(plan)[0]["radius"] for plan in plans] == close(73.0, 113.0, 153.0)
    assert marks(plans, 0) == close(1127.0, 1127.0, 1127.0)
    # 1127 + 113 pi/2 + 827
    assert plans[1]["developed_length"] == pytest.approx(2131.499984927823, abs=CLOSE)


def test_a_radius_that_the_former_in_use_has_not_is_a_stop() -> None:
    plans = bank(L, "left", corners="concentric")
    told = [[(found["rule"], found["level"], found["where"]) for found in plan["findings"]] for plan in plans]
    assert told == [[], *[[("former-radius", "stop", "route.steps[1]")]] * 2]
    assert plans[1]["findings"][0]["figures"]["need_mm"] == pytest.approx(113.0, abs=CLOSE)
    assert plans[1]["findings"][0]["figures"]["radius_mm"] == 73.0


def test_equal_corners_are_what_nothing_said_means() -> None:
    assert bank(L, "right", corners="equal") == bank(L, "right")


def test_concentric_corners_square_to_the_plane_need_no_other_former() -> None:
    plans = bank(L, "in", corners="concentric")
    assert [bends(plan)[0]["radius"] for plan in plans] == close(73.0, 73.0, 73.0)
    assert [plan["findings"] for plan in plans] == [[], [], []]


def test_a_bank_stops_where_any_of_its_conduits_does() -> None:
    concentric = {**L, "parallel": {"count": 2, "spacing": 40, "toward": "left", "corners": "concentric"}}
    assert bendcore.plan(concentric).has_stop
    concentric["parallel"]["corners"] = "equal"
    assert not bendcore.plan(concentric).has_stop


def test_a_concentric_radius_of_half_the_diameter_or_less_is_refused() -> None:
    # Inside the bend: 73, 33, -7; above 10 is allowed.
    problems = refused(
        {**L, "parallel": {"count": 3, "spacing": 40, "toward": "right", "corners": "concentric"}}
    )
    assert places(problems) == [("radius-too-small", "parallel.corners")]
    assert (problems[0]["conduit"], problems[0]["corner"], problems[0]["above_mm"]) == (3, 1, 10.0)


# --------------------------------------------------------------------------------------------------- overlaps


def test_a_leg_too_short_in_one_conduit_refuses_the_whole_bank() -> None:
    # The last leg is 150, 110 and 70 long; its bend needs 73.
    spec = steps({"leg": 1200}, RIGHT_ANGLE, {"leg": 150})
    assert len(bank(spec, "right", count=2)) == 2
    (problem,) = refused({**spec, "parallel": {"count": 3, "spacing": 40, "toward": "right"}})
    assert (problem["code"], problem["where"]) == ("overlap", "route.steps[2]")
    assert (problem["conduit"], problem["leg"]) == (3, 2)
    assert problem["length_mm"] == pytest.approx(70.0, abs=CLOSE)
    assert problem["grow_mm"] == pytest.approx(3.0, abs=CLOSE)


def test_every_short_leg_of_every_conduit_is_told() -> None:
    spec = steps({"leg": 120}, RIGHT_ANGLE, {"leg": 150})
    problems = refused({**spec, "parallel": {"count": 4, "spacing": 40, "toward": "right"}})
    # First legs 120, 80, 40, 0; last legs 150, 110, 70, 30.
    assert [(problem["conduit"], problem["leg"]) for problem in problems] == [(3, 1), (3, 2), (4, 1), (4, 2)]


def test_a_conduit_of_the_bank_that_no_joint_can_split_refuses_the_whole_and_is_named() -> None:
    # Up 700, right 900, down 700 is 2237.336263712055 long, one stick of 2300. The next to the left is 160
    # longer and, 500 clear of its bends, could only part with 667 - 500 = 167 at an end, which is less than
    # the least piece.
    spec = points(
        [0, 0, 0], [0, 0, 700], [900, 0, 700], [900, 0, 0],
        conduit={"outside_diameter": 20.0, "stock_length": 2300.0},
        joints={"clearance": 500, "min_piece": 170},
    )  # fmt: skip
    assert len(planned(spec)["sticks"]) == 1
    (problem,) = refused({**spec, "parallel": {"count": 2, "spacing": 40, "toward": "left"}})
    assert problem["code"] == "no-joint"
    assert problem["conduit"] == 2


# ---------------------------------------------------------------------------------------------- what is asked


@pytest.mark.parametrize(
    ("parallel", "told"),
    [
        ({"spacing": 40, "toward": "right"}, [("missing-key", "parallel.count")]),
        ({"count": 2, "toward": "right"}, [("missing-key", "parallel.spacing")]),
        ({"count": 2, "spacing": 40}, [("missing-key", "parallel.toward")]),
        ({"count": 0, "spacing": 40, "toward": "right"}, [("out-of-range", "parallel.count")]),
        ({"count": 2.5, "spacing": 40, "toward": "right"}, [("out-of-range", "parallel.count")]),
        ({"count": True, "spacing": 40, "toward": "right"}, [("wrong-type", "parallel.count")]),
        ({"count": 2, "spacing": 0, "toward": "right"}, [("out-of-range", "parallel.spacing")]),
        ({"count": 2, "spacing": 40, "toward": "sideways"}, [("not-a-choice", "parallel.toward")]),
        (
            {"count": 2, "spacing": 40, "toward": "right", "corners": "round"},
            [("not-a-choice", "parallel.corners")],
        ),
        ({"count": 2, "spacing": 40, "toward": "right", "gap": 1}, [("unknown-key", "parallel.gap")]),
        ([2, 40], [("wrong-type", "parallel")]),
        (None, [("wrong-type", "parallel")]),
    ],
)
def test_a_bank_asked_for_amiss_is_refused_at_its_place(parallel: Any, told: list[tuple[str, str]]) -> None:
    assert places(refused(run(parallel=parallel))) == told


def test_notes_on_the_route_are_told_once() -> None:
    spec = points([0, 0, 0], [0, 0, 500], [0, 0, 1200], [900, 0, 1200])
    told = [[found["rule"] for found in plan["findings"]] for plan in bank(spec, "right")]
    assert told == [["turn-too-small"], [], []]
