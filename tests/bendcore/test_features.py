"""Offsets, saddle sets, kicks and box sets: exact figures, and the handbook's beside them."""

from typing import Any

import pytest
from worked import CLOSE, bends, planned, steps, walked

from bendcore import features
from bendcore.errors import BendsOverlap
from bendcore.units import Deg, Mm

# ---------------------------------------------------------------------------------------------- the relations


def test_like_marks_of_an_offset_are_the_slope_less_one_gain_apart() -> None:
    # 100 / sin 30 - 0.897871476268
    assert features.like_mark_spacing(Mm(100.0), Deg(30.0), Mm(73.0)) == pytest.approx(
        199.102128523732, abs=CLOSE
    )
    # 30 / sin 22.5 - G(93.4, 22.5) = 78.393777892583 - 0.478735995859
    assert features.like_mark_spacing(Mm(30.0), Deg(22.5), Mm(93.4)) == pytest.approx(
        77.915041896723, abs=CLOSE
    )


def test_an_offset_shrinks_by_the_handbooks_figure_less_two_gains() -> None:
    # 100 tan 15 - 2 * 0.897871476268 = 26.794919243112 - 1.795742952536
    assert features.offset_shrink(Mm(100.0), Deg(30.0), Mm(73.0)) == pytest.approx(24.999176290576, abs=CLOSE)


def test_an_offset_whose_slope_is_shorter_than_its_bends_says_by_how_much_the_rise_must_grow() -> None:
    # Slope 12 / sin 30 = 24; two tangents need 39.120582094944, that is a rise of 19.560291047472.
    with pytest.raises(BendsOverlap) as refused:
        features.like_mark_spacing(Mm(12.0), Deg(30.0), Mm(73.0))
    assert refused.value.where == "rise"
    assert refused.value.figures["grow_mm"] == pytest.approx(7.560291047472, abs=CLOSE)
    assert "19.6 mm or more" in refused.value.text


def test_an_offset_whose_bends_just_touch_has_a_spacing() -> None:
    # 146 sin 90 = 146 rise at 90 degrees: slope 146, spacing 146 - 31.331868143973, one arc.
    assert features.like_mark_spacing(Mm(146.0), Deg(90.0), Mm(73.0)) == pytest.approx(
        114.668131856027, abs=CLOSE
    )


def test_the_true_rise_of_a_rolling_offset_is_the_hypotenuse() -> None:
    assert features.true_rise(Mm(60.0), Mm(80.0)) == pytest.approx(100.0, abs=CLOSE)
    assert features.true_rise(Mm(60.0), Mm(0.0)) == 60.0


def test_the_middle_corner_of_a_saddle_set_lies_above_the_top_of_its_arc() -> None:
    # 60 + 73 (1 / cos 30 - 1) = 60 + 73 * 0.154700538379
    assert features.saddle_corner_height(Mm(60.0), Deg(30.0), Mm(73.0)) == pytest.approx(
        71.293139301685, abs=CLOSE
    )


def test_a_three_bend_saddle_set_shrinks_by_its_slopes_less_three_gains() -> None:
    # 2 * 71.293139301685 tan 15 - 2 * 0.897871476268 - 7.847718064334
    assert features.three_bend_saddle_shrink(Mm(60.0), Deg(30.0), Mm(73.0)) == pytest.approx(
        28.562417186662, abs=CLOSE
    )


# -------------------------------------------------------------------------------------------------- in a plan


def test_an_offset_is_two_opposite_bends_a_spacing_apart() -> None:
    plan = planned(steps({"leg": 500}, {"offset": {"rise": 100, "angle": 30, "toward": "in"}}, {"leg": 400}))
    first, second = bends(plan)
    assert (first["angle"], second["angle"]) == (30.0, 30.0)
    assert (first["roll"], second["roll"]) == (0.0, 180.0)
    # 500 - 19.560291047472, and 199.102128523732 on
    assert first["begin"] == pytest.approx(480.439708952528, abs=CLOSE)
    assert second["begin"] == pytest.approx(679.541837476260, abs=CLOSE)
    # 500 + 200 + 400 - 2 * 0.897871476268; it covers 500 + 100 / tan 30 + 400 = 1073.205080756888 and shrinks
    # 24.999176290576
    assert plan["developed_length"] == pytest.approx(1098.204257047464, abs=CLOSE)


def test_an_offset_at_a_right_angle_goes_square_across() -> None:
    plan = planned(steps({"leg": 300}, {"offset": {"rise": 200, "angle": 90, "toward": "in"}}, {"leg": 300}))
    # 300 + 200 + 300 - 2 * 31.331868143973
    assert plan["developed_length"] == pytest.approx(737.336263712055, abs=CLOSE)


def test_the_plane_of_a_rolling_offset_is_turned_by_the_angle_of_spread_over_rise() -> None:
    plan = planned(
        steps(
            {"leg": 500},
            {"bend": 90, "toward": "right"},
            {"leg": 500},
            {"offset": {"rise": 60, "angle": 45, "toward": "up", "spread": 80, "spread_toward": "in"}},
            {"leg": 400},
        )
    )
    # After the right angle an offset straight up rolls 180. Along east, in lies on the way from down (0) by
    # +90 to up (180): toward in by atan2(80, 60) = 53.130102354156 is 180 - 53.130102354156.
    rolls = [bend["roll"] for bend in bends(plan)]
    assert rolls[:2] == [0.0, pytest.approx(126.869897645844, abs=CLOSE)]
    assert rolls[2] == pytest.approx(-53.130102354156, abs=CLOSE)  # back the other way
    # True rise 100, slope 100 / sin 45: like marks are 141.421356237310 - 3.141114178458 apart.
    assert bends(plan)[2]["begin"] - bends(plan)[1]["begin"] == pytest.approx(138.280242058851, abs=CLOSE)


def test_the_part_of_a_spread_square_to_heading_and_rise_counts() -> None:
    place = walked(
        steps(
            {"leg": 500},
            {"bend": 45, "toward": "right"},
            {"leg": 500},
            {"offset": {"rise": 60, "angle": 45, "toward": "in", "spread": 80, "spread_toward": "up"}},
            {"leg": 400},
        )
    ).route.finish
    # True rise 100, so at 45 it runs 100. Along the slope to the right 500 + 100 + 400, that is
    # 707.106781186548 right and up; then 80 square to it toward up: 56.568542494924 up and back.
    assert place == pytest.approx((650.538238691624, 60.0, 1263.675323681472), abs=CLOSE)


def test_a_spread_of_nothing_is_a_plain_offset() -> None:
    rolling = {"rise": 100, "angle": 30, "toward": "in", "spread": 0, "spread_toward": "right"}
    plain = {"rise": 100, "angle": 30, "toward": "in"}
    assert planned(steps({"leg": 500}, {"offset": rolling}, {"leg": 400})) == planned(
        steps({"leg": 500}, {"offset": plain}, {"leg": 400})
    )


def test_a_three_bend_saddle_set_turns_twice_its_outer_angle_in_the_middle() -> None:
    saddle = {"bends": 3, "rise": 60, "angle": 30, "toward": "left"}
    plan = planned(steps({"leg": 500}, {"saddle_set": saddle}, {"leg": 400}))
    assert [bend["angle"] for bend in bends(plan)] == [30.0, 60.0, 30.0]
    assert [bend["roll"] for bend in bends(plan)] == [0.0, 180.0, 0.0]
    centres = [bend["marks"]["centre"] for bend in bends(plan)]
    # Outer corner at 500: centre = 500 - 19.560291047472 + 38.222710618676 / 2. Centre to centre is the slope
    # less half the gains of both its bends: 142.586278603371 - (0.897871476268 + 7.847718064334) / 2 =
    # 138.213483833070.
    assert centres == pytest.approx([499.551064261866, 637.764548094936, 775.978031928006], abs=CLOSE)
    # It covers 500 + 2 * 123.483339501605 + 400 and shrinks 28.562417186662.
    assert plan["developed_length"] == pytest.approx(1175.529096189871, abs=CLOSE)


def test_a_four_bend_saddle_set_is_two_offsets_with_its_width_between() -> None:
    saddle = {"bends": 4, "rise": 100, "angle": 45, "width": 200, "toward": "up"}
    plan = planned(steps({"leg": 500}, {"saddle_set": saddle}, {"leg": 400}, beside={"heading": "right"}))
    assert [bend["angle"] for bend in bends(plan)] == [45.0] * 4
    assert [bend["roll"] for bend in bends(plan)] == [0.0, 180.0, 180.0, 0.0]
    begins = [bend["begin"] for bend in bends(plan)]
    # 500 - 30.237590053236; spacing 138.280242058851; 200 - 3.141114178458 = 196.858885821542; spacing again
    assert begins == pytest.approx(
        [469.762409946764, 608.042652005615, 804.901537827157, 943.181779886009], abs=CLOSE
    )
    # It covers 500 + 100 + 200 + 100 + 400 and shrinks twice 35.139127880393.
    assert plan["developed_length"] == pytest.approx(1370.278255760786, abs=CLOSE)


def test_measured_to_the_middle_the_legs_beside_a_saddle_set_meet_at_the_middle_of_the_obstruction() -> None:
    saddle = {"bends": 3, "rise": 60, "angle": 30, "toward": "left", "measured_to": "middle"}
    route = walked(steps({"leg": 500}, {"saddle_set": saddle}, {"leg": 400})).route
    # The middle corner stands over 500, the outer ones 71.293139301685 / tan 30 = 123.483339501605 beside it.
    assert [place[2] for place in route.points] == pytest.approx(
        [0.0, 376.516660498395, 500.0, 623.483339501605, 900.0]
    )
    saddle = {"bends": 4, "rise": 100, "angle": 45, "width": 200, "toward": "in", "measured_to": "middle"}
    route = walked(steps({"leg": 500}, {"saddle_set": saddle}, {"leg": 400})).route
    # 100 / tan 45 + 200 / 2 = 200 from the outer corner to the middle
    assert [place[2] for place in route.points] == pytest.approx([0.0, 300.0, 400.0, 600.0, 700.0, 900.0])


def test_measured_to_the_outer_corner_is_what_nothing_said_means() -> None:
    saddle = {"bends": 3, "rise": 60, "angle": 30, "toward": "left"}
    said = planned(steps({"leg": 500}, {"saddle_set": {**saddle, "measured_to": "outer"}}, {"leg": 400}))
    assert planned(steps({"leg": 500}, {"saddle_set": saddle}, {"leg": 400})) == said


def test_a_kick_is_a_bend_and_the_leg_over_its_rise() -> None:
    plan = planned(steps({"leg": 500}, {"kick": {"rise": 100, "angle": 30, "toward": "in"}}))
    (bend,) = bends(plan)
    assert bend["begin"] == pytest.approx(480.439708952528, abs=CLOSE)
    # 500 + 100 / sin 30 - 0.897871476268
    assert plan["developed_length"] == pytest.approx(699.102128523732, abs=CLOSE)


def test_what_follows_a_kick_stands_where_its_leg_ends() -> None:
    route = walked(
        steps(
            {"leg": 500},
            {"kick": {"rise": 150, "angle": 30, "toward": "right"}},
            {"bend": 90, "toward": "in"},
            {"leg": 300},
        )
    ).route
    # Its leg is 300 long: 150 to the right, 300 cos 30 = 259.807621135332 up.
    assert route.points[2] == pytest.approx((150.0, 0.0, 759.807621135332), abs=CLOSE)


def test_a_feature_may_follow_a_kick() -> None:
    route = walked(
        steps(
            {"leg": 500},
            {"kick": {"rise": 150, "angle": 30, "toward": "right"}},
            {"offset": {"rise": 50, "angle": 30, "toward": "in"}},
            {"leg": 300},
        )
    ).route
    assert [leg.length for leg in route.legs] == pytest.approx([500.0, 300.0, 100.0, 300.0], abs=CLOSE)


def test_a_box_set_is_a_small_offset() -> None:
    rise = {"rise": 30, "angle": 22.5, "toward": "in"}
    box = planned(steps({"leg": 500}, {"box_set": rise}, {"leg": 60}))
    offset = planned(steps({"leg": 500}, {"offset": rise}, {"leg": 60}))
    assert box["sticks"] == offset["sticks"]


def test_an_offset_ends_on_the_heading_it_began_with_and_a_kick_does_not() -> None:
    after_offset = walked(
        steps({"leg": 500}, {"offset": {"rise": 100, "angle": 30, "toward": "in"}}, {"leg": 400})
    ).route.legs[-1]
    after_kick = walked(steps({"leg": 500}, {"kick": {"rise": 100, "angle": 30, "toward": "in"}})).route.legs[
        -1
    ]
    assert after_offset.direction == (0.0, 0.0, 1.0)
    assert after_kick.direction == pytest.approx((0.0, 0.5, 0.866025403784439), abs=CLOSE)


# ------------------------------------------------------------------------------------- the handbook's figures


def handbook(*rows: dict[str, Any], radius: float = 73.0) -> list[dict[str, Any]]:
    spec = steps(*rows, former={"centreline_radius": radius})
    return [finding for finding in planned(spec)["findings"] if finding["rule"] == "handbook-figures"]


def test_the_handbooks_figures_of_an_offset_stand_beside_the_exact_ones_as_a_note() -> None:
    (note,) = handbook({"leg": 500}, {"offset": {"rise": 100, "angle": 30, "toward": "in"}}, {"leg": 400})
    assert note["level"] == "note"
    assert note["where"] == "route.steps[1].offset"
    assert note["source"]
    figures = note["figures"]
    assert figures["spacing_mm"] == pytest.approx(199.102128523732, abs=CLOSE)
    assert figures["handbook_spacing_mm"] == pytest.approx(200.0, abs=CLOSE)
    assert figures["shrink_mm"] == pytest.approx(24.999176290576, abs=CLOSE)
    assert figures["handbook_shrink_mm"] == pytest.approx(26.794919243112, abs=CLOSE)


def test_handbook_figures_off_by_a_millimetre_or_less_are_not_told() -> None:
    # R = 40: 2 G = 2 * 40 * (2 tan 15 - pi/6) = 0.983968741115, under 1. R = 41: 1.008567959643.
    rows = ({"leg": 500}, {"offset": {"rise": 100, "angle": 30, "toward": "in"}}, {"leg": 400})
    assert handbook(*rows, radius=40.0) == []
    assert len(handbook(*rows, radius=41.0)) == 1


def test_nothing_is_computed_from_the_handbooks_figures() -> None:
    # The exact spacing is in the marks, note or no note.
    for radius, spacing in ((40.0, 199.508015629443), (41.0, 199.495716020179)):
        first, second = bends(
            planned(
                steps(
                    {"leg": 500},
                    {"offset": {"rise": 100, "angle": 30, "toward": "in"}},
                    {"leg": 400},
                    former={"centreline_radius": radius},
                )
            )
        )
        # 200 - G, with G = R (2 tan 15 - pi/6) = 0.012299609263944 R
        assert second["begin"] - first["begin"] == pytest.approx(spacing, abs=CLOSE)


def test_a_saddle_set_tells_the_spacing_from_the_middle_mark_and_the_shrink_of_the_whole_set() -> None:
    saddle = {"bends": 3, "rise": 60, "angle": 30, "toward": "left"}
    (note,) = handbook({"leg": 500}, {"saddle_set": saddle}, {"leg": 400})
    assert note["where"] == "route.steps[1].saddle_set"
    figures = note["figures"]
    assert figures["spacing_mm"] == pytest.approx(138.213483833070, abs=CLOSE)
    assert figures["handbook_spacing_mm"] == pytest.approx(120.0, abs=CLOSE)  # 60 / sin 30
    assert figures["shrink_mm"] == pytest.approx(28.562417186662, abs=CLOSE)
    assert figures["handbook_shrink_mm"] == pytest.approx(32.153903091735, abs=CLOSE)  # 2 * 60 tan 15


def test_a_four_bend_saddle_set_shrinks_as_two_offsets() -> None:
    saddle = {"bends": 4, "rise": 100, "angle": 45, "width": 200, "toward": "in"}
    (note,) = handbook({"leg": 500}, {"saddle_set": saddle}, {"leg": 400})
    assert note["figures"]["shrink_mm"] == pytest.approx(70.278255760786, abs=CLOSE)
    assert note["figures"]["handbook_shrink_mm"] == pytest.approx(82.842712474619, abs=CLOSE)
    assert note["figures"]["spacing_mm"] == pytest.approx(138.280242058851, abs=CLOSE)


def test_the_handbook_is_told_of_a_rolling_offset_by_its_true_rise() -> None:
    offset = {"rise": 60, "angle": 45, "toward": "right", "spread": 80, "spread_toward": "in"}
    (note,) = handbook({"leg": 500}, {"offset": offset}, {"leg": 400})
    assert note["figures"]["handbook_spacing_mm"] == pytest.approx(141.421356237310, abs=CLOSE)
    assert note["figures"]["handbook_shrink_mm"] == pytest.approx(41.421356237310, abs=CLOSE)


def test_each_feature_has_its_own_note_at_its_own_step() -> None:
    notes = handbook(
        {"leg": 500},
        {"offset": {"rise": 100, "angle": 30, "toward": "in"}},
        {"leg": 400},
        {"box_set": {"rise": 90, "angle": 45, "toward": "out"}},
        {"leg": 60},
    )
    assert [note["where"] for note in notes] == ["route.steps[1].offset", "route.steps[3].box_set"]


def test_a_kick_has_no_handbook_figures() -> None:
    assert handbook({"leg": 500}, {"kick": {"rise": 150, "angle": 45, "toward": "in"}}) == []
