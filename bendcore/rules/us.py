"""Rules of the United States: NFPA 70, articles 342 (IMC), 344 (RMC) and 358 (EMT), and chapter 9."""

from collections.abc import Iterator, Sequence
from typing import Final

from bendcore import capacity, catalogue
from bendcore.catalogue import limits
from bendcore.errors import Figure
from bendcore.rules import both
from bendcore.rules.both import Whose
from bendcore.rules.facts import SLACK, Draw, RunFacts, StraightAt, draws
from bendcore.rules.supports import Spacing, Support
from bendcore.spec import GaugeCables
from bendcore.units import Mm
from bendcore.words import Finding, Level

NOT_CHECKED: Final = "NFPA 70, edition not checked"
BEFORE_2026: Final = "NFPA 70 before 2026"
"""The 2026 edition moves the limits of bends from .26 to .24(B)."""
TABLE_5_OF_2008: Final = "NFPA 70:2008 (Table 5); other tables: edition not checked"

_NO_BOX: Final = ("open", "coupler", "flexible")
"""Ends that are no box, cabinet or the like: conduit that ends in one is no nipple."""


def judge(facts: RunFacts) -> tuple[list[Finding], list[Support]]:
    """Every finding of the rules of the United States, and the straps."""
    found, clips = support_spacing(facts)
    drawn = list(draws(facts))
    return [
        *bend_radius(facts),
        *total_bend(facts, drawn),
        *cable_capacity(facts, drawn),
        *both.end_straight(facts),
        *running_thread(facts),
        *found,
        *both.thread_reminder(facts, NOT_CHECKED),
        both.bonding(Whose("NFPA 70 article 250, from memory", NOT_CHECKED)),
        both.building_joint(),
    ], clips


def bend_radius(facts: RunFacts) -> Iterator[Finding]:
    """`bend-radius`: the centreline radius under that of the table: a stop. A warning where the trade size is
    not known, so that the table cannot be read.

    Source: NFPA 70 ch. 9 Table 2, the column of `facts.bend_means`.
    """
    size = facts.trade_size
    for radius, where in both.made_radii(facts):
        figures: dict[str, Figure] = {"radius_mm": radius}
        if size is None:
            yield Finding(
                "bend-radius", Level.WARN, where, figures, "NFPA 70 ch. 9 Table 2, by trade size", NOT_CHECKED
            )
            return
        least = catalogue.least_radius_us(size[1], facts.bend_means)
        if radius < least.radius - SLACK:
            figures["least_mm"] = least.radius
            yield Finding("bend-radius", Level.STOP, where, figures, least.source, NOT_CHECKED)


def total_bend(facts: RunFacts, drawn: Sequence[Draw]) -> Iterator[Finding]:
    """`total-bend`: more than 360° between pull points, offsets and kicks counted by their angles: a stop.

    Told at the bend that goes over.
    Source: NFPA 70 344.26, 342.26, 358.26 (numbers before the 2026 edition).
    """
    limit = limits.bend_limit("us", _kind(facts), "total_deg")
    for draw in drawn:
        total, over = 0.0, None
        for bend in draw.bends:
            total += bend.angle
            if over is None and total > limit.value + SLACK:
                over = bend
        if over is not None:
            figures: dict[str, Figure] = {
                **both.ends_of(draw),
                "total_deg": total,
                "limit_deg": limit.value,
            }
            yield Finding("total-bend", Level.STOP, over.where, figures, limit.source, BEFORE_2026)


def cable_capacity(facts: RunFacts, drawn: Sequence[Draw]) -> Iterator[Finding]:
    """`cable-capacity`: how full the conductors make the conduit: a stop where they are too many, a note
    where they fit, a warning where a table has not the conductor or the wall is not known.

    The fill is the same all along, but for nipples: each is told once.
    Source: NFPA 70 ch. 9 Tables 1, 4 and 5, Notes 4 and 7, Annex C.
    """
    cables = [each for each in facts.cables if isinstance(each, GaugeCables)]
    if not cables:
        return
    untold = capacity.us_untold(cables)
    for index in untold:
        figures: dict[str, Figure] = {"case": "cable", "cable": index + 1}
        yield _capacity(Level.WARN, f"cables[{index}]", figures, ("NFPA 70 ch. 9 Table 5",))
    if capacity.us_inside_in2(facts.conduit) is None:
        yield _capacity(Level.WARN, "conduit.wall", {"case": "wall"}, ("NFPA 70 ch. 9 Table 4",))
        return
    if untold:
        return
    for nipple in dict.fromkeys(_is_nipple(draw) for draw in drawn):
        fill = capacity.us_fill(cables, facts.conduit, nipple=nipple)
        assert fill is not None  # noqa: S101 - conductors and wall are known here
        figures = {
            "case": "fits" if fill.fits else "over",
            "conductors": fill.conductors,
            "need_percent": fill.need_percent,
            "percent": fill.percent,
            "need_in2": fill.need_in2,
            "allowance_in2": fill.allowance_in2,
            "most": fill.most,
            "nipple": int(nipple),
            "takes": capacity.us_conduit_for(cables, _kind(facts), nipple=nipple),
        }
        yield _capacity(Level.NOTE if fill.fits else Level.STOP, "cables", figures, fill.sources)


def running_thread(facts: RunFacts) -> Iterator[Finding]:
    """`running-thread`: a running coupler, whose long thread is refused at couplings: a stop.

    Source: NFPA 70 344.42(B).
    """
    for joint in facts.joints:
        if joint.kind == "running_coupler":
            yield Finding("running-thread", Level.STOP, joint.where, {}, "NFPA 70 344.42(B)", NOT_CHECKED)


def support_spacing(facts: RunFacts) -> tuple[list[Finding], list[Support]]:
    """`support-spacing`: straps 10 ft apart and within 3 ft of each box; on a straight of rigid or
    intermediate metal conduit with threaded couplings by the table of its size, where both stand on it.

    Source: NFPA 70 344.30, 342.30, 358.30, Table 344.30(B)(2).
    """
    kind = _kind(facts)
    general, end = limits.spacing_us(kind, None, "general"), limits.spacing_us(kind, None, "end")
    assert general is not None  # noqa: S101 - every kind has both
    assert end is not None  # noqa: S101
    size = facts.trade_size
    straight = None if size is None else limits.spacing_us(*size, "straight")
    most = general.most if straight is None else straight.most

    def on(_: StraightAt) -> Mm:
        return most

    told: dict[str, Figure] = {
        "general_mm": general.most,
        "straight_mm": most if most > general.most else None,
        "end_mm": end.most,
    }
    sources = [general.source, end.source, *([] if straight is None else [straight.source])]
    whose = Whose("; ".join(dict.fromkeys(sources)), NOT_CHECKED)
    return both.supports(facts, Spacing(end.most, on, general.most), told, whose)


def _kind(facts: RunFacts) -> str:
    """The kind of conduit whose article holds; conduit by its own figures goes as EMT if plain, else RMC."""
    size = facts.trade_size
    if size is not None:
        return size[0]
    return "emt" if facts.conduit.joining == "plain" else "rmc"


def _is_nipple(draw: Draw) -> bool:
    ends = (draw.start, draw.finish)
    boxed = all(end.draw_in and end.kind not in _NO_BOX for end in ends)
    return boxed and draw.length <= capacity.NIPPLE + SLACK


def _capacity(level: Level, where: str, figures: dict[str, Figure], sources: Sequence[str]) -> Finding:
    return Finding("cable-capacity", level, where, figures, "; ".join(sources), TABLE_5_OF_2008)
