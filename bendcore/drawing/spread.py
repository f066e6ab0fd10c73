"""Labels side by side along the strip: as near to where they belong as they go without touching."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final


def spread(
    wanted: Sequence[float], gaps: Sequence[float], *, least: float, most: Sequence[float]
) -> list[float] | None:
    """Places in the order given, each its gap from the one before, nearest to those wanted (least squares).

    wanted: n places.  gaps: n - 1, from each to the next.  least: bound of the first.  most: n bounds.
    Returns None when they do not go.
    Source: with the gaps taken off, a least-squares fit that never falls: pool adjacent violators, then clip.
    """
    taken = list(itertools.accumulate(gaps, initial=0.0))[: len(wanted)]
    bounds = [bound - before for bound, before in zip(most, taken, strict=True)]
    for i in range(len(bounds) - 2, -1, -1):
        bounds[i] = min(bounds[i], bounds[i + 1])
    if bounds and bounds[0] < least:
        return None
    pools: list[tuple[float, int]] = []  # mean, how many
    for place, before in zip(wanted, taken, strict=True):
        mean, count = place - before, 1
        while pools and pools[-1][0] > mean:
            other, many = pools.pop()
            mean, count = (mean * count + other * many) / (count + many), count + many
        pools.append((mean, count))
    level = itertools.chain.from_iterable([mean] * count for mean, count in pools)
    return [
        min(max(place, least), bound) + before
        for place, bound, before in zip(level, bounds, taken, strict=True)
    ]


@dataclass(frozen=True, slots=True)
class Flag:
    """A label that hangs from a pole: the pole comes down to its mark, the text stands to its right.

    before, after: how far the label reaches to the left and right of its pole, px.
    """

    at: float
    before: float
    after: float


@dataclass(frozen=True, slots=True)
class Flown:
    """Where a flag flies: its pole, and its row counted from the lowest."""

    pole: float
    row: int


def fly(flags: Sequence[Flag], rows: int, *, gap: float, left: float, right: float) -> list[Flown] | None:
    """Flags in so many rows, in groups like stairs down to the right; None when they do not go.

    flags: in the order of their marks.  gap: kept clear between one flag and the next.
    In a group each pole stands left of all lower flags, so that no pole comes down through a label.
    """
    places = [rows - 1 - i % rows for i in range(len(flags))]
    if rows > 1:  # the last group may be a short one: keep it low
        short = len(flags) % rows
        for i in range(len(flags) - short, len(flags)):
            places[i] -= rows - short
    gaps = []
    for i in range(len(flags) - 1):
        here = flags[i - i % rows : i + 1] if (i + 1) % rows == 0 else None
        if here is None:
            gaps.append(flags[i + 1].before + gap)
        else:  # the next group begins where the whole of this one is past
            next_before = max(flag.before for flag in flags[i + 1 : i + 1 + rows])
            gaps.append(max(flag.after for flag in here) + gap + next_before)
    poles = spread(
        [flag.at for flag in flags],
        gaps,
        least=left + max((flag.before for flag in flags[:rows]), default=0.0),
        most=[right - flag.after for flag in flags],
    )
    return None if poles is None else [Flown(pole, row) for pole, row in zip(poles, places, strict=True)]


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure under its arrowhead: where it belongs, how wide it is, how many lines of text it has."""

    at: float
    width: float
    lines: int = 1


@dataclass(frozen=True, slots=True)
class Dropped:
    """Where a figure stands: its left side, and its row counted from the dimension line down."""

    left: float
    row: int


_MOST_ROWS: Final = 6

# How much of the figure stands left of its line: under the middle, or to one side where the middle is taken.
_SHARES: Final = (0.5, 0.35, 0.65, 0.2, 0.8, 0.0, 1.0)


def drop(figures: Sequence[Figure], *, gap: float, left: float, right: float) -> list[Dropped] | None:
    """Rows for figures whose lines come straight down; one too close drops a row. None if they do not go.

    Every line ends at its own figure, so a figure in a lower row may stand under the end of another's line,
    but never in its way.
    """
    if sum(figure.width + gap for figure in figures) > _MOST_ROWS * (right - left):
        return None  # far too many to go: not worth the search
    found: dict[int, Dropped] = {}
    while len(found) < len(figures):
        best: tuple[tuple[float, float, int], Dropped] | None = None
        for i in range(len(figures)):
            if i in found:
                continue
            for share in _SHARES:
                place = _highest(figures, found, i, share=share, gap=gap, left=left, right=right)
                if place is None:
                    continue
                merit = (place.row, abs(share - 0.5), i)
                if best is None or merit < best[0]:
                    best = (merit, place)
        if best is None:
            return None
        found[best[0][2]] = best[1]
    return [found[i] for i in range(len(figures))]


def _highest(
    figures: Sequence[Figure],
    found: dict[int, Dropped],
    i: int,
    *,
    share: float,
    gap: float,
    left: float,
    right: float,
) -> Dropped | None:
    """The row nearest to the dimension line where a figure goes with such a share of it left of its line."""
    figure = figures[i]
    start = min(max(figure.at - share * figure.width, left), right - figure.width)
    end = start + figure.width
    if not max(start, left) <= figure.at <= end:
        return None
    if any(
        start - gap < other.at < end + gap for j, other in enumerate(figures) if j != i and j not in found
    ):
        return None  # a line that has yet to come down here
    others = [(figures[j], place) for j, place in found.items()]
    for row in range(sum(other.lines for other, _ in others) + 1):
        if all(_go_together(figure, Dropped(start, row), other, place, gap) for other, place in others):
            return Dropped(start, row)
    return None


def _go_together(one: Figure, here: Dropped, two: Figure, there: Dropped, gap: float) -> bool:
    """Whether neither of two figures stands on the other or in the way of its line."""
    if here.row > there.row:
        one, here, two, there = two, there, one, here
    beside = here.left + one.width + gap <= there.left or there.left + two.width + gap <= here.left
    if here.row + one.lines > there.row and not beside:
        return False
    # The lower one's line comes down past the upper one.
    return here.row == there.row or not here.left - gap < two.at < here.left + one.width + gap


def free_row(
    figures: Sequence[Figure], places: Sequence[Dropped], *, left: float, width: float, gap: float
) -> int:
    """The row nearest to the dimension line where a word without a line of its own stands in nobody's way."""
    right = left + width
    row = 0
    while True:
        for figure, place in zip(figures, places, strict=True):
            beside = right + gap <= place.left or place.left + figure.width + gap <= left
            on_figure = place.row <= row < place.row + figure.lines and not beside
            on_line = row < place.row and left - gap < figure.at < right + gap
            if on_figure or on_line:
                break
        else:
            return row
        row += 1
