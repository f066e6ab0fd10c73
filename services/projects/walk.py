"""Which way a run goes, row after row, and how far it has bent: what a sheet shows beside what was typed."""

import math
from collections.abc import Mapping, Sequence
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
_BENDS_OF: Final[Mapping[str, int]] = {
    "bend": 1,
    "kick": 1,
    "offset": 2,
    "box_set": 2,
    "saddle_set": 4,
    "fitting": 1,
}
"""Angles that a turn adds up to, in units of its angle: a three-bend saddle set has a middle bend of twice
it."""


def headings(rows: Sequence[Mapping[str, Any]], start: str) -> list[str | None]:
    """The way each row's leg goes: a direction, `aslant`, or None after a turn that is not measured yet.

    A bend, kick or fitting with an angle turns the heading by it in the plane of heading and `toward`; sets
    keep it.
    Source: the walk of steps in the engine's contract.
    """
    told: list[str | None] = []
    heading: Vector | None = DIRECTIONS[start]
    for row in rows:
        told.append(None if heading is None else _name(heading))
        turns = row["then"] in _ONE_BEND or (row["then"] == "fitting" and row.get("angle_deg") is not None)
        if turns and heading is not None:
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
