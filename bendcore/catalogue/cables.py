"""Conductors, the room they take and what conduit has for them, by published tables."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Literal

from bendcore.catalogue.records import Basis, records

FactorTable = Literal["short", "long"]
"""Which pair of British tables: straight runs up to 3 m without bends, or all others."""


@dataclass(frozen=True, slots=True)
class Factor:
    """A factor of the British tables: what a cable takes, or what a conduit has. basis, source: as in
    `ConduitRow`."""

    value: int
    basis: Basis
    source: str


@dataclass(frozen=True, slots=True)
class Multiple:
    """How many times the factor of 32 mm conduit a larger one has, on the long table."""

    value: float
    basis: Basis
    source: str


@dataclass(frozen=True, slots=True)
class Conductor:
    """An insulated conductor of US size.

    insulation: its letters, all that the row is for.  size: "12 AWG", "250 kcmil".  diameter_in, area_in2:
    over the insulation, inches and square inches as printed.
    """

    insulation: tuple[str, ...]
    size: str
    diameter_in: float
    area_in2: float
    basis: Basis
    source: str


@dataclass(frozen=True, slots=True)
class FillPercent:
    """How much of a conduit's inside area conductors may take, per cent."""

    value: int
    basis: Basis
    source: str


def cable_factor_uk(table: FactorTable, csa_mm2: float, conductor: str) -> Factor | None:
    """What one single-core PVC-insulated cable takes; None where it is not tabulated.

    csa_mm2: nominal cross-section.  conductor: "solid" or "stranded"; the long table has one factor for both.
    Source: IET On-Site Guide App. E (formerly Tables 4.14 and 4.15 of a regulations handbook).
    """
    factors = _cable_factors_uk()
    return factors.get((table, conductor, csa_mm2)) or factors.get((table, "any", csa_mm2))


def conduit_factors_uk(table: FactorTable, bends: int) -> Mapping[str, Mapping[float, Factor]]:
    """What each conduit has, by nominal size ("20", mm) and tabulated length of run, m, shortest first.

    The short table has one length, 3 m, and no bends; the long one 16 to 32 mm, for 0 to 4 bends. Empty where
    that many bends are not tabulated.
    Source: as `cable_factor_uk`.
    """
    return _conduit_factors_uk().get((table, bends), {})


def multiples_of_32_uk() -> Mapping[str, Multiple]:
    """By nominal size, how many times the long table's factor of 32 mm conduit the conduits above it have.

    Source: as `cable_factor_uk`; 63 mm from memory.
    """
    return {
        record["size"]: Multiple(float(record["multiple"]), Basis(record["basis"]), record["source"])
        for record in records("conduit_multiple_uk.csv")
    }


def conductor_us(size: str, insulation: str) -> Conductor | None:
    """The conductor of a size and insulation; None where it is not tabulated.

    size: "12 AWG", "1/0 AWG", "250 kcmil".  insulation: "THHN"; capitals or not.
    Source: NFPA 70 ch. 9 Table 5; TW, THW and their kin from memory.
    """
    return _conductors_us().get((" ".join(size.split()).casefold(), insulation.strip().casefold()))


def fill_percent_us(conductors: int, *, nipple: bool = False) -> FillPercent:
    """How much of a conduit so many conductors may take.

    conductors: >= 1.  nipple: in a nipple, not over 24 in long between boxes, cabinets and the like.
    Source: NFPA 70 ch. 9 Table 1; nipples Note 4, from memory.
    """
    return _fill_percents_us()["nipple" if nipple else {1: "1", 2: "2"}.get(conductors, "3 or more")]


@cache
def _cable_factors_uk() -> Mapping[tuple[str, str, float], Factor]:
    return {
        (record["table"], record["conductor"], float(record["csa_mm2"])): _factor(record)
        for record in records("cable_factor_uk.csv")
    }


@cache
def _conduit_factors_uk() -> Mapping[tuple[str, int], Mapping[str, Mapping[float, Factor]]]:
    found: dict[tuple[str, int], dict[str, dict[float, Factor]]] = {}
    for record in records("conduit_factor_uk.csv"):
        sizes = found.setdefault((record["table"], int(record["bends"])), {})
        sizes.setdefault(record["size"], {})[float(record["length_m"])] = _factor(record)
    return found


def _factor(record: Mapping[str, str]) -> Factor:
    return Factor(int(record["factor"]), Basis(record["basis"]), record["source"])


@cache
def _conductors_us() -> Mapping[tuple[str, str], Conductor]:
    rows = [
        Conductor(
            tuple(record["insulation"].split("/")),
            record["size"],
            float(record["diameter_in"]),
            float(record["area_in2"]),
            Basis(record["basis"]),
            record["source"],
        )
        for record in records("conductor_us.csv")
    ]
    return {(row.size.casefold(), letters.casefold()): row for row in rows for letters in row.insulation}


@cache
def _fill_percents_us() -> Mapping[str, FillPercent]:
    return {
        record["conductors"]: FillPercent(int(record["percent"]), Basis(record["basis"]), record["source"])
        for record in records("fill_us.csv")
    }
