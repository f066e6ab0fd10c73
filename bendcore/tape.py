"""Lengths as a tape reads them and angles as a bender shows them: the one place where a figure is rounded.

A figure half way between two divisions goes to the one farther from zero. What is half way is decided on the
exact value of the float, by whole-number arithmetic: 412.5 mm reads 413, and 412.49999999999994 mm reads 412.
"""

import math
from typing import Final

from bendcore.units import MM_PER_INCH, Deg, Mm, Units

_SIXTEENTHS: Final = 16
"""Divisions of an inch on the tape of the trade (common practice)."""

_FINE_PARTS: Final = 10**7
"""`fine` may fall short by a tenth of a mm in so many when it goes up: 153.2 out of floats stays 153.2."""

_INCHES_PER_FOOT: Final = 12

# A length that was asked for in inches is seldom a float in millimetres: 3/32 in is 2.38125 mm, and both
# its nearest float and 0.09375 * 25.4 may lie a rounding or two below it. Without an allowance about a
# third of all thirty-seconds would read down where the rest read up. One part in this many of a millimetre
# covers those roundings up to the 1e7 mm that a coordinate may have, and is a hundredth of the 1e-6 mm
# within which two points are one.
_INCH_ALLOWANCE_PARTS: Final = 10**8


def read(length: Mm, units: Units) -> str:
    """The bare figure that a tape shows: whole millimetres ("877") or inches to sixteenths ("34 9/16", "0").

    length: any finite length in mm; below zero the figure has a minus, and zero has none.
    Raises ValueError when length is infinite or not a number.
    """
    if units is Units.MM:
        return str(_millimetres(length))
    return _inch_figure(_inch_divisions(length, _SIXTEENTHS))


def say(length: Mm, units: Units) -> str:
    """The figure of `read` with its unit: "877 mm", "34 9/16 in". Raises ValueError as `read` does."""
    return f"{read(length, units)} {units.value}"


def say_up(length: Mm, units: Units) -> str:
    """The length with its unit, at the next division not below it: a change as told is enough.

    length: any finite length in mm. Raises ValueError when it is infinite or not a number.
    """
    if units is Units.MM:
        return fine(length, up=True)
    sixteenths = _inch_divisions(length, _SIXTEENTHS)
    if sixteenths * MM_PER_INCH / _SIXTEENTHS < length - 1.0 / _INCH_ALLOWANCE_PARTS:
        sixteenths += 1
    return f"{_inch_figure(sixteenths)} in"


def degrees(angle: Deg) -> str:
    """An angle to one decimal at most: "90°", "22.5°", "-15°". angle: any finite angle in degrees.

    Raises ValueError when angle is infinite or not a number.
    """
    tenths = _nearest(angle, 10, 1)
    whole, rest = divmod(abs(tenths), 10)
    return f"{_sign(tenths)}{whole}.{rest}°" if rest else f"{_sign(tenths)}{whole}°"


def metres(length: Mm, units: Units) -> str:
    """A total, coarser than a mark: metres to the centimetre ("7.94 m") or feet and inches ("26 ft 1 in").

    length: any finite length in mm. Raises ValueError when it is infinite or not a number.
    """
    if units is Units.MM:
        hundredths = _nearest(length, 1, 10)
        whole, rest = divmod(abs(hundredths), 100)
        return f"{_sign(hundredths)}{whole}.{rest:02d} m"
    return _feet_figure(_SIXTEENTHS * _inch_divisions(length, 1))


def feet_inches(length: Mm) -> str:
    """A length in feet and inches to sixteenths: "7 ft 10 9/16 in", "10 ft 0 in", under a foot "10 9/16 in".

    length: any finite length in mm. Raises ValueError when it is infinite or not a number.
    """
    return _feet_figure(_inch_divisions(length, _SIXTEENTHS))


def fine(length: Mm, *, up: bool = False) -> str:
    """A length to a tenth of a millimetre, for what a problem says: "153.2 mm", "200 mm".

    length: any finite length in mm.  up: the next tenth not below it, so that a change as told is enough.
    Raises ValueError when it is infinite or not a number.
    """
    tenths = _nearest(length, 10, 1)
    if up:
        numerator, denominator = length.as_integer_ratio()
        tenths = -((denominator - 10 * _FINE_PARTS * numerator) // (denominator * _FINE_PARTS))
    whole, rest = divmod(abs(tenths), 10)
    return f"{_sign(tenths)}{whole}{f'.{rest}' if rest else ''} mm"


def round_reading(length: Mm, units: Units) -> Mm:
    """The length in mm that `read` shows: off by at most half a division (0.5 mm, 1/32 in).

    length: any finite length in mm. Raises ValueError when it is infinite or not a number.
    """
    if units is Units.MM:
        return Mm(float(_millimetres(length)))
    # a sixteenth is 127/80 mm; whole numbers, so that the quotient is the only rounding
    return Mm(_inch_divisions(length, _SIXTEENTHS) * 127 / 80)


def _millimetres(length: Mm) -> int:
    return _nearest(length, 1, 1)


def _inch_divisions(length: Mm, per_inch: int) -> int:
    """Whole divisions of an inch nearest to a length in mm. 25.4 mm is 127/5 mm."""
    return _nearest(length, 5 * per_inch, 127, allowance_parts=_INCH_ALLOWANCE_PARTS)


def _nearest(value: float, per: int, of: int, *, allowance_parts: int | None = None) -> int:
    """The whole number nearest to value * per / of, exactly, half away from zero.

    allowance_parts: take the value as larger by one part in so many of its unit.
    """
    if not math.isfinite(value):
        raise ValueError(f"only a finite figure can be read off: {value!r}")
    numerator, denominator = abs(value).as_integer_ratio()
    if allowance_parts is not None:
        numerator = numerator * allowance_parts + denominator
        denominator *= allowance_parts
    whole = (2 * numerator * per + denominator * of) // (2 * denominator * of)
    return -whole if value < 0 else whole


def _sign(divisions: int) -> str:
    return "-" if divisions < 0 else ""


def _inch_figure(sixteenths: int) -> str:
    """Sixteenths of an inch as whole inches and a reduced fraction."""
    whole, rest = divmod(abs(sixteenths), _SIXTEENTHS)
    common = math.gcd(rest, _SIXTEENTHS)
    fraction = f"{rest // common}/{_SIXTEENTHS // common}" if rest else ""
    figure = f"{whole} {fraction}".strip() if whole else fraction or "0"
    return _sign(sixteenths) + figure


def _feet_figure(sixteenths: int) -> str:
    """Sixteenths of an inch as feet and inches; feet are left out under one foot."""
    feet, rest = divmod(abs(sixteenths), _INCHES_PER_FOOT * _SIXTEENTHS)
    inches = f"{_inch_figure(rest)} in"
    return _sign(sixteenths) + (f"{feet} ft {inches}" if feet else inches)
