"""Whatever is thrown at it, the engine answers with a plan of finite figures or with problems that name their
place."""

import copy
import decimal
import json
import math
import signal
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from independent.routes import Run, examples, runs

import bendcore

# Seconds. A plan takes well under one; a spec that keeps the engine busy longer has found a loop.
ANSWERS_WITHIN = 20


@contextmanager
def answered_in_time() -> Iterator[None]:
    def too_long(_signal: int, _frame: object) -> None:
        raise AssertionError(f"no answer within {ANSWERS_WITHIN} s")

    before = signal.signal(signal.SIGALRM, too_long)
    # The runner may have set an alarm for the whole test: it is given back with what is left of it.
    left, _ = signal.setitimer(signal.ITIMER_REAL, ANSWERS_WITHIN)
    began = time.monotonic()
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0)
        signal.signal(signal.SIGALRM, before)
        if left:
            signal.setitimer(signal.ITIMER_REAL, max(0.001, left - (time.monotonic() - began)))


def all_finite(value: Any) -> bool:
    if isinstance(value, dict):
        return all(isinstance(k, str) and all_finite(v) for k, v in value.items())
    if isinstance(value, list | tuple):
        return all(all_finite(v) for v in value)
    return math.isfinite(value) if isinstance(value, float) else True


def answer(spec: Any) -> str:
    """`planned` or `refused`; anything else fails the test."""
    with answered_in_time():
        try:
            plan = bendcore.plan(spec)
        except bendcore.SpecProblem as refused:
            problems = refused.problems
        else:
            problems, written = None, plan.to_dict()
            plan.to_dict(bendcore.Units.INCH, bendcore.Dialect.US)  # its sentences must be sayable as well
    if problems is not None:
        assert len(problems) >= 1
        for problem in problems:
            told = problem.to_dict()
            assert isinstance(told["code"], str)
            assert told["code"]
            assert isinstance(told["where"], str)
            assert isinstance(told["text"], str)
            assert told["text"]
            assert all_finite(told)
            json.dumps(told, allow_nan=False)
        return "refused"
    assert all_finite(written)
    json.dumps(written, allow_nan=False)
    return "planned"


RICH: dict[str, Any] = {
    "run": "R-17 plant room",
    "conduit": {"outside_diameter": 20.0, "stock_length": 3750.0, "joining": "threaded", "wall": 1.6},
    "former": {"centreline_radius": 73.0, "set_line": {"kind": "arrow", "take_up": 60.0}},
    "calibration": {"k": 0.02, "c": 1.0, "sd": 0.5, "risk": 0.05, "scale": 1.0},
    "route": {
        "start": [0, 0, 0],
        "heading": "up",
        "standoff": 15,
        "steps": [
            {"leg": 1210, "to": "back"},
            {"bend": 90, "toward": "right"},
            {"leg": 900},
            {"offset": {"rise": 80, "angle": 30, "toward": "in", "spread": 30, "spread_toward": "up"}},
            {"leg": 800, "to": "corner"},
            {"saddle_set": {"bends": 3, "rise": 60, "angle": 30, "toward": "up", "measured_to": "outer"}},
            {"leg": 700, "to": "wall", "standoff": 20},
            {"bend": 45, "toward": "up"},
            {"leg": 700},
            {"kick": {"rise": 150, "angle": 20, "toward": "in"}},
        ],
    },
    "ends": {"start": {"kind": "spout", "allowance": 12.0}, "finish": {"kind": "coupler", "allowance": 16.0}},
    "joints": {"clearance": 120.0, "min_piece": 150.0, "gap": 2.0},
    "tolerance": {"angle": 1, "length": 2, "end_out": 10},
}
BY_POINTS: dict[str, Any] = {
    "conduit": {"outside_diameter": 20.0, "stock_length": 3750.0},
    "former": {"centreline_radius": 73.0},
    "route": {"points": [[0, 0, 0], [0, 0, 1200], [900, 0, 1200], [900, 700, 1200]]},
    "parallel": {"count": 3, "spacing": 60.0, "toward": "right", "corners": "equal"},
}

ODD_NUMBERS = st.sampled_from(
    [
        0,
        -1,
        1,
        0.0,
        -0.0,
        5e-324,
        1e-300,
        1e-12,
        1e-7,
        1e6,
        1e7,
        1.0000001e7,
        1e8,
        1e155,
        1e300,
        1.7e308,
        -1e308,
        10**400,
        -(10**400),
        2**63,
        math.nan,
        math.inf,
        -math.inf,
        90,
        180,
        179.99995,
        179.9999,
        360,
        89.99999999,
        True,
        False,
    ]
)
ODD_THINGS: st.SearchStrategy[Any] = st.one_of(
    ODD_NUMBERS,
    st.none(),
    st.text(max_size=8),
    st.sampled_from(["", "none", "up", "back", "nan", "1e3", "\x00", "é", "0", "emt-1/2", "middle", "uk"]),
    st.binary(max_size=4),
    st.floats(),
    st.complex_numbers(),
    st.decimals(),
    st.just(decimal.Decimal("NaN")),
    st.lists(st.one_of(ODD_NUMBERS, st.none(), st.text(max_size=3)), max_size=5),
    st.tuples(st.floats(), st.floats(), st.floats()),
    st.dictionaries(st.one_of(st.text(max_size=5), st.integers(), st.none()), ODD_NUMBERS, max_size=3),
    st.builds(object),
    st.builds(set),
    st.integers(2, 3).map(lambda n: nested(n * 2000)),
)
ANY_KEY = st.sampled_from(
    [
        "run",
        "conduit",
        "catalogue",
        "stock",
        "joining",
        "wall",
        "former",
        "set_line",
        "kind",
        "take_up",
        "reach",
        "calibration",
        "bender",
        "floor",
        "planes",
        "bodies",
        "route",
        "points",
        "steps",
        "start",
        "finish",
        "heading",
        "standoff",
        "leg",
        "to",
        "from",
        "bend",
        "toward",
        "offset",
        "saddle_set",
        "kick",
        "box_set",
        "fitting",
        "rise",
        "angle",
        "spread",
        "spread_toward",
        "bends",
        "width",
        "measured_to",
        "ends",
        "allowance",
        "joints",
        "costs",
        "clearance",
        "min_piece",
        "gap",
        "parallel",
        "count",
        "spacing",
        "corners",
        "cables",
        "rules",
        "tolerance",
        "fit_from",
        "outside_diameter",
        "stock_length",
        "centreline_radius",
        "no_such_key",
        "",
    ]
)


def nested(depth: int) -> Any:
    """Lists in lists, deeper than Python recurses."""
    value: Any = 0
    for _ in range(depth):
        value = [value]
    return value


def places(value: Any, depth: int = 0) -> Iterator[tuple[Any, Any]]:
    """Every (container, key or index) of a spec, but not into what is deeper than any spec."""
    if depth > 12:
        return
    if isinstance(value, dict):
        for key, inner in list(value.items()):
            yield value, key
            yield from places(inner, depth + 1)
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield value, index
            yield from places(inner, depth + 1)


@st.composite
def spoilt(draw: st.DrawFn) -> Any:
    """A good spec with one to four things wrong, or merely unusual."""
    spec = copy.deepcopy(draw(st.sampled_from([RICH, BY_POINTS])))
    for _ in range(draw(st.integers(1, 4))):
        spots = list(places(spec))
        if not spots:
            break
        container, key = draw(st.sampled_from(spots))
        deed = draw(st.sampled_from(["replace", "replace", "replace", "drop", "add", "double", "swap"]))
        if deed == "replace":
            container[key] = draw(ODD_THINGS)
        elif deed == "drop":
            del container[key]
        elif deed == "add" and isinstance(container, dict):
            container[draw(ANY_KEY)] = draw(ODD_THINGS)
        elif deed == "add":
            container.insert(key, draw(ODD_THINGS))
        elif deed == "double" and isinstance(container, list):
            container.insert(key, container[key])
        elif deed == "swap":
            other, other_key = draw(st.sampled_from(spots))
            if isinstance(other[other_key], int | float | str) and isinstance(
                container[key], int | float | str
            ):
                container[key], other[other_key] = other[other_key], container[key]
    return spec


@given(spec=spoilt())
@examples(600)
def test_a_spoilt_spec_is_planned_with_finite_figures_or_refused_with_problems_that_name_their_place(
    spec: Any,
) -> None:
    answer(spec)


@given(run=runs(most_corners=4), data=st.data())
@examples(150)
def test_one_wild_number_in_a_good_run_is_planned_or_refused(run: Run, data: st.DataObject) -> None:
    spec = copy.deepcopy(run.spec)
    spots = [(container, key) for container, key in places(spec) if isinstance(container[key], int | float)]
    container, key = data.draw(st.sampled_from(spots))
    container[key] = data.draw(
        st.one_of(ODD_NUMBERS, st.floats(allow_nan=True), st.floats(-1e7, 1e7), st.integers(-400, 400))
    )
    answer(spec)


JSON_THINGS = st.recursive(
    st.one_of(st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=6)),
    lambda inner: st.one_of(
        st.lists(inner, max_size=4),
        st.dictionaries(st.one_of(ANY_KEY, st.text(max_size=4)), inner, max_size=5),
    ),
    max_leaves=15,
)


@given(spec=st.one_of(JSON_THINGS, ODD_THINGS))
@examples(200)
def test_anything_at_all_is_refused_as_a_spec(spec: Any) -> None:
    assert answer(spec) == "refused"


@given(
    points=st.lists(
        st.lists(st.one_of(ODD_NUMBERS, st.floats(-2e7, 2e7)), min_size=3, max_size=3), max_size=6
    )
)
@examples(60, shrinking=False)
def test_any_points_are_planned_or_refused(points: list[list[float]]) -> None:
    answer(BY_POINTS | {"route": {"points": points}})


@given(
    points=st.lists(
        st.tuples(*[st.sampled_from([0.0, 1e-7, 1e-5, 73.0, 146.0, 300.0, -300.0, 1e4])] * 3), max_size=6
    )
)
@examples(120, shrinking=False)
def test_points_on_a_lattice_with_reversals_and_repeats_are_planned_or_refused(points: list[Any]) -> None:
    spec = {k: v for k, v in BY_POINTS.items() if k != "parallel"}
    answer(spec | {"route": {"points": [list(p) for p in points]}})


@pytest.mark.parametrize("spec", [RICH, BY_POINTS], ids=["rich", "bank"])
def test_the_specs_that_are_spoilt_here_are_good_ones_and_are_left_as_they_were(spec: dict[str, Any]) -> None:
    before = copy.deepcopy(spec)
    assert answer(spec) == "planned"
    assert spec == before


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, True, "900", None, [900], 1e8, 10**400])
def test_a_coordinate_that_is_no_number_in_range_is_refused_at_its_place(value: Any) -> None:
    spec = copy.deepcopy(BY_POINTS)
    spec["route"]["points"][2][0] = value
    with pytest.raises(bendcore.SpecProblem) as refused:
        bendcore.plan(spec)
    assert [p.to_dict()["where"] for p in refused.value.problems] == ["route.points[2][0]"] or all(
        p.to_dict()["where"].startswith("route.points[2]") for p in refused.value.problems
    )


def test_independent_problems_are_told_at_once() -> None:
    spec = copy.deepcopy(BY_POINTS)
    spec["former"]["centreline_radius"] = "seventy"
    spec["colour"] = "black"
    del spec["conduit"]["outside_diameter"]
    spec["route"]["points"][1] = [0, 0]
    spec["ends"] = {"start": {"kind": "glue"}}
    with pytest.raises(bendcore.SpecProblem) as refused:
        bendcore.plan(spec)
    assert {p.to_dict()["where"] for p in refused.value.problems} == {
        "former.centreline_radius",
        "colour",
        "conduit.outside_diameter",
        "route.points[1]",
        "ends.start.kind",
    }


def test_every_short_leg_has_its_own_overlap_with_what_it_must_grow() -> None:
    # Right angles of radius 73 take 73 of a leg at each end. Legs of 100 between them are 46 short; the end
    # legs of 50 are 23 short; the leg of 200 fits.
    spec = {
        "conduit": {"outside_diameter": 20.0, "stock_length": 3750.0},
        "former": {"centreline_radius": 73.0},
        "route": {
            "points": [[0, 0, 0], [0, 0, 50], [100, 0, 50], [100, 200, 50], [100, 200, 150], [50, 200, 150]]
        },
    }
    with pytest.raises(bendcore.SpecProblem) as refused:
        bendcore.plan(spec)
    told = [p.to_dict() for p in refused.value.problems]
    assert [(p["leg"], round(p["grow_mm"], 6)) for p in told] == [(1, 23.0), (2, 46.0), (4, 46.0), (5, 23.0)]
    assert len({p["code"] for p in told}) == 1


def read_or_refused(text: str) -> str:
    with answered_in_time():
        try:
            bendcore.read_json(text)
        except bendcore.SpecProblem as refused:
            problems = [p.to_dict() for p in refused.problems]
        else:
            return "read"
    assert problems
    assert all(p["code"] and p["text"] for p in problems)
    return "refused"


@given(text=st.text(max_size=40) | st.text(alphabet='{}[]":,0123456789.eE+-truefalsnN ', max_size=60))
@examples(200)
def test_any_text_is_read_or_refused(text: str) -> None:
    read_or_refused(text)


@given(spec=spoilt(), data=st.data())
@examples(150)
def test_a_spoilt_spec_written_as_json_with_a_piece_cut_out_is_read_or_refused(
    spec: Any, data: st.DataObject
) -> None:
    try:
        text = json.dumps(spec, default=str)  # writes NaN and infinities as JSON does not allow
    except (TypeError, RecursionError):
        return  # a key that JSON cannot write, or too deep
    begin = data.draw(st.integers(0, len(text)))
    cut = data.draw(st.integers(0, 3))
    read_or_refused(text[:begin] + text[begin + cut :])


@pytest.mark.parametrize(
    "text",
    [
        "",
        "{",
        "[]",
        "null",
        '"run"',
        "[" * 100_000,
        '{"a":' * 50_000,
        '{"route": NaN}',
        '{"route": {"points": [[0, 0, Infinity]]}}',
        '{"run": "a", "run": "b"}',
        "1" * 10_000,
        "\ufeff{}",
        '{"run": "\\ud800"}',
    ],
)
def test_json_that_is_none_or_is_no_run_is_refused(text: str) -> None:
    assert read_or_refused(text) == "refused"


def test_a_key_told_twice_is_refused() -> None:
    good = json.dumps({k: v for k, v in BY_POINTS.items() if k != "parallel"})
    assert read_or_refused(good) == "read"
    twice = good.replace('"centreline_radius": 73.0', '"centreline_radius": 73.0, "centreline_radius": 74.0')
    assert twice != good
    assert read_or_refused(twice) == "refused"
