"""The contract's input: each key accepted with its default or refused by name (docs/engine.md, section 4)."""

import copy
import json
from typing import Any

import pytest
from worked import LEAST, bends, places, planned, points, refused, run, steps

import bendcore
from bendcore import catalogue
from bendcore.spec import (
    BankAsked,
    BankCorners,
    BendStep,
    BoxSetStep,
    Calibration,
    Conduit,
    EndAsked,
    EndKind,
    EndsAsked,
    Former,
    Heading,
    Joining,
    JointsAsked,
    KickStep,
    LegStep,
    LineKind,
    Measured,
    OffsetStep,
    PointsRoute,
    RunSpec,
    SaddleMeasured,
    SaddleSetStep,
    SetLine,
    StepsRoute,
    Tolerance,
    read,
    read_json,
    write,
)

# Every key of the contract's table with a value that is good there.
ACCEPTED: dict[str, Any] = {
    "run": "run 07",
    "conduit": {"outside_diameter": 20.0, "stock_length": 3750.0},
    "former": {"centreline_radius": 73.0},
    "calibration": {"k": 0.02, "c": 1.0, "sd": 0.4},
    "route": {"points": [[0, 0, 0], [0, 0, 1000]]},
    "ends": {"start": {"kind": "spout", "allowance": 14}},
    "joints": {"clearance": 100},
    "parallel": {"count": 2, "spacing": 40, "toward": "right"},
    "tolerance": {"angle": 1.5},
    "bender": {"hold_min": 100.0, "swing_min": 80.0, "motion": "hooked"},
    "rules": "uk",
    "fit_from": "finish",
}


def problems_of_text(text: str | bytes) -> list[tuple[str, str]]:
    with pytest.raises(bendcore.SpecProblem) as caught:
        read_json(text)
    return [(problem.code, problem.where) for problem in caught.value.problems]


# -------------------------------------------------------------------------------------------- the least input


def test_the_least_input_is_conduit_former_and_route() -> None:
    assert len(bends(planned(LEAST))) == 2


@pytest.mark.parametrize("key", ["conduit", "former", "route"])
def test_each_part_of_the_least_input_is_needed(key: str) -> None:
    spec = run()
    del spec[key]
    assert ("missing-key", key) in places(refused(spec))


def test_all_else_has_a_documented_default() -> None:
    spec = read(LEAST)
    assert spec.run == ""
    assert spec.conduit.joining is Joining.THREADED
    assert spec.conduit.wall is None
    assert spec.former.set_line == SetLine(LineKind.BEGIN)
    assert spec.calibration is None
    assert (spec.ends.start, spec.ends.finish) == (EndAsked(EndKind.OPEN), EndAsked(EndKind.OPEN))
    assert isinstance(spec.joints, JointsAsked)
    assert (spec.joints.clearance, spec.joints.min_piece, spec.joints.gap) == (120.0, 150.0, 0.0)
    assert spec.parallel is None
    assert (spec.tolerance.angle, spec.tolerance.length, spec.tolerance.end_out) == (1.0, 2.0, 10.0)


def test_defaults_beside_what_is_told_stay() -> None:
    spec = read(
        run(joints={"gap": 2}, tolerance={"length": 5}, ends={"finish": {"kind": "spout", "allowance": 9}})
    )
    assert spec.joints == JointsAsked(120.0, 150.0, 2.0)
    assert spec.tolerance == Tolerance(1.0, 5.0, 10.0)
    assert spec.ends.start == EndAsked()
    route = read(steps({"leg": 500}, {"bend": 90, "toward": "in"}, {"leg": 500})).route
    assert isinstance(route, StepsRoute)
    assert (route.start, route.heading, route.standoff) == ((0.0, 0.0, 0.0), Heading.UP, 0.0)
    assert route.steps[0] == LegStep(500.0, Measured.CORNER, Measured.CORNER, None)


# ------------------------------------------------------------------------------------------ the table of keys


@pytest.mark.parametrize("key", ACCEPTED)
def test_a_key_of_the_contract_is_accepted(key: str) -> None:
    assert read(run(**{key: ACCEPTED[key]}))


def test_cables_are_judged_by_a_rule_pack_and_told_as_it_reckons() -> None:
    metric = [{"csa_mm2": 2.5, "type": "solid", "count": 6}]
    gauge = [{"size": "12 AWG", "insulation": "THHN", "count": 3}]
    assert read(run(rules="uk", cables=metric)).cables[0].count == 6
    assert read(run(rules="us", cables=gauge)).cables[0].count == 3
    assert places(refused(run(cables=metric))) == [("missing-key", "rules")]
    assert places(refused(run(rules="us", cables=metric))) == [("conflict", "cables[0]")]
    assert places(refused(run(rules="uk", cables=[*metric, *gauge]))) == [("conflict", "cables[1]")]
    both = {**metric[0], **gauge[0]}
    assert places(refused(run(rules="uk", cables=[both]))) == [("conflict", "cables[0]")]
    assert places(refused(run(rules="uk", cables=[{"count": 3}]))) == [("conflict", "cables[0]")]
    assert places(refused(run(rules="uk", cables=[3]))) == [("wrong-type", "cables[0]")]


def test_lengths_to_cut_from() -> None:
    offcut = {"length": 1800, "threaded_ends": 1, "count": 2}
    own = {"outside_diameter": 20.0, "stock_length": 3750.0}
    lengths = read(run(conduit={**own, "stock": [offcut]})).conduit.lengths
    assert [(each.length, each.threaded_ends, each.count) for each in lengths] == [
        (3750.0, 2, None),
        (1800.0, 1, 2),
    ]
    # the catalogue's length stands beside offcuts, and gives way to lengths bought at will
    catalogued = {"catalogue": "steel-20-heavy", "stock": [offcut]}
    assert [each.length for each in read(run(conduit=catalogued)).conduit.lengths] == [3750.0, 1800.0]
    bought = {"catalogue": "steel-20-heavy", "stock": [{"length": 3000}, offcut]}
    conduit = read(run(conduit=bought)).conduit
    assert [each.length for each in conduit.lengths] == [3000.0, 1800.0]
    assert conduit.stock_length == 3000.0
    both = {**own, "stock": [{"length": 3000}]}
    assert places(refused(run(conduit=both))) == [("conflict", "conduit.stock_length")]
    assert places(refused(run(conduit={**own, "stock": []}))) == [("out-of-range", "conduit.stock")]


def test_a_fitting_says_what_it_needs() -> None:
    def told(**fitting: Any) -> list[tuple[str, str]]:
        return places(refused(steps({"leg": 500}, {"fitting": fitting}, {"leg": 500})))

    at = "route.steps[1].fitting"
    assert told(kind="tee", toward="in") == [("conflict", f"{at}.toward")]
    assert told(kind="tee", radius=50) == [("conflict", f"{at}.radius")]
    assert told(kind="tee", angle=90) == [("missing-key", f"{at}.toward")]
    assert told(kind="bought_bend") == [("missing-key", f"{at}.angle")]
    assert told(kind="bought_bend", angle=90, toward="in") == [("missing-key", f"{at}.radius")]
    short = told(kind="bought_bend", angle=90, toward="in", radius=100, leg_in=99, leg_out=150)
    assert short == [("out-of-range", f"{at}.leg_in")]
    assert told(kind="tee", draw_in="yes") == [("wrong-type", f"{at}.draw_in")]
    assert told(kind="elbow") == [("not-a-choice", f"{at}.kind")]


def test_a_bender_is_a_frame_of_planes_and_boxes() -> None:
    def told(**bender: Any) -> list[tuple[str, str]]:
        return places(refused(run(bender=bender)))

    flat = {"normal": [0, 0, 0], "offset": -500}
    assert told(floor=flat) == [("out-of-range", "bender.floor.normal")]
    assert told(planes=[flat]) == [("out-of-range", "bender.planes[0].normal")]
    inside_out = {"min": [0, 0, 0], "max": [10, 0, 10]}
    assert told(bodies=[inside_out]) == [("conflict", "bender.bodies[0].max")]
    assert told(motion="rolling") == [("not-a-choice", "bender.motion")]
    assert told(hold_min=-1) == [("out-of-range", "bender.hold_min")]


@pytest.mark.parametrize(
    ("spec", "where", "meant"),
    [
        (run(tolerances={}), "tolerances", "tolerance"),
        (run(former={"centreline_radius": 73, "setline": {}}), "former.setline", "set_line"),
        (run(former={"centerline_radius": 73}), "former.centerline_radius", "centreline_radius"),
        (run(former={"centreline_radius": 73, "set_line": {"king": "back"}}), "former.set_line.king", "kind"),
        (run(route={"point": 1, "points": [[0, 0, 0], [0, 0, 9]]}), "route.point", "points"),
        (steps({"leg": 500, "form": "face"}), "route.steps[0].form", "from"),
        (
            steps({"leg": 500}, {"bend": 90, "towards": "in"}, {"leg": 500}),
            "route.steps[1].towards",
            "toward",
        ),
        (run(ends={"begin": {}}), "ends.begin", None),
        (run(ends={"start": {"alowance": 5}}), "ends.start.alowance", "allowance"),
        (run(joints={"minpiece": 100}), "joints.minpiece", "min_piece"),
        (run(calibration={"k": 0, "c": 0, "sd": 0, "riks": 0.1}), "calibration.riks", "risk"),
    ],
)
def test_an_unknown_key_is_refused_at_its_place_with_what_was_perhaps_meant(
    spec: dict[str, Any], where: str, meant: str | None
) -> None:
    told = [problem for problem in refused(spec) if problem["code"] == "unknown-key"]
    assert [problem["where"] for problem in told] == [where]
    assert "allowed are" in told[0]["text"]
    if meant is not None:
        assert f"did you mean {meant}?" in told[0]["text"]


def test_an_unknown_key_beside_a_feature_or_in_it_is_refused() -> None:
    offset = {"rise": 100, "angle": 30, "toward": "in"}
    for row, where in (
        ({"offset": offset, "note": "beam"}, "route.steps[1].note"),
        ({"offset": {**offset, "width": 5}}, "route.steps[1].offset.width"),
    ):
        assert places(refused(steps({"leg": 500}, row, {"leg": 500}))) == [("unknown-key", where)]


# ---------------------------------------------------------------------------------------------------- conduit


def test_a_catalogue_id_gives_diameter_stock_and_joining() -> None:
    # BS 4568-1 and IEC 60423: 20 mm heavy steel is threaded and sold 3.75 m long. ANSI C80.3: EMT 1/2 is
    # 0.706 in.
    spec = read(run(conduit={"catalogue": "steel-20-heavy"}))
    assert spec.conduit.joining is Joining.THREADED
    assert spec.conduit.stock_length == 3750.0
    assert spec.conduit.outside_diameter == pytest.approx(20.0, abs=0.2)
    spec = read(run(conduit={"catalogue": "emt-1/2"}))
    assert spec.conduit.joining is Joining.PLAIN
    assert spec.conduit.stock_length == pytest.approx(3048.0)
    assert spec.conduit.outside_diameter == pytest.approx(0.706 * 25.4)


def test_rigid_metal_conduit_is_cut_from_the_length_without_its_coupling() -> None:
    # Ten feet with the coupling on; the bare stick is shorter.
    stock = read(run(conduit={"catalogue": "rmc-1"})).conduit.stock_length
    assert stock is not None
    assert stock < 3048.0


@pytest.mark.parametrize("conduit", catalogue.conduit_ids())
def test_every_conduit_of_the_catalogue_can_be_planned(conduit: str) -> None:
    spec = points([0, 0, 0], [0, 0, 2500], [2500, 0, 2500], conduit={"catalogue": conduit})
    spec["former"]["centreline_radius"] = 600
    assert bends(planned(spec))[0]["angle"] == 90.0


def test_an_id_that_is_not_in_the_catalogue_is_refused_with_those_that_are() -> None:
    (problem,) = refused(run(conduit={"catalogue": "steel-21-heavy"}))
    assert (problem["code"], problem["where"]) == ("not-a-choice", "conduit.catalogue")
    assert "steel-20-heavy" in problem["text"]


def test_what_stands_in_the_catalogue_is_not_told_again() -> None:
    conduit = {"catalogue": "steel-20-heavy", "outside_diameter": 20.0, "joining": "threaded"}
    assert places(refused(run(conduit=conduit))) == [
        ("conflict", "conduit.outside_diameter"),
        ("conflict", "conduit.joining"),
    ]


def test_a_stock_length_and_a_wall_beside_a_catalogue_id_replace_the_catalogues() -> None:
    conduit = read(run(conduit={"catalogue": "steel-20-heavy", "stock_length": 3000, "wall": 1.55})).conduit
    assert (conduit.stock_length, conduit.wall) == (3000.0, 1.55)


def test_without_a_catalogue_id_the_outside_diameter_is_needed() -> None:
    assert places(refused(run(conduit={"stock_length": 3750}))) == [
        ("missing-key", "conduit.outside_diameter")
    ]


def test_the_stock_length_is_needed_unless_joints_is_none() -> None:
    assert places(refused(run(conduit={"outside_diameter": 20}))) == [("missing-key", "conduit.stock_length")]
    assert planned(run(conduit={"outside_diameter": 20}, joints="none"))


@pytest.mark.parametrize(("joining", "found"), [("threaded", Joining.THREADED), ("plain", Joining.PLAIN)])
def test_conduit_is_threaded_or_plain(joining: str, found: Joining) -> None:
    conduit = {"outside_diameter": 20, "stock_length": 3000, "joining": joining}
    assert read(run(conduit=conduit)).conduit.joining is found


def test_another_joining_is_refused() -> None:
    conduit = {"outside_diameter": 20, "stock_length": 3000, "joining": "glued"}
    assert places(refused(run(conduit=conduit))) == [("not-a-choice", "conduit.joining")]


@pytest.mark.parametrize(
    "conduit", [{"outside_diameter": 20, "stock_length": 3000}, {"catalogue": "steel-20-heavy"}]
)
def test_a_wall_of_half_the_diameter_or_more_is_refused(conduit: dict[str, Any]) -> None:
    assert read(run(conduit={**conduit, "wall": 9.5}))
    assert places(refused(run(conduit={**conduit, "wall": 12}))) == [("conflict", "conduit.wall")]


# ------------------------------------------------------------------------------------------------------ route


def test_a_route_is_points_or_steps_and_not_both_or_neither() -> None:
    both = {"points": [[0, 0, 0], [0, 0, 9]], "steps": [{"leg": 9}]}
    assert places(refused(run(route=both))) == [("conflict", "route")]
    assert places(refused(run(route={}))) == [("missing-key", "route")]
    assert places(refused(run(route={"heading": "up"}))) == [("missing-key", "route")]
    for value in ([[0, 0, 0], [0, 0, 9]], "up", None, 5):
        assert places(refused(run(route=value))) == [("wrong-type", "route")]


def test_what_stands_beside_steps_does_not_stand_beside_points() -> None:
    route = {"points": [[0, 0, 0], [0, 0, 9]], "heading": "up", "standoff": 5}
    assert places(refused(run(route=route))) == [
        ("unknown-key", "route.heading"),
        ("unknown-key", "route.standoff"),
    ]


def test_two_points_are_the_least() -> None:
    for few in ([], [[0, 0, 0]]):
        assert places(refused(run(route={"points": few}))) == [("out-of-range", "route.points")]


def test_coordinates_beyond_ten_kilometres_are_refused_and_ten_kilometres_are_not() -> None:
    assert planned(points([-1e7, 0, 0], [1e7, 0, 0], joints="none"))["developed_length"] == 2e7
    assert places(refused(points([0, 0, 0], [0, 10000000.001, 0]))) == [
        ("out-of-range", "route.points[1][1]")
    ]
    assert places(refused(steps({"leg": 500}, beside={"start": [0, 0, -1.1e7]}))) == [
        ("out-of-range", "route.start[2]")
    ]


@pytest.mark.parametrize("value", [True, "900", None, [900], {}])
def test_a_coordinate_that_is_no_number_is_refused_at_its_place(value: Any) -> None:
    assert places(refused(points([0, 0, 0], [0, value, 500]))) == [("wrong-type", "route.points[1][1]")]


@pytest.mark.parametrize(
    ("step", "told"),
    [
        ({}, ("missing-key", "route.steps[1]")),
        ({"toward": "in"}, ("missing-key", "route.steps[1]")),
        ({"leg": 5, "bend": 90, "toward": "in"}, ("conflict", "route.steps[1]")),
        ({"leg": 5, "kick": {"rise": 5, "angle": 30, "toward": "in"}}, ("conflict", "route.steps[1]")),
        ("leg", ("wrong-type", "route.steps[1]")),
        (None, ("wrong-type", "route.steps[1]")),
        ({"leg": -0.5}, ("out-of-range", "route.steps[1].leg")),
        ({"leg": None}, ("wrong-type", "route.steps[1].leg")),
        ({"leg": 5, "to": "middle"}, ("not-a-choice", "route.steps[1].to")),
        ({"leg": 5, "from": None}, ("wrong-type", "route.steps[1].from")),
        ({"leg": 5, "to": "wall", "standoff": "5"}, ("wrong-type", "route.steps[1].standoff")),
        ({"bend": 90}, ("missing-key", "route.steps[1].toward")),
        ({"bend": 90, "toward": "forward"}, ("not-a-choice", "route.steps[1].toward")),
        ({"bend": "90", "toward": "in"}, ("wrong-type", "route.steps[1].bend")),
        ({"offset": 50}, ("wrong-type", "route.steps[1].offset")),
        ({"offset": {"angle": 30, "toward": "in"}}, ("missing-key", "route.steps[1].offset.rise")),
        (
            {"offset": {"rise": 0, "angle": 30, "toward": "in"}},
            ("out-of-range", "route.steps[1].offset.rise"),
        ),
        (
            {"offset": {"rise": 50, "angle": 91, "toward": "in"}},
            ("out-of-range", "route.steps[1].offset.angle"),
        ),
        (
            {"offset": {"rise": 50, "angle": 30, "toward": "in", "spread": 20}},
            ("missing-key", "route.steps[1].offset.spread_toward"),
        ),
        (
            {"offset": {"rise": 50, "angle": 30, "toward": "in", "spread_toward": "right"}},
            ("missing-key", "route.steps[1].offset.spread"),
        ),
        ({"kick": {"rise": 50, "toward": "in"}}, ("missing-key", "route.steps[1].kick.angle")),
        (
            {"kick": {"rise": 50, "angle": 90.5, "toward": "in"}},
            ("out-of-range", "route.steps[1].kick.angle"),
        ),
        (
            {"box_set": {"rise": -5, "angle": 10, "toward": "in"}},
            ("out-of-range", "route.steps[1].box_set.rise"),
        ),
        (
            {"saddle_set": {"rise": 50, "angle": 30, "toward": "in"}},
            ("missing-key", "route.steps[1].saddle_set.bends"),
        ),
        (
            {"saddle_set": {"bends": 5, "rise": 50, "angle": 30, "toward": "in"}},
            ("out-of-range", "route.steps[1].saddle_set.bends"),
        ),
        (
            {"saddle_set": {"bends": 3, "rise": 50, "angle": 90, "toward": "in"}},
            ("out-of-range", "route.steps[1].saddle_set.angle"),
        ),
        (
            {"saddle_set": {"bends": 4, "rise": 50, "angle": 90, "width": 50, "toward": "in"}},
            ("out-of-range", "route.steps[1].saddle_set.angle"),
        ),
        (
            {"saddle_set": {"bends": 4, "rise": 50, "angle": 30, "toward": "in"}},
            ("missing-key", "route.steps[1].saddle_set.width"),
        ),
        (
            {"saddle_set": {"bends": 3, "rise": 50, "angle": 30, "width": 50, "toward": "in"}},
            ("conflict", "route.steps[1].saddle_set.width"),
        ),
        (
            {"saddle_set": {"bends": 3, "rise": 50, "angle": 30, "toward": "in", "measured_to": "centre"}},
            ("not-a-choice", "route.steps[1].saddle_set.measured_to"),
        ),
    ],
)
def test_a_step_amiss_is_refused_at_its_place(step: Any, told: tuple[str, str]) -> None:
    assert places(refused(steps({"leg": 500}, step, {"leg": 500}))) == [told]


def test_a_step_that_is_none_says_which_there_are() -> None:
    (problem,) = refused(steps({"turn": 90}))
    for word in ("leg", "bend", "offset", "saddle_set", "kick", "box_set", "fitting"):
        assert word in problem["text"]


# ------------------------------------------------------------------------------------------------------- text


def test_text_that_is_no_json_is_refused() -> None:
    for text in (
        "",
        "{",
        "[1,]",
        "{'run': 1}",
        '{"run": 1}}',
        '{"run": 01}',
        '{"run": .5}',
        "\x00",
        '{"run": "a\nb"}',
    ):
        assert problems_of_text(text) == [("malformed-json", "")]


@pytest.mark.parametrize("more", [" x", "//note", "{}", ",", " null"])
def test_what_trails_the_json_is_refused(more: str) -> None:
    assert problems_of_text(json.dumps(LEAST) + more) == [("malformed-json", "")]


def test_white_space_round_the_json_is_none_of_it() -> None:
    assert read_json(f"\n\t {json.dumps(LEAST)}\r\n") == read(LEAST)


def test_a_malformed_text_says_where() -> None:
    with pytest.raises(bendcore.SpecProblem) as caught:
        read_json('{"run": "a",\n "former": }')
    assert "line 2, column 12" in caught.value.text


@pytest.mark.parametrize(
    "text",
    [
        '{"run": "a", "run": "a"}',
        '{"run": "a", "conduit": {"outside_diameter": 20, "outside_diameter": 20}}',
        '{"route": {"steps": [{"leg": 5}, {"leg": 5, "leg": 6}]}}',
        '{"run": "a", "r\\u0075n": "b"}',  # the same key, however it is written
    ],
)
def test_a_repeated_key_is_refused(text: str) -> None:
    assert problems_of_text(text) == [("malformed-json", "")]


def test_the_repeated_key_is_named() -> None:
    with pytest.raises(bendcore.SpecProblem, match="'former'"):
        read_json('{"run": "a", "former": {}, "former": {}}')


def test_one_repeated_key_among_thousands_is_refused() -> None:
    text = "{" + ", ".join(f'"k{number}": 1' for number in range(12_000)) + ', "k11999": 1}'
    assert problems_of_text(text) == [("malformed-json", "")]


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity"])
def test_a_number_that_json_has_not_is_refused(number: str) -> None:
    text = json.dumps(LEAST).replace("73.0", number)
    assert problems_of_text(text) == [("malformed-json", "")]


@pytest.mark.parametrize("number", ["1e400", "-1e400", "9" * 400, "1e8"])
def test_a_number_beyond_all_lengths_is_out_of_range(number: str) -> None:
    text = json.dumps(LEAST).replace("73.0", number)
    assert problems_of_text(text) == [("out-of-range", "former.centreline_radius")]


def test_a_number_of_very_many_digits_is_refused() -> None:
    assert problems_of_text(json.dumps(LEAST).replace("73.0", "9" * 10_000)) == [("malformed-json", "")]


def test_a_number_of_very_many_decimals_is_a_number() -> None:
    assert read_json(json.dumps(LEAST).replace("73.0", "73." + "0" * 10_000)) == read(LEAST)


@pytest.mark.parametrize("text", ["[" * 100_000, '{"a":' * 100_000, "[" * 100_000 + "]" * 100_000])
def test_text_nested_too_deeply_is_refused(text: str) -> None:
    assert problems_of_text(text) == [("malformed-json", "")]


def test_a_value_nested_deeply_where_none_belongs_is_told_there() -> None:
    text = json.dumps(LEAST).replace("73.0", "[" * 300 + "]" * 300)
    assert problems_of_text(text) == [("wrong-type", "former.centreline_radius")]


def test_bytes_are_utf_8_with_or_without_a_byte_order_mark() -> None:
    spec = run(run="Prüfraum 2 → 3")
    text = json.dumps(spec, ensure_ascii=False)
    assert read_json(text.encode()) == read(spec)
    assert read_json(b"\xef\xbb\xbf" + text.encode()) == read(spec)


@pytest.mark.parametrize("encoding", ["latin-1", "utf-16", "utf-32"])
def test_bytes_that_are_not_utf_8_are_refused(encoding: str) -> None:
    text = json.dumps(run(run="Prüfraum 2"), ensure_ascii=False)
    assert problems_of_text(text.encode(encoding)) == [("malformed-json", "")]


@pytest.mark.parametrize("text", ["null", "[]", '"run"', "5", "true"])
def test_json_that_is_no_object_is_refused(text: str) -> None:
    assert problems_of_text(text) == [("wrong-type", "")]


def test_a_label_that_cannot_be_printed_is_refused() -> None:
    assert places(refused(run(run="a\nb"))) == [("out-of-range", "run")]
    assert places(refused(run(run="x" * 201))) == [("out-of-range", "run")]
    assert places(refused(run(run=7))) == [("wrong-type", "run")]
    assert planned(run(run="x" * 200))["run"] == "x" * 200


# ----------------------------------------------------------------------------------------------- made in code


def in_code() -> RunSpec:
    """One of everything that a spec can say, made without JSON."""
    return RunSpec(
        conduit=Conduit(
            own_outside_diameter=20.0, own_stock_length=3000.0, own_joining=Joining.PLAIN, own_wall=1.6
        ),
        former=Former(73.0, SetLine(LineKind.ARROW, take_up=127.0)),
        route=StepsRoute(
            (
                LegStep(1210.0, Measured.BACK, Measured.FACE),
                BendStep(90.0, Heading.RIGHT),
                LegStep(900.0, from_=Measured.WALL, standoff=12.0),
                OffsetStep(60.0, 45.0, Heading.UP, 80.0, Heading.IN),
                LegStep(900.0),
                SaddleSetStep(3, 60.0, 30.0, Heading.UP, measured_to=SaddleMeasured.MIDDLE),
                LegStep(900.0),
                SaddleSetStep(4, 60.0, 30.0, Heading.UP, 300.0),
                LegStep(900.0),
                BoxSetStep(30.0, 15.0, Heading.IN),
                LegStep(400.0),
                KickStep(200.0, 30.0, Heading.IN),
            ),
            start=(100.0, 200.0, 300.0),
            heading=Heading.UP,
            standoff=15.0,
        ),
        run="run 07",
        calibration=Calibration(0.02, 1.0, 0.4, 0.025, 0.5),
        ends=EndsAsked(EndAsked(EndKind.SPOUT, 14.0), EndAsked(EndKind.CONNECTOR)),
        joints=JointsAsked(100.0, 200.0, 2.0),
        parallel=BankAsked(2, 40.0, Heading.IN, BankCorners.CONCENTRIC),
        tolerance=Tolerance(1.5, 3.0, 12.0),
    )


def test_a_spec_made_in_code_is_planned_like_one_that_was_read() -> None:
    assert bendcore.plan(in_code()) == bendcore.plan(write(in_code()))


def test_what_is_written_is_read_back_the_same() -> None:
    spec = in_code()
    assert read(write(spec)) == spec
    assert read_json(json.dumps(write(spec))) == spec


@pytest.mark.parametrize(
    "spec",
    [
        LEAST,
        run(joints="none"),
        run(joints={"gap": 0}),
        run(conduit={"catalogue": "emt-3/4", "stock_length": 3000}),
        run(ends={"start": {"kind": "spout", "allowance": None}}),
        run(ends={"start": {"kind": "open", "allowance": 0}}),
        run(run="Prüfraum 2", tolerance={"end_out": 5}),
        steps(
            {"leg": 0},
            {"leg": 500, "from": "face", "to": "face"},
            beside={"start": [1, 2, 3], "heading": "left"},
        ),
    ],
)
def test_a_spec_that_was_read_is_written_and_read_back_the_same(spec: dict[str, Any]) -> None:
    first = read(spec)
    assert read(write(first)) == first


def test_what_stands_at_its_default_is_not_written() -> None:
    told = run(run="", joints={"clearance": 120.0}, tolerance={}, ends={"start": {"kind": "open"}})
    assert write(read(told)) == LEAST


def test_a_step_is_written_under_its_own_name() -> None:
    offset = {"offset": {"rise": 100.0, "angle": 30.0, "toward": "in"}}
    spec = steps({"leg": 500.0, "to": "back", "from": "face"}, offset, {"leg": 400.0})
    assert write(read(spec))["route"] == spec["route"]


def test_a_spec_passes_through_reading_as_it_is() -> None:
    spec = in_code()
    assert read(spec) is spec


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lambda: Former(-5.0), ("out-of-range", "centreline_radius")),
        (lambda: Former(float("nan")), ("out-of-range", "centreline_radius")),
        (lambda: Former(True), ("wrong-type", "centreline_radius")),
        (lambda: Conduit(), ("missing-key", "outside_diameter")),
        (lambda: Conduit("steel-21-heavy"), ("not-a-choice", "catalogue")),
        (lambda: SetLine(LineKind.ARROW), ("missing-key", "take_up")),
        (lambda: SetLine(LineKind.BACK, reach=5.0), ("conflict", "reach")),
        (lambda: LegStep(-1.0), ("out-of-range", "leg")),
        (lambda: BendStep(90.0, "sideways"), ("not-a-choice", "toward")),
        (lambda: OffsetStep(5.0, 30.0, Heading.IN, 5.0), ("missing-key", "spread_toward")),
        (lambda: SaddleSetStep(4, 5.0, 30.0, Heading.IN), ("missing-key", "width")),
        (lambda: PointsRoute(((0.0, 0.0, 0.0),)), ("out-of-range", "points")),
        (lambda: StepsRoute(()), ("out-of-range", "steps")),
        (lambda: Calibration(0.02, 1.0, -0.4), ("out-of-range", "sd")),
        (lambda: JointsAsked(clearance=-1.0), ("out-of-range", "clearance")),
        (lambda: BankAsked(0, 40.0, Heading.IN), ("out-of-range", "count")),
        (lambda: Tolerance(angle=0.0), ("out-of-range", "angle")),
        (
            lambda: RunSpec(
                Conduit(own_outside_diameter=20.0, own_stock_length=3000.0),
                Former(10.0),
                PointsRoute(((0.0, 0.0, 0.0), (0.0, 0.0, 500.0))),
            ),
            ("radius-too-small", "former.centreline_radius"),
        ),
    ],
)  # fmt: skip
def test_a_part_of_a_spec_made_in_code_checks_itself(make: Any, told: tuple[str, str]) -> None:
    with pytest.raises(bendcore.SpecProblem) as caught:
        make()
    assert [(problem.code, problem.where) for problem in caught.value.problems] == [told]


CONDUIT = {"outside_diameter": 20.0, "stock_length": 3000.0}
PLACES = [[0, 0, 0], [0, 0, 500]]


@pytest.mark.parametrize(
    "make",
    [
        lambda: RunSpec(CONDUIT, Former(73.0), PointsRoute(((0.0, 0.0, 0.0), (0.0, 0.0, 500.0)))),
        lambda: RunSpec(Conduit(**own()), Former(73.0), {"points": PLACES}),
        lambda: RunSpec(Conduit(**own()), Former(73.0), PointsRoute(PLACES)),
        lambda: RunSpec(Conduit(**own()), Former(73.0), StepsRoute([{"leg": 500}])),
        lambda: RunSpec(
            Conduit(**own()), Former(73.0, {"kind": "back"}), PointsRoute(tuple(map(tuple, PLACES)))
        ),
        lambda: RunSpec(
            Conduit(**own()), Former(73, SetLine("arrow", 127)), PointsRoute(tuple(map(tuple, PLACES)))
        ),
    ],
    ids=["conduit", "route", "points", "steps", "set line", "word"],
)
def test_a_spec_cannot_be_made_in_code_from_parts_that_were_not_read(make: Any) -> None:
    # Either the part is refused, or it is read to what the rules work on: nothing half read stays in a value.
    try:
        spec = make()
    except bendcore.SpecProblem as told:
        assert {problem.code for problem in told.problems} == {"wrong-type"}  # noqa: PT017
    else:
        assert read(write(spec)) == spec
        assert bendcore.plan(spec) == bendcore.plan(write(spec))


def own() -> dict[str, float]:
    return {"own_outside_diameter": 20.0, "own_stock_length": 3000.0}


def test_a_refused_spec_is_left_as_it_was() -> None:
    spec = run(colour="black", former={"centreline_radius": 5}, route={"points": [[0, 0], [0, 0, 1e9]]})
    before = copy.deepcopy(spec)
    refused(spec)
    assert spec == before


def test_keys_that_are_no_text_are_refused() -> None:
    spec: dict[Any, Any] = run()
    spec[5] = 1
    assert places(refused(spec)) == [("unknown-key", "5")]
