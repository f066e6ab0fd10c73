"""Where a run is split into sticks (docs/engine.md, sections 3 and 4)."""

from typing import Any

import pytest
from worked import CLOSE, bends, places, planned, points, refused, run


def straight(size: float, stock: float = 3000.0, **joints: Any) -> dict[str, Any]:
    return points(
        [0, 0, 0],
        [0, 0, size],
        conduit={"outside_diameter": 20.0, "stock_length": stock},
        joints=joints,
    )


def turned(up: float, right: float, stock: float = 3000.0, **joints: Any) -> dict[str, Any]:
    """Up and to the right by a right angle: its arc runs from up - 73 to up + 41.668131856027."""
    return points(
        [0, 0, 0],
        [0, 0, up],
        [right, 0, up],
        conduit={"outside_diameter": 20.0, "stock_length": stock},
        joints=joints,
    )


def cuts(spec: dict[str, Any]) -> list[Any]:
    """Cut lengths from start to finish, for comparison."""
    return [pytest.approx(stick["cut_length"], abs=CLOSE) for stick in planned(spec)["sticks"]]


# ------------------------------------------------------------------------------------------ one stick or more


def test_a_run_that_fits_in_stock_has_no_joint() -> None:
    assert cuts(straight(3000.0)) == [3000.0]


def test_a_run_longer_than_stock_by_less_than_a_millionth_still_fits() -> None:
    assert cuts(straight(3000.0000009)) == [3000.0000009]
    assert len(cuts(straight(3000.000002))) == 2


def test_joints_none_is_one_stick_however_long() -> None:
    assert cuts({**straight(90000.0), "joints": "none"}) == [90000.0]


def test_joints_none_needs_no_stock_length() -> None:
    spec = {**straight(90000.0), "conduit": {"outside_diameter": 20.0}}
    assert places(refused(spec)) == [("missing-key", "conduit.stock_length")]
    assert cuts({**spec, "joints": "none"}) == [90000.0]


def test_whole_lengths_need_no_cut_and_go_first() -> None:
    assert cuts(straight(7000.0)) == [3000.0, 3000.0, 1000.0]
    assert cuts(straight(6000.0)) == [3000.0, 3000.0]


def test_a_joint_is_told_once_at_the_earlier_sticks_finish() -> None:
    first, last = planned(straight(4000.0, gap=2))["sticks"]
    assert first["finish"] == {"kind": "coupler", "gap": 2.0, "thread": "factory"}
    assert last["start"] == {"kind": "joint", "thread": "factory"}


def test_cut_lengths_and_gaps_add_up_to_the_developed_length() -> None:
    spec = straight(8000.0, gap=2.4)
    # 3000 + 2.4 + 3000 + 2.4 + 1995.2
    assert cuts(spec) == [3000.0, 3000.0, 1995.2]
    assert planned(spec)["developed_length"] == pytest.approx(8000.0, abs=CLOSE)


def test_along_is_the_developed_distance_to_each_sticks_start() -> None:
    plan = planned(straight(8000.0, gap=2.4))
    assert [stick["along"] for stick in plan["sticks"]] == pytest.approx([0.0, 3002.4, 6004.8], abs=CLOSE)


def test_gaps_can_save_a_stick() -> None:
    assert len(cuts(straight(6004.0, gap=0))) == 3
    assert cuts(straight(6004.0, gap=4)) == [3000.0, 3000.0]


# ------------------------------------------------------------------------------------------------ least piece


def test_no_stick_is_shorter_than_the_least_piece_of_150_unless_told() -> None:
    # A whole length first would leave 100; the last stick is 150 and the joint as far from the start as it
    # can.
    assert cuts(straight(3100.0)) == [2950.0, 150.0]


def test_the_least_piece_may_be_told() -> None:
    assert cuts(straight(3100.0, min_piece=100)) == [3000.0, 100.0]
    assert cuts(straight(3100.0, min_piece=0)) == [3000.0, 100.0]
    assert cuts(straight(3100.0, min_piece=400)) == [2700.0, 400.0]


def test_with_a_least_piece_in_the_way_fewest_cuts_come_before_joints_far_from_the_start() -> None:
    # 6100: of three sticks two can be whole and one 100, too short. One whole and two cut: the joints
    # farthest from the start are 3000 and 5950.
    assert cuts(straight(6100.0)) == [3000.0, 2950.0, 150.0]


def test_a_least_piece_above_stock_is_refused() -> None:
    (problem,) = refused(straight(500.0, min_piece=3000.5))
    assert (problem["code"], problem["where"]) == ("conflict", "joints.min_piece")
    assert problem["at_most_mm"] == 3000.0
    assert cuts(straight(3000.0, min_piece=3000)) == [3000.0]


def test_a_least_piece_that_leaves_no_set_of_joints_is_refused() -> None:
    # 1100 is neither one stick of up to 1000 nor two of 600 or more.
    problems = refused(straight(1100.0, stock=1000.0, min_piece=600))
    assert places(problems) == [("no-joint", "joints.min_piece")]


# -------------------------------------------------------------------------------------------------- clearance


def test_a_joint_stands_on_a_straight_at_least_120_from_a_bend_unless_told() -> None:
    # Arc from 2927 to 3041.668131856027, developed 5968.668131856027. A whole first stick ends in the bend, a
    # whole last one begins in it, two sticks cannot do without. Of three the one between can be whole: the
    # first joint as far as 2927 - 120.
    assert cuts(turned(3000.0, 3000.0)) == [2807.0, 3000.0, pytest.approx(161.668131856027, abs=CLOSE)]


def test_the_clearance_may_be_told() -> None:
    # Developed 3000 + 1000 - 31.331868143973, arc from 2927: a whole last stick begins at 968.668131856027,
    # which is 1958.331868143973 clear of it.
    last_whole = [pytest.approx(968.668131856027, abs=CLOSE), 3000.0]
    assert cuts(turned(3000.0, 1000.0, clearance=900)) == last_whole
    assert cuts(turned(3000.0, 1000.0, clearance=1958)) == last_whole
    # From any place farther from the bend the rest is longer than stock.
    assert places(refused(turned(3000.0, 1000.0, clearance=1959))) == [("no-joint", "route.points[1]")]


def test_no_clearance_lets_a_joint_stand_where_the_bend_begins() -> None:
    assert cuts(turned(3073.0, 3000.0, clearance=0))[0] == 3000.0
    # ... and a clearance of a tenth keeps it off.
    assert cuts(turned(3073.0, 3000.0, clearance=0.1))[0] != 3000.0


def test_the_gap_of_a_joint_lies_on_the_straight_too() -> None:
    # With 5 between the sticks, a whole first stick would end where the bend begins, and its gap on the bend.
    assert cuts(turned(3073.0, 3000.0, clearance=0, gap=5))[0] != 3000.0
    assert cuts(turned(3078.0, 3000.0, clearance=0, gap=5))[0] == 3000.0


# ------------------------------------------------------------------------------------------------------- ties


def test_of_equal_sticks_and_cuts_the_joints_farthest_from_the_start_are_taken() -> None:
    # Up, right, up by 1600: arcs 1527 to 1641.668 and 3095.668 to 3210.336, developed 4737.336263712055. Of
    # stock 2600 a whole first stick (joint at 2600) and a whole last one (at 2137.336263712055) both leave
    # one cut.
    spec = points(
        [0, 0, 0], [0, 0, 1600], [1600, 0, 1600], [1600, 0, 3200],
        conduit={"outside_diameter": 20.0, "stock_length": 2600.0},
    )  # fmt: skip
    assert cuts(spec) == [2600.0, pytest.approx(2137.336263712055, abs=CLOSE)]


def test_fewest_cuts_come_before_joints_farthest_from_the_start() -> None:
    # Arc from 2977 to 3091.668: a whole first stick ends in it. The joint farthest from the start is at 2857,
    # with two cuts; a whole last stick from 518.668131856027 has one.
    assert cuts(turned(3050.0, 500.0)) == [pytest.approx(518.668131856027, abs=CLOSE), 3000.0]


def test_fewest_sticks_come_before_fewest_cuts() -> None:
    # Arc from 2477 to 2591.668131856027, clear 400: joints up to 2077 or from 2991.668131856027. Developed
    # 5068.668131856027. Two sticks: a whole first at 3000 is clear.
    assert cuts(turned(2550.0, 2550.0, clearance=400)) == [
        3000.0,
        pytest.approx(2068.668131856027, abs=CLOSE),
    ]
    # Clear 420 it is not (from 3011.668131856027 on), nor is a whole last one (at 2068.668, up to 2057):
    # three.
    assert len(cuts(turned(2550.0, 2550.0, clearance=420))) == 3


# -------------------------------------------------------------------------------------------- what goes along


def test_bends_are_marked_from_the_start_of_their_own_stick() -> None:
    plan = planned(turned(3050.0, 500.0))
    (bend,) = bends(plan)
    assert [len(stick["bends"]) for stick in plan["sticks"]] == [0, 1]
    # 2977 - 518.668131856027
    assert bend["begin"] == pytest.approx(2458.331868143973, abs=CLOSE)
    assert (bend["number"], bend["corner"], bend["order"]) == (1, 1, 1)


def test_clock_is_the_roll_from_the_last_bend_of_the_sticks_before() -> None:
    # Up, right, in with a joint on the leg to the right: in lies +90 from the way back of the first bend.
    spec = points(
        [0, 0, 0], [0, 0, 2000], [2500, 0, 2000], [2500, 1500, 2000],
        conduit={"outside_diameter": 20.0, "stock_length": 3000.0},
    )  # fmt: skip
    first, last = planned(spec)["sticks"]
    assert first["clock"] is None
    assert last["clock"] == 90.0
    assert last["bends"][0]["roll"] == 0.0


def test_clock_reaches_over_a_straight_stick_between() -> None:
    spec = points(
        [0, 0, 0], [0, 0, 1000], [7000, 0, 1000], [7000, -1500, 1000],
        conduit={"outside_diameter": 20.0, "stock_length": 3000.0},
    )  # fmt: skip
    sticks = planned(spec)["sticks"]
    assert [len(stick["bends"]) for stick in sticks] == [1, 0, 1, 0] or [len(s["bends"]) for s in sticks] == [
        1,
        0,
        1,
    ]
    assert sticks[0]["clock"] is None
    assert sticks[1]["clock"] is None  # no bend of its own
    assert sticks[2]["clock"] == -90.0


def test_clock_of_the_first_bends_in_a_run_is_null_on_a_later_stick_too() -> None:
    plan = planned(turned(3050.0, 500.0))
    assert [stick["clock"] for stick in plan["sticks"]] == [None, None]


# ------------------------------------------------------------------------------------------- nowhere to stand


def test_a_run_that_no_joint_position_can_split_is_refused() -> None:
    # Stairs of 400: arcs 327 to 441.668, 695.668 to 810.336, 1064.336 to 1179.004, end 1506.004395568082; 200
    # clear of them no place is left, and stock is 800.
    spec = points(
        [0, 0, 0], [0, 0, 400], [400, 0, 400], [400, 0, 800], [800, 0, 800],
        conduit={"outside_diameter": 20.0, "stock_length": 800.0},
        joints={"clearance": 200},
    )  # fmt: skip
    (problem,) = refused(spec)
    assert (problem["code"], problem["where"]) == ("no-joint", "route.points[1]")
    assert (problem["first_bend"], problem["last_bend"]) == (1, 3)
    assert problem["stock_mm"] == 800.0
    assert problem["stretch_mm"] == pytest.approx(1506.004395568082, abs=CLOSE)
    assert problem["over_mm"] == pytest.approx(706.004395568082, abs=CLOSE)


def test_a_stretch_of_bends_longer_than_stock_is_refused_with_the_bends_in_it() -> None:
    # Long ends, and the same stairs between: the last joint before them stands at 2000 - 73 - 200 = 1727.
    spec = points(
        [0, 0, 0], [0, 0, 2000], [400, 0, 2000], [400, 0, 2400], [2400, 0, 2400],
        conduit={"outside_diameter": 20.0, "stock_length": 1200.0},
        joints={"clearance": 200},
    )  # fmt: skip
    (problem,) = refused(spec)
    assert problem["code"] == "no-joint"
    assert (problem["first_bend"], problem["last_bend"]) == (1, 3)
    # Arcs 1927 to 2041.668, 2295.668 to 2410.336, 2664.336 to 2779.004; the next joint at 2979.004395568082.
    assert problem["stretch_mm"] == pytest.approx(1252.004395568082, abs=CLOSE)
    assert problem["over_mm"] == pytest.approx(52.004395568082, abs=CLOSE)


@pytest.mark.parametrize("joints", ["some", "", None, [], 3, True])
def test_joints_is_none_or_an_object(joints: Any) -> None:
    (problem,) = refused(run(joints=joints))
    assert problem["where"] == "joints"
    assert problem["code"] in {"not-a-choice", "wrong-type"}
