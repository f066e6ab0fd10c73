"""The routes of a bank: conduits side by side, corner by corner (docs/method/banks.md)."""

from dataclasses import replace

from bendcore import tape
from bendcore.bends import closing_after
from bendcore.errors import BendError, CannotWalk, OutOfRange, RadiusTooSmall
from bendcore.route import Corner, Leg, Route, check_straights
from bendcore.spec import DIRECTIONS, BankAsked, BankCorners
from bendcore.units import Mm, tan_half
from bendcore.vectors import Vec, along, combine, dot, part_square_to
from bendcore.words import Finding, Level

_MOST_LEGS = 20_000
"""Of all conduits of a bank together."""


def bank_routes(asked: BankAsked, route: Route, diameter: Mm, problems: list[BendError]) -> list[Route]:
    """The routes of a bank, the given one first; problems of all of them are appended.

    Each lies so many spacings along the part of `toward` square to the first leg; the section is carried
    round every corner without twist, and starts and finishes are squared off.  Source: docs/method/banks.md.
    """
    side = part_square_to(DIRECTIONS[asked.toward], route.legs[0].direction)
    if side is None:
        problems.append(
            CannotWalk(
                "parallel.toward",
                f"{asked.toward} lies along the first leg; a direction square or aslant to it is wanted",
            )
        )
        return []
    legs = asked.count * len(route.legs)
    if legs > _MOST_LEGS:
        problems.append(
            OutOfRange(
                "parallel.count",
                f"makes {legs} legs of {asked.count} conduits; at most {_MOST_LEGS} are planned at once",
                at_most=_MOST_LEGS,
            )
        )
        return []
    routes = [route]
    for number in range(2, asked.count + 1):
        shifted = _shifted(route, side, Mm((number - 1) * asked.spacing), asked.corners)
        told = len(problems)
        for index, corner in enumerate(shifted.corners, start=1):
            if corner.fitting is None and corner.radius <= diameter / 2.0:
                problems.append(
                    RadiusTooSmall(
                        "parallel.corners",
                        f"concentric leaves corner {index} of conduit {number} a radius of "
                        f"{tape.fine(corner.radius)}; above {tape.fine(Mm(diameter / 2.0))} is allowed: "
                        "put the others outside, or choose equal corners",
                        conduit=number,
                        corner=index,
                        above_mm=diameter / 2.0,
                    )
                )
        if len(problems) == told:
            check_straights(shifted, problems, conduit=number)
        routes.append(shifted)
    return routes


def _shifted(route: Route, side: Vec, distance: Mm, kind: BankCorners) -> Route:
    """The route shifted sideways by a distance, mm; `side` is unit and square to the first leg."""
    # Nearer the start by this much at the corner before and the corner looked at: w tan(angle / 2) each.
    corners: list[Corner] = []
    legs: list[Leg] = []
    section = side
    start = at = along(route.start, distance, side)
    nearer = 0.0
    for leg, corner in zip(route.legs, route.corners, strict=False):
        way = leg.direction
        inward = distance * dot(section, corner.toward)
        if abs(inward) < 1e-9 * distance:
            inward = 0.0  # square to the plane of the bend but for rounding
        next_nearer = inward * tan_half(corner.angle)
        size = Mm(leg.length - nearer - next_nearer)
        at = along(at, size, way)
        legs.append(replace(leg, length=size))
        bent = corner.fitting is None  # a bought bend keeps its own radius
        radius = Mm(corner.radius - inward) if bent and kind is BankCorners.CONCENTRIC else corner.radius
        corners.append(replace(corner, at=at, radius=radius))
        # Carried round the corner: the part toward the centre turns with the bend, the part square to it
        # stays.
        toward_centre = dot(section, corner.toward)
        turned = closing_after(way, corner.toward, corner.angle)
        section = combine(1.0, along(section, -toward_centre, corner.toward), toward_centre, turned)
        nearer = next_nearer
    last = route.legs[-1]
    size = Mm(last.length - nearer)
    legs.append(replace(last, length=size))
    return Route(start, along(at, size, last.direction), tuple(corners), tuple(legs))


def radii_not_at_hand(route: Route, radius: Mm, conduit: int) -> list[Finding]:
    return [
        Finding(
            "former-radius",
            Level.STOP,
            corner.where,
            {"conduit": conduit, "corner": index, "need_mm": corner.radius, "radius_mm": radius},
            "geometry; docs/method/banks.md",
        )
        for index, corner in enumerate(route.corners, start=1)
        if corner.fitting is None and abs(corner.radius - radius) > 1e-6
    ]
