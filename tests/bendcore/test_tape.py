"""How lengths and angles are read. Expected figures are read off a tape or worked out by hand."""

import math
import re
import sys
from fractions import Fraction

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from bendcore import tape
from bendcore.units import Deg, Mm, Units

LENGTHS = st.floats(min_value=-1e7, max_value=1e7)  # mm: the coordinates that the contract allows
ANY_FINITE = st.floats(allow_nan=False, allow_infinity=False)
HALF_A_SIXTEENTH = Fraction(254, 10) / 32  # mm
INCH_ALLOWANCE = Fraction(1, 10**8)  # mm: a length born in inches lies so near to the half that was meant
# mm: a sixteenth is no float in mm, so the reading told in mm is off by a rounding: 2**-30 at 1e7 mm
READING_FLOAT = Fraction(1, 10**9)


@pytest.mark.parametrize(
    ("length", "figure"),
    [
        (877.0, "877"),
        (876.5, "877"),
        (876.4999999999999, "876"),
        (412.5, "413"),
        (412.49999999999994, "412"),
        (0.5, "1"),
        (0.49999999999999994, "0"),
        (1.5, "2"),
        (2.5, "3"),
        (-412.5, "-413"),
        (-412.49999999999994, "-412"),
        (4503599627370495.5, "4503599627370496"),
        (9007199254740993.0, "9007199254740992"),
        (1e23, "99999999999999991611392"),
    ],
)
def test_millimetres_are_whole_and_a_half_goes_away_from_zero_on_the_exact_value(
    length: float, figure: str
) -> None:
    assert tape.read(Mm(length), Units.MM) == figure


@pytest.mark.parametrize(
    ("length", "figure"),
    [
        (25.4, "1"),
        (12.7, "1/2"),
        (6.35, "1/4"),
        (9.525, "3/8"),
        (1.5875, "1/16"),
        (23.8125, "15/16"),
        (877.8875, "34 9/16"),
        (877.0, "34 1/2"),
        (304.8, "12"),
        (3048.0, "120"),
        (25.3, "1"),  # 0.996 in: carried to the next inch, never 16/16
        (0.79375, "1/16"),  # 1/32 in
        (0.7937, "0"),
        (254.79375, "10 1/16"),  # 10 1/32 in
        (2.38125, "1/8"),  # 3/32 in
        (-9.525, "-3/8"),
        (-877.8875, "-34 9/16"),
        (-0.79375, "-1/16"),
        (127.0 * 2**60, "5764607523034234880"),  # 25.4 mm is 127/5 mm: 5 x 2**60 in
    ],
)
def test_inches_are_reduced_sixteenths(length: float, figure: str) -> None:
    assert tape.read(Mm(length), Units.INCH) == figure


@pytest.mark.parametrize("units", list(Units))
@pytest.mark.parametrize("length", [0.0, -0.0, 0.3, -0.3, 5e-324, -5e-324])
def test_nothing_reads_nought_without_a_minus(length: float, units: Units) -> None:
    assert tape.read(Mm(length), units) == "0"
    assert tape.degrees(Deg(length / 10)) == "0°"
    assert tape.feet_inches(Mm(length)) == "0 in"
    assert tape.metres(Mm(length), Units.MM) == "0.00 m"
    assert tape.metres(Mm(length), Units.INCH) == "0 in"


def test_a_length_is_said_with_its_unit() -> None:
    assert tape.say(Mm(876.6), Units.MM) == "877 mm"
    assert tape.say(Mm(877.8875), Units.INCH) == "34 9/16 in"


@pytest.mark.parametrize(
    ("angle", "text"),
    [
        (90.0, "90°"),
        (22.5, "22.5°"),
        (11.25, "11.3°"),
        (-11.25, "-11.3°"),
        (29.96, "30°"),
        (29.949999999999996, "29.9°"),
        (0.15, "0.1°"),  # the float 0.15 lies below fifteen hundredths
        (0.25, "0.3°"),
        (-15.0, "-15°"),
        (180.0, "180°"),
        (1e15, "1000000000000000°"),
    ],
)
def test_angles_have_one_decimal_at_most(angle: float, text: str) -> None:
    assert tape.degrees(Deg(angle)) == text


@pytest.mark.parametrize(
    ("length", "in_metres", "in_feet"),
    [
        (7940.0, "7.94 m", "26 ft 1 in"),
        (7935.0, "7.94 m", "26 ft 0 in"),
        (7934.999999999999, "7.93 m", "26 ft 0 in"),
        (8000.0, "8.00 m", "26 ft 3 in"),
        (3048.0, "3.05 m", "10 ft 0 in"),
        (50.0, "0.05 m", "2 in"),
        (304.0, "0.30 m", "1 ft 0 in"),
        (12.7, "0.01 m", "1 in"),
        (-50.0, "-0.05 m", "-2 in"),
        (-7940.0, "-7.94 m", "-26 ft 1 in"),
    ],
)
def test_a_total_is_told_to_the_centimetre_or_the_inch(length: float, in_metres: str, in_feet: str) -> None:
    assert tape.metres(Mm(length), Units.MM) == in_metres
    assert tape.metres(Mm(length), Units.INCH) == in_feet


@pytest.mark.parametrize(
    ("length", "text"),
    [
        (2401.8875, "7 ft 10 9/16 in"),
        (3048.0, "10 ft 0 in"),
        (304.7, "1 ft 0 in"),
        (9.525, "3/8 in"),
        (314.325, "1 ft 3/8 in"),
        (-314.325, "-1 ft 3/8 in"),
    ],
)
def test_feet_and_inches_keep_the_sixteenths(length: float, text: str) -> None:
    assert tape.feet_inches(Mm(length)) == text


@pytest.mark.parametrize("figure", [math.nan, math.inf, -math.inf])
def test_what_is_not_finite_cannot_be_read(figure: float) -> None:
    for units in Units:
        for reader in (tape.read, tape.say, tape.metres, tape.round_reading):
            with pytest.raises(ValueError, match="only a finite figure"):
                reader(Mm(figure), units)
    with pytest.raises(ValueError, match="only a finite figure"):
        tape.degrees(Deg(figure))
    with pytest.raises(ValueError, match="only a finite figure"):
        tape.feet_inches(Mm(figure))


@given(LENGTHS)
@example(412.5)
@example(-412.49999999999994)
def test_rounding_to_millimetres_moves_a_figure_by_half_a_division_at_most(length: float) -> None:
    moved = Fraction(tape.round_reading(Mm(length), Units.MM)) - Fraction(length)
    assert abs(moved) <= Fraction(1, 2)


@given(LENGTHS)
@example(0.79375)
@example(-254.79375)
def test_rounding_to_sixteenths_moves_a_figure_by_half_a_division_at_most(length: float) -> None:
    moved = Fraction(tape.round_reading(Mm(length), Units.INCH)) - Fraction(length)
    assert abs(moved) <= HALF_A_SIXTEENTH + INCH_ALLOWANCE + READING_FLOAT


@given(st.integers(min_value=0, max_value=12_000_000), st.sampled_from(["literal", "times", "divided"]))
@example(1, "times")
@example(140, "literal")
def test_a_half_sixteenth_asked_for_in_inches_always_goes_away_from_zero(halves: int, way: str) -> None:
    thirty_seconds = 2 * halves + 1
    length = {
        "literal": float(f"{thirty_seconds * 79375}e-5"),  # 1/32 in is 0.79375 mm
        "times": thirty_seconds / 32 * 25.4,
        "divided": thirty_seconds * 25.4 / 32,
    }[way]
    assert read_back_inches(tape.read(Mm(length), Units.INCH)) == Fraction(halves + 1, 16)
    assert read_back_inches(tape.read(Mm(-length), Units.INCH)) == -Fraction(halves + 1, 16)


@given(ANY_FINITE)
@example(sys.float_info.max)
@example(-sys.float_info.max)
def test_the_figure_shown_is_the_rounded_reading(length: float) -> None:
    in_mm = tape.round_reading(Mm(length), Units.MM)
    assert float(tape.read(Mm(length), Units.MM)) == in_mm
    inches = read_back_inches(tape.read(Mm(length), Units.INCH))
    assert float(inches * Fraction(254, 10)) == tape.round_reading(Mm(length), Units.INCH)


@given(LENGTHS, st.sampled_from(list(Units)))
def test_a_reading_reads_as_itself(length: float, units: Units) -> None:
    assert tape.read(tape.round_reading(Mm(length), units), units) == tape.read(Mm(length), units)


@given(ANY_FINITE)
def test_a_figure_below_zero_reads_as_the_one_above_with_a_minus(figure: float) -> None:
    for units in Units:
        above, below = (tape.read(Mm(side), units) for side in (abs(figure), -abs(figure)))
        assert below == ("0" if above == "0" else f"-{above}")
    above, below = (tape.degrees(Deg(side)) for side in (abs(figure), -abs(figure)))
    assert below == ("0°" if above == "0°" else f"-{above}")


@given(LENGTHS, LENGTHS, st.sampled_from(list(Units)))
def test_a_longer_length_never_reads_shorter(one: float, other: float, units: Units) -> None:
    shorter, longer = sorted((one, other))
    assert tape.round_reading(Mm(shorter), units) <= tape.round_reading(Mm(longer), units)


@given(ANY_FINITE)
def test_an_inch_figure_is_whole_or_in_lowest_terms(length: float) -> None:
    figure = tape.read(Mm(length), Units.INCH)
    shape = re.fullmatch(r"-?(?:(?P<whole>\d+)(?:$| ))?(?:(?P<top>\d+)/(?P<bottom>2|4|8|16))?", figure)
    assert shape is not None, figure
    if shape["top"] is not None:
        assert int(shape["top"]) % 2 == 1
        assert int(shape["top"]) < int(shape["bottom"])
        assert shape["whole"] != "0"


@given(st.floats(min_value=-1e6, max_value=1e6))
def test_an_angle_moves_by_a_twentieth_of_a_degree_at_most(angle: float) -> None:
    text = tape.degrees(Deg(angle))
    assert text.endswith("°")
    assert not text.endswith(".0°")
    assert abs(Fraction(text.removesuffix("°")) - Fraction(angle)) <= Fraction(1, 20)


@given(LENGTHS)
def test_feet_and_inches_say_the_same_as_inches(length: float) -> None:
    text = tape.feet_inches(Mm(length))
    shape = re.fullmatch(r"(-?)(?:(\d+) ft )?(.+) in", text)
    assert shape is not None, text
    inches = read_back_inches(shape[3])
    assert 0 <= inches < 12
    total = 12 * int(shape[2] or 0) + inches
    assert (-total if shape[1] else total) == read_back_inches(tape.read(Mm(length), Units.INCH))


def read_back_inches(figure: str) -> Fraction:
    """What a person takes "-34 9/16" to be, in inches."""
    size = sum((Fraction(part) for part in figure.removeprefix("-").split()), Fraction(0))
    return -size if figure.startswith("-") else size


@pytest.mark.parametrize(
    ("length", "units", "said"),
    [
        (103.8, Units.MM, "103.8 mm"),
        (103.81, Units.MM, "103.9 mm"),
        (25.4, Units.INCH, "1 in"),
        (25.5, Units.INCH, "1 1/16 in"),
        (103.8, Units.INCH, "4 1/8 in"),
        (0.0, Units.INCH, "0 in"),
    ],
)
def test_what_must_be_added_goes_up_to_the_next_division(length: float, units: Units, said: str) -> None:
    assert tape.say_up(Mm(length), units) == said
