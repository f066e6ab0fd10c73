"""Offsets, saddle sets and kicks as turns and legs, and the exact figures beside the handbook's.

The relations stand in docs/method/offsets.md and docs/method/saddles.md.
"""

from dataclasses import dataclass

from bendcore import tape
from bendcore.bends import gain, tangent_length
from bendcore.errors import BendsOverlap
from bendcore.units import Deg, Mm, cos_deg, sin_deg, tan_deg, tan_half
from bendcore.vectors import Vec, combine

Turn = tuple[Deg, Vec]
"""How far the heading turns, and the unit direction, square to the leg before, that it turns toward."""


@dataclass(frozen=True, slots=True)
class Shape:
    """A feature walked: turn, leg, turn, ... with as many legs between the turns as turns less one.

    A kick has one turn and one leg after it.  lead: from its first corner to its middle, along the heading,
    mm.
    width: index of the leg that is a width; the others are slopes.
    """

    turns: tuple[Turn, ...]
    legs: tuple[Mm, ...]
    lead: Mm = Mm(0.0)
    width: int | None = None


@dataclass(frozen=True, slots=True)
class Figures:
    """An offset or saddle set in two figures, exact and by the handbook (which leaves the gain of its bends
    out)."""

    spacing: Mm
    shrink: Mm
    handbook_spacing: Mm
    handbook_shrink: Mm


def slope(rise: Mm, angle: Deg) -> Mm:
    """Corner to corner over a rise: rise / sin(angle). Source: the right triangle over the rise.

    rise: centreline to centreline, mm.  angle: 0 < angle <= 90.  The handbook's multiplier is 1 / sin(angle),
    rounded.
    """
    return Mm(rise / sin_deg(angle))


def like_mark_spacing(rise: Mm, angle: Deg, radius: Mm) -> Mm:
    """Distance along the stick between like marks of an offset's two bends.

    rise: centreline to centreline, > 0.  angle: of each bend, 0 < angle <= 90.  radius: finished, at the
    centreline.
    Returns rise / sin(angle) - gain(radius, angle).
    Raises BendsOverlap when the straight between the bends would be negative; it says by how much the rise
    must grow.
    Source: the right triangle over the rise, less the gain of one bend.  Accuracy: 1e-9 mm.
    """
    between = slope(rise, angle)
    need = 2.0 * tangent_length(radius, angle)
    if between < need - 1e-6:
        grow = (need - between) * sin_deg(angle)
        raise BendsOverlap(
            "rise",
            f"is {tape.fine(rise)}; two bends of {angle:g}° with a radius of {tape.fine(radius)} "
            f"need {tape.fine(Mm(rise + grow), up=True)} or more",
            grow_mm=grow,
        )
    return Mm(between - gain(radius, angle))


def offset_shrink(rise: Mm, angle: Deg, radius: Mm) -> Mm:
    """What an offset takes from the reach: rise tan(angle / 2) - 2 gain, mm.

    It is what the stick must be longer than the straight distance that it covers.  Source: slope less its
    run, less the gain of both bends.  The handbook's figure leaves the gain out.
    """
    return Mm(rise * tan_half(angle) - 2.0 * gain(radius, angle))


def true_rise(rise: Mm, spread: Mm) -> Mm:
    """The rise of a rolling offset in its own plane: the hypotenuse of rise and spread, mm. Source:
    Pythagoras."""
    return Mm((rise * rise + spread * spread) ** 0.5)


def saddle_corner_height(rise: Mm, angle: Deg, radius: Mm) -> Mm:
    """Height of the middle corner of a three-bend saddle set over the line, mm: rise + R (1 / cos(angle) -
    1).

    rise: shift of the centreline at the top of the middle arc, which lies below its corner.  angle: of the
    outer bends, 0 < angle < 90; the middle bend is twice that.  Source: from a corner to the arc under it is
    R / cos(angle) - R.
    """
    return Mm(rise + radius * (1.0 / cos_deg(angle) - 1.0))


def three_bend_saddle_shrink(rise: Mm, angle: Deg, radius: Mm) -> Mm:
    """What a three-bend saddle set takes from the reach: 2 H tan(angle / 2) - 2 gain(angle) - gain(2 angle),
    mm.

    H: `saddle_corner_height`.  Source: two slopes less their runs, less the gains of the three bends.
    """
    height = saddle_corner_height(rise, angle, radius)
    gains = 2.0 * gain(radius, angle) + gain(radius, Deg(2.0 * angle))
    return Mm(2.0 * height * tan_half(angle) - gains)


def offset(heading: Vec, toward: Vec, rise: Mm, angle: Deg) -> Shape:
    """Two equal, opposite bends: away by `angle` and back to the heading.

    heading, toward: unit, square to each other.
    """
    return Shape(((angle, toward), (angle, _back(heading, toward, angle))), (slope(rise, angle),))


def kick(toward: Vec, rise: Mm, angle: Deg) -> Shape:
    """One bend, and the sloping leg that gains the rise."""
    return Shape(((angle, toward),), (slope(rise, angle),))


def three_bend_saddle(heading: Vec, toward: Vec, rise: Mm, angle: Deg, *, radius: Mm) -> Shape:
    """Up by `angle`, over by twice that, down by `angle` to the same line; `rise` at the top of the middle
    arc."""
    height = saddle_corner_height(rise, angle, radius)
    side = slope(height, angle)
    down = (-toward[0], -toward[1], -toward[2])
    turns = (
        (angle, toward),
        (Deg(2.0 * angle), _back(heading, toward, angle)),
        (angle, _back(heading, down, angle)),
    )
    return Shape(turns, (side, side), Mm(height / tan_deg(angle)))


def four_bend_saddle(heading: Vec, toward: Vec, rise: Mm, angle: Deg, *, width: Mm) -> Shape:
    """Two offsets back to back, `width` between the inner corners."""
    side = slope(rise, angle)
    down = (-toward[0], -toward[1], -toward[2])
    turns = (
        (angle, toward),
        (angle, _back(heading, toward, angle)),
        (angle, down),
        (angle, _back(heading, down, angle)),
    )
    return Shape(turns, (side, width, side), Mm(rise / tan_deg(angle) + width / 2.0), 1)


def _back(heading: Vec, toward: Vec, angle: Deg) -> Vec:
    """The way back to the heading, square to a leg that has turned from it by `angle` toward `toward`."""
    return combine(sin_deg(angle), heading, -cos_deg(angle), toward)


def offset_figures(rise: Mm, angle: Deg, radius: Mm) -> Figures:
    """An offset's figures, exact and by the handbook."""
    return Figures(
        Mm(slope(rise, angle) - gain(radius, angle)),
        offset_shrink(rise, angle, radius),
        slope(rise, angle),
        Mm(rise * tan_half(angle)),
    )


def three_bend_saddle_figures(rise: Mm, angle: Deg, radius: Mm) -> Figures:
    """A three-bend saddle set's figures: spacing is between the middle of the middle bend and that of an
    outer one.

    The handbook takes rise / sin(angle) for the spacing and rise tan(angle / 2) for the shift of the middle
    mark; the shrink of the whole set is twice that.
    """
    side = slope(saddle_corner_height(rise, angle, radius), angle)
    half_gains = (gain(radius, angle) + gain(radius, Deg(2.0 * angle))) / 2.0
    return Figures(
        Mm(side - half_gains),
        three_bend_saddle_shrink(rise, angle, radius),
        slope(rise, angle),
        Mm(2.0 * rise * tan_half(angle)),
    )


def four_bend_saddle_figures(rise: Mm, angle: Deg, radius: Mm) -> Figures:
    """A four-bend saddle set's figures: spacing is that of either of its offsets, shrink that of both."""
    one = offset_figures(rise, angle, radius)
    return Figures(one.spacing, Mm(2.0 * one.shrink), one.handbook_spacing, Mm(2.0 * one.handbook_shrink))
