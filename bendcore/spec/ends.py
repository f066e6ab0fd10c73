"""How a run starts and finishes."""

from dataclasses import dataclass

from bendcore.reader import Choice, Nullable, Record, RecordOf, key
from bendcore.spec.bounds import SIGNED
from bendcore.spec.choices import EndKind
from bendcore.units import Mm


@dataclass(frozen=True, slots=True)
class EndAsked(Record):
    """How one end of the run is made."""

    kind: EndKind = key(Choice(EndKind), "what the conduit ends in", default=EndKind.OPEN)
    allowance: Mm | None = key(
        Nullable(SIGNED),
        "what the stick is longer than the route there, mm; untold (null) counts 0 and is warned of, "
        "but for an open end",
        default=None,
    )


@dataclass(frozen=True, slots=True)
class EndsAsked(Record):
    """Both ends of the run."""

    start: EndAsked = key(RecordOf(EndAsked), "the run's start", default=EndAsked())
    finish: EndAsked = key(RecordOf(EndAsked), "the run's finish", default=EndAsked())
