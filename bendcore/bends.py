"""From a corner to a bend: tangent, arc, gain, outline marks, roll.

The relations, with where they come from, stand in docs/method/right-angle.md and docs/method/roll.md.
"""

import math

from bendcore.units import Deg, Mm, cos_deg, settle, sin_deg, tan_half
from bendcore.vectors import Vec, combine, cross, dot

OUTLINE_CORNER_LOST: Deg = Deg(179.0)
"""From this angle on the outline's corner lies too far away to be measured to, and is not told."""


def tangent_length(radius: Mm, angle: Deg) -> Mm:
    """From the corner to the tangent point: R tan(angle / 2).

    radius: finished, at the centreline, mm, > 0.  angle: 0 < angle < 180.
    Source: the right triangle of corner, tangent point and centre.
    """
    return Mm(radius * tan_half(angle))


def arc_length(radius: Mm, angle: Deg) -> Mm:
    """Length of conduit that lies in the bend at the centreline: R angle, angle in radians.

    Source: arc of a circle; trade texts print 0.01745 R for each degree (docs/method/right-angle.md).
    """
    return Mm(radius * math.radians(angle))


def gain(radius: Mm, angle: Deg) -> Mm:
    """What two legs measure corner to corner more than the conduit they are made from: 2 T - A, mm.

    Source: two tangents less one arc; 0.4292 R at 90°.
    """
    return Mm(2.0 * radius * tan_half(angle) - radius * math.radians(angle))


def back_to_back_gain(radius: Mm, angle: Deg, outside_diameter: Mm) -> Mm:
    """The trade's gain: what two legs measured to the back are more than the conduit they are made from, mm.

    gain + D tan(angle / 2); at 90° gain + D.
    Source: each leg is longer at the back by the outline's corner, (D / 2) tan(angle / 2).
    """
    return Mm(gain(radius, angle) + outside_diameter * tan_half(angle))


def outline_corner(outside_diameter: Mm, angle: Deg) -> Mm:
    """How far the back lies beyond the centreline's corner along a leg, and the inside before it: (D/2)
    tan(angle/2).

    Source: two parallels at D/2 either side of the centreline, turned by the same angle.
    """
    return Mm(outside_diameter / 2.0 * tan_half(angle))


def closing_after(incoming: Vec, toward: Vec, angle: Deg) -> Vec:
    """The direction that a bend closed toward, carried through the bend itself: square to the outgoing leg.

    incoming: unit direction of the leg before.  toward: unit, square to it, the way the bend closes.
    """
    return combine(-sin_deg(angle), incoming, cos_deg(angle), toward)


def outgoing(incoming: Vec, toward: Vec, angle: Deg) -> Vec:
    """Unit direction of the leg after a bend."""
    return combine(cos_deg(angle), incoming, sin_deg(angle), toward)


def roll_between(direction: Vec, closed: Vec, closes: Vec) -> Deg:
    """Roll from one bend to the next, about the leg between them, by the right-hand rule, in (-180, 180].

    direction: unit, of the leg from the one to the other.  closed: `closing_after` of the first.
    closes: the way the second closes, unit, square to the leg.
    """
    return roll_in_range(math.degrees(math.atan2(dot(direction, cross(closed, closes)), dot(closed, closes))))


def roll_in_range(angle: float) -> Deg:
    """The same roll in (-180, 180], on the half degree that it misses by rounding alone."""
    rest = settle(math.remainder(angle, 360.0))
    return Deg(180.0) if rest == -180.0 else Deg(rest + 0.0)
