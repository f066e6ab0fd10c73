"""A plan's sticks as screens list them: marks, the order of bending, ends with their threads, clips."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from services.pages import chart

DRAWN_AS = "checked"
"""Sticks of a plan are drawn as metal, whatever becomes of them."""


@dataclass(frozen=True, slots=True)
class Bend:
    """A bend in a stick. number: along it.  held: which side is gripped, `start` or `finish`; None where no
    order clears the bender."""

    number: int
    angle: float
    mark: float
    order: int | None
    held: str | None


@dataclass(frozen=True, slots=True)
class ShownStick:
    """A stick as it is listed.

    start, finish: kind and thread of its ends, by the engine's contract.  held: the side that all its bends
    are held by; None where they differ or none is.  order: its bends in the order in which they are made;
    empty where that is the order along the stick.  clips: where they stand, mm from its start.
    """

    number: int
    cut_length: float
    is_whole: bool
    bends: tuple[Bend, ...]
    start: Mapping[str, Any]
    finish: Mapping[str, Any]
    has_order: bool
    order: tuple[Bend, ...]
    held: str | None
    turn_rounds: int
    clips: tuple[float, ...]
    strip: chart.Row


def shown(result: Mapping[str, Any]) -> list[ShownStick]:
    """The sticks of a plan, drawn to one scale. result: by the engine's contract."""
    sticks: Sequence[Mapping[str, Any]] = result["sticks"]
    longest = max((stick["cut_length"] for stick in sticks), default=1.0)
    clips: dict[int, list[float]] = defaultdict(list)
    for each in result.get("supports", ()):
        clips[each["stick"]].append(each["from_start"])
    return [_shown(stick, longest, tuple(clips[stick["number"]])) for stick in sticks]


def _shown(stick: Mapping[str, Any], longest: float, clips: tuple[float, ...]) -> ShownStick:
    bends = tuple(
        Bend(bend["number"], bend["angle"], bend["set"]["mark"], bend["order"], bend["held"])
        for bend in stick["bends"]
    )
    has_order = all(bend.order is not None for bend in bends)
    made = tuple(sorted(bends, key=lambda bend: bend.order or 0)) if has_order else ()
    held = {bend.held for bend in bends}
    blank = stick.get("blank")
    return ShownStick(
        number=stick["number"],
        cut_length=stick["cut_length"],
        is_whole=blank is not None and not blank["cuts"],
        bends=bends,
        start=stick["start"],
        finish=stick["finish"],
        has_order=has_order,
        order=made if made != bends else (),
        held=held.pop() if len(held) == 1 else None,
        turn_rounds=stick.get("turn_rounds") or 0,
        clips=clips,
        strip=chart.row(
            [chart.stick_of(stick["number"], DRAWN_AS, stick["cut_length"], stick)], scale_mm=longest
        ),
    )
