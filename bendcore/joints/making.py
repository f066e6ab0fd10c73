"""What joints and sticks of a stretch can be made of, and what each weighs in the search."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from bendcore.errors import OutOfRange
from bendcore.joints.values import SLACK, Blank, Joint, JointKind, Side, Splitting
from bendcore.spec import CostsAsked, FitFrom
from bendcore.units import Mm

MOST_REMAINDERS: Final = 256
"""What can be left of a run's offcuts, told apart in the search: the product of (count + 1) over them."""

_REMAINDERS_BY_STRAIGHTS: Final = 8192
"""On a stretch of many straights fewer are told apart: at most so many by its number of straights."""

_COST_UNIT: Final = 1e-6
"""Costs are reckoned in whole units of this, so that equal ones tie whatever the order of adding."""

_FINE: Final = 1e-6
"""mm. What a metre of conduit saves is reckoned in whole units of this."""

FINE_A_METRE: Final = 10**9

_COUNTS: Final = 20
"""Bits for the number of sticks, and of cuts, behind the cost."""


@dataclass(frozen=True, slots=True)
class Form:
    """One form that a joint can take. late: in the part of the stretch that is fitted from the finish; the
    joint where the two parts meet counts to it."""

    kind: JointKind
    gap: float
    long_thread: Side | None
    late: bool

    @property
    def closes(self) -> bool:
        """Whether it joins a stick that cannot turn."""
        return self.kind is not JointKind.COUPLER


@dataclass(frozen=True, slots=True)
class Way:
    """One way to come by a stick: from a blank of this length, whole or cut. ends: the blank's factory
    threads, 0 in plain conduit.  counted: which of the counted offcuts it is, None if there are as many as
    can be used."""

    length: float
    whole: bool
    ends: int
    offcut: bool
    counted: int | None

    @property
    def left(self) -> int:
        """The factory threads on the stick: a cut takes one off."""
        return self.ends if self.whole else min(self.ends, 1)


def whole(cost: float) -> int:
    """A cost in whole _COST_UNIT."""
    return round(cost / _COST_UNIT)


def weight(cost: int, sticks: int = 0, cuts: int = 0) -> int:
    """What splits are compared by, as one whole number that adds up: cost, in _COST_UNIT / FINE_A_METRE,
    then sticks, then cuts."""
    return (cost << 2 * _COUNTS) + (sticks << _COUNTS) + cuts


def fine(length: float) -> int:
    """A length, mm, in whole _FINE."""
    return round(length / _FINE)


@dataclass(frozen=True, slots=True)
class Making:
    """How joints and sticks of a stretch can be made, and what each weighs.

    Conduit as bought is paid for by the metre, all but what joints and offcuts save; so the sum over the
    stretch is left out, and these weigh less by it. That keeps equal costs equal: nothing is added up along
    the stretch.
    """

    how: Splitting
    forms: tuple[Form, ...]
    ways: tuple[Way, ...]
    counts: tuple[int, ...]
    bought: tuple[Way, ...]
    costs: CostsAsked

    @classmethod
    def of(cls, bends: Sequence[tuple[Mm, Mm]], developed: Mm, how: Splitting) -> "Making":
        """Raises OutOfRange when there are more offcuts than can be searched."""
        costs = how.costs or CostsAsked()
        ways, counts = _ways(developed, how, costs)
        in_all = math.prod(count + 1 for count in counts)
        most = min(MOST_REMAINDERS, _REMAINDERS_BY_STRAIGHTS // (len(bends) + 1))
        if in_all > max(most, 1):
            raise OutOfRange(
                "conduit.stock",
                f"leaves {in_all} remainders of its offcuts (count + 1 of each length, multiplied); at most "
                f"{most} are searched on a run of {len(bends)} bends: list fewer offcuts, or smaller counts, "
                "for this run",
                remainders=in_all,
                at_most=most,
            )
        return cls(how, _forms(how), ways, counts, tuple(_stock(how)[0]), costs)

    @property
    def pulls(self) -> bool:
        """Whether the place of a joint counts for the cost: an offcut saves more the longer its stick is."""
        return self.costs.metre > 0.0 and any(way.offcut for way in self.ways)

    def may_stand(self, form: Form | None, following: Form | None, *, bent: bool) -> bool:
        """Whether a stick may stand between joints of these forms (None: an end of the stretch). bent: it has
        bends.

        What is fitted from the start closes before a stick with bends, what is fitted from the finish after
        one; where the two meet, neither side can turn.
        """
        if not self.how.threaded:
            return True
        early = form is None or not form.late
        if form is not None and early and form.closes != bent:
            return False
        both = self.how.fit_from is FitFrom.BOTH
        if following is None:
            return form is None or not both or form.late
        if not following.late:
            return early
        meets = both and early
        return following.closes if meets else following.closes == bent

    def threads(self, left: int, form: Form | None, following: Form | None) -> int:
        """Threads to be cut on a stick between two joints that has `left` of the factory's.

        A long thread is always cut: a factory thread is too short for it.
        """
        if not self.how.threaded:
            return 0
        start, finish = self.how.needs_thread
        needed = int(start or form is not None) + int(finish or following is not None)
        long = int(form is not None and form.long_thread == "after")
        long += int(following is not None and following.long_thread == "before")
        return needed - min(left, needed - long)

    def of_joint(self, kind: JointKind) -> float:
        """What a joint of this kind costs."""
        match kind:
            case JointKind.COUPLER:
                return self.costs.coupler
            case JointKind.RUNNING_COUPLER:
                return self.costs.running_coupler
            case JointKind.UNION:
                return self.costs.union

    def joint_weight(self, form: Form) -> int:
        """Of a joint, less the conduit that its gap saves."""
        return weight(
            whole(self.of_joint(form.kind)) * FINE_A_METRE - whole(self.costs.metre) * fine(form.gap)
        )

    def stick_weight(self, way: Way, form: Form | None, following: Form | None, *, bent: bool) -> int:
        """Of a stick, less what a whole offcut saves."""
        costs = self.costs
        cost = whole(costs.stick) + whole(costs.thread) * self.threads(way.left, form, following)
        cost += whole(costs.cut) * (not way.whole) + whole(costs.handling) * bent
        saved = whole(costs.metre) * fine(way.length) if way.whole and way.offcut else 0
        return weight(cost * FINE_A_METRE - saved, 1, int(not way.whole))

    def saving(self, way: Way) -> int:
        """What each _FINE of a stick weighs less where the stick's length counts: cut from an offcut."""
        return weight(whole(self.costs.metre)) if way.offcut and not way.whole else 0

    def remainders(self) -> list[list[int | None]]:
        """By way, then by what is left of the counted offcuts (a number; all of them is the last): what is
        left after a stick of that way, None if it cannot be made."""
        strides, in_all = [], 1
        for count in self.counts:
            strides.append(in_all)
            in_all *= count + 1
        table: list[list[int | None]] = []
        for way in self.ways:
            if way.counted is None:
                table.append(list(range(in_all)))
                continue
            stride, count = strides[way.counted], self.counts[way.counted]
            table.append([left - stride if left // stride % (count + 1) else None for left in range(in_all)])
        return table

    def cost(self, joints: Sequence[Joint], blanks: Sequence[Blank], *, bought: Mm, bent: int) -> float:
        """Of a split. bought: sticks from lengths as bought, all together, mm.  bent: sticks with bends."""
        costs = self.costs
        return math.fsum(
            [
                costs.stick * len(blanks),
                costs.metre * bought / 1000.0,
                *(costs.cut * blank.cuts + costs.thread * blank.threads for blank in blanks),
                *(self.of_joint(joint.kind) for joint in joints),
                costs.handling * bent,
            ]
        )

    def blank(self, way: Way, length: float, form: Form | None, following: Form | None) -> Blank:
        """What a stick of this length is cut from: of lengths as bought, the shortest that costs the same."""
        threads = self.threads(way.left, form, following)
        if not way.whole and not way.offcut:
            for each in self.bought:
                fewer = self.threads(each.left, form, following)
                if length < each.length - SLACK and (fewer <= threads or self.costs.thread == 0.0):
                    way, threads = each, fewer
                    break
        return Blank(Mm(way.length), way.ends, way.offcut, int(not way.whole), threads)


def _forms(how: Splitting) -> tuple[Form, ...]:
    if not how.threaded:
        return (Form(JointKind.COUPLER, how.gap, None, late=False),)
    running = how.closing is JointKind.RUNNING_COUPLER
    sides: tuple[Side | None, ...] = ("before", "after") if running else (None,)
    parts = {FitFrom.START: (False,), FitFrom.FINISH: (True,), FitFrom.BOTH: (False, True)}[how.fit_from]
    return tuple(
        form
        for late in parts
        for form in (
            Form(JointKind.COUPLER, how.gap, None, late),
            *(Form(how.closing, how.closing_gap, side, late) for side in sides),
        )
    )


def _stock(how: Splitting) -> tuple[list[Way], list[tuple[Way, int]]]:
    """Lengths as bought, and offcuts with how many there are; each as the way to cut from it, the shortest
    first, alike ones once."""
    bought: set[Way] = set()
    offcuts: dict[Way, int] = {}
    for each in how.lengths:
        ends = each.threaded_ends if how.threaded else 0
        way = Way(each.length, False, ends, each.count is not None, None)
        if each.count is None:
            bought.add(way)
        else:
            offcuts[way] = offcuts.get(way, 0) + each.count

    def size(way: Way) -> tuple[float, int]:
        return way.length, way.ends

    return sorted(bought, key=size), sorted(offcuts.items(), key=lambda each: size(each[0]))


def _ways(developed: Mm, how: Splitting, costs: CostsAsked) -> tuple[tuple[Way, ...], tuple[int, ...]]:
    """The ways worth a look, an offcut before a length as bought, then the shorter; and how many there are of
    each counted offcut."""
    least = min(how.min_piece, developed)
    step = least + min(how.gap, how.closing_gap if how.threaded else how.gap)
    most_sticks = (developed + step - least) / step + SLACK if step > SLACK else math.inf
    bought, offcuts = _stock(how)
    ways: list[Way] = []
    counts: list[int] = []
    for way, count in offcuts:
        if way.length >= least - SLACK:
            counted = None
            if count < most_sticks:
                counted = len(counts)
                counts.append(count)
            ways += [replace(way, whole=whole, counted=counted) for whole in (True, False)]
    longest: dict[int, Way] = {}
    for way in bought:
        ways.append(replace(way, whole=True))
        longest[way.left if costs.thread > 0.0 else 0] = way
    if 0 in longest and 1 in longest and longest[0].length <= longest[1].length:
        del longest[0]
    ways += longest.values()
    return tuple(ways), tuple(counts)
