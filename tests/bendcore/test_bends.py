"""From a corner to a bend: tangent, arc, gain, outline, roll, what adds up (docs/engine.md, section 1)."""

import math
from typing import Any

import pytest
from worked import CLOSE, LEAST, bends, planned, points, steps

from bendcore.bends import arc_length, back_to_back_gain, gain, outline_corner, roll_in_range, tangent_length
from bendcore.units import Deg, Mm


@pytest.mark.parametrize(
    ("radius", "angle", "tangent", "arc", "corner_to_corner"),
    [
        (73.0, 90.0, 73.0, 114.668131856027, 31.331868143973),
        (73.0, 45.0, 30.237590053236, 57.334065928014, 3.141114178458),
        (73.0, 22.5, 14.520602818715, 28.667032964007, 0.374172673423),
        (73.0, 120.0, 126.439708952528, 152.890842474703, 99.988575430353),
        (93.4, 60.0, 53.924515142311, 97.808251281762, 10.040779002860),
        (93.4, 37.4, 31.614155826053, 60.967143298965, 2.261168353141),
    ],
)
def test_tangent_arc_and_gain_follow_from_radius_and_angle(
    radius: float, angle: float, tangent: float, arc: float, corner_to_corner: float
) -> None:
    assert tangent_length(Mm(radius), Deg(angle)) == pytest.approx(tangent, abs=CLOSE)
    assert arc_length(Mm(radius), Deg(angle)) == pytest.approx(arc, abs=CLOSE)
    assert gain(Mm(radius), Deg(angle)) == pytest.approx(corner_to_corner, abs=CLOSE)


def test_the_trades_gain_of_a_right_angle_is_the_gain_and_the_diameter() -> None:
    # 31.331868143973 + 20
    assert back_to_back_gain(Mm(73.0), Deg(90.0), Mm(20.0)) == pytest.approx(51.331868143973, abs=CLOSE)


def test_the_trades_gain_of_another_angle_takes_the_diameter_by_the_tangent_of_half_of_it() -> None:
    # 2.261168353141 + 24.7 tan 18.7 = 2.261168353141 + 8.360488746290
    assert back_to_back_gain(Mm(93.4), Deg(37.4), Mm(24.7)) == pytest.approx(10.621657099432, abs=CLOSE)


def test_the_outline_turns_half_a_diameter_by_the_tangent_of_half_the_angle_past_the_corner() -> None:
    assert outline_corner(Mm(20.0), Deg(90.0)) == 10.0
    assert outline_corner(Mm(20.0), Deg(45.0)) == pytest.approx(4.142135623731, abs=CLOSE)
    assert outline_corner(Mm(24.7), Deg(37.4)) == pytest.approx(4.180244373145, abs=CLOSE)


# -------------------------------------------------------------------------------------------- the least input


def test_begin_is_what_lies_before_the_bend_on_the_straight_stick_and_finish_is_an_arc_later() -> None:
    first, second = bends(planned(LEAST))
    # 1200 - 73; + 114.668131856027; + 900 - 2 * 73; + 114.668131856027
    assert first["begin"] == pytest.approx(1127.0, abs=CLOSE)
    assert first["finish"] == pytest.approx(1241.668131856027, abs=CLOSE)
    assert second["begin"] == pytest.approx(1995.668131856027, abs=CLOSE)
    assert second["finish"] == pytest.approx(2110.336263712055, abs=CLOSE)


def test_developed_length_is_straights_and_arcs_which_is_legs_less_gains() -> None:
    plan = planned(LEAST)
    # 1127 + 754 + 627 + 2 * 114.668131856027 = 2800 - 2 * 31.331868143973
    assert plan["developed_length"] == pytest.approx(2737.336263712055, abs=CLOSE)
    assert [stick["cut_length"] for stick in plan["sticks"]] == [pytest.approx(2737.336263712055, abs=CLOSE)]


def test_total_bend_is_the_sum_of_the_angles() -> None:
    assert planned(LEAST)["total_bend"] == 180.0


def test_a_straight_run_has_no_bend_and_its_own_length() -> None:
    plan = planned(points([0, 0, 0], [300, 400, 1200]))
    # sqrt(300^2 + 400^2 + 1200^2) = 1300
    assert plan["developed_length"] == pytest.approx(1300.0, abs=CLOSE)
    assert plan["total_bend"] == 0.0
    assert bends(plan) == []


def test_the_outline_marks_of_a_right_angle_are_half_a_diameter_either_side_of_the_corner() -> None:
    marks = bends(planned(LEAST))[0]["marks"]
    # begin 1127; + A/2 = 57.334065928014; corner at 1127 + 73 = 1200, back 10 past it, inside 10 before
    assert marks["begin"] == pytest.approx(1127.0, abs=CLOSE)
    assert marks["centre"] == pytest.approx(1184.334065928014, abs=CLOSE)
    assert marks["back"] == pytest.approx(1210.0, abs=CLOSE)
    assert marks["inside"] == pytest.approx(1190.0, abs=CLOSE)


def test_the_outline_marks_of_a_flatter_bend_lie_closer_to_the_corner() -> None:
    marks = bends(planned(steps({"leg": 500}, {"bend": 45, "toward": "in"}, {"leg": 400})))[0]["marks"]
    # begin 500 - 30.237590053236; corner at 500; outline 10 tan 22.5 = 4.142135623731
    assert marks["begin"] == pytest.approx(469.762409946764, abs=CLOSE)
    assert marks["centre"] == pytest.approx(498.429442910771, abs=CLOSE)
    assert marks["back"] == pytest.approx(504.142135623731, abs=CLOSE)
    assert marks["inside"] == pytest.approx(495.857864376269, abs=CLOSE)


def test_the_back_mark_of_a_first_right_angle_is_the_finished_distance() -> None:
    plan = planned(steps({"leg": 412.5, "to": "back"}, {"bend": 90, "toward": "right"}, {"leg": 635}))
    assert bends(plan)[0]["marks"]["back"] == 412.5  # exact: rounded once, where a person reads it, it is 413


def test_just_below_179_degrees_the_outline_corners_are_told_far_away() -> None:
    plan = planned(steps({"leg": 8000}, {"bend": 178.9, "toward": "in"}, {"leg": 8000}, joints="none"))
    marks = bends(plan)[0]["marks"]
    # The corner is at 8000; 10 tan 89.45 = 1041.709447792885 either side of it.
    assert marks["back"] == pytest.approx(9041.709447792885, abs=CLOSE)
    assert marks["inside"] == pytest.approx(6958.290552207115, abs=CLOSE)


@pytest.mark.parametrize("angle", [179.0, 179.5])
def test_at_179_degrees_and_above_back_and_inside_are_null_and_the_rest_is_told(angle: float) -> None:
    plan = planned(steps({"leg": 20000}, {"bend": angle, "toward": "in"}, {"leg": 20000}, joints="none"))
    marks = bends(plan)[0]["marks"]
    assert marks["back"] is None
    assert marks["inside"] is None
    assert marks["begin"] > 0.0
    assert marks["centre"] > marks["begin"]


def test_a_bend_tells_its_number_in_the_stick_and_its_corner_of_the_route() -> None:
    spec = points(
        [0, 0, 0], [0, 0, 600], [900, 0, 600], [900, 1200, 600], [900, 1200, 0], joints={"min_piece": 0}
    )
    spec["conduit"]["stock_length"] = 2000.0
    plan = planned(spec)
    assert len(plan["sticks"]) == 2
    assert [(b["number"], b["corner"]) for b in bends(plan)] == [(1, 1), (2, 2), (1, 3)]


def test_every_bend_has_the_formers_radius() -> None:
    assert [bend["radius"] for bend in bends(planned(LEAST))] == [73.0, 73.0]


# ------------------------------------------------------------------------------------------------------- roll

UP, RIGHT = [0, 0, 0], [0, 0, 1000]
AFTER = [1000, 0, 1000]  # up, then to the right; what comes next tells the roll


@pytest.mark.parametrize(
    ("then", "roll"),
    [
        ([1000, 0, 0], 0.0),  # down again: closes the same way, a U
        ([1000, 0, 2000], 180.0),  # up again: the opposite way, a Z; never -180
        # Looking along the conduit to the right, the way back of the first bend is down. From down to in is a
        # quarter turn by the right hand about east: down (-z), in (+y), up (+z).
        ([1000, 1000, 1000], 90.0),
        ([1000, -1000, 1000], -90.0),
        ([1000, 500, 500], 45.0),
        ([1000, -500, 1500], -135.0),
    ],
)
def test_roll_is_counted_from_the_way_the_first_bend_closes_by_the_right_hand_rule(
    then: list[float], roll: float
) -> None:
    first, second = bends(planned(points(UP, RIGHT, AFTER, then)))
    assert first["roll"] == 0.0
    assert second["roll"] == roll


def test_roll_counts_from_the_first_bend_of_the_stick_and_not_from_the_one_before() -> None:
    # Up, right, in, up: in is +90 from the first. Along north, the third closes up, +90 from the way the
    # second came: 180 from the first.
    spec = points([0, 0, 0], [0, 0, 700], [700, 0, 700], [700, 700, 700], [700, 700, 1400])
    assert [bend["roll"] for bend in bends(planned(spec))] == [0.0, 90.0, 180.0]


def test_rolls_that_pass_half_a_turn_go_on_from_the_other_side() -> None:
    # Up, right, in, up, left: along up the fourth closes left; the way back of the third is out (-y), and
    # from -y to -x about up is -90: 180 - 90 = 90.
    spec = points(
        [0, 0, 0], [0, 0, 700], [700, 0, 700], [700, 700, 700], [700, 700, 1400], [0, 700, 1400],
        conduit={"outside_diameter": 20.0, "stock_length": 9000.0},
    )  # fmt: skip
    assert [bend["roll"] for bend in bends(planned(spec))] == [0.0, 90.0, 180.0, 90.0]


@pytest.mark.parametrize(
    ("angle", "roll"),
    [(-180.0, 180.0), (-179.99999999999997, 180.0), (540.0, 180.0), (270.0, -90.0), (-360.0, 0.0)],
)
def test_a_roll_lies_above_minus_180_and_up_to_180(angle: float, roll: float) -> None:
    assert roll_in_range(angle) == roll
    assert math.copysign(1.0, roll_in_range(-360.0)) == 1.0  # and none is -0


# --------------------------------------------------------------------------------------- straights of nothing


def test_bends_may_touch() -> None:
    # 146 between two right angles is twice 73: no straight is left, and the second begins where the first
    # ends.
    first, second = bends(planned(points([0, 0, 0], [0, 0, 500], [146, 0, 500], [146, 0, 0])))
    assert second["begin"] == pytest.approx(first["finish"], abs=CLOSE)


def test_a_straight_short_by_a_millionth_counts_as_none() -> None:
    plan = planned(points([0, 0, 0], [0, 0, 72.9999991], [500, 0, 72.9999991]))
    assert bends(plan)[0]["begin"] == 0.0
    # 114.668131856027 + 500 - 73
    assert plan["developed_length"] == pytest.approx(541.668131856027, abs=CLOSE)


def test_a_bend_may_begin_at_the_very_end_of_the_stick() -> None:
    plan: dict[str, Any] = planned(points([0, 0, 0], [0, 0, 73], [73, 0, 73]))
    assert bends(plan)[0]["begin"] == 0.0
    assert plan["developed_length"] == pytest.approx(114.668131856027, abs=CLOSE)
