"""Signs that are drawn in px, whatever the scale: joints, fittings, clips, and what is done in the bender."""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from bendcore.drawing.plane import Spot, distance
from bendcore.drawing.space import View
from bendcore.vectors import Vec

GHOST: Final = 0.6
"""What is not meant is drawn at this part of the width."""

LEAST_LIT: Final = 5.0
"""A tube thinner than this, px, shows no light, and its signs have finer lines."""

_THREAD_LINES: Final = 3
_THREAD_PITCH: Final = 2.8
_ROUND: Final = 24  # places of a circle
_BODY: Final = 1.5  # width of a fitting's body, in tube widths
_MITRE: Final = 1.6  # a corner reaches so far at most, in half widths
_LEAST_BODY: Final = 1.25  # how far a body reaches along each leg at least, in tube widths


class SignKind(StrEnum):
    """What a sign stands for."""

    COUPLER = "coupler"
    RUNNING_COUPLER = "running_coupler"
    UNION = "union"
    DRAW_IN_BOX = "draw_in_box"
    INSPECTION_BEND = "inspection_bend"
    TEE = "tee"
    CLIP = "clip"
    GRIP = "grip"


@dataclass(frozen=True, slots=True)
class Sign:
    """A sign at a place of the conduit.

    ways: unit directions along the conduit, with how far the sign reaches there, mm: of a fitting both, away
    from its corner; of a running coupler the one that the long thread lies in; of a clip and a grip the
    conduit's own.
    """

    kind: SignKind
    at: Vec
    ways: tuple[tuple[Vec, float], ...] = ()
    ghost: bool = False


@dataclass(frozen=True, slots=True)
class Figure:
    """A line or an outline on the sheet. radius: of a circle round its one spot; 0 for a line."""

    classes: str
    spots: tuple[Spot, ...]
    closed: bool = False
    radius: float = 0.0

    @property
    def outline(self) -> tuple[Spot, ...]:
        """The places that its line goes through."""
        if self.radius:
            return tuple(circle(self.spots[0], self.radius, _ROUND))
        return (*self.spots, self.spots[0]) if self.closed else self.spots


def circle(centre: Spot, radius: float, steps: int) -> list[Spot]:
    """Places round a circle, the first told again at the end."""
    turns = [2.0 * math.pi * i / steps for i in range(steps + 1)]
    return [(centre[0] + radius * math.cos(turn), centre[1] + radius * math.sin(turn)) for turn in turns]


def joint_radius(tube_width: float, ghost: bool) -> float:
    """Of the open circle at a joint, px."""
    wide = tube_width * (GHOST if ghost else 1.0)
    return 0.55 * wide + min(1.5, 0.1 + 0.2 * wide)


def figures(sign: Sign, view: View, scale: float, tube_width: float) -> list[Figure]:
    """How a sign is drawn, in the order of painting. scale: px for a mm; tube_width: px."""
    x, y = view.flat(sign.at)
    at = (x * scale, y * scale)
    wide = tube_width * (GHOST if sign.ghost else 1.0)
    looks = f"{' small' if tube_width < LEAST_LIT else ''}{' ghost' if sign.ghost else ''}"
    legs = [_on_sheet(view, way, reach * scale) for way, reach in sign.ways]
    match sign.kind:
        case SignKind.COUPLER:
            return [Figure(f"joint{looks}", (at,), radius=joint_radius(tube_width, sign.ghost))]
        case SignKind.RUNNING_COUPLER:
            return _running_coupler(at, legs, wide, joint_radius(tube_width, sign.ghost), looks)
        case SignKind.UNION:
            half = 1.35 * joint_radius(tube_width, sign.ghost)
            corners = ((0.0, -half), (half, 0.0), (0.0, half), (-half, 0.0))
            return [
                Figure(f"joint{looks}", tuple((at[0] + dx, at[1] + dy) for dx, dy in corners), closed=True)
            ]
        case SignKind.CLIP:
            (ux, uy), _ = legs[0]
            return [Figure(f"clip{looks}", _across(at, (ux, uy), wide / 2.0 + min(4.0, 1.0 + 0.4 * wide)))]
        case SignKind.GRIP:
            return _grip(at, legs[0], wide)
        case _:
            return _fitting(sign.kind, at, legs, wide, looks)


_Leg = tuple[tuple[float, float], float]
"""A direction on the sheet and how far something reaches in it, px."""


def _on_sheet(view: View, way: Vec, reach: float) -> _Leg:
    x, y = view.flat(way)
    size = math.hypot(x, y)
    return ((x / size, y / size) if size > 1e-6 else (0.0, -1.0)), reach * size


def _across(at: Spot, along: tuple[float, float], half: float) -> tuple[Spot, Spot]:
    ux, uy = along
    return ((at[0] - uy * half, at[1] + ux * half), (at[0] + uy * half, at[1] - ux * half))


def _running_coupler(at: Spot, legs: list[_Leg], wide: float, radius: float, looks: str) -> list[Figure]:
    """The coupler's circle, and beside it the long thread as lines across the conduit."""
    found = [Figure(f"joint{looks}", (at,), radius=radius)]
    for (ux, uy), _ in legs:
        for i in range(_THREAD_LINES):
            away = radius + 2.6 + _THREAD_PITCH * i
            foot = (at[0] + ux * away, at[1] + uy * away)
            found.append(Figure(f"long{looks}", _across(foot, (ux, uy), max(0.5 * wide + 2.0, 3.0))))
    return found


def _grip(at: Spot, leg: _Leg, wide: float) -> list[Figure]:
    """Two jaws along the conduit, one on each side."""
    (ux, uy), reach = leg
    jaws = []
    for side in (-1.0, 1.0):
        by = side * (wide / 2.0 + 3.0)
        near = (at[0] - uy * by, at[1] + ux * by)
        jaws.append(Figure("grip", (near, (near[0] + ux * reach, near[1] + uy * reach))))
    return jaws


def _fitting(kind: SignKind, at: Spot, legs: list[_Leg], wide: float, looks: str) -> list[Figure]:
    """A box, or a body along both legs; a tee has a round lid."""
    if kind is SignKind.DRAW_IN_BOX:
        half = max(1.25 * wide, 4.5, *(0.8 * reach for _, reach in legs))
        corners = ((-half, -half), (half, -half), (half, half), (-half, half))
        return [Figure(f"fit{looks}", tuple((at[0] + dx, at[1] + dy) for dx, dy in corners), closed=True)]
    half = max(_BODY * wide / 2.0, 2.5)
    (ux, uy), first = legs[0]
    (vx, vy), second = legs[1]
    first, second = max(first, _LEAST_BODY * wide + half), max(second, _LEAST_BODY * wide + half)
    a, b = (at[0] + ux * first, at[1] + uy * first), (at[0] + vx * second, at[1] + vy * second)
    # The outline of a thick bent line: along one side of both legs, and back along the other.
    sides: list[list[Spot]] = []
    for by in (half, -half):
        corner = [(at[0] - by * uy, at[1] + by * ux), (at[0] + by * vy, at[1] - by * vx)]
        if abs(ux * vy - uy * vx) > 0.2:
            meet = _meet(at, (ux, uy), (vx, vy), by)
            outside = (meet[0] - at[0]) * (ux + vx) + (meet[1] - at[1]) * (uy + vy) < 0.0
            if not outside or distance(meet, at) < _MITRE * half:  # else blunt
                corner = [meet]
        sides.append(
            [(a[0] - by * uy, a[1] + by * ux), *corner, (b[0] + by * vy, b[1] - by * vx)],
        )
    outline = (*sides[0], *reversed(sides[1]))
    found = [Figure(f"fit{looks}", outline, closed=True)]
    if kind is SignKind.TEE:
        found.append(Figure(f"fit{looks}", (at,), radius=0.62 * half))
    return found


def _meet(at: Spot, u: tuple[float, float], v: tuple[float, float], by: float) -> Spot:
    """Where the lines beside two legs meet: so far to the left of leg u outward, to the right of leg v."""
    wx, wy = v[1] + u[1], -v[0] - u[0]
    t = by * (wx * v[1] - wy * v[0]) / (u[0] * v[1] - u[1] * v[0])
    return (at[0] + t * u[0] - by * u[1], at[1] + t * u[1] + by * u[0])
