"""What the screens work out from what they were given: postures at the bender, what may be saved, whose rows
are whose."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

T = TypeVar("T")


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


def changed_by(was: T | None, mine: T, theirs: T) -> str:
    """Who changed a field or a row since it was opened: "mine", "theirs", "both" each otherwise, or
    "nobody".

    was: as it was opened; None where nobody knows, and a difference counts as of both.
    """
    if mine == theirs:
        return "nobody"
    if was is None:
        return "both"
    return "theirs" if mine == was else "mine" if theirs == was else "both"


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
        who = changed_by(was, one, other)
        if who != "nobody":
            changed[who].append(number)
    return Merge(tuple(changed["mine"]), tuple(changed["theirs"]), tuple(changed["both"]))
