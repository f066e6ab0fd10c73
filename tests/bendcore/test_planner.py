"""The one door: what `plan` answers, in process."""

import copy
import json
from typing import Any

import pytest
from worked import CLOSE, EVERYTHING, LEAST, bends, places, planned, points, refused, run, steps

import bendcore
from bendcore import spec as spec_module

PLAN_KEYS = {"developed_length", "total_bend", "sticks", "findings"}
STICK_KEYS = {"number", "cut_length", "clock", "bends", "start", "finish"}
BEND_KEYS = {"number", "corner", "begin", "angle", "radius", "roll", "marks", "order", "held", "set"}
FINDING_KEYS = {"rule", "level", "where", "text", "source"}


@pytest.mark.parametrize("spec", [LEAST, EVERYTHING], ids=["least", "everything"])
def test_a_plan_has_at_least_the_keys_of_the_contract(spec: dict[str, Any]) -> None:
    plan = planned(spec)
    assert set(plan) >= PLAN_KEYS
    for stick in plan["sticks"]:
        assert set(stick) >= STICK_KEYS
        for bend in stick["bends"]:
            assert set(bend) >= BEND_KEYS
            assert set(bend["marks"]) == {"begin", "centre", "back", "inside"}
            assert set(bend["set"]) >= {"line", "mark", "sweep"}
            assert set(bend.get("pull", {})) in ({"first", "expect"}, set())
    for finding in plan["findings"]:
        assert set(finding) >= FINDING_KEYS


def test_the_label_of_the_run_is_given_back() -> None:
    assert planned(EVERYTHING)["run"] == "Fenwater Creamery, plant room 2"
    assert planned(LEAST)["run"] == ""


def test_sticks_are_numbered_from_start_to_finish_and_bends_within_each() -> None:
    plan = planned(EVERYTHING)
    assert [stick["number"] for stick in plan["sticks"]] == list(range(1, len(plan["sticks"]) + 1))
    assert len(plan["sticks"]) > 1
    for stick in plan["sticks"]:
        assert [bend["number"] for bend in stick["bends"]] == list(range(1, len(stick["bends"]) + 1))
    # 1 right angle, 2 of the offset, 3 and 4 of the saddle sets, 2 of the box set, 1 of the kick; corner 13
    # is the bought bend's, and the tee has none
    assert [bend["corner"] for bend in bends(plan)] == [*range(1, 13), 14]


def test_cut_lengths_and_joint_gaps_add_up_to_the_developed_length() -> None:
    plan = planned(EVERYTHING)
    finishes = [stick["finish"] for stick in plan["sticks"]]
    tee, bought = (finish["gap"] for finish in finishes if finish["kind"] in ("tee", "bought_bend"))
    assert tee == 80.0
    # 130 in, and untold out as little as can be: T = 90; less the gain 90 (2 - pi/2)
    assert bought == pytest.approx(130.0 + 90.0 - 38.628_330_588_459, abs=CLOSE)
    gaps = tee + bought + 2.0 * (len(finishes) - 3)
    assert sum(stick["cut_length"] for stick in plan["sticks"]) + gaps == pytest.approx(
        plan["developed_length"], abs=CLOSE
    )


def test_the_total_bend_of_everything_is_the_sum_of_its_parts() -> None:
    # 90 + 2 * 45 + (30 + 60 + 30) + 4 * 30 + 2 * 15 + the bought bend's 90 + 30
    assert planned(EVERYTHING)["total_bend"] == 570.0


def test_begin_is_the_outline_position_begin_and_the_mark_of_the_begin_line() -> None:
    for bend in bends(planned(LEAST)):
        assert bend["begin"] == bend["marks"]["begin"] == bend["set"]["mark"]


def test_figures_carry_full_precision() -> None:
    # 2800 - 2 * 73 (2 - pi/2): 13 digits of it
    assert planned(LEAST)["developed_length"] == pytest.approx(2737.3362637120549, abs=1e-12)


def test_a_plan_is_the_same_each_time() -> None:
    assert planned(EVERYTHING) == planned(EVERYTHING)


def test_a_spec_read_before_gives_the_same_plan() -> None:
    read = bendcore.read(EVERYTHING)
    assert bendcore.plan(read) == bendcore.plan(EVERYTHING)


def test_json_text_gives_the_same_plan() -> None:
    read = bendcore.read_json(json.dumps(EVERYTHING))
    assert bendcore.plan(read) == bendcore.plan(EVERYTHING)


def test_planning_leaves_the_spec_as_it_was() -> None:
    spec = copy.deepcopy(EVERYTHING)
    planned(spec)
    assert spec == EVERYTHING


def test_whole_numbers_and_floats_are_the_same_lengths() -> None:
    whole = points([0, 0, 0], [0, 0, 1200], [900, 0, 1200])
    floats = points([0.0, 0.0, 0.0], [0.0, 0.0, 1200.0], [900.0, 0.0, 1200.0])
    assert json.dumps(planned(whole)) == json.dumps(planned(floats))


def test_a_run_is_a_plan_and_a_bank_is_a_bank() -> None:
    assert isinstance(bendcore.plan(LEAST), bendcore.Plan)
    bank = bendcore.plan(run(parallel={"count": 2, "spacing": 40, "toward": "right"}))
    assert isinstance(bank, bendcore.Bank)


def test_a_plan_says_whether_a_finding_stops_it() -> None:
    assert not walked_with(-1000.0).has_stop
    assert walked_with(-1130.0).has_stop


def walked_with(reach: float) -> bendcore.Plan | bendcore.Bank:
    former = {"centreline_radius": 73.0, "set_line": {"kind": "own", "reach": reach}}
    return bendcore.plan(points([0, 0, 0], [0, 0, 1200], [900, 0, 1200], former=former))


def test_notes_and_warnings_do_not_stop_a_plan() -> None:
    plan = bendcore.plan(
        points([0, 0, 0], [0, 0, 0], [0, 0, 700], [900, 0, 700], ends={"start": {"kind": "spout"}})
    )
    assert isinstance(plan, bendcore.Plan)
    assert {finding.level for finding in plan.findings} == {bendcore.Level.NOTE, bendcore.Level.WARN}
    assert not plan.has_stop


def test_a_finding_has_a_rule_a_level_a_place_a_text_and_a_source() -> None:
    plan = planned(
        points([0, 0, 0], [0, 0, 0], [0, 0, 700], [900, 0, 700], ends={"start": {"kind": "spout"}})
    )
    for finding in plan["findings"]:
        assert finding["rule"]
        assert finding["level"] in {"stop", "warn", "note"}
        assert finding["where"]
        assert finding["text"].endswith(".")
        assert finding["source"]


def test_findings_are_said_in_the_units_and_words_asked_for() -> None:
    spec = steps({"leg": 500}, {"offset": {"rise": 100, "angle": 30, "toward": "in"}}, {"leg": 400})
    plan = bendcore.plan(spec)
    in_mm = json.dumps(plan.to_dict())
    in_inches = json.dumps(plan.to_dict(bendcore.Units.INCH, bendcore.Dialect.US))
    # Shrink 24.999176290576 and 26.794919243112: 25 and 27 mm; in sixteenths 15.7 and 16.9 of them: 1 and 1
    # 1/16 in.
    assert "double set" in in_mm
    assert "25 mm" in in_mm
    assert "27 mm" in in_mm
    assert "offset shrinks" in in_inches
    assert "1 1/16 in" in in_inches
    assert " mm" not in "".join(f["text"] for f in json.loads(in_inches)["findings"])


def test_figures_stay_in_millimetres_whatever_units_are_read() -> None:
    plan = bendcore.plan(EVERYTHING)
    first, second = plan.to_dict(), plan.to_dict(bendcore.Units.INCH, bendcore.Dialect.US)
    assert first["sticks"] == second["sticks"]
    assert first["developed_length"] == second["developed_length"]


# --------------------------------------------------------------------------------------------------- refusals


def test_a_spec_problem_is_the_first_problem_and_carries_all() -> None:
    with pytest.raises(bendcore.SpecProblem) as caught:
        bendcore.plan(points([0, 0, 0], [0, 0, 50], [100, 0, 50], [100, 500, 50]))
    problem = caught.value
    assert [each.where for each in problem.problems] == ["route.points[1]", "route.points[2]"]
    assert (problem.where, problem.text) == (problem.problems[0].where, problem.problems[0].text)
    told = problem.to_dict()
    assert set(told) == {"problem", "problems"}
    assert told["problem"] == problem.problems[0].to_dict()
    assert isinstance(problem, bendcore.BendError)


def test_several_problems_are_told_at_once_in_the_order_of_the_spec() -> None:
    spec = run(
        conduit={"outside_diameter": -20.0, "stock_length": 3750.0, "colour": "black"},
        former={"centreline_radius": "seventy"},
        route={"points": [[0, 0, 0], [0, 0], [0, 0, 1e8], [0, 0, True]]},
        tolerance={"angle": 0},
    )
    assert places(refused(spec)) == [
        ("out-of-range", "conduit.outside_diameter"),
        ("unknown-key", "conduit.colour"),
        ("wrong-type", "former.centreline_radius"),
        ("wrong-type", "route.points[1]"),
        ("out-of-range", "route.points[2][2]"),
        ("wrong-type", "route.points[3][2]"),
        ("out-of-range", "tolerance.angle"),
    ]


def test_every_problem_has_a_code_a_place_and_a_text() -> None:
    for spec in ([], {}, run(run=5), run(route={"steps": [{"leg": -1}, {"bend": 90}, {"offset": []}, 7]})):
        for problem in refused(spec):
            assert problem["code"]
            assert isinstance(problem["where"], str)
            assert problem["text"]


def test_a_steps_route_tells_all_that_is_wrong_along_it() -> None:
    spec = steps(
        {"leg": 50},
        {"bend": 90, "toward": "right"},
        {"leg": 500, "to": "face"},
        {"kick": {"rise": 100, "angle": 30, "toward": "in"}},
        {"leg": 300},
    )
    assert set(places(refused(spec))) == {
        ("overlap", "route.steps[0]"),
        ("cannot-walk", "route.steps[2].to"),
        ("cannot-walk", "route.steps[4]"),
    }


def test_a_radius_of_half_the_diameter_or_less_is_refused() -> None:
    for radius in (10.0, 9.0):
        (problem,) = refused(run(former={"centreline_radius": radius}))
        assert (problem["code"], problem["where"]) == ("radius-too-small", "former.centreline_radius")
        assert problem["above_mm"] == 10.0
    assert planned(run(former={"centreline_radius": 10.001}))


def test_a_run_planned_by_value_can_be_written_and_read_again() -> None:
    read = bendcore.read(EVERYTHING)
    assert planned(spec_module.write(read)) == planned(EVERYTHING)
