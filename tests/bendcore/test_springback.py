"""The first pull of a bend, from what is known of the bender's springback (docs/engine.md, section 2).

Standard normal quantiles, as tables print them: 1.2816 at 90 %, 1.6449 at 95 %, 1.9600 at 97.5 %, 2.3263 at
99 %; here with more digits, from memory.
"""

from typing import Any

import pytest
from worked import CLOSE, LEAST, bends, places, planned, points, refused, run, steps

import bendcore
from bendcore.spec import Calibration, Tolerance
from bendcore.springback import first_pull
from bendcore.units import Deg

KNOWN: dict[str, Any] = {"k": 0.02, "c": 1.0, "sd": 0.4}
TABLE = 1e-9
"""Degrees. The quantiles are given to 16 digits."""


def pull(target: float, **known: Any) -> tuple[float, float]:
    tolerance = known.pop("tolerance", 1.0)
    found = first_pull(Deg(target), Calibration(**{**KNOWN, **known}), Deg(tolerance))
    return found.first, found.expect


def test_a_bend_well_known_is_pulled_so_that_it_is_expected_to_finish_at_its_target() -> None:
    # (90 + 1) / 0.98; half the tolerance, 0.5, is more than 1.6449 * 0.1
    assert pull(90.0, sd=0.1) == pytest.approx((92.857142857143, 90.0), abs=CLOSE)


def test_a_bend_less_well_known_is_pulled_so_far_that_it_seldom_passes_target_and_half_the_tolerance() -> (
    None
):
    # (90 + 0.5 - 1.6448536269514722 * 0.4 + 1) / 0.98; expected 0.98 p - 1
    assert pull(90.0) == pytest.approx((92.695978111448, 89.842058549219), abs=TABLE)
    assert pull(30.0) == pytest.approx((31.471488315530, 29.842058549219), abs=TABLE)


@pytest.mark.parametrize(
    ("risk", "first"),
    [
        (0.01, 92.417817194269),  # 2.3263478740408408
        (0.025, 92.567361638963),  # 1.9599639845400542
        (0.05, 92.695978111448),  # 1.6448536269514722
        (0.1, 92.844264667125),  # 1.2815515655446004
        (0.5, 92.857142857143),  # 0: the expected finish is the target
        (0.9, 92.857142857143),  # and no more for any risk
    ],
)
def test_the_smaller_the_risk_the_shorter_the_first_pull(risk: float, first: float) -> None:
    assert pull(90.0, risk=risk)[0] == pytest.approx(first, abs=TABLE)


def test_the_risk_is_five_percent_unless_told() -> None:
    assert pull(90.0) == pull(90.0, risk=0.05)


def test_half_the_tolerance_of_the_angle_counts() -> None:
    # (90 + 1 - 0.657941450781 + 1) / 0.98 = 93.206 is above the expected pull: that is taken.
    assert pull(90.0, tolerance=2.0) == pytest.approx((92.857142857143, 90.0), abs=CLOSE)
    # Of a tolerance of 0.2: (90 + 0.1 - 0.657941450781 + 1) / 0.98 = 90.442058549219 / 0.98
    assert pull(90.0, tolerance=0.2)[0] == pytest.approx(92.287814846142, abs=TABLE)


def test_a_bender_that_gives_nothing_back_is_pulled_to_the_target() -> None:
    assert pull(90.0, k=0.0, c=0.0, sd=0.0) == (90.0, 90.0)


@pytest.mark.parametrize(
    ("scale", "first", "expect"),
    [
        (0.5, 92.5, 89.65),  # 0.98 * 92.5 - 1
        (1.0, 92.0, 89.16),
        (2.5, 92.5, 89.65),
        (5.0, 90.0, 87.2),
        (0.1, 92.6, 89.748),
        (None, 92.695978111448, 89.842058549219),
    ],
)
def test_pulls_are_rounded_down_to_the_benders_division(
    scale: float | None, first: float, expect: float
) -> None:
    assert pull(90.0, scale=scale) == pytest.approx((first, expect), abs=TABLE)


def test_a_pull_that_is_a_whole_division_stays() -> None:
    assert pull(90.0, k=0.0, c=0.0, sd=0.0, scale=2.5)[0] == 90.0
    # 81 / 0.9 and 26.1 / 0.9 miss a whole by rounding.
    assert pull(81.0, k=0.1, c=0.0, sd=0.0, scale=10.0)[0] == pytest.approx(90.0, abs=CLOSE)
    assert pull(26.1, k=0.1, c=0.0, sd=0.0, scale=0.1)[0] == pytest.approx(29.0, abs=CLOSE)


def test_a_division_coarser_than_the_pull_leaves_no_first_pull() -> None:
    # (10 + 1) / 0.98 on a scale of 15: nothing, and it springs back to less than nothing.
    assert pull(10.0, sd=0.0, scale=15.0) == pytest.approx((0.0, -1.0), abs=CLOSE)


def test_a_first_pull_is_never_below_nothing() -> None:
    # (0.5 - 3 + 0.5 - 0.657941450781) / 1
    assert pull(0.5, k=0.0, c=-3.0)[0] == 0.0


@pytest.mark.parametrize("risk", [1e-17, 1e-300, 1.0 - 1e-16])
def test_any_risk_above_none_and_below_all_gives_a_pull(risk: float) -> None:
    first, expect = pull(90.0, risk=risk)
    assert 0.0 <= first <= 92.857142857143 + CLOSE
    assert expect == pytest.approx(0.98 * first - 1.0, abs=CLOSE)


@pytest.mark.parametrize("scale", [1e-12, 1e-200, 1e-320])
def test_any_division_above_nothing_gives_a_pull_or_is_refused(scale: float) -> None:
    spec = run(calibration={**KNOWN, "scale": scale})
    try:
        first = bends(planned(spec))[0]["pull"]["first"]
    except bendcore.SpecProblem as refused_there:
        assert refused_there.where == "calibration.scale"  # noqa: PT017
    else:
        assert first == pytest.approx(92.695978111448, abs=1e-6)


# -------------------------------------------------------------------------------------------------- in a plan


def test_a_plan_without_calibration_tells_no_pull() -> None:
    assert all("pull" not in bend for bend in bends(planned(LEAST)))


def test_each_bend_tells_its_first_pull_and_what_it_springs_back_to() -> None:
    spec = steps(
        {"leg": 500}, {"bend": 90, "toward": "right"}, {"leg": 500},
        {"bend": 30, "toward": "in"}, {"leg": 500},
        calibration=KNOWN,
    )  # fmt: skip
    first, second = bends(planned(spec))
    assert first["pull"] == {
        "first": pytest.approx(92.695978111448, abs=TABLE),
        "expect": pytest.approx(89.842058549219, abs=TABLE),
    }
    assert second["pull"]["first"] == pytest.approx(31.471488315530, abs=TABLE)


def test_the_tolerance_of_the_run_is_the_one_that_counts() -> None:
    spec = run(calibration=KNOWN, tolerance={"angle": 0.2})
    assert bends(planned(spec))[0]["pull"]["first"] == pytest.approx(92.287814846142, abs=TABLE)


def test_springback_changes_the_pull_and_no_mark_and_no_length() -> None:
    told, plain = planned(run(calibration=KNOWN)), planned(LEAST)
    for bend in bends(told):
        del bend["pull"]
    assert told == plain


@pytest.mark.parametrize("key", ["k", "c", "sd"])
def test_k_c_and_sd_are_each_needed(key: str) -> None:
    known = {name: value for name, value in KNOWN.items() if name != key}
    assert places(refused(run(calibration=known))) == [("missing-key", f"calibration.{key}")]


@pytest.mark.parametrize(
    ("key", "value"),
    [
        ("k", 1.0),
        ("k", -0.6),
        ("sd", -0.1),
        ("risk", 0.0),
        ("risk", 1.0),
        ("scale", 0.0),
        ("scale", -1.0),
        ("c", 40),
    ],
)
def test_a_figure_that_no_bender_has_is_refused(key: str, value: float) -> None:
    assert places(refused(run(calibration={**KNOWN, key: value}))) == [("out-of-range", f"calibration.{key}")]


def test_the_defaults_of_the_contract_are_those_of_the_values() -> None:
    assert Calibration(k=0.02, c=Deg(1.0), sd=Deg(0.4)).risk == 0.05
    assert Calibration(k=0.02, c=Deg(1.0), sd=Deg(0.4)).scale is None
    assert Tolerance().angle == 1.0


def test_a_corner_out_of_coordinates_has_the_pull_of_its_angle() -> None:
    spec = points(
        [0, 0, 0], [0, 0, 900], [500, 0, 900], calibration={"k": 0.0, "c": 0.0, "sd": 0.0, "scale": 15}
    )
    assert bends(planned(spec))[0]["pull"] == {"first": 90.0, "expect": 90.0}
