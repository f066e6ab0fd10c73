"""Sentences about the order of bending and what is in its way."""

from collections.abc import Mapping
from typing import Final

from bendcore.units import Units
from bendcore.words.terms import Sentence, Speaker

_LEAST: Final = {Units.MM: (0.5, "under 1 mm"), Units.INCH: (0.8, "under 1/16 in")}
"""Below this, mm, a tape would read what is missing as nothing; and what is said then."""


def _short(say: Speaker) -> str:
    short = say.finding.figures["short_mm"]
    least, said = _LEAST[say.units]
    return said if isinstance(short, float) and short < least else say.length("short_mm")


def _in_the_way(say: Speaker) -> str:
    kind = say.plain("kind")
    if kind == "hold":
        return f"there is only {say.length('straight_mm')} to hold, {_short(say)} too little"
    if kind == "swing":
        return f"there is only {say.length('straight_mm')} of straight past it, {_short(say)} too little"
    if kind == "mark":
        return f"the {say.word('mark')} lies {_short(say)} off the straight that it must be set on"
    parts = {
        "held side": say.word("hold_side"),
        "tail": say.word("swing_side"),
        "arc": "stretch being bent",
    }
    solids = {
        "floor": "the floor",
        "plane": f"plane {say.plain('number')} beside the {say.word('bender')}",
        "body": f"body {say.plain('number')} of the {say.word('bender')}",
    }
    before = say.finding.figures["at_deg"] == 0
    when = "before the pull begins" if before else f"from {say.angle('at_deg')} of the pull on"
    return f"the {parts[say.plain('part')]} touches {solids[kind]} {when}, and wants {_short(say)} more room"


def _bending_order(say: Speaker) -> str:
    stick = f"{say.word('stick')} {say.plain('stick')}"
    told = (
        f"No order of bending makes {stick} on this {say.word('bender')}. "
        f"What misses by the least: at bend {say.plain('bend')}, held by the {say.plain('held')}, "
        f"{_in_the_way(say)}. "
    )
    if say.has("freed_by"):
        after = say.finding.figures["freed_by"]
        assert isinstance(after, int)  # noqa: S101 - our own slip
        return f"{told}A {say.word('joint')} between bends {after} and {after + 1} would free it."
    if say.plain("bends") == "1":
        return f"{told}Use another {say.word('bender')}, make room, or move the bend."
    return (
        f"{told}No single {say.word('joint')} between its bends frees it: use another {say.word('bender')}, "
        "make room, or move the bends."
    )


def _order_not_searched(say: Speaker) -> str:
    return (
        f"{say.word('stick').capitalize()} {say.plain('stick')} has {say.plain('bends')} bends; an order of "
        f"bending is looked for up to {say.plain('at_most')}. They are set from 1 to {say.plain('bends')}, "
        "held by the start: try each one's room before it is pulled."
    )


SENTENCES: Final[Mapping[str, Sentence]] = {
    "bending-order": _bending_order,
    "order-not-searched": _order_not_searched,
}
"""One for each rule."""
