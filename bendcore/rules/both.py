"""Rules that hold the same way under either pack, but for whose source and edition they name."""

import math
from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from bendcore.errors import Figure
from bendcore.rules.facts import SLACK, Draw, RunFacts, Termination, between
from bendcore.rules.supports import Missed, Spacing, Support, place
from bendcore.units import Mm
from bendcore.words import Finding, Level

PRACTICE: Final = "common practice"
"""The edition of a rule that no publication fixes."""

_PLAIN_DIAMETERS: Final = 2.0
"""Straight that a connector on plain conduit needs, in outside diameters (common practice)."""


@dataclass(frozen=True, slots=True)
class Whose:
    """Who says so: the source of a finding and its edition."""

    source: str
    edition: str


def ends_of(draw: Draw) -> dict[str, Figure]:
    """Where a draw begins and ends, as figures of a finding."""
    return {"from": draw.start.name, "to": draw.finish.name}


def made_radii(facts: RunFacts) -> Iterator[tuple[Mm, str]]:
    """Each radius that bends are made to, mm, once, with its place in the spec: the former's, or the
    bend's."""
    told: list[Mm] = []
    for bend in facts.made:
        if any(abs(bend.radius - radius) <= SLACK for radius in told):
            continue
        told.append(bend.radius)
        by_former = abs(bend.radius - facts.radius) <= SLACK
        yield bend.radius, "former.centreline_radius" if by_former else bend.where


def supports(
    facts: RunFacts, spacing: Spacing, told: dict[str, Figure], whose: Whose
) -> tuple[list[Finding], list[Support]]:
    """`support-spacing`: the clips, a warning where none can stand as it should, and their count in a note.

    told: the spacings, as figures of the findings.
    """
    clips, missed = place(facts, spacing)

    def finding(level: Level, where: str, figures: dict[str, Figure]) -> Finding:
        return Finding("support-spacing", level, where, figures, whose.source, whose.edition)

    findings = [finding(Level.WARN, each.where, _missed(each)) for each in missed]
    if clips:
        findings.append(finding(Level.NOTE, "route", {"count": len(clips), **told}))
    return findings, clips


def _missed(missed: Missed) -> dict[str, Figure]:
    return {"missed": missed.what, "distance_mm": missed.distance, "most_mm": missed.most}


def end_straight(facts: RunFacts) -> Iterator[Finding]:
    """`end-straight`: a straight at a box or end too short for its thread, or connector, and a grip on it.

    Wanted are the thread and one outside diameter for spanner and locknut; a thread that is not known counts
    as one diameter more. Under a connector, and in plain conduit, two diameters are wanted. An open end wants
    none. Common practice, but for the length of the thread.
    """
    for end in facts.terminations:
        if end.kind == "open":
            continue
        need, source = _wanted(facts, end)
        for length in _straights_beside(facts, end):
            if length < need - SLACK:
                figures: dict[str, Figure] = {"end": end.name, "straight_mm": length, "need_mm": need}
                yield Finding("end-straight", Level.WARN, end.where, figures, source, PRACTICE)


def _wanted(facts: RunFacts, end: Termination) -> tuple[Mm, str]:
    """The least straight at an end, mm, and who says so."""
    diameter = facts.conduit.outside_diameter
    if facts.conduit.joining == "plain" or end.kind == "connector":
        return Mm(_PLAIN_DIAMETERS * diameter), PRACTICE
    thread = facts.thread
    if thread is None or thread.length is None:
        return Mm(2.0 * diameter), f"{PRACTICE}; the thread's length is not known"
    return Mm(thread.length + diameter), f"{PRACTICE}; thread: {thread.source}"


def _straights_beside(facts: RunFacts, end: Termination) -> Iterator[Mm]:
    """The straight between an end and the nearest bend on each side, where both are on one stick, mm."""
    before = between(facts.bends, 0.0, end.along)[-1:]
    after = between(facts.bends, end.along, facts.developed_length)[:1]
    for bend in (*before, *after):
        low, high = sorted((bend.along, end.along))
        parted = len(between(facts.joints, low, high)) + len(between(facts.terminations, low, high))
        if bend.fitting or parted:
            continue
        first = bisect_left(facts.straights, low, key=lambda each: each.begin)
        last = bisect_left(facts.straights, high, first, key=lambda each: each.begin)
        yield Mm(math.fsum(each.length for each in facts.straights[first:last]))


def thread_reminder(facts: RunFacts, edition: str) -> Iterator[Finding]:
    """`thread-reminder`: what a cut thread wants, told once for threaded conduit."""
    if facts.conduit.joining != "threaded":
        return
    thread = facts.thread
    figures: dict[str, Figure] = {}
    if thread is not None:
        figures = {"thread_mm": thread.length, "taper": thread.taper}
    source = PRACTICE if thread is None else thread.source
    yield Finding("thread-reminder", Level.NOTE, "conduit", figures, source, edition)


def bonding(whose: Whose) -> Finding:
    """`bonding`: the conduit may be the protective conductor, told once."""
    return Finding("bonding", Level.NOTE, "conduit", {}, whose.source, whose.edition)


def building_joint() -> Finding:
    """`building-joint`: where the building moves, told once: nobody tells the plan where its joints are."""
    return Finding("building-joint", Level.NOTE, "route", {}, PRACTICE, PRACTICE)
