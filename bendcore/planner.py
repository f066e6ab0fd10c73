"""The one door: a run as asked becomes a plan."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from bendcore import tape
from bendcore.banks import bank_routes, radii_not_at_hand
from bendcore.ends import check_allowances, end_of, untold, untold_fittings
from bendcore.errors import BendError, NoJoint, OutOfRange, SpecProblem
from bendcore.fitting import Laid, fitting_findings, lay, left_of, stretches
from bendcore.planned import Bank, Plan, Stick
from bendcore.route import ONE_POINT, Route, walk
from bendcore.rules import Support, judge
from bendcore.rules.facts import BentAt, JointAt, RunFacts, StraightAt, Termination
from bendcore.spec import Joining, RunSpec, read
from bendcore.sticks import Cutting
from bendcore.units import Deg, Mm, Units, tan_half
from bendcore.vectors import along
from bendcore.words import Finding, Level

_HANDBOOK_DIFFERS = 1.0
"""Handbook figures are told where they are off by more than this, mm."""

_MOST_STICKS = 10_000
"""Of one run: more is a slip of the keyboard."""


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
    routes = bank_routes(asked.parallel, route, asked.conduit.outside_diameter, problems)
    if problems:
        raise SpecProblem(problems)
    plans: list[Plan] = []
    for number, each in enumerate(routes, start=1):
        findings = [*(route.notes if number == 1 else ()), *radii_not_at_hand(each, radius, number)]
        try:
            plans.append(_plan_route(asked, each, findings))
            if number < len(routes):
                asked = _less_its_offcuts(asked, plans[-1])
        except SpecProblem as told:
            problems.extend(problem.of(conduit=number) for problem in told.problems)
    if problems:
        raise SpecProblem(problems)
    return Bank(tuple(plans))


def _less_its_offcuts(asked: RunSpec, planned: Plan) -> RunSpec:
    """What is asked of the next conduit of a bank: the same, out of the offcuts that this one leaves. Raises
    SpecProblem where they were all there is."""
    stock = asked.conduit.stock
    blanks = [stick.blank for stick in planned.sticks if stick.blank is not None]
    if not any(blank.offcut for blank in blanks):
        return asked
    left = left_of(stock, blanks, threaded=asked.conduit.joining is Joining.THREADED)
    if not replace(asked.conduit, stock=left).lengths:
        raise SpecProblem(
            [
                NoJoint(
                    "conduit.stock", "has not enough offcuts for every conduit of the bank; more of them do"
                )
            ]
        )
    return replace(asked, conduit=replace(asked.conduit, stock=left))


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


def _plan_route(asked: RunSpec, route: Route, findings: list[Finding]) -> Plan:
    start, finish = end_of(asked.ends.start), end_of(asked.ends.finish)
    before, after = start.allowance or Mm(0.0), finish.allowance or Mm(0.0)
    problems: list[BendError] = []
    if before < 0.0 or after < 0.0:
        check_allowances(route, problems, start=before, finish=after)
    spans, developed = _spans(route, before, after)
    laid = _lay(asked, route, spans, developed, problems)
    findings.extend(untold(asked.ends))
    findings.extend(untold_fittings(route))
    if route.features:
        findings.extend(_handbook(route))
    findings.extend(fitting_findings(asked, laid))
    sticks = Cutting(asked, route, spans, laid, findings).sticks(start=start, finish=finish)
    supports: tuple[Support, ...] = ()
    if asked.rules is not None:
        judged, found = judge(asked.rules, _facts(asked, route, spans, sticks, developed))
        findings.extend(judged)
        supports = tuple(found)
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
        asked.bender,
        asked.rules,
        asked.fit_from,
        supports,
    )


def _lay(
    asked: RunSpec,
    route: Route,
    spans: Sequence[tuple[Mm, Mm]],
    developed: Mm,
    problems: list[BendError],
) -> list[Laid]:
    """The run split into sticks. Raises SpecProblem with what keeps it from that, and `problems` before."""
    parts = stretches(route, spans, developed)
    for part in parts:
        if part.length <= ONE_POINT and len(parts) > 1:
            where = "ends.finish" if part.after is None else part.after.where
            problems.append(
                OutOfRange(where, "leaves no conduit between it and what stands before; move them apart")
            )
    stock = asked.conduit.stock_length
    if asked.joints != "none" and stock is not None and developed > _MOST_STICKS * stock:
        most = Mm(_MOST_STICKS * stock)
        problems.append(
            OutOfRange(
                "route",
                f"takes {tape.metres(developed, Units.MM)} of conduit; at most {_MOST_STICKS} sticks "
                f"are planned in one run, {tape.metres(most, Units.MM)}",
                developed_mm=developed,
                at_most_mm=most,
            )
        )
        raise SpecProblem(problems)
    laid: list[Laid] = []
    try:
        laid = lay(asked, parts, spans, [corner.where for corner in route.corners])
    except (NoJoint, OutOfRange) as problem:
        problems.append(problem)
    if problems:
        raise SpecProblem(problems)
    return laid


def _spans(route: Route, before: Mm, after: Mm) -> tuple[list[tuple[Mm, Mm]], Mm]:
    """Begin and finish of each corner along the run, and the developed length, allowances included, mm.

    Of a bend its tangent points, of a fitting the ends of the sticks beside it.
    """
    spans: list[tuple[Mm, Mm]] = []
    at: float = before
    taken = 0.0
    for leg, corner in zip(route.legs, route.corners, strict=False):
        if corner.fitting is None:
            takes = next_taken = corner.radius * tan_half(corner.angle)
            through = corner.radius * math.radians(corner.angle)
        else:
            takes, next_taken, through = corner.lead_in, corner.lead_out, corner.through
        begin = at + max(leg.length - taken - takes, 0.0)
        at = begin + through
        spans.append((Mm(begin), Mm(at)))
        taken = next_taken
    return spans, Mm(at + max(route.legs[-1].length - taken, 0.0) + after)


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


def _facts(
    asked: RunSpec,
    route: Route,
    spans: Sequence[tuple[Mm, Mm]],
    sticks: Sequence[Stick],
    developed: Mm,
) -> RunFacts:
    """The run as planned, as a rule pack judges it."""
    sets = {feature.where: (index, feature.kind) for index, feature in enumerate(route.features)}
    bends: list[BentAt] = []
    terminations = [Termination(Mm(0.0), "ends.start", str(asked.ends.start.kind), True, "start")]
    for corner, (begin, finish) in zip(route.corners, spans, strict=True):
        middle = Mm((begin + finish) / 2.0)
        if corner.angle > 0.0:
            feature, kind = sets.get(corner.where, (None, None))
            bent = corner.fitting is not None
            bends.append(
                BentAt(
                    len(bends) + 1,
                    corner.angle,
                    corner.radius,
                    corner.where,
                    middle,
                    feature,
                    kind,
                    bent,
                )
            )
        if corner.fitting is not None:
            told = corner.fitting
            name = str(len(terminations))
            terminations.append(Termination(middle, corner.where, str(told.kind), told.draw_in, name))
    terminations.append(Termination(developed, "ends.finish", str(asked.ends.finish.kind), True, "finish"))
    before = asked.ends.start.allowance or Mm(0.0)
    straights = list(_straights(route, spans, sticks, before, developed))
    joints = [
        JointAt(
            Mm(stick.along + stick.cut_length + (stick.finish.gap or 0.0) / 2.0),
            stick.finish.kind,
            next((each.where for each in straights if each.stick == following.number), ""),
        )
        for stick, following in pairwise(sticks)
        if stick.finish.fitting is None
    ]
    return RunFacts(
        conduit=asked.conduit,
        radius=asked.former.centreline_radius,
        bends=tuple(bends),
        straights=tuple(straights),
        terminations=tuple(terminations),
        joints=tuple(joints),
        developed_length=developed,
        cables=asked.cables,
    )


def _straights(
    route: Route, spans: Sequence[tuple[Mm, Mm]], sticks: Sequence[Stick], before: Mm, developed: Mm
) -> Iterator[StraightAt]:
    """Every straight of every stick, in order along the run. before: the allowance at its start, mm."""
    waiting = iter(sticks)
    stick = next(waiting)
    last = len(route.legs) - 1
    at = route.start
    for index, leg in enumerate(route.legs):
        begin = spans[index - 1][1] if index else Mm(0.0)
        finish = spans[index][0] if index < last else developed
        past = route.corners[index - 1].lead_out if index else -before
        origin = along(at, past - begin, leg.direction)  # where the run's place 0 would lie on this line
        while True:
            stick_finish = stick.along + stick.cut_length
            low, high = Mm(max(begin, stick.along)), Mm(min(finish, stick_finish))
            if high > low:
                start = along(origin, low, leg.direction)
                yield StraightAt(low, high, start, leg.direction, stick.number, leg.where)
            if stick_finish >= finish - ONE_POINT:
                break
            stick = next(waiting)
        at = along(at, leg.length, leg.direction)
