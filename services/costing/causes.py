"""The causes that scrap is put down to: data, in `causes.csv` beside this module.

Common practice, from memory; the order is that of the work.
"""

import csv
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Final

from services.costing.models import Payer


@dataclass(frozen=True, slots=True)
class Cause:
    """Why a piece is lost. stage: of the work, where it happens.  payer: who usually pays for it."""

    stage: str
    cause: str
    payer: str
    note: str


def _read() -> Mapping[str, Cause]:
    with (Path(__file__).parent / "causes.csv").open(encoding="utf-8", newline="") as file:
        rows = [
            Cause(row["stage"], row["cause"], str(Payer(row["who_usually_pays"])), row["note"])
            for row in csv.DictReader(file)
        ]
    return MappingProxyType({row.cause: row for row in rows})


CAUSES: Final[Mapping[str, Cause]] = _read()
"""The known causes by name."""
