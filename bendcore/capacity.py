"""What fits in a conduit: how many of these in that one, and which one takes these (docs/method/capacity.md).

Two ways of reckoning. British tables give each cable a factor and each conduit a factor by its length and
bends. US tables give each conductor an area and let a share of the conduit's inside be filled. What no table
has is not guessed: it is None.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from bendcore import catalogue
from bendcore.catalogue import cables as tables
from bendcore.catalogue.cables import Conductor, FactorTable
from bendcore.spec import Conduit, GaugeCables, MetricCables, Strand
from bendcore.units import MM_PER_INCH, Mm

SHORT_STRAIGHT: Final = Mm(3000.0)
"""A straight run without bends up to here is read in the short tables, mm. IET On-Site Guide App. E."""

NIPPLE: Final = Mm(24.0 * MM_PER_INCH)
"""A conduit between two boxes up to here is a nipple, mm. Source: NFPA 70 ch. 9 Note 4, from memory."""

SLACK: Final = 1e-6
"""A length over a limit by no more than this, mm, is rounding."""

_AREA_SLACK: Final = 1e-9
"""The same of a share of an area: printed areas have four decimals at the most."""

_ROUNDED_UP_FROM: Final = 0.8
"""Equal conductors: a decimal from here on counts as one more. Source: NFPA 70 ch. 9 Note 7."""

_LARGEST_LISTED: Final = "32"


# ------------------------------------------------------------------------------------------- British factors


@dataclass(frozen=True, slots=True)
class UkFactors:
    """What cables need and what each conduit has for one stretch.

    table: the tables read.  need: sum of the cables' factors, None where one is not tabulated.  untold:
    which are not, counted from 0.  length_m: the tabulated length read, m; None beyond the tables.  have: by
    nominal size, smallest first; empty beyond the tables.  needs_by, has_by: who says so, of the cables each
    source once, of the conduits by size.
    """

    table: FactorTable
    need: int | None
    untold: tuple[int, ...]
    length_m: float | None
    have: Mapping[str, float]
    needs_by: tuple[str, ...]
    has_by: Mapping[str, str]


def uk_factors(cables: Sequence[MetricCables], *, length: Mm, bends: int) -> UkFactors:
    """Cable and conduit factors for a stretch between draw-in points.

    length: mm along the conduit, > 0; read at the next tabulated length not below it.  bends: right angles,
    a double set counting as one; >= 0.
    Up to 3 m without bends the short tables hold, else the long ones, in which conduits above 32 mm have a
    multiple of its factor.
    Source: IET On-Site Guide App. E (formerly Tables 4.14 and 4.15 of a regulations handbook);
    docs/method/capacity.md.
    """
    table: FactorTable = "short" if bends == 0 and length <= SHORT_STRAIGHT + SLACK else "long"
    taken = [tables.cable_factor_uk(table, each.csa_mm2, each.type) for each in cables]
    untold = tuple(index for index, factor in enumerate(taken) if factor is None)
    known = [(each.count, factor) for each, factor in zip(cables, taken, strict=True) if factor is not None]
    have, has_by, read_at = _uk_have(table, length, bends)
    return UkFactors(
        table,
        None if untold else sum(count * factor.value for count, factor in known),
        untold,
        read_at,
        have,
        tuple(dict.fromkeys(factor.source for _, factor in known)),
        has_by,
    )


def uk_conduit_for(cables: Sequence[MetricCables], *, length: Mm, bends: int) -> str | None:
    """The smallest tabulated conduit that has room: its nominal size, mm ("25").

    None where a cable, the length or the bends are not tabulated, or no tabulated conduit has room. Arguments
    and source as in `uk_factors`.
    """
    factors = uk_factors(cables, length=length, bends=bends)
    if factors.need is None:
        return None
    return next((size for size, have in factors.have.items() if factors.need <= have), None)


def uk_count(csa_mm2: float, strand: Strand, size: str, *, length: Mm, bends: int) -> int | None:
    """How many cables of one kind a conduit has room for; None where the tables do not say.

    size: nominal, mm ("20"). Other arguments and source as in `uk_factors`.
    """
    factors = uk_factors([MetricCables(csa_mm2, 1, strand)], length=length, bends=bends)
    have = factors.have.get(size)
    return None if factors.need is None or have is None else int(have // factors.need)


def _uk_have(
    table: FactorTable, length: Mm, bends: int
) -> tuple[Mapping[str, float], Mapping[str, str], float | None]:
    """What each conduit has, who says so, and the tabulated length that was read, m."""
    have: dict[str, float] = {}
    has_by: dict[str, str] = {}
    read_at: float | None = None
    for size, by_length in tables.conduit_factors_uk(table, bends).items():
        length_m = min((m for m in by_length if length <= 1000.0 * m + SLACK), default=None)
        if length_m is not None:
            read_at = length_m
            have[size], has_by[size] = by_length[length_m].value, by_length[length_m].source
    if table == "long" and _LARGEST_LISTED in have:
        for size, multiple in tables.multiples_of_32_uk().items():
            # 2.6 x 575 is 1495 on paper, and must not be a rounding under it
            have[size] = round(multiple.value * have[_LARGEST_LISTED], 6)
            has_by[size] = multiple.source
    return have, has_by, read_at


# --------------------------------------------------------------------------------------------------- US areas


@dataclass(frozen=True, slots=True)
class Fill:
    """How full conductors make a conduit.

    conductors: how many in all.  need_in2: the area they take, inside_in2: the conduit's, square inches.
    percent: the most of it that so many may take.  most: how many fit, where all of them are equal.
    sources: of every figure used, each once.
    """

    conductors: int
    need_in2: float
    inside_in2: float
    percent: int
    most: int | None
    sources: tuple[str, ...]

    @property
    def allowance_in2(self) -> float:
        """The area that the conductors may take, square inches."""
        return self.inside_in2 * self.percent / 100.0

    @property
    def need_percent(self) -> int:
        """The share of the inside that they take, per cent, gone up to a whole one: over 40.0 reads 41."""
        return math.ceil(100.0 * self.need_in2 / self.inside_in2 - _AREA_SLACK)

    @property
    def fits(self) -> bool:
        """Whether they fit: by count where all are equal, else by area."""
        if self.most is not None:
            return self.conductors <= self.most
        return self.need_in2 <= self.allowance_in2 + _AREA_SLACK


def us_inside_in2(conduit: Conduit) -> float | None:
    """The inside area of a conduit, square inches; None where its wall is not known.

    As the table prints it for a conduit of the catalogue without a wall of its own, else out of outside
    diameter and wall.
    Source: NFPA 70 ch. 9 Table 4; geometry.
    """
    row = _table_4_row(conduit)
    if row is not None:
        return row.inside_area_in2
    if conduit.wall is None:
        return None
    bore_in = (conduit.outside_diameter - 2.0 * conduit.wall) / MM_PER_INCH
    return math.pi / 4.0 * bore_in * bore_in


def us_untold(cables: Sequence[GaugeCables]) -> tuple[int, ...]:
    """Which conductors are not tabulated, counted from 0. Source: NFPA 70 ch. 9 Table 5."""
    return tuple(
        index for index, each in enumerate(cables) if tables.conductor_us(each.size, each.insulation) is None
    )


def us_fill(cables: Sequence[GaugeCables], conduit: Conduit, *, nipple: bool = False) -> Fill | None:
    """How full conductors make a conduit; None where one is not tabulated or the wall is not known.

    cables: at least one.  nipple: the conduit is not over 24 in long between boxes, cabinets and the like.
    One conductor may take 53 % of the inside, two 31 %, more 40 %, any 60 % of a nipple. Equal conductors go
    by `us_count`.
    Source: NFPA 70 ch. 9 Tables 1, 4 and 5, Notes 4 (from memory) and 7; docs/method/capacity.md.
    """
    inside_in2 = us_inside_in2(conduit)
    rows = [tables.conductor_us(each.size, each.insulation) for each in cables]
    told = [row for row in rows if row is not None]
    if inside_in2 is None or len(told) < len(rows):
        return None
    conductors = sum(each.count for each in cables)
    share = tables.fill_percent_us(conductors, nipple=nipple)
    need_in2 = math.fsum(row.area_in2 * each.count for row, each in zip(told, cables, strict=True))
    equal = len({row.area_in2 for row in told}) == 1
    listed = _table_4_row(conduit)
    most = _most_equal(told[0], inside_in2, nipple=nipple) if equal else None
    area_source = "geometry: outside diameter less two walls" if listed is None else listed.source
    return Fill(
        conductors,
        need_in2,
        inside_in2,
        share.value,
        most,
        tuple(dict.fromkeys([*(row.source for row in told), area_source, share.source])),
    )


def us_count(size: str, insulation: str, conduit_id: str, *, nipple: bool = False) -> int | None:
    """How many equal conductors fit in a conduit of the catalogue; None where the conductor is not tabulated.

    size: "12 AWG", "250 kcmil".  insulation: "THHN".  conduit_id: "emt-3/4".  nipple: as in `us_fill`.
    The share of the inside over the conductor's area, a decimal from 0.8 on going up. Raises KeyError when
    there is no such conduit.
    Source: NFPA 70 ch. 9 Tables 1, 4 and 5 and Note 7; gives the counts of Annex C Table C.1 (EMT, THHN).
    """
    catalogue.conduit(conduit_id)
    fill = us_fill([GaugeCables(size, insulation, 1)], Conduit(conduit_id), nipple=nipple)
    return None if fill is None else fill.most


def us_conduit_for(cables: Sequence[GaugeCables], kind: str, *, nipple: bool = False) -> str | None:
    """The smallest conduit of a kind that takes the conductors: its id in the catalogue.

    kind: "emt", "imc" or "rmc".  None where a conductor is not tabulated or no listed conduit takes them.
    Arguments and source as in `us_fill`.
    """
    for row in catalogue.conduits():
        if row.kind == kind:
            fill = us_fill(cables, Conduit(row.id), nipple=nipple)
            if fill is not None and fill.fits:
                return row.id
    return None


def _table_4_row(conduit: Conduit) -> catalogue.ConduitRow | None:
    """The catalogue's row, where the conduit's area is read in Table 4."""
    if conduit.catalogue is None or conduit.own_wall is not None:
        return None
    row = catalogue.conduit(conduit.catalogue)
    return None if row.inside_area_in2 is None else row


def _most_equal(row: Conductor, inside_in2: float, *, nipple: bool) -> int:
    """How many equal conductors fit, by Note 7.

    The share falls from one conductor to two and rises again with three, so the greatest number is tried
    first. Annex C reckons one and two conductors with the 0.8 as well.
    """

    def fit(conductors: int) -> int:
        share = tables.fill_percent_us(conductors, nipple=nipple).value / 100.0
        return math.floor(share * inside_in2 / row.area_in2 + (1.0 - _ROUNDED_UP_FROM) + _AREA_SLACK)

    many = fit(3)
    if many >= 3:
        return many
    return 2 if fit(2) >= 2 else min(fit(1), 1)
