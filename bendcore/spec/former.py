"""The former: its radius, its set line, and how far its bends spring back."""

from collections.abc import Iterable
from dataclasses import dataclass

from bendcore.errors import BendError, Conflict, MissingKey
from bendcore.reader import Choice, Number, Record, RecordOf, key
from bendcore.spec.bounds import SIGNED
from bendcore.spec.choices import LineKind
from bendcore.units import Deg, Mm


@dataclass(frozen=True, slots=True)
class SetLine(Record):
    """The line of the former that the mark is brought to."""

    kind: LineKind = key(Choice(LineKind), "begin, back, arrow, middle or own", default=LineKind.BEGIN)
    take_up: Mm | None = key(
        SIGNED, "with arrow: what is taken off the wanted length to the back of a 90° bend, mm", default=None
    )
    reach: Mm | None = key(
        SIGNED, "with own: how far the line lies past the hold-side tangent point, mm", default=None
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
