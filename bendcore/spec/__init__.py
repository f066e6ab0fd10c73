"""The run as asked: conduit, former, route and what else is known, checked strictly; reads and writes the
contract."""

from bendcore.spec.bender import BenderAsked, BodyAsked, PlaneAsked
from bendcore.spec.bounds import MOST_ROWS, REACH, REVERSAL, SMALLEST_TURN
from bendcore.spec.cables import CablesAsked, GaugeCables, MetricCables
from bendcore.spec.choices import (
    DIRECTIONS,
    BankCorners,
    EndKind,
    FitFrom,
    FittingKind,
    Heading,
    Joining,
    LineKind,
    Measured,
    Motion,
    RulePack,
    SaddleMeasured,
    Strand,
)
from bendcore.spec.conduit import Conduit, StockAsked
from bendcore.spec.contract import json_schema, read, read_json, write
from bendcore.spec.ends import EndAsked, EndsAsked
from bendcore.spec.former import Calibration, Former, SetLine
from bendcore.spec.joints import CostsAsked, JointsAsked
from bendcore.spec.route import (
    BendStep,
    BoxSetStep,
    FittingStep,
    KickStep,
    LegStep,
    OffsetStep,
    PointsRoute,
    RouteAsked,
    SaddleSetStep,
    Step,
    StepsRoute,
)
from bendcore.spec.run import BankAsked, RunSpec, Tolerance

__all__ = [
    "DIRECTIONS",
    "MOST_ROWS",
    "REACH",
    "REVERSAL",
    "SMALLEST_TURN",
    "BankAsked",
    "BankCorners",
    "BendStep",
    "BenderAsked",
    "BodyAsked",
    "BoxSetStep",
    "CablesAsked",
    "Calibration",
    "Conduit",
    "CostsAsked",
    "EndAsked",
    "EndKind",
    "EndsAsked",
    "FitFrom",
    "FittingKind",
    "FittingStep",
    "Former",
    "GaugeCables",
    "Heading",
    "Joining",
    "JointsAsked",
    "KickStep",
    "LegStep",
    "LineKind",
    "Measured",
    "MetricCables",
    "Motion",
    "OffsetStep",
    "PlaneAsked",
    "PointsRoute",
    "RouteAsked",
    "RulePack",
    "RunSpec",
    "SaddleMeasured",
    "SaddleSetStep",
    "SetLine",
    "Step",
    "StepsRoute",
    "StockAsked",
    "Strand",
    "Tolerance",
    "json_schema",
    "read",
    "read_json",
    "write",
]
