"""From a run to the engine's spec, and from the engine's words to the rows: pure, no database."""

import uuid
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from survey import OVERLAP, RIGHT_ANGLE, TWO_STICKS

from services.bench.models import Bender, Former
from services.company.models import Company
from services.core.scoping import company_scope
from services.planning import rules
from services.projects.models import Run
from services.projects.rules import checked_rows

THOUSANDTH = 0.001
"""mm: hand calculations here are carried to a thousandth."""


def a_run(rows: list[dict[str, Any]], *, former: dict[str, Any] | None = None, **run: Any) -> Run:
    """A run in memory, never saved."""
    figures: dict[str, Any] = {"conduit": "steel-20-heavy", "centreline_radius_mm": 73.0, **(former or {})}
    with company_scope(uuid.uuid4()):  # whose they are is asked when they are made
        return Run(
            label="07",
            former=Former(bender=Bender(name="Bench bender"), **figures),
            rows=checked_rows(rows),
            **run,
        )


def company(**settings: Any) -> Company:
    """A company in memory."""
    return Company(name="Ostley", **settings)


def test_the_spec_says_all_that_run_former_and_company_say() -> None:
    run = a_run(
        RIGHT_ANGLE,
        former={
            "line": "arrow",
            "take_up_mm": 60.0,
            "k": 0.02,
            "c_deg": 1.0,
            "sd_deg": 0.5,
            "scale_deg": 0.5,
        },
        heading="down",
        standoff_mm=6.0,
        start_kind="spout",
        start_allowance_mm=-12.0,
        finish_kind="connector",
    )
    settings = company(clearance_mm=110.0, min_piece_mm=160.0, tolerance_deg=1.5, tolerance_mm=3.0, risk=0.1)
    assert rules.spec_of(run, settings) == {
        "run": "07",
        "conduit": {"catalogue": "steel-20-heavy"},
        "former": {"centreline_radius": 73.0, "set_line": {"kind": "arrow", "take_up": 60.0}},
        "route": {
            "heading": "down",
            "standoff": 6.0,
            "steps": [
                {"leg": 1210.0, "to": "back", "from": "face"},
                {"bend": 90.0, "toward": "right"},
                {"leg": 600.0, "to": "face", "from": "back"},
            ],
        },
        "ends": {
            "start": {"kind": "spout", "allowance": -12.0},
            "finish": {"kind": "connector", "allowance": None},
        },
        "joints": {
            "clearance": 110.0,
            "min_piece": 160.0,
            "long_thread": None,
            "union_gap": None,
        },
        "fit_from": "start",
        "tolerance": {"angle": 1.5, "length": 3.0},
        "calibration": {"k": 0.02, "c": 1.0, "sd": 0.5, "risk": 0.1, "scale": 0.5},
    }


@pytest.mark.parametrize("missing", ["k", "c_deg", "sd_deg"])
def test_a_springback_that_is_not_wholly_known_gives_no_pulls(missing: str) -> None:
    known: dict[str, Any] = {"k": 0.0, "c_deg": 0.0, "sd_deg": 0.0}
    whole = rules.draft(a_run(RIGHT_ANGLE, former=known), company())
    assert whole.plan is not None
    pull = whole.plan.sticks[0].bends[0].pull
    assert pull is not None
    assert pull.first == 90.0  # nothing springs back, and nothing is uncertain
    part = rules.draft(a_run(RIGHT_ANGLE, former=known | {missing: None}), company())
    assert part.plan is not None
    assert part.plan.sticks[0].bends[0].pull is None


def test_a_right_angle_measured_to_its_back_is_planned_as_by_hand() -> None:
    draft = rules.draft(a_run(RIGHT_ANGLE), company())
    assert draft.is_releasable
    assert (draft.findings, draft.to_measure) == ((), ())
    assert draft.plan is not None
    (stick,) = draft.plan.sticks
    assert stick.cut_length == pytest.approx(1758.668, abs=THOUSANDTH)
    assert stick.bends[0].set.mark == pytest.approx(1127.0, abs=THOUSANDTH)


def test_the_set_line_of_the_former_moves_the_mark() -> None:
    """An own line 25.5 mm past the tangent point: 1127 + 25.5."""
    draft = rules.draft(a_run(RIGHT_ANGLE, former={"line": "own", "reach_mm": 25.5}), company())
    assert draft.plan is not None
    assert draft.plan.sticks[0].bends[0].set.mark == pytest.approx(1152.5, abs=THOUSANDTH)


def test_a_run_longer_than_stock_is_cut_into_sticks() -> None:
    draft = rules.draft(a_run(TWO_STICKS), company())
    assert draft.plan is not None
    assert [stick.cut_length for stick in draft.plan.sticks] == pytest.approx(
        [3750.0, 1418.668], abs=THOUSANDTH
    )


def test_bends_that_overlap_are_told_at_the_row_of_their_leg() -> None:
    draft = rules.draft(a_run(OVERLAP), company())
    assert draft.plan is None
    assert not draft.is_releasable
    (finding,) = draft.findings
    assert (finding.row, finding.level, finding.rule) == (1, "stop", "overlap")
    assert finding.text == (
        "Leg 2 comes to 100 mm from corner to corner, 46 mm short: a bend of 90° takes 73 mm and a bend of "
        "90° takes 73 mm, 146 mm in all. Make it 46 mm longer, or bend to a smaller radius or angle."
    )


def test_a_mark_off_the_stick_is_told_at_the_row_of_its_bend() -> None:
    draft = rules.draft(a_run(TWO_STICKS, former={"line": "own", "reach_mm": -1000.0}), company())
    assert draft.findings == ()  # 1127 - 1000 lies on the stick
    rows = [TWO_STICKS[0] | {"length_mm": 900.0}, TWO_STICKS[1]]
    draft = rules.draft(a_run(rows, former={"line": "own", "reach_mm": -1000.0}), company())
    assert draft.plan is not None
    assert not draft.is_releasable
    assert [(each.row, each.level, each.rule) for each in draft.findings] == [(0, "stop", "mark-off")]


def test_an_untold_allowance_is_told_of_the_run_and_does_not_stop_it() -> None:
    draft = rules.draft(a_run(RIGHT_ANGLE, start_kind="spout"), company())
    assert [(each.row, each.level, each.rule) for each in draft.findings] == [
        (None, "warn", "allowance-untold")
    ]
    assert draft.is_releasable
    assert "spout" in draft.findings[0].text
    told = rules.draft(a_run(RIGHT_ANGLE, start_kind="spout"), company(words="us", units="in"))
    assert "hub" in told.findings[0].text


def test_handbook_figures_are_noted_at_the_row_of_their_set() -> None:
    rows: list[dict[str, Any]] = [
        {"length_mm": 800.0, "to": "corner", "then": "bend", "angle_deg": 90.0, "toward": "right"},
        {
            "length_mm": 900.0,
            "from": "corner",
            "to": "corner",
            "then": "offset",
            "rise_mm": 120.0,
            "angle_deg": 45.0,
            "toward": "in",
        },
        {"length_mm": 700.0, "from": "corner", "then": "end"},
    ]
    draft = rules.draft(a_run(rows), company())
    assert [(each.row, each.level, each.rule) for each in draft.findings] == [(1, "note", "handbook-figures")]
    assert draft.is_releasable


@pytest.mark.parametrize(
    ("rows", "row", "start"),
    [
        # a direction along the heading
        (
            [{"length_mm": 500.0, "to": "corner", "angle_deg": 90.0, "toward": "up"}, {"length_mm": 500.0}],
            0,
            "Toward: up",
        ),
        # a face where the run does not end
        (
            [
                {"length_mm": 500.0, "to": "corner", "angle_deg": 90.0, "toward": "right"},
                {"length_mm": 500.0, "to": "face", "angle_deg": 90.0, "toward": "up"},
                {"length_mm": 500.0, "from": "corner"},
            ],
            1,
            "Measured to face",
        ),
        # a back at the end of the run
        (
            [
                {"length_mm": 500.0, "from": "back", "to": "corner", "angle_deg": 90.0, "toward": "right"},
                {"length_mm": 500.0},
            ],
            0,
            "Measured from back",
        ),
        # a length after a kick, which has its own
        (
            [
                {
                    "length_mm": 500.0,
                    "to": "corner",
                    "then": "kick",
                    "rise_mm": 90.0,
                    "angle_deg": 30.0,
                    "toward": "in",
                },
                {"length_mm": 300.0, "from": "corner"},
            ],
            1,
            "This length follows a kick",
        ),
    ],
)
def test_what_cannot_be_walked_is_told_at_its_row(rows: list[dict[str, Any]], row: int, start: str) -> None:
    draft = rules.draft(a_run(rows), company())
    assert draft.plan is None
    assert [each.row for each in draft.findings] == [row]
    assert draft.findings[0].text.startswith(start)


def test_what_is_wrong_with_the_run_as_a_whole_is_told_of_the_run() -> None:
    draft = rules.draft(a_run(RIGHT_ANGLE, start_allowance_mm=-1200.0), company())
    (finding,) = draft.findings
    assert (draft.plan, finding.row, finding.level) == (None, None, "stop")
    assert finding.text.startswith("The allowance at the start takes away 1200 mm")
    draft = rules.draft(a_run(TWO_STICKS), company(min_piece_mm=3800.0))
    assert [each.row for each in draft.findings] == [None]
    assert draft.findings[0].text.startswith("The company's shortest piece is 3800 mm")


def test_a_run_without_room_for_a_joint_is_told_at_a_row() -> None:
    draft = rules.draft(a_run(TWO_STICKS), company(clearance_mm=3000.0))
    assert draft.plan is None
    (finding,) = draft.findings
    assert (finding.row, finding.rule) == (0, "no-joint")


# ------------------------------------------------------------------------------------------- not measured yet


def test_a_run_without_rows_says_what_to_do_first() -> None:
    draft = rules.draft(a_run([]), company())
    assert (draft.plan, draft.so_far, draft.to_measure) == (None, None, ())
    assert [(each.row, each.level, each.rule) for each in draft.findings] == [(None, "stop", "no-rows")]


def test_a_run_that_does_not_end_is_not_planned_but_drawn_so_far() -> None:
    rows = [RIGHT_ANGLE[0], {"length_mm": 600.0, "then": "bend", "angle_deg": 90.0, "toward": "in"}]
    draft = rules.draft(a_run(rows), company())
    assert (draft.plan, draft.to_measure) == (None, ())
    assert [(each.row, each.rule) for each in draft.findings] == [(1, "no-end")]
    assert draft.so_far is not None
    assert [bend.angle for bend in draft.so_far.sticks[0].bends] == [90.0, 90.0]


def test_a_partly_measured_run_is_drawn_up_to_the_first_gap_and_told_what_is_wrong_there() -> None:
    rows = [*OVERLAP[:2], {"length_mm": 500.0, "then": "bend", "toward": "right"}, {"length_mm": 400.0}]
    draft = rules.draft(a_run(rows), company())
    assert draft.plan is None
    assert draft.to_measure == ((2, "angle_deg"),)
    assert [(each.row, each.rule) for each in draft.findings] == [(1, "overlap")]
    mended = [rows[0], rows[1] | {"length_mm": 400.0}, *rows[2:]]
    draft = rules.draft(a_run(mended), company())
    assert (draft.plan, draft.findings) == (None, ())
    assert draft.so_far is not None
    assert len(draft.so_far.sticks[0].bends) == 2


def test_the_straight_put_after_the_last_turn_so_far_is_never_blamed() -> None:
    """Near a reversal no straight has room: the leg that was typed is told, not the one that nobody typed."""
    rows = [{"length_mm": 500.0, "to": "corner", "then": "bend", "angle_deg": 179.9998, "toward": "in"}]
    draft = rules.draft(a_run(rows), company())
    assert [(each.row, each.rule) for each in draft.findings] == [(0, "overlap"), (0, "no-end")]
    assert draft.so_far is None


def test_the_spec_of_a_run_with_a_gap_is_refused() -> None:
    with pytest.raises(ValueError, match=r"rows\[0\]\.length_mm is still to measure"):
        rules.spec_of(a_run([RIGHT_ANGLE[0] | {"length_mm": None}, RIGHT_ANGLE[1]]), company())


# ------------------------------------------------------------------------------------------------------- laws

AXES = [("up", "down"), ("left", "right"), ("in", "out")]


@st.composite
def runs_with_one_short_leg(draw: st.DrawFn) -> tuple[list[dict[str, Any]], int]:
    """A run whose bends have room everywhere, but on the leg of one row."""
    count = draw(st.integers(3, 9))
    axis = 0
    rows: list[dict[str, Any]] = []
    for index in range(count):
        row: dict[str, Any] = {"length_mm": draw(st.floats(1000.0, 3000.0)), "from": "corner", "to": "corner"}
        others = [each for each in range(3) if each != axis]
        towards = draw(st.sampled_from(others))
        row["toward"] = draw(st.sampled_from(AXES[towards]))
        if index == count - 1:
            row = {"length_mm": row["length_mm"], "from": "corner", "to": "corner", "then": "end"}
        elif draw(st.booleans()):
            row |= {"then": "bend", "angle_deg": 90.0}
            axis = towards
        else:  # comes back to its heading
            row |= {"then": "offset", "angle_deg": 45.0, "rise_mm": draw(st.floats(100.0, 300.0))}
        rows.append(row)
    short = draw(st.integers(0, count - 1))
    rows[short]["length_mm"] = draw(st.floats(0.0, 30.0))  # a bend of 45° alone takes 73 tan 22.5° = 30.2 mm
    return rows, short


@given(runs_with_one_short_leg())
def test_a_leg_too_short_for_its_bends_is_told_at_its_row_and_nowhere_else(
    case: tuple[list[dict[str, Any]], int],
) -> None:
    rows, short = case
    draft = rules.draft(a_run(rows), company())
    assert draft.plan is None
    assert [(each.row, each.rule) for each in draft.findings] == [(short, "overlap")]


@given(st.lists(st.integers(0, 400), max_size=30).map(sorted), st.integers(0, 40), st.text(max_size=10))
def test_a_place_in_the_steps_leads_to_the_row_of_that_step_and_any_other_place_to_the_run(
    row_of_step: list[int], step: int, other: str
) -> None:
    expected = row_of_step[step] if step < len(row_of_step) else None
    for tail in ("", ".to", ".offset.rise"):
        assert rules.row_of(f"route.steps[{step}]{tail}", row_of_step) == expected
    assert rules.row_of(f"ends.{other}", row_of_step) is None
    assert rules.row_of(f"route.points[{step}]", row_of_step) is None


figures = st.recursive(
    st.none() | st.booleans() | st.floats(-1e4, 1e4) | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=12,
)


@given(figures)
def test_a_result_agrees_with_itself_and_with_more_beside_it(result: Any) -> None:
    assert rules.agrees(result, result)
    assert rules.agrees({"kept": result}, {"kept": result, "more": 1})
    assert not rules.agrees({"kept": result}, {"more": 1})


@pytest.mark.parametrize(
    ("kept", "now", "same"),
    [
        (412.5, 412.5000000001, True),
        (412.5, 412.50001, False),
        (None, 0.0, False),
        (0.0, None, False),
        ([1.0], [1.0, 2.0], False),
        ([1.0, 2.0], [1.0], False),
        ("start", "finish", False),
        ({"a": [{"b": 1.0}]}, {"a": [{"b": 2.0}]}, False),
        ({"a": 1.0}, [1.0], False),
    ],
)
def test_figures_agree_within_rounding(kept: object, now: object, same: bool) -> None:
    assert rules.agrees(kept, now) is same


def test_the_engines_version_is_short_and_the_same_each_time() -> None:
    rules.engine_version.cache_clear()
    first = rules.engine_version()
    rules.engine_version.cache_clear()
    assert rules.engine_version() == first
    assert len(first) == 12
