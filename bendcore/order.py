"""In the bender: set line and mark of each bend, the order of bending, held side, sweep and posture.

The relations stand in docs/method/set-lines.md and docs/method/order.md.
"""

import heapq
import math
from bisect import bisect_left
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from operator import itemgetter
from typing import Final, Literal

from bendcore.bends import outline_corner, roll_in_range, tangent_length
from bendcore.clearance import (
    STILL,
    TOUCH,
    ArcPiece,
    LinePiece,
    Part,
    Piece,
    Room,
    Swing,
    Touch,
    farthest,
)
from bendcore.spec import BenderAsked, Former, LineKind, Motion, PlaneAsked
from bendcore.units import Deg, Mm, cos_deg, sin_deg
from bendcore.vectors import Vec, along, combine, cross
from bendcore.words import Finding, Level

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


# -------------------------------------------------------------------------------------- a stick's settings

MOST_BENDS: Final = 10
"""The order is searched for sticks of so many bends; more are made 1 to n."""

_SLACK = 1e-6
"""How much, mm, a straight or a mark may miss by rounding alone."""

_PLUMB = 1.0
"""How far from straight up, straight down or flat, degrees, a leg may point and still be called so: what a
small level shows at a glance (common practice)."""

_MOST_JUDGED = 40
"""Where there is no order, so many settings at most are measured for the one that misses by the least."""

Held = Literal["start", "finish"]
_HELD: Final[tuple[Held, Held]] = ("start", "finish")

Lies = Literal["up", "down", "flat", "aslant"]


@dataclass(frozen=True, slots=True)
class StickBend:
    """A bend as it lies on the straight stick.

    begin, finish: tangent points, mm from the stick's start.  roll: docs/method/roll.md, in (-180, 180].
    """

    begin: Mm
    finish: Mm
    angle: Deg
    radius: Mm
    roll: Deg


@dataclass(frozen=True, slots=True)
class Posture:
    """How the made part of a stick lies while a bend is set: what one turns the stick to.

    bend: number of the nearest bend already made, by the straight between; the hold side's where both are as
    near.
    angle: from the way that the bend being made closes to the way that the leg beyond that bend points, seen
    along the stick, about the machine's x axis (hold side to swing side) by the right-hand rule, in
    (-180, 180].
    lies: how that leg points, seen along the stick, against the floor; None without a floor.
    """

    bend: int
    angle: Deg
    lies: Lies | None


@dataclass(frozen=True, slots=True)
class Setting:
    """One bend as it is set in the bender.

    bend: its number along the stick, from 1.  order: when it is made, from 1.  held: the end that is gripped.
    turned: whether the stick was turned round since the bend made before it.
    sweep: the farthest point of the swing side from the swing-side tangent point before the pull, mm.
    posture: None while no other bend is made.
    """

    bend: int
    order: int
    held: Held
    turned: bool
    sweep: Mm
    posture: Posture | None


@dataclass(frozen=True, slots=True)
class Obstacle:
    """Why a bend cannot be set.

    kind: too little straight on the hold side or the swing side, a mark that cannot come to its line, or what
    is touched.  short: what is missing, mm: of straight; from the mark to the straight it must lie on; of
    room, at worst, to stay TOUCH clear.
    at: the angle reached, degrees, where it first touches; None for a straight or a mark.
    index: of the plane or body in the spec, from 0.  part: of the stick that touches.
    straight: of hold or swing, the straight that there is, mm.
    """

    bend: int
    held: Held
    kind: Literal["hold", "swing", "mark", "floor", "plane", "body"]
    short: Mm
    at: Deg | None = None
    index: int | None = None
    part: Part | None = None
    straight: Mm | None = None


@dataclass(frozen=True, slots=True)
class Order:
    """In what order a stick's bends are made, and how each is held.

    settings: by bend number; None where there is no order.  turn_rounds: changes of the held end between
    successive bends.
    searched: False where the stick has too many bends, which are then made 1 to n and held by the start.
    obstacle: where there is no order, what is in the way where most bends are made, and misses by the least.
    freed_by: then, the first k such that a joint between bends k and k + 1 leaves two sticks that have one.
    """

    settings: tuple[Setting, ...] | None
    turn_rounds: int | None
    searched: bool = True
    obstacle: Obstacle | None = None
    freed_by: int | None = None


@dataclass(frozen=True, slots=True)
class Pose:
    """The centreline of a stick in the bender, from its hold-side end to its swing-side end.

    pieces: lines and arcs, each beginning where the one before ends, in the frame of the machine: origin at
    the hold-side tangent point of the bend being made, x along the straight stick from the hold side to the
    swing side, y toward the former's axis, z = x cross y.
    """

    pieces: tuple[Piece, ...]


def bending_order(
    bends: Sequence[StickBend],
    cut_length: Mm,
    *,
    diameter: Mm,
    bender: BenderAsked | None,
    reaches: Sequence[Mm | None],
    joint_places: Mapping[int, Mm] | None = None,
) -> Order:
    """The order of bending: fewest turn-rounds, then most bends held by the start, then the lowest numbers in
    the order made, then held by the start before the finish.

    bends: in order along the stick, not overlapping.  diameter: outside, of the conduit.
    bender: None: bends are made 1 to n, held by the start.
    reaches: for each bend, how far the set line lies past the hold-side tangent point (`line_reach`).
    joint_places: where no order is found, for each k the place on the stick, mm, where a joint between bends
    k and k + 1 would cut it; None: the middle of each straight.

    Every setting has its straights and its mark, and with motion `tail` the whole conduit keeps TOUCH from
    floor, planes and bodies from angle 0 to the finished angle.  Exact up to MOST_BENDS bends.
    Source: docs/method/order.md.
    """
    count = len(bends)
    if bender is None or count > MOST_BENDS:
        plain = tuple((number, 0) for number in range(count))
        floor = None if bender is None else bender.floor
        return Order(_settings(bends, cut_length, plain, floor), 0, searched=bender is None)
    search = _Search(bends, cut_length, bender, reaches, Room.of(bender, diameter))
    sequence, deepest = search.run()
    if sequence is not None:
        turns = sum(a[1] != b[1] for a, b in pairwise(sequence))
        return Order(_settings(bends, cut_length, sequence, bender.floor), turns)
    freed_by = None
    for number in range(1, count):
        place = _joint_place(bends, number, joint_places)
        if place is not None and all(
            _Search(part, length, bender, part_reaches, search.room).run()[0] is not None
            for part, length, part_reaches in (
                (bends[:number], place, reaches[:number]),
                (_from(bends[number:], place), Mm(cut_length - place), reaches[number:]),
            )
        ):
            freed_by = number
            break
    return Order(None, None, obstacle=search.least_obstacle(deepest), freed_by=freed_by)


def pose(
    bends: Sequence[StickBend],
    cut_length: Mm,
    bend: int,
    *,
    made: Collection[int],
    held: Held,
    pulled: Deg,
) -> Pose:
    """The stick in the bender while a bend is pulled: its centreline as lines and arcs.

    bend: number of the bend being made, from 1.  made: numbers of those already made; the others are straight
    conduit.  pulled: the angle reached, 0 <= pulled <= its finished angle.
    Raises ValueError for a number that is no other bend of the stick, and for an angle out of range.
    """
    numbers = range(1, len(bends) + 1)
    if bend not in numbers or any(each not in numbers or each == bend for each in made):
        raise ValueError(
            f"bends are numbered 1 to {len(bends)}, and bend {bend} cannot be made before itself"
        )
    being_made = bends[bend - 1]
    if not 0.0 <= pulled <= being_made.angle:
        raise ValueError(f"bend {bend} is pulled from 0 to {being_made.angle:g} degrees, not to {pulled:g}")
    mask = sum(1 << (each - 1) for each in set(made))
    earlier, later = _sides(bends, cut_length, bend - 1, held, mask)
    swing, hold = (later, earlier) if held == "start" else (earlier, later)
    pieces = [_reversed(piece) for piece in reversed(hold)]
    if pulled > 0.0:
        radius = being_made.radius
        rad = math.radians(pulled)
        c, s = cos_deg(pulled), sin_deg(pulled)
        leaves: Vec = (radius * s, radius * (1.0 - c), 0.0)
        pieces.append(
            ArcPiece((0.0, 0.0, 0.0), leaves, (0.0, radius, 0.0), (0.0, 0.0, 1.0), radius, Deg(pulled), "arc")
        )

        def direction(way: Vec) -> Vec:
            return (way[0] * c - way[1] * s, way[0] * s + way[1] * c, way[2])

        def place(at: Vec) -> Vec:
            return combine(1.0, leaves, 1.0, direction((at[0] - radius * rad, at[1], at[2])))

        for number, piece in enumerate(swing):
            start = leaves if number == 0 else place(piece.start)
            if isinstance(piece, LinePiece):
                pieces.append(LinePiece(start, place(piece.end), piece.part))
            else:
                pieces.append(
                    ArcPiece(
                        start,
                        place(piece.end),
                        place(piece.centre),
                        direction(piece.axis),
                        piece.radius,
                        piece.angle,
                        piece.part,
                    )
                )
    else:
        pieces.extend(swing)
    return Pose(
        tuple(
            piece
            for piece in pieces
            if isinstance(piece, ArcPiece) or math.dist(piece.start, piece.end) > _SLACK
        )
    )


def order_findings(order: Order, *, stick: int, wheres: Sequence[str]) -> tuple[Finding, ...]:
    """What an order has to tell: that it was not searched (a warning), or that there is none (a stop).

    stick: its number in the run.  wheres: the place in the spec of each of its bends.
    """
    if not order.searched:
        figures = {"stick": stick, "bends": len(wheres), "at_most": MOST_BENDS}
        return (Finding("order-not-searched", Level.WARN, "bender", figures, "geometry"),)
    found = order.obstacle
    if found is None:
        return ()
    return (
        Finding(
            "bending-order",
            Level.STOP,
            wheres[found.bend - 1],
            {
                "stick": stick,
                "bend": found.bend,
                "held": found.held,
                "kind": found.kind,
                "short_mm": found.short,
                "straight_mm": found.straight,
                "at_deg": found.at,
                "number": None if found.index is None else found.index + 1,
                "part": found.part,
                "freed_by": order.freed_by,
                "bends": len(wheres),
            },
            "geometry; docs/method/order.md",
        ),
    )


# ------------------------------------------------------------------------------------------ the made part


def _reversed(piece: Piece) -> Piece:
    """The same piece, walked from its end to its start."""
    if isinstance(piece, LinePiece):
        return LinePiece(piece.end, piece.start, piece.part)
    x, y, z = piece.axis
    return replace(piece, start=piece.end, end=piece.start, axis=(-x, -y, -z))


@dataclass(frozen=True, slots=True)
class _Grown:
    """One side of a stick in the bender, outward to the far end of its outermost made bend.

    at, way: place and direction there.  first, second: what y and z of the straight stick have become.
    out: how far along the stick from the hold-side tangent point, mm.  pieces: outward.
    """

    at: Vec
    way: Vec
    first: Vec
    second: Vec
    out: float
    pieces: tuple[Piece, ...]
    part: Part

    def straight_to(self, out: float) -> LinePiece:
        return LinePiece(self.at, along(self.at, out - self.out, self.way), self.part)

    def beyond(self, bend: StickBend, near: float, far: float, lean: Deg) -> "_Grown":
        """With one more made bend, between `near` and `far`; lean: its closing way about x, from y."""
        line = self.straight_to(near)
        c, s = cos_deg(Deg(abs(lean))), math.copysign(sin_deg(Deg(abs(lean))), lean)
        closes, across = combine(c, self.first, s, self.second), combine(-s, self.first, c, self.second)
        turn_c, turn_s = cos_deg(bend.angle), sin_deg(bend.angle)
        way = combine(turn_c, self.way, turn_s, closes)
        closed = combine(turn_c, closes, -turn_s, self.way)
        centre = along(line.end, bend.radius, closes)
        at = along(centre, -bend.radius, closed)
        axis = cross(self.way, closes)
        arc = ArcPiece(line.end, at, centre, axis, bend.radius, bend.angle, self.part)
        first, second = combine(c, closed, -s, across), combine(s, closed, c, across)
        return _Grown(at, way, first, second, far, (*self.pieces, line, arc), self.part)


def _bare(*, swings: bool) -> _Grown:
    way = (1.0, 0.0, 0.0) if swings else (-1.0, 0.0, 0.0)
    part: Part = "tail" if swings else "held side"
    return _Grown((0.0, 0.0, 0.0), way, (0.0, 1.0, 0.0), (0.0, 0.0, 1.0), 0.0, (), part)


def _next_out(grown: _Grown, bends: Sequence[StickBend], number: int, other: int, held: Held) -> _Grown:
    """The side grown by one more made bend; number: of the bend being made, from 0."""
    being_made, bend = bends[number], bends[other]
    origin = being_made.begin if held == "start" else being_made.finish
    begin, finish = bend.begin - origin, bend.finish - origin
    near, far = (begin, finish) if other > number else (-finish, -begin)
    # Held by the finish the stick lies the other way round, and turns about x the other way.
    roll = bend.roll - being_made.roll
    return grown.beyond(bend, near, far, roll_in_range(roll if held == "start" else -roll))


def _end_out(bends: Sequence[StickBend], cut_length: Mm, number: int, held: Held, *, later: bool) -> float:
    """From the hold-side tangent point to the stick's end on one side, mm along the stick."""
    origin = bends[number].begin if held == "start" else bends[number].finish
    return cut_length - origin if later else origin


def _sides(
    bends: Sequence[StickBend], cut_length: Mm, number: int, held: Held, made: int
) -> tuple[tuple[Piece, ...], tuple[Piece, ...]]:
    """The pieces toward the stick's start and those toward its finish, each outward, before the pull.

    number: of the bend being made, from 0.  made: bit k for bend k.
    """
    found = []
    for later in (False, True):
        grown = _bare(swings=later == (held == "start"))
        others = range(number + 1, len(bends)) if later else range(number - 1, -1, -1)
        for other in others:
            if made >> other & 1:
                grown = _next_out(grown, bends, number, other, held)
        end = _end_out(bends, cut_length, number, held, later=later)
        found.append((*grown.pieces, grown.straight_to(end)))
    return found[0], found[1]


def _settings(
    bends: Sequence[StickBend], cut_length: Mm, sequence: Sequence[tuple[int, int]], floor: PlaneAsked | None
) -> tuple[Setting, ...]:
    settings = []
    made = 0
    before: int | None = None
    for order, (number, side) in enumerate(sequence, start=1):
        held = _HELD[side]
        earlier, later = _sides(bends, cut_length, number, held, made)
        swing = later if held == "start" else earlier
        arc = bends[number].finish - bends[number].begin
        tangent_point = (arc, 0.0, 0.0)
        swings = (LinePiece(tangent_point, swing[0].end, "tail"), *swing[1:])
        turned = before is not None and before != side
        posture = _posture(bends, number, held, made, floor)
        settings.append(Setting(number + 1, order, held, turned, farthest(tangent_point, swings), posture))
        made |= 1 << number
        before = side
    return tuple(sorted(settings, key=lambda setting: setting.bend))


def _posture(
    bends: Sequence[StickBend], number: int, held: Held, made: int, floor: PlaneAsked | None
) -> Posture | None:
    nearest: tuple[float, bool, int] | None = None
    being_made = bends[number]
    for other, bend in enumerate(bends):
        if made >> other & 1:
            later = other > number
            straight = bend.begin - being_made.finish if later else being_made.begin - bend.finish
            found = (straight, later == (held == "start"), other)
            if nearest is None or found < nearest:
                nearest = found
    if nearest is None:
        return None
    other = nearest[2]
    roll = bends[other].roll - being_made.roll
    angle = roll_in_range(roll if held == "start" else -roll)
    return Posture(other + 1, angle, None if floor is None else _lies(angle, floor))


def _lies(angle: Deg, floor: PlaneAsked) -> Lies:
    """How a leg that points `angle` from y about x lies, seen along the stick, against the floor."""
    _, y, z = floor.normal
    if math.hypot(y, z) <= 1e-9 * abs(floor.normal[0]):
        return "flat"  # the stick stands upright
    from_up = abs(roll_in_range(angle - math.degrees(math.atan2(z, y))))
    if from_up <= _PLUMB:
        return "up"
    if from_up >= 180.0 - _PLUMB:
        return "down"
    return "flat" if abs(from_up - 90.0) <= _PLUMB else "aslant"


# ------------------------------------------------------------------------------------------ the search

_Side = tuple[int, Held, bool, int]
"""The bend being made, from 0; the end that is held; the side toward the finish or the start; made there."""


@dataclass(slots=True)
class _Search:
    """Looks for a stick's best order. What one side of a setting touches does not depend on the other side,
    and what a bend more touches is found beside what the bends before it touch: each is worked out once."""

    bends: Sequence[StickBend]
    cut_length: Mm
    bender: BenderAsked
    reaches: Sequence[Mm | None]
    room: Room
    _grown: dict[_Side, _Grown | None] = field(default_factory=dict)
    _clear: dict[_Side, bool] = field(default_factory=dict)

    def run(self) -> tuple[tuple[tuple[int, int], ...] | None, list[int]]:
        """(bend from 0, 0 held by the start or 1 by the finish), in the order made; None: there is no order.

        With it the sets of bends (bit k for bend k) that can be made and are largest, the best first.

        Best first over what is made and how the last bend was held. A step is judged when it comes up, so
        that few are. The key of a longer way is never below that of the way it goes on from, and what is
        added keeps the order of two keys: the first way to a state is its best.
        """
        count = len(self.bends)
        everything = (1 << count) - 1
        if not count:
            return (), []
        # turn-rounds, held by the finish, the way, what was made before its last step, and how it was held
        ways: list[tuple[int, int, tuple[int, ...], tuple[int, ...], int]] = [
            (0, side, (number,), (side,), 0) for number in range(count) for side in (0, 1)
        ]
        heapq.heapify(ways)
        reached: set[tuple[int, int]] = set()
        deepest: list[int] = [0]
        while ways:
            turns, by_finish, numbers, sides, made = heapq.heappop(ways)
            number, side = numbers[-1], sides[-1]
            after = made | 1 << number
            if (after, side) in reached or not self._fits(number, _HELD[side], made):
                continue
            reached.add((after, side))
            if after == everything:
                return tuple(zip(numbers, sides, strict=True)), []
            if after.bit_count() > deepest[0].bit_count():
                deepest = [after]
            elif after.bit_count() == deepest[0].bit_count() and after not in deepest:
                deepest.append(after)
            for other in range(count):
                if not after >> other & 1:
                    for next_side in (0, 1):
                        if (after | 1 << other, next_side) not in reached:
                            heapq.heappush(
                                ways,
                                (
                                    turns + (next_side != side),
                                    by_finish + next_side,
                                    (*numbers, other),
                                    (*sides, next_side),
                                    after,
                                ),
                            )
        return None, deepest

    def least_obstacle(self, deepest: Sequence[int]) -> Obstacle | None:
        """Of what is in the way where most bends are made, what misses by the least; on a tie the first."""
        steps = [
            (number, held, made)
            for made in deepest
            for number in range(len(self.bends))
            if not made >> number & 1
            for held in _HELD
        ]
        found: Obstacle | None = None
        for number, held, made in steps[:_MOST_JUDGED]:
            obstacle = self._missing(number, held, made) or self._touched(number, held, made)
            if obstacle is not None and (found is None or obstacle.short < found.short - _SLACK):
                found = obstacle
        return found

    def _fits(self, number: int, held: Held, made: int) -> bool:
        if self._missing(number, held, made) is not None:
            return False
        if self.bender.motion is not Motion.TAIL or not self.room.solids:
            return True
        earlier, later = made & ((1 << number) - 1), made >> (number + 1) << (number + 1)
        # The held side lies still and costs one look.
        sides = ((False, earlier), (True, later))
        hold, swing = sides if held == "start" else sides[::-1]
        return self._is_clear((number, held, *hold)) and self._is_clear((number, held, *swing))

    def _missing(self, number: int, held: Held, made: int) -> Obstacle | None:
        """Too little straight, or a mark that cannot come to its line."""
        bend, bender = self.bends[number], self.bender
        before, after = made & ((1 << number) - 1), made >> (number + 1)
        earlier = bend.begin - (self.bends[before.bit_length() - 1].finish if before else 0.0)
        if after:
            nearest = number + (after & -after).bit_length()
            later = self.bends[nearest].begin - bend.finish
        else:
            later = self.cut_length - bend.finish
        hold, swing = (earlier, later) if held == "start" else (later, earlier)
        if hold < bender.hold_min - _SLACK:
            return Obstacle(number + 1, held, "hold", Mm(bender.hold_min - hold), straight=Mm(max(hold, 0.0)))
        if swing < bender.swing_min - _SLACK:
            return Obstacle(
                number + 1, held, "swing", Mm(bender.swing_min - swing), straight=Mm(max(swing, 0.0))
            )
        arc = bend.finish - bend.begin
        reach = self.reaches[number]
        mark = arc / 2.0 if reach is None else reach
        off = max(-hold - mark, mark - arc - swing)
        return Obstacle(number + 1, held, "mark", Mm(off)) if off > _ON_BEND else None

    def _touched(self, number: int, held: Held, made: int) -> Obstacle | None:
        """What the stick touches, and by how much."""
        earlier, later = _sides(self.bends, self.cut_length, number, held, made)
        hold, swing = (earlier, later) if held == "start" else (later, earlier)
        rolls = self._swing(number)
        touch: Touch | None = None
        for pieces, moves in ((hold, STILL), (swing, rolls)):
            found = self.room.first_touch(pieces, moves)
            if found is not None and (touch is None or found.angle_rad < touch.angle_rad):
                touch = found
        if touch is None:
            return None
        deep = max(
            self.room.depth(hold, touch.solid, STILL),
            self.room.depth(swing, touch.solid, rolls, after_rad=touch.angle_rad),
        )
        return Obstacle(
            number + 1,
            held,
            touch.solid.kind,
            Mm(TOUCH + deep),
            Deg(math.degrees(touch.angle_rad)),
            touch.solid.index,
            touch.part,
        )

    def _swing(self, number: int) -> Swing:
        bend = self.bends[number]
        return Swing(bend.radius, math.radians(bend.angle))

    def _is_clear(self, side: _Side) -> bool:
        found = self._clear.get(side)
        if found is None:
            number, held, later, _ = side
            grown = self._grow(side)
            found = grown is not None and self._keeps_clear(
                side,
                grown.straight_to(_end_out(self.bends, self.cut_length, number, held, later=later)),
                grown,
            )
            self._clear[side] = found
        return found

    def _grow(self, side: _Side) -> _Grown | None:
        """One side of a setting, to the far end of its outermost made bend; None if that much touches."""
        number, held, later, made = side
        if not made:
            return _bare(swings=later == (held == "start"))
        if side in self._grown:
            return self._grown[side]
        other = made.bit_length() - 1 if later else (made & -made).bit_length() - 1
        inner = (number, held, later, made ^ 1 << other)
        grown = self._grow(inner)
        if grown is not None:
            within = grown
            grown = _next_out(within, self.bends, number, other, held)
            line, arc = grown.pieces[-2:]
            # Where the straight to the stick's end is clear, the straight to the bend on it is.
            clear = self._clear.get(inner, False) or self._keeps_clear(side, line, within)
            if not clear or not self._keeps_clear(side, arc, None):
                grown = None
        self._grown[side] = grown
        return grown

    def _keeps_clear(self, side: _Side, piece: Piece, after: _Grown | None) -> bool:
        """after: of a straight, what it goes on from."""
        number, held, later, _ = side
        if later != (held == "start"):
            return self.room.is_clear(piece, STILL)
        leaves = after is not None and not after.pieces
        return self.room.is_clear(piece, self._swing(number), leaves_former=leaves)


def _joint_place(bends: Sequence[StickBend], number: int, places: Mapping[int, Mm] | None) -> Mm | None:
    """Where a joint after a bend (number from 1) would cut the stick, mm; None: it may not stand there."""
    if places is not None:
        return places.get(number)
    before, after = bends[number - 1].finish, bends[number].begin
    return Mm((before + after) / 2.0) if after - before > _SLACK else None


def _from(bends: Sequence[StickBend], place: Mm) -> list[StickBend]:
    """The bends as they lie on a stick that begins at a place of this one."""
    return [
        StickBend(Mm(bend.begin - place), Mm(bend.finish - place), bend.angle, bend.radius, bend.roll)
        for bend in bends
    ]
