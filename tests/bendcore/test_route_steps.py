"""Routes walked in steps as a tape measures: headings, turns, conventions, and what cannot be walked."""

from typing import Any

import pytest
from worked import CLOSE, bends, places, planned, refused, run, steps, walked

Row = dict[str, Any]

RIGHT_ANGLE: Row = {"bend": 90, "toward": "right"}
OFFSET: Row = {"offset": {"rise": 100, "angle": 30, "toward": "in"}}
KICK: Row = {"kick": {"rise": 150, "angle": 30, "toward": "in"}}


def legs(*rows: Row, **beside: Any) -> list[float]:
    return [leg.length for leg in walked(steps(*rows, beside=beside)).route.legs]


# ------------------------------------------------------------------------------------------ start and heading


def test_a_walk_starts_at_the_origin_and_goes_up_unless_told() -> None:
    route = walked(steps({"leg": 500})).route
    assert route.points == ((0.0, 0.0, 0.0), (0.0, 0.0, 500.0))


@pytest.mark.parametrize(
    ("heading", "way"),
    [
        ("up", (0, 0, 1)),
        ("down", (0, 0, -1)),
        ("north", (0, 1, 0)),
        ("in", (0, 1, 0)),
        ("south", (0, -1, 0)),
        ("out", (0, -1, 0)),
        ("east", (1, 0, 0)),
        ("right", (1, 0, 0)),
        ("west", (-1, 0, 0)),
        ("left", (-1, 0, 0)),
    ],
)
def test_x_is_east_or_right_y_is_north_or_in_and_z_is_up(heading: str, way: tuple[float, ...]) -> None:
    route = walked(steps({"leg": 500}, beside={"heading": heading, "start": [10, 20, 30]})).route
    assert route.start == (10.0, 20.0, 30.0)
    assert route.finish == (10 + 500 * way[0], 20 + 500 * way[1], 30 + 500 * way[2])


def test_the_contracts_example_of_steps_is_walked_as_measured() -> None:
    spec = run(
        route={
            "start": [0, 0, 0],
            "heading": "up",
            "steps": [
                {"leg": 1210, "to": "back"},
                {"bend": 90, "toward": "right"},
                {"leg": 600},
                {"offset": {"rise": 50, "angle": 30, "toward": "in"}},
                {"leg": 800, "to": "corner"},
                {"bend": 45, "toward": "up"},
                {"leg": 400, "to": "face"},
            ],
        }
    )
    # 1210 - 10 to the corner; 50 / sin 30 = 100 for the slope, its run 50 / tan 30 = 86.602540378444; 400 at
    # 45 degrees is 282.842712474619 each way
    assert walked(spec).route.points == (
        pytest.approx((0.0, 0.0, 0.0)),
        pytest.approx((0.0, 0.0, 1200.0)),
        pytest.approx((600.0, 0.0, 1200.0)),
        pytest.approx((686.602540378444, 50.0, 1200.0), abs=CLOSE),
        pytest.approx((1486.602540378444, 50.0, 1200.0), abs=CLOSE),
        pytest.approx((1769.445252853063, 50.0, 1482.842712474619), abs=CLOSE),
    )


# ------------------------------------------------------------------------------------------------------ turns


def test_a_turn_goes_by_its_angle_in_the_plane_of_heading_and_toward() -> None:
    route = walked(steps({"leg": 500}, {"bend": 60, "toward": "right"}, {"leg": 400})).route
    # 60 from up toward the right: 400 sin 60, 400 cos 60
    assert route.finish == pytest.approx((346.410161513775, 0.0, 700.0), abs=CLOSE)


def test_only_the_part_of_toward_square_to_the_heading_counts() -> None:
    # Up, 45 to the right, then 45 toward up: only its part square to the slope counts, and the run is upright
    # again.
    route = walked(
        steps(
            {"leg": 500},
            {"bend": 45, "toward": "right"},
            {"leg": 400},
            {"bend": 45, "toward": "up"},
            {"leg": 300},
        )
    ).route
    assert route.legs[-1].direction == pytest.approx((0.0, 0.0, 1.0), abs=CLOSE)
    # ... and 90 toward up from the slope goes up and back to the left.
    route = walked(
        steps(
            {"leg": 500},
            {"bend": 45, "toward": "right"},
            {"leg": 400},
            {"bend": 90, "toward": "up"},
            {"leg": 300},
        )
    ).route
    assert route.legs[-1].direction == pytest.approx((-0.707106781186548, 0.0, 0.707106781186548), abs=CLOSE)


@pytest.mark.parametrize(
    ("heading", "toward"), [("up", "up"), ("up", "down"), ("in", "south"), ("left", "east")]
)
def test_toward_along_the_present_heading_is_refused_at_its_step(heading: str, toward: str) -> None:
    problems = refused(
        steps({"leg": 500}, {"bend": 90, "toward": toward}, {"leg": 500}, beside={"heading": heading})
    )
    assert places(problems) == [("cannot-walk", "route.steps[1].toward")]


@pytest.mark.parametrize("name", ["offset", "kick", "box_set", "saddle_set"])
def test_a_feature_toward_the_present_heading_is_refused_at_its_step(name: str) -> None:
    row: Row = {name: {"rise": 150, "angle": 30, "toward": "up"}}
    if name == "saddle_set":
        row[name]["bends"] = 3
    rows = [{"leg": 500}, row] + ([] if name == "kick" else [{"leg": 500}])
    assert places(refused(steps(*rows))) == [("cannot-walk", f"route.steps[1].{name}.toward")]


def test_after_a_direction_that_cannot_be_told_later_ones_are_not_judged_but_short_legs_are() -> None:
    # After "up while going up" nobody knows the heading, so the second "up" may be good; the leg of 10
    # between two right angles is 136 short whichever way it goes.
    problems = refused(
        steps(
            {"leg": 500},
            {"bend": 90, "toward": "up"},
            {"leg": 10},
            {"bend": 90, "toward": "up"},
            {"leg": 500},
        )
    )
    assert places(problems) == [("cannot-walk", "route.steps[1].toward"), ("overlap", "route.steps[2]")]


@pytest.mark.parametrize("sideways", ["in", "out", "up", "down"])
def test_a_spread_along_the_heading_or_the_rise_is_refused(sideways: str) -> None:
    offset = {"rise": 100, "angle": 30, "toward": "in", "spread": 50, "spread_toward": sideways}
    problems = refused(steps({"leg": 500}, {"offset": offset}, {"leg": 500}))
    assert places(problems) == [("cannot-walk", "route.steps[1].offset.spread_toward")]


def test_a_turn_straight_back_is_refused_and_says_nothing_of_the_legs_beside_it() -> None:
    problems = refused(
        steps({"leg": 500, "to": "back"}, {"bend": 180, "toward": "right"}, {"leg": 500, "from": "back"})
    )
    assert places(problems) == [("reversal", "route.steps[1]")]


@pytest.mark.parametrize("angle", [0, 0.00005, -90, 180.1])
def test_a_turn_that_is_no_bend_is_refused_at_its_step(angle: float) -> None:
    problems = refused(steps({"leg": 500}, {"bend": angle, "toward": "right"}, {"leg": 500}))
    assert places(problems) == [("out-of-range", "route.steps[1].bend")]


def test_a_saddle_set_whose_middle_bend_would_turn_back_is_refused() -> None:
    # An outer angle of 89.99998 has a middle bend of 179.99996.
    saddle = {"bends": 3, "rise": 100, "angle": 89.99998, "toward": "in"}
    problems = refused(steps({"leg": 5000}, {"saddle_set": saddle}, {"leg": 5000}))
    assert ("reversal", "route.steps[1].saddle_set") in places(problems)


# ---------------------------------------------------------------------------------- what a leg is measured to

# Each convention at a right angle (outline 10), at 45 (4.142135623731) and at a feature of 30
# (2.679491924311).


@pytest.mark.parametrize(
    ("to", "beside", "length"),
    [
        ({}, {}, 1200.0),
        ({"to": "corner"}, {}, 1200.0),
        ({"to": "back"}, {}, 1190.0),
        ({"to": "inside"}, {}, 1210.0),
        ({"to": "wall"}, {}, 1190.0),  # a standoff of 0: the wall is the back
        ({"to": "wall"}, {"standoff": 15}, 1175.0),
        ({"to": "wall", "standoff": 22.5}, {"standoff": 15}, 1167.5),  # a leg may have its own
        ({"to": "wall", "standoff": 0}, {"standoff": 15}, 1190.0),  # 0 is a standoff too
        ({"to": "back"}, {"standoff": 15}, 1190.0),  # and only wall asks for it
    ],
)
def test_a_leg_to_a_right_angle_is_corner_to_corner_by_its_convention(
    to: Row, beside: Row, length: float
) -> None:
    assert legs({"leg": 1200, **to}, RIGHT_ANGLE, {"leg": 600}, **beside)[0] == pytest.approx(
        length, abs=CLOSE
    )
    # The same from the near end of the leg after.
    near = {"from" if key == "to" else key: value for key, value in to.items()}
    assert legs({"leg": 600}, RIGHT_ANGLE, {"leg": 1200, **near}, **beside)[1] == pytest.approx(
        length, abs=CLOSE
    )


@pytest.mark.parametrize(
    ("to", "length"),
    [
        ("corner", 1200.0),
        ("back", 1195.857864376269),
        ("inside", 1204.142135623731),
        ("wall", 1189.644660940673),
    ],
)
def test_at_a_flatter_bend_the_outline_corner_is_nearer(to: str, length: float) -> None:
    # 10 tan 22.5 = 4.142135623731; the wall at a standoff of 15: 25 tan 22.5 = 10.355339059327
    found = legs({"leg": 1200, "to": to}, {"bend": 45, "toward": "in"}, {"leg": 600}, standoff=15)
    assert found[0] == pytest.approx(length, abs=CLOSE)


@pytest.mark.parametrize(("to", "length"), [("back", 497.320508075689), ("inside", 502.679491924311)])
@pytest.mark.parametrize(
    "feature",
    [
        OFFSET,
        KICK,
        {"box_set": {"rise": 100, "angle": 30, "toward": "in"}},
        {"saddle_set": {"bends": 3, "rise": 60, "angle": 30, "toward": "in"}},
        {"saddle_set": {"bends": 4, "rise": 60, "angle": 30, "width": 90, "toward": "in"}},
    ],
)
def test_at_a_feature_its_outer_corners_angle_counts(feature: Row, to: str, length: float) -> None:
    # 10 tan 15 = 2.679491924311
    rows = [{"leg": 500, "to": to}, feature] + ([] if "kick" in feature else [{"leg": 500, "from": to}])
    found = legs(*rows)
    assert found[0] == pytest.approx(length, abs=CLOSE)
    if "kick" not in feature:
        assert found[-1] == pytest.approx(length, abs=CLOSE)


def test_back_to_back_takes_half_a_diameter_by_the_tangent_of_half_of_either_angle() -> None:
    # 900 - 10 - 4.142135623731, and inside to inside as much more
    rows = (
        {"leg": 500},
        RIGHT_ANGLE,
        {"leg": 900, "from": "back", "to": "back"},
        {"bend": 45, "toward": "in"},
    )
    assert legs(*rows, {"leg": 500})[1] == pytest.approx(885.857864376269, abs=CLOSE)
    rows = (
        {"leg": 500},
        RIGHT_ANGLE,
        {"leg": 900, "from": "inside", "to": "inside"},
        {"bend": 45, "toward": "in"},
    )
    assert legs(*rows, {"leg": 500})[1] == pytest.approx(914.142135623731, abs=CLOSE)


def test_an_end_contributes_nothing() -> None:
    assert legs({"leg": 500, "from": "face", "to": "face"}) == [500.0]
    assert legs(
        {"leg": 500, "from": "face", "to": "back"}, RIGHT_ANGLE, {"leg": 600, "from": "back", "to": "face"}
    ) == [
        490.0,
        590.0,
    ]


def test_an_allowance_lengthens_the_stick_and_not_the_leg_to_its_face() -> None:
    spec = steps(
        {"leg": 500},
        RIGHT_ANGLE,
        {"leg": 600, "to": "face"},
        ends={"finish": {"kind": "spout", "allowance": 12.5}},
    )
    assert walked(spec).route.legs[1].length == 600.0
    # 1100 - 31.331868143973 + 12.5
    assert planned(spec)["developed_length"] == pytest.approx(1081.168131856027, abs=CLOSE)


@pytest.mark.parametrize("convention", ["back", "inside", "wall"])
def test_back_inside_or_wall_at_an_end_of_the_run_is_refused(convention: str) -> None:
    at_finish = steps({"leg": 500}, RIGHT_ANGLE, {"leg": 600, "to": convention})
    assert places(refused(at_finish)) == [("cannot-walk", "route.steps[2].to")]
    at_start = steps({"leg": 500, "from": convention}, RIGHT_ANGLE, {"leg": 600})
    assert places(refused(at_start)) == [("cannot-walk", "route.steps[0].from")]


def test_face_at_a_bend_is_refused() -> None:
    spec = steps({"leg": 500, "to": "face"}, RIGHT_ANGLE, {"leg": 600, "from": "face"})
    assert places(refused(spec)) == [
        ("cannot-walk", "route.steps[0].to"),
        ("cannot-walk", "route.steps[2].from"),
    ]


def test_face_at_a_feature_is_refused() -> None:
    assert places(refused(steps({"leg": 500, "to": "face"}, OFFSET, {"leg": 600}))) == [
        ("cannot-walk", "route.steps[0].to")
    ]


@pytest.mark.parametrize(
    "feature",
    [
        OFFSET,
        {"box_set": {"rise": 100, "angle": 30, "toward": "in"}},
        {"saddle_set": {"bends": 3, "rise": 60, "angle": 30, "toward": "in"}},
    ],
)
def test_wall_at_a_feature_is_refused(feature: Row) -> None:
    spec = steps({"leg": 500, "to": "wall"}, feature, {"leg": 600, "from": "wall"})
    assert places(refused(spec)) == [
        ("cannot-walk", "route.steps[0].to"),
        ("cannot-walk", "route.steps[2].from"),
    ]


def test_wall_at_a_kick_is_refused() -> None:
    assert places(refused(steps({"leg": 500, "to": "wall"}, KICK))) == [("cannot-walk", "route.steps[0].to")]


@pytest.mark.parametrize("convention", ["back", "inside", "wall", "face"])
def test_only_corner_goes_with_a_saddle_set_measured_to_its_middle(convention: str) -> None:
    saddle = {"saddle_set": {"bends": 3, "rise": 60, "angle": 30, "toward": "in", "measured_to": "middle"}}
    assert len(legs({"leg": 500, "to": "corner"}, saddle, {"leg": 600, "from": "corner"})) == 4
    spec = steps({"leg": 500, "to": convention}, saddle, {"leg": 600, "from": convention})
    assert places(refused(spec)) == [
        ("cannot-walk", "route.steps[0].to"),
        ("cannot-walk", "route.steps[2].from"),
    ]


def test_a_refusal_of_a_convention_says_which_are_allowed_there() -> None:
    (problem,) = refused(steps({"leg": 500}, RIGHT_ANGLE, {"leg": 600, "to": "back"}))
    assert "corner or face is allowed" in problem["text"]
    (problem,) = refused(steps({"leg": 500, "to": "face"}, RIGHT_ANGLE, {"leg": 600}))
    assert "wall" in problem["text"]  # corner, back, inside and wall are all allowed at a bend
    (problem,) = refused(steps({"leg": 500, "to": "wall"}, OFFSET, {"leg": 600}))
    assert "corner, back or inside is allowed" in problem["text"]


# --------------------------------------------------------------------------------------- legs in a row, kicks


def test_two_legs_in_a_row_add_up() -> None:
    whole = planned(steps({"leg": 1210, "to": "back"}, RIGHT_ANGLE, {"leg": 600}))
    parts = planned(
        steps({"leg": 800}, {"leg": 410, "to": "back"}, RIGHT_ANGLE, {"leg": 150}, {"leg": 200}, {"leg": 250})
    )
    assert parts == whole


def test_a_leg_of_nothing_may_stand_in_the_row() -> None:
    assert legs({"leg": 0}, {"leg": 500}, {"leg": 0}, RIGHT_ANGLE, {"leg": 600}) == [500.0, 600.0]


def test_in_a_row_of_legs_only_the_outer_ends_have_something_to_measure_to() -> None:
    spec = steps({"leg": 500, "to": "back"}, {"leg": 500, "from": "back"}, RIGHT_ANGLE, {"leg": 600})
    assert places(refused(spec)) == [
        ("cannot-walk", "route.steps[0].to"),
        ("cannot-walk", "route.steps[1].from"),
    ]


def test_no_leg_follows_a_kick() -> None:
    spec = steps({"leg": 500}, KICK, {"leg": 600})
    assert places(refused(spec)) == [("cannot-walk", "route.steps[2]")]


def test_each_leg_after_a_kick_is_told() -> None:
    spec = steps({"leg": 500}, KICK, {"leg": 600}, RIGHT_ANGLE, {"leg": 500}, KICK, {"leg": 600})
    assert places(refused(spec)) == [("cannot-walk", "route.steps[2]"), ("cannot-walk", "route.steps[6]")]


def test_a_walk_that_leads_farther_than_coordinates_may_lie_is_refused_at_the_step_that_does() -> None:
    assert walked(steps({"leg": 1e7}, joints="none")).route.finish == (0.0, 0.0, 1e7)
    for rows, beside, where in (
        (({"leg": 6e6}, {"leg": 6e6}), {}, "route.steps[1]"),
        (({"leg": 5e6},), {"start": [0, 0, 9e6]}, "route.steps[0]"),
    ):
        assert places(refused(steps(*rows, beside=beside, joints="none"))) == [("out-of-range", where)]


@pytest.mark.parametrize("rows", [({"leg": 0},), ({"leg": 0}, {"leg": 0}), ({"leg": 1e-7},)])
def test_a_walk_without_length_is_refused(rows: tuple[Row, ...]) -> None:
    assert places(refused(steps(*rows))) == [("no-route", "route.steps")]


def test_a_turn_alone_is_an_overlap_at_both_its_legs() -> None:
    problems = refused(steps(RIGHT_ANGLE))
    assert [problem["code"] for problem in problems] == ["overlap", "overlap"]
    assert [problem["grow_mm"] for problem in problems] == [73.0, 73.0]


def test_corners_tell_their_steps() -> None:
    spec = steps({"leg": 500}, RIGHT_ANGLE, {"leg": 500}, OFFSET, {"leg": 500})
    route = walked(spec).route
    assert [corner.where for corner in route.corners] == [
        "route.steps[1]",
        "route.steps[3].offset",
        "route.steps[3].offset",
    ]


def test_steps_and_their_points_give_the_same_plan() -> None:
    by_steps = planned(
        steps({"leg": 1200}, RIGHT_ANGLE, {"leg": 900}, {"bend": 90, "toward": "in"}, {"leg": 700})
    )
    by_points = planned(run())
    assert by_steps == by_points
    assert [bend["roll"] for bend in bends(by_steps)] == [0.0, 90.0]
