"""The route of a run, as points or as steps measured on site."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, Final, Literal

from bendcore import tape
from bendcore.errors import BendError, Conflict, MissingKey, OutOfRange, WrongType
from bendcore.reader import (
    REFUSED,
    Choice,
    Count,
    Flag,
    Json,
    Kind,
    Listed,
    Nullable,
    Number,
    Point,
    Problems,
    Record,
    RecordOf,
    key,
    name_of,
    unknown_key,
)
from bendcore.spec.bounds import (
    LENGTH,
    LENGTH_OR_0,
    MOST_ROWS,
    REACH,
    REVERSAL,
    SIGNED,
    SMALLEST_TURN,
    TOWARD,
)
from bendcore.spec.choices import FittingKind, Heading, Measured, SaddleMeasured
from bendcore.units import Deg, Mm, tan_half
from bendcore.vectors import Vec

_TURN = Number("degrees", at_least=SMALLEST_TURN, at_most=180.0)
_SET_ANGLE = Number("degrees", at_least=SMALLEST_TURN, at_most=90.0)
_OUTER_ANGLE = Number("degrees", at_least=SMALLEST_TURN, below=90.0)


@dataclass(frozen=True, slots=True)
class PointsRoute(Record):
    """A route as the corners of its centreline."""

    points: tuple[Vec, ...] = key(
        Listed(Point(REACH), least=2, most=MOST_ROWS), "start, corners and finish of the centreline, mm"
    )


@dataclass(frozen=True, slots=True)
class LegStep(Record):
    """A straight as measured on site."""

    length: Mm = key(LENGTH_OR_0, "what the tape read, mm", name="leg")
    to: Measured = key(Choice(Measured), "what it was measured to, at the far end", default=Measured.CORNER)
    from_: Measured = key(
        Choice(Measured), "what it was measured from, at the near end", default=Measured.CORNER, name="from"
    )
    standoff: Mm | None = key(
        SIGNED, "for wall: clear distance of conduit and wall, mm, where it is not the route's", default=None
    )


@dataclass(frozen=True, slots=True)
class BendStep(Record):
    """A turn of the heading."""

    angle: Deg = key(_TURN, "how far the heading turns, degrees", name="bend")
    toward: Heading = key(TOWARD, "direction it turns toward")


@dataclass(frozen=True, slots=True)
class OffsetStep(Record):
    """Two equal, opposite bends that shift the run sideways; with a spread, a rolling offset."""

    rise: Mm = key(LENGTH, "shift toward `toward`, centreline to centreline, mm")
    angle: Deg = key(_SET_ANGLE, "angle of each bend, degrees")
    toward: Heading = key(TOWARD, "direction of the rise; its part square to the heading counts")
    spread: Mm | None = key(LENGTH_OR_0, "shift toward `spread_toward`, mm", default=None)
    spread_toward: Heading | None = key(
        TOWARD, "direction of the spread; its part square to heading and rise counts", default=None
    )

    def conflicts(self, where: str) -> Iterable[BendError]:
        if self.spread is not None and self.spread_toward is None:
            yield MissingKey(where + "spread_toward", "is missing: a spread needs its direction")
        if self.spread is None and self.spread_toward is not None:
            yield MissingKey(where + "spread", "is missing: a direction of spread needs its length, mm")


@dataclass(frozen=True, slots=True)
class SaddleSetStep(Record):
    """Three or four bends over an obstruction, back to the same line."""

    bends: Literal[3, 4] = key(Count(3, 4), "3 or 4")
    rise: Mm = key(LENGTH, "shift of the centreline at the top, mm")
    angle: Deg = key(_OUTER_ANGLE, "angle of the outer bends, degrees")
    toward: Heading = key(TOWARD, "direction of the rise; its part square to the heading counts")
    width: Mm | None = key(LENGTH_OR_0, "with four bends: between the inner corners, mm", default=None)
    measured_to: SaddleMeasured = key(
        Choice(SaddleMeasured),
        "what the legs beside it are measured to: its outer corner, or the middle of the obstruction",
        default=SaddleMeasured.OUTER,
    )

    def conflicts(self, where: str) -> Iterable[BendError]:
        if self.bends == 4 and self.width is None:
            yield MissingKey(
                where + "width", "is missing: four bends need the width between the inner corners, mm"
            )
        if self.bends == 3 and self.width is not None:
            yield Conflict(where + "width", "goes with four bends only")


@dataclass(frozen=True, slots=True)
class KickStep(Record):
    """A bend and the sloping leg after it that gains the rise; no leg follows."""

    rise: Mm = key(LENGTH, "shift gained by the end of its leg, mm")
    angle: Deg = key(_SET_ANGLE, "angle of the bend, degrees")
    toward: Heading = key(TOWARD, "direction of the rise; its part square to the heading counts")


@dataclass(frozen=True, slots=True)
class BoxSetStep(Record):
    """A small offset at a surface box."""

    rise: Mm = key(LENGTH, "shift, centreline to centreline, mm")
    angle: Deg = key(_SET_ANGLE, "angle of each bend, degrees")
    toward: Heading = key(TOWARD, "direction of the rise; its part square to the heading counts")


_OUTLETS: Final = frozenset((FittingKind.DRAW_IN_BOX, FittingKind.INSPECTION_BEND, FittingKind.TEE))
"""Fittings with a lid, at which cable can be drawn in."""


@dataclass(frozen=True, slots=True)
class FittingStep(Record):
    """A fitting that takes a corner or, without an angle, stands in a leg; sticks end at it on both sides."""

    kind: FittingKind = key(
        Choice(FittingKind), "draw_in_box, inspection_bend (a conduit body), tee or bought_bend"
    )
    angle: Deg | None = key(
        _TURN, "how far the heading turns in it, degrees; absent: not at all", default=None
    )
    toward: Heading | None = key(TOWARD, "with an angle: direction it turns toward", default=None)
    radius: Mm | None = key(
        Number("mm", above=0.0, at_most=1e5),
        "with an angle: centreline radius of its own bend, mm; absent: the conduit's lines meet in a corner",
        default=None,
    )
    leg_in: Mm | None = key(
        Nullable(LENGTH_OR_0),
        "from its corner (without an angle its middle) back to the end of the stick before, mm; "
        "untold (null) counts as little as can be, and is warned of",
        default=None,
    )
    leg_out: Mm | None = key(
        Nullable(LENGTH_OR_0), "on to the start of the stick after, mm; untold as leg_in", default=None
    )
    own_draw_in: bool | None = key(
        Flag(),
        "whether cable can be drawn in there; absent: yes, but for a bought bend",
        default=None,
        name="draw_in",
    )

    @property
    def draw_in(self) -> bool:
        """Whether cable can be drawn in there: bends are counted and cable is pulled from there on anew."""
        return self.kind in _OUTLETS if self.own_draw_in is None else self.own_draw_in

    def conflicts(self, where: str) -> Iterable[BendError]:
        if self.angle is None:
            for name, given in (("toward", self.toward), ("radius", self.radius)):
                if given is not None:
                    yield Conflict(where + name, "goes with an angle only")
            if self.kind is FittingKind.BOUGHT_BEND:
                yield MissingKey(where + "angle", "is missing: a bought bend turns, by so many degrees")
            return
        if self.toward is None:
            yield MissingKey(where + "toward", "is missing: a fitting that turns needs its direction")
        if self.radius is None:
            if self.kind is FittingKind.BOUGHT_BEND:
                yield MissingKey(where + "radius", "is missing: give the bought bend's centreline radius, mm")
        elif self.angle <= REVERSAL:
            least = self.radius * tan_half(self.angle)
            for name, leg in (("leg_in", self.leg_in), ("leg_out", self.leg_out)):
                if leg is not None and leg < least - 1e-6:
                    yield OutOfRange(
                        where + name,
                        f"is {tape.fine(leg)}; a bend of {tape.degrees(self.angle)} with a radius of "
                        f"{tape.fine(self.radius)} takes {tape.fine(Mm(least), up=True)} or more",
                        at_least_mm=least,
                    )


Step = LegStep | BendStep | OffsetStep | SaddleSetStep | KickStep | BoxSetStep | FittingStep

_FLAT_STEPS: Final[Mapping[str, RecordOf[Any]]] = {"leg": RecordOf(LegStep), "bend": RecordOf(BendStep)}
_NESTED_STEPS: Final[Mapping[str, Kind]] = {
    "offset": RecordOf(OffsetStep),
    "saddle_set": RecordOf(SaddleSetStep),
    "kick": RecordOf(KickStep),
    "box_set": RecordOf(BoxSetStep),
    "fitting": RecordOf(FittingStep),
}
_NESTED_NAMES: Final[Mapping[type, str]] = {
    OffsetStep: "offset",
    SaddleSetStep: "saddle_set",
    KickStep: "kick",
    BoxSetStep: "box_set",
    FittingStep: "fitting",
}
_STEP_KEYS: Final = (*_FLAT_STEPS, *_NESTED_STEPS)


class _StepKind(Kind):
    """One row of a survey: told by its one key out of leg, bend, offset and the rest."""

    def read(self, value: Json, where: str, problems: Problems) -> Any:
        if not isinstance(value, Mapping):
            if type(value) in (LegStep, BendStep) or type(value) in _NESTED_NAMES:
                return value
            problems.append(
                WrongType(where, f"is {name_of(value)}; an object is wanted, such as {{'leg': 600}}")
            )
            return REFUSED
        named = [name for name in _STEP_KEYS if name in value]
        if len(named) != 1:
            if named:
                problems.append(
                    Conflict(where, f"says {' and '.join(named)} at once; one step says one of them")
                )
            else:
                problems.append(
                    MissingKey(where, f"is no step; one key is wanted of {', '.join(_STEP_KEYS)}")
                )
            return REFUSED
        name = named[0]
        if name in _FLAT_STEPS:
            return _FLAT_STEPS[name].read(value, where, problems)
        for stranger in value:
            if stranger != name:
                problems.append(unknown_key(stranger, f"{where}.{stranger}", [name]))
        read = _NESTED_STEPS[name].read(value[name], f"{where}.{name}", problems)
        return REFUSED if len(value) > 1 else read

    def write(self, value: Any) -> Json:
        name = _NESTED_NAMES.get(type(value))
        return value.to_json() if name is None else {name: value.to_json()}

    def schema(self) -> dict[str, Json]:
        nested = [
            {
                "type": "object",
                "properties": {name: kind.schema()},
                "required": [name],
                "additionalProperties": False,
            }
            for name, kind in _NESTED_STEPS.items()
        ]
        return {"oneOf": [*(kind.schema() for kind in _FLAT_STEPS.values()), *nested]}


@dataclass(frozen=True, slots=True)
class StepsRoute(Record):
    """A route as measured on site: walked from a start and a heading."""

    steps: tuple[Step, ...] = key(
        Listed(_StepKind(), least=1, most=MOST_ROWS), "legs, bends and features in order"
    )
    start: Vec = key(Point(REACH), "where the run starts, mm", default=(0.0, 0.0, 0.0))
    heading: Heading = key(TOWARD, "the way it sets out", default=Heading.UP)
    standoff: Mm = key(
        SIGNED, "clear distance of conduit and wall, mm, for legs measured to the wall", default=Mm(0.0)
    )


RouteAsked = PointsRoute | StepsRoute


def choose_route(value: Json, where: str, problems: Problems) -> Kind | None:
    """Whether points or steps are to be read; None with a problem told where neither or both are there."""
    if isinstance(value, (PointsRoute, StepsRoute)):
        return RecordOf(type(value))
    if not isinstance(value, Mapping):
        problems.append(WrongType(where, f"is {name_of(value)}; an object with points or steps is wanted"))
        return None
    if ("points" in value) == ("steps" in value):
        if "points" in value:
            problems.append(Conflict(where, "has points and steps; give one of them"))
        else:
            problems.append(MissingKey(where, "is missing its route: give points or steps"))
        return None
    return POINTS if "points" in value else STEPS


POINTS: Final = RecordOf(PointsRoute)
STEPS: Final = RecordOf(StepsRoute)
