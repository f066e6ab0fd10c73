"""How a run starts and finishes: kinds of end, and their allowances."""

from typing import Any

import pytest
from worked import CLOSE, LEAST, bends, places, planned, points, refused, run

KINDS = [
    "open",
    "spout",
    "coupler_and_male_bush",
    "locknuts_and_female_bush",
    "connector",
    "coupler",
    "flexible",
]


def warnings(plan: dict[str, Any]) -> list[tuple[str, str, str]]:
    return [(found["rule"], found["level"], found["where"]) for found in plan["findings"]]


def made_as(end: dict[str, Any]) -> dict[str, Any]:
    """An end without its thread, which has tests of its own below."""
    return {key: value for key, value in end.items() if key != "thread"}


def test_ends_are_open_and_add_nothing_unless_told() -> None:
    (stick,) = planned(LEAST)["sticks"]
    assert stick["start"] == {"kind": "open", "allowance": 0.0}
    assert stick["finish"] == {"kind": "open", "allowance": 0.0}
    assert planned(LEAST)["findings"] == []


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_of_end_takes_an_allowance(kind: str) -> None:
    plan = planned(
        run(ends={"start": {"kind": kind, "allowance": 14}, "finish": {"kind": kind, "allowance": 9.5}})
    )
    (stick,) = plan["sticks"]
    assert made_as(stick["start"]) == {"kind": kind, "allowance": 14.0}
    assert made_as(stick["finish"]) == {"kind": kind, "allowance": 9.5}
    # 2737.336263712055 + 14 + 9.5
    assert plan["developed_length"] == pytest.approx(2760.836263712055, abs=CLOSE)
    assert plan["findings"] == []


def test_a_positive_allowance_lengthens_the_stick_and_begin_includes_that_of_the_start() -> None:
    plan = planned(run(ends={"start": {"kind": "spout", "allowance": 14}}))
    first, second = bends(plan)
    assert first["begin"] == pytest.approx(1141.0, abs=CLOSE)
    assert first["marks"]["begin"] == first["begin"]
    assert first["marks"]["back"] == pytest.approx(1224.0, abs=CLOSE)
    assert second["begin"] == pytest.approx(2009.668131856027, abs=CLOSE)
    assert plan["sticks"][0]["cut_length"] == pytest.approx(2751.336263712055, abs=CLOSE)


def test_the_finish_allowance_moves_no_mark() -> None:
    plain, longer = planned(LEAST), planned(run(ends={"finish": {"kind": "spout", "allowance": 14}}))
    assert [bend["marks"] for bend in bends(longer)] == [bend["marks"] for bend in bends(plain)]


def test_a_negative_allowance_shortens_the_stick() -> None:
    plan = planned(
        run(
            ends={
                "start": {"kind": "connector", "allowance": -6},
                "finish": {"kind": "coupler", "allowance": -2.5},
            }
        )
    )
    assert plan["sticks"][0]["start"] == {"kind": "connector", "allowance": -6.0}
    assert bends(plan)[0]["begin"] == pytest.approx(1121.0, abs=CLOSE)
    assert plan["developed_length"] == pytest.approx(2728.836263712055, abs=CLOSE)


@pytest.mark.parametrize("end", [{"kind": "spout"}, {"kind": "spout", "allowance": None}])
def test_an_untold_allowance_is_null_counts_nothing_and_is_warned_of(end: dict[str, Any]) -> None:
    plan = planned(run(ends={"start": end, "finish": {"kind": "coupler", "allowance": 3}}))
    assert made_as(plan["sticks"][0]["start"]) == {"kind": "spout", "allowance": None}
    assert bends(plan)[0]["begin"] == pytest.approx(1127.0, abs=CLOSE)
    assert warnings(plan) == [("allowance-untold", "warn", "ends.start")]


def test_each_end_with_an_untold_allowance_has_its_own_warning() -> None:
    plan = planned(run(ends={"start": {"kind": "spout"}, "finish": {"kind": "connector"}}))
    assert warnings(plan) == [
        ("allowance-untold", "warn", "ends.start"),
        ("allowance-untold", "warn", "ends.finish"),
    ]


@pytest.mark.parametrize("kind", KINDS[1:])
def test_no_kind_but_open_has_an_invented_allowance(kind: str) -> None:
    plan = planned(run(ends={"finish": {"kind": kind}}))
    assert made_as(plan["sticks"][-1]["finish"]) == {"kind": kind, "allowance": None}
    assert warnings(plan) == [("allowance-untold", "warn", "ends.finish")]


@pytest.mark.parametrize("end", [{}, {"kind": "open"}, {"kind": "open", "allowance": None}])
def test_an_open_end_without_an_allowance_has_none_and_needs_no_warning(end: dict[str, Any]) -> None:
    plan = planned(run(ends={"start": end}))
    assert plan["sticks"][0]["start"] == {"kind": "open", "allowance": 0.0}
    assert plan["findings"] == []


def test_an_open_end_may_have_an_allowance() -> None:
    plan = planned(run(ends={"start": {"allowance": 20}}))
    assert plan["sticks"][0]["start"] == {"kind": "open", "allowance": 20.0}
    assert bends(plan)[0]["begin"] == pytest.approx(1147.0, abs=CLOSE)


def test_an_allowance_of_nothing_is_told_and_not_warned_of() -> None:
    plan = planned(run(ends={"start": {"kind": "spout", "allowance": 0}}))
    assert made_as(plan["sticks"][0]["start"]) == {"kind": "spout", "allowance": 0.0}
    assert plan["findings"] == []


def test_the_allowances_stand_at_the_first_and_the_last_stick_only() -> None:
    plan = planned(
        points(
            [0, 0, 0],
            [0, 0, 7000],
            ends={
                "start": {"kind": "spout", "allowance": 14},
                "finish": {"kind": "connector", "allowance": 6},
            },
        )
    )
    first, last = plan["sticks"]
    assert (made_as(first["start"]), made_as(first["finish"])) == (
        {"kind": "spout", "allowance": 14.0},
        {"kind": "coupler", "gap": 0.0},
    )
    assert made_as(last["start"]) == {"kind": "joint"}
    assert last["finish"] == {"kind": "connector", "allowance": 6.0}
    assert plan["developed_length"] == pytest.approx(7020.0, abs=CLOSE)


def test_an_allowance_may_take_away_all_of_the_straight_at_its_end() -> None:
    plan = planned(run(ends={"start": {"kind": "spout", "allowance": -1127}}))
    assert bends(plan)[0]["begin"] == pytest.approx(0.0, abs=CLOSE)


def test_an_allowance_that_takes_away_more_than_its_straight_is_refused_and_nothing_else_is_said() -> None:
    # The straights at the ends are 1200 - 73 and 700 - 73.
    problems = refused(
        run(
            ends={
                "start": {"kind": "spout", "allowance": -1127.5},
                "finish": {"kind": "spout", "allowance": -900},
            }
        )
    )
    assert places(problems) == [
        ("out-of-range", "ends.start.allowance"),
        ("out-of-range", "ends.finish.allowance"),
    ]
    assert [problem["straight_mm"] for problem in problems] == [1127.0, 627.0]


def test_allowances_that_take_away_a_whole_straight_run_are_refused() -> None:
    ends = {"start": {"kind": "spout", "allowance": -500}, "finish": {"kind": "spout", "allowance": -400}}
    assert places(refused(points([0, 0, 0], [0, 0, 900], ends=ends))) == [("out-of-range", "ends")]
    assert planned(points([0, 0, 0], [0, 0, 901], ends=ends))["developed_length"] == pytest.approx(
        1.0, abs=CLOSE
    )


def test_an_allowance_can_make_a_run_too_long_for_one_stick() -> None:
    spec = points([0, 0, 0], [0, 0, 3740], ends={"start": {"kind": "spout", "allowance": 10}})
    assert len(planned(spec)["sticks"]) == 1
    spec["ends"]["start"]["allowance"] = 11
    assert len(planned(spec)["sticks"]) == 2


@pytest.mark.parametrize("kind", ["hub", "Spout", "", "male_bush"])
def test_another_kind_of_end_is_refused_with_those_there_are(kind: str) -> None:
    (problem,) = refused(run(ends={"start": {"kind": kind, "allowance": 5}}))
    assert (problem["code"], problem["where"]) == ("not-a-choice", "ends.start.kind")
    for allowed in KINDS:
        assert allowed in problem["text"]


# ---------------------------------------------------------------------------------------------------- threads


@pytest.mark.parametrize(
    ("kind", "threads"),
    [
        ("open", (None, None)),
        ("connector", (None, None)),
        ("spout", ("factory", "cut")),
        ("coupler_and_male_bush", ("factory", "cut")),
        ("locknuts_and_female_bush", ("factory", "cut")),
        ("coupler", ("factory", "cut")),
        ("flexible", ("factory", "cut")),
    ],
)
def test_an_end_that_screws_on_is_threaded_and_one_thread_is_as_bought(kind: str, threads: Any) -> None:
    end = {"kind": kind, "allowance": 0}
    (stick,) = planned(run(ends={"start": end, "finish": end}))["sticks"]
    assert (stick["start"].get("thread"), stick["finish"].get("thread")) == threads
    assert stick["blank"]["threads"] == threads.count("cut")


def test_a_whole_length_keeps_both_its_threads() -> None:
    end = {"kind": "spout", "allowance": 0}
    (stick,) = planned(points([0, 0, 0], [0, 0, 3750], ends={"start": end, "finish": end}))["sticks"]
    assert (stick["start"]["thread"], stick["finish"]["thread"]) == ("factory", "factory")
    assert stick["blank"] == {"length": 3750.0, "offcut": False, "cuts": 0, "threads": 0}


def test_the_thread_as_bought_goes_to_the_one_end_that_wants_it() -> None:
    (stick,) = planned(run(ends={"finish": {"kind": "spout", "allowance": 0}}))["sticks"]
    assert (stick["start"].get("thread"), stick["finish"]["thread"]) == (None, "factory")


def test_plain_conduit_has_no_threads() -> None:
    plan = planned(points([0, 0, 0], [0, 0, 7000], conduit={**LEAST["conduit"], "joining": "plain"}))
    assert [stick[end] for stick in plan["sticks"] for end in ("start", "finish")] == [
        {"kind": "open", "allowance": 0.0},
        {"kind": "coupler", "gap": 0.0},
        {"kind": "joint"},
        {"kind": "open", "allowance": 0.0},
    ]
