"""The one door: a run as asked becomes a plan."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from bendcore import tape, words
from bendcore.bends import (
    OUTLINE_CORNER_LOST,
    back_to_back_gain,
    closing_after,
    outline_corner,
    roll_between,
    roll_in_range,
    tangent_length,
)
from bendcore.ends import StickEnd, check_allowances, end_of, untold
from bendcore.errors import BendError, CannotWalk, NoJoint, OutOfRange, RadiusTooSmall, SpecProblem
from bendcore.joints import split
from bendcore.order import SetMark, bend_in_the_way, line_reach, marks_for_either_side, remeasured
from bendcore.route import Corner, Leg, Route, check_straights, walk
from bendcore.spec import DIRECTIONS, BankAsked, BankCorners, Conduit, Former, RunSpec, Tolerance, read
from bendcore.springback import Pull, first_pull
from bendcore.units import Deg, Mm, Units, tan_half
from bendcore.vectors import Vec, along, combine, dot, part_square_to
from bendcore.words import Dialect, Finding, Level

_HANDBOOK_DIFFERS = 1.0
"""Handbook figures are told where they are off by more than this, mm."""

_MOST_STICKS = 10_000
"""Of one run: more is a slip of the keyboard."""

_NO_PULL = 190.0
"""No bender turns so far, degrees (common practice)."""

_MOST_LEGS = 20_000
"""Of all conduits of a bank together."""

_MARK_SLACK = 1e-6
"""How far off the stick a mark must lie, mm, to be off it."""


@dataclass(frozen=True, slots=True)
class Marks:
    """Outline positions of a bend on the straight stick, mm from its start.

    back, inside: the corners of the outline, for measuring only; None from 179° on, and so is the gain.
    gain: the trade's, back to back: what the legs beside it measure more than the conduit they are made from.
    """

    begin: Mm
    centre: Mm
    back: Mm | None
    inside: Mm | None
    gain: Mm | None


@dataclass(frozen=True, slots=True)
class PlannedBend:
    """One bend of a stick.

    number: within its stick, from 1.  corner: of the route, from 1.  begin, finish: tangent points on the
    straight stick, mm.  roll: from the way the stick's first bend closes, in (-180, 180].  order: when it is
    made.
    """

    number: int
    corner: int
    begin: Mm
    finish: Mm
    angle: Deg
    radius: Mm
    roll: Deg
    marks: Marks
    order: int
    held: str
    set: SetMark
    pull: Pull | None = None

    def to_dict(self) -> dict[str, object]:
        """The bend as the contract writes it."""
        marks = self.marks
        told: dict[str, object] = {
            "number": self.number,
            "corner": self.corner,
            "begin": self.begin,
            "finish": self.finish,
            "angle": self.angle,
            "radius": self.radius,
            "roll": self.roll,
            "marks": {
                "begin": marks.begin,
                "centre": marks.centre,
                "back": marks.back,
                "inside": marks.inside,
            },
            "order": self.order,
            "held": self.held,
            "set": self.set.to_dict(),
        }
        if self.pull is not None:
            told["pull"] = {"first": self.pull.first, "expect": self.pull.expect}
        return told


@dataclass(frozen=True, slots=True)
class Stick:
    """One physical length of the run.

    clock: roll of its first bend from the last bend of the earlier sticks; None without either.
    along: from the run's developed start to the stick's start, mm.
    """

    number: int
    cut_length: Mm
    clock: Deg | None
    bends: tuple[PlannedBend, ...]
    start: StickEnd
    finish: StickEnd
    along: Mm

    def to_dict(self) -> dict[str, object]:
        """The stick as the contract writes it."""
        return {
            "number": self.number,
            "cut_length": self.cut_length,
            "clock": self.clock,
            "along": self.along,
            "bends": [bend.to_dict() for bend in self.bends],
            "start": self.start.to_dict(),
            "finish": self.finish.to_dict(),
        }


@dataclass(frozen=True, slots=True)
class Plan:
    """A run planned: its sticks from start to finish, and what was found."""

    run: str
    conduit: Conduit
    former: Former
    tolerance: Tolerance
    route: Route
    developed_length: Mm
    total_bend: Deg
    sticks: tuple[Stick, ...]
    findings: tuple[Finding, ...]

    @property
    def has_stop(self) -> bool:
        """Whether a finding says that the run cannot be made as planned."""
        return any(finding.level is Level.STOP for finding in self.findings)

    def to_dict(self, units: Units = Units.MM, dialect: Dialect = Dialect.UK) -> dict[str, object]:
        """The plan as the contract writes it; units and dialect are those of the findings' sentences."""
        return {
            "run": self.run,
            "developed_length": self.developed_length,
            "total_bend": self.total_bend,
            "sticks": [stick.to_dict() for stick in self.sticks],
            "findings": [_told(finding, units, dialect) for finding in self.findings],
        }


@dataclass(frozen=True, slots=True)
class Bank:
    """Conduits side by side: the given route first, each with the step of its marks from the one before."""

    plans: tuple[Plan, ...]

    @property
    def has_stop(self) -> bool:
        """Whether any of the conduits cannot be made as planned."""
        return any(plan.has_stop for plan in self.plans)

    def steps(self, conduit: int) -> tuple[Mm | None, ...]:
        """For each corner, how far the set mark moves from the conduit before, mm along the stick.

        conduit: from 1; the first has none.  None where the two bends stand on sticks of other numbers, so
        that their marks are not measured from like ends.
        """
        marks = [_marks_by_corner(plan) for plan in self.plans[max(conduit - 2, 0) : conduit]]
        if len(marks) < 2:
            return (None,) * len(marks[0])
        return tuple(
            Mm(after - before) if stick == stick_before else None
            for (stick_before, before), (stick, after) in zip(*marks, strict=True)
        )

    def to_dict(self, units: Units = Units.MM, dialect: Dialect = Dialect.UK) -> dict[str, object]:
        """`{"plans": [...]}`; each bend tells `step`, the step of its mark from the conduit before."""
        told = []
        for number, plan in enumerate(self.plans, start=1):
            steps = iter(self.steps(number))
            entry = plan.to_dict(units, dialect)
            entry["conduit"] = number
            entry["sticks"] = [
                {
                    **stick.to_dict(),
                    "bends": [{**bend.to_dict(), "step": next(steps)} for bend in stick.bends],
                }
                for stick in plan.sticks
            ]
            told.append(entry)
        return {"plans": told}


def _marks_by_corner(plan: Plan) -> list[tuple[int, Mm]]:
    return [(stick.number, bend.set.mark) for stick in plan.sticks for bend in stick.bends]


def _told(finding: Finding, units: Units, dialect: Dialect) -> dict[str, object]:
    return {
        "rule": finding.rule,
        "level": str(finding.level),
        "where": finding.where,
        "text": words.sentence(finding, units, dialect),
        "source": finding.source,
        "figures": dict(finding.figures),
    }


def plan(spec: object) -> Plan | Bank:
    """Plans a run: marks, angles, rolls and cut lengths, exact to rounding, in full precision.

    spec: a dict by the contract (docs/engine.md), or a RunSpec.  A Bank where the spec asks for conduits in
    parallel.
    Raises SpecProblem with every problem found, each with its place, its figures and what is allowed.
    """
    asked = spec if isinstance(spec, RunSpec) else _read_all(spec)
    problems: list[BendError] = []
    radius = asked.former.centreline_radius
    route = walk(asked.route, radius, asked.conduit.outside_diameter, problems)
    if route is None:
        raise SpecProblem(problems)
    if asked.parallel is None:
        return _plan_route(asked, route, list(route.notes))
    routes = _bank_routes(asked.parallel, route, asked.conduit.outside_diameter, problems)
    if problems:
        raise SpecProblem(problems)
    plans: list[Plan] = []
    for number, each in enumerate(routes, start=1):
        findings = [*(route.notes if number == 1 else ()), *_radii_not_at_hand(each, radius, number)]
        try:
            plans.append(_plan_route(asked, each, findings))
        except SpecProblem as told:
            problems.extend(problem.of(conduit=number) for problem in told.problems)
    if problems:
        raise SpecProblem(problems)
    return Bank(tuple(plans))


def _read_all(spec: object) -> RunSpec:
    """Reads the spec; where other parts of it are refused but its route can be walked, that is judged as
    well."""
    try:
        return read(spec)
    except SpecProblem as told:
        problems = list(told.problems)
        if isinstance(spec, Mapping):
            core = {key: spec[key] for key in ("conduit", "former", "route") if key in spec}
            try:
                asked = read({**core, "joints": "none"})
            except SpecProblem as more:
                known = {(each.code, each.where) for each in problems}
                problems.extend(each for each in more.problems if (each.code, each.where) not in known)
            else:
                walk(asked.route, asked.former.centreline_radius, asked.conduit.outside_diameter, problems)
        raise SpecProblem(problems) from None


# ------------------------------------------------------------------------------------------------ one conduit


def _plan_route(asked: RunSpec, route: Route, findings: list[Finding]) -> Plan:
    start, finish = end_of(asked.ends.start), end_of(asked.ends.finish)
    before, after = start.allowance or Mm(0.0), finish.allowance or Mm(0.0)
    problems: list[BendError] = []
    if before < 0.0 or after < 0.0:
        check_allowances(route, problems, start=before, finish=after)
    spans, developed = _spans(route, before, after)
    ends: list[Mm] = []
    joints = asked.joints
    gap = Mm(0.0)
    if joints != "none":
        gap = joints.gap
        stock = asked.conduit.stock_length
        assert stock is not None  # noqa: S101 - the spec's own check holds it
        if developed > _MOST_STICKS * stock:
            most = Mm(_MOST_STICKS * stock)
            raise SpecProblem(
                [
                    *problems,
                    OutOfRange(
                        "route",
                        f"takes {tape.metres(developed, Units.MM)} of conduit; at most {_MOST_STICKS} sticks "
                        f"are planned in one run, {tape.metres(most, Units.MM)}",
                        developed_mm=developed,
                        at_most_mm=most,
                    ),
                ]
            )
        try:
            ends = split(
                spans,
                developed,
                stock=stock,
                clearance=joints.clearance,
                min_piece=joints.min_piece,
                gap=gap,
                wheres=[corner.where for corner in route.corners],
            )
        except NoJoint as problem:
            problems.append(problem)
    if problems:
        raise SpecProblem(problems)
    findings.extend(untold(asked.ends))
    if route.features:
        findings.extend(_handbook(route))
    sticks = _Sticks(asked, route, spans, findings).cut(ends, developed, gap, start=start, finish=finish)
    return Plan(
        asked.run,
        asked.conduit,
        asked.former,
        asked.tolerance,
        route,
        developed,
        Deg(math.fsum([corner.angle for corner in route.corners])),
        sticks,
        tuple(findings),
    )


def _spans(route: Route, before: Mm, after: Mm) -> tuple[list[tuple[Mm, Mm]], Mm]:
    """Begin and finish of each bend along the run, and the developed length, allowances included, mm."""
    spans: list[tuple[Mm, Mm]] = []
    at: float = before
    tangent = 0.0
    for leg, corner in zip(route.legs, route.corners, strict=False):
        next_tangent = corner.radius * tan_half(corner.angle)
        begin = at + max(leg.length - tangent - next_tangent, 0.0)
        at = begin + corner.radius * math.radians(corner.angle)
        spans.append((Mm(begin), Mm(at)))
        tangent = next_tangent
    return spans, Mm(at + max(route.legs[-1].length - tangent, 0.0) + after)


def _handbook(route: Route) -> list[Finding]:
    return [
        Finding(
            "handbook-figures",
            Level.NOTE,
            feature.where,
            {
                "feature": feature.kind,
                "rise_mm": feature.rise,
                "angle_deg": feature.angle,
                "spacing_mm": figures.spacing,
                "shrink_mm": figures.shrink,
                "handbook_spacing_mm": figures.handbook_spacing,
                "handbook_shrink_mm": figures.handbook_shrink,
            },
            "common practice: multiplier 1 / sin(angle), shrink tan(angle / 2) for each mm of rise",
        )
        for feature in route.features
        if abs((figures := feature.figures).spacing - figures.handbook_spacing) > _HANDBOOK_DIFFERS
        or abs(figures.shrink - figures.handbook_shrink) > _HANDBOOK_DIFFERS
    ]


@dataclass(slots=True)
class _Sticks:
    """Cuts a run into sticks and sets each bend in the bender."""

    asked: RunSpec
    route: Route
    spans: Sequence[tuple[Mm, Mm]]
    findings: list[Finding]

    def cut(
        self, ends: Sequence[Mm], developed: Mm, gap: Mm, *, start: StickEnd, finish: StickEnd
    ) -> tuple[Stick, ...]:
        sticks: list[Stick] = []
        first, begin = 0, Mm(0.0)
        spans, count = self.spans, len(self.spans)
        joint, coupled = StickEnd("joint"), StickEnd("coupler", None, gap)
        sticks_in_all = len(ends) + 1
        for number, end in enumerate([*ends, developed], start=1):
            last = first
            while last < count and spans[last][0] < end:
                last += 1
            clock = self._roll_from_before(first) if 0 < first < last else None
            length = Mm(end - begin)
            sticks.append(
                Stick(
                    number,
                    length,
                    clock,
                    self._bends(first, last, begin, length, stick=number),
                    start if number == 1 else joint,
                    finish if number == sticks_in_all else coupled,
                    begin,
                )
            )
            first, begin = last, Mm(end + gap)
        return tuple(sticks)

    def _roll_from_before(self, index: int) -> Deg:
        """Roll of a bend from the one before it in the run."""
        corner, before = self.route.corners[index], self.route.corners[index - 1]
        legs = self.route.legs
        closed = closing_after(legs[index - 1].direction, before.toward, before.angle)
        return roll_between(legs[index].direction, closed, corner.toward)

    def _bends(
        self, first: int, last: int, start: Mm, cut_length: Mm, *, stick: int
    ) -> tuple[PlannedBend, ...]:
        asked = self.asked
        diameter, former, calibration = asked.conduit.outside_diameter, asked.former, asked.calibration
        line = str(former.set_line.kind)
        corners, spans = self.route.corners, self.spans
        made: list[tuple[Mm, Mm]] = []
        bends: list[PlannedBend] = []
        roll = Deg(0.0)
        pulls: dict[float, Pull] = {}
        reaches: dict[float, Mm | None] = {}
        for number, index in enumerate(range(first, last), start=1):
            corner = corners[index]
            angle, radius = corner.angle, corner.radius
            begin, finish = Mm(spans[index][0] - start), Mm(spans[index][1] - start)
            if number > 1:
                roll = roll_in_range(roll + self._roll_from_before(index))
            tangent = tangent_length(radius, angle)
            arc = Mm(finish - begin)
            back = inside = given = None
            if angle < OUTLINE_CORNER_LOST:
                outline = outline_corner(diameter, angle)
                back, inside = Mm(begin + tangent + outline), Mm(begin + tangent - outline)
                given = back_to_back_gain(radius, angle, diameter)
            if radius not in reaches:
                reaches[radius] = line_reach(former, radius, diameter)
            held_start, held_finish = marks_for_either_side(begin, arc, reaches[radius])
            again = None
            if made:
                before = bends[-1]
                again = remeasured(held_start, before.finish, before.radius, before.angle, diameter=diameter)
            if calibration is not None and angle not in pulls:
                pulls[angle] = first_pull(angle, calibration, asked.tolerance.angle)
            bends.append(
                PlannedBend(
                    number,
                    index + 1,
                    begin,
                    finish,
                    angle,
                    radius,
                    roll,
                    Marks(begin, Mm(begin + arc / 2.0), back, inside, given),
                    number,
                    "start",
                    SetMark(line, held_start, Mm(cut_length - finish), held_start, held_finish, again),
                    pulls.get(angle),
                )
            )
            pull = pulls.get(angle)
            if pull is not None and pull.first >= _NO_PULL:
                figures = {"stick": stick, "bend": number, "pull_deg": pull.first}
                self.findings.append(
                    Finding("pull-too-far", Level.WARN, corner.where, figures, "common practice")
                )
            self._judge_mark(held_start, made, cut_length, where=corner.where, bend=number, stick=stick)
            made.append((begin, finish))
        return tuple(bends)

    def _judge_mark(
        self, mark: Mm, made: Sequence[tuple[Mm, Mm]], cut_length: Mm, *, where: str, bend: int, stick: int
    ) -> None:
        on = bend_in_the_way(mark, made)
        if on is None and -_MARK_SLACK <= mark <= cut_length + _MARK_SLACK:
            return
        self.findings.append(
            Finding(
                "mark-off",
                Level.STOP,
                where,
                {"stick": stick, "bend": bend, "mark_mm": mark, "cut_length_mm": cut_length, "made_bend": on},
                "geometry",
            )
        )


# ------------------------------------------------------------------------------------------------ a bank


def _bank_routes(asked: BankAsked, route: Route, diameter: Mm, problems: list[BendError]) -> list[Route]:
    """The routes of a bank, the given one first; problems of all of them are appended.

    Each lies so many spacings along the part of `toward` square to the first leg; the section is carried
    round every corner without twist, and starts and finishes are squared off.  Source: docs/method/banks.md.
    """
    side = part_square_to(DIRECTIONS[asked.toward], route.legs[0].direction)
    if side is None:
        problems.append(
            CannotWalk(
                "parallel.toward",
                f"{asked.toward} lies along the first leg; a direction square or aslant to it is wanted",
            )
        )
        return []
    legs = asked.count * len(route.legs)
    if legs > _MOST_LEGS:
        problems.append(
            OutOfRange(
                "parallel.count",
                f"makes {legs} legs of {asked.count} conduits; at most {_MOST_LEGS} are planned at once",
                at_most=_MOST_LEGS,
            )
        )
        return []
    routes = [route]
    for number in range(2, asked.count + 1):
        shifted = _shifted(route, side, Mm((number - 1) * asked.spacing), asked.corners)
        told = len(problems)
        for index, corner in enumerate(shifted.corners, start=1):
            if corner.radius <= diameter / 2.0:
                problems.append(
                    RadiusTooSmall(
                        "parallel.corners",
                        f"concentric leaves corner {index} of conduit {number} a radius of "
                        f"{tape.fine(corner.radius)}; above {tape.fine(Mm(diameter / 2.0))} is allowed: "
                        "put the others outside, or choose equal corners",
                        conduit=number,
                        corner=index,
                        above_mm=diameter / 2.0,
                    )
                )
        if len(problems) == told:
            check_straights(shifted, problems, conduit=number)
        routes.append(shifted)
    return routes


def _shifted(route: Route, side: Vec, distance: Mm, kind: BankCorners) -> Route:
    """The route shifted sideways by a distance, mm; `side` is unit and square to the first leg."""
    # Nearer the start by this much at the corner before and the corner looked at: w tan(angle / 2) each.
    corners: list[Corner] = []
    legs: list[Leg] = []
    section = side
    start = at = along(route.start, distance, side)
    nearer = 0.0
    for leg, corner in zip(route.legs, route.corners, strict=False):
        way = leg.direction
        inward = distance * dot(section, corner.toward)
        if abs(inward) < 1e-9 * distance:
            inward = 0.0  # square to the plane of the bend but for rounding
        next_nearer = inward * tan_half(corner.angle)
        size = Mm(leg.length - nearer - next_nearer)
        at = along(at, size, way)
        legs.append(replace(leg, length=size))
        radius = Mm(corner.radius - inward) if kind is BankCorners.CONCENTRIC else corner.radius
        corners.append(replace(corner, at=at, radius=radius))
        # Carried round the corner: the part toward the centre turns with the bend, the part square to it
        # stays.
        toward_centre = dot(section, corner.toward)
        turned = closing_after(way, corner.toward, corner.angle)
        section = combine(1.0, along(section, -toward_centre, corner.toward), toward_centre, turned)
        nearer = next_nearer
    last = route.legs[-1]
    size = Mm(last.length - nearer)
    legs.append(replace(last, length=size))
    return Route(start, along(at, size, last.direction), tuple(corners), tuple(legs))


def _radii_not_at_hand(route: Route, radius: Mm, conduit: int) -> list[Finding]:
    return [
        Finding(
            "former-radius",
            Level.STOP,
            corner.where,
            {"conduit": conduit, "corner": index, "need_mm": corner.radius, "radius_mm": radius},
            "geometry; docs/method/banks.md",
        )
        for index, corner in enumerate(route.corners, start=1)
        if abs(corner.radius - radius) > 1e-6
    ]
