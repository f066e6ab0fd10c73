"""A route as asked, points or measured steps, walked to corners and legs."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from bendcore import features, tape
from bendcore.bends import gain, outgoing, outline_corner
from bendcore.errors import BendError, BendsOverlap, CannotWalk, Figure, NoRoute, OutOfRange, Reversal
from bendcore.spec import (
    DIRECTIONS,
    REACH,
    REVERSAL,
    SMALLEST_TURN,
    BendStep,
    BoxSetStep,
    FittingStep,
    Heading,
    KickStep,
    LegStep,
    Measured,
    OffsetStep,
    PointsRoute,
    RouteAsked,
    SaddleMeasured,
    SaddleSetStep,
    Step,
    StepsRoute,
)
from bendcore.units import Deg, Mm, settle, sin_deg, tan_half
from bendcore.vectors import Vec, along, any_square_to, combine, cross, dot, length, part_square_to
from bendcore.words import Finding, Level

NONE = Mm(0.0)

_MOST_PASSES = 8
"""Over points that turn too little to be corners. Leaving some out may straighten their neighbours, a shade
each time; what is left after so many passes is within a rounding of the least turn, and is bent."""

ONE_POINT = 1e-6
"""Points within this, mm, are one point; a straight short by no more than this counts as none."""


@dataclass(frozen=True, slots=True)
class Corner:
    """Where two centrelines meet, or where a fitting stands in a leg (angle 0).

    toward: unit, square to the leg before, the way the bend closes.  radius: of the bend, mm; of a fitting
    without a bend of its own 0.  fitting: what takes the corner, instead of a bend in a stick.
    """

    at: Vec
    angle: Deg
    toward: Vec
    radius: Mm
    where: str
    fitting: FittingStep | None = None

    @property
    def lead_in(self) -> Mm:
        """What it takes of the leg before: the bend's tangent length, or the fitting's own leg, mm."""
        if self.fitting is None or self.fitting.leg_in is None:
            return Mm(self.radius * tan_half(self.angle))
        return self.fitting.leg_in

    @property
    def lead_out(self) -> Mm:
        """What it takes of the leg after, mm."""
        if self.fitting is None or self.fitting.leg_out is None:
            return Mm(self.radius * tan_half(self.angle))
        return self.fitting.leg_out

    @property
    def through(self) -> Mm:
        """The way through it along the centreline, from the end of its lead in to that of its lead out, mm.

        For a fitting lead_in + lead_out - gain; for a bend that is its arc.
        """
        return Mm(self.lead_in + self.lead_out - gain(self.radius, self.angle))


@dataclass(frozen=True, slots=True)
class Part:
    """A leg inside a feature: a slope, which grows with the rise, or (without a sine) a saddle set's width.

    rise, spread: of the feature as asked, mm.  sine: what each mm of the slope adds to the rise in its plane.
    """

    rise: Mm = Mm(0.0)
    spread: Mm = Mm(0.0)
    sine: float | None = None

    def change(self, short: Mm) -> tuple[str, Mm]:
        """What of the feature must grow for the leg to grow by `short`, and by how much, mm."""
        if self.sine is None:
            return "width", short
        in_plane = math.hypot(self.rise, self.spread) + short * self.sine
        return "rise", Mm(math.sqrt(in_plane * in_plane - self.spread * self.spread) - self.rise)


@dataclass(frozen=True, slots=True)
class Leg:
    """The straight between two corners (or an end), corner to corner. direction: unit. where: what told it.

    part_of: the feature that the leg lies in; None for a leg as measured.
    """

    length: Mm
    direction: Vec
    where: str
    part_of: "Part | None" = None


@dataclass(frozen=True, slots=True)
class Feature:
    """An offset or saddle set of the route, for the figures told beside it. kind: a word of the glossary."""

    kind: str
    where: str
    rise: Mm
    angle: Deg
    figures: features.Figures


@dataclass(frozen=True, slots=True)
class Route:
    """Corners and legs from start to finish: one leg more than corners."""

    start: Vec
    finish: Vec
    corners: tuple[Corner, ...]
    legs: tuple[Leg, ...]
    features: tuple[Feature, ...] = ()
    notes: tuple[Finding, ...] = ()

    @property
    def points(self) -> tuple[Vec, ...]:
        """Start, corners and finish, mm."""
        return (self.start, *(corner.at for corner in self.corners), self.finish)


def walk(asked: RouteAsked, radius: Mm, diameter: Mm, problems: list[BendError]) -> Route | None:
    """Walks a route to corners and legs; None if problems were found (appended, each with its place).

    radius: of every bend, mm.  diameter: outside, mm, for legs measured to the back, the inside or the wall.
    A problem with a direction does not hide a leg that is too short: lengths and angles do not depend on it.
    """
    before = len(problems)
    if isinstance(asked, PointsRoute):
        route = _walk_points(asked, radius, problems)
    else:
        route = _StepWalk(asked, radius, diameter, problems).walk()
    if route is not None:
        check_straights(route, problems)
    return route if len(problems) == before else None


def check_straights(route: Route, problems: list[BendError], *, conduit: int | None = None) -> None:
    """Appends one BendsOverlap for each leg that is too short for the bends at its ends.

    conduit: its number in a bank, told with the problem.
    """
    tangent = 0.0
    corners = route.corners
    last = len(corners)
    for index, leg in enumerate(route.legs):
        before, after = tangent, 0.0
        if index < last:
            corner = corners[index]
            if corner.fitting is None:
                after = tangent = corner.radius * tan_half(corner.angle)
            else:
                after, tangent = corner.lead_in, corner.lead_out
        short = before + after - leg.length
        if short > ONE_POINT:
            problems.append(_overlap(route, index, Mm(before + after), Mm(short), conduit=conduit))


def _overlap(route: Route, index: int, need: Mm, short: Mm, *, conduit: int | None) -> BendsOverlap:
    leg, corners = route.legs[index], route.corners
    ends = [(corners[index - 1], corners[index - 1].lead_out)] if index else []
    if index < len(corners):
        ends.append((corners[index], corners[index].lead_in))
    bends = " and ".join(
        f"{f'a bend of {tape.degrees(corner.angle)}' if corner.fitting is None else 'the fitting'} takes "
        f"{tape.fine(takes)}"
        for corner, takes in ends
    )
    figures: dict[str, Figure] = {
        "leg": index + 1,
        "length_mm": leg.length,
        "need_mm": need,
        "grow_mm": short,
    }
    if leg.part_of is None:
        change = f"Make it {tape.fine(short, up=True)} longer"
    else:
        what, more = leg.part_of.change(short)
        figures[f"grow_{what}_mm"] = more
        change = f"Make the {what} {tape.fine(more, up=True)} more"
    which = f"leg {index + 1}"
    if conduit is not None:
        which += f" of conduit {conduit}"
        figures["conduit"] = conduit
    return BendsOverlap(
        leg.where,
        f"{which} comes to {tape.fine(leg.length)} from corner to corner, "
        f"{tape.fine(short, up=True)} short: "
        f"{bends}, {tape.fine(need)} in all. {change}, or bend to a smaller radius or angle",
        **figures,
    )


def _reversal(where: str, angle: float) -> Reversal:
    return Reversal(
        where,
        f"turns back on itself; no bend does that. Below {REVERSAL}° is allowed: "
        "make the way back by two corners",
        angle_deg=angle,
        below_deg=REVERSAL,
    )


# ---------------------------------------------------------------------------------------------------- points


def _walk_points(asked: PointsRoute, radius: Mm, problems: list[BendError]) -> Route | None:
    points = asked.points
    kept, notes = _distinct(points)
    if len(kept) < 2:
        problems.append(NoRoute("route.points", "are all one point; two points apart are wanted at least"))
        return None
    before = len(problems)
    route, straight = _corners(points, kept, radius, problems)
    for passes in range(1, _MOST_PASSES + 1):
        if not straight:
            break
        # Leaving a point out turns the legs beside it, so the corners next to it are reckoned again.
        notes.extend(
            Finding("turn-too-small", Level.NOTE, f"route.points[{index}]", {"point": index + 1}, "geometry")
            for index in straight
        )
        del problems[before:]
        kept = [index for index in kept if index not in straight]
        least = SMALLEST_TURN if passes < _MOST_PASSES else 0.0
        route, straight = _corners(points, kept, radius, problems, least=least)
    return route if not notes else replace(route, notes=tuple(notes))


def _corners(
    points: Sequence[Vec],
    kept: Sequence[int],
    radius: Mm,
    problems: list[BendError],
    *,
    least: float = SMALLEST_TURN,
) -> tuple[Route, set[int]]:
    """Corners and legs over the points kept, and those of them that turn too little to be corners.

    The leg in hand runs from the last corner to the point looked at; past a point that is no corner it goes
    on. So many small turns, none a corner, still come to one where they add up.
    """
    corners: list[Corner] = []
    legs: list[Leg] = []
    straight: set[int] = set()
    here = kept[1]
    start, at = points[kept[0]], points[here]
    last_corner = start
    size, way = _leg(last_corner, at)
    for there in kept[2:]:
        beyond = points[there]
        next_size, next_way = _leg(at, beyond)
        across = cross(way, next_way)
        angle = settle(math.degrees(math.atan2(length(across), dot(way, next_way))))
        if angle < least:
            straight.add(here)
            at, here = beyond, there
            size, way = _leg(last_corner, at)
            continue
        where = f"route.points[{here}]"
        if angle > REVERSAL:
            problems.append(_reversal(where, angle))
            # It takes nothing from the legs beside it, which are judged on.
            corners.append(Corner(at, Deg(0.0), any_square_to(way), radius, where))
        else:
            # Square to the leg by construction: `next_way` less its part along the leg loses digits for small
            # turns.
            square = cross(across, way)
            sine = length(square)
            toward = (square[0] / sine, square[1] / sine, square[2] / sine)
            corners.append(Corner(at, angle, toward, radius, where))
        legs.append(Leg(size, way, where))
        last_corner, at, here = at, beyond, there
        size, way = next_size, next_way
    legs.append(Leg(size, way, f"route.points[{here}]"))
    return Route(start, at, tuple(corners), tuple(legs)), straight


def _distinct(points: Sequence[Vec]) -> tuple[list[int], list[Finding]]:
    kept, notes = [0], []
    last = points[0]
    for index in range(1, len(points)):
        point = points[index]
        if abs(point[0] - last[0]) + abs(point[1] - last[1]) + abs(point[2] - last[2]) > 2.0 * ONE_POINT or (
            length((point[0] - last[0], point[1] - last[1], point[2] - last[2])) > ONE_POINT
        ):
            kept.append(index)
            last = point
        else:
            notes.append(
                Finding(
                    "points-merged",
                    Level.NOTE,
                    f"route.points[{index}]",
                    {"first": kept[-1] + 1, "second": index + 1},
                    "geometry",
                )
            )
    return kept, notes


def _leg(start: Vec, finish: Vec) -> tuple[Mm, Vec]:
    east, north, up = finish[0] - start[0], finish[1] - start[1], finish[2] - start[2]
    size = math.sqrt(east * east + north * north + up * up)
    return Mm(size), (east / size, north / size, up / size)


# ---------------------------------------------------------------------------------------------------- steps


@dataclass(slots=True)
class _Neighbour:
    """What a leg starts from or ends at: an end of the run, a bend, or the outer corner of a feature."""

    name: str
    angle: Deg | None = None  # None: an end of the run
    feature: bool = False
    lead: Mm = NONE
    only_corner: str = ""  # what its one corner is, where no other convention goes with it


@dataclass(slots=True)
class _OpenLeg:
    """A leg still being told: several in a row add up."""

    near: _Neighbour
    length: float = 0.0
    where: str = ""
    steps: int = 0
    last: LegStep | None = None
    after_kick: bool = False
    part_of: Part | None = None


@dataclass(slots=True)
class _StepWalk:
    """Walks measured steps. Told problems do not stop it: what does not depend on them is still judged."""

    asked: StepsRoute
    radius: Mm
    diameter: Mm
    problems: list[BendError]
    heading: Vec = field(init=False)
    lost: bool = field(init=False, default=False)  # a direction could not be told: later ones are not judged
    turns: list[tuple[Deg, Vec, str, FittingStep | None]] = field(init=False, default_factory=list)
    ways: list[Vec] = field(init=False, default_factory=list)
    lengths: list[tuple[float, str, Part | None]] = field(init=False, default_factory=list)
    found: list[Feature] = field(init=False, default_factory=list)
    leg: _OpenLeg = field(init=False)

    def walk(self) -> Route | None:
        before = len(self.problems)
        self.heading = DIRECTIONS[self.asked.heading]
        self.leg = _OpenLeg(_Neighbour("the start"))
        for index, step in enumerate(self.asked.steps):
            self._step(step, f"route.steps[{index}]")
        self._close_leg(_Neighbour("the finish"), f"route.steps[{len(self.asked.steps) - 1}]")
        if not self.turns and not self.lengths[0][0] > ONE_POINT and len(self.problems) == before:
            self.problems.append(NoRoute("route.steps", "have no length; a leg is wanted at least"))
            return None
        return self._route()

    def _step(self, step: Step, where: str) -> None:
        if isinstance(step, LegStep):
            self._add_leg(step, where)
        elif isinstance(step, BendStep):
            bend = _Neighbour("the bend", step.angle if step.angle <= REVERSAL else Deg(0.0))
            self._close_leg(bend, where)
            self._turn(step.angle, self._square(step.toward, where), where)
            self.leg = _OpenLeg(bend)
        elif isinstance(step, KickStep):
            self._close_leg(_Neighbour("the kick", step.angle, feature=True), where)
            place = f"{where}.kick"
            toward = self._square(step.toward, place)
            self._shape(features.kick(toward, step.rise, step.angle), place, step.rise)
            size, _, part = self.lengths.pop()
            self.leg = _OpenLeg(_Neighbour("the kick"), size, place, after_kick=True, part_of=part)
        elif isinstance(step, FittingStep):
            self._fitting(step, where)
        else:
            self._feature(step, where)

    def _fitting(self, step: FittingStep, where: str) -> None:
        place = f"{where}.fitting"
        it = _Neighbour("the fitting", step.angle or Deg(0.0), only_corner="its corner")
        self._close_leg(it, place)
        if step.angle is None or step.toward is None:
            self._turn(Deg(0.0), any_square_to(self.heading), place, step)
        else:
            self._turn(step.angle, self._square(step.toward, place), place, step)
        self.leg = _OpenLeg(it)

    # ------------------------------------------------------------------------------------------ features

    def _feature(self, step: OffsetStep | BoxSetStep | SaddleSetStep, where: str) -> None:
        radius, angle, heading = self.radius, step.angle, self.heading
        middle = False
        if isinstance(step, SaddleSetStep):
            place = f"{where}.saddle_set"
            toward = self._square(step.toward, place)
            middle = step.measured_to is SaddleMeasured.MIDDLE
            if step.bends == 3:
                kind, figures = "saddle_set_3", features.three_bend_saddle_figures(step.rise, angle, radius)
                shape = features.three_bend_saddle(heading, toward, step.rise, angle, radius=radius)
            else:
                kind, figures = "saddle_set_4", features.four_bend_saddle_figures(step.rise, angle, radius)
                shape = features.four_bend_saddle(
                    heading, toward, step.rise, angle, width=step.width or Mm(0.0)
                )
            rise = step.rise
        elif isinstance(step, BoxSetStep):
            kind, place, rise = "box_set", f"{where}.box_set", step.rise
            toward = self._square(step.toward, place)
            shape, figures = (
                features.offset(heading, toward, rise, angle),
                features.offset_figures(rise, angle, radius),
            )
        else:
            kind, place = "offset", f"{where}.offset"
            toward, rise = self._rolled(step, place)
            shape, figures = (
                features.offset(heading, toward, rise, angle),
                features.offset_figures(rise, angle, radius),
            )
        lead = shape.lead if middle else NONE
        it = _Neighbour("the feature", angle, True, lead, "its middle" if middle else "")
        self._close_leg(it, where)
        spread = (step.spread or NONE) if isinstance(step, OffsetStep) else NONE
        self._shape(shape, place, step.rise, spread)
        self.heading = heading  # a feature comes back to the line's own direction: no rounding is carried on
        self.found.append(Feature(kind, place, rise, angle, figures))
        self.leg = _OpenLeg(it)

    def _rolled(self, step: OffsetStep, place: str) -> tuple[Vec, Mm]:
        """Direction and length of an offset's rise, with its spread counted in."""
        up = self._square(step.toward, place)
        if not step.spread or step.spread_toward is None:
            return up, step.rise
        sideways = part_square_to(DIRECTIONS[step.spread_toward], self.heading)
        if sideways is not None:
            sideways = part_square_to(sideways, up)
        if sideways is None:
            self._cannot(
                f"{place}.spread_toward",
                f"{step.spread_toward} lies along the heading or the rise; "
                "a direction square or aslant to both is wanted",
            )
            return up, step.rise
        rise = features.true_rise(step.rise, step.spread)
        return combine(step.rise / rise, up, step.spread / rise, sideways), rise

    def _shape(self, shape: features.Shape, where: str, rise: Mm, spread: Mm = NONE) -> None:
        slope = Part(rise, spread, sin_deg(shape.turns[0][0]))
        for index, (angle, toward) in enumerate(shape.turns):
            self._turn(angle, toward, where)
            if index < len(shape.legs):
                self.lengths.append((shape.legs[index], where, Part() if shape.width == index else slope))

    # ------------------------------------------------------------------------------------------ turns

    def _turn(self, angle: Deg, toward: Vec, where: str, fitting: FittingStep | None = None) -> None:
        if angle > REVERSAL:
            self.problems.append(_reversal(where, angle))
            angle, self.lost = Deg(0.0), True  # takes nothing from the legs beside it, which are judged on
        self.ways.append(self.heading)
        self.turns.append((angle, toward, where, fitting))
        self.heading = outgoing(self.heading, toward, angle)

    def _square(self, toward: Heading, place: str) -> Vec:
        square = part_square_to(DIRECTIONS[toward], self.heading)
        if square is not None:
            return square
        self._cannot(
            f"{place}.toward",
            f"{toward} lies along the heading there; a direction square or aslant to it is wanted",
        )
        return any_square_to(self.heading)

    def _cannot(self, place: str, text: str) -> None:
        if not self.lost:
            self.problems.append(CannotWalk(place, text))
        self.lost = True

    # ------------------------------------------------------------------------------------------ legs

    def _add_leg(self, step: LegStep, where: str) -> None:
        leg = self.leg
        if leg.after_kick:
            self.problems.append(
                CannotWalk(
                    where,
                    "follows a kick, which ends in a leg of its own; a bend, a feature or nothing may follow",
                )
            )
            return
        if leg.last is not None and leg.last.to is not Measured.CORNER:
            self._nothing_there(leg.where, "to", leg.last.to, "another leg follows")
        if leg.steps and step.from_ is not Measured.CORNER:
            self._nothing_there(where, "from", step.from_, "another leg stands before")
        elif step.from_ is not Measured.CORNER:
            leg.length -= self._beyond(leg.near, step.from_, step, where, "from")
        leg.length += step.length
        leg.where, leg.last, leg.steps = where, step, leg.steps + 1

    def _close_leg(self, far: _Neighbour, where: str) -> None:
        leg = self.leg
        if leg.last is not None and leg.last.to is not Measured.CORNER:
            leg.length -= self._beyond(far, leg.last.to, leg.last, leg.where, "to")
        size = leg.length - leg.near.lead - far.lead
        if leg.steps == 0 and far.angle is None and leg.near.angle is not None:
            where = f"route.steps[{len(self.asked.steps) - 1}]"  # the run ends in a turn: it has no last leg
        self.lengths.append((size, leg.where or where, leg.part_of))

    def _beyond(self, at: _Neighbour, to: Measured, step: LegStep, where: str, which: str) -> float:
        """How much farther than the centreline's corner the tape went at one end of a leg, mm."""
        allowed = "corner, back or inside" if at.feature else "corner, back, inside or wall"
        if at.only_corner:
            self._nothing_there(
                where, which, to, f"{at.name} is measured to {at.only_corner}; only corner goes with that"
            )
        elif at.angle is None:
            if to is Measured.FACE and not self.leg.after_kick:
                return 0.0
            self._nothing_there(
                where, which, to, f"{at.name} of the run has no corner; corner or face is allowed"
            )
        elif to is Measured.FACE:
            self._nothing_there(where, which, to, f"{at.name} is no end of the run; {allowed} is allowed")
        elif to is Measured.BACK:
            return outline_corner(self.diameter, at.angle)
        elif to is Measured.INSIDE:
            return -outline_corner(self.diameter, at.angle)
        elif at.feature:
            self._nothing_there(
                where, which, to, f"{at.name} has no wall to measure to; {allowed} is allowed"
            )
        else:
            standoff = self.asked.standoff if step.standoff is None else step.standoff
            return (self.diameter / 2.0 + standoff) * tan_half(at.angle)
        return 0.0

    def _nothing_there(self, where: str, which: str, to: Measured, why: str) -> None:
        self.problems.append(CannotWalk(f"{where}.{which}", f"{to}: {why}"))

    # ------------------------------------------------------------------------------------------ the whole

    def _route(self) -> Route:
        at = self.asked.start
        before = len(self.problems)
        corners: list[Corner] = []
        legs: list[Leg] = []
        for index, (size, where, part) in enumerate(self.lengths):
            last = index == len(self.turns)
            way = self.heading if last else self.ways[index]
            legs.append(Leg(Mm(size), way, where, part))
            at = along(at, size, way)
            if max(map(abs, at)) > REACH and not self.lost and len(self.problems) == before:
                self.problems.append(
                    OutOfRange(
                        where,
                        f"leads beyond {tape.fine(Mm(REACH))} from the origin; a route stays within that "
                        "in each direction",
                        at_most_mm=REACH,
                    )
                )
            if not last:
                angle, toward, place, fitting = self.turns[index]
                radius = self.radius if fitting is None else fitting.radius or NONE
                corners.append(Corner(at, angle, toward, radius, place, fitting))
        return Route(self.asked.start, at, tuple(corners), tuple(legs), tuple(self.found))
