"""Rows of a run sheet and lengths as typed: pure rules, no database."""

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bendcore import tape
from bendcore.units import Mm, Units
from services.core.errors import Invalid
from services.projects.rules import (
    FIELDS_OF,
    MOST_ROWS,
    checked_rows,
    parse_length,
    to_measure,
    to_steps,
)

DIRECTIONS = ["up", "down", "left", "right", "in", "out"]
MEASURED = ["back", "corner", "inside", "wall", "face"]

# ------------------------------------------------------------------------------------------------ strategies

lengths = st.floats(0.0, 1e6, allow_nan=False)
rises = st.floats(0.001, 1e5)
directions = st.sampled_from(DIRECTIONS)
angles = st.floats(0.01, 89.9)


@st.composite
def fittings(draw: st.DrawFn, *, measured: bool) -> dict[str, Any]:
    """What follows a leg where a fitting does; it need not turn, nor tell its legs."""
    kind = draw(st.sampled_from(["draw_in_box", "inspection_bend", "tee", "bought_bend"]))
    row: dict[str, Any] = {
        "fitting": kind,
        "leg_in_mm": draw(st.none() | lengths),
        "leg_out_mm": draw(st.none() | lengths),
    }
    if kind == "bought_bend" or draw(st.booleans()):
        if measured or draw(st.booleans()):
            turn = draw(angles), draw(directions), draw(rises)
        else:
            turn = None, None, None
        row |= dict(zip(("angle_deg", "toward", "radius_mm"), turn, strict=True))
        if kind != "bought_bend" and row["angle_deg"] is None:
            row["radius_mm"] = None
    return row


@st.composite
def rows_as_typed(draw: st.DrawFn, *, measured: bool) -> list[dict[str, Any]]:
    """Rows that may be kept; with `measured`, none lacks a figure."""

    def maybe(figures: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
        return figures if measured else st.none() | figures

    count = draw(st.integers(0, 8))
    rows: list[dict[str, Any]] = []
    for index in range(count):
        then = (
            "end"
            if index == count - 1
            else draw(st.sampled_from([name for name in FIELDS_OF if name != "end"]))
        )
        after_kick = bool(rows) and rows[-1]["then"] == "kick"
        row: dict[str, Any] = {
            "length_mm": None if after_kick else draw(maybe(lengths)),
            "from": draw(st.sampled_from(MEASURED)),
            "to": draw(st.sampled_from(MEASURED)),
            "then": then,
        }
        if then == "fitting":
            row |= draw(fittings(measured=measured))
        elif then != "end":
            row |= {"angle_deg": draw(maybe(angles)), "toward": draw(maybe(directions))}
        if then not in ("bend", "fitting", "end"):
            row["rise_mm"] = draw(maybe(rises))
        if then == "offset" and draw(st.booleans()):
            row |= {"spread_mm": draw(maybe(lengths)), "spread_toward": draw(maybe(directions))}
        if then == "saddle_set":
            row["bends"] = draw(maybe(st.sampled_from([3, 4])))
            if row["bends"] == 4:
                row["width_mm"] = draw(maybe(lengths))
        rows.append(row)
    return rows


# ------------------------------------------------------------------------------------------------ laws


@given(rows_as_typed(measured=False))
def test_kept_rows_stay_as_they_are_when_they_are_checked_again_after_json(
    rows: list[dict[str, Any]],
) -> None:
    kept = checked_rows(rows)
    assert checked_rows(json.loads(json.dumps(kept))) == kept
    for typed, row in zip(rows, kept, strict=True):
        assert {name: value for name, value in row.items() if value is not None} == {
            name: value for name, value in typed.items() if value is not None
        }


@given(rows_as_typed(measured=True))
def test_every_step_leads_back_to_the_row_that_gave_it_and_every_figure_is_in_its_steps(
    rows: list[dict[str, Any]],
) -> None:
    kept = checked_rows(rows)
    made = to_steps(kept)
    assert len(made.row_of_step) == len(made.steps)
    assert made.row_of_step == sorted(made.row_of_step)
    again: list[dict[str, Any]] = [dict.fromkeys(row) | {"then": "end"} for row in kept]
    for step, index in zip(made.steps, made.row_of_step, strict=True):
        row = again[index]
        if "leg" in step:
            assert row["then"] == "end", "a row's leg stands before its turn"
            row |= {"length_mm": step["leg"], "from": step["from"], "to": step["to"]}
        elif "bend" in step:
            row |= {"then": "bend", "angle_deg": step["bend"], "toward": step["toward"]}
        else:
            ((kind, figures),) = step.items()
            if kind == "fitting":
                row |= {"then": kind, "fitting": figures["kind"]}
                row |= {f"{leg}_mm": figures[leg] for leg in ("leg_in", "leg_out")}
                row |= {"angle_deg": figures.get("angle"), "toward": figures.get("toward")}
                row["radius_mm"] = figures.get("radius")
                continue
            row |= {
                "then": kind,
                "angle_deg": figures["angle"],
                "toward": figures["toward"],
                "rise_mm": figures["rise"],
                "spread_mm": figures.get("spread"),
                "spread_toward": figures.get("spread_toward"),
                "bends": figures.get("bends"),
                "width_mm": figures.get("width"),
            }
    for row, kept_row in zip(again, kept, strict=True):
        if row["length_mm"] is None:  # after a kick: no leg, so nothing it is measured from or to
            row |= {"from": kept_row["from"], "to": kept_row["to"]}
        assert row == kept_row


@given(rows_as_typed(measured=False))
def test_rows_make_steps_exactly_when_nothing_is_to_measure(rows: list[dict[str, Any]]) -> None:
    kept = checked_rows(rows)
    missing = to_measure(kept)
    for row, field in missing:
        assert dict(kept[row])[field] is None
    if missing:
        with pytest.raises(ValueError, match="is still to measure"):
            to_steps(kept)
    else:
        to_steps(kept)


@given(
    st.lists(
        st.dictionaries(st.text(max_size=12), st.none() | st.booleans() | st.floats() | st.text()), max_size=4
    )
)
def test_whatever_is_sent_as_rows_is_kept_or_refused_with_its_place(rows: list[dict[str, Any]]) -> None:
    places = []
    try:
        checked_rows(rows)
    except Invalid as refused:
        places = [each.where for each in refused.problems] or [""]
    assert all(place.startswith("rows[") for place in places)


# ------------------------------------------------------------------------------------------------ rows


def test_what_a_row_does_not_say_is_measured_between_backs_and_from_face_to_face_at_the_ends() -> None:
    first, second, last = checked_rows([{"angle_deg": 90}, {}, {}])
    assert (first["from"], first["to"], first["then"]) == ("face", "back", "bend")
    assert (second["from"], second["to"], second["then"]) == ("back", "back", "bend")
    assert (last["from"], last["to"], last["then"]) == ("back", "face", "end")
    assert first["angle_deg"] == 90.0
    assert isinstance(first["angle_deg"], float)


def test_a_partly_measured_survey_says_what_is_to_measure() -> None:
    rows = checked_rows(
        [
            {"length_mm": None, "then": "bend", "angle_deg": None, "toward": "right"},
            {
                "length_mm": 0.0,
                "then": "offset",
                "rise_mm": 50,
                "angle_deg": 30,
                "toward": "in",
                "spread_mm": 20,
            },
            {"length_mm": 800, "then": "saddle_set", "rise_mm": None, "angle_deg": 30, "toward": "in"},
            {
                "length_mm": 800,
                "then": "saddle_set",
                "rise_mm": 60,
                "angle_deg": 30,
                "toward": "in",
                "bends": 4,
            },
            {"length_mm": 300, "then": "kick", "rise_mm": 40, "angle_deg": 20, "toward": None},
            {"length_mm": None, "then": "end"},
        ]
    )
    assert to_measure(rows) == [
        (0, "length_mm"),
        (0, "angle_deg"),
        (1, "spread_toward"),
        (2, "rise_mm"),
        (2, "bends"),
        (3, "width_mm"),
        (4, "toward"),
    ]


@pytest.mark.parametrize(
    ("row", "place"),
    [
        ({"length_mm": "1200"}, "rows[0].length_mm"),
        ({"length_mm": True}, "rows[0].length_mm"),
        ({"length_mm": float("nan")}, "rows[0].length_mm"),
        ({"length_mm": 1.1e7}, "rows[0].length_mm"),
        ({"length_mm": 10**400}, "rows[0].length_mm"),
        ({"from": "side"}, "rows[0].from"),
        ({"to": None}, "rows[0].to"),
        ({"then": "twist"}, "rows[0].then"),
        ({"then": ["bend"]}, "rows[0].then"),
        ({"then": "end"}, "rows[0].then"),  # a row follows
        ({"angle_deg": 0.0}, "rows[0].angle_deg"),
        ({"angle_deg": 180.0}, "rows[0].angle_deg"),
        ({"then": "offset", "angle_deg": 90.5}, "rows[0].angle_deg"),
        ({"then": "saddle_set", "angle_deg": 90.0}, "rows[0].angle_deg"),
        ({"then": "offset", "rise_mm": 0.0}, "rows[0].rise_mm"),
        ({"then": "offset", "spread_mm": -1.0}, "rows[0].spread_mm"),
        ({"then": "saddle_set", "bends": 5}, "rows[0].bends"),
        ({"then": "saddle_set", "bends": True}, "rows[0].bends"),
        ({"then": "saddle_set", "bends": 3, "width_mm": 200.0}, "rows[0].width_mm"),
        ({"toward": "north"}, "rows[0].toward"),
        ({"rise_mm": 50.0}, "rows[0].rise_mm"),  # goes with a set, and this is a bend
        ({"colour": "red"}, "rows[0].colour"),
    ],
)
def test_a_figure_that_no_row_may_have_is_refused_at_its_place(row: dict[str, Any], place: str) -> None:
    with pytest.raises(Invalid) as refused:
        checked_rows([row, {}])
    assert [each.where for each in refused.value.problems] == [place]


@pytest.mark.parametrize(
    ("rows", "place"),
    [(None, "rows"), ("rows", "rows"), ({}, "rows"), ([{}] * (MOST_ROWS + 1), "rows"), ([3], "rows[0]")],
)
def test_what_is_no_list_of_rows_is_refused(rows: object, place: str) -> None:
    with pytest.raises(Invalid) as refused:
        checked_rows(rows)
    assert [each.where for each in refused.value.problems] == [place]


def test_a_refusal_says_what_is_allowed() -> None:
    with pytest.raises(Invalid) as refused:
        checked_rows([{"then": "saddle_set", "angle_deg": 95, "rise_mm": 50}, {"rise_mm": 5}])
    assert [each.text for each in refused.value.problems] == [
        "is 95; a number is wanted, at least 0.0001 and below 90 °",
        "goes with offset, saddle_set, kick, box_set; what follows here is end",
    ]


# ------------------------------------------------------------------------------------------------ lengths


@pytest.mark.parametrize(
    ("text", "units", "mm"),
    [
        ("1210", "mm", 1210.0),
        (" 1210.5 mm ", "mm", 1210.5),
        ("121cm", "mm", 1210.0),
        ("1.21 m", "mm", 1210.0),
        ("0", "mm", 0.0),
        (".5", "mm", 0.5),
        ("12.", "mm", 12.0),
        ('94 1/2"', "mm", 2400.3),
        ("7' 10 1/2\"", "mm", 2400.3),
        ("7 ft", "mm", 2133.6),
        ("94.5", "in", 2400.3),
        ("94 1/2", "in", 2400.3),
        ("94-1/2", "in", 2400.3),
        ("94½", "in", 2400.3),
        ("1/2", "in", 12.7),
        ("3/32 in", "in", 2.38125),
        ("7' 10 1/2\"", "in", 2400.3),
        ("7'-10 1/2\"", "in", 2400.3),
        ("7’ 10½”", "in", 2400.3),
        ("7′10″", "in", 2387.6),
        ("7'10", "in", 2387.6),
        ("7 ft 10 9/16 in", "in", 2401.8875),
        ("7 FT 10 IN", "in", 2387.6),
        ("7.5'", "in", 2286.0),
        ("7' 1/2\"", "in", 2146.3),
        ("2400.3 mm", "in", 2400.3),
        ("1 m", "in", 1000.0),
        ("0", "in", 0.0),
    ],
)
def test_a_length_is_read_as_it_is_said(text: str, units: str, mm: float) -> None:
    assert parse_length(text, units) == mm


@pytest.mark.parametrize("units", ["mm", "in"])
@pytest.mark.parametrize(
    "text",
    [
        "", "  ", "abc", "1,210", "1210 1210", "-5", "−5", "1e5", "nan", "inf", "١٢", "0x10", "'", '"',
        "/", "5 km",
        "7' 14\"", "7' 12", "10 3/5\"", "10 9/8\"", "1/0\"", "10.5 1/2\"", "7.5' 3\"", "7' 3' 4\"", "9" * 41,
        "20000000 mm", "10 1/2 mm", "½ ½",
    ],
)  # fmt: skip
def test_what_is_no_length_is_refused_with_what_is_allowed(text: str, units: str) -> None:
    with pytest.raises(Invalid) as refused:
        parse_length(text, units, where="rows[3].length_mm")
    (problem,) = refused.value.problems
    assert problem.where == "rows[3].length_mm"
    assert len(problem.text) > 20


def test_a_fraction_among_millimetres_is_refused_rather_than_taken_for_inches() -> None:
    with pytest.raises(Invalid, match=r'has a fraction without its unit; .* 10 1/2"'):
        parse_length("10 1/2", "mm")


def test_a_length_that_may_be_below_0_is_read_with_its_minus() -> None:
    assert parse_length("-12.5", "mm", signed=True) == -12.5
    assert parse_length("− 1/2", "in", signed=True) == -12.7


@given(st.floats(0.0, 1e7 - 25.0))
def test_a_length_that_the_tape_says_is_read_back_to_the_same_division(length: float) -> None:
    for units in Units:
        said = tape.say(Mm(length), units)
        assert parse_length(said, "mm") == tape.round_reading(Mm(length), units)
        assert parse_length(tape.read(Mm(length), units), units.value) == tape.round_reading(
            Mm(length), units
        )
    assert parse_length(tape.feet_inches(Mm(length)), "in") == tape.round_reading(Mm(length), Units.INCH)


@given(st.text(alphabet="0123456789 .'\"/-ftinmc½′”", max_size=14), st.sampled_from(["mm", "in"]))
def test_whatever_is_typed_is_a_length_or_is_refused(text: str, units: str) -> None:
    try:
        length = parse_length(text, units)
    except Invalid as refused:
        length = 0.0 if len(refused.problems) == 1 else -1.0
    assert 0.0 <= length <= 1e7
