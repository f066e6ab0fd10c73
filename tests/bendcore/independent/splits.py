"""Where joints may stand, and the fewest sticks: two solvers of their own, one by intervals, one on a grid.

Positions are along the developed run, its start allowance included. A joint at x with a gap g: one stick ends
at x, the next starts at x + g, and both ends keep the clearance from their nearest bend.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from independent.routes import Run, tangent
from independent.space import distance

# Lengths that differ by less are the same length, mm: above rounding of a run, below anything a plan may lean
# on.
SAME_LENGTH = 1e-7

Window = tuple[float, float]


@dataclass(frozen=True)
class Developed:
    """A run laid straight: its whole length and the (begin, finish) of each bend."""

    length: float
    bends: tuple[tuple[float, float], ...]


def developed(run: Run) -> Developed:
    """Straights and arcs laid end to end, allowances on."""
    at = run.allowances[0]
    bends = []
    angles = run.angles
    legs = [distance(a, b) for a, b in zip(run.points, run.points[1:], strict=False)]
    before = 0.0
    for leg, angle in zip(legs, angles, strict=False):
        t = tangent(run.radius, angle)
        at += leg - before - t
        arc = math.radians(angle) * run.radius
        bends.append((at, at + arc))
        at, before = at + arc, t
    return Developed(at + legs[-1] - before + run.allowances[1], tuple(bends))


def windows(line: Developed, *, clearance: float, gap: float) -> list[Window]:
    """Where the earlier stick may end: on each straight, what keeps clear of the bends at its two ends."""
    starts = [0.0, *(finish + clearance for _, finish in line.bends)]
    ends = [*(begin - clearance for begin, _ in line.bends), line.length]
    return [(a, b - gap) for a, b in zip(starts, ends, strict=True) if b - gap >= a - SAME_LENGTH]


def fewest_sticks(
    line: Developed, *, stock: float, clearance: float, min_piece: float, gap: float
) -> int | None:
    """How many sticks at least; None when no set of joints can split the run. Exact: unions of intervals are
    carried."""
    if line.length <= stock + 1e-6:
        return 1
    open_windows = windows(line, clearance=clearance, gap=gap)
    window_starts, window_ends = [c for c, _ in open_windows], [d for _, d in open_windows]
    starts: list[Window] = [(0.0, 0.0)]
    for sticks in range(1, 2 + math.ceil(line.length / max(min_piece, 1.0))):
        if any(a + min_piece - SAME_LENGTH <= line.length <= b + stock + SAME_LENGTH for a, b in starts):
            return sticks
        reached = []
        for a, b in starts:
            within = slice(
                bisect_left(window_ends, a + min_piece - SAME_LENGTH),
                bisect_right(window_starts, b + stock + SAME_LENGTH),
            )
            for c, d in open_windows[within]:
                low, high = max(a + min_piece, c), min(b + stock, d)
                if low <= high + SAME_LENGTH:
                    reached.append((low + gap, max(low, high) + gap))
        if not reached:
            return None
        reached.sort()
        starts = [reached[0]]
        for a, b in reached[1:]:
            if a <= starts[-1][1] + SAME_LENGTH:
                starts[-1] = (starts[-1][0], max(starts[-1][1], b))
            else:
                starts.append((a, b))
    return None


def least_by_default(run: Run, *, stock: float) -> int | None:
    """The fewest sticks with the joint figures that hold when a run says nothing of joints."""
    return fewest_sticks(developed(run), stock=stock, clearance=120.0, min_piece=150.0, gap=0.0)


def best_on_a_grid(
    length: int,
    bends: Sequence[tuple[int, int]],
    *,
    stock: int,
    clearance: int,
    min_piece: int,
    gap: int,
) -> tuple[int, int, tuple[int, ...]] | None:
    """(sticks, cuts, where the sticks end before each joint): every joint on every whole millimetre is tried.

    Fewest sticks, then fewest cuts (a stick as long as stock needs none), then each joint in turn as far on
    as can be.
    """
    starts = [0, *(finish + clearance for _, finish in bends)]
    ends = [*(begin - clearance for begin, _ in bends), length]
    allowed = {x for a, b in zip(starts, ends, strict=True) for x in range(max(a, 0), b - gap + 1)}

    if length <= stock:
        return (1, int(length != stock), ())
    # The best from each start on, from the finish back. Places are negative in it, so that the least has its
    # joints farthest on.
    best_from: dict[int, tuple[int, int, tuple[int, ...]]] = {}
    for start in sorted({0, *(end + gap for end in allowed)}, reverse=True):
        answers: list[tuple[int, int, tuple[int, ...]]] = []
        rest = length - start
        if min_piece <= rest <= stock:
            answers.append((1, int(rest != stock), ()))
        for end in range(start + min_piece, min(start + stock, length - gap) + 1):
            if end in allowed and end + gap in best_from:
                sticks, cuts, joints = best_from[end + gap]
                answers.append((sticks + 1, cuts + int(end - start != stock), (-end, *joints)))
        if answers:
            best_from[start] = min(answers)
    if 0 not in best_from:
        return None
    sticks, cuts, joints = best_from[0]
    return (sticks, cuts, tuple(-end for end in joints))
