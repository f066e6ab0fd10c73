"""Where a run may be split into sticks, and what that costs."""

from dataclasses import dataclass
from typing import Any

from bendcore.errors import NotAChoice
from bendcore.reader import REFUSED, Json, Kind, Nullable, Number, Problems, Record, RecordOf, key, name_of
from bendcore.spec.bounds import LENGTH_OR_0
from bendcore.units import Mm

_COST = Number("", at_least=0.0, at_most=1e7)


@dataclass(frozen=True, slots=True)
class CostsAsked(Record):
    """What each part of a split costs, all in one unit of money or time; what is left out costs nothing."""

    stick: float = key(_COST, "for each stick", default=0.0)
    metre: float = key(
        _COST, "for each metre cut from a length as bought; offcuts (with a count) are paid for", default=0.0
    )
    cut: float = key(_COST, "for each saw cut; a whole length has none", default=0.0)
    thread: float = key(_COST, "for each thread cut; a factory thread costs nothing", default=0.0)
    coupler: float = key(_COST, "for each joint with a coupler", default=0.0)
    running_coupler: float = key(_COST, "for each joint with a running coupler", default=0.0)
    union: float = key(_COST, "for each joint with a union", default=0.0)
    handling: float = key(_COST, "for each stick with bends: set up, carried and held as fitted", default=0.0)


@dataclass(frozen=True, slots=True)
class JointsAsked(Record):
    """Where the run may be split into sticks, and what that costs."""

    clearance: Mm = key(LENGTH_OR_0, "least straight between a joint and a bend, mm", default=Mm(120.0))
    min_piece: Mm = key(LENGTH_OR_0, "shortest stick, mm", default=Mm(150.0))
    gap: Mm = key(LENGTH_OR_0, "what a joint adds between the two sticks, mm", default=Mm(0.0))
    costs: CostsAsked | None = key(
        RecordOf(CostsAsked),
        "the least-cost split is found for these; absent: the fewest sticks, then the fewest cuts",
        default=None,
    )
    long_thread: Mm | None = key(
        Nullable(LENGTH_OR_0),
        "with a running coupler: length of the long thread, coupler and locknut, mm, kept beside clearance; "
        "untold (null) counts 0 and is warned of",
        default=None,
    )
    union_gap: Mm | None = key(
        Nullable(LENGTH_OR_0),
        "what a union adds between the two sticks, mm; untold (null) counts as gap and is warned of",
        default=None,
    )


class JointsKind(Kind):
    """ "none" for one stick however long, or where joints may stand."""

    def __init__(self) -> None:
        self._record = RecordOf(JointsAsked)

    def read(self, value: Json, where: str, problems: Problems) -> Any:
        if isinstance(value, str):
            if value == "none":
                return value
            problems.append(NotAChoice(where, f'is {name_of(value)}; "none" or an object is wanted'))
            return REFUSED
        return self._record.read(value, where, problems)

    def write(self, value: Any) -> Json:
        return value if value == "none" else value.to_json()

    def schema(self) -> dict[str, Json]:
        return {"oneOf": [{"const": "none"}, self._record.schema()]}
