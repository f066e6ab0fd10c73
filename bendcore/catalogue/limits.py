"""How far apart conduit is fixed, and how much it may turn between draw-in points, by published tables."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from typing import Final, Literal

from bendcore.catalogue.records import Basis, records
from bendcore.units import MM_PER_INCH, Mm

_MM_PER_FOOT: Final = 12 * MM_PER_INCH

SpacingUs = Literal["general", "straight", "end"]
"""Between straps anywhere; on a straight run with threaded couplings; from a box to the first strap."""

SpacingUk = Literal["horizontal", "vertical", "end"]


@dataclass(frozen=True, slots=True)
class Most:
    """A length that a rule does not let be exceeded. most: mm.  basis, source, note: as in `ConduitRow`."""

    most: Mm
    basis: Basis
    source: str
    note: str


@dataclass(frozen=True, slots=True)
class BendLimit:
    """A limit of what lies between two draw-in points. value: in the unit that its function tells."""

    value: float
    basis: Basis
    source: str
    note: str


def spacing_us(kind: str, size: str | None, condition: SpacingUs) -> Most | None:
    """The most between straps of US conduit, or from an end to the first strap; None where no table says it.

    kind: "emt", "imc" or "rmc".  size: trade size, "1-1/4"; needed for "straight" alone, whose table goes by
    size; EMT has none.
    Sources: NFPA 70 344.30 and Table 344.30(B)(2) (RMC), 342.30 (IMC), 358.30 (EMT).
    """
    return _spacings_us().get((kind, size if condition == "straight" else "all", condition))


def spacing_uk(size: Mm, condition: SpacingUk) -> Most:
    """The most between saddles of rigid metal conduit, or from a box to the first saddle.

    size: nominal, mm, > 0.
    Sources: IET On-Site Guide App. D, from memory; "end" is common practice out of one specification, weak.
    """
    return next(
        _most(record, Mm(float(record["most_mm"])))
        for record in records("support_uk.csv")
        if record["condition"] == condition
        and float(record["over_mm"]) < size
        and (not record["up_to_mm"] or size <= float(record["up_to_mm"]))
    )


def bend_limit(region: str, kind: str, limit: str) -> BendLimit:
    """What a region lets lie between two draw-in points.

    ("us", "emt", "imc" or "rmc", "total_deg"): the sum of bends, degrees. Source: NFPA 70 358.26, 342.26,
    344.26 (numbers before the 2026 edition).
    ("uk", "any", "right_angles"): right angles or their equivalent; ("uk", "any", "draw_in_m"): metres of a
    straight run. Source: common practice, no regulation.
    Raises KeyError for any other.
    """
    return _bend_limits()[region, kind, limit]


def _most(record: Mapping[str, str], most: Mm) -> Most:
    return Most(most, Basis(record["basis"]), record["source"], record["note"])


@cache
def _spacings_us() -> Mapping[tuple[str, str | None, str], Most]:
    return {
        (record["kind"], record["size"], record["condition"]): _most(
            record, Mm(float(record["most_ft"]) * _MM_PER_FOOT)
        )
        for record in records("support_us.csv")
    }


@cache
def _bend_limits() -> Mapping[tuple[str, str, str], BendLimit]:
    return {
        (record["region"], record["kind"], record["limit"]): BendLimit(
            float(record["value"]), Basis(record["basis"]), record["source"], record["note"]
        )
        for record in records("bend_limit.csv")
    }
