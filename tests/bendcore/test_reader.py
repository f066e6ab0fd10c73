"""Kinds of value: what each takes, what it refuses, and that a refusal says what is allowed."""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import pytest

from bendcore.errors import BendError, Conflict, SpecProblem
from bendcore.reader import (
    REFUSED,
    Choice,
    Count,
    Flag,
    Kind,
    Listed,
    Nullable,
    Number,
    Point,
    Record,
    RecordOf,
    Text,
    key,
    name_of,
    unknown_key,
)


class Colour(StrEnum):
    GALVANISED = "galvanised"
    BLACK = "black"


@dataclass(frozen=True, slots=True)
class Clip(Record):
    """A record with one key of each sort."""

    spacing: float = key(Number("mm", above=0.0, at_most=3000.0), "clip to clip, mm")
    colour: Colour = key(Choice(Colour), "black or galvanised", default=Colour.BLACK)
    note: str = key(Text(10), "a note", default="")
    from_: float | None = key(
        Nullable(Number("mm", at_least=0.0, below=100.0)), "from the end", default=None, name="from"
    )

    def conflicts(self, where: str) -> list[BendError]:
        if self.note == "none" and self.from_ is not None:
            return [Conflict(f"{where}note", "does not go with from")]
        return []


LENGTH = Number("mm", above=0.0, at_most=100.0)


def read(kind: Kind, value: Any) -> Any:
    """The value read, without a problem."""
    problems: list[BendError] = []
    got = kind.read(value, "here", problems)
    assert problems == []
    return got


def told(kind: Kind, value: Any) -> list[tuple[str, str]]:
    """Code and place of each problem of a value refused."""
    return [(problem.code, problem.where) for problem in problems_of(kind, value)]


def problems_of(kind: Kind, value: Any) -> list[BendError]:
    problems: list[BendError] = []
    assert kind.read(value, "here", problems) is REFUSED
    assert problems != []
    return problems


def text_of(kind: Kind, value: Any) -> str:
    (problem,) = problems_of(kind, value)
    return problem.text


# ---------------------------------------------------------------------------------------------------- numbers


@pytest.mark.parametrize(("value", "got"), [(5, 5.0), (5.5, 5.5), (100, 100.0), (5e-324, 5e-324)])
def test_a_number_within_its_bounds_is_read_as_a_float(value: float, got: float) -> None:
    found = read(LENGTH, value)
    assert type(found) is float
    assert found == got


@pytest.mark.parametrize("value", [0, 0.0, -0.0, -1, 100.00000000000001, 101, 10**400, -(10**400), 1e308])
def test_a_number_out_of_its_bounds_is_refused(value: float) -> None:
    assert told(LENGTH, value) == [("out-of-range", "here")]


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_not_finite_is_refused(value: float) -> None:
    assert told(LENGTH, value) == [("out-of-range", "here")]
    assert "not finite" in text_of(LENGTH, value)


@pytest.mark.parametrize("value", [True, False])
def test_a_boolean_is_no_number(value: bool) -> None:
    assert told(LENGTH, value) == [("wrong-type", "here")]
    assert told(Count(0, 5), value) == [("wrong-type", "here")]


@pytest.mark.parametrize("value", ["5", None, [5], {"mm": 5}, 5 + 0j])
def test_what_is_no_number_is_refused_as_such(value: Any) -> None:
    assert told(LENGTH, value) == [("wrong-type", "here")]


def test_bounds_may_be_included_or_not() -> None:
    assert read(Number("", at_least=0.0, below=1.0), 0) == 0.0
    assert told(Number("", at_least=0.0, below=1.0), 1) == [("out-of-range", "here")]
    assert read(Number("", above=0.0, at_most=1.0), 1) == 1.0
    assert told(Number("", above=0.0, at_most=1.0), 0) == [("out-of-range", "here")]


def test_a_number_without_bounds_cannot_be_declared() -> None:
    with pytest.raises(ValueError, match="both bounds"):
        Number("mm", above=0.0)


def test_a_refused_number_says_what_it_is_and_what_is_allowed() -> None:
    text = text_of(Number("degrees", above=0.0, at_most=45.0), 60)
    assert text.startswith("is 60;")
    assert "above 0 and at most 45 degrees" in text


@pytest.mark.parametrize(
    ("kind", "value"),
    [
        (Number("mm", at_least=-1e7, at_most=1e7), 10000001),
        (Number("mm", at_least=-1e7, at_most=1e7), -10000000.5),
        (Number("", above=0.0, below=1.0), 1.00000001),
        (Number("degrees", at_least=1e-4, at_most=180.0), 180.0000001),
        (Count(3, 4), 3.0000000001),
    ],
)
def test_a_value_just_past_its_bound_is_not_told_as_the_bound_itself(kind: Kind, value: float) -> None:
    # "is 1e+07; allowed is at most 1e+07 mm" helps nobody.
    given = text_of(kind, value).split(";")[0].removeprefix("is ")
    assert float(given) == value


def test_lengths_of_building_sites_are_told_without_powers_of_ten() -> None:
    assert "e+" not in text_of(Number("mm", at_least=-1e7, at_most=1e7), 2e7)


def test_a_number_of_a_class_of_its_own_is_a_number() -> None:
    # As array libraries hand them out: a float by descent.
    class Measured(float):
        pass

    assert read(LENGTH, Measured(73.0)) == 73.0


# ------------------------------------------------------------------------------------- counts, texts, choices


@pytest.mark.parametrize("value", [3, 4])
def test_a_count_is_a_whole_number_within_its_bounds(value: int) -> None:
    assert read(Count(3, 4), value) == value


@pytest.mark.parametrize("value", [2, 5, 3.5, -3, 10**30, math.nan, math.inf])
def test_another_number_is_no_count(value: float) -> None:
    assert told(Count(3, 4), value) == [("out-of-range", "here")]


@pytest.mark.parametrize("value", ["3", None, [3]])
def test_what_is_no_number_is_no_count(value: Any) -> None:
    assert told(Count(3, 4), value) == [("wrong-type", "here")]


def test_a_whole_number_written_with_a_point_is_a_whole_number() -> None:
    # JSON has one kind of number, and many a program writes 3 as 3.0; JSON Schema counts it an integer.
    assert read(Count(3, 4), 3.0) == 3


def test_a_text_is_one_printable_line_of_so_many_characters() -> None:
    for text in ("", "run 07", "Prüfraum 2", "1/2″ × 3′", "室"):
        assert read(Text(10), text) == text
    assert told(Text(10), "x" * 11) == [("out-of-range", "here")]
    for text in ("a\nb", "a\tb", "\x00", "\x1b[31m", "\ud800", "\u202e"):
        assert told(Text(10), text) == [("out-of-range", "here")]
    for value in (5, None, ["a"], True):
        assert told(Text(10), value) == [("wrong-type", "here")]


def test_a_no_break_space_is_a_space() -> None:
    # As text copied from a page or a letter has them: "Plant room 2".
    assert read(Text(20), "room\u00a02") in {"room\u00a02", "room 2"}


def test_a_choice_is_one_of_its_words_and_a_refusal_lists_them() -> None:
    assert read(Choice(Colour), "black") is Colour.BLACK
    assert read(Choice(Colour), Colour.BLACK) is Colour.BLACK
    for word in ("Black", "", "blue"):
        assert told(Choice(Colour), word) == [("not-a-choice", "here")]
        assert "galvanised, black" in text_of(Choice(Colour), word)
    for value in (1, None, True, ["black"], {}):
        assert told(Choice(Colour), value) == [("wrong-type", "here")]
        assert "galvanised, black" in text_of(Choice(Colour), value)


# ------------------------------------------------------------------------------------------- points and lists


def test_a_point_is_three_numbers_in_reach() -> None:
    assert read(Point(100.0), [1, 2.5, -100]) == (1.0, 2.5, -100.0)
    assert read(Point(100.0), (1, 2, 3)) == (1.0, 2.0, 3.0)


@pytest.mark.parametrize("value", [[], [1], [1, 2], [1, 2, 3, 4], "123", {"x": 1, "y": 2, "z": 3}, None, 5])
def test_what_is_not_three_of_something_is_no_point(value: Any) -> None:
    assert told(Point(100.0), value) == [("wrong-type", "here")]
    assert "[east, north, up]" in text_of(Point(100.0), value)


def test_each_coordinate_that_is_none_is_told_at_its_place() -> None:
    assert told(Point(100.0), [True, "2", 101]) == [
        ("wrong-type", "here[0]"),
        ("wrong-type", "here[1]"),
        ("out-of-range", "here[2]"),
    ]
    assert told(Point(100.0), [0, math.nan, 0]) == [("out-of-range", "here[1]")]


def test_a_list_is_read_to_a_tuple_and_each_entry_is_told_at_its_place() -> None:
    kind = Listed(LENGTH, least=1, most=3)
    assert read(kind, [1, 2]) == (1.0, 2.0)
    assert told(kind, [1, -2, "3"]) == [("out-of-range", "here[1]"), ("wrong-type", "here[2]")]
    assert told(kind, []) == [("out-of-range", "here")]
    assert told(kind, [1, 2, 3, 4]) == [("out-of-range", "here")]
    assert told(kind, {"0": 1}) == [("wrong-type", "here")]
    assert told(kind, "12") == [("wrong-type", "here")]


def test_a_list_of_the_wrong_length_says_how_many_it_has_in_the_right_number() -> None:
    assert "2 to 5" in text_of(Listed(LENGTH, least=2, most=5), [1])
    assert "1 entries" not in text_of(Listed(LENGTH, least=2, most=5), [1])


def test_null_stands_for_not_known_only_where_it_may() -> None:
    assert read(Nullable(LENGTH), None) is None
    assert read(Nullable(LENGTH), 5) == 5.0
    assert told(Nullable(LENGTH), 0) == [("out-of-range", "here")]
    assert told(LENGTH, None) == [("wrong-type", "here")]


def test_a_flag_is_true_or_false_and_nothing_else() -> None:
    assert read(Flag(), True) is True
    assert read(Flag(), False) is False
    for other in (0, 1, "true", None, []):
        assert told(Flag(), other) == [("wrong-type", "here")]


# ---------------------------------------------------------------------------------------------------- records


def test_a_record_is_read_from_an_object_with_its_defaults() -> None:
    assert read(RecordOf(Clip), {"spacing": 1500}) == Clip(1500.0)
    assert read(
        RecordOf(Clip), {"spacing": 1500, "colour": "galvanised", "note": "wall", "from": None}
    ) == Clip(1500.0, Colour.GALVANISED, "wall")


def test_a_record_passes_as_it_is() -> None:
    clip = Clip(1500.0)
    assert read(RecordOf(Clip), clip) is clip


@pytest.mark.parametrize("value", [None, [], "clip", 5, [["spacing", 5]], True])
def test_what_is_no_object_is_no_record(value: Any) -> None:
    assert told(RecordOf(Clip), value) == [("wrong-type", "here")]


def test_every_problem_of_a_record_is_told() -> None:
    assert told(RecordOf(Clip), {"colour": "blue", "note": 5, "from": 100, "colour2": 1}) == [
        ("missing-key", "here.spacing"),
        ("not-a-choice", "here.colour"),
        ("wrong-type", "here.note"),
        ("out-of-range", "here.from"),
        ("unknown-key", "here.colour2"),
    ]


def test_keys_that_do_not_go_together_are_told_once_each_is_allowed() -> None:
    assert told(RecordOf(Clip), {"spacing": 5, "note": "none", "from": 5}) == [("conflict", "here.note")]


def test_an_unknown_key_says_which_there_are_and_which_was_perhaps_meant() -> None:
    (problem,) = problems_of(RecordOf(Clip), {"spacing": 5, "spaceing": 5})
    assert problem.where == "here.spaceing"
    assert "allowed are spacing, colour, note, from" in problem.text
    assert "did you mean spacing?" in problem.text
    (problem,) = problems_of(RecordOf(Clip), {"spacing": 5, "zzz": 5})
    assert "did you mean" not in problem.text


@pytest.mark.parametrize("name", ["", "x" * 100_000, 5, None, ("a",), "\ud800", "a\nb"])
def test_any_unknown_key_at_all_is_told_in_a_short_line_of_text_that_can_be_sent(name: Any) -> None:
    problem = unknown_key(name, f"here.{name}", ["spacing"])
    assert problem.code == "unknown-key"
    assert len(problem.where) <= 200
    assert f"{problem.where}{problem.text}".encode()
    assert "\n" not in problem.where


def test_a_record_is_written_without_what_stands_at_its_default() -> None:
    assert Clip(1500.0).to_json() == {"spacing": 1500.0}
    assert Clip(1500.0, Colour.GALVANISED, "wall", 50.0).to_json() == {
        "spacing": 1500.0,
        "colour": "galvanised",
        "note": "wall",
        "from": 50.0,
    }


def test_a_record_made_in_code_checks_itself() -> None:
    with pytest.raises(SpecProblem) as caught:
        Clip(-5.0, Colour.BLACK, "far too long a note", 500.0)
    assert [(problem.code, problem.where) for problem in caught.value.problems] == [
        ("out-of-range", "spacing"),
        ("out-of-range", "note"),
        ("out-of-range", "from"),
    ]
    with pytest.raises(SpecProblem):
        Clip(5.0, note="none", from_=5.0)


def test_a_record_made_in_code_from_words_holds_what_reading_them_gives() -> None:
    # Either the word is refused, or it becomes the choice that rules ask for by identity.
    try:
        clip = Clip(5.0, "black")
    except SpecProblem as told:
        assert {problem.code for problem in told.problems} == {"wrong-type"}  # noqa: PT017
    else:
        assert clip.colour is Colour.BLACK


def test_a_record_cannot_be_changed() -> None:
    with pytest.raises(AttributeError):
        Clip(5.0).spacing = -5.0


def test_a_record_tells_its_schema() -> None:
    assert RecordOf(Clip).schema() == {
        "type": "object",
        "properties": {
            "spacing": {
                "type": "number",
                "exclusiveMinimum": 0.0,
                "maximum": 3000.0,
                "description": "clip to clip, mm",
            },
            "colour": {
                "enum": ["galvanised", "black"],
                "description": "black or galvanised",
                "default": "black",
            },
            "note": {"type": "string", "maxLength": 10, "description": "a note"},
            "from": {
                "anyOf": [{"type": "number", "minimum": 0.0, "exclusiveMaximum": 100.0}, {"type": "null"}],
                "description": "from the end",
            },
        },
        "required": ["spacing"],
        "additionalProperties": False,
    }


@pytest.mark.parametrize(
    ("value", "name"),
    [
        (None, "null"),
        (True, "true"),
        (5, "5"),
        (5.25, "5.25"),
        (10**400, "a number far too large"),
        ("up", "'up'"),
        ({}, "an object"),
        ([1], "a list"),
        ({1}, "of type set"),
    ],
)
def test_a_value_is_named_as_a_person_reads_it(value: Any, name: str) -> None:
    assert name_of(value) == name


def test_a_long_text_is_named_by_its_beginning() -> None:
    assert name_of("x" * 1000) == "'" + "x" * 37 + "...'"
