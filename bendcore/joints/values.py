"""The values of a split: a joint, what a stick is cut from, and how a stretch may be split."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final, Literal

from bendcore.spec import CostsAsked, FitFrom, StockAsked
from bendcore.units import Mm

SLACK: Final = 1e-6
"""What a stick may be over stock, mm, and what a whole length may differ from it: rounding, nothing a saw
could cut."""

Window = tuple[float, float]
"""First and last place of a joint on one straight, mm along the run: where the earlier stick ends."""


class JointKind(StrEnum):
    """What joins two sticks."""

    COUPLER = "coupler"
    RUNNING_COUPLER = "running_coupler"
    UNION = "union"


Side = Literal["before", "after"]
"""Which stick carries a running coupler's long thread: the one before the joint or the one after it."""


@dataclass(frozen=True, slots=True)
class Joint:
    """A joint between two sticks.

    at: where the earlier stick ends, mm along the stretch.  gap: what it adds between the sticks, mm.
    long_thread: with a running coupler, the stick that carries the long thread: the earlier one (at its
    finish end) or the later one (at its start end); else None.
    """

    at: Mm
    kind: JointKind
    gap: Mm
    long_thread: Side | None


@dataclass(frozen=True, slots=True)
class Blank:
    """What one stick is cut from.

    length: of the whole blank, mm.  threaded_ends: of it, by the factory; 0 in plain conduit.
    offcut: whether it is one (has a count).  cuts: by the saw, 0 when used whole, else 1.
    threads: to be cut on the stick.
    """

    length: Mm
    threaded_ends: int
    offcut: bool
    cuts: int
    threads: int


@dataclass(frozen=True, slots=True)
class Split:
    """A stretch as it is split.

    joints: n - 1 of them, start first.  blanks: one for each of the n sticks.  cost: in the unit of the costs
    given, None without costs.  meeting: index of the joint where fitting from both ends meets, else None.
    searched: whether every place worth a joint was tried. If not, a better split may have been missed, but
    without costs none of fewer sticks.
    """

    joints: tuple[Joint, ...]
    blanks: tuple[Blank, ...]
    cost: float | None
    meeting: int | None = None
    searched: bool = True

    @property
    def sticks(self) -> int:
        """How many sticks."""
        return len(self.blanks)

    @property
    def cuts(self) -> int:
        """How many saw cuts."""
        return sum(blank.cuts for blank in self.blanks)


@dataclass(frozen=True, slots=True, kw_only=True)
class Splitting:
    """How a stretch may be split.

    lengths: what sticks may be cut from, at least one.  threaded: whether ends are threaded; plain conduit
    has ordinary couplers only.  clearance: least straight between a joint and a bend, mm.  min_piece:
    shortest stick, mm, unless the whole stretch is one.  gap: what a coupler adds between two sticks, mm.
    costs: absent, all are 0.  closing: what joins a stick that cannot turn, RUNNING_COUPLER or UNION.
    closing_gap: what that adds, mm.  long_thread: straight that a running coupler wants beside the clearance,
    mm.  fit_from: the order of fitting.  needs_thread: whether the stretch's start and finish want a thread.
    begin, bends_before: where the stretch begins along the run, mm, and the number of bends before it, for
    problems.
    """

    lengths: tuple[StockAsked, ...]
    threaded: bool
    clearance: Mm
    min_piece: Mm
    gap: Mm
    costs: CostsAsked | None = None
    long_thread: Mm = Mm(0.0)
    closing: JointKind = JointKind.RUNNING_COUPLER
    closing_gap: Mm
    fit_from: FitFrom = FitFrom.START
    begin: Mm = Mm(0.0)
    bends_before: int = 0
    needs_thread: tuple[bool, bool] = (False, False)

    @property
    def longest(self) -> Mm:
        """The longest stick there can be, mm."""
        return max(each.length for each in self.lengths)
