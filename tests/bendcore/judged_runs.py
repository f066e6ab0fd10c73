"""Runs as a rule pack sees them, laid end to end from their parts.

Along the run everything is to scale. In the room only the straights are: a bend turns on the spot, which no
rule minds."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from bendcore.catalogue import BendMeans
from bendcore.rules import BentAt, JointAt, RunFacts, StraightAt, Support, Termination, judge
from bendcore.spec import CablesAsked, Conduit, RulePack
from bendcore.units import Deg, Mm
from bendcore.vectors import Vec
from bendcore.words import Finding

WAYS: dict[str, Vec] = {
    "up": (0.0, 0.0, 1.0),
    "right": (1.0, 0.0, 0.0),
    "in": (0.0, 1.0, 0.0),
    "sloping": (math.sqrt(0.5), 0.0, math.sqrt(0.5)),
}


@dataclass(frozen=True, slots=True)
class Leg:
    """A straight, mm."""

    length: float
    way: str = "right"


@dataclass(frozen=True, slots=True)
class Turn:
    """A bend made in the stick, or taken by a bought one."""

    angle: float
    feature: int | None = None
    kind: str | None = None
    radius: float | None = None
    bought: bool = False


@dataclass(frozen=True, slots=True)
class Joint:
    """A joint without a gap."""

    kind: str = "coupler"


@dataclass(frozen=True, slots=True)
class Box:
    """A fitting: from one stick's finish to the next one's start, mm.  angle: its own turn, degrees."""

    kind: str = "draw_in_box"
    draw_in: bool = True
    length: float = 0.0
    angle: float = 0.0


Part = Leg | Turn | Joint | Box


def run(
    *parts: Part,
    conduit: Conduit | str = "steel-20-heavy",
    radius: float = 73.0,
    cables: Sequence[CablesAsked] = (),
    ends: tuple[str, str] = ("spout", "spout"),
    bend_means: BendMeans = "one-shot",
) -> RunFacts:
    """The facts of a run; places in the spec are `part[0]` and so on."""
    bends: list[BentAt] = []
    straights: list[StraightAt] = []
    joints: list[JointAt] = []
    terminations = [Termination(Mm(0.0), "ends.start", ends[0], True, "start")]
    at, place, stick = (0.0, 0.0, 0.0), 0.0, 1
    for index, part in enumerate(parts):
        where = f"part[{index}]"
        if isinstance(part, Leg):
            way = WAYS[part.way]
            straights.append(StraightAt(Mm(place), Mm(place + part.length), at, way, stick, where))
            at = (at[0] + part.length * way[0], at[1] + part.length * way[1], at[2] + part.length * way[2])
            place += part.length
        elif isinstance(part, Turn):
            own = radius if part.radius is None else part.radius
            arc = own * math.radians(part.angle)
            middle = Mm(place + arc / 2.0)
            bends.append(
                BentAt(
                    len(bends) + 1,
                    Deg(part.angle),
                    Mm(own),
                    where,
                    middle,
                    part.feature,
                    part.kind,
                    part.bought,
                )
            )
            if part.bought:
                name = str(len(terminations))
                terminations.append(Termination(middle, where, "bought_bend", False, name))
            place += arc
        elif isinstance(part, Joint):
            joints.append(JointAt(Mm(place), part.kind, where))
            stick += 1
        else:
            middle = Mm(place + part.length / 2.0)
            if part.angle:
                bends.append(BentAt(len(bends) + 1, Deg(part.angle), Mm(0.0), where, middle, fitting=True))
            terminations.append(Termination(middle, where, part.kind, part.draw_in, str(len(terminations))))
            place += part.length
            stick += 1
    terminations.append(Termination(Mm(place), "ends.finish", ends[1], True, "finish"))
    return RunFacts(
        conduit if isinstance(conduit, Conduit) else Conduit(conduit),
        Mm(radius),
        tuple(bends),
        tuple(straights),
        tuple(terminations),
        tuple(joints),
        Mm(place),
        tuple(cables),
        bend_means,
    )


def found(pack: str, facts: RunFacts, rule: str) -> list[Finding]:
    """What one rule finds."""
    findings, _ = judge(RulePack(pack), facts)
    return [finding for finding in findings if finding.rule == rule]


def clips(pack: str, facts: RunFacts) -> list[Support]:
    """Where the clips go."""
    return judge(RulePack(pack), facts)[1]


def told(findings: Sequence[Finding]) -> list[tuple[str, str]]:
    """Level and place of each finding."""
    return [(str(finding.level), finding.where) for finding in findings]
