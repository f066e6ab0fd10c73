"""Units, and angles that benders are set to."""

import math

import pytest

from bendcore.units import KG_PER_LB, MM_PER_INCH, Deg, Units, cos_deg, settle, sin_deg, tan_deg, tan_half

ROUNDINGS = 4.0 * 2.0**-53
"""Relative. A rounding or two of a double, with one to spare for the literal's own."""

# sqrt(2) = 1.41421356237309504880, sqrt(3) = 1.73205080756887729353; the rest with a 40-digit calculator.
TAN_HALF = [
    (0.0, 0.0),
    (22.5, 0.19891236737965800691),
    (30.0, 0.26794919243112270647),  # 2 - sqrt 3
    (37.4, 0.33848132576074177008),
    (45.0, 0.41421356237309504880),  # sqrt 2 - 1
    (60.0, 0.57735026918962576451),  # 1 / sqrt 3
    (90.0, 1.0),
    (120.0, 1.73205080756887729353),
    (135.0, 2.41421356237309504880),
    (150.0, 3.73205080756887729353),
]


def test_the_inch_and_the_pound_are_the_defined_ones() -> None:
    assert MM_PER_INCH == 25.4
    assert KG_PER_LB == 0.45359237


def test_lengths_are_read_in_millimetres_or_inches() -> None:
    assert [str(unit) for unit in Units] == ["mm", "in"]


@pytest.mark.parametrize(("angle", "tangent"), TAN_HALF)
def test_the_tangent_of_half_an_angle_is_right_to_a_rounding_or_two(angle: float, tangent: float) -> None:
    assert tan_half(Deg(angle)) == pytest.approx(tangent, rel=ROUNDINGS, abs=0.0)


def test_the_tangent_of_half_a_right_angle_is_exactly_one() -> None:
    # In floats tan(radians(45)) is 0.9999999999999999: a mark at 412.5 would read 412 for 413.
    assert tan_half(Deg(90.0)) == 1.0
    assert tan_deg(Deg(45.0)) == 1.0


def test_the_tangent_of_half_a_near_reversal_is_large_and_finite() -> None:
    # tan 89.99995 = 1145915.590261...; the angle itself rounds at 1.4e-14 of 1e-4 degrees to go.
    assert tan_half(Deg(179.9999)) == pytest.approx(1145915.5902613556, rel=1e-9)


@pytest.mark.parametrize(
    ("angle", "sine", "cosine"),
    [(0.0, 0.0, 1.0), (30.0, 0.5, None), (90.0, 1.0, 0.0), (150.0, 0.5, None), (180.0, 0.0, -1.0)],
)
def test_sine_and_cosine_are_exact_where_they_are_whole_or_half(
    angle: float, sine: float, cosine: float | None
) -> None:
    assert sin_deg(Deg(angle)) == sine
    if cosine is not None:
        assert cos_deg(Deg(angle)) == cosine


def test_the_cosine_of_sixty_degrees_is_exactly_a_half() -> None:
    assert cos_deg(Deg(60.0)) == 0.5
    assert cos_deg(Deg(120.0)) == -0.5


@pytest.mark.parametrize(
    ("angle", "sine", "cosine"),
    [
        (30.0, 0.5, 0.86602540378443864676),
        (37.4, 0.60737583972328668834, 0.79441462053541811696),
        (45.0, 0.70710678118654752440, 0.70710678118654752440),
        (60.0, 0.86602540378443864676, 0.5),
        (135.0, 0.70710678118654752440, -0.70710678118654752440),
        (150.0, 0.5, -0.86602540378443864676),
    ],
)
def test_sine_and_cosine_are_right_to_a_rounding_or_two(angle: float, sine: float, cosine: float) -> None:
    assert sin_deg(Deg(angle)) == pytest.approx(sine, rel=ROUNDINGS, abs=0.0)
    assert cos_deg(Deg(angle)) == pytest.approx(cosine, rel=ROUNDINGS, abs=0.0)


@pytest.mark.parametrize(
    ("measured", "meant"),
    [
        (29.999999999999996, 30.0),
        (22.500000000000004, 22.5),
        (90.00000000009, 90.0),
        (-179.99999999999997, -180.0),
        (30.0000000002, 30.0000000002),  # farther off than rounding takes it
        (29.9999, 29.9999),
        (37.3999999999999, 37.3999999999999),  # near a tenth, and benders have no tenths
    ],
)
def test_an_angle_that_misses_a_half_degree_by_rounding_alone_is_put_on_it(
    measured: float, meant: float
) -> None:
    assert settle(measured) == meant


def test_settling_leaves_no_angle_that_is_not_a_number_behind() -> None:
    assert all(math.isfinite(settle(angle)) for angle in (0.0, 1e-300, 179.9999, 720.0))
