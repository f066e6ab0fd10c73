"""Where clips go: the fewest that keep within a spacing, then evenly placed (docs/method/supports.md)."""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final, Literal

from bendcore import catalogue
from bendcore.rules.facts import SLACK, JointAt, RunFacts, StraightAt, Termination, between, sections
from bendcore.units import Mm
from bendcore.vectors import Vec, dot

_SAME_WAY: Final = 1.0 - 1e-9
"""Cosine from which two straights run on in one line."""

_HALVINGS: Final = 40
"""Of the share of the spacing: 20 m of it are told to a millionth of a mm."""

_BODY_DIAMETERS: Final = 3.0
"""A joint's body in outside diameters, where neither coupler nor thread is known (common practice)."""


@dataclass(frozen=True, slots=True)
class Support:
    """One clip. along: mm along the run.  at: the point of the centreline.  stick: its number, from 1.
    from_: what placed it, `end-distance` or `spacing`."""

    along: Mm
    at: Vec
    stick: int
    from_: str


@dataclass(frozen=True, slots=True)
class Spacing:
    """How far apart clips may stand.

    end: from a box or end to the first clip, mm.  on: the most on one straight, mm.  across: the most where
    a bend lies between, mm; the least `on` of the straights counts there too.
    """

    end: Mm
    on: Callable[[StraightAt], Mm]
    across: Mm


@dataclass(frozen=True, slots=True)
class Missed:
    """Where no clip can stand as near as it should.

    what: `first` or `last` clip from an end, `gap` between two, or `none` where no place is left at all.
    where: the place in the spec.  distance: as near as it goes, mm, None for `none`.  most: what the rule
    has, mm.
    """

    what: Literal["first", "gap", "last", "none"]
    where: str
    distance: Mm | None
    most: Mm


@dataclass(frozen=True, slots=True)
class _Place:
    """A stretch of one straight on which a clip may stand. line: which straight line of the section, from
    0."""

    low: float
    high: float
    line: int
    straight: StraightAt


@dataclass(frozen=True, slots=True)
class _Stand:
    """A clip: where along the run, and on which of the places."""

    at: float
    place: int


def keep_off(facts: RunFacts, joint: JointAt) -> Mm:
    """How far from a joint's middle a clip keeps: one body of it, mm.

    The coupler's length where it is known, else two threads, for two ends meet inside it, else three
    diameters; a union and a running coupler count as two bodies. Common practice.
    """
    row = facts.row
    coupler = None if row is None else catalogue.coupler(row.id)
    thread = facts.thread
    if coupler is not None:
        body = float(coupler.length)
    elif thread is not None and thread.length is not None:
        body = 2.0 * thread.length
    else:
        body = _BODY_DIAMETERS * facts.conduit.outside_diameter
    return Mm(body if joint.kind == "coupler" else 2.0 * body)


def place(facts: RunFacts, spacing: Spacing) -> tuple[list[Support], list[Missed]]:
    """The clips of a run, and where none can stand as it should.

    Clips stand on straights: an outside diameter or more from a bend and from the conduit's end, off every
    joint between the same boxes by `keep_off`, within `spacing.end` of each box and end, and no farther apart
    along the conduit than `spacing` has. Between two boxes the fewest are taken, and of those the places
    whose widest gap is the least share of what is allowed there.
    """
    supports: list[Support] = []
    missed: list[Missed] = []
    for start, finish in sections(facts):
        section = _Section.of(facts, spacing, start, finish)
        if section is not None:
            section.fill(supports, missed)
    return supports, missed


@dataclass(frozen=True, slots=True)
class _Section:
    """What lies between two boxes."""

    spacing: Spacing
    start: Termination
    finish: Termination
    places: Sequence[_Place]
    most: Sequence[float]

    @classmethod
    def of(
        cls, facts: RunFacts, spacing: Spacing, start: Termination, finish: Termination
    ) -> "_Section | None":
        """The section with its places for clips; None where no conduit lies between."""
        first = bisect_left(facts.straights, start.along - SLACK, key=lambda each: each.begin)
        last = bisect_left(facts.straights, finish.along - SLACK, key=lambda each: each.begin)
        straights = facts.straights[first:last]
        if not straights:
            return None
        clear = facts.conduit.outside_diameter
        joints = _kept_free(facts, between(facts.joints, start.along, finish.along))
        bends = [bend.along for bend in between(facts.bends, start.along, finish.along)]
        passed = 0
        places: list[_Place] = []
        most: list[float] = []
        for before, straight in zip([None, *straights], straights, strict=False):
            if before is not None and _runs_on(before, straight, bends):
                most[-1] = min(most[-1], spacing.on(straight))
            else:
                most.append(spacing.on(straight))
            low: float = straight.begin + clear
            high: float = straight.finish - clear
            while passed < len(joints) and joints[passed][1] <= low:
                passed += 1
            for joint_low, joint_high in joints[passed:]:
                if joint_low >= high:
                    break
                if joint_low >= low:
                    places.append(_Place(low, joint_low, len(most) - 1, straight))
                low = max(low, joint_high)
            if low <= high:
                places.append(_Place(low, high, len(most) - 1, straight))
        return cls(spacing, start, finish, places, most)

    def fill(self, supports: list[Support], missed: list[Missed]) -> None:
        """Appends the section's clips, and where none can stand as it should."""
        if not self.places:
            missed.append(Missed("none", self.start.where, None, self.spacing.end))
            return
        stands, told = self._walk(1.0)
        enough, too_much = 1.0, 0.0
        if len(stands) > 1:
            for _ in range(_HALVINGS):
                share = (enough + too_much) / 2.0
                tried, missing = self._walk(share)
                if len(tried) <= len(stands) and len(missing) <= len(told):
                    enough = share
                else:
                    too_much = share
            stands, told = self._walk(enough)
        last = len(stands) - 1
        for index, stand in enumerate(stands):
            straight = self.places[stand.place].straight
            at = Mm(stand.at)
            by_end = index in (0, last)
            supports.append(
                Support(at, straight.point(at), straight.stick, "end-distance" if by_end else "spacing")
            )
        missed.extend(told)

    def _walk(self, share: float) -> tuple[list[_Stand], list[Missed]]:
        """Clips each as far on as a share of the spacing lets it; where none is near enough, the next place
        after."""
        spacing, places, missed = self.spacing, self.places, []
        nearest = self._latest(self.start.along + spacing.end)
        if nearest is None:
            nearest = _Stand(places[0].low, 0)
            distance = Mm(places[0].low - self.start.along)
            missed.append(Missed("first", self.start.where, distance, spacing.end))
        stands = [nearest]
        while self.finish.along - (here := stands[-1]).at > spacing.end + SLACK:
            stand = self._farthest(here, share)
            if stand.at <= here.at + SLACK:
                if here.place + 1 == len(places):
                    distance = Mm(self.finish.along - here.at)
                    missed.append(Missed("last", self.finish.where, distance, spacing.end))
                    break
                after = here.place + 1
                stand = _Stand(places[after].low, after)
                missed.append(
                    Missed(
                        "gap",
                        places[after].straight.where,
                        Mm(stand.at - here.at),
                        Mm(self._allowed(here.place, after)),
                    )
                )
            stands.append(stand)
        return stands, missed

    def _latest(self, limit: float) -> _Stand | None:
        """The last place not beyond a limit; None if all are."""
        index = bisect_right(self.places, limit + SLACK, key=lambda each: each.low) - 1
        return None if index < 0 else self._stand(index, limit)

    def _farthest(self, here: _Stand, share: float) -> _Stand:
        """The farthest place that a share of the spacing reaches from a clip: the clip's own if none."""
        found = here
        line = self.places[here.place].line
        least = math.inf
        for index in range(here.place, len(self.places)):
            place = self.places[index]
            while line <= place.line:
                least = min(least, self.most[line])
                line += 1
            if place.line > self.places[here.place].line:
                least = min(least, self.spacing.across)
            limit = here.at + share * least
            if place.low > limit + SLACK:
                break
            found = self._stand(index, limit)
        return found

    def _stand(self, index: int, limit: float) -> _Stand:
        place = self.places[index]
        return _Stand(min(max(place.low, limit), place.high), index)

    def _allowed(self, first: int, last: int) -> float:
        """The most between clips at two places, mm."""
        lines = range(self.places[first].line, self.places[last].line + 1)
        least = min(self.most[line] for line in lines)
        return least if len(lines) == 1 else min(least, self.spacing.across)


def _kept_free(facts: RunFacts, joints: Sequence[JointAt]) -> list[tuple[float, float]]:
    """What joints keep free of clips, in order and apart: a union's reach may begin before the one of a
    coupler that stands before it."""
    found: list[tuple[float, float]] = []
    for low, high in sorted(
        (joint.along - (off := keep_off(facts, joint)), joint.along + off) for joint in joints
    ):
        if found and low <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], high))
        else:
            found.append((low, high))
    return found


def _runs_on(before: StraightAt, straight: StraightAt, bends: Sequence[float]) -> bool:
    """Whether a straight carries the one before it on in one line, through a joint."""
    bent = bisect_right(bends, straight.begin + SLACK) > bisect_right(bends, before.finish - SLACK)
    return not bent and dot(before.direction, straight.direction) >= _SAME_WAY
