"""What a rule pack judges: the run as planned, told along its developed length."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, Protocol, TypeVar

from bendcore import catalogue
from bendcore.catalogue import BendMeans
from bendcore.spec import CablesAsked, Conduit
from bendcore.units import Deg, Mm
from bendcore.vectors import Vec, along

SLACK: Final = 1e-6
"""What two places along the run may differ by and be one, and what a sum of angles may be over, mm or
degrees: rounding."""

_OFF_NOMINAL: Final = 0.6
"""How far a measured outside diameter may lie off a nominal size and be it, mm: the widest tolerance of
IEC 60423 (63 mm conduit, +0/-0.6, from memory)."""

_SIZES_UK: Final = (16, 20, 25, 32, 38, 40, 50, 63)
"""Nominal sizes of metric steel conduit, mm; 38 is in the tables of cable factors alone."""


@dataclass(frozen=True, slots=True)
class BentAt:
    """One turn of the run, made in a stick or taken by a fitting.

    corner: of the route, from 1.  angle: degrees.  radius: centreline, mm; 0 for a fitting's sharp corner.
    where: the place in the spec.  along: its middle, developed mm from the run's start.  feature: which set
    it belongs to, by any number of its own; None for a bend of its own.  feature_kind: `offset`, `box_set`,
    `saddle_set_3` or `saddle_set_4`.  fitting: a bought bend or an inspection bend makes the turn.
    """

    corner: int
    angle: Deg
    radius: Mm
    where: str
    along: Mm
    feature: int | None = None
    feature_kind: str | None = None
    fitting: bool = False


@dataclass(frozen=True, slots=True)
class StraightAt:
    """One straight of conduit between bends, joints and ends.

    begin, finish: mm along the run.  start: the point of the centreline at `begin`.  direction: unit.  stick:
    its number, from 1.  where: the place in the spec.
    """

    begin: Mm
    finish: Mm
    start: Vec
    direction: Vec
    stick: int
    where: str

    @property
    def length(self) -> Mm:
        """From begin to finish, mm."""
        return Mm(self.finish - self.begin)

    def point(self, place: Mm) -> Vec:
        """The point of the centreline at a place along the run."""
        return along(self.start, place - self.begin, self.direction)


@dataclass(frozen=True, slots=True)
class Termination:
    """An end of the run, or a fitting in it.

    along: mm; of a fitting its middle.  where: the place in the spec.  kind: an end kind or a fitting kind,
    as the contract writes it.  draw_in: cable can be drawn in there.  name: `start`, `finish`, or the
    fitting's number from 1.
    """

    along: Mm
    where: str
    kind: str
    draw_in: bool
    name: str

    @property
    def holds(self) -> bool:
        """Whether the first clip is counted from it: a bought bend is conduit, all others are boxes or
        ends."""
        return self.kind != "bought_bend"


@dataclass(frozen=True, slots=True)
class JointAt:
    """A joint of two sticks. along: its middle, mm.  kind: `coupler`, `running_coupler` or `union`."""

    along: Mm
    kind: str
    where: str


@dataclass(frozen=True, slots=True)
class RunFacts:
    """A run as planned.

    radius: the former's, centreline, mm.  terminations: start, fittings in order, finish.  straights, bends,
    joints: in order along the run.  developed_length: mm.  cables: what is to be drawn in.  bend_means: how
    bends are made, as NFPA 70 ch. 9 Table 2 parts them.
    """

    conduit: Conduit
    radius: Mm
    bends: tuple[BentAt, ...]
    straights: tuple[StraightAt, ...]
    terminations: tuple[Termination, ...]
    joints: tuple[JointAt, ...]
    developed_length: Mm
    cables: tuple[CablesAsked, ...] = ()
    bend_means: BendMeans = "one-shot"

    @property
    def made(self) -> tuple[BentAt, ...]:
        """The bends that are made in sticks."""
        return tuple(bend for bend in self.bends if not bend.fitting)

    @property
    def row(self) -> catalogue.ConduitRow | None:
        """The conduit's row of the catalogue; None for one by its own figures."""
        return None if self.conduit.catalogue is None else catalogue.conduit(self.conduit.catalogue)

    @property
    def trade_size(self) -> tuple[str, str] | None:
        """Kind and trade size of US conduit out of the catalogue; None for any other."""
        row = self.row
        return None if row is None or row.region != "us" else (row.kind, row.size)

    @property
    def size_uk(self) -> int | None:
        """The nominal size of metric steel conduit, mm; None for any other."""
        row = self.row
        if row is not None:
            return int(row.size) if row.region == "uk" else None
        diameter = self.conduit.outside_diameter
        nearest = min(_SIZES_UK, key=lambda size: abs(size - diameter))
        return nearest if abs(nearest - diameter) <= _OFF_NOMINAL else None

    @property
    def thread(self) -> catalogue.ThreadRow | None:
        """The thread on the conduit's ends; None where it is plain or not known."""
        if self.conduit.joining != "threaded":
            return None
        if self.conduit.catalogue is not None:
            return catalogue.thread(self.conduit.catalogue)
        size = str(self.size_uk)
        like = (row for row in catalogue.conduits() if row.region == "uk" and row.size == size)
        row = next(like, None)
        return None if row is None else catalogue.thread(row.id)


@dataclass(frozen=True, slots=True)
class Draw:
    """What lies between two draw-in points: one draw of cable. bends: those of its length, in order."""

    start: Termination
    finish: Termination
    bends: Sequence[BentAt]

    @property
    def length(self) -> Mm:
        """Along the conduit, mm."""
        return Mm(self.finish.along - self.start.along)


def draws(facts: RunFacts) -> Iterator[Draw]:
    """The run from draw-in point to draw-in point; its two ends count as such.

    The turn of a fitting at which cable is drawn in belongs to neither side: the cable is out there.
    """
    points = facts.terminations
    stops = [point for index, point in enumerate(points) if point.draw_in or index in (0, len(points) - 1)]
    for start, finish in pairwise(stops):
        yield Draw(start, finish, between(facts.bends, start.along, finish.along))


def sections(facts: RunFacts) -> Iterator[tuple[Termination, Termination]]:
    """The run from box to box, as clips are counted: all fittings but bought bends, and both ends."""
    points = facts.terminations
    stops = [point for index, point in enumerate(points) if point.holds or index in (0, len(points) - 1)]
    yield from pairwise(stops)


class _Placed(Protocol):
    @property
    def along(self) -> Mm: ...


_P = TypeVar("_P", bound=_Placed)


def between(placed: Sequence[_P], low: float, high: float) -> Sequence[_P]:
    """What of a row in order along the run stands between two places, mm, and at neither of them."""
    first = bisect_right(placed, low + SLACK, key=lambda each: each.along)
    return placed[first : bisect_left(placed, high - SLACK, first, key=lambda each: each.along)]
