"""Routes told as points: corners, legs, and what is degenerate about them."""

import math
from itertools import pairwise
from typing import Any

import pytest
from worked import CLOSE, LEAST, bends, places, planned, points, refused, walked


def notes(spec: dict[str, Any]) -> list[tuple[str, str, str]]:
    return [(found["rule"], found["level"], found["where"]) for found in planned(spec)["findings"]]


def bent(by: float, *, leg: float = 1000.0) -> dict[str, Any]:
    """Two legs, the second turned by so many degrees from straight up toward the right."""
    turn = math.radians(by)
    return points(
        [0, 0, 0], [0, 0, leg], [leg * math.sin(turn), 0, leg + leg * math.cos(turn)], joints="none"
    )


def test_corners_are_the_points_between_and_the_legs_lie_between_them() -> None:
    route = walked(LEAST).route
    assert route.start == (0.0, 0.0, 0.0)
    assert route.finish == (900.0, 700.0, 1200.0)
    assert [corner.at for corner in route.corners] == [(0.0, 0.0, 1200.0), (900.0, 0.0, 1200.0)]
    assert [corner.angle for corner in route.corners] == [90.0, 90.0]
    assert [leg.length for leg in route.legs] == [1200.0, 900.0, 700.0]
    assert [leg.direction for leg in route.legs] == [(0.0, 0.0, 1.0), (1.0, 0.0, 0.0), (0.0, 1.0, 0.0)]


def test_a_bend_closes_square_to_its_incoming_leg_toward_the_leg_after() -> None:
    first, second = walked(LEAST).route.corners
    assert first.toward == pytest.approx((1.0, 0.0, 0.0), abs=CLOSE)
    assert second.toward == pytest.approx((0.0, 1.0, 0.0), abs=CLOSE)
    # 135 degrees: up, then down to the right; only the part square to up is left of it.
    (corner,) = walked(points([0, 0, 0], [0, 0, 900], [500, 0, 400])).route.corners
    assert corner.angle == 135.0
    assert corner.toward == pytest.approx((1.0, 0.0, 0.0), abs=CLOSE)


def test_a_corner_tells_the_point_that_it_stands_for() -> None:
    assert [corner.where for corner in walked(LEAST).route.corners] == ["route.points[1]", "route.points[2]"]


def test_an_angle_out_of_coordinates_is_put_on_the_half_degree_it_misses_by_rounding() -> None:
    # atan2(500, 500 sqrt 3): thirty degrees, as drawn
    (bend,) = bends(planned(points([0, 0, 0], [0, 0, 900], [500, 0, 900 + 500 * math.sqrt(3.0)])))
    assert bend["angle"] == 30.0


def test_the_route_may_lie_anywhere_in_reach() -> None:
    moved = [[x + 9e6, y - 9e6, z + 8e6] for x, y, z in LEAST["route"]["points"]]
    assert planned(points(*moved))["developed_length"] == pytest.approx(2737.336263712055, abs=1e-6)


# ---------------------------------------------------------------------------------- points that are one point


def test_points_within_a_millionth_of_a_millimetre_are_one_point_and_a_note_says_so() -> None:
    spec = points([0, 0, 0], [0, 0, 1200], [0, 0, 1200.0000009], [900, 0, 1200])
    assert notes(spec) == [("points-merged", "note", "route.points[2]")]
    plan = planned(spec)
    assert [bend["angle"] for bend in bends(plan)] == [90.0]
    # 1200 + 900 - 31.331868143973
    assert plan["developed_length"] == pytest.approx(2068.668131856027, abs=1e-6)


def test_the_same_point_twice_is_one_point() -> None:
    spec = points([0, 0, 0], [0, 0, 0], [0, 0, 1200], [900, 0, 1200], [900, 0, 1200])
    assert notes(spec) == [
        ("points-merged", "note", "route.points[1]"),
        ("points-merged", "note", "route.points[4]"),
    ]
    assert planned(spec)["developed_length"] == pytest.approx(2068.668131856027, abs=CLOSE)


def test_the_note_names_both_points_counted_from_one() -> None:
    (found,) = planned(points([0, 0, 0], [0, 0, 700], [0, 0, 700], [0, 0, 700], [900, 0, 700]))["findings"][
        1:
    ]
    assert found["figures"] == {"first": 2, "second": 4}
    assert "Points 2 and 4" in found["text"]


def test_points_two_millionths_apart_are_two_and_the_bends_there_overlap() -> None:
    problems = refused(points([0, 0, 0], [0, 0, 700], [0.000002, 0, 700], [0.000002, 900, 700]))
    assert ("overlap", "route.points[2]") in places(problems)


@pytest.mark.parametrize("far", [[0, 0, 0], [1e-7, 0, 0]])
def test_a_route_that_is_all_one_point_is_refused(far: list[float]) -> None:
    assert places(refused(points([0, 0, 0], far))) == [("no-route", "route.points")]


# ------------------------------------------------------------------------------------------- turns of nothing


def test_a_point_in_line_is_no_corner_and_a_note_says_so() -> None:
    spec = points([0, 0, 0], [0, 0, 433], [0, 0, 1200], [900, 0, 1200])
    assert notes(spec) == [("turn-too-small", "note", "route.points[1]")]
    assert planned(spec)["developed_length"] == pytest.approx(2068.668131856027, abs=CLOSE)


def test_a_turn_below_a_ten_thousandth_of_a_degree_is_no_corner() -> None:
    plan = planned(bent(0.00009))
    assert bends(plan) == []
    # The chord: 2000 less 1000 (0.00009 degrees)^2 / 4 = 6e-10.
    assert plan["developed_length"] == pytest.approx(2000.0, abs=1e-8)


def test_a_turn_of_a_ten_thousandth_of_a_degree_and_more_is_a_corner() -> None:
    (bend,) = bends(planned(bent(0.00011)))
    assert bend["angle"] == pytest.approx(0.00011, rel=1e-6)
    assert notes(bent(0.00011)) == []


def test_many_small_turns_that_each_are_no_corner_come_to_one_where_they_add_up() -> None:
    # Five legs of 1000, each turned 0.00009 degrees from the one before. The first two go together, and so
    # on: the run must not drift off by all 0.00036 degrees unsaid.
    turn = math.radians(0.00009)
    place, along = [0.0, 0.0, 0.0], 0.0
    route = [list(place)]
    for _ in range(5):
        place = [place[0] + 1000.0 * math.sin(along), 0.0, place[2] + 1000.0 * math.cos(along)]
        route.append(list(place))
        along += turn
    plan = walked(points(*route, joints="none"))
    assert len(plan.route.corners) >= 1
    # No point that was left out lies farther from the planned line than one leg turned by one small turn
    # takes it.
    allowed = 1000.0 * math.radians(1e-4)
    line = plan.route.points
    for x, _, z in route:
        off = min(
            abs((b[0] - a[0]) * (z - a[2]) - (b[2] - a[2]) * (x - a[0])) / math.dist(a, b)
            for a, b in pairwise(line)
        )
        assert off <= allowed
    assert [found.where for found in plan.findings] == [
        f"route.points[{number}]"
        for number in range(1, 5)
        if all(corner.where != f"route.points[{number}]" for corner in plan.route.corners)
    ]


def test_leaving_a_point_out_does_not_hide_a_corner_beside_it() -> None:
    spec = points([0, 0, 0], [0, 0, 600], [0, 0, 1200], [450, 0, 1200], [900, 0, 1200], [900, 700, 1200])
    assert [bend["corner"] for bend in bends(planned(spec))] == [1, 2]
    assert planned(spec)["sticks"] == planned(LEAST)["sticks"]


# -------------------------------------------------------------------------------------------------- reversals


def test_a_turn_straight_back_is_refused_at_its_point() -> None:
    (problem,) = refused(points([0, 0, 0], [0, 0, 1000], [0, 0, 200]))
    assert (problem["code"], problem["where"]) == ("reversal", "route.points[1]")
    assert problem["angle_deg"] == 180.0


def test_above_179_9999_degrees_a_turn_is_a_reversal() -> None:
    assert places(refused(bent(179.99995))) == [("reversal", "route.points[1]")]


def test_below_179_9999_degrees_a_turn_is_a_bend_that_wants_long_legs() -> None:
    # T = 73 tan 89.9999 = 4.2e7 of the 1e6 legs: too short, but no reversal.
    problems = refused(bent(179.9998, leg=1e6))
    assert [problem["code"] for problem in problems] == ["overlap", "overlap"]
    assert problems[0]["need_mm"] == pytest.approx(41825919.0, rel=1e-4)


def test_a_reversal_says_below_which_angle_a_turn_is_allowed() -> None:
    (problem,) = refused(bent(179.99995))
    assert problem["below_deg"] == 179.9999
    assert "179.9999°" in problem["text"]
    assert "180°; no bend" not in problem["text"]  # the turn told is the one that was asked for


def test_a_reversal_does_not_hide_a_leg_that_is_too_short_elsewhere() -> None:
    # The second leg is 140 between two right angles and needs 146; the run turns back three legs later.
    problems = refused(
        points([0, 0, 0], [0, 0, 600], [140, 0, 600], [140, 600, 600], [140, 600, 1200], [140, 600, 700])
    )
    assert ("reversal", "route.points[4]") in places(problems)
    assert ("overlap", "route.points[2]") in places(problems)
