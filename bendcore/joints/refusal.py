"""What is told where a stretch cannot be split: what is in the way."""

from collections.abc import Sequence
from dataclasses import replace

from bendcore import tape
from bendcore.errors import NoJoint
from bendcore.joints.making import Making
from bendcore.joints.reach import Reach
from bendcore.joints.straights import Stretch, windows
from bendcore.joints.values import SLACK, Splitting
from bendcore.units import Mm


def _can(bends: Sequence[tuple[Mm, Mm]], developed: Mm, how: Splitting) -> bool:
    stretch = Stretch.of(bends, developed, how)
    return Reach(stretch, Making.of(bends, developed, how)).fewest() is not None


def _without_gaps(how: Splitting) -> Splitting:
    return replace(how, gap=Mm(0.0), closing_gap=Mm(0.0))


def no_joint(
    bends: Sequence[tuple[Mm, Mm]], developed: Mm, *, how: Splitting, wheres: Sequence[str]
) -> NoJoint:
    """Tells the first stretch longer than stock without room for a joint, or what else is in the way."""
    stock, gap = how.longest, how.gap
    figures = {"stock_mm": stock, "developed_mm": developed}

    def stretch(least: Mm, between: Mm) -> tuple[float, float, int, int] | None:
        straights = windows(bends, developed, clearance=how.clearance, min_piece=least, gap=between)
        return _first_stretch(straights, len(bends), developed, stock=stock, gap=between)

    found = stretch(how.min_piece, gap)
    if found is not None and stretch(Mm(0.0), Mm(0.0)) is not None:
        low, high, first, last = found
        where = wheres[first - 1]
        first, last = first + how.bends_before, last + how.bends_before
        which = f"bend {first}" if first == last else f"bends {first} to {last}"
        return NoJoint(
            where,
            f"from {tape.fine(Mm(how.begin + low))} to {tape.fine(Mm(how.begin + high))} along the run no "
            "straight has room for a "
            f"joint: {which} would stand on one stick of {tape.fine(Mm(high - low), up=True)}, and stock is "
            f"{tape.fine(stock)}. Make room for a joint on a straight of it, or ask for a smaller clearance",
            first_bend=first,
            last_bend=last,
            stretch_mm=high - low,
            over_mm=high - low - stock,
            **figures,
        )
    if stretch(Mm(0.0), gap) is not None or (gap > 0.0 and _can(bends, developed, _without_gaps(how))):
        text = f"is {tape.fine(gap)}, which leaves no set of joints; a smaller one does"
        return NoJoint("joints.gap", text, **figures)
    if _can(bends, developed, replace(how, lengths=tuple(replace(each, count=None) for each in how.lengths))):
        text = (
            f"has not enough lengths for {tape.fine(developed)} of the run; more of its offcuts do, or a "
            "length bought at will"
        )
        return NoJoint("conduit.stock", text, **figures)
    if _can(bends, developed, replace(how, long_thread=Mm(0.0))):
        text = (
            f"is {tape.fine(how.long_thread)}, which leaves no set of joints: where a stick cannot turn no "
            "straight has room for a running coupler's; a smaller one does, or fitting from another end"
        )
        return NoJoint("joints.long_thread", text, **figures)
    if _can(bends, developed, replace(how, closing_gap=gap)):
        text = f"is {tape.fine(how.closing_gap)}, which leaves no set of joints; a smaller one does"
        return NoJoint("joints.union_gap", text, **figures)
    return NoJoint(
        "joints.min_piece",
        f"leaves no set of joints for {tape.fine(developed)} of the run in lengths of {tape.fine(stock)}; "
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
