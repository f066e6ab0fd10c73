"""Which stretches of tube lie in front of which, so that the nearer one is painted later."""

import heapq
import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from bendcore.drawing.plane import Box, Spot, distance, line_to_line

_STEP = 5.0  # px between the places looked at along two stretches that may cross
_MOST_PLACES = 60


@dataclass(frozen=True, slots=True)
class Stretch:
    """A straight or an arc on the sheet. tube: number of the tube it belongs to; half: of its width, px.

    spots: along it, px.  depths: how near the viewer each is, more being nearer.
    """

    tube: int
    half: float
    spots: tuple[Spot, ...]
    depths: tuple[float, ...]
    box: Box


def painting_order(stretches: Sequence[Stretch]) -> list[int]:
    """Indices in the order of painting: along the run, but what is in front after what is behind.

    stretches: along the run, so that neighbours in the list join and hide nothing of each other.
    """
    behind: list[list[int]] = [
        [] for _ in stretches
    ]  # what each waits for, turned round: i -> those in front of i
    waits = [0] * len(stretches)
    for i, j in _pairs(stretches):
        front = _front(stretches[i], stretches[j])
        if front:
            first, second = (i, j) if front > 0.0 else (j, i)
            behind[first].append(second)
            waits[second] += 1
    ready = [i for i, wait in enumerate(waits) if wait == 0]
    heapq.heapify(ready)
    order: list[int] = []
    done = [False] * len(stretches)
    while len(order) < len(stretches):
        if not ready:  # three or more that lie over each other in a ring: no order shows all of it
            ready.append(done.index(False))
        index = heapq.heappop(ready)
        if done[index]:
            continue
        done[index] = True
        order.append(index)
        for other in behind[index]:
            waits[other] -= 1
            if waits[other] == 0 and not done[other]:
                heapq.heappush(ready, other)
    return order


def _pairs(stretches: Sequence[Stretch]) -> Iterator[tuple[int, int]]:
    """Pairs that may touch on the sheet, neighbours left out: a sweep from left to right."""
    by_left = sorted(range(len(stretches)), key=lambda i: stretches[i].box.left)
    open_ones: list[int] = []
    for j in by_left:
        box = stretches[j].box
        open_ones = [i for i in open_ones if stretches[i].box.right > box.left]
        for i in open_ones:
            if abs(i - j) > 1 and box.overlaps(stretches[i].box):
                yield i, j
        open_ones.append(j)


def _front(a: Stretch, b: Stretch) -> float:
    """Above 0 if b is in front of a, below if a is in front of b, 0 if they do not meet on the sheet."""
    reach = a.half + b.half
    near = min(line_to_line(p, q, r, s) for p, q in pairwise(a.spots) for r, s in pairwise(b.spots))
    if near >= reach:
        return 0.0
    places = list(_places(b))
    closest, front = math.inf, 0.0
    for spot, depth in _places(a):
        for other, other_depth in places:
            away = distance(spot, other)
            if away < closest - 1e-9:
                closest, front = away, other_depth - depth
    return front


def _places(stretch: Stretch) -> Iterable[tuple[Spot, float]]:
    known = list(zip(stretch.spots, stretch.depths, strict=True))
    for (a, depth), (b, next_depth) in pairwise(known):
        steps = min(max(1, math.ceil(distance(a, b) / _STEP)), _MOST_PLACES)
        for i in range(steps):
            part = i / steps
            spot = (a[0] + (b[0] - a[0]) * part, a[1] + (b[1] - a[1]) * part)
            yield spot, depth + (next_depth - depth) * part
    yield known[-1]
