"""British rules: guidance of the IET On-Site Guide and the habits of the trade; BS 7671 gives few numbers."""

from collections.abc import Iterator, Sequence
from typing import Final

from bendcore import capacity, catalogue
from bendcore.catalogue import limits
from bendcore.errors import Figure
from bendcore.rules import both
from bendcore.rules.both import PRACTICE, Whose
from bendcore.rules.facts import SLACK, BentAt, Draw, RunFacts, StraightAt, draws
from bendcore.rules.supports import Spacing, Support
from bendcore.spec import MetricCables
from bendcore.units import Deg, Mm
from bendcore.words import Finding, Level

ON_SITE_GUIDE: Final = "IET On-Site Guide, edition not checked"

_RIGHT_ANGLE: Final = 90.0

_ONE_BEND: Final = ("offset", "box_set")
"""Sets that count as one bend. Source: IET On-Site Guide App. E, from memory."""

_PLUMB: Final = 0.9961947
"""Cosine of 5°: what stands steeper is vertical, all else counts as horizontal, which has the closer spacing
(common practice)."""

_MM_PER_M: Final = 1000.0


def judge(facts: RunFacts) -> tuple[list[Finding], list[Support]]:
    """Every finding of the British rules, and the saddles."""
    found, clips = support_spacing(facts)
    drawn = list(draws(facts))
    return [
        *bend_radius(facts),
        *total_bend(drawn),
        *draw_in_distance(drawn),
        *cable_capacity(facts, drawn),
        *both.end_straight(facts),
        *found,
        *both.thread_reminder(facts, "IEC 60423, edition not checked"),
        both.bonding(Whose("BS 7671 section 543, from memory", "BS 7671, edition not checked")),
        both.building_joint(),
    ], clips


def bend_radius(facts: RunFacts) -> Iterator[Finding]:
    """`bend-radius`: the inside radius, R - D/2, under 2.5 outside diameters: a warning.

    Source: IET On-Site Guide App. E and Guidance Note 1, from memory; BS 7671 522.8.3 gives no number.
    """
    diameter = facts.conduit.outside_diameter
    least = catalogue.least_radius_uk(diameter)
    for radius, where in both.made_radii(facts):
        inside = Mm(radius - diameter / 2.0)
        if inside < least.radius - SLACK:
            figures: dict[str, Figure] = {"radius_mm": radius, "inside_mm": inside, "least_mm": least.radius}
            yield Finding("bend-radius", Level.WARN, where, figures, least.source, ON_SITE_GUIDE)


def total_bend(drawn: Sequence[Draw]) -> Iterator[Finding]:
    """`total-bend`: more than two right angles or their equivalent between draw-in points: a warning.

    Each bend counts by its angle, a double or box set as one right angle, a saddle set by the angles of its
    bends. Told at the bend that goes over.
    Source: common practice, no regulation; that a double set is one bend: IET On-Site Guide App. E, from
    memory.
    """
    limit = limits.bend_limit("uk", "any", "right_angles")
    most = limit.value * _RIGHT_ANGLE
    for draw in drawn:
        total, over = 0.0, None
        for bend, angle in _counted(draw.bends):
            total += angle
            if over is None and total > most + SLACK:
                over = bend
        if over is not None:
            sets = any(bend.feature_kind in _ONE_BEND for bend in draw.bends)
            figures: dict[str, Figure] = {
                **both.ends_of(draw),
                "total_deg": total,
                "limit_deg": most,
                "sets": int(sets),
            }
            yield Finding("total-bend", Level.WARN, over.where, figures, limit.source, PRACTICE)


def draw_in_distance(drawn: Sequence[Draw]) -> Iterator[Finding]:
    """`draw-in-distance`: more than 10 m between draw-in points: a note, with bends as without.

    Source: common practice of specifications, said of straight runs.
    """
    limit = limits.bend_limit("uk", "any", "draw_in_m")
    most = limit.value * _MM_PER_M
    for draw in drawn:
        if draw.length > most + SLACK:
            figures: dict[str, Figure] = {**both.ends_of(draw), "length_mm": draw.length, "limit_mm": most}
            yield Finding("draw-in-distance", Level.NOTE, draw.finish.where, figures, limit.source, PRACTICE)


def bends_counted(bends: Sequence[BentAt]) -> int:
    """Bends as the tables of conduit factors count them.

    A bend of its own is one, even below a right angle; a double or box set is one; a saddle set is two, as
    out and back again.
    Source: that a bend means 90° and a double set is one bend: IET On-Site Guide App. E, from memory. The
    rest counts no fewer.
    """
    sets = {bend.feature: bend.feature_kind for bend in bends if bend.feature is not None}
    own = sum(bend.feature is None for bend in bends)
    return own + sum(1 if kind in _ONE_BEND else 2 for kind in sets.values())


def cable_capacity(facts: RunFacts, drawn: Sequence[Draw]) -> Iterator[Finding]:
    """`cable-capacity`: cable factors against the conduit's, for each stretch between draw-in points.

    A warning where the cables need more than the conduit has, or no table says; a note where they fit.
    Source: IET On-Site Guide App. E.
    """
    cables = [each for each in facts.cables if isinstance(each, MetricCables)]
    if not cables:
        return
    untold: set[int] = set()
    for draw in drawn:
        bends = bends_counted(draw.bends)
        factors = capacity.uk_factors(cables, length=draw.length, bends=bends)
        for index in factors.untold:
            if index not in untold:
                untold.add(index)
                yield _capacity(
                    Level.WARN, f"cables[{index}]", {"case": "cable", "cable": index + 1}, factors
                )
        told: dict[str, Figure] = {**both.ends_of(draw), "length_mm": draw.length, "bends": bends}
        if not factors.have:
            yield _capacity(Level.WARN, "cables", {"case": "stretch", **told}, factors)
        elif factors.need is not None:
            takes = capacity.uk_conduit_for(cables, length=draw.length, bends=bends)
            size = None if facts.size_uk is None else str(facts.size_uk)
            told |= {"need": factors.need, "size": size, "takes": takes}
            if size is None or size not in factors.have:
                yield _capacity(Level.WARN, "cables", {"case": "conduit", **told}, factors)
                continue
            # the cables' factors are whole numbers, so what a multiple leaves of one is of no use
            told["have"] = int(factors.have[size])
            if factors.need > factors.have[size]:
                yield _capacity(Level.WARN, "cables", {"case": "over", **told}, factors)
                continue
            if len(cables) == 1:
                only = cables[0]
                told["most"] = capacity.uk_count(
                    only.csa_mm2, only.type, size, length=draw.length, bends=bends
                )
            yield _capacity(Level.NOTE, "cables", {"case": "fits", **told}, factors)


def support_spacing(facts: RunFacts) -> tuple[list[Finding], list[Support]]:
    """`support-spacing`: saddles by size, level or upright, the first near each box.

    Source: IET On-Site Guide App. D, from memory; the first saddle: common practice, one specification.
    """
    size = Mm(float(facts.size_uk)) if facts.size_uk is not None else facts.conduit.outside_diameter
    level, upright = limits.spacing_uk(size, "horizontal"), limits.spacing_uk(size, "vertical")
    end = limits.spacing_uk(size, "end")

    def on(straight: StraightAt) -> Mm:
        return upright.most if abs(straight.direction[2]) >= _PLUMB else level.most

    told: dict[str, Figure] = {
        "horizontal_mm": level.most,
        "vertical_mm": upright.most,
        "end_mm": end.most,
    }
    whose = Whose(f"{level.source}; first saddle: {end.source}", ON_SITE_GUIDE)
    return both.supports(facts, Spacing(end.most, on, upright.most), told, whose)


def _counted(bends: Sequence[BentAt]) -> Iterator[tuple[BentAt, Deg]]:
    """Each bend with what it adds to the total, degrees; of a double set the first adds a right angle."""
    sets: set[int] = set()
    for bend in bends:
        if bend.feature is None or bend.feature_kind not in _ONE_BEND:
            yield bend, bend.angle
        elif bend.feature not in sets:
            sets.add(bend.feature)
            yield bend, Deg(_RIGHT_ANGLE)


def _capacity(level: Level, where: str, figures: dict[str, Figure], factors: capacity.UkFactors) -> Finding:
    sizes = (str(figures.get(name)) for name in ("size", "takes"))
    has_by = [factors.has_by[size] for size in sizes if size in factors.has_by]
    source = "; ".join(dict.fromkeys([*factors.needs_by, *has_by])) or "IET On-Site Guide App. E"
    return Finding("cable-capacity", level, where, figures, source, ON_SITE_GUIDE)
