"""Where joints may stand, the fewest sticks and the least cost: solvers of their own, by intervals and on
grids.

Positions are along the developed run, its start allowance included. A joint at x with a gap g: one stick ends
at x, the next starts at x + g, and both ends keep the clearance from their nearest bend.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import astuple, dataclass, replace
from fractions import Fraction
from functools import cache

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


@dataclass(frozen=True)
class Costs:
    """What parts of a split cost; metre: each unit of length from a blank that has no count."""

    stick: Fraction | int = 0
    metre: Fraction | int = 0
    cut: Fraction | int = 0
    thread: Fraction | int = 0
    coupler: Fraction | int = 0
    closing: Fraction | int = 0
    handling: Fraction | int = 0


@dataclass(frozen=True)
class Stretch:
    """A stretch to be split, all lengths in one unit; whole numbers where it is solved on a grid.

    blanks: (length, threaded ends, how many; None: without end).  order: "start", "finish" or "both".
    """

    length: int
    bends: tuple[tuple[int, int], ...]
    blanks: tuple[tuple[int, int, int | None], ...]
    threaded: bool
    clearance: int
    min_piece: int
    gap: int
    closing_gap: int
    running: bool
    long_thread: int
    order: str
    end_threads: tuple[bool, bool]
    costs: Costs

    def bent(self, start: int, end: int) -> bool:
        """Whether a bend lies between these places."""
        return any(start <= begin and finish <= end for begin, finish in self.bends)

    def clear(self, end: int, gap: int, *, before: int, after: int) -> bool:
        """Whether conduit from `before` ahead of a joint to `after` behind its gap is free of bends."""
        return all(finish <= end - before or begin >= end + gap + after for begin, finish in self.bends)

    def threads(self, left: int, start: tuple[bool, bool], finish: tuple[bool, bool]) -> int:
        """Threads to cut on a stick; each end tells whether it is threaded and whether long."""
        if not self.threaded:
            return 0
        ends = [long for threaded, long in (start, finish) if threaded]
        return len(ends) - min(left, ends.count(False))


# cost, sticks, cuts, then the places of the joints as negatives: the least is best.
Answer = tuple[Fraction | int, int, int, tuple[int, ...]]


def least_cost_on_a_grid(asked: Stretch) -> Answer | None:
    """Every joint on every whole place, in every form, every stick from every blank; None if nothing goes."""
    both = asked.order == "both"
    # All costs as whole numbers of one part.
    given = astuple(asked.costs)
    parts = math.lcm(*(cost.denominator for cost in given))
    costs = Costs(*(Fraction(cost * parts).numerator for cost in given))

    def joints_at(end: int, bent: bool, met: bool) -> list[tuple[int, bool, str, bool | None, bool]]:
        """(gap, closing, side of the long thread, whether the next stick must have bends, met) of each joint
        that may stand here after a stick."""
        coupler = (asked.gap, False, "")
        closings = [
            (asked.closing_gap, True, side) for side in (("before", "after") if asked.running else ("",))
        ]
        if not asked.threaded:
            found = [(*coupler, None, met)]
        elif asked.order == "finish" or met:
            found = [(*each, None, met) for each in (closings if bent else [coupler])]
        else:
            found = [(*coupler, False, met), *((*each, True, met) for each in closings)]
            if both:
                found += [(*each, None, True) for each in closings]
        near = asked.clearance
        far = near + asked.long_thread
        return [
            each
            for each in found
            if end + each[0] <= asked.length
            and asked.clear(
                end,
                each[0],
                before=far if each[2] == "before" else near,
                after=far if each[2] == "after" else near,
            )
        ]

    def stick_costs(
        size: int,
        bent: bool,
        start: tuple[bool, bool],
        finish: tuple[bool, bool],
        store: tuple[int | None, ...],
    ) -> list[tuple[Fraction | int, int, tuple[int | None, ...]]]:
        """(cost, cuts, what is left) of each way to make a stick."""
        found = []
        for index, (length, ends, _) in enumerate(asked.blanks):
            left = store[index]
            if length < size or left == 0:
                continue
            cuts = int(length != size)
            kept = ends if cuts == 0 else min(ends, 1)
            cost = costs.stick + cuts * costs.cut + costs.thread * asked.threads(kept, start, finish)
            cost += costs.handling if bent else 0
            cost += costs.metre * size if left is None else 0
            rest = store if left is None else (*store[:index], left - 1, *store[index + 1 :])
            found.append((cost, cuts, rest))
        return found

    @cache
    def best(
        start: int, joint: bool, long: bool, must_bend: bool | None, met: bool, store: tuple[int | None, ...]
    ) -> Answer | None:
        answers: list[Answer] = []
        begins = (joint or asked.end_threads[0], long)
        least = asked.min_piece if joint else 0
        bent = asked.bent(start, asked.length)
        if asked.length - start >= least and must_bend in (None, bent) and (met or not both or not joint):
            answers += [
                (cost, 1, cuts, ())
                for cost, cuts, _ in stick_costs(
                    asked.length - start, bent, begins, (asked.end_threads[1], False), store
                )
            ]
        for end in range(start + asked.min_piece, asked.length):
            bent = asked.bent(start, end)
            if must_bend not in (None, bent):
                continue
            for gap, closing, side, next_bends, next_met in joints_at(end, bent, met):
                for cost, cuts, rest in stick_costs(
                    end - start, bent, begins, (True, side == "before"), store
                ):
                    then = best(end + gap, True, side == "after", next_bends, next_met, rest)
                    if then is not None:
                        cost += then[0] + (costs.closing if closing else costs.coupler)
                        answers.append((cost, 1 + then[1], cuts + then[2], (-end, *then[3])))
        return min(answers, default=None)

    answer = best(0, False, False, None, not asked.threaded, tuple(count for *_, count in asked.blanks))
    if answer is None:
        return None
    return Fraction(answer[0], parts), *answer[1:3], tuple(-end for end in answer[3])


@dataclass(frozen=True)
class Made:
    """A split as an engine tells it, in the unit of the stretch.

    joints: (where the earlier stick ends, closing or not, gap, side of the long thread or "").
    blanks: (length, from the counted ones, cuts, threads) of each stick.
    """

    joints: tuple[tuple[float, bool, float, str], ...]
    blanks: tuple[tuple[float, bool, int, int], ...]
    meeting: int | None

    def sticks(self, length: float) -> list[tuple[float, float]]:
        """Where each begins and ends."""
        begins = [0.0, *(end + gap for end, _, gap, _ in self.joints)]
        return list(zip(begins, [*(end for end, *_ in self.joints), length], strict=True))


def cost_of(asked: Stretch, made: Made) -> Fraction:
    """The costs of a split, added up from its parts."""
    costs = asked.costs
    total = Fraction(0)
    for (start, end), (_, counted, cuts, threads) in zip(made.sticks(asked.length), made.blanks, strict=True):
        total += costs.stick + cuts * costs.cut + threads * costs.thread
        total += 0 if counted else costs.metre * Fraction(end - start)
        total += costs.handling if asked.bent(start, end) else 0
    return total + sum(costs.closing if closing else costs.coupler for _, closing, _, _ in made.joints)


def faults(asked: Stretch, made: Made, *, close: float) -> list[str]:
    """Every rule that a split breaks, in words; lengths may be off by `close`."""
    found = []
    sticks = made.sticks(asked.length)
    bent = [asked.bent(start - close, end + close) for start, end in sticks]
    if any(not any(start <= b + close and f <= end + close for start, end in sticks) for b, f in asked.bends):
        found.append("a bend lies on no stick")
    for number, (end, closing, gap, side) in enumerate(made.joints):
        if asked.order == "start" or (made.meeting is not None and number < made.meeting):
            wanted = bent[number + 1]
        else:
            wanted = bent[number] or number == made.meeting
        if closing != (asked.threaded and wanted):
            found.append(f"joint {number} closes: {closing}")
        if gap != (asked.closing_gap if closing else asked.gap):
            found.append(f"joint {number} has a gap of {gap}")
        if (side in ("before", "after")) != (closing and asked.running):
            found.append(f"joint {number} has its long thread {side}")
        near = asked.clearance - close
        room = {"before": near, "after": near}
        if side:
            room[side] += asked.long_thread
        if not asked.clear(end, gap, **room):
            found.append(f"joint {number} stands at {end}")
    both = asked.threaded and asked.order == "both" and bool(made.joints)
    if (made.meeting is not None) != both:
        found.append(f"fitting meets at {made.meeting}")
    for number, ((start, end), (length, counted, cuts, threads)) in enumerate(
        zip(sticks, made.blanks, strict=True)
    ):
        size = end - start
        if made.joints and size < asked.min_piece - close:
            found.append(f"stick {number} is {size}")
        if size > length + close or cuts != int(size < length - close):
            found.append(f"stick {number}, {size}, has {cuts} cuts off {length}")
        begins = (number > 0 or asked.end_threads[0], number > 0 and made.joints[number - 1][3] == "after")
        ends = (
            number < len(made.joints) or asked.end_threads[1],
            number < len(made.joints) and made.joints[number][3] == "before",
        )
        if not any(
            abs(blank - length) <= close
            and (count is not None) == counted
            and threads == asked.threads(min(on, 1) if cuts else on, begins, ends)
            for blank, on, count in asked.blanks
        ):
            found.append(f"stick {number} is from a blank of {length} with {threads} threads cut")
    for length in {length for length, _, count in asked.blanks if count is not None}:
        used = sum(counted and abs(blank - length) <= close for blank, counted, *_ in made.blanks)
        if used > sum(count for size, _, count in asked.blanks if count is not None and size == length):
            found.append(f"{used} sticks are from {length}")
    return found


def turned_round(asked: Stretch) -> Stretch:
    """The same stretch from its other end."""
    return replace(
        asked,
        bends=tuple((asked.length - finish, asked.length - begin) for begin, finish in reversed(asked.bends)),
        order={"start": "finish", "finish": "start", "both": "both"}[asked.order],
        end_threads=(asked.end_threads[1], asked.end_threads[0]),
    )
