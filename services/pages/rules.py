"""What the screens work out from what they were given: headings along a route, postures at the bender, what
may be saved."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

Vector = tuple[float, float, float]

DIRECTIONS: Final[Mapping[str, Vector]] = {
    "up": (0.0, 0.0, 1.0),
    "down": (0.0, 0.0, -1.0),
    "in": (0.0, 1.0, 0.0),
    "out": (0.0, -1.0, 0.0),
    "right": (1.0, 0.0, 0.0),
    "left": (-1.0, 0.0, 0.0),
}

ASLANT: Final = "aslant"

_ONE_BEND: Final = frozenset({"bend", "kick"})
_BENDS_OF: Final[Mapping[str, int]] = {"bend": 1, "kick": 1, "offset": 2, "box_set": 2, "saddle_set": 4}
"""Angles that a turn adds up to, in units of its angle: a three-bend saddle set has a middle bend of twice
it."""


def headings(rows: Sequence[Mapping[str, Any]], start: str) -> list[str | None]:
    """The way each row's leg goes: a direction, `aslant`, or None after a turn that is not measured yet.

    A bend or kick turns the heading by its angle in the plane of heading and `toward`; sets keep it.
    Source: the walk of steps in the engine's contract.
    """
    told: list[str | None] = []
    heading: Vector | None = DIRECTIONS[start]
    for row in rows:
        told.append(None if heading is None else _name(heading))
        if row["then"] in _ONE_BEND and heading is not None:
            heading = _turned(heading, row.get("toward"), row.get("angle_deg"))
    return told


def _turned(heading: Vector, toward: str | None, angle: float | None) -> Vector | None:
    if toward is None or angle is None:
        return None
    aim = DIRECTIONS[toward]
    along = sum(a * b for a, b in zip(heading, aim, strict=True))
    side = tuple(a - along * b for a, b in zip(aim, heading, strict=True))
    size = math.sqrt(sum(each * each for each in side))
    if size < 1e-9:
        return None
    cos, sin = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    x, y, z = (cos * h + sin * s / size for h, s in zip(heading, side, strict=True))
    return (x, y, z)


def _name(heading: Vector) -> str:
    for name, way in DIRECTIONS.items():
        if all(abs(a - b) < 1e-6 for a, b in zip(heading, way, strict=True)):
            return name
    return ASLANT


def bends_so_far(rows: Sequence[Mapping[str, Any]]) -> list[float]:
    """Degrees of bend from the run's start to the end of each row."""
    told = []
    so_far = 0.0
    for row in rows:
        so_far += _BENDS_OF.get(row["then"], 0) * (row.get("angle_deg") or 0.0)
        told.append(so_far)
    return told


@dataclass(frozen=True, slots=True)
class Posture:
    """How a stick lies in the bender before a pull, seen from its datum end.

    of: number of the made bend whose other leg is looked at; None when nothing is made yet.
    clock: where that leg points, degrees clockwise from the way the bend being made will swing, in (-180,
    180].
    """

    of: int | None
    clock: float

    @property
    def off(self) -> float:
        """How far off straight up, to either side."""
        return abs(self.clock)


def posture(bend: Mapping[str, Any], bends: Sequence[Mapping[str, Any]]) -> Posture:
    """Posture for a bend, by the nearest bend of the stick that is made before it.

    Both legs of a bend lie on the side to which it closes. So with the bend in hand closing at its roll R,
    and turned
    to swing up, the other leg of a bend with roll r points r - R clockwise from up (rolls are clockwise
    seen from the datum end).
    """
    made = [each for each in bends if each["order"] < bend["order"]]
    if not made:
        return Posture(None, 0.0)
    near = min(made, key=lambda each: abs(each["number"] - bend["number"]))
    clock = (near["roll"] - bend["roll"]) % 360.0
    return Posture(near["number"], clock - 360.0 if clock > 180.0 + 1e-9 else clock)


def saving_proposed(stick: Mapping[str, Any], *, bent: bool, least_mm: float) -> float:
    """What of a scrapped piece can go back to stock, mm: the longest straight that no bend is in, or 0 when
    that is shorter than the least offcut kept."""
    if bent and stick["bends"]:
        places = [0.0, *(each for bend in stick["bends"] for each in (bend["begin"], bend["finish"]))]
        places.append(stick["cut_length"])
        straight = max(after - before for before, after in zip(places[::2], places[1::2], strict=True))
    else:
        straight = stick["cut_length"]
    return float(straight) if straight >= least_mm else 0.0


@dataclass(frozen=True, slots=True)
class Merge:
    """Two versions of a route beside the one that both began with, row by row.

    mine, theirs: numbers, from 1, of the rows that one of them changed alone.  both: of the rows that both
    changed, each otherwise.
    """

    mine: tuple[int, ...]
    theirs: tuple[int, ...]
    both: tuple[int, ...]


def merge(
    opened: Sequence[Mapping[str, str]],
    mine: Sequence[Mapping[str, str]],
    *,
    theirs: Sequence[Mapping[str, str]],
) -> Merge | None:
    """Who changed which row since `opened`, rows as they are typed. None when rows were added or removed:
    then no row can be told to be the one that it was."""
    if not len(opened) == len(mine) == len(theirs):
        return None
    changed: dict[str, list[int]] = {"mine": [], "theirs": [], "both": []}
    for number, (was, one, other) in enumerate(zip(opened, mine, theirs, strict=True), start=1):
        if one == other:
            continue
        who = "theirs" if one == was else "mine" if other == was else "both"
        changed[who].append(number)
    return Merge(tuple(changed["mine"]), tuple(changed["theirs"]), tuple(changed["both"]))
