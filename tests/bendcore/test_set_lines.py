"""From a bend on paper to a mark brought to a set line of the bender (docs/engine.md, section 2).

The run: 1210 up to the back of a right angle to the right, 600 to a bend of 45 degrees in, 400. Corners at
1200 and 600 on. Begin and finish of the first bend 1127 and 1241.668131856027; straight between 600 - 73 -
30.237590053236 = 496.762409946764; of the second 1738.430541802791 and 1795.764607730805; cut
369.762409946764 past it, 2165.527017677569.
"""

from typing import Any

import pytest
from worked import CLOSE, bends, places, planned, refused, steps

from bendcore.order import bend_in_the_way, line_reach, marks_for_either_side, remeasured
from bendcore.spec import Former, LineKind, SetLine
from bendcore.units import Mm

CUT = 2165.527017677569


def two_bends(**line: Any) -> dict[str, Any]:
    former: dict[str, Any] = {"centreline_radius": 73.0}
    if line:
        former["set_line"] = line
    return steps(
        {"leg": 1210, "to": "back"},
        {"bend": 90, "toward": "right"},
        {"leg": 600},
        {"bend": 45, "toward": "in"},
        {"leg": 400},
        former=former,
    )


def sets(spec: dict[str, Any]) -> list[dict[str, Any]]:
    return [bend["set"] for bend in bends(planned(spec))]


def close(*figures: float) -> Any:
    return pytest.approx(list(figures), abs=CLOSE)


# -------------------------------------------------------------------------------------------------- set lines


@pytest.mark.parametrize(
    ("line", "held_start", "held_finish"),
    [
        # reach 0: begin, and begin + A
        ({"kind": "begin"}, (1127.0, 1738.430541802791), (1241.668131856027, 1795.764607730805)),
        # reach R + D/2 = 83
        ({"kind": "back"}, (1210.0, 1821.430541802791), (1158.668131856027, 1712.764607730805)),
        # reach 83 - 127 = -44; the first mark is 1210 - 127, what the arrow's maker says
        (
            {"kind": "arrow", "take_up": 127},
            (1083.0, 1694.430541802791),
            (1285.668131856027, 1839.764607730805),
        ),
        (
            {"kind": "arrow", "take_up": 50},
            (1160.0, 1771.430541802791),
            (1208.668131856027, 1762.764607730805),
        ),
        ({"kind": "own", "reach": 25.5}, (1152.5, 1763.930541802791), (1216.168131856027, 1770.264607730805)),
        (
            {"kind": "own", "reach": -25.5},
            (1101.5, 1712.930541802791),
            (1267.168131856027, 1821.264607730805),
        ),
        # the middle of the arc from either side: begin + A / 2
        (
            {"kind": "middle"},
            (1184.334065928014, 1767.097574766798),
            (1184.334065928014, 1767.097574766798),
        ),
    ],
    ids=["begin", "back", "arrow", "arrow past the begin", "own", "own before the begin", "middle"],
)
def test_the_mark_lies_by_the_reach_of_the_set_line_from_the_hold_side_tangent_point(
    line: dict[str, Any], held_start: tuple[float, float], held_finish: tuple[float, float]
) -> None:
    found = sets(two_bends(**line))
    assert [each["held_start"] for each in found] == close(*held_start)
    assert [each["held_finish"] for each in found] == close(*held_finish)
    assert [each["mark"] for each in found] == close(
        *held_start
    )  # without a bender every bend is held by the start
    assert [each["line"] for each in found] == [line["kind"]] * 2


def test_the_begin_line_is_what_nothing_said_means() -> None:
    assert sets(two_bends()) == sets(two_bends(kind="begin"))
    assert sets({**two_bends(), "former": {"centreline_radius": 73.0, "set_line": {}}}) == sets(two_bends())


def test_with_the_back_line_the_first_mark_is_the_finished_distance_whatever_the_radius() -> None:
    for radius in (15.0, 73.0, 201.7):
        spec = two_bends(kind="back")
        spec["former"]["centreline_radius"] = radius
        assert sets(spec)[0]["mark"] == pytest.approx(1210.0, abs=CLOSE)


def test_an_arrows_first_mark_is_the_wanted_distance_less_the_take_up() -> None:
    assert sets(two_bends(kind="arrow", take_up=152.4))[0]["mark"] == pytest.approx(1057.6, abs=CLOSE)


@pytest.mark.parametrize("kind", ["back", "middle"])
def test_no_set_line_moves_the_outline_positions_of_a_bend(kind: str) -> None:
    plain = [bend["marks"] for bend in bends(planned(two_bends()))]
    assert [bend["marks"] for bend in bends(planned(two_bends(kind=kind)))] == plain


def test_without_a_bender_bends_are_made_in_order_and_held_by_the_start() -> None:
    found = bends(planned(two_bends()))
    assert [(bend["order"], bend["held"]) for bend in found] == [(1, "start"), (2, "start")]


# ------------------------------------------------------------------------------------------------ re-measured


@pytest.mark.parametrize(
    ("line", "again"),
    [
        # mark - finish + T + D/2 = 1738.430541802791 - 1241.668131856027 + 73 + 10, and the reach more
        ({"kind": "begin"}, 579.762409946764),
        ({"kind": "back"}, 662.762409946764),
        ({"kind": "arrow", "take_up": 127}, 535.762409946764),
        ({"kind": "middle"}, 608.429442910771),
    ],
    ids=["begin", "back", "arrow", "middle"],
)
def test_beside_a_right_angle_already_made_the_mark_is_given_again_from_its_back(
    line: dict[str, Any], again: float
) -> None:
    first, second = sets(two_bends(**line))
    assert first["remeasure"] is None
    assert second["remeasure"] == pytest.approx(again, abs=CLOSE)


def test_beside_any_other_bend_there_is_no_re_measure() -> None:
    spec = steps(
        {"leg": 500},
        {"bend": 45, "toward": "right"},
        {"leg": 600},
        {"bend": 90, "toward": "in"},
        {"leg": 400},
    )
    assert [each["remeasure"] for each in sets(spec)] == [None, None]


def test_the_re_measure_is_from_the_nearest_bend_toward_the_datum_end() -> None:
    spec = steps(
        {"leg": 500}, {"bend": 90, "toward": "right"}, {"leg": 500},
        {"bend": 45, "toward": "in"}, {"leg": 500},
        {"bend": 90, "toward": "up"}, {"leg": 500}, {"bend": 30, "toward": "out"}, {"leg": 500},
    )  # fmt: skip
    again = [each["remeasure"] for each in sets(spec)]
    assert [each is None for each in again] == [True, False, True, False]
    # The last straight before a begin: 500 - 73 - 19.560291047472, and 73 + 10 to the back.
    assert again[3] == pytest.approx(490.439708952528, abs=CLOSE)


def test_a_bend_on_another_stick_is_no_neighbour() -> None:
    spec = steps(
        {"leg": 2000},
        {"bend": 90, "toward": "right"},
        {"leg": 3000},
        {"bend": 90, "toward": "in"},
        {"leg": 700},
    )
    plan = planned(spec)
    assert [len(stick["bends"]) for stick in plan["sticks"]] == [1, 1]
    assert [each["set"]["remeasure"] for each in bends(plan)] == [None, None]


# ------------------------------------------------------------------------------------------------------ sweep


def test_the_sweep_is_from_the_swing_side_tangent_point_to_the_end_of_the_stick_before_the_pull() -> None:
    # Held by the start, what lies past the bend is still straight: 2165.527017677569 less either finish.
    assert [each["sweep"] for each in sets(two_bends())] == close(923.858885821542, 369.762409946764)


def test_the_finish_allowance_swings_too() -> None:
    spec = {**two_bends(), "ends": {"finish": {"kind": "spout", "allowance": 20}}}
    assert [each["sweep"] for each in sets(spec)] == close(943.858885821542, 389.762409946764)


# -------------------------------------------------------------------------------------------- marks that fail


def stops(spec: dict[str, Any]) -> list[dict[str, Any]]:
    return [found for found in planned(spec)["findings"] if found["level"] == "stop"]


def test_a_mark_off_the_start_of_the_stick_is_a_stop_and_is_told_all_the_same() -> None:
    spec = two_bends(kind="own", reach=-1130)
    stop = stops(spec)[0]
    assert (stop["rule"], stop["where"]) == ("mark-off", "route.steps[1]")
    assert (stop["figures"]["stick"], stop["figures"]["bend"]) == (1, 1)
    assert stop["figures"]["mark_mm"] == pytest.approx(-3.0, abs=CLOSE)
    assert sets(spec)[0]["mark"] == pytest.approx(-3.0, abs=CLOSE)


def test_a_mark_off_the_finish_of_the_stick_is_a_stop() -> None:
    # The second bend's mark would be at 1738.430541802791 + 430, the stick is 2165.527017677569 long.
    (stop,) = stops(two_bends(kind="own", reach=430))
    assert (stop["rule"], stop["where"]) == ("mark-off", "route.steps[3]")
    assert stop["figures"]["mark_mm"] == pytest.approx(2168.430541802791, abs=CLOSE)
    assert stop["figures"]["cut_length_mm"] == pytest.approx(CUT, abs=CLOSE)


def test_a_mark_at_the_very_end_of_the_stick_is_on_it() -> None:
    spec = steps({"leg": 500}, {"bend": 90, "toward": "right"}, {"leg": 500})
    spec["former"]["set_line"] = {"kind": "own", "reach": -427}
    assert stops(spec) == []
    assert sets(spec)[0]["mark"] == 0.0
    spec["former"]["set_line"]["reach"] = -427.001
    assert len(stops(spec)) == 1


def test_a_mark_on_a_bend_already_made_is_a_stop() -> None:
    # 1738.430541802791 - 550 lies between 1127 and 1241.668131856027.
    (stop,) = stops(two_bends(kind="own", reach=-550))
    assert (stop["rule"], stop["where"], stop["figures"]["made_bend"]) == ("mark-off", "route.steps[3]", 1)
    assert stop["figures"]["mark_mm"] == pytest.approx(1188.430541802791, abs=CLOSE)


def test_a_mark_before_a_bend_already_made_is_a_stop() -> None:
    # 1738.430541802791 - 700 = 1038.430541802791 lies on the leg before the first bend, round its corner.
    (stop,) = stops(two_bends(kind="own", reach=-700))
    assert (stop["rule"], stop["figures"]["bend"], stop["figures"]["made_bend"]) == ("mark-off", 2, 1)


def test_a_mark_on_a_bend_still_to_be_made_is_no_stop() -> None:
    # The first mark at 1127 + 630 lies between 1738.430541802791 and 1795.764607730805, which is straight
    # yet.
    spec = two_bends(kind="own", reach=630)
    spec["route"]["steps"][4]["leg"] = 1100
    assert stops(spec) == []


def test_a_stop_does_not_keep_the_plan_from_being_given() -> None:
    plan = planned(two_bends(kind="own", reach=-1130))
    assert plan["sticks"][0]["cut_length"] == pytest.approx(CUT, abs=CLOSE)
    assert len(bends(plan)) == 2


# --------------------------------------------------------------------------------------------- what goes with


def test_take_up_goes_with_an_arrow_and_reach_with_an_own_line_and_each_is_needed_there() -> None:
    cases = {
        "arrow": [("missing-key", "former.set_line.take_up")],
        "own": [("missing-key", "former.set_line.reach")],
    }
    for kind, told in cases.items():
        assert places(refused(two_bends(kind=kind))) == told
    for kind in ("begin", "back", "middle"):
        assert places(refused(two_bends(kind=kind, take_up=5, reach=5))) == [
            ("conflict", "former.set_line.take_up"),
            ("conflict", "former.set_line.reach"),
        ]
    assert places(refused(two_bends(kind="own", take_up=5))) == [
        ("conflict", "former.set_line.take_up"),
        ("missing-key", "former.set_line.reach"),
    ]


def test_a_take_up_of_nothing_is_a_take_up() -> None:
    # The arrow stands at the back: as the back line.
    assert sets(two_bends(kind="arrow", take_up=0))[0]["mark"] == pytest.approx(1210.0, abs=CLOSE)
    assert sets(two_bends(kind="own", reach=0))[0]["mark"] == pytest.approx(1127.0, abs=CLOSE)


# ---------------------------------------------------------------------------------------------- by themselves


def test_reach_is_the_same_for_every_angle() -> None:
    former = Former(Mm(73.0), SetLine(LineKind.ARROW, take_up=Mm(127.0)))
    assert line_reach(former, Mm(73.0), Mm(20.0)) == -44.0
    assert line_reach(Former(Mm(73.0)), Mm(73.0), Mm(20.0)) == 0.0
    assert line_reach(Former(Mm(73.0), SetLine(LineKind.MIDDLE)), Mm(73.0), Mm(20.0)) is None


def test_marks_for_either_side_run_from_their_own_tangent_points() -> None:
    assert marks_for_either_side(Mm(100.0), Mm(50.0), Mm(-12.0)) == (88.0, 162.0)
    assert marks_for_either_side(Mm(100.0), Mm(50.0), None) == (125.0, 125.0)


def test_a_re_measure_wants_a_right_angle() -> None:
    # 500 - 300 + 73 + 10
    assert remeasured(Mm(500.0), Mm(300.0), Mm(73.0), 90.0, diameter=Mm(20.0)) == pytest.approx(
        283.0, abs=CLOSE
    )
    assert remeasured(Mm(500.0), Mm(300.0), Mm(73.0), 89.5, diameter=Mm(20.0)) is None


def test_a_mark_must_lie_past_every_bend_already_made() -> None:
    made = [(Mm(100.0), Mm(200.0)), (Mm(300.0), Mm(400.0))]
    # Before or on a made bend the stick is no longer straight from the set line to the tangent point.
    places_and_bends = {50.0: 1, 150.0: 1, 200.0: 2, 250.0: 2, 399.9: 2, 400.0: None, 500.0: None}
    assert {place: bend_in_the_way(Mm(place), made) for place in places_and_bends} == places_and_bends


def test_a_mark_that_falls_before_a_made_bend_is_a_stop_without_a_re_measure() -> None:
    spec = steps(
        {"leg": 702.6, "to": "back"}, {"bend": 90, "toward": "right"}, {"leg": 233.9},
        {"bend": 37.4, "toward": "in"}, {"leg": 390.7},
    )  # fmt: skip
    spec["former"]["set_line"] = {"kind": "own", "reach": -300}
    plan = planned(spec)
    # Bend 1 is made from 619.6 to 734.3; the mark of bend 2 lies 300 before its begin, at 570.5.
    (stop,) = [finding for finding in plan["findings"] if finding["rule"] == "mark-off"]
    assert (stop["level"], stop["figures"]["bend"], stop["figures"]["made_bend"]) == ("stop", 2, 1)
    assert bends(plan)[1]["set"]["mark"] == pytest.approx(570.46, abs=0.01)
    assert bends(plan)[1]["set"]["remeasure"] is None
