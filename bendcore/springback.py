"""What a bender gives back: the first pull from a calibration told.

The relations stand in docs/method/springback.md. Learning k, c and their spread from readings stands
elsewhere; here they are given.
"""

import math
from dataclasses import dataclass

from bendcore.spec import Calibration
from bendcore.units import Deg


@dataclass(frozen=True, slots=True)
class Pull:
    """first: the angle to pull to, degrees, in the division of the bender.  expect: what it should spring
    back to."""

    first: Deg
    expect: Deg


def first_pull(target: Deg, calibration: Calibration, tolerance: Deg) -> Pull:
    """The first pull of a bend: as near as it may be without much risk of passing the target.

    target: finished angle wanted, degrees.  tolerance: of the angle, degrees.
    The smaller of the pull whose expected finish is the target, and the largest pull with
    P(finished > target + tolerance / 2) <= risk; rounded down to the bender's division. The second pull
    closes the rest.
    Source: finished = (1 - k) pulled - c, spread normally by sd; more bend is easy to add and hard to take
    out (common practice).
    """
    yields = 1.0 - calibration.k
    expected = (target + calibration.c) / yields
    margin = tolerance / 2.0 - _passed_by(calibration.risk) * calibration.sd
    pull = min(expected, expected + margin / yields)
    if calibration.scale is not None:
        pull = _down_to_division(pull, calibration.scale)
    pull = max(pull, 0.0)
    return Pull(Deg(pull), Deg(yields * pull - calibration.c))


def _down_to_division(pull: float, scale: Deg) -> float:
    """A pull that is a whole division but for rounding is that division, and reads as one: 31.2, not
    31.200000000000003."""
    divisions = math.floor(pull / scale + 1e-9)
    in_a_degree = round(1.0 / scale)
    return (
        divisions / in_a_degree
        if in_a_degree and abs(in_a_degree * scale - 1.0) < 1e-12
        else divisions * scale
    )


_QUANTILES: dict[float, float] = {}


def _passed_by(risk: float) -> float:
    """How many standard deviations a normal spread passes with this probability.

    Kept, for a company asks for one or two risks all its life.
    """
    found = _QUANTILES.get(risk)
    if found is None:
        from statistics import NormalDist  # slow to import, and most plans have no calibration

        if len(_QUANTILES) > 1000:
            _QUANTILES.clear()
        found = _QUANTILES[risk] = -NormalDist().inv_cdf(risk)
    return found
