"""Runs drawn straight along one scale: where each stick, its bends and its state's shape stand, in per cent.

A strict content policy allows no style attribute, so lengths are attributes of an SVG: percentages of its
width.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from django.utils.html import escape

from bendcore.units import MM_PER_INCH, Units

STATES: Final = ("installed", "checked", "bent", "rework", "rejected", "cut", "released", "waiting")
"""On the strip of a whole job, most metal first."""

SHORTEST_WORD: Final = 9.0
"""Per cent of the scale that a state's word needs under the chart; a narrower group goes without."""


@dataclass(frozen=True, slots=True)
class ChartStick:
    """A stick as the chart wants it. bends: begin and finish of each, mm on the straight stick."""

    number: int
    state: str
    length_mm: float
    bends: tuple[tuple[float, float], ...] = ()
    marks: tuple[float, ...] = ()


def stick_of(number: int, state: str, length_mm: float, data: Mapping[str, Any]) -> ChartStick:
    """A stick by what is kept of it. data: as the engine's contract writes a stick."""
    bends = data["bends"]
    return ChartStick(
        number,
        state,
        length_mm,
        tuple((bend["begin"], bend["finish"]) for bend in bends),
        tuple(bend["set"]["mark"] for bend in bends),
    )


@dataclass(frozen=True, slots=True)
class Segment:
    """One stick on the chart. x, end, width and the rest: per cent of the chart's width, as text."""

    number: int
    state: str
    x: str
    end: str
    middle: str
    half: str
    width: str
    clips: tuple[str, str]
    zones: tuple[tuple[str, str], ...]
    marks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Row:
    """One run on the chart. words: state and place of each group of like sticks that has room for its
    word."""

    segments: tuple[Segment, ...]
    words: tuple[tuple[str, str], ...]
    tally: tuple[tuple[int, str], ...] = field(default=())


def row(sticks: Sequence[ChartStick], *, scale_mm: float) -> Row:
    """The sticks laid end to end; scale_mm: what the whole width stands for, at least their sum."""
    segments = []
    at = 0.0
    for stick in sticks:
        segments.append(_segment(stick, at, scale_mm))
        at += stick.length_mm
    return Row(tuple(segments), tuple(_words(sticks, scale_mm)), tally(sticks))


def tally(sticks: Sequence[ChartStick]) -> tuple[tuple[int, str], ...]:
    """How many sticks stand in each state, in the order in which the states first come."""
    counts: dict[str, int] = {}
    for stick in sticks:
        counts[stick.state] = counts.get(stick.state, 0) + 1
    return tuple((count, state) for state, count in counts.items())


@dataclass(frozen=True, slots=True)
class Scale:
    """What the chart's width stands for. labels: place and figure."""

    mm: float
    labels: tuple[tuple[str, str], ...]
    unit: str


def scale_for(longest_mm: float, units: Units) -> Scale:
    """A scale of about five to eight whole steps of metres, or of feet, that holds the longest run."""
    one = 1000.0 if units is Units.MM else 12 * MM_PER_INCH
    steps = (1, 2, 5, 10, 20, 50, 100) if units is Units.MM else (2, 5, 10, 20, 50, 100, 200)
    step = next((each for each in steps if longest_mm <= 8 * each * one), steps[-1])
    count = max(2, -int(-longest_mm // (step * one)))
    width = count * step * one
    labels = tuple((_per_cent(index / count), str(index * step)) for index in range(count + 1))
    return Scale(width, labels, "m" if units is Units.MM else "ft")


def _segment(stick: ChartStick, at: float, scale_mm: float) -> Segment:
    def place(along: float) -> str:
        return _per_cent((at + along) / scale_mm)

    length = stick.length_mm
    return Segment(
        number=stick.number,
        state=stick.state,
        x=place(0.0),
        end=place(length),
        middle=place(length / 2),
        half=_per_cent(length / 2 / scale_mm),
        width=_per_cent(length / scale_mm),
        clips=(place(length * 0.18), place(length * 0.82)),
        zones=tuple((place(begin), _per_cent((finish - begin) / scale_mm)) for begin, finish in stick.bends),
        marks=tuple(place(mark) for mark in stick.marks),
    )


def _words(sticks: Sequence[ChartStick], scale_mm: float) -> list[tuple[str, str]]:
    groups: list[tuple[str, float, float]] = []
    at = 0.0
    for stick in sticks:
        if groups and groups[-1][0] == stick.state:
            state, start, width = groups[-1]
            groups[-1] = (state, start, width + stick.length_mm)
        else:
            groups.append((stick.state, at, stick.length_mm))
        at += stick.length_mm
    # The last group may run on past its end.
    return [
        (state, _per_cent(start / scale_mm))
        for index, (state, start, width) in enumerate(groups)
        if index == len(groups) - 1 or 100.0 * width / scale_mm >= SHORTEST_WORD
    ]


def _per_cent(part: float) -> str:
    return f"{100.0 * part:.2f}%"


def svg(row: Row, said: Mapping[str, str]) -> str:
    """A run's strip as SVG, as `parts/chart_run.html` draws it: for the many of a wall chart, where a
    template takes several times as long. said: each state's word.

    Safe as it is: places are our own figures, and words are escaped.
    """
    parts = ['<svg class="segs" width="100%" height="58" aria-hidden="true">']
    parts += [_segment_svg(segment) for segment in row.segments]
    parts += [
        f'<text class="sw" x="{x}" y="52">{escape(said.get(state, state))}</text>' for state, x in row.words
    ]
    return "".join([*parts, "</svg>"])


_ENDED: Final = frozenset({"cut", "bent", "rework", "rejected", "checked"})


def _segment_svg(seg: Segment) -> str:
    state, x, end = seg.state, seg.x, seg.end
    metal = ' fill="url(#tube)"' if state == "checked" else ""
    parts = [f'<g class="s-{state}"><rect class="sg" x="{x}" y="6" width="{seg.width}" height="22"{metal}/>']
    if state == "bent":
        parts.append(f'<rect x="{x}" y="6" width="{seg.width}" height="22" fill="url(#hatch)"/>')
    elif state in ("rework", "rejected"):
        parts.append(f'<rect x="{x}" y="6" width="{seg.half}" height="22" fill="url(#hatch)"/>')
    if state in _ENDED:
        parts.append(
            f'<rect class="e" x="{x}" y="5" width="4" height="24"/>'
            f'<rect class="e" x="{end}" y="5" width="4" height="24" transform="translate(-4 0)"/>'
        )
    if state == "checked":
        parts.append(
            f'<svg x="{seg.middle}" y="0" overflow="visible"><path class="ck-o" d="M-9 12L-3 20L9 2"/>'
            '<path class="ck" d="M-9 12L-3 20L9 2"/></svg>'
        )
    elif state == "installed":
        parts += [
            f'<rect class="e" x="{clip}" y="0" width="5" height="34" transform="translate(-2 0)"/>'
            for clip in seg.clips
        ]
    elif state == "rejected":
        parts.append(
            f'<svg x="{end}" y="0" overflow="visible"><path class="ck" d="M-14 8L-2 26M-2 8L-14 26"/></svg>'
        )
    parts.append("</g>")
    parts += [f'<rect class="bd" x="{at}" y="31.5" width="{width}" height="3"/>' for at, width in seg.zones]
    return "".join(parts)
