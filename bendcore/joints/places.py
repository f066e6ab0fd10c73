"""Places worth a joint."""

import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from enum import Enum
from itertools import pairwise
from typing import Final, Literal

from bendcore.joints.making import FINE_A_METRE, Form, Making, weight, whole
from bendcore.joints.straights import Straight, Stretch
from bendcore.joints.values import SLACK, Window

_NEVER: Final = 1 << 30
"""More offcuts than there are."""


class _Toward(Enum):
    """Which way a chain of sticks runs from an edge or an end: on, on to a joint drawn back, or back."""

    ON = "on"
    DRAWN = "drawn"
    BACK = "back"


_Short = tuple[int, bool] | None
"""The last stick of a chain, where it is a shortest one: the form of joint before it, whether it is bent."""


@dataclass(frozen=True, slots=True)
class _Link:
    """A place that a chain has reached, mm; the number of bends before it; the form of joint there; what is
    left of the offcuts, each told as two: it can stand beside two other sticks."""

    place: float
    number: int
    form: int
    offcuts: int
    short: _Short = None


class Chains:
    """Places worth a joint: edges of windows, and chains of sticks from these and from the stretch's ends.

    Forms that differ in the side of the long thread alone are one here.
    """

    def __init__(self, stretch: Stretch, making: Making) -> None:
        self.stretch, self.making = stretch, making
        self.forms = [form for form in making.forms if form.long_thread != "after"]
        self.lows = [straight.low for straight in stretch.straights]
        self.windows = [[self._window(form, each) for each in stretch.straights] for form in self.forms]
        ends = (*self.forms, None)
        self.may_stand = [
            [[making.may_stand(form, following, bent=bent) for bent in (False, True)] for following in ends]
            for form in ends
        ]
        at_will = {way.length for way in making.ways if way.whole and way.counted is None}
        counted = {way.length for way in making.ways if way.whole} - at_will
        least = making.how.min_piece
        self.whole = [
            (each, 0 if each in at_will else 2)
            for each in sorted(at_will | counted, reverse=True)
            if each >= least - SLACK
        ]
        self.offcuts = 2 * sum(making.counts)
        self.beside_offcut = int(not any(way.offcut and way.counted is None for way in making.ways))
        self.two_are_one = self._two_are_one()
        self.alike = making.how.long_thread <= 0.0 and making.how.closing_gap == making.how.gap
        self.found: dict[int, float] = {}
        self.seen: dict[tuple[_Toward, int, int, _Short], int] = {}

    def search(self, most: int) -> tuple[list[float], bool]:
        """Places in order, about `most` of them at the most, and whether these are all."""
        end, last, developed = len(self.forms), len(self.stretch.bends), self.stretch.developed
        first, drawn = list(self._edges(1, self.offcuts)), max(self.offcuts - 2 * self.beside_offcut, 0)
        start, finish = _Link(0.0, 0, end, self.offcuts), _Link(developed, last, end, self.offcuts)
        fronts = {
            _Toward.ON: [*first, *self._next(_Toward.ON, start)],
            _Toward.BACK: [*first, *self._next(_Toward.BACK, finish)],
        }
        if self.making.pulls:
            lows = list(self._edges(0, drawn))
            fronts[_Toward.DRAWN] = [*lows, *self._next(_Toward.DRAWN, replace(start, offcuts=drawn))]
            fronts[_Toward.BACK] += lows
        fresh = {toward: self._fresh(toward, links) for toward, links in fronts.items()}
        while any(fresh.values()):
            if len(self.found) >= most:
                return merged(self.found.values()), False
            fresh = {
                toward: self._fresh(
                    toward, (each for link in links for each in self._next(toward, link)), most
                )
                for toward, links in fresh.items()
            }
        return merged(self.found.values()), True

    def _window(self, form: Form, straight: Straight) -> Window:
        """Where a joint stands with its long thread on either side."""
        low, high = self.stretch.window(form, straight)
        if form.long_thread is not None:
            other = self.stretch.window(replace(form, long_thread="after"), straight)
            if other[1] >= other[0] - SLACK:
                return other[0], high if high >= low - SLACK else other[1]
        return low, high

    def _edges(self, which: Literal[0, 1], offcuts: int) -> Iterator[_Link]:
        """First or last places of all windows."""
        for form in self.making.forms:
            number = self.forms.index(
                form if form.long_thread is None else replace(form, long_thread="before")
            )
            for straight in self.stretch.straights:
                window = self.stretch.window(form, straight)
                if window[1] >= window[0] - SLACK:
                    yield _Link(window[which], straight.number, number, offcuts)

    def _next(self, toward: _Toward, link: _Link) -> Iterator[_Link]:
        """A stick farther: a whole one, or a shortest one where that can keep a joint from its best place.

        A joint stands as far on as it can: a shortest stick before it stops nothing, one after it does; where
        it is drawn back it is the other way about.
        """
        back, least = toward is _Toward.BACK, self.making.how.min_piece
        for form, joint in enumerate(self.forms):
            gap = joint.gap if back else self.forms[link.form].gap if link.form < len(self.forms) else 0.0
            for length, offcuts in self.whole:
                place = link.place - gap - length if back else link.place + gap + length
                number = self._number(back, link, form, place)
                if number is not None and offcuts <= link.offcuts:
                    yield _Link(place, number, form, link.offcuts - offcuts)
            if toward is not _Toward.ON:
                place = link.place - gap - least if back else link.place + gap + least
                number = self._number(back, link, form, place)
                if number is not None:
                    bent = number != link.number
                    offcuts = self._beside(back, link, form, bent=bent)
                    if offcuts <= link.offcuts:
                        short = (link.form, bent) if self.two_are_one else None
                        yield _Link(place, number, form, link.offcuts - offcuts, short)

    def _number(self, back: bool, link: _Link, form: int, place: float) -> int | None:
        """The number of bends before a place, where a joint of the form has room and the order of fitting has
        it."""
        index = bisect_right(self.lows, place + SLACK) - 1
        if index < 0:
            return None
        low, high = self.windows[form][index]
        if not low - SLACK <= place <= high + SLACK:
            return None
        number = self.stretch.straights[index].number
        first, second = (form, link.form) if back else (link.form, form)
        return number if self.may_stand[first][second][number != link.number] else None

    def _beside(self, back: bool, link: _Link, form: int, *, bent: bool) -> int:
        """What a shortest stick after another asks of the offcuts: where the two could be one stick as
        bought, one of them must be an offcut."""
        if link.short is None:
            return 0
        beyond, bent_before = link.short
        first, second = (form, beyond) if back else (beyond, form)
        if not self.alike and not self.may_stand[first][second][bent or bent_before]:
            return 0
        return self.beside_offcut if self.making.pulls else _NEVER

    def _fresh(self, toward: _Toward, links: Iterable[_Link], most: float = math.inf) -> list[_Link]:
        """The links that were not seen before, nor with more offcuts left; while there is room for places."""
        fresh = []
        for link in links:
            place = round(link.place / SLACK)
            name = toward, place, link.form, link.short
            if self.seen.get(name, -1) < link.offcuts:
                self.seen[name] = link.offcuts
                self.found.setdefault(place, link.place)
                fresh.append(link)
                if len(self.found) >= most:
                    break
        return fresh

    def _two_are_one(self) -> bool:
        """Whether two shortest sticks in a row, cut from lengths as bought, are one for no more."""
        making = self.making
        cut = [way for way in making.ways if not way.whole]
        left = max((way.left for way in cut), default=0) if making.costs.thread > 0.0 else 0
        size = 2.0 * making.how.min_piece + max(form.gap for form in self.forms)
        fits = any(not way.offcut and way.left >= left and way.length >= size - SLACK for way in cut)
        spares = weight(whole(making.costs.stick) * FINE_A_METRE)
        return fits and spares + min(making.joint_weight(form) for form in self.forms) >= 0


def merged(places: Iterable[float]) -> list[float]:
    """In order; of chains that meet again and differ by rounding the later place stands for both."""
    row = sorted(places)
    return [here for here, after in pairwise(row) if after - here > SLACK] + row[-1:]
