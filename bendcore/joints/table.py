"""The table that finds the least cost."""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from bendcore.joints.making import Form, Making, fine
from bendcore.joints.straights import Straight, Stretch
from bendcore.joints.values import SLACK, Blank, Joint, Split
from bendcore.spec import FitFrom
from bendcore.units import Mm

_BLOCK: Final = 32

_NONE: Final = 1 << 400
"""Above every value."""


class _Least:
    """Whole numbers in a row, and the least in any part of it."""

    __slots__ = ("blocks", "row")

    def __init__(self, size: int) -> None:
        self.row = [_NONE] * size
        self.blocks = [_NONE] * (size // _BLOCK + 1)

    def put(self, index: int, value: int) -> None:
        """Keeps the value there, if it is less than what was."""
        if value < self.row[index]:
            self.row[index] = value
            self.blocks[index // _BLOCK] = min(self.blocks[index // _BLOCK], value)

    def least(self, first: int, end: int) -> int:
        """From first up to end, which is left out; first < end."""
        if end - first <= 3 * _BLOCK:
            return min(self.row[first:end])
        block, last = first // _BLOCK + 1, end // _BLOCK
        return min(
            min(self.row[first : block * _BLOCK]),
            min(self.blocks[block:last]),
            *self.row[last * _BLOCK : end],
        )


@dataclass(frozen=True, slots=True)
class _State:
    """A joint of one form with so much left of the offcuts, and what best follows: the stick's way, the index
    of the place where it ends, and the rank of the state there."""

    form: int
    remainder: int
    way: int
    following: int
    rank: int


@dataclass(frozen=True, slots=True)
class _Move:
    """A stick of one way, with or without bends, to the nearest joint of a group of forms alike to it."""

    way: int
    bent: bool
    group: int
    weight: int
    saving: int


class Table:
    """The best split with its joints at given places, by dynamic programming from the finish.

    A state is a place, the form of the joint there and what is left of the offcuts. Its value is one whole
    number: the weight from there on, then how near the start the next joint stands, then two ranks among the
    states at that place: by the joints that follow it, and by what else tells splits apart. Values add up, so
    the least number in a row is the best next joint. The finish stands behind the places as one of them.
    """

    def __init__(self, stretch: Stretch, making: Making, places: list[float]) -> None:
        self.stretch, self.making = stretch, making
        self.count = len(places)
        self.places = [*places, stretch.developed]
        lows = [straight.low for straight in stretch.straights]
        on = [stretch.straights[bisect_right(lows, place + SLACK) - 1] for place in places]
        self.on = on
        self.numbers = [*(straight.number for straight in on), len(stretch.bends)]
        self.after = making.remainders()
        self.all_left = len(self.after[0]) - 1
        self.remainders = range(self.all_left + 1)
        self.rank_bits = (len(making.forms) * (self.all_left + 1)).bit_length()
        self.shift = 2 * self.rank_bits + (self.count + 1).bit_length()
        self.groups: dict[tuple[bool, bool, bool, bool, bool], int] = {}
        self.group_savings: list[int] = []
        # Forms, then the finish as a form of its own: the groups that each belongs to.
        self.groups_of: list[list[int]] = [[] for _ in (*making.forms, None)]
        self.moves = [self._moves(form) for form in (*making.forms, None)]
        self.rows = [[_Least(self.count + 1) for _ in self.remainders] for _ in self.group_savings]
        self.states: list[list[_State]] = [[] for _ in self.places]
        self.windows = [
            {straight.number: stretch.window(form, straight) for straight in stretch.straights}
            for form in making.forms
        ]
        self.joint_weights = [making.joint_weight(form) for form in making.forms]

    def best(self) -> Split | None:
        """The best split; None where no set of the places makes one."""
        start = finish = len(self.making.forms)
        for group in self.groups_of[finish]:
            for row in self.rows[group]:
                row.put(self.count, -self._saved(group, self.count))
        for index in range(self.count - 1, -1, -1):
            self._enter(index)
        found = self._follow(-1, start, 0.0, [self.all_left], {})
        if not found:
            return None
        value, way, rank, remainder = found[0]
        return self._split(self._state(start, remainder, way, value, rank))

    def _moves(self, form: Form | None) -> list[_Move]:
        """Every stick that may follow a joint of this form, or the start."""
        making = self.making
        moves: dict[tuple[int, bool, int], _Move] = {}
        for number, way in enumerate(making.ways):
            saving = making.saving(way) << self.shift
            for bent in (False, True):
                for index, following in enumerate((*making.forms, None)):
                    if making.may_stand(form, following, bent=bent):
                        group = self._group(index, following, saving)
                        weight = making.stick_weight(way, form, following, bent=bent) << self.shift
                        moves[number, bent, group] = _Move(number, bent, group, weight, saving)
        return list(moves.values())

    def _group(self, index: int, form: Form | None, saving: int) -> int:
        """The group that a form belongs to: those that a stick may end at alike, and at one weight."""
        name = (
            form is None,
            form is not None and form.late,
            form is not None and form.late and form.closes,
            form is not None and form.long_thread == "before" and self.making.costs.thread > 0.0,
            saving > 0,
        )
        group = self.groups.setdefault(name, len(self.groups))
        if group == len(self.group_savings):
            self.group_savings.append(saving)
        if group not in self.groups_of[index]:
            self.groups_of[index].append(group)
        return group

    def _saved(self, group: int, index: int) -> int:
        saving = self.group_savings[group]
        return saving * fine(self.places[index]) if saving else 0

    def _enter(self, index: int) -> None:
        """Finds the states at a place, those behind it being known, and keeps them in order of rank."""
        place, straight = self.places[index], self.on[index]
        live: list[tuple[int, int, int, int, int, int, int]] = []
        spans: dict[float, list[tuple[int, int]]] = {}
        below = (1 << self.shift - self.rank_bits) - 1
        for number, form in enumerate(self.making.forms):
            low, high = self.windows[number][straight.number]
            if low - SLACK <= place <= high + SLACK:
                dislike = self._dislike(form, place, straight)
                for value, way, rank, remainder in self._follow(
                    index, number, place + form.gap, self.remainders, spans
                ):
                    live.append((value & below, dislike, way, rank, number, remainder, value))
        if len(live) > 1:
            live.sort()
        row, before = -1, -1
        for rank, (joints, _, way, next_rank, number, remainder, value) in enumerate(live):
            self.states[index].append(self._state(number, remainder, way, value, next_rank))
            if joints != before:
                row, before = row + 1, joints
            weight = (value >> self.shift - self.rank_bits) + self.joint_weights[number]
            own = ((self.count - index << self.rank_bits) + row << self.rank_bits) + rank
            entered = (weight << self.shift) + own
            for group in self.groups_of[number]:
                self.rows[group][remainder].put(index, entered - self._saved(group, index))

    def _follow(
        self,
        index: int,
        source: int,
        start: float,
        remainders: Sequence[int],
        known: dict[float, list[tuple[int, int]]],
    ) -> list[tuple[int, int, int, int]]:
        """What best follows a joint, or the start (index -1), for each remainder that anything does: the
        value but for the last rank, the way, that rank, the remainder.

        start: where the stick begins, mm.  known: by start, where sticks of each way may end.
        """
        spans = known.get(start)
        if spans is None:
            spans = known[start] = self._spans(index, start)
        straight_ends = bisect_right(self.numbers, self.numbers[index] if index >= 0 else 0)
        moves = []
        for move in self.moves[source]:
            first, end = spans[move.way]
            if move.bent:
                first = max(first, straight_ends)
            else:
                end = min(end, straight_ends)
            if first < end:
                weight = move.weight + (move.saving * fine(start) if move.saving else 0)
                moves.append((self.rows[move.group], self.after[move.way], first, end, weight, move.way))
        bits, last = self.rank_bits, (1 << self.rank_bits) - 1
        found = []
        for remainder in remainders:
            best: tuple[int, int, int] | None = None
            for rows, after, first, end, weight, way in moves:
                left = after[remainder]
                if left is not None:
                    value = rows[left].least(first, end)
                    if value < _NONE >> 1:
                        value += weight
                        option = value >> bits, way, value & last
                        if best is None or option < best:
                            best = option
            if best is not None:
                found.append((*best, remainder))
        return found

    def _spans(self, index: int, start: float) -> list[tuple[int, int]]:
        """For each way, the first place where a stick from here may end, and the first beyond."""
        places = self.places
        least = min(self.making.how.min_piece, self.stretch.developed)
        near = bisect_left(places, start + least - SLACK, index + 1)
        spans = []
        for way in self.making.ways:
            full = bisect_left(places, start + way.length - SLACK, near)
            if way.whole:
                spans.append((full, bisect_right(places, start + way.length + SLACK, full)))
            else:
                spans.append((near, full))
        return spans

    def _dislike(self, form: Form, place: float, straight: Straight) -> int:
        """Of forms that cost the same, the less is taken: the fitting meets early, and a long thread is cut
        where more straight lies behind the joint, or else on the stick fitted earlier."""
        dislike = 0 if form.late else 2
        if form.long_thread is None:
            return dislike
        before, after = self.stretch.behind(place, form.gap, straight)
        if abs(before - after) <= SLACK:
            better = "after" if form.late else "before"
        else:
            better = "before" if before > after else "after"
        return dislike + int(form.long_thread != better)

    def _state(self, form: int, remainder: int, way: int, value: int, rank: int) -> _State:
        nearness = value >> self.rank_bits & (1 << self.shift - 2 * self.rank_bits) - 1
        return _State(form, remainder, way, self.count - nearness, rank)

    def _split(self, state: _State) -> Split:
        """The split that begins with a state at the start."""
        making, forms = self.making, (*self.making.forms, None)
        joints: list[Joint] = []
        blanks: list[Blank] = []
        meeting: int | None = None
        bought, bent_sticks = [], 0
        start, number, before = 0.0, 0, forms[state.form]
        while True:
            index = state.following
            at = self.places[index]
            here = self.states[index][state.rank] if index < self.count else None
            form = forms[here.form] if here is not None else None
            blanks.append(making.blank(making.ways[state.way], at - start, before, form))
            if not blanks[-1].offcut:
                bought.append(at - start)
            bent_sticks += self.numbers[index] > number
            if here is None or form is None:
                break
            joints.append(Joint(Mm(at), form.kind, Mm(form.gap), form.long_thread))
            if meeting is None and form.late and making.how.fit_from is FitFrom.BOTH:
                meeting = len(joints) - 1
            start, number, before, state = at + form.gap, self.numbers[index], form, here
        cost = None
        if making.how.costs is not None:
            cost = making.cost(joints, blanks, bought=Mm(math.fsum(bought)), bent=bent_sticks)
        return Split(tuple(joints), tuple(blanks), cost, meeting)
