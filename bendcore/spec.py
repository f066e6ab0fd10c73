"""The run as asked: conduit, former, route and what else is known, checked strictly; reads and writes the
contract."""

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, ClassVar, Final, Literal

from bendcore import catalogue, tape
from bendcore.catalogue import ConduitRow
from bendcore.errors import (
    BendError,
    Conflict,
    MalformedJson,
    MissingKey,
    NotAChoice,
    RadiusTooSmall,
    SpecProblem,
    WrongType,
)
from bendcore.reader import (
    REFUSED,
    Choice,
    Coming,
    Count,
    Either,
    Json,
    Kind,
    Listed,
    Nullable,
    Number,
    Point,
    Problems,
    Record,
    RecordOf,
    Text,
    key,
    name_of,
    unknown_key,
)
from bendcore.units import Deg, Mm
from bendcore.vectors import Vec

REACH: Final = 1e7
"""Coordinates and lengths end here, mm: ten kilometres. What lies beyond is a slip of the keyboard."""

SMALLEST_TURN: Final = 1e-4
"""Below this, degrees, a turn is no corner."""

REVERSAL: Final = 179.9999
"""Above this, degrees, a turn is a reversal."""

MOST_ROWS: Final = 10_000


class Joining(StrEnum):
    """How a conduit is joined: by threads, or plain (set-screw or compression couplings)."""

    THREADED = "threaded"
    PLAIN = "plain"


class LineKind(StrEnum):
    """What the pencil mark is brought to in the bender."""

    BEGIN = "begin"
    BACK = "back"
    ARROW = "arrow"
    MIDDLE = "middle"
    OWN = "own"


class Heading(StrEnum):
    """A direction in the room, as one faces a wall to the north."""

    UP = "up"
    DOWN = "down"
    NORTH = "north"
    IN = "in"
    SOUTH = "south"
    OUT = "out"
    EAST = "east"
    RIGHT = "right"
    WEST = "west"
    LEFT = "left"


DIRECTIONS: Final[Mapping[Heading, Vec]] = {
    Heading.UP: (0.0, 0.0, 1.0),
    Heading.DOWN: (0.0, 0.0, -1.0),
    Heading.NORTH: (0.0, 1.0, 0.0),
    Heading.IN: (0.0, 1.0, 0.0),
    Heading.SOUTH: (0.0, -1.0, 0.0),
    Heading.OUT: (0.0, -1.0, 0.0),
    Heading.EAST: (1.0, 0.0, 0.0),
    Heading.RIGHT: (1.0, 0.0, 0.0),
    Heading.WEST: (-1.0, 0.0, 0.0),
    Heading.LEFT: (-1.0, 0.0, 0.0),
}


class Measured(StrEnum):
    """Where on a corner, or at an end, a leg is measured to or from."""

    CORNER = "corner"
    BACK = "back"
    INSIDE = "inside"
    WALL = "wall"
    FACE = "face"


class SaddleMeasured(StrEnum):
    """Where the legs beside a saddle set are measured to: its outer corner, or the middle of the
    obstruction."""

    OUTER = "outer"
    MIDDLE = "middle"


class EndKind(StrEnum):
    """How the run ends at a box or fitting."""

    OPEN = "open"
    SPOUT = "spout"
    COUPLER_AND_MALE_BUSH = "coupler_and_male_bush"
    LOCKNUTS_AND_FEMALE_BUSH = "locknuts_and_female_bush"
    CONNECTOR = "connector"
    COUPLER = "coupler"
    FLEXIBLE = "flexible"


class BankCorners(StrEnum):
    """Corners of a bank: all of one radius, or round one centre."""

    EQUAL = "equal"
    CONCENTRIC = "concentric"


_LENGTH = Number("mm", above=0.0, at_most=REACH)
_LENGTH_OR_0 = Number("mm", at_least=0.0, at_most=REACH)
_SIGNED = Number("mm", at_least=-REACH, at_most=REACH)
_TURN = Number("degrees", at_least=SMALLEST_TURN, at_most=180.0)
_SET_ANGLE = Number("degrees", at_least=SMALLEST_TURN, at_most=90.0)
_OUTER_ANGLE = Number("degrees", at_least=SMALLEST_TURN, below=90.0)
_TOWARD = Choice(Heading)


@dataclass(frozen=True, slots=True)
class Conduit(Record):
    """The conduit of the run, from the catalogue or by its own figures."""

    coming: ClassVar[Mapping[str, str]] = {
        "stock": "stock of several lengths and offcuts comes with least-cost splitting; give stock_length"
    }

    catalogue: str | None = key(
        Text(60),
        "id of a conduit in the catalogue; stock_length and wall beside it replace the catalogue's",
        default=None,
    )
    own_outside_diameter: Mm | None = key(
        Number("mm", above=0.0, at_most=500.0),
        "measured outside diameter, mm; needed without a catalogue id",
        default=None,
        name="outside_diameter",
    )
    own_stock_length: Mm | None = key(
        Number("mm", at_least=100.0, at_most=REACH),
        "length of conduit as bought, mm; needed unless the catalogue has it or joints is none",
        default=None,
        name="stock_length",
    )
    own_joining: Joining | None = key(
        Choice(Joining), "threaded (the default) or plain", default=None, name="joining"
    )
    own_wall: Mm | None = key(
        Number("mm", above=0.0, at_most=50.0), "measured wall thickness, mm", default=None, name="wall"
    )

    def conflicts(self, where: str) -> Iterable[BendError]:
        if self.catalogue is not None:
            if self._row is None:
                ids = catalogue.conduit_ids()
                yield NotAChoice(
                    f"{where}catalogue", f"is {name_of(self.catalogue)}; allowed are {', '.join(ids)}"
                )
            for name, given in (
                ("outside_diameter", self.own_outside_diameter),
                ("joining", self.own_joining),
            ):
                if given is not None:
                    yield Conflict(
                        f"{where}{name}", "stands in the catalogue: leave it out, or leave catalogue out"
                    )
        elif self.own_outside_diameter is None:
            yield MissingKey(
                f"{where}outside_diameter", "is missing: give the outside diameter in mm, or a catalogue id"
            )
        known = self._row is not None or self.own_outside_diameter is not None
        if self.own_wall is not None and known:
            most = self.outside_diameter / 2.0
            if self.own_wall >= most:
                yield Conflict(
                    f"{where}wall", f"is {self.own_wall:g} mm; it must stay under {most:g} mm", below_mm=most
                )

    @property
    def _row(self) -> ConduitRow | None:
        try:
            return catalogue.conduit(self.catalogue or "")
        except KeyError:
            return None

    @property
    def outside_diameter(self) -> Mm:
        """Outside diameter D, mm."""
        row = self._row
        if row is not None:
            return row.outside_diameter
        assert self.own_outside_diameter is not None  # noqa: S101 - `conflicts` holds it
        return self.own_outside_diameter

    @property
    def stock_length(self) -> Mm | None:
        """Longest stick that can be cut from a length as bought, mm; None where nobody said.

        Rigid metal conduit is bought ten feet long with its coupling on: the bare stick is shorter.
        """
        if self.own_stock_length is not None:
            return self.own_stock_length
        row = self._row
        if row is None:
            return None
        return row.stock_length if row.net_length is None else row.net_length

    @property
    def joining(self) -> Joining:
        """Threaded or plain."""
        row = self._row
        if row is not None:
            return Joining(row.joining)
        return self.own_joining or Joining.THREADED

    @property
    def wall(self) -> Mm | None:
        """Wall thickness, mm; None where nobody said."""
        if self.own_wall is not None:
            return self.own_wall
        row = self._row
        return None if row is None else row.wall


@dataclass(frozen=True, slots=True)
class SetLine(Record):
    """The line of the former that the mark is brought to."""

    kind: LineKind = key(Choice(LineKind), "begin, back, arrow, middle or own", default=LineKind.BEGIN)
    take_up: Mm | None = key(
        _SIGNED, "with arrow: what is taken off the wanted length to the back of a 90° bend, mm", default=None
    )
    reach: Mm | None = key(
        _SIGNED, "with own: how far the line lies past the hold-side tangent point, mm", default=None
    )

    def conflicts(self, where: str) -> Iterable[BendError]:
        for name, given, kind in (
            ("take_up", self.take_up, LineKind.ARROW),
            ("reach", self.reach, LineKind.OWN),
        ):
            if given is None and self.kind is kind:
                yield MissingKey(where + name, f"is missing: a set line of kind {kind} needs it, in mm")
            if given is not None and self.kind is not kind:
                yield Conflict(where + name, f"goes with kind {kind} only; here kind is {self.kind}")


@dataclass(frozen=True, slots=True)
class Former(Record):
    """What gives the radius, and the line that marks are brought to."""

    centreline_radius: Mm = key(Number("mm", above=0.0, at_most=1e5), "finished radius at the centreline, mm")
    set_line: SetLine = key(RecordOf(SetLine), "what the mark is brought to", default=SetLine())


@dataclass(frozen=True, slots=True)
class Calibration(Record):
    """How far this bender springs back with this former and conduit: finished = (1 - k) pulled - c."""

    k: float = key(Number("", at_least=-0.5, at_most=0.5), "springback for each degree pulled")
    c: Deg = key(Number("degrees", at_least=-30.0, at_most=30.0), "springback at any pull, degrees")
    sd: Deg = key(
        Number("degrees", at_least=0.0, at_most=45.0), "standard deviation of the finished angle, degrees"
    )
    risk: float = key(
        Number("", above=0.0, below=1.0),
        "accepted chance of a bend past target and half the tolerance",
        default=0.05,
    )
    scale: Deg | None = key(
        Number("degrees", at_least=0.001, at_most=45.0),
        "the bender's division, degrees: pulls are rounded down to it; absent: not rounded",
        default=None,
    )


@dataclass(frozen=True, slots=True)
class PointsRoute(Record):
    """A route as the corners of its centreline."""

    points: tuple[Vec, ...] = key(
        Listed(Point(REACH), least=2, most=MOST_ROWS), "start, corners and finish of the centreline, mm"
    )


@dataclass(frozen=True, slots=True)
class LegStep(Record):
    """A straight as measured on site."""

    length: Mm = key(_LENGTH_OR_0, "what the tape read, mm", name="leg")
    to: Measured = key(Choice(Measured), "what it was measured to, at the far end", default=Measured.CORNER)
    from_: Measured = key(
        Choice(Measured), "what it was measured from, at the near end", default=Measured.CORNER, name="from"
    )
    standoff: Mm | None = key(
        _SIGNED, "for wall: clear distance of conduit and wall, mm, where it is not the route's", default=None
    )


@dataclass(frozen=True, slots=True)
class BendStep(Record):
    """A turn of the heading."""

    angle: Deg = key(_TURN, "how far the heading turns, degrees", name="bend")
    toward: Heading = key(_TOWARD, "direction it turns toward")


@dataclass(frozen=True, slots=True)
class OffsetStep(Record):
    """Two equal, opposite bends that shift the run sideways; with a spread, a rolling offset."""

    rise: Mm = key(_LENGTH, "shift toward `toward`, centreline to centreline, mm")
    angle: Deg = key(_SET_ANGLE, "angle of each bend, degrees")
    toward: Heading = key(_TOWARD, "direction of the rise; its part square to the heading counts")
    spread: Mm | None = key(_LENGTH_OR_0, "shift toward `spread_toward`, mm", default=None)
    spread_toward: Heading | None = key(
        _TOWARD, "direction of the spread; its part square to heading and rise counts", default=None
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
    rise: Mm = key(_LENGTH, "shift of the centreline at the top, mm")
    angle: Deg = key(_OUTER_ANGLE, "angle of the outer bends, degrees")
    toward: Heading = key(_TOWARD, "direction of the rise; its part square to the heading counts")
    width: Mm | None = key(_LENGTH_OR_0, "with four bends: between the inner corners, mm", default=None)
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

    rise: Mm = key(_LENGTH, "shift gained by the end of its leg, mm")
    angle: Deg = key(_SET_ANGLE, "angle of the bend, degrees")
    toward: Heading = key(_TOWARD, "direction of the rise; its part square to the heading counts")


@dataclass(frozen=True, slots=True)
class BoxSetStep(Record):
    """A small offset at a surface box."""

    rise: Mm = key(_LENGTH, "shift, centreline to centreline, mm")
    angle: Deg = key(_SET_ANGLE, "angle of each bend, degrees")
    toward: Heading = key(_TOWARD, "direction of the rise; its part square to the heading counts")


Step = LegStep | BendStep | OffsetStep | SaddleSetStep | KickStep | BoxSetStep

_FLAT_STEPS: Final[Mapping[str, RecordOf[Any]]] = {"leg": RecordOf(LegStep), "bend": RecordOf(BendStep)}
_NESTED_STEPS: Final[Mapping[str, Kind]] = {
    "offset": RecordOf(OffsetStep),
    "saddle_set": RecordOf(SaddleSetStep),
    "kick": RecordOf(KickStep),
    "box_set": RecordOf(BoxSetStep),
    "fitting": Coming("draw-in boxes, inspection bends, tees and bought bends come with whole runs"),
}
_NESTED_NAMES: Final[Mapping[type, str]] = {
    OffsetStep: "offset",
    SaddleSetStep: "saddle_set",
    KickStep: "kick",
    BoxSetStep: "box_set",
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
            if not isinstance(kind, Coming)
        ]
        return {"oneOf": [*(kind.schema() for kind in _FLAT_STEPS.values()), *nested]}


@dataclass(frozen=True, slots=True)
class StepsRoute(Record):
    """A route as measured on site: walked from a start and a heading."""

    steps: tuple[Step, ...] = key(
        Listed(_StepKind(), least=1, most=MOST_ROWS), "legs, bends and features in order"
    )
    start: Vec = key(Point(REACH), "where the run starts, mm", default=(0.0, 0.0, 0.0))
    heading: Heading = key(_TOWARD, "the way it sets out", default=Heading.UP)
    standoff: Mm = key(
        _SIGNED, "clear distance of conduit and wall, mm, for legs measured to the wall", default=Mm(0.0)
    )


RouteAsked = PointsRoute | StepsRoute


def _choose_route(value: Json, where: str, problems: Problems) -> Kind | None:
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
    return _POINTS if "points" in value else _STEPS


_POINTS: Final = RecordOf(PointsRoute)
_STEPS: Final = RecordOf(StepsRoute)


@dataclass(frozen=True, slots=True)
class EndAsked(Record):
    """How one end of the run is made."""

    kind: EndKind = key(Choice(EndKind), "what the conduit ends in", default=EndKind.OPEN)
    allowance: Mm | None = key(
        Nullable(_SIGNED),
        "what the stick is longer than the route there, mm; untold (null) counts 0 and is warned of, "
        "but for an open end",
        default=None,
    )


@dataclass(frozen=True, slots=True)
class EndsAsked(Record):
    """Both ends of the run."""

    start: EndAsked = key(RecordOf(EndAsked), "the run's start", default=EndAsked())
    finish: EndAsked = key(RecordOf(EndAsked), "the run's finish", default=EndAsked())


@dataclass(frozen=True, slots=True)
class JointsAsked(Record):
    """Where the run may be split into sticks."""

    coming: ClassVar[Mapping[str, str]] = {
        "costs": "splitting by cost comes with whole runs; the fewest sticks are found"
    }

    clearance: Mm = key(_LENGTH_OR_0, "least straight between a joint and a bend, mm", default=Mm(120.0))
    min_piece: Mm = key(_LENGTH_OR_0, "shortest stick, mm", default=Mm(150.0))
    gap: Mm = key(_LENGTH_OR_0, "what a joint adds between the two sticks, mm", default=Mm(0.0))


class _JointsKind(Kind):
    """ "none" for one stick however long, or where joints may stand."""

    def __init__(self) -> None:
        self._record = RecordOf(JointsAsked)

    def read(self, value: Json, where: str, problems: Problems) -> Any:
        if isinstance(value, str):
            if value == "none":
                return value
            problems.append(NotAChoice(where, f'is {name_of(value)}; "none" or an object is wanted'))
            return REFUSED
        return self._record.read(value, where, problems)

    def write(self, value: Any) -> Json:
        return value if value == "none" else value.to_json()

    def schema(self) -> dict[str, Json]:
        return {"oneOf": [{"const": "none"}, self._record.schema()]}


class _FitFromKind(Kind):
    """The order of fitting: from the start, until the other orders are planned."""

    def read(self, value: Json, where: str, problems: Problems) -> Any:
        if isinstance(value, str) and value == "start":
            return value
        if isinstance(value, str) and value in ("finish", "both"):
            return Coming("fitting from the finish or from both ends comes with whole runs").read(
                value, where, problems
            )
        problems.append(NotAChoice(where, f'is {name_of(value)}; "start" is allowed'))
        return REFUSED

    def schema(self) -> dict[str, Json]:
        return {"const": "start"}


@dataclass(frozen=True, slots=True)
class BankAsked(Record):
    """Conduits side by side, the given route the first of them."""

    count: int = key(Count(1, 100), "how many conduits, the given one included")
    spacing: Mm = key(_LENGTH, "centre to centre, mm")
    toward: Heading = key(_TOWARD, "where the others lie; its part square to the first leg counts")
    corners: BankCorners = key(Choice(BankCorners), "equal radii, or concentric", default=BankCorners.EQUAL)


@dataclass(frozen=True, slots=True)
class Tolerance(Record):
    """What passes."""

    angle: Deg = key(Number("degrees", above=0.0, at_most=45.0), "of a bend, degrees", default=Deg(1.0))
    length: Mm = key(Number("mm", above=0.0, at_most=1000.0), "of a leg, mm", default=Mm(2.0))
    end_out: Mm = key(
        Number("mm", above=0.0, at_most=1e4), "how far the far end may be out, mm", default=Mm(10.0)
    )


@dataclass(frozen=True, slots=True)
class RunSpec(Record):
    """A run as asked: the whole input of `plan`."""

    coming: ClassVar[Mapping[str, str]] = {
        "bender": "the bending order that clears floor and bender comes with whole runs; "
        "bends are planned in the order 1 to n, held by the start",
        "cables": "cable capacity comes with the rule packs",
        "rules": "the rule packs come with whole runs; only geometry is judged",
    }

    conduit: Conduit = key(RecordOf(Conduit), "the conduit, by its id in the catalogue or its own figures")
    former: Former = key(RecordOf(Former), "the former, which gives the radius")
    route: RouteAsked = key(
        Either(_choose_route, (_POINTS, _STEPS)), "where the run goes: points, or steps as measured"
    )
    run: str = key(Text(200), "label of the run", default="")
    calibration: Calibration | None = key(
        RecordOf(Calibration), "what is known of springback; gives each bend its first pull", default=None
    )
    ends: EndsAsked = key(RecordOf(EndsAsked), "how the run starts and finishes", default=EndsAsked())
    joints: JointsAsked | Literal["none"] = key(
        _JointsKind(), '"none" for one stick however long, or where joints may stand', default=JointsAsked()
    )
    parallel: BankAsked | None = key(RecordOf(BankAsked), "a bank of conduits side by side", default=None)
    fit_from: Literal["start"] = key(_FitFromKind(), "where fitting begins", default="start")
    tolerance: Tolerance = key(RecordOf(Tolerance), "what passes", default=Tolerance())

    def conflicts(self, where: str) -> Iterable[BendError]:
        diameter = self.conduit.outside_diameter
        if self.former.centreline_radius <= diameter / 2.0:
            yield RadiusTooSmall(
                "former.centreline_radius",
                f"is {self.former.centreline_radius:g} mm; it must be above {diameter / 2.0:g} mm, "
                "half the outside diameter",
                above_mm=diameter / 2.0,
            )
        if self.parallel is not None and self.parallel.spacing < diameter:
            yield Conflict(
                "parallel.spacing",
                f"is {tape.fine(self.parallel.spacing)} from centre to centre; conduits of "
                f"{tape.fine(diameter)} would run into each other: allowed is their diameter or more",
                at_least_mm=diameter,
            )
        if self.joints != "none":
            stock = self.conduit.stock_length
            if stock is None:
                yield MissingKey(
                    "conduit.stock_length",
                    'is missing: give the length of conduit as bought in mm, or joints "none" for one stick',
                )
            elif self.joints.min_piece > stock:
                yield Conflict(
                    "joints.min_piece",
                    f"is {self.joints.min_piece:g} mm; it must not be above the stock length, {stock:g} mm",
                    at_most_mm=stock,
                )


_RUN: Final = RecordOf(RunSpec)


def read(value: object) -> RunSpec:
    """Reads a run from the contract's dict (a RunSpec passes as it is).

    Raises SpecProblem with every problem found: each with its code, its place and what is allowed there.
    """
    problems: Problems = []
    spec = _RUN.read(value, "", problems)
    if problems:
        raise SpecProblem(problems)
    return spec  # type: ignore[no-any-return]


def read_json(text: str | bytes) -> RunSpec:
    """Reads a run from JSON text (UTF-8). Raises SpecProblem, also for repeated keys and for NaN and
    Infinity."""
    problems: Problems = []

    def pairs(items: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(items)
        if len(found) != len(items):
            seen: set[str] = set()
            twice = next(name for name, _ in items if name in seen or seen.add(name))  # type: ignore[func-returns-value]
            problems.append(
                MalformedJson("", f"the key {name_of(twice)} stands more than once in one object")
            )
        return found

    def constant(name: str) -> float:
        problems.append(MalformedJson("", f"{name} is no number in JSON"))
        return 0.0

    try:
        if isinstance(text, bytes):
            text = text.decode("utf-8-sig")
        value = json.loads(text, object_pairs_hook=pairs, parse_constant=constant)
    except UnicodeDecodeError as error:
        problems.append(MalformedJson("", f"is not UTF-8 text (byte {error.start})"))
    except json.JSONDecodeError as error:
        problems.append(
            MalformedJson("", f"is not JSON: {error.msg} at line {error.lineno}, column {error.colno}")
        )
    except RecursionError:
        problems.append(MalformedJson("", "is nested too deeply"))
    except ValueError:  # an integer of more digits than Python turns into a number
        problems.append(MalformedJson("", "has a number of too many digits"))
    if problems:
        raise SpecProblem(problems)
    return read(value)


def write(spec: RunSpec) -> dict[str, Json]:
    """The run as the contract writes it, without what stands at its default. `read(write(spec)) == spec`."""
    return spec.to_json()


def json_schema() -> dict[str, Json]:
    """The contract's input as JSON Schema (draft 2020-12), made from the declarations above.

    What no schema can say is left to `read`: radius and diameter, keys that go together, overlapping bends.
    """
    schema = _RUN.schema()
    conduit = schema["properties"]["conduit"]["properties"]
    conduit["catalogue"]["enum"] = list(catalogue.conduit_ids())
    coming = {f"{name}: {what}" for name, what in RunSpec.coming.items()}
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "A run of conduit, as `bendcore plan` reads it",
        "description": "Lengths in millimetres, angles in degrees. Refused for now: "
        + "; ".join(sorted(coming)),
        **schema,
    }
