"""What a plan tells beside its figures."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from bendcore.errors import Figure


class Dialect(StrEnum):
    """Whose words of the trade: those of Great Britain or of the United States."""

    UK = "uk"
    US = "us"


class Level(StrEnum):
    """How a finding binds: a stop cannot be made, a warning wants a decision, a note wants to be known."""

    STOP = "stop"
    WARN = "warn"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Finding:
    """What a plan tells beside its figures.

    rule: stable id of the rule.  where: the place in the spec (`route.steps[4]`, `ends.start`).
    figures: lengths in mm (`*_mm`), angles in degrees (`*_deg`), counts and names.  source: who says so.
    edition: of a rule pack's rule, the edition it is from; empty for what geometry says, which no one may
    override.
    """

    rule: str
    level: Level
    where: str
    figures: Mapping[str, Figure] = field(default_factory=dict)
    source: str = ""
    edition: str = ""
