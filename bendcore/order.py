"""In the bender: set line, mark, held side and sweep of each bend.

Bends are made in the order 1 to n, held by the start. The relations stand in docs/method/set-lines.md.
"""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from operator import itemgetter

from bendcore.bends import outline_corner, tangent_length
from bendcore.spec import Former, LineKind
from bendcore.units import Deg, Mm

_SQUARE = 0.1
"""How far from 90°, degrees, a bend may be for its back to be measured from with a square."""

_ON_BEND = 1e-6
"""How far inside a bend, mm, a mark must lie to be on it: rounding alone puts none there."""


@dataclass(frozen=True, slots=True)
class SetMark:
    """How a bend is set.

    line: the set line in use.  mark: the pencil mark for the held side in use, from the datum end on the
    straight stick.
    sweep: the farthest point of the swing side from the swing-side tangent point before the pull, mm.
    held_start, held_finish: the mark for either held side.
    remeasure: the mark from the back of the 90° bend before it, on the stick as it is; None beside any other
    bend.
    """

    line: str
    mark: Mm
    sweep: Mm
    held_start: Mm
    held_finish: Mm
    remeasure: Mm | None

    def to_dict(self) -> dict[str, object]:
        """As the contract writes it, with the marks for both held sides beside."""
        return {
            "line": self.line,
            "mark": self.mark,
            "sweep": self.sweep,
            "held_start": self.held_start,
            "held_finish": self.held_finish,
            "remeasure": self.remeasure,
        }


def line_reach(former: Former, radius: Mm, diameter: Mm) -> Mm | None:
    """How far the set line lies past the hold-side tangent point toward the swing side, mm; None for
    `middle`.

    The same for every angle.  begin: 0.  back of a spare piece squared in the former: R + D/2.  arrow with
    take-up t: R + D/2 - t.  own: as measured.
    Source: the back of a 90° bend stands R + D/2 past its tangent point, and the take-up is what is taken off
    the wanted length to that back; docs/method/set-lines.md.
    """
    line = former.set_line
    if line.kind is LineKind.BEGIN:
        return Mm(0.0)
    if line.kind is LineKind.BACK:
        return Mm(radius + diameter / 2.0)
    if line.kind is LineKind.ARROW:
        return Mm(radius + diameter / 2.0 - (line.take_up or 0.0))
    if line.kind is LineKind.OWN:
        return Mm(line.reach or 0.0)
    return None


def marks_for_either_side(begin: Mm, arc: Mm, reach: Mm | None) -> tuple[Mm, Mm]:
    """The pencil mark held by the start, and held by the finish, mm from the datum end.

    begin + reach, and begin + arc - reach; a machine that pushes at the middle of its shoe (None): the middle
    of the arc.
    """
    if reach is None:
        middle = Mm(begin + arc / 2.0)
        return middle, middle
    return Mm(begin + reach), Mm(begin + arc - reach)


def remeasured(
    mark: Mm, finish_before: Mm, radius_before: Mm, angle_before: Deg, *, diameter: Mm
) -> Mm | None:
    """The mark from the back of the bend before it, on the stick as it is, mm; None unless that is a right
    angle, or where the mark does not lie past it.

    mark - finish + T + (D/2) tan(angle / 2), which is T + D/2 at 90°.  A survey to a tenth of a millimetre
    seldom gives 90° exactly: what a square could not tell from it counts.
    """
    if abs(angle_before - 90.0) > _SQUARE or mark < finish_before - _ON_BEND:
        return None
    corner = tangent_length(radius_before, angle_before) + outline_corner(diameter, angle_before)
    return Mm(mark - finish_before + corner)


def bend_in_the_way(mark: Mm, made: Sequence[tuple[Mm, Mm]]) -> int | None:
    """Number (from 1) of the bend already made that keeps the mark from its line; None if none does.

    made: begin and finish of each, mm, in the order along the stick.  The mark must lie past all of them: on
    a bend, or on a leg before it, the stick is not straight between the set line and the tangent point.
    """
    number = bisect_left(made, mark + _ON_BEND, key=itemgetter(1))
    return number + 1 if number < len(made) else None
