"""From a run laid out to its sticks: what each is cut from and ends in, and how each bend is set."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise

from bendcore.bends import (
    OUTLINE_CORNER_LOST,
    back_to_back_gain,
    closing_after,
    outline_corner,
    roll_between,
    roll_in_range,
    tangent_length,
)
from bendcore.ends import FittingEnd, StickEnd, Thread, needs_thread
from bendcore.fitting import Laid, closing_kind, order_of_fitting, threads
from bendcore.joints import Joint, JointKind
from bendcore.order import (
    Order,
    SetMark,
    Setting,
    StickBend,
    bend_in_the_way,
    bending_order,
    line_reach,
    marks_for_either_side,
    order_findings,
    remeasured,
)
from bendcore.planned import Marks, PlannedBend, Stick
from bendcore.route import Route
from bendcore.spec import Joining, JointsAsked, RunSpec
from bendcore.springback import Pull, first_pull
from bendcore.units import Deg, Mm
from bendcore.words import Finding, Level

_NO_PULL = 190.0
"""No bender turns so far, degrees (common practice)."""

_MARK_SLACK = 1e-6
"""How far off the stick a mark must lie, mm, to be off it."""


@dataclass(slots=True)
class Cutting:
    """Cuts a run into sticks and sets each bend in the bender; what it finds is appended to `findings`.

    spans: begin and finish of each corner along the run, mm.  laid: its stretches, split.
    """

    asked: RunSpec
    route: Route
    spans: Sequence[tuple[Mm, Mm]]
    laid: Sequence[Laid]
    findings: list[Finding]
    _numbers: list[int | None] = field(init=False)  # of each corner; None for a fitting in a leg
    _turn_before: list[int | None] = field(init=False)  # index of the last corner before that turns
    _reaches: dict[float, Mm | None] = field(init=False, default_factory=dict)
    _pulls: dict[float, Pull] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self._numbers, self._turn_before = [], []
        turned, last = 0, None
        for index, corner in enumerate(self.route.corners):
            self._turn_before.append(last)
            if corner.angle > 0.0:
                turned, last = turned + 1, index
                self._numbers.append(turned)
            else:
                self._numbers.append(None)

    def sticks(self, *, start: StickEnd, finish: StickEnd) -> tuple[Stick, ...]:
        """The sticks of the run, from its start to its finish, between its two ends as made."""
        fits = iter(order_of_fitting(self.laid))
        threaded = self.asked.conduit.joining is Joining.THREADED
        sticks: list[Stick] = []
        for part, laid in enumerate(self.laid):
            opens, closes = part == 0, part == len(self.laid) - 1
            stretch = laid.stretch
            at_start = not opens or needs_thread(self.asked.ends.start)
            at_finish = not closes or needs_thread(self.asked.ends.finish)
            joints: Sequence[Joint | None] = [*(() if laid.split is None else laid.split.joints), None]
            blanks = [None] if laid.split is None else laid.split.blanks
            each_thread = threads(laid, at_start=at_start, at_finish=at_finish, threaded=threaded)
            begin, first = stretch.begin, stretch.first
            before = start if opens else StickEnd("joint")
            for joint, blank, thread in zip(joints, blanks, each_thread, strict=True):
                end = stretch.finish if joint is None else Mm(stretch.begin + joint.at)
                last = first
                while last < stretch.last and self.spans[last][0] < end:
                    last += 1
                if joint is not None:
                    after = StickEnd(str(joint.kind), None, joint.gap)
                else:
                    after = finish if closes else self._at_fitting(stretch.last)
                number = len(sticks) + 1
                length = Mm(end - begin)
                bends, turn_rounds = self._bends(first, last, begin, length, stick=number)
                sticks.append(
                    Stick(
                        number,
                        length,
                        self._roll_from_before(first) if first < last else None,
                        bends,
                        _threaded(before, thread[0]),
                        _threaded(after, thread[1]),
                        begin,
                        next(fits),
                        blank,
                        turn_rounds,
                    )
                )
                if joint is not None:
                    first, begin = last, Mm(end + joint.gap)
                    before = StickEnd("joint")
        return tuple(sticks)

    def _at_fitting(self, index: int) -> StickEnd:
        corner = self.route.corners[index]
        assert corner.fitting is not None  # noqa: S101 - stretches end at fittings
        turns = corner.angle > 0.0
        clock = self._roll_from_before(index) if turns else None
        told = FittingEnd(self._numbers[index], corner.angle, clock, corner.fitting.draw_in)
        return StickEnd(str(corner.fitting.kind), None, corner.through, None, told)

    def _roll_from_before(self, index: int) -> Deg | None:
        """Roll of a turn from the one before it in the run; None for the first."""
        before = self._turn_before[index]
        if before is None:
            return None
        corner, last, legs = self.route.corners[index], self.route.corners[before], self.route.legs
        closed = closing_after(legs[before].direction, last.toward, last.angle)
        return roll_between(legs[index].direction, closed, corner.toward)

    # ------------------------------------------------------------------------------------------ one stick

    def _bends(
        self, first: int, last: int, start: Mm, cut_length: Mm, *, stick: int
    ) -> tuple[tuple[PlannedBend, ...], int | None]:
        """The bends of a stick, as they are set, and how often it is turned round; corners first to last."""
        corners = self.route.corners[first:last]
        straight: list[StickBend] = []
        roll = Deg(0.0)
        for index, corner in enumerate(corners, start=first):
            if straight:
                roll = roll_in_range(roll + (self._roll_from_before(index) or 0.0))
            begin, finish = Mm(self.spans[index][0] - start), Mm(self.spans[index][1] - start)
            straight.append(StickBend(begin, finish, corner.angle, corner.radius, roll))
        order, settings = self._order(straight, cut_length, [corner.where for corner in corners], stick=stick)
        bends = [
            self._bend(number, straight, settings, self._numbers[first + number] or 0)
            for number in range(len(straight))
        ]
        if order.settings is None:
            bends = [replace(bend, order=None, held=None) for bend in bends]
        made: list[tuple[Mm, Mm]] = []
        for bend, corner in zip(bends, corners, strict=True):
            if bend.pull is not None and bend.pull.first >= _NO_PULL:
                figures = {"stick": stick, "bend": bend.number, "pull_deg": bend.pull.first}
                self.findings.append(
                    Finding("pull-too-far", Level.WARN, corner.where, figures, "common practice")
                )
            if self.asked.bender is None or not order.searched:
                self._judge_mark(bend, made, cut_length, where=corner.where, stick=stick)
                made.append((bend.begin, bend.finish))
        return tuple(bends), order.turn_rounds

    def _order(
        self, straight: Sequence[StickBend], cut_length: Mm, wheres: Sequence[str], *, stick: int
    ) -> tuple[Order, Sequence[Setting]]:
        """The order of bends, and how each is set: where there is no order, 1 to n held by the start."""
        diameter, bender = self.asked.conduit.outside_diameter, self.asked.bender
        reaches = [self._reach(bend.radius) for bend in straight]
        order = bending_order(
            straight,
            cut_length,
            diameter=diameter,
            bender=bender,
            reaches=reaches,
            joint_places=self._joint_places(straight),
        )
        self.findings.extend(order_findings(order, stick=stick, wheres=wheres))
        if order.settings is not None:
            return order, order.settings
        plain = bending_order(straight, cut_length, diameter=diameter, bender=None, reaches=reaches)
        assert plain.settings is not None  # noqa: S101 - without a bender nothing is in the way
        return order, plain.settings

    def _joint_places(self, straight: Sequence[StickBend]) -> dict[int, Mm]:
        """The middle of each straight of a stick that has room for a joint, by the bend before it.

        Room for the clearance on both sides, the joint's gap and, in threaded conduit, what a joint that
        closes wants; of joints "none" nothing is known but that it must be a straight.
        """
        joints = self.asked.joints
        least = 0.0
        if isinstance(joints, JointsAsked):
            wants: float = joints.gap
            if self.asked.conduit.joining is Joining.THREADED:
                if closing_kind(self.asked.rules) is JointKind.UNION:
                    wants = max(wants, joints.union_gap or 0.0)
                else:
                    wants += joints.long_thread or 0.0
            least = 2.0 * joints.clearance + wants
        return {
            number: Mm((before.finish + after.begin) / 2.0)
            for number, (before, after) in enumerate(pairwise(straight), start=1)
            if after.begin - before.finish >= max(least, 1.0)
        }

    def _bend(
        self, index: int, straight: Sequence[StickBend], settings: Sequence[Setting], corner: int
    ) -> PlannedBend:
        bend, setting, asked = straight[index], settings[index], self.asked
        diameter, angle, radius = asked.conduit.outside_diameter, bend.angle, bend.radius
        tangent = tangent_length(radius, angle)
        back = inside = given = None
        if angle < OUTLINE_CORNER_LOST:
            outline = outline_corner(diameter, angle)
            back, inside = Mm(bend.begin + tangent + outline), Mm(bend.begin + tangent - outline)
            given = back_to_back_gain(radius, angle, diameter)
        arc = Mm(bend.finish - bend.begin)
        held_start, held_finish = marks_for_either_side(bend.begin, arc, self._reach(radius))
        mark = held_finish if setting.held == "finish" else held_start
        again = None
        if index and settings[index - 1].order < setting.order:
            before = straight[index - 1]
            again = remeasured(mark, before.finish, before.radius, before.angle, diameter=diameter)
        return PlannedBend(
            index + 1,
            corner,
            bend.begin,
            bend.finish,
            angle,
            radius,
            bend.roll,
            Marks(bend.begin, Mm(bend.begin + arc / 2.0), back, inside, given),
            setting.order,
            setting.held,
            SetMark(str(asked.former.set_line.kind), mark, setting.sweep, held_start, held_finish, again),
            self._pull(angle),
            setting.turned,
            setting.posture,
        )

    def _reach(self, radius: Mm) -> Mm | None:
        if radius not in self._reaches:
            self._reaches[radius] = line_reach(self.asked.former, radius, self.asked.conduit.outside_diameter)
        return self._reaches[radius]

    def _pull(self, angle: Deg) -> Pull | None:
        calibration = self.asked.calibration
        if calibration is None:
            return None
        if angle not in self._pulls:
            self._pulls[angle] = first_pull(angle, calibration, self.asked.tolerance.angle)
        return self._pulls[angle]

    def _judge_mark(
        self, bend: PlannedBend, made: Sequence[tuple[Mm, Mm]], cut_length: Mm, *, where: str, stick: int
    ) -> None:
        """Whether the mark can be set where bends are made 1 to n, held by the start."""
        mark = bend.set.held_start
        on = bend_in_the_way(mark, made)
        if on is None and -_MARK_SLACK <= mark <= cut_length + _MARK_SLACK:
            return
        self.findings.append(
            Finding(
                "mark-off",
                Level.STOP,
                where,
                {
                    "stick": stick,
                    "bend": bend.number,
                    "mark_mm": mark,
                    "cut_length_mm": cut_length,
                    "made_bend": on,
                },
                "geometry",
            )
        )


def _threaded(end: StickEnd, thread: Thread | None) -> StickEnd:
    return end if thread is None else replace(end, thread=thread)
