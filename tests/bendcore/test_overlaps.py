"""Legs too short for their bends: each told, with its number, and how much it must grow.

Right angles take 73 of a leg, bends of 60 take 42.146569650843, of 45 30.237590053236, of 30 19.560291047472.
"""

import copy
from typing import Any

import pytest
from worked import CLOSE, bends, places, planned, points, refused, steps

Row = dict[str, Any]

RIGHT_ANGLE: Row = {"bend": 90, "toward": "right"}


def overlaps(spec: dict[str, Any]) -> list[dict[str, Any]]:
    told = refused(spec)
    assert {problem["code"] for problem in told} == {"overlap"}
    return told


# ------------------------------------------------------------------------------------------------------- legs


def test_an_overlap_tells_its_leg_its_length_its_need_and_what_it_must_grow() -> None:
    # 140 between two right angles
    (told,) = overlaps(points([0, 0, 0], [0, 0, 600], [140, 0, 600], [140, 600, 600]))
    text = told.pop("text")
    assert told == {
        "code": "overlap",
        "where": "route.points[2]",
        "leg": 2,
        "length_mm": 140.0,
        "need_mm": 146.0,
        "grow_mm": 6.0,
    }
    assert "6 mm longer" in text


@pytest.mark.parametrize(
    ("places_", "leg", "where", "grow"),
    [
        (([0, 0, 0], [0, 0, 72.5], [600, 0, 72.5]), 1, "route.points[1]", 0.5),
        (([0, 0, 0], [0, 0, 600], [31, 0, 600]), 2, "route.points[2]", 42.0),
    ],
)
def test_a_leg_at_an_end_must_hold_the_tangent_of_its_one_bend(
    places_: tuple[list[float], ...], leg: int, where: str, grow: float
) -> None:
    (told,) = overlaps(points(*places_))
    assert (told["leg"], told["where"]) == (leg, where)
    assert told["grow_mm"] == pytest.approx(grow, abs=CLOSE)


def test_a_leg_between_unlike_bends_needs_both_their_tangents() -> None:
    spec = steps({"leg": 500}, RIGHT_ANGLE, {"leg": 100}, {"bend": 45, "toward": "in"}, {"leg": 500})
    (told,) = overlaps(spec)
    # 73 + 30.237590053236 - 100
    assert told["need_mm"] == pytest.approx(103.237590053236, abs=CLOSE)
    assert told["grow_mm"] == pytest.approx(3.237590053236, abs=CLOSE)


def test_legs_are_counted_from_one_between_corners_with_feature_slopes() -> None:
    # Legs: 500, the slope, 500, the short one, 500.
    spec = steps(
        {"leg": 500},
        {"offset": {"rise": 100, "angle": 30, "toward": "in"}},
        {"leg": 250},
        {"leg": 250},
        RIGHT_ANGLE,
        {"leg": 100},
        {"bend": 90, "toward": "up"},
        {"leg": 500},
    )
    (told,) = overlaps(spec)
    assert (told["leg"], told["where"]) == (4, "route.steps[5]")


def test_every_short_leg_is_told_in_order() -> None:
    spec = steps({"leg": 60}, RIGHT_ANGLE, {"leg": 100}, {"bend": 90, "toward": "in"}, {"leg": 50})
    assert [(told["leg"], told["grow_mm"]) for told in overlaps(spec)] == [(1, 13.0), (2, 46.0), (3, 23.0)]


def test_the_needed_leg_counts_by_the_convention_it_was_measured_in() -> None:
    # 100 back to back is 80 corner to corner, 66 short; 166 back to back is enough.
    rows: list[Row] = [
        {"leg": 500}, RIGHT_ANGLE, {"leg": 100, "from": "back", "to": "back"},
        {"bend": 90, "toward": "in"}, {"leg": 500},
    ]  # fmt: skip
    (told,) = overlaps(steps(*rows))
    assert (told["length_mm"], told["grow_mm"]) == (80.0, 66.0)
    rows[2]["leg"] += told["grow_mm"]
    assert len(bends(planned(steps(*rows)))) == 2


def test_a_leg_measured_shorter_than_its_outline_counts_below_nothing() -> None:
    # 4 to the back of a right angle would put the corner 6 before the start: 79 short.
    (told,) = overlaps(steps({"leg": 4, "to": "back"}, RIGHT_ANGLE, {"leg": 500}))
    assert told["length_mm"] == -6.0
    assert told["grow_mm"] == 79.0


def test_a_leg_short_by_no_more_than_a_millionth_is_enough() -> None:
    assert planned(points([0, 0, 0], [0, 0, 72.9999991], [600, 0, 72.9999991]))
    (told,) = overlaps(points([0, 0, 0], [0, 0, 72.999998], [600, 0, 72.999998]))
    assert told["grow_mm"] == pytest.approx(0.000002, rel=1e-3)


def test_allowances_are_not_counted() -> None:
    spec = points([0, 0, 0], [0, 0, 60], [600, 0, 60], ends={"start": {"kind": "spout", "allowance": 50}})
    (told,) = overlaps(spec)
    assert told["grow_mm"] == 13.0


def test_the_length_told_in_words_is_never_rounded_below_what_is_needed() -> None:
    # 3.237590053236 short: "3.2 mm longer" would be refused again.
    (told,) = overlaps(
        steps({"leg": 500}, RIGHT_ANGLE, {"leg": 100}, {"bend": 45, "toward": "in"}, {"leg": 500})
    )
    assert "3.3 mm longer" in told["text"]


# ----------------------------------------------------------------------------------------- turns without legs


def test_two_turns_with_no_leg_between_overlap() -> None:
    (told,) = overlaps(steps({"leg": 500}, RIGHT_ANGLE, {"bend": 45, "toward": "in"}, {"leg": 500}))
    assert (told["leg"], told["where"]) == (2, "route.steps[2]")
    assert told["length_mm"] == 0.0
    assert told["grow_mm"] == pytest.approx(103.237590053236, abs=CLOSE)


def test_a_turn_at_the_start_overlaps() -> None:
    (told,) = overlaps(steps(RIGHT_ANGLE, {"leg": 500}))
    assert (told["leg"], told["where"], told["grow_mm"]) == (1, "route.steps[0]", 73.0)


def test_a_turn_at_the_finish_overlaps() -> None:
    (told,) = overlaps(steps({"leg": 500}, RIGHT_ANGLE))
    assert (told["leg"], told["where"], told["grow_mm"]) == (2, "route.steps[1]", 73.0)


def test_a_feature_at_an_end_or_beside_a_turn_overlaps() -> None:
    offset: Row = {"offset": {"rise": 100, "angle": 30, "toward": "in"}}
    told = overlaps(steps(offset, {"leg": 500}, RIGHT_ANGLE, offset))
    # Before the offset nothing; between the right angle and the second offset nothing; after that nothing.
    assert [(each["leg"], each["grow_mm"]) for each in told] == [
        (1, pytest.approx(19.560291047472, abs=CLOSE)),
        (4, pytest.approx(92.560291047472, abs=CLOSE)),
        (6, pytest.approx(19.560291047472, abs=CLOSE)),
    ]


def test_a_kick_needs_a_leg_before_it_but_none_after() -> None:
    kick: Row = {"kick": {"rise": 100, "angle": 30, "toward": "in"}}
    (told,) = overlaps(steps(kick))
    assert (told["leg"], told["where"]) == (1, "route.steps[0]")
    assert len(bends(planned(steps({"leg": 500}, kick)))) == 1


# --------------------------------------------------------------------------------------------- feature slopes


def test_the_short_slope_of_an_offset_tells_by_how_much_its_rise_must_grow() -> None:
    spec = steps({"leg": 500}, {"offset": {"rise": 12, "angle": 30, "toward": "in"}}, {"leg": 500})
    (told,) = overlaps(spec)
    assert (told["leg"], told["where"]) == (2, "route.steps[1].offset")
    # 12 / sin 30 = 24 of 39.120582094944; half of the rest in rise
    assert told["length_mm"] == pytest.approx(24.0, abs=CLOSE)
    assert told["grow_mm"] == pytest.approx(15.120582094944, abs=CLOSE)
    assert told["grow_rise_mm"] == pytest.approx(7.560291047472, abs=CLOSE)


def test_the_short_slope_of_a_box_set_tells_by_how_much_its_rise_must_grow() -> None:
    (told,) = overlaps(
        steps({"leg": 500}, {"box_set": {"rise": 15, "angle": 30, "toward": "in"}}, {"leg": 500})
    )
    # 39.120582094944 - 30; half of it in rise
    assert told["grow_mm"] == pytest.approx(9.120582094944, abs=CLOSE)
    assert told["grow_rise_mm"] == pytest.approx(4.560291047472, abs=CLOSE)


def test_both_slopes_of_a_three_bend_saddle_set_are_told() -> None:
    saddle = {"bends": 3, "rise": 10, "angle": 60, "toward": "in"}
    up, down = overlaps(steps({"leg": 500}, {"saddle_set": saddle}, {"leg": 500}))
    assert (up["leg"], down["leg"]) == (2, 3)
    # Corner height 10 + 73 (1 / cos 60 - 1) = 83, slope 83 / sin 60 = 95.840144685478; the bends of 60 and
    # 120 need 42.146569650843 + 126.439708952528. In rise that is 146 - 83.
    for told in (up, down):
        assert told["where"] == "route.steps[1].saddle_set"
        assert told["grow_mm"] == pytest.approx(72.746133917893, abs=CLOSE)
        assert told["grow_rise_mm"] == pytest.approx(63.0, abs=CLOSE)


def test_a_narrow_four_bend_saddle_set_tells_its_width() -> None:
    saddle = {"bends": 4, "rise": 100, "angle": 30, "width": 10, "toward": "in"}
    (told,) = overlaps(steps({"leg": 500}, {"saddle_set": saddle}, {"leg": 500}))
    # 39.120582094944 - 10, and no rise helps
    assert told["leg"] == 3
    assert told["grow_mm"] == pytest.approx(29.120582094944, abs=CLOSE)
    assert "grow_rise_mm" not in told
    assert "width" in told["text"]  # what must grow is the figure that was asked for


def test_a_kick_too_small_for_the_bend_after_it_tells_its_rise() -> None:
    spec = steps({"leg": 500}, {"kick": {"rise": 20, "angle": 30, "toward": "in"}}, RIGHT_ANGLE, {"leg": 500})
    (told,) = overlaps(spec)
    assert (told["leg"], told["where"]) == (2, "route.steps[1].kick")
    # 20 / sin 30 = 40 of 19.560291047472 + 73
    assert told["grow_mm"] == pytest.approx(52.560291047472, abs=CLOSE)
    assert told["grow_rise_mm"] == pytest.approx(26.280145523736, abs=CLOSE)


def test_a_kick_that_ends_the_run_must_hold_its_own_tangent() -> None:
    (told,) = overlaps(steps({"leg": 500}, {"kick": {"rise": 5, "angle": 30, "toward": "in"}}))
    # 5 / sin 30 = 10 of 19.560291047472
    assert told["grow_rise_mm"] == pytest.approx(4.780145523736, abs=CLOSE)


def test_a_short_leg_beside_a_saddle_set_measured_to_its_middle_is_told() -> None:
    saddle = {"bends": 3, "rise": 60, "angle": 30, "toward": "in", "measured_to": "middle"}
    (told,) = overlaps(steps({"leg": 130}, {"saddle_set": saddle}, {"leg": 500}))
    # The outer corner lies 123.483339501605 before the middle: 6.516660498395 of 19.560291047472 are left.
    assert told["leg"] == 1
    assert told["grow_mm"] == pytest.approx(13.043630549077, abs=CLOSE)


SLOPES: list[tuple[str, Row]] = [
    ("offset", {"rise": 12, "angle": 30, "toward": "in"}),
    ("offset", {"rise": 12, "angle": 45, "toward": "in", "spread": 16, "spread_toward": "right"}),
    ("box_set", {"rise": 12, "angle": 45, "toward": "in"}),
    ("saddle_set", {"bends": 3, "rise": 10, "angle": 60, "toward": "in"}),
    ("saddle_set", {"bends": 4, "rise": 10, "angle": 30, "width": 90, "toward": "in"}),
    ("kick", {"rise": 5, "angle": 30, "toward": "in"}),
]


@pytest.mark.parametrize(
    ("name", "feature"), SLOPES, ids=["offset", "rolling offset", "box set", "saddle 3", "saddle 4", "kick"]
)
def test_a_rise_made_larger_by_what_was_told_is_enough(name: str, feature: Row) -> None:
    def spec(rise: float) -> dict[str, Any]:
        rows: list[Row] = [{"leg": 500}, {name: {**feature, "rise": rise}}]
        return steps(*rows, *([] if name == "kick" else [{"leg": 500}]))

    grow = overlaps(spec(feature["rise"]))[0]["grow_rise_mm"]
    assert planned(spec(feature["rise"] + grow + 1e-6))["developed_length"] > 0.0
    # ... and is no more than is needed.
    assert overlaps(spec(feature["rise"] + grow - 1e-3))


# -------------------------------------------------------------------------------------- beside other problems


def test_short_legs_are_told_beside_other_problems_of_the_spec() -> None:
    spec = points([0, 0, 0], [0, 0, 60], [600, 0, 60], joints={"clearence": 100}, run="x" * 300)
    assert ("overlap", "route.points[1]") in places(refused(spec))
    assert {problem["code"] for problem in refused(spec)} == {"overlap", "unknown-key", "out-of-range"}


def test_short_legs_are_told_where_the_stock_length_is_missing() -> None:
    spec = points([0, 0, 0], [0, 0, 60], [600, 0, 60])
    del spec["conduit"]["stock_length"]
    assert places(refused(spec)) == [("missing-key", "conduit.stock_length"), ("overlap", "route.points[1]")]


def test_a_refused_spec_is_left_as_it_was() -> None:
    spec = steps({"leg": 4, "to": "back"}, RIGHT_ANGLE, {"leg": 500})
    before = copy.deepcopy(spec)
    overlaps(spec)
    assert spec == before
