"""Boxes and strokes on the sheet, and whether they touch."""

import math
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Final, NamedTuple

Spot = tuple[float, float]
"""A place on the sheet, px: x to the right, y down."""


class Box(NamedTuple):
    """An upright rectangle, px. left <= right, top <= bottom.

    A tuple, for a drawing tries thousands of places for its words.
    """

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """From left to right."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """From top to bottom."""
        return self.bottom - self.top

    @property
    def middle(self) -> Spot:
        """The centre."""
        return ((self.left + self.right) / 2.0, (self.top + self.bottom) / 2.0)

    @property
    def diagonal(self) -> tuple[Spot, Spot]:
        """Two corners across from each other."""
        return ((self.left, self.top), (self.right, self.bottom))

    def grown(self, by: float) -> "Box":
        """The box with so much more on every side."""
        left, top, right, bottom = self
        return Box(left - by, top - by, right + by, bottom + by)

    def moved(self, dx: float, dy: float) -> "Box":
        """The box somewhere else."""
        return Box(self.left + dx, self.top + dy, self.right + dx, self.bottom + dy)

    def joined(self, other: "Box") -> "Box":
        """The least box round both."""
        return Box(
            min(self.left, other.left),
            min(self.top, other.top),
            max(self.right, other.right),
            max(self.bottom, other.bottom),
        )

    def overlaps(self, other: "Box") -> bool:
        """Whether the two have more than an edge in common."""
        return (
            self.left < other.right
            and other.left < self.right
            and self.top < other.bottom
            and other.top < self.bottom
        )

    def nearest(self, spot: Spot) -> Spot:
        """The place of the box that is nearest to a spot (the spot itself if it lies inside)."""
        return (min(max(spot[0], self.left), self.right), min(max(spot[1], self.top), self.bottom))


def box_round(spots: Iterable[Spot], *, by: float = 0.0) -> Box:
    """The least box round some places, grown. Raises ValueError when there is none."""
    xs, ys = zip(*spots, strict=True)
    return Box(min(xs), min(ys), max(xs), max(ys)).grown(by)


def _round_two(a: Spot, b: Spot, by: float) -> Box:
    left, right = (a[0], b[0]) if a[0] <= b[0] else (b[0], a[0])
    top, bottom = (a[1], b[1]) if a[1] <= b[1] else (b[1], a[1])
    return Box(left - by, top - by, right + by, bottom + by)


def distance(a: Spot, b: Spot) -> float:
    """From one place to another, px."""
    return math.hypot(b[0] - a[0], b[1] - a[1])


def toward(a: Spot, b: Spot, by: float) -> Spot:
    """The place so far from a in the direction of b; a itself if the two are one."""
    size = distance(a, b)
    if size == 0.0:
        return a
    return (a[0] + (b[0] - a[0]) * by / size, a[1] + (b[1] - a[1]) * by / size)


def trimmed(spots: Sequence[Spot], first: float, last: float) -> list[Spot]:
    """A line through places made so much shorter at its ends; about its middle, where it is too short."""
    found = list(spots)
    for short in (last, first):  # cut the far end, turn the line round, and again
        found.reverse()
        while short > 0.0 and len(found) > 1:
            size = distance(found[0], found[1])
            if size > short:
                found[0] = toward(found[0], found[1], short)
                break
            if len(found) == 2:
                found[0] = toward(found[0], found[1], size / 2.0)
                break
            short -= size
            del found[0]
    return found


def beside(spots: Sequence[Spot], by: float) -> list[Spot]:
    """The line that runs along a line through places, so far to its right as seen on the sheet."""
    found = []
    last = len(spots) - 1
    for i, (x, y) in enumerate(spots):
        before, after = spots[max(i - 1, 0)], spots[min(i + 1, last)]
        dx, dy = after[0] - before[0], after[1] - before[1]
        size = math.hypot(dx, dy) or 1.0
        found.append((x - by * dy / size, y + by * dx / size))
    return found


def hull(spots: Sequence[Spot]) -> list[int]:
    """Indices of the places that stand round all of them, in turn. Source: Andrew's monotone chain."""
    order = sorted(range(len(spots)), key=lambda i: spots[i])

    def half(indices: Iterable[int]) -> list[int]:
        kept: list[int] = []
        for i in indices:
            while len(kept) > 1 and _turn(spots[kept[-2]], spots[kept[-1]], spots[i]) <= 0.0:
                kept.pop()
            kept.append(i)
        return kept[:-1]

    return [*half(order), *half(reversed(order))]


def _turn(a: Spot, b: Spot, c: Spot) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def scanned(outline: Sequence[Spot], apart: float) -> list[tuple[Spot, Spot]]:
    """Level lines that fill an outline, so far apart: what keeps words off it."""
    box = box_round(outline)
    lines = []
    rows = max(1, math.ceil(box.height / apart))
    for row in range(rows):
        y = box.top + (row + 0.5) * box.height / rows
        cuts = sorted(
            a[0] + (b[0] - a[0]) * (y - a[1]) / (b[1] - a[1])
            for a, b in pairwise([*outline, outline[0]])
            if (a[1] > y) != (b[1] > y)
        )
        lines += [((first, y), (second, y)) for first, second in zip(cuts[::2], cuts[1::2], strict=False)]
    return lines


def part_in(box: Box, a: Spot, b: Spot) -> tuple[float, float] | None:
    """Between which parts (0 to 1) of its length a line runs inside a box; None if it does not.

    Source: clipping each pair of sides in turn (Liang and Barsky's parametric form).
    """
    dx, dy = b[0] - a[0], b[1] - a[1]
    enter, leave = 0.0, 1.0
    for step, near, far in ((dx, box.left - a[0], box.right - a[0]), (dy, box.top - a[1], box.bottom - a[1])):
        if step == 0.0:
            if near > 0.0 or far < 0.0:
                return None
            continue
        first, last = near / step, far / step
        if first > last:
            first, last = last, first
        enter, leave = max(enter, first), min(leave, last)
        if enter > leave:
            return None
    return enter, leave


def lines_cross(a: Spot, b: Spot, c: Spot, d: Spot) -> bool:
    """Whether two lines from a to b and from c to d have a place in common."""

    def side(p: Spot, q: Spot, r: Spot) -> float:
        return (q[0] - p[0]) * (r[1] - p[1]) - (q[1] - p[1]) * (r[0] - p[0])

    if max(a[0], b[0]) < min(c[0], d[0]) or max(c[0], d[0]) < min(a[0], b[0]):
        return False
    if max(a[1], b[1]) < min(c[1], d[1]) or max(c[1], d[1]) < min(a[1], b[1]):
        return False
    return side(a, b, c) * side(a, b, d) <= 0.0 and side(c, d, a) * side(c, d, b) <= 0.0


def spot_to_line(spot: Spot, a: Spot, b: Spot) -> float:
    """Distance of a place from the nearest place of a line, px."""
    dx, dy = b[0] - a[0], b[1] - a[1]
    square = dx * dx + dy * dy
    part = 0.0 if square == 0.0 else ((spot[0] - a[0]) * dx + (spot[1] - a[1]) * dy) / square
    part = min(max(part, 0.0), 1.0)
    return math.hypot(spot[0] - a[0] - part * dx, spot[1] - a[1] - part * dy)


def line_to_line(a: Spot, b: Spot, c: Spot, d: Spot) -> float:
    """Least distance between two lines, px; 0 where they cross."""
    if lines_cross(a, b, c, d):
        return 0.0
    return min(spot_to_line(a, c, d), spot_to_line(b, c, d), spot_to_line(c, a, b), spot_to_line(d, a, b))


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line as it is drawn: half its width to either side. weight: how much it spoils to draw across it."""

    start: Spot
    end: Spot
    half: float
    weight: float = 1.0
    box: Box = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "box", _round_two(self.start, self.end, self.half))


def thinned(spots: Sequence[Spot], apart: float) -> list[Spot]:
    """A line through fewer of its places, none left nearer than `apart` to the next; its ends stay."""
    kept = [spots[0]]
    for spot in spots[1:-1]:
        if distance(spot, kept[-1]) >= apart:
            kept.append(spot)
    return [*kept, spots[-1]]


_CELL: Final = 48.0
_ALONG: Final = 0.12  # sine below which two lines run along each other rather than cross
_ON_TOP: Final = 5.0  # how many times worse that is
_NEAR: Final = 3.0  # and how near they count as on top of each other, px


class Sheet:
    """What is drawn so far, for the question whether something more would touch it.

    A grid of cells holds what passes through each, so that in a run of five hundred corners only what is
    near by is asked.
    """

    def __init__(self) -> None:
        self._texts: dict[tuple[int, int], list[Box]] = defaultdict(list)
        self._strokes: dict[tuple[int, int], list[Stroke]] = defaultdict(list)

    def add_text(self, box: Box) -> None:
        """Keep the room of a text."""
        for cell in _cells(box):
            self._texts[cell].append(box)

    def add_stroke(self, stroke: Stroke) -> None:
        """Keep the room of a line."""
        for cell in _cells_along(stroke.start, stroke.end, stroke.half):
            self._strokes[cell].append(stroke)

    def add_strokes(self, spots: Sequence[Spot], half: float, *, weight: float = 1.0) -> None:
        """Keep the room of a line through several places."""
        for start, end in pairwise(spots):
            self.add_stroke(Stroke(start, end, half, weight))

    def text_is_free(self, box: Box, gap: float) -> bool:
        """Whether a text may stand there, so far from every text and line."""
        left, top, right, bottom = room = box.grown(gap)
        for cell in _cells(room):
            for text in self._texts.get(cell, ()):
                if left < text[2] and text[0] < right and top < text[3] and text[1] < bottom:
                    return False
            for stroke in self._strokes.get(cell, ()):
                other = stroke.box
                if not (left < other[2] and other[0] < right and top < other[3] and other[1] < bottom):
                    continue
                if part_in(room.grown(stroke.half), stroke.start, stroke.end) is not None:
                    return False
        return True

    def line_is_free(self, start: Spot, end: Spot, gap: float) -> bool:
        """Whether a line keeps so far from every text."""
        return not any(
            part_in(text.grown(gap), start, end) is not None
            for cell in _cells_along(start, end, gap)
            for text in self._texts.get(cell, ())
        )

    def spoiled(self, start: Spot, end: Spot, *, most: float) -> float:
        """How much a line would spoil: the weights of what it meets, given up past `most`."""
        total = 0.0
        left, right = min(start[0], end[0]) - _NEAR, max(start[0], end[0]) + _NEAR
        top, bottom = min(start[1], end[1]) - _NEAR, max(start[1], end[1]) + _NEAR
        seen: set[int] = set()
        for cell in _cells_along(start, end, _NEAR):
            for stroke in self._strokes.get(cell, ()):
                box = stroke.box
                if box.left > right or box.right < left or box.top > bottom or box.bottom < top:
                    continue
                if id(stroke) in seen:
                    continue
                seen.add(id(stroke))
                away = line_to_line(start, end, stroke.start, stroke.end) - stroke.half
                if away <= 0.0:
                    total += stroke.weight
                if away <= _NEAR and _run_along(start, end, stroke):
                    total += stroke.weight * (_ON_TOP - 1.0)
                if total > most:
                    return total
        return total


def _run_along(start: Spot, end: Spot, stroke: Stroke) -> bool:
    """Whether a line lies on top of a stroke for a stretch, not just end to end with it."""
    ax, ay = end[0] - start[0], end[1] - start[1]
    bx, by = stroke.end[0] - stroke.start[0], stroke.end[1] - stroke.start[1]
    sizes = math.hypot(ax, ay) * math.hypot(bx, by)
    if sizes == 0.0 or abs(ax * by - ay * bx) > _ALONG * sizes:
        return False
    size = math.hypot(ax, ay)
    ends = [
        ((spot[0] - start[0]) * ax + (spot[1] - start[1]) * ay) / size for spot in (stroke.start, stroke.end)
    ]
    return min(max(ends), size) - max(min(ends), 0.0) > 2.0 * _NEAR


def _cells(box: Box) -> list[tuple[int, int]]:
    left, top, right, bottom = box
    first, last = math.floor(left / _CELL), math.floor(right / _CELL)
    high, low = math.floor(top / _CELL), math.floor(bottom / _CELL)
    if first == last and high == low:
        return [(first, high)]
    columns, rows = range(first, last + 1), range(high, low + 1)
    return [(column, row) for column in columns for row in rows]


def _cells_along(start: Spot, end: Spot, half: float) -> set[tuple[int, int]]:
    """The cells a line passes through, walked in steps: a long one misses most cells of its box."""
    steps = max(1, math.ceil(distance(start, end) / _CELL))
    if steps == 1:
        return set(_cells(_round_two(start, end, half)))
    marks = [
        (start[0] + (end[0] - start[0]) * i / steps, start[1] + (end[1] - start[1]) * i / steps)
        for i in range(steps + 1)
    ]
    return {cell for a, b in pairwise(marks) for cell in _cells(_round_two(a, b, half))}
