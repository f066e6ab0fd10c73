"""The run itself."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from bendcore import tape
from bendcore.errors import BendError, Conflict, MissingKey, RadiusTooSmall
from bendcore.reader import Choice, Count, Either, Listed, Number, Record, RecordOf, Text, key
from bendcore.spec.bender import BenderAsked
from bendcore.spec.bounds import LENGTH, TOWARD
from bendcore.spec.cables import (
    GAUGE_CABLES,
    METRIC_CABLES,
    CablesAsked,
    GaugeCables,
    MetricCables,
    choose_cables,
)
from bendcore.spec.choices import BankCorners, FitFrom, Heading, RulePack
from bendcore.spec.conduit import Conduit
from bendcore.spec.ends import EndsAsked
from bendcore.spec.former import Calibration, Former
from bendcore.spec.joints import JointsAsked, JointsKind
from bendcore.spec.route import POINTS, STEPS, RouteAsked, choose_route
from bendcore.units import Deg, Mm


@dataclass(frozen=True, slots=True)
class BankAsked(Record):
    """Conduits side by side, the given route the first of them."""

    count: int = key(Count(1, 100), "how many conduits, the given one included")
    spacing: Mm = key(LENGTH, "centre to centre, mm")
    toward: Heading = key(TOWARD, "where the others lie; its part square to the first leg counts")
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

    conduit: Conduit = key(RecordOf(Conduit), "the conduit, by its id in the catalogue or its own figures")
    former: Former = key(RecordOf(Former), "the former, which gives the radius")
    route: RouteAsked = key(
        Either(choose_route, (POINTS, STEPS)), "where the run goes: points, or steps as measured"
    )
    run: str = key(Text(200), "label of the run", default="")
    calibration: Calibration | None = key(
        RecordOf(Calibration), "what is known of springback; gives each bend its first pull", default=None
    )
    ends: EndsAsked = key(RecordOf(EndsAsked), "how the run starts and finishes", default=EndsAsked())
    joints: JointsAsked | Literal["none"] = key(
        JointsKind(), '"none" for one stick however long, or where joints may stand', default=JointsAsked()
    )
    parallel: BankAsked | None = key(RecordOf(BankAsked), "a bank of conduits side by side", default=None)
    bender: BenderAsked | None = key(
        RecordOf(BenderAsked), "the bender, for the bending order that clears it", default=None
    )
    cables: tuple[CablesAsked, ...] = key(
        Listed(Either(choose_cables, (METRIC_CABLES, GAUGE_CABLES)), least=0, most=200),
        "what is to be drawn in; judged by the rule pack",
        default=(),
    )
    rules: RulePack | None = key(Choice(RulePack), "uk or us; absent: only geometry is judged", default=None)
    fit_from: FitFrom = key(
        Choice(FitFrom),
        "where fitting begins: start, finish or both ends, inward; every bent threaded stick counts as one "
        "that cannot turn",
        default=FitFrom.START,
    )
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
        for index, each in enumerate(self.cables):
            fits = {RulePack.UK: MetricCables, RulePack.US: GaugeCables}
            if self.rules is not None and not isinstance(each, fits[self.rules]):
                yield Conflict(
                    f"cables[{index}]",
                    f"is not told as rules {self.rules} reckon: "
                    + ("csa_mm2 and type" if self.rules is RulePack.UK else "size and insulation")
                    + " are wanted",
                )
        if self.cables and self.rules is None:
            yield MissingKey("rules", "is missing: cables are judged by a rule pack, uk or us")
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
