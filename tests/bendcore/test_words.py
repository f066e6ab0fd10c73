"""The glossary's trade words, and findings as a person reads them (docs/words.md)."""

import re
from itertools import product
from typing import Any

import pytest
from worked import LEAST, points, run, steps

import bendcore
from bendcore.units import Units
from bendcore.words import Dialect, Finding, Level, problem_said, sentence, term

OWN_LINE = {"centreline_radius": 73.0, "set_line": {"kind": "own", "reach": -1130.0}}
ON_A_BEND = {"centreline_radius": 73.0, "set_line": {"kind": "own", "reach": -800.0}}

# One run for each rule that the engine has.
TOLD: dict[str, dict[str, Any]] = {
    "mark-off": points([0, 0, 0], [0, 0, 1200], [900, 0, 1200], former=OWN_LINE),
    "mark-off on a bend": points([0, 0, 0], [0, 0, 1200], [900, 0, 1200], [900, 700, 1200], former=ON_A_BEND),
    "allowance-untold": run(
        ends={"start": {"kind": "spout"}, "finish": {"kind": "locknuts_and_female_bush"}}
    ),
    "points-merged": points([0, 0, 0], [0, 0, 700], [0, 0, 700], [900, 0, 700]),
    "turn-too-small": points([0, 0, 0], [0, 0, 500], [0, 0, 1200], [900, 0, 1200]),
    "handbook-figures": steps(
        {"leg": 500},
        {"offset": {"rise": 100, "angle": 30, "toward": "in"}},
        {"leg": 900},
        {"saddle_set": {"bends": 3, "rise": 60, "angle": 30, "toward": "in"}},
        {"leg": 900},
        {"saddle_set": {"bends": 4, "rise": 100, "angle": 30, "width": 200, "toward": "in"}},
        {"leg": 500},
        {"box_set": {"rise": 60, "angle": 45, "toward": "in"}},
        {"leg": 500},
    ),
    "former-radius": run(parallel={"count": 2, "spacing": 40, "toward": "left", "corners": "concentric"}),
    "closing joints": points([0, 0, 0], [0, 0, 2600], [2900, 0, 2600], [2900, 900, 2600]),
    "closing joints, us": points([0, 0, 0], [0, 0, 2600], [2900, 0, 2600], [2900, 900, 2600], rules="us"),
    "long thread": points([0, 0, 0], [0, 0, 7000], joints={"long_thread": 46}, fit_from="both"),
    "fitting-legs-untold": steps(
        {"leg": 900}, {"fitting": {"kind": "tee"}}, {"leg": 900}, fit_from="both"
    ),
    "joints-not-searched": steps(
        *[each for _ in range(40) for each in ({"leg": 700}, {"bend": 30, "toward": "in"}, {"leg": 700},
          {"bend": 30, "toward": "up"})], {"leg": 700},
        beside={"heading": "right"},
        conduit={**LEAST["conduit"], "stock": [
            {"length": 1111, "count": 1}, {"length": 1733.3, "count": 1}, {"length": 2019.7, "count": 1},
            {"length": 2599.9, "count": 1},
        ]},
        joints={"costs": {"metre": 3, "cut": 1}},
    ),
    "bending-order": run(bender={"hold_min": 1500}),
    "order-not-searched": steps(
        *[each for _ in range(12) for each in ({"leg": 250}, {"bend": 30, "toward": "in"}, {"leg": 250},
          {"bend": 30, "toward": "up"})], {"leg": 250},
        beside={"heading": "right"}, joints="none", bender={"hold_min": 10},
    ),
}  # fmt: skip


def findings(spec: dict[str, Any]) -> list[Finding]:
    found = bendcore.plan(spec)
    plans = found.plans if isinstance(found, bendcore.Bank) else (found,)
    return [finding for plan in plans for finding in plan.findings]


def said(name: str, units: Units = Units.MM, dialect: Dialect = Dialect.UK) -> str:
    return " ".join(sentence(finding, units, dialect) for finding in findings(TOLD[name]))


# ------------------------------------------------------------------------------------------------ trade words


@pytest.mark.parametrize(
    ("word", "uk", "us"),
    [
        ("stick", "length", "stick"),
        ("former", "former", "shoe"),
        ("centre", "centre", "center"),
        ("inside", "throat", "throat"),
        ("hold_side", "held end", "hook end"),
        ("swing_side", "swinging end", "free end"),
        ("offset", "double set", "offset"),
        ("saddle_set_3", "bubble set", "3-point saddle"),
        ("saddle_set_4", "bridge set", "4-point saddle"),
        ("kick", "set", "kick"),
        ("box_set", "box set", "box offset"),
        ("clip", "saddle", "strap"),
        ("coupler", "coupler", "coupling"),
        ("spout", "spout", "hub"),
        ("coupler_and_male_bush", "coupler and male bush", "coupling and bushing"),
        ("locknuts_and_female_bush", "locknuts and female bush", "locknuts and bushing"),
        ("datum_end", "datum end", "datum end"),
        ("take_up", "take-up", "take-up"),
    ],
)
def test_a_word_of_the_code_is_said_in_the_words_of_the_trade(word: str, uk: str, us: str) -> None:
    assert term(word, Dialect.UK) == uk
    assert term(word, Dialect.US) == us


def test_every_kind_of_end_and_every_set_line_has_its_trade_word() -> None:
    kinds = [
        "open",
        "spout",
        "coupler_and_male_bush",
        "locknuts_and_female_bush",
        "connector",
        "coupler",
        "flexible",
    ]
    lines = ["line_begin", "line_back", "line_arrow", "line_middle", "line_own"]
    for word, dialect in product([*kinds, "joint", *lines], Dialect):
        assert term(word, dialect).strip()


def test_a_word_that_is_not_in_the_glossary_is_an_error() -> None:
    with pytest.raises(KeyError):
        term("rack", Dialect.UK)


# -------------------------------------------------------------------------------------------------- sentences


def test_every_rule_is_told_by_one_of_the_runs_here() -> None:
    """Those of the rule packs stand in test_rules_words.py."""
    rules = {finding.rule for spec in TOLD.values() for finding in findings(spec) if not finding.edition}
    assert rules == {
        "bending-order",
        "closing-joints",
        "fitting-legs-untold",
        "long-thread-untold",
        "no-joint-to-close",
        "order-not-searched",
        "union-gap-untold",
        "mark-off",
        "allowance-untold",
        "points-merged",
        "turn-too-small",
        "handbook-figures",
        "former-radius",
        "joints-not-searched",
    }


@pytest.mark.parametrize(("units", "dialect"), list(product(Units, Dialect)))
@pytest.mark.parametrize("name", TOLD)
def test_every_finding_has_a_whole_sentence_in_any_units_and_words(
    name: str, units: Units, dialect: Dialect
) -> None:
    text = said(name, units, dialect)
    assert text[0].isupper()
    assert text.endswith(".")
    assert "\n" not in text
    assert "_" not in text  # no word of the code
    assert "None" not in text
    other = {Units.MM: r"\d in\b", Units.INCH: r"\d mm\b"}[units]
    assert not re.search(other, text)
    assert not re.search(r"\d\.\d", text)  # a tape reads whole millimetres or sixteenths


def test_a_mark_off_the_stick_says_where_and_what_to_do() -> None:
    text = said("mark-off")
    # 1127 - 1130; 1200 + 900 - 31.331868143973
    assert "bend 1 of length 1" in text
    assert "-3 mm" in text
    assert "2069 mm long" in text
    assert "another set line" in text
    # 3 mm are 1.9 sixteenths, 2068.67 mm 81.4436 in
    american = said("mark-off", Units.INCH, Dialect.US)
    assert "bend 1 of stick 1" in american
    assert "-1/8 in" in american
    assert "81 7/16 in long" in american


def test_a_mark_on_a_bend_already_made_names_that_bend() -> None:
    text = said("mark-off on a bend")
    # 1995.668131856027 - 800 lies on the arc from 1127 to 1241.668131856027
    assert "1196 mm" in text
    assert "on or before bend 1, which is already made" in text


def test_an_untold_allowance_names_the_end_and_its_kind() -> None:
    assert "the start of the run (spout)" in said("allowance-untold")
    assert "the finish of the run (locknuts and female bush)" in said("allowance-untold")
    assert "the start of the run (hub)" in said("allowance-untold", dialect=Dialect.US)
    assert "counts as 0" in said("allowance-untold")


def test_degenerate_points_are_named_as_a_person_counts_them() -> None:
    assert "Points 2 and 3 are one point" in said("points-merged")
    assert "Point 2 lies in a straight line" in said("turn-too-small")


def test_handbook_figures_stand_beside_the_exact_ones_in_trade_words() -> None:
    text = said("handbook-figures")
    for word in ("double set", "bubble set", "bridge set", "box set"):
        assert word in text
    # Of the first: 26.79 and 200 by the handbook, 25.00 and 199.10 exactly.
    assert "shrinks 27 mm, with like marks 200 mm apart" in text
    assert "25 mm and 199 mm" in text
    for word in ("offset", "3-point saddle", "4-point saddle", "box offset"):
        assert word in said("handbook-figures", dialect=Dialect.US)


def test_a_radius_not_at_hand_says_which_is_needed_and_what_can_be_done() -> None:
    text = said("former-radius")
    assert "conduit 2" in text
    assert "113 mm" in text
    assert "73 mm" in text
    assert "former" in text
    assert "equal corners" in text
    assert "shoe" in said("former-radius", dialect=Dialect.US)
    # 113 mm are 71.18 sixteenths: 4 7/16 in
    assert "4 7/16 in" in said("former-radius", Units.INCH, Dialect.US)


def test_a_finding_of_a_rule_without_a_sentence_is_an_error() -> None:
    with pytest.raises(KeyError):
        sentence(Finding("no-such-rule", Level.NOTE, "route"), Units.MM, Dialect.UK)


def test_levels_and_dialects_are_those_of_the_contract() -> None:
    assert {str(level) for level in Level} == {"stop", "warn", "note"}
    assert [str(dialect) for dialect in Dialect] == ["uk", "us"]


def test_a_problem_is_told_in_inches_with_what_must_be_added_rounded_up() -> None:
    # A leg of 3.7 mm between an end and a right angle of 107.5: 103.8 short, which is 4.087 in.
    spec = run(former={"centreline_radius": 107.5}, route={"points": [[0, 0, 0], [0, 0, 3.7], [900, 0, 3.7]]})
    with pytest.raises(bendcore.SpecProblem) as refused:
        bendcore.plan(spec)
    problem = refused.value.problems[0]
    told = problem_said(problem, Units.INCH)
    # 3.7 mm is 2.33 sixteenths, 107.5 mm 67.7; 103.8 mm is 65.4 and goes up to 66: 4 1/8 in.
    assert "comes to 1/8 in" in told
    assert "4 1/8 in short" in told
    assert "takes 4 1/4 in" in told
    assert "Make it 4 1/8 in longer" in told
    assert " mm" not in told
    assert problem_said(problem, Units.MM) == problem.text
