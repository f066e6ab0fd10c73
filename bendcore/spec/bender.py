"""The bender, with what stands round the bend being made."""

from collections.abc import Iterable
from dataclasses import dataclass

from bendcore.errors import BendError, Conflict, OutOfRange
from bendcore.reader import Choice, Listed, Point, Record, RecordOf, key
from bendcore.spec.bounds import LENGTH_OR_0, SIGNED
from bendcore.spec.choices import Motion
from bendcore.units import Mm
from bendcore.vectors import Vec, length


@dataclass(frozen=True, slots=True)
class PlaneAsked(Record):
    """A plane beside the bender: conduit stays on the side where normal . p >= offset."""

    normal: Vec = key(Point(1e6), "square to the plane, toward the free side; of any length but none")
    offset: Mm = key(SIGNED, "where the plane stands along the normal, mm from the bender's origin")

    def conflicts(self, where: str) -> Iterable[BendError]:
        if not length(self.normal) > 1e-9:
            yield OutOfRange(where + "normal", "has no length; a direction is wanted, such as [0, 1, 0]")


@dataclass(frozen=True, slots=True)
class BodyAsked(Record):
    """A box that stands for a part of the bender, along its axes."""

    min: Vec = key(Point(1e5), "its least corner, mm")
    max: Vec = key(Point(1e5), "its greatest corner, mm")

    def conflicts(self, where: str) -> Iterable[BendError]:
        if any(low >= high for low, high in zip(self.min, self.max, strict=True)):
            yield Conflict(where + "max", "lies below min along an axis; each figure must be above min's")


@dataclass(frozen=True, slots=True)
class BenderAsked(Record):
    """The bender round the bend being made, in its own frame (docs/engine.md)."""

    hold_min: Mm = key(
        LENGTH_OR_0,
        "least straight on the hold side, to a bend already made or the end, mm",
        default=Mm(0.0),
    )
    swing_min: Mm = key(LENGTH_OR_0, "least straight on the swing side, mm", default=Mm(0.0))
    motion: Motion = key(Choice(Motion), "what moves: tail, hooked or both", default=Motion.TAIL)
    floor: PlaneAsked | None = key(RecordOf(PlaneAsked), "the floor it stands on", default=None)
    planes: tuple[PlaneAsked, ...] = key(
        Listed(RecordOf(PlaneAsked), least=0, most=20), "further planes: a wall, a ceiling", default=()
    )
    bodies: tuple[BodyAsked, ...] = key(
        Listed(RecordOf(BodyAsked), least=0, most=50), "parts of the bender, as boxes", default=()
    )
