"""Units of the engine, and the trigonometry of angles that benders are set to.

Lengths are millimetres, angles degrees, masses kilograms. Anything else says so in its name (`angle_rad`,
`length_in`).
"""

import math
from enum import StrEnum
from typing import Final, NewType

Mm = NewType("Mm", float)
Deg = NewType("Deg", float)
Rad = NewType("Rad", float)
Kg = NewType("Kg", float)

MM_PER_INCH: Final = 25.4
"""Exact by definition of the international inch (1959)."""

KG_PER_LB: Final = 0.45359237
"""Exact by definition of the international pound (1959)."""


class Units(StrEnum):
    """The lengths that a person reads: whole millimetres, or inches to sixteenths."""

    MM = "mm"
    INCH = "in"


_ROOT_2 = math.sqrt(2.0)
_ROOT_3 = math.sqrt(3.0)

# In floats tan(radians(45)) is 0.9999999999999999, so a mark of exactly 412.5 would come out below and read
# 412. The angles benders are set to have closed forms, which lose no more than a rounding or two.
_TAN_HALF: Final[dict[float, float]] = {
    30.0: 2.0 - _ROOT_3,
    45.0: _ROOT_2 - 1.0,
    60.0: 1.0 / _ROOT_3,
    90.0: 1.0,
    120.0: _ROOT_3,
    135.0: 1.0 + _ROOT_2,
    150.0: 2.0 + _ROOT_3,
}
_SIN: Final[dict[float, float]] = {
    0.0: 0.0,
    30.0: 0.5,
    45.0: 1.0 / _ROOT_2,
    60.0: _ROOT_3 / 2.0,
    90.0: 1.0,
    120.0: _ROOT_3 / 2.0,
    135.0: 1.0 / _ROOT_2,
    150.0: 0.5,
    180.0: 0.0,
}
_COS: Final[dict[float, float]] = {
    0.0: 1.0,
    30.0: _ROOT_3 / 2.0,
    45.0: 1.0 / _ROOT_2,
    60.0: 0.5,
    90.0: 0.0,
    120.0: -0.5,
    135.0: -1.0 / _ROOT_2,
    150.0: -_ROOT_3 / 2.0,
    180.0: -1.0,
}

_SETTLE_DEG: Final = 1e-10
"""How near a computed angle must come to a half degree to be taken for it, degrees. Coarser than the rounding
of the coordinates that gave it, and so fine that over 500 corners and 1 km it moves the run's end by under
0.001 mm."""


def tan_half(angle: Deg) -> float:
    """tan(angle / 2), within a rounding or two of exact at 30, 45, 60, 90, 120, 135 and 150 degrees.

    angle: 0 <= angle < 180.
    """
    exact = _TAN_HALF.get(angle)
    return math.tan(math.radians(angle) / 2.0) if exact is None else exact


def sin_deg(angle: Deg) -> float:
    """sin(angle), within a rounding of exact at the multiples of 30 and 45 degrees from 0 to 180."""
    exact = _SIN.get(angle)
    return math.sin(math.radians(angle)) if exact is None else exact


def cos_deg(angle: Deg) -> float:
    """cos(angle), within a rounding of exact at the multiples of 30 and 45 degrees from 0 to 180."""
    exact = _COS.get(angle)
    return math.cos(math.radians(angle)) if exact is None else exact


def tan_deg(angle: Deg) -> float:
    """tan(angle), within a rounding or two of exact where `tan_half` of the doubled angle is. angle: 0 <=
    angle < 90."""
    return tan_half(Deg(2.0 * angle))


def settle(angle: float) -> Deg:
    """An angle computed from coordinates, put on the half degree that it misses by rounding alone.

    Two legs drawn at 30 degrees measure 29.999999999999996; benders and people mean 30.
    """
    half = round(2.0 * angle) / 2.0
    return Deg(half if abs(angle - half) <= _SETTLE_DEG else angle)
