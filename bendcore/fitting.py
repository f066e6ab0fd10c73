"""How the sticks of a run go together on site: in which order, joined by what, with which threads.

A run is parted into stretches by its fittings. Each stretch is split into sticks on its own; the order of
fitting runs through all of them (docs/method/fitting.md).
"""

import itertools
import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from bendcore.ends import Thread, needs_thread
from bendcore.errors import NoJoint
from bendcore.joints import Blank, JointKind, Split, Splitting, split
from bendcore.route import Corner, Route
from bendcore.spec import FitFrom, Joining, JointsAsked, RulePack, RunSpec, StockAsked
from bendcore.units import Mm
from bendcore.words import Finding, Level


@dataclass(frozen=True, slots=True)
class Stretch:
    """The conduit from one end of the run, or a fitting, to the next.

    begin, finish: mm along the run.  first, last: indices of its bends among the route's corners, last
    excluded.  after: the fitting at its finish; None at the run's.
    """

    begin: Mm
    finish: Mm
    first: int
    last: int
    after: Corner | None

    @property
    def length(self) -> Mm:
        """Conduit in it, the gaps of its joints counted, mm."""
        return Mm(self.finish - self.begin)


@dataclass(frozen=True, slots=True)
class Laid:
    """A stretch split into sticks; None where nobody asked for joints, and it is one stick however long."""

    stretch: Stretch
    split: Split | None
    fit_from: FitFrom

    @property
    def sticks(self) -> int:
        """How many sticks it comes to."""
        return 1 if self.split is None else self.split.sticks

    @property
    def from_start(self) -> int:
        """How many of its sticks are fitted from the start; the rest from the finish."""
        if self.fit_from is FitFrom.BOTH and self.split is not None and self.split.meeting is not None:
            return self.split.meeting + 1
        return 0 if self.fit_from is FitFrom.FINISH else self.sticks


def stretches(route: Route, spans: Sequence[tuple[Mm, Mm]], developed: Mm) -> list[Stretch]:
    """The run parted at its fittings.

    spans: begin and finish of each corner along the run, mm (of a fitting: the ends of the sticks beside it).
    """
    found: list[Stretch] = []
    begin, first = Mm(0.0), 0
    for index, corner in enumerate(route.corners):
        if corner.fitting is not None:
            found.append(Stretch(begin, spans[index][0], first, index, corner))
            begin, first = spans[index][1], index + 1
    found.append(Stretch(begin, developed, first, len(route.corners), None))
    return found


def lay(
    asked: RunSpec, parts: Sequence[Stretch], spans: Sequence[tuple[Mm, Mm]], wheres: Sequence[str]
) -> list[Laid]:
    """Splits every stretch at least cost for the order of fitting asked.

    spans, wheres: of each corner of the route.
    Fitted from both ends, the run closes in the stretch where that costs least; those before it are fitted
    from the start, those after it from the finish. Offcuts are shared out at least cost, or stretch by
    stretch where there are too many ways to; that is told by `Split.searched`.
    Raises NoJoint, or OutOfRange for a stock of too many offcuts.
    """
    if asked.joints == "none":
        return [Laid(part, None, asked.fit_from) for part in parts]
    ways = [[asked.fit_from] * len(parts)]
    if asked.fit_from is FitFrom.BOTH:
        ways = [
            [FitFrom.START] * closing + [FitFrom.BOTH] + [FitFrom.FINISH] * (len(parts) - closing - 1)
            for closing in range(len(parts))
        ]
    best: list[Laid] | None = None
    problem: NoJoint | None = None
    for way in ways:
        try:
            laid = _laid(asked, parts, spans, wheres, way)
        except NoJoint as told:
            problem = problem or told
            continue
        if best is None or _price(laid) < _price(best):
            best = laid
    if best is None:
        assert problem is not None  # noqa: S101 - every way was refused
        raise problem
    return best


def _laid(
    asked: RunSpec,
    parts: Sequence[Stretch],
    spans: Sequence[tuple[Mm, Mm]],
    wheres: Sequence[str],
    way: Sequence[FitFrom],
) -> list[Laid]:
    """Every stretch split, each from the end that `way` says."""

    def done(index: int, lengths: tuple[StockAsked, ...]) -> Split:
        part = parts[index]
        how = replace(
            _splitting(asked, way[index], lengths, first=index == 0, last=index == len(parts) - 1),
            begin=part.begin,
            bends_before=part.first - index,
        )
        bends = [
            (Mm(begin - part.begin), Mm(finish - part.begin))
            for begin, finish in spans[part.first : part.last]
        ]
        return split(bends, part.length, how=how, wheres=wheres[part.first : part.last])

    lengths = asked.conduit.lengths
    offcuts = [each for each in lengths if each.count is not None]
    if len(parts) == 1 or not offcuts:
        splits = [done(index, lengths) for index in range(len(parts))]
    elif len(parts) * math.prod(1 + (each.count or 0) for each in offcuts) <= _MOST_SHARES:
        splits = _shared_out(len(parts), lengths, done)
    else:  # too many ways to share the offcuts out: stretch by stretch, and said
        splits = []
        for index in range(len(parts)):
            one = done(index, lengths)
            lengths = left_of(lengths, one.blanks, threaded=asked.conduit.joining is Joining.THREADED)
            splits.append(replace(one, searched=False))
    return [Laid(*each) for each in zip(parts, splits, way, strict=True)]


_MOST_SHARES: Final = 96
"""Stretches times shares of the offcuts: so many splits are made at the most to share offcuts out exactly."""

_Share = tuple[int, ...]
"""How many of each offcut a stretch may use, in the order of the stock."""


def _shared_out(
    count: int, lengths: tuple[StockAsked, ...], done: Callable[[int, tuple[StockAsked, ...]], Split]
) -> list[Split]:
    """The splits of stretches that cost least together, over every way to share the offcuts out among them.

    done: splits one stretch (from 0) out of these lengths.
    Raises NoJoint where no way leaves each stretch enough.
    """
    counts = tuple(each.count for each in lengths if each.count is not None)
    shares = list(itertools.product(*(range(each + 1) for each in counts)))
    # By what the stretches so far have used: what they cost, and their splits.
    best: dict[_Share, tuple[tuple[float, int, int], list[Split]]] = {(0,) * len(counts): ((0.0, 0, 0), [])}
    for index in range(count):
        options: dict[_Share, Split] = {}
        problem: NoJoint | None = None
        for share in shares:
            there = _only(lengths, share)
            if not there:
                continue
            try:
                options[share] = done(index, there)
            except NoJoint as told:
                problem = told
        following: dict[_Share, tuple[tuple[float, int, int], list[Split]]] = {}
        for used, (price, splits) in best.items():
            for share, one in options.items():
                both = tuple(a + b for a, b in zip(used, share, strict=True))
                if any(a > b for a, b in zip(both, counts, strict=True)):
                    continue
                total = (
                    round(price[0] + (one.cost or 0.0), 6),
                    price[1] + one.sticks,
                    price[2] + one.cuts,
                )
                if both not in following or total < following[both][0]:
                    following[both] = (total, [*splits, one])
        if not following:
            if problem is not None and not options:
                raise problem
            raise NoJoint(
                "conduit.stock",
                "has not enough offcuts for every part of the run between its fittings; more of them do, or "
                "a length bought at will",
            )
        best = following
    return min(best.values(), key=lambda each: each[0])[1]


def _only(lengths: tuple[StockAsked, ...], share: _Share) -> tuple[StockAsked, ...]:
    """The stock with so many of its offcuts."""
    each_share = iter(share)
    kept = ((each, None if each.count is None else next(each_share)) for each in lengths)
    return tuple(replace(each, count=count) for each, count in kept if count != 0)


def _price(laid: Sequence[Laid]) -> tuple[bool, float, int, int]:
    """What a way of laying costs, to be compared: one that finds no joint to close at comes last."""
    splits = [each.split for each in laid if each.split is not None]
    return (
        not any(each.split is not None and each.split.meeting is not None for each in laid),
        round(sum(each.cost or 0.0 for each in splits), 6),
        sum(each.sticks for each in splits),
        sum(each.cuts for each in splits),
    )


def _splitting(
    asked: RunSpec, fit_from: FitFrom, lengths: tuple[StockAsked, ...], *, first: bool, last: bool
) -> Splitting:
    joints = asked.joints
    assert isinstance(joints, JointsAsked)  # noqa: S101 - `lay` has parted "none" off
    closing = closing_kind(asked.rules)
    union = closing is JointKind.UNION
    threaded = asked.conduit.joining is Joining.THREADED
    return Splitting(
        lengths=lengths,
        threaded=threaded,
        clearance=joints.clearance,
        min_piece=joints.min_piece,
        gap=joints.gap,
        costs=joints.costs,
        long_thread=Mm(0.0) if union or joints.long_thread is None else joints.long_thread,
        closing=closing,
        closing_gap=joints.gap if not union or joints.union_gap is None else joints.union_gap,
        fit_from=fit_from,
        needs_thread=(
            threaded and (not first or needs_thread(asked.ends.start)),
            threaded and (not last or needs_thread(asked.ends.finish)),
        ),
    )


def left_of(
    lengths: tuple[StockAsked, ...], blanks: Iterable[Blank], *, threaded: bool
) -> tuple[StockAsked, ...]:
    """What is left of the stock once these blanks have been taken."""
    left = list(lengths)
    for blank in blanks:
        if blank.offcut:
            index = next(
                at
                for at, each in enumerate(left)
                if each.count
                and each.length == blank.length
                # plain conduit has no threads, whatever the stock says of its ends
                and (not threaded or each.threaded_ends == blank.threaded_ends)
            )
            kept = left.pop(index)
            if kept.count is not None and kept.count > 1:
                left.insert(index, replace(kept, count=kept.count - 1))
    return tuple(left)


def closing_kind(rules: RulePack | None) -> JointKind:
    """What joins a stick that cannot turn: a running coupler; under us a union.

    Source: NFPA 70 344.42(B) refuses running threads at couplings; the running coupler is common practice in
    Great Britain.
    """
    return JointKind.UNION if rules is RulePack.US else JointKind.RUNNING_COUPLER


def threads(
    laid: Laid, *, at_start: bool, at_finish: bool, threaded: bool
) -> list[tuple[Thread | None, Thread | None]]:
    """The thread at the start and at the finish of each stick of a stretch.

    at_start, at_finish: whether the stretch's own ends want one.  threaded: whether the conduit is joined by
    threads; if not there are none.
    A factory thread stays at the start where that end wants one: marks are measured from there, and the
    other end is the one sawn.
    """
    if not threaded or laid.split is None:
        return [(None, None)] * laid.sticks
    found: list[tuple[Thread | None, Thread | None]] = []
    joints = laid.split.joints
    for index, blank in enumerate(laid.split.blanks):
        before = joints[index - 1] if index else None
        after = joints[index] if index < len(joints) else None
        wants = (at_start if before is None else True, at_finish if after is None else True)
        long = (
            before is not None and before.long_thread == "after",
            after is not None and after.long_thread == "before",
        )
        factory = sum(wants) - blank.threads
        ends: list[Thread | None] = []
        for want, is_long in zip(wants, long, strict=True):
            if not want:
                ends.append(None)
            elif is_long:
                ends.append("long")
            elif factory > 0:
                ends.append("factory")
                factory -= 1
            else:
                ends.append("cut")
        found.append((ends[0], ends[1]))
    return found


def order_of_fitting(laid: Sequence[Laid]) -> list[int]:
    """When each stick of the run is fitted, from 1, told in the order of the sticks along the run.

    Those fitted from the start come first, then those from the finish; the joint between the two closes it.
    """
    from_start = sum(each.from_start for each in laid)
    in_all = sum(each.sticks for each in laid)
    return [*range(1, from_start + 1), *range(in_all, from_start, -1)]


def fitting_findings(asked: RunSpec, laid: Sequence[Laid]) -> list[Finding]:
    """What a person should know before the sticks are cut: joints that close on fixed conduit, and what was
    not told of them."""
    found: list[Finding] = []
    joints = [joint for each in laid if each.split is not None for joint in each.split.joints]
    kind = closing_kind(asked.rules)
    closing = sum(joint.kind is kind for joint in joints)
    meets = sum(each.split is not None and each.split.meeting is not None for each in laid)
    joins = asked.joints
    if closing and isinstance(joins, JointsAsked):
        found.append(
            Finding(
                "closing-joints",
                Level.NOTE,
                "fit_from",
                {
                    "kind": str(kind),
                    "closing": closing,
                    "joints": len(joints),
                    "from": str(asked.fit_from),
                    "meets": meets,
                },
                "NFPA 70 344.42(B)" if kind is JointKind.UNION else "common practice",
            )
        )
        if kind is JointKind.UNION and joins.union_gap is None:
            found.append(
                Finding(
                    "union-gap-untold",
                    Level.WARN,
                    "joints.union_gap",
                    {"counted_mm": joins.gap},
                    "common practice: measured on the union in use, made up",
                )
            )
        if kind is JointKind.RUNNING_COUPLER and joins.long_thread is None:
            found.append(
                Finding(
                    "long-thread-untold",
                    Level.WARN,
                    "joints.long_thread",
                    {"clearance_mm": joins.clearance},
                    "common practice: coupler and locknut in use, side by side",
                )
            )
    if not all(each.split is None or each.split.searched for each in laid):
        found.append(
            Finding("joints-not-searched", Level.NOTE, "joints", {}, "geometry; docs/method/joints.md")
        )
    parted = len(laid) > 1 and asked.fit_from is FitFrom.BOTH
    if parted and not any(each.split is not None and each.split.meeting is not None for each in laid):
        found.append(Finding("no-joint-to-close", Level.WARN, "fit_from", {}, "common practice"))
    return found
