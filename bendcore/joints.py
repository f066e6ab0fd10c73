"""A run into sticks: where the joints stand.

The fewest sticks, among those the fewest cuts, among those the joints farthest from the start
(docs/method/joints.md).
"""

from bisect import bisect_left
from collections import deque
from collections.abc import Iterator, Sequence
from itertools import pairwise

from bendcore import tape
from bendcore.errors import NoJoint
from bendcore.units import Mm

SLACK = 1e-6
"""What a stick may be over stock, mm, and what a whole length may differ from it: rounding, nothing a saw
could cut."""

_PLACES = 400
_PLACES_A_STRAIGHT = 40
_PLACES_A_STICK = 4
"""Candidates at the most, so that the work grows with the run alone. Few runs on site come near; where one
does, the fewest sticks are still found, and the fewest cuts among the candidates there are: those with the
fewest shortest sticks between them and an edge."""

_Cost = tuple[int, int]  # sticks, cuts

Window = tuple[float, float]
"""First and last place of a joint on one straight, mm along the run: where the earlier stick ends."""


def windows(
    bends: Sequence[tuple[Mm, Mm]], developed: Mm, *, clearance: Mm, min_piece: Mm, gap: Mm
) -> list[tuple[float, float, int]]:
    """Where joints may stand: first place, last place, and the number of bends before, for each straight that
    has room.

    bends: begin and finish of each along the run, mm.  developed: length of the whole run.  The joint's gap
    lies on the straight too, at least `clearance` from the bends; the sticks at the run's ends are
    `min_piece` long at least.
    """
    found = []
    low: float = min_piece
    for number in range(len(bends) + 1):
        last = number == len(bends)
        high = (developed - min_piece if last else bends[number][0] - clearance) - gap
        if number:
            low = max(bends[number - 1][1] + clearance, min_piece)
        high = min(high, developed - min_piece - gap)
        if high >= low - SLACK:
            found.append((min(low, high), high, number))
    return found


def split(
    bends: Sequence[tuple[Mm, Mm]],
    developed: Mm,
    *,
    stock: Mm,
    clearance: Mm,
    min_piece: Mm,
    gap: Mm,
    wheres: Sequence[str],
) -> list[Mm]:
    """Where the sticks end, mm along the run, the last one's end left out; empty if the run fits in one
    length.

    bends: begin and finish of each along the run.  wheres: the place in the spec of each bend, for problems.
    Raises NoJoint when no set of joints keeps every stick within stock.
    Exact: some best set has each of its joints at the last place of a straight, or a chain of whole lengths
    (or one of the shortest stick) away from such a place or from an end of the run; these candidates are
    searched.
    """
    if developed <= stock + SLACK:
        return []
    straights = windows(bends, developed, clearance=clearance, min_piece=min_piece, gap=gap)
    places = _candidates(straights, developed, stock, min_piece=min_piece, gap=gap)
    chosen = _cheapest(places, developed, stock, min_piece=min_piece, gap=gap)
    if chosen is None:
        raise _no_joint(
            bends, developed, stock=stock, clearance=clearance, min_piece=min_piece, gap=gap, wheres=wheres
        )
    return chosen


def _candidates(
    straights: Sequence[tuple[float, float, int]],
    developed: float,
    stock: float,
    *,
    min_piece: float,
    gap: float,
) -> list[float]:
    """Places worth a joint, in order: the last of each straight, the farthest a row of sticks can reach, and
    chains of whole lengths from these and from the run's ends, each also a shortest stick earlier."""
    lows = [low for low, _, _ in straights]

    def stands(place: float) -> bool:
        index = bisect_left(lows, place + SLACK) - 1
        return index >= 0 and place <= straights[index][1] + SLACK

    whole, short = stock + gap, min_piece + gap
    lasts = [high for _, high, _ in straights]
    found = set(_farthest(straights, stock, gap))
    most = _PLACES + _PLACES_A_STRAIGHT * len(straights) + int(_PLACES_A_STICK * developed / whole)

    def chain(front: list[float], step: float) -> list[float]:
        """What whole lengths reach from these places, all chains a link longer at a time."""
        reached: list[float] = []
        while front and len(found) < most:
            front = [place + step for place in front if stands(place + step)]
            reached += front
            found.update(front)
        return reached

    front = [place for place in (*lasts, stock, developed - whole) if stands(place)]
    found.update(front)
    front = [*front, *chain(front, whole), *chain(front, -whole)]
    # A joint may also be stopped by a shortest stick after it. Two of those in a row are one stick, if they
    # fit in stock.
    twice = 2.0 * short - gap > stock - SLACK
    while front and short > SLACK and len(found) < most:
        fresh = [place - short for place in front if stands(place - short)]
        fresh = [place for place in dict.fromkeys(fresh) if place not in found]
        found.update(fresh)
        reached = chain(fresh, -whole)
        front = fresh + reached if twice else reached
    places = sorted(found)
    # Chains that meet again differ by rounding; the later one stands for both.
    return [here for here, after in pairwise(places) if after - here > SLACK] + places[-1:]


def _farthest(straights: Sequence[tuple[float, float, int]], stock: float, gap: float) -> Iterator[float]:
    """Joints as far on as each stick reaches: with it alone the fewest sticks are found, but for the shortest
    stick."""
    lows = [low for low, _, _ in straights]
    place, before = stock, 0.0
    while straights and place > before + SLACK:
        index = bisect_left(lows, place + SLACK) - 1
        if index < 0:
            return
        here = min(place, straights[index][1])
        if here <= before + SLACK:
            return
        yield here
        before, place = here, here + gap + stock


def _cheapest(
    places: list[float], developed: float, stock: float, *, min_piece: float, gap: float
) -> list[Mm] | None:
    """The best joints out of the candidates, by dynamic programming from the finish; None if there are none.

    A stick's next joint lies in a window that slides toward the start as the stick's own start does, so the
    best one is kept in a queue of falling cost: each candidate enters and leaves once.
    """
    count = len(places)
    best: list[_Cost | None] = [None] * (count + 1)
    choice: list[int | None] = [None] * (count + 1)  # index of the next joint; count: the finish
    ready: deque[int] = deque()
    entered = count
    for index in range(count - 1, -2, -1):
        start = places[index] + gap if index >= 0 else 0.0
        while entered > 0 and places[entered - 1] >= start + min_piece - SLACK and entered - 1 > index:
            entered -= 1
            cost = best[entered]
            if cost is None:
                continue
            while ready and _of(best, ready[-1]) > cost:
                ready.pop()
            ready.append(entered)
        while ready and places[ready[0]] > start + stock - SLACK:
            ready.popleft()
        options: list[tuple[_Cost, float, int]] = []
        if ready:
            sticks, cuts = _of(best, ready[0])
            options.append(((sticks + 1, cuts + 1), -places[ready[0]], ready[0]))
        whole = bisect_left(places, start + stock - SLACK)
        if (
            whole < count
            and whole > index
            and places[whole] <= start + stock + SLACK
            and best[whole] is not None
        ):
            sticks, cuts = _of(best, whole)
            options.append(((sticks + 1, cuts), -places[whole], whole))
        rest = developed - start
        if min_piece - SLACK <= rest <= stock + SLACK:
            options.append(((1, int(rest < stock - SLACK)), -developed, count))
        if options:
            cost, _, best_next = min(options)
            best[index], choice[index] = cost, best_next  # index -1, the start, is the list's last entry
    if best[-1] is None:
        return None
    joints: list[Mm] = []
    following = choice[-1]
    while following is not None and following != count:
        joints.append(Mm(places[following]))
        following = choice[following]
    return joints


def _of(best: Sequence[_Cost | None], index: int) -> _Cost:
    cost = best[index]
    assert cost is not None  # noqa: S101 - only candidates with a cost are queued
    return cost


def _no_joint(
    bends: Sequence[tuple[Mm, Mm]],
    developed: Mm,
    *,
    stock: Mm,
    clearance: Mm,
    min_piece: Mm,
    gap: Mm,
    wheres: Sequence[str],
) -> NoJoint:
    """Tells the first stretch longer than stock without room for a joint, or what else is in the way."""
    figures = {"stock_mm": stock, "developed_mm": developed}

    def stretch(least: Mm, between: Mm) -> tuple[float, float, int, int] | None:
        straights = windows(bends, developed, clearance=clearance, min_piece=least, gap=between)
        return _first_stretch(straights, len(bends), developed, stock=stock, gap=between)

    found = stretch(min_piece, gap)
    if found is not None and stretch(Mm(0.0), Mm(0.0)) is not None:
        low, high, first, last = found
        which = f"bend {first}" if first == last else f"bends {first} to {last}"
        return NoJoint(
            wheres[first - 1],
            f"from {tape.fine(Mm(low))} to {tape.fine(Mm(high))} along the run no straight has room for a "
            f"joint: {which} would stand on one stick of {tape.fine(Mm(high - low), up=True)}, and stock is "
            f"{tape.fine(stock)}. Make room for a joint on a straight of it, or ask for a smaller clearance",
            first_bend=first,
            last_bend=last,
            stretch_mm=high - low,
            over_mm=high - low - stock,
            **figures,
        )
    if stretch(Mm(0.0), gap) is not None:
        text = f"is {tape.fine(gap)}, which leaves no set of joints; a smaller one does"
        return NoJoint("joints.gap", text, **figures)
    return NoJoint(
        "joints.min_piece",
        f"leaves no set of joints for a run of {tape.fine(developed)} in lengths of {tape.fine(stock)}; "
        "a smaller one does",
        **figures,
    )


def _first_stretch(
    straights: Sequence[tuple[float, float, int]], bends: int, developed: float, *, stock: float, gap: float
) -> tuple[float, float, int, int] | None:
    """The first stretch between two places for a joint that is longer than stock.

    Its ends, mm along the run, and the numbers of its first and last bend; None if there is none.
    """
    reached, bend = 0.0, 0
    for low, high, before in [*straights, (developed, developed, bends)]:
        if low - reached > stock + SLACK and before > bend:
            return reached, low, bend + 1, before
        reached, bend = high + gap, before
    return None
