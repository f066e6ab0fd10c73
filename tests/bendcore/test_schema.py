"""The contract's input as JSON Schema: valid, and of one mind with the reader where a schema can say it."""

import copy
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from independent.routes import examples
from jsonschema import Draft202012Validator
from worked import EVERYTHING, LEAST, points, run, steps

import bendcore
from bendcore import catalogue
from bendcore.spec import json_schema, read

EXAMPLES = sorted((Path(__file__).parents[2] / "docs" / "examples").glob("*.json"))

SCHEMA: dict[str, Any] = json.loads(json.dumps(json_schema(), allow_nan=False))
JUDGE = Draft202012Validator(SCHEMA)


def problems_of(spec: Any) -> list[tuple[str, str]]:
    """Code and place of each problem that the reader finds; none if it accepts."""
    try:
        read(spec)
    except bendcore.SpecProblem as refused:
        return [(problem.code, problem.where) for problem in refused.problems]
    return []


# -------------------------------------------------------------------------------------------------- by itself


def test_it_is_a_valid_schema_of_draft_2020_12() -> None:
    Draft202012Validator.check_schema(SCHEMA)
    assert SCHEMA["$schema"] == Draft202012Validator.META_SCHEMA["$id"]


def test_it_needs_conduit_former_and_route_and_closes_every_object() -> None:
    assert SCHEMA["required"] == ["conduit", "former", "route"]
    for place, part in parts(SCHEMA, ""):
        if part.get("type") == "object":
            assert part["additionalProperties"] is False, place


def parts(schema: Any, place: str) -> list[tuple[str, dict[str, Any]]]:
    found = []
    if isinstance(schema, dict):
        found.append((place, schema))
        for key, value in schema.items():
            if key not in {"default", "enum", "const"}:
                found.extend(parts(value, f"{place}/{key}"))
    elif isinstance(schema, list):
        for index, value in enumerate(schema):
            found.extend(parts(value, f"{place}/{index}"))
    return found


def test_every_key_says_what_it_is() -> None:
    for place, part in parts(SCHEMA, ""):
        for name, key in part.get("properties", {}).items():
            if len(part["properties"]) > 1 or "description" in key:
                assert len(key["description"]) > 2, f"{place}/{name}"


def test_it_lists_the_ids_of_the_catalogue() -> None:
    assert SCHEMA["properties"]["conduit"]["properties"]["catalogue"]["enum"] == list(catalogue.conduit_ids())


def test_it_lists_the_keys_of_the_contract() -> None:
    assert set(SCHEMA["properties"]) == {
        "run", "conduit", "former", "calibration", "route", "ends", "joints", "parallel", "tolerance",
        "bender", "cables", "rules", "fit_from",
    }  # fmt: skip


def test_its_defaults_are_those_that_the_reader_takes() -> None:
    keys = SCHEMA["properties"]
    joints = next(kind for kind in keys["joints"]["oneOf"] if kind.get("type") == "object")["properties"]
    assert {name: each["default"] for name, each in joints.items() if "default" in each} == {
        "clearance": 120.0,
        "min_piece": 150.0,
        "gap": 0.0,
    }
    tolerance = keys["tolerance"]["properties"]
    assert {name: tolerance[name]["default"] for name in tolerance} == {
        "angle": 1.0,
        "length": 2.0,
        "end_out": 10.0,
    }
    assert keys["calibration"]["properties"]["risk"]["default"] == 0.05
    walked = next(kind for kind in keys["route"]["oneOf"] if "steps" in kind["properties"])["properties"]
    assert (walked["heading"]["default"], walked["start"]["default"]) == ("up", [0.0, 0.0, 0.0])


# --------------------------------------------------------------------------------------------------- accepted


def test_there_are_examples() -> None:
    assert len(EXAMPLES) >= 5


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: path.stem)
def test_every_example_of_the_documents_is_accepted_by_schema_and_engine(path: Path) -> None:
    spec = json.loads(path.read_text(encoding="utf-8"))
    JUDGE.validate(spec)
    bendcore.plan(spec)


GOOD: dict[str, dict[str, Any]] = {
    "least": LEAST,
    "everything": EVERYTHING,
    "catalogue": run(conduit={"catalogue": "rmc-1-1/4", "stock_length": 3000}),
    "no joints": run(joints="none", conduit={"outside_diameter": 20}),
    "bank": run(parallel={"count": 3, "spacing": 40, "toward": "right", "corners": "concentric"}),
    "untold": run(ends={"start": {"kind": "spout", "allowance": None}, "finish": {}}),
    "own line": run(former={"centreline_radius": 73, "set_line": {"kind": "own", "reach": -12.5}}),
    "far points": points([-1e7, 1e7, 0], [1e7, 1e7, 0]),
    "rolling": steps(
        {"leg": 500},
        {"offset": {"rise": 60, "angle": 45, "toward": "up", "spread": 80, "spread_toward": "in"}},
        {"leg": 0},
        beside={"heading": "east", "standoff": -5},
    ),
}


@pytest.mark.parametrize("spec", GOOD.values(), ids=GOOD)
def test_what_the_reader_accepts_the_schema_accepts(spec: dict[str, Any]) -> None:
    JUDGE.validate(spec)
    assert problems_of(spec) == []


# ---------------------------------------------------------------------------------------------------- refused

BAD: dict[str, Any] = {
    "a list": [],
    "null": None,
    "nothing in it": {},
    "no route": {key: value for key, value in LEAST.items() if key != "route"},
    "unknown key": run(colour="black"),
    "unknown rules": run(rules="fr"),
    "no lengths to cut from": run(conduit={"outside_diameter": 20, "stock_length": 3000, "stock": []}),
    "unknown cost": run(joints={"costs": {"glue": 1}}),
    "unknown fitting": steps({"leg": 5}, {"fitting": {"kind": "elbow"}}, {"leg": 5}),
    "no fitting from the middle": run(fit_from="middle"),
    "three threaded ends": run(
        conduit={"outside_diameter": 20, "stock": [{"length": 3000, "threaded_ends": 3}]}
    ),
    "a box without a corner": run(bender={"bodies": [{"min": [0, 0, 0]}]}),
    "cables without a count": run(rules="uk", cables=[{"csa_mm2": 2.5}]),
    "boolean radius": run(former={"centreline_radius": True}),
    "text radius": run(former={"centreline_radius": "73"}),
    "radius 0": run(former={"centreline_radius": 0}),
    "unknown catalogue id": run(conduit={"catalogue": "steel-21-heavy"}),
    "unknown set line": run(former={"centreline_radius": 73, "set_line": {"kind": "front"}}),
    "long label": run(run="x" * 201),
    "one point": points([0, 0, 0]),
    "flat point": run(route={"points": [[0, 0], [0, 0, 5]]}),
    "fourth coordinate": run(route={"points": [[0, 0, 0, 0], [0, 0, 5]]}),
    "far point": points([0, 0, 0], [0, 0, 1.1e7]),
    "points and steps": run(route={"points": [[0, 0, 0], [0, 0, 5]], "steps": [{"leg": 5}]}),
    "no points and no steps": run(route={"heading": "up"}),
    "no steps": run(route={"steps": []}),
    "leg and bend": steps({"leg": 5, "bend": 90, "toward": "in"}),
    "leg and offset": steps({"leg": 5, "offset": {"rise": 5, "angle": 30, "toward": "in"}}),
    "empty step": steps({}),
    "leg below 0": steps({"leg": -1}),
    "bend without toward": steps({"leg": 5}, {"bend": 90}, {"leg": 5}),
    "bend of 181": steps({"leg": 5}, {"bend": 181, "toward": "in"}, {"leg": 5}),
    "five bends": steps(
        {"leg": 5}, {"saddle_set": {"bends": 5, "rise": 5, "angle": 30, "toward": "in"}}, {"leg": 5}
    ),
    "outer angle 90": steps({"leg": 5}, {"saddle_set": {"bends": 3, "rise": 5, "angle": 90, "toward": "in"}}),
    "unknown end": run(ends={"start": {"kind": "hub"}}),
    "null kind": run(ends={"start": {"kind": None}}),
    "joints some": run(joints="some"),
    "joints null": run(joints=None),
    "clearance below 0": run(joints={"clearance": -1}),
    "bank of none": run(parallel={"count": 0, "spacing": 40, "toward": "in"}),
    "bank of a half": run(parallel={"count": 2.5, "spacing": 40, "toward": "in"}),
    "risk 1": run(calibration={"k": 0, "c": 0, "sd": 0, "risk": 1}),
    "calibration without k": run(calibration={"c": 0, "sd": 0}),
    "tolerance 0": run(tolerance={"angle": 0}),
}


@pytest.mark.parametrize("spec", BAD.values(), ids=BAD)
def test_what_the_schema_refuses_the_reader_refuses(spec: Any) -> None:
    assert not JUDGE.is_valid(spec)
    assert problems_of(spec) != []


def test_what_no_schema_can_say_is_left_to_the_reader() -> None:
    thin = run(former={"centreline_radius": 5})
    assert JUDGE.is_valid(thin)
    assert problems_of(thin) == [("radius-too-small", "former.centreline_radius")]


# -------------------------------------------------------------------------------------------------- at random

BEYOND_A_SCHEMA = {"conflict", "radius-too-small"}
NEEDED_BESIDE_ANOTHER = (
    ".take_up", ".reach", ".width", ".spread", ".spread_toward", ".outside_diameter", ".stock_length",
)  # fmt: skip
"""Keys that are needed only where another key has some value."""

OTHER_VALUES = [
    None, True, "", "up", "none", "begin", [], {}, [0, 0, 0], {"leg": 5},
    -1, 0, 3, 37, 0.5, -0.25, 1e-9, 179.99999, 1e9,
]  # fmt: skip
OTHER_KEYS = ["leg", "bend", "to", "kind", "reach", "width", "points", "steps", "stock", "colour", ""]


def spots(value: Any, found: list[tuple[Any, Any]]) -> list[tuple[Any, Any]]:
    """Every container and key or index in it."""
    for key, inner in (
        value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    ):
        found.append((value, key))
        spots(inner, found)
    return found


@st.composite
def spoilt(draw: st.DrawFn) -> dict[str, Any]:
    """A good spec with one to three of its values replaced, left out or joined by another key."""
    spec: dict[str, Any] = copy.deepcopy(draw(st.sampled_from(list(GOOD.values()))))
    for _ in range(draw(st.integers(1, 3))):
        container, key = draw(st.sampled_from(spots(spec, []) or [(spec, "run")]))
        change = draw(st.sampled_from(["replace", "leave out", "add"]))
        if change == "leave out" and (isinstance(container, list) or key in container):
            container.pop(key)
        elif change == "add" and isinstance(container, dict):
            container[draw(st.sampled_from(OTHER_KEYS))] = copy.deepcopy(draw(st.sampled_from(OTHER_VALUES)))
        else:
            container[key] = copy.deepcopy(draw(st.sampled_from(OTHER_VALUES)))
    return spec


@given(spec=spoilt())
@examples(300)
def test_schema_and_reader_are_of_one_mind_wherever_a_schema_can_say_it(spec: dict[str, Any]) -> None:
    problems = problems_of(spec)
    sayable = [
        (code, where)
        for code, where in problems
        if code not in BEYOND_A_SCHEMA
        and not (code == "missing-key" and where.endswith(NEEDED_BESIDE_ANOTHER))
    ]
    if JUDGE.is_valid(spec):
        assert sayable == []
    else:
        assert problems != []
