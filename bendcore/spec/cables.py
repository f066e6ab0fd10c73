"""The cables that are to be drawn in."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from bendcore.errors import Conflict, WrongType
from bendcore.reader import Choice, Count, Json, Kind, Number, Problems, Record, RecordOf, Text, key, name_of
from bendcore.spec.choices import Strand


@dataclass(frozen=True, slots=True)
class MetricCables(Record):
    """So many single-core cables of one size, by their cross-section."""

    csa_mm2: float = key(Number("mm2", above=0.0, at_most=1000.0), "nominal cross-section, mm2")
    count: int = key(Count(1, 10_000), "how many")
    type: Strand = key(Choice(Strand), "solid or stranded", default=Strand.STRANDED)


@dataclass(frozen=True, slots=True)
class GaugeCables(Record):
    """So many conductors of one size, by gauge and insulation."""

    size: str = key(Text(20), 'gauge, such as "12 AWG", "1/0 AWG" or "250 kcmil"')
    insulation: str = key(Text(20), "letters of the insulation, such as THHN")
    count: int = key(Count(1, 10_000), "how many")


CablesAsked = MetricCables | GaugeCables

METRIC_CABLES: Final = RecordOf(MetricCables)
GAUGE_CABLES: Final = RecordOf(GaugeCables)


def choose_cables(value: Json, where: str, problems: Problems) -> Kind | None:
    """Which of the two is to be read; None with a problem told where the size is told not once."""
    if isinstance(value, (MetricCables, GaugeCables)):
        return RecordOf(type(value))
    if not isinstance(value, Mapping):
        problems.append(WrongType(where, f"is {name_of(value)}; an object with csa_mm2 or size is wanted"))
        return None
    if ("csa_mm2" in value) == ("size" in value):
        problems.append(Conflict(where, "wants its size told once: csa_mm2, or size and insulation"))
        return None
    return METRIC_CABLES if "csa_mm2" in value else GAUGE_CABLES
