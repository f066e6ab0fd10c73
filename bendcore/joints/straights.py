"""The straights of a stretch, and where on them joints may stand."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from bendcore.joints.making import Form
from bendcore.joints.values import SLACK, Splitting, Window
from bendcore.units import Mm


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


@dataclass(frozen=True, slots=True)
class Straight:
    """A straight with room for a joint, mm; high leaves out the gap. number: of bends before it.  room: from
    and to where the bends alone leave room."""

    number: int
    low: float
    high: float
    room: Window


@dataclass(frozen=True, slots=True)
class Stretch:
    """The stretch that is split: its bends, its length and its straights."""

    bends: Sequence[tuple[Mm, Mm]]
    developed: float
    straights: tuple[Straight, ...]
    how: Splitting

    @classmethod
    def of(cls, bends: Sequence[tuple[Mm, Mm]], developed: Mm, how: Splitting) -> "Stretch":
        """bends: begin and finish of each along the stretch, mm.  developed: its length, mm."""
        straights = windows(bends, developed, clearance=how.clearance, min_piece=how.min_piece, gap=Mm(0.0))
        clear = how.clearance
        return cls(
            bends,
            developed,
            tuple(
                Straight(
                    number,
                    low,
                    high,
                    (
                        bends[number - 1][1] + clear if number else -math.inf,
                        bends[number][0] - clear if number < len(bends) else math.inf,
                    ),
                )
                for low, high, number in straights
            ),
            how,
        )

    def window(self, form: Form, straight: Straight) -> Window:
        """First and last place of a joint of this form; the last lies before the first where it has no
        room."""
        low, high = straight.low, straight.high - form.gap
        if form.long_thread == "before":
            low = max(low, straight.room[0] + self.how.long_thread)
        elif form.long_thread == "after":
            high = min(high, straight.room[1] - form.gap - self.how.long_thread)
        return low, high

    def behind(self, place: float, gap: float, straight: Straight) -> tuple[float, float]:
        """How much straight lies before and after a joint, mm."""
        number = straight.number
        start = self.bends[number - 1][1] if number else 0.0
        finish = self.bends[number][0] if number < len(self.bends) else self.developed
        return place - start, finish - place - gap
