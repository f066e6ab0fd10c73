"""Conduit, its threads and couplers, and least bend radii, each figure with where it is from.

The figures stand in the CSV files of this folder, in the units their sources print, and are turned into
millimetres here by the defined factors. Each row tells its basis: `confirmed` was read on a public page
(mostly a copy of the standard, not the standard), `memory` was recalled and wants checking against the
printed standard, `common-practice` is a habit of the trade. What is not known is an empty cell, and None
here; nothing is guessed. A column `<figure>_basis` marks one figure; `basis` is the weakest of its row. A
file is read once, when first asked for. What limits bends and supports is in `limits`, what limits cables in
`cables`.

The figures help a competent person: the product's own data, local codes and licensed practice decide.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from os import path
from typing import Any, Final, Literal

from bendcore.catalogue.records import Basis as Basis
from bendcore.catalogue.records import records
from bendcore.units import KG_PER_LB, MM_PER_INCH, Kg, Mm

Region = Literal["uk", "us"]
Joining = Literal["threaded", "plain"]
BendMeans = Literal["one-shot", "other"]
"""How a bend is made, as NFPA 70 ch. 9 Table 2 parts them: by a one-shot or full-shoe bender, or not."""

_INCHES_PER_FOOT: Final = 12


class Kind(StrEnum):
    """What a conduit is: metric steel, electrical metallic tubing, intermediate or rigid metal conduit."""

    STEEL = "steel"
    EMT = "emt"
    IMC = "imc"
    RMC = "rmc"


@dataclass(frozen=True, slots=True)
class ConduitRow:
    """One conduit as sold.

    id: stable, `steel-20-heavy` or `emt-1/2`.  size: nominal, "20" (mm) or trade size "1-1/4" (in).
    outside_diameter, wall, inside_diameter: nominal, in mm; US walls are half of outside less inside.
    inside_area_in2: square inches as NFPA 70 ch. 9 Table 4 prints it; None for metric conduit.
    stock_length: the full length as sold, in mm. RMC is sold with a coupling on, and this counts it in.
    net_length: the bare stick without that coupling, in mm, where it is known.
    mass_per_metre: kg per metre; bare steel for metric conduit, with one coupling a length for RMC.
    basis: the weakest of the row's figures.  weak: the names of the fields that are not `confirmed`.
    """

    id: str
    kind: Kind
    region: Region
    size: str
    outside_diameter: Mm
    wall: Mm | None
    inside_diameter: Mm | None
    inside_area_in2: float | None
    stock_length: Mm
    net_length: Mm | None
    joining: Joining
    mass_per_metre: Kg | None
    title: str
    basis: Basis
    weak: tuple[str, ...]
    source: str
    note: str


@dataclass(frozen=True, slots=True)
class ThreadRow:
    """The thread on the ends of threaded conduit of one size.

    designation: as the standard writes it, where known.  pitch: mm from thread to thread.
    length, least_length: the longest and shortest thread at an end, in mm; US tables give one length only.
    effective_length: L2 of a taper thread, in mm.  taper: of the diameter, mm per mm; 0 if parallel.
    basis, weak: as in `ConduitRow`.
    """

    region: Region
    size: str
    designation: str | None
    pitch: Mm
    length: Mm | None
    least_length: Mm | None
    effective_length: Mm | None
    taper: float
    basis: Basis
    weak: tuple[str, ...]
    source: str
    note: str


@dataclass(frozen=True, slots=True)
class CouplerRow:
    """A coupler, inside which two conduit ends meet.

    outside_diameter, length: mm; the length is the least allowed.
    """

    kind: Kind
    size: str
    outside_diameter: Mm
    length: Mm
    basis: Basis
    source: str
    note: str


@dataclass(frozen=True, slots=True)
class LeastRadius:
    """The least radius that a rule lets a bend have.

    radius: mm.  measured_to: the line of the bend that the rule speaks of.  note: which bends it is for.
    """

    radius: Mm
    measured_to: Literal["centreline", "inside"]
    basis: Basis
    source: str
    note: str


def conduit(conduit_id: str) -> ConduitRow:
    """The conduit of an id. Raises KeyError when there is none; `conduit_ids()` lists them."""
    return _conduit_table()[conduit_id]


def conduit_ids() -> tuple[str, ...]:
    """The ids of the catalogue: metric steel by size, then EMT, IMC and RMC by trade size."""
    return tuple(_conduit_table())


def conduits() -> tuple[ConduitRow, ...]:
    """Every conduit, in the order of `conduit_ids()`.

    Sources: IEC 60423 and BS 4568-1 (metric steel); for EMT, IMC and RMC NFPA 70 ch. 9 Table 4 (inside
    diameter and area) and ANSI C80.3, C80.6 and C80.1 (outside diameter, lengths). Each row names its own.
    """
    return tuple(_conduit_table().values())


def thread(conduit_id: str) -> ThreadRow | None:
    """The thread on the ends of a conduit; None for plain conduit (EMT).

    Sources: IEC 60423 and BS 6053 (metric); ASME B1.20.1, ANSI C80.1, UL 6 and NFPA 70 344.28 (US).
    Raises KeyError when there is no such conduit.
    """
    row = conduit(conduit_id)
    return _thread_table()[row.region, row.size] if row.joining == "threaded" else None


def coupler(conduit_id: str) -> CouplerRow | None:
    """The coupler of a conduit; None where its length is not known (all but RMC): the company is asked then.

    Source: ANSI C80.1. Raises KeyError when there is no such conduit.
    """
    row = conduit(conduit_id)
    return _coupler_table().get((row.kind, row.size))


def least_radius_us(size: str, bend_means: BendMeans) -> LeastRadius:
    """Least centreline radius of a bend in US metal conduit.

    size: trade size, "1/2" to "6".  bend_means: "one-shot" (one-shot and full-shoe benders) or "other".
    Raises KeyError when the table has no such size or means.
    Source: NFPA 70 ch. 9 Table 2.
    """
    return _us_radius_table()[size, bend_means]


def least_radius_uk(outside_diameter: Mm) -> LeastRadius:
    """Least inside radius of a bend in metric conduit: 2.5 times the outside diameter, whatever the bender.

    outside_diameter: mm, > 0.
    Source: IET On-Site Guide App. E and Guidance Note 1, from memory. Guidance: BS 7671 itself (522.8.3)
    gives no number.
    """
    (record,) = records("least_radius_uk.csv")
    return LeastRadius(
        radius=Mm(float(record["multiple"]) * outside_diameter),
        measured_to="inside",
        basis=Basis(record["basis"]),
        source=record["source"],
        note=record["note"],
    )


def bender_shapes() -> dict[str, dict[str, Any]]:
    """Benders by name, each as the contract's `bender` (docs/engine.md): "bench machine", "floor machine".

    Invented generic shapes, measured on no machine: one's own measurements replace them. Lengths in mm; a new
    dict each time.
    """
    with open(path.join(path.dirname(__file__), "benders.json"), encoding="utf-8") as file:
        shapes = json.load(file)["shapes"]
    return {name: shape["bender"] for name, shape in shapes.items()}


def _mm(text: str) -> Mm | None:
    return Mm(float(text)) if text else None


def _mm_from_inches(text: str) -> Mm | None:
    return Mm(float(text) * MM_PER_INCH) if text else None


def _weak(record: Mapping[str, str]) -> tuple[str, ...]:
    """The figures of a record that are known and not confirmed; those of `<figure>_basis` columns."""
    marks = ((name.removesuffix("_basis"), mark) for name, mark in record.items() if name.endswith("_basis"))
    return tuple(figure for figure, mark in marks if mark not in {"", Basis.CONFIRMED})


@cache
def _conduit_table() -> Mapping[str, ConduitRow]:
    metric = (_metric_conduit(record) for record in records("conduit_metric.csv"))
    us = (_us_conduit(record) for record in records("conduit_us.csv"))
    return {row.id: row for rows in (metric, us) for row in rows}


def _metric_conduit(record: Mapping[str, str]) -> ConduitRow:
    size, duty, mass = record["size"], record["duty"], record["mass_kg_per_m"]
    return ConduitRow(
        id=record["id"],
        kind=Kind.STEEL,
        region="uk",
        size=size,
        outside_diameter=Mm(float(record["outside_diameter_mm"])),
        wall=_mm(record["wall_mm"]),
        inside_diameter=_mm(record["inside_diameter_mm"]),
        inside_area_in2=None,
        stock_length=Mm(float(record["stock_length_mm"])),
        net_length=None,
        joining="threaded",
        mass_per_metre=Kg(float(mass)) if mass else None,
        title=f"{size} mm steel, {duty}" if duty else f"{size} mm steel",
        basis=Basis(record["basis"]),
        weak=_weak(record),
        source=record["source"],
        note=record["note"],
    )


def _us_conduit(record: Mapping[str, str]) -> ConduitRow:
    kind, size = Kind(record["kind"]), record["size"]
    outside_in, inside_in = float(record["outside_diameter_in"]), float(record["inside_diameter_in"])
    metres_per_100_ft = 100 * _INCHES_PER_FOOT * MM_PER_INCH / 1000
    return ConduitRow(
        id=record["id"],
        kind=kind,
        region="us",
        size=size,
        outside_diameter=Mm(outside_in * MM_PER_INCH),
        wall=Mm((outside_in - inside_in) / 2 * MM_PER_INCH),
        inside_diameter=Mm(inside_in * MM_PER_INCH),
        inside_area_in2=float(record["inside_area_in2"]),
        stock_length=Mm(float(record["stock_length_ft"]) * _INCHES_PER_FOOT * MM_PER_INCH),
        net_length=_mm_from_inches(record["net_length_in"]),
        joining="plain" if kind is Kind.EMT else "threaded",
        mass_per_metre=Kg(float(record["mass_lb_per_100ft"]) * KG_PER_LB / metres_per_100_ft),
        title=f"{size} in {kind.upper()}",
        basis=Basis(record["basis"]),
        weak=_weak(record),
        source=record["source"],
        note=record["note"],
    )


@cache
def _thread_table() -> Mapping[tuple[Region, str], ThreadRow]:
    metric = (_metric_thread(record) for record in records("thread_metric.csv"))
    us = (_us_thread(record) for record in records("thread_us.csv"))
    return {(row.region, row.size): row for rows in (metric, us) for row in rows}


def _metric_thread(record: Mapping[str, str]) -> ThreadRow:
    return ThreadRow(
        region="uk",
        size=record["size"],
        designation=record["designation"],
        pitch=Mm(float(record["pitch_mm"])),
        length=_mm(record["length_mm"]),
        least_length=_mm(record["least_length_mm"]),
        effective_length=None,
        taper=0.0,
        basis=Basis(record["basis"]),
        weak=_weak(record),
        source=record["source"],
        note=record["note"],
    )


def _us_thread(record: Mapping[str, str]) -> ThreadRow:
    return ThreadRow(
        region="us",
        size=record["size"],
        designation=None,
        pitch=Mm(MM_PER_INCH / float(record["threads_per_inch"])),
        length=_mm_from_inches(record["length_in"]),
        least_length=None,
        effective_length=_mm_from_inches(record["effective_length_in"]),
        taper=float(record["taper_in_per_ft"]) / _INCHES_PER_FOOT,
        basis=Basis(record["basis"]),
        weak=_weak(record),
        source=record["source"],
        note=record["note"],
    )


@cache
def _coupler_table() -> Mapping[tuple[Kind, str], CouplerRow]:
    rows = (
        CouplerRow(
            kind=Kind(record["kind"]),
            size=record["size"],
            outside_diameter=Mm(float(record["outside_diameter_in"]) * MM_PER_INCH),
            length=Mm(float(record["length_in"]) * MM_PER_INCH),
            basis=Basis(record["basis"]),
            source=record["source"],
            note=record["note"],
        )
        for record in records("coupler_us.csv")
    )
    return {(row.kind, row.size): row for row in rows}


@cache
def _us_radius_table() -> Mapping[tuple[str, str], LeastRadius]:
    return {
        (record["size"], record["condition"]): LeastRadius(
            radius=Mm(float(record["radius_in"]) * MM_PER_INCH),
            measured_to="centreline",
            basis=Basis(record["basis"]),
            source=record["source"],
            note=record["note"],
        )
        for record in records("least_radius_us.csv")
    }
