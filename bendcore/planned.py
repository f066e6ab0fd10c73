"""What a run comes to: its sticks, their bends, how each is set, and what was found."""

from dataclasses import dataclass

from bendcore import words
from bendcore.ends import StickEnd
from bendcore.joints import Blank
from bendcore.order import Posture, SetMark
from bendcore.route import Route
from bendcore.rules import Support
from bendcore.spec import BenderAsked, Conduit, FitFrom, Former, RulePack, Tolerance
from bendcore.springback import Pull
from bendcore.units import Deg, Mm, Units
from bendcore.words import Dialect, Finding, Level


@dataclass(frozen=True, slots=True)
class Marks:
    """Outline positions of a bend on the straight stick, mm from its start.

    back, inside: the corners of the outline, for measuring only; None from 179° on, and so is the gain.
    gain: the trade's, back to back: what the legs beside it measure more than the conduit they are made from.
    """

    begin: Mm
    centre: Mm
    back: Mm | None
    inside: Mm | None
    gain: Mm | None


@dataclass(frozen=True, slots=True)
class PlannedBend:
    """One bend of a stick.

    number: within its stick, from 1.  corner: of the route, from 1.  begin, finish: tangent points on the
    straight stick, mm.  roll: from the way the stick's first bend closes, in (-180, 180].  order: when it is
    made; None, as held is, where there is no order that clears the bender.  turned: the stick is turned end
    for end before it.
    """

    number: int
    corner: int
    begin: Mm
    finish: Mm
    angle: Deg
    radius: Mm
    roll: Deg
    marks: Marks
    order: int | None
    held: str | None
    set: SetMark
    pull: Pull | None = None
    turned: bool = False
    posture: Posture | None = None

    def to_dict(self) -> dict[str, object]:
        """The bend as the contract writes it."""
        marks, posture = self.marks, self.posture
        told: dict[str, object] = {
            "number": self.number,
            "corner": self.corner,
            "begin": self.begin,
            "finish": self.finish,
            "angle": self.angle,
            "radius": self.radius,
            "roll": self.roll,
            "marks": {
                "begin": marks.begin,
                "centre": marks.centre,
                "back": marks.back,
                "inside": marks.inside,
            },
            "order": self.order,
            "held": self.held,
            "turned": self.turned,
            "posture": None
            if posture is None
            else {"bend": posture.bend, "angle": posture.angle, "lies": posture.lies},
            "set": self.set.to_dict(),
        }
        if self.pull is not None:
            told["pull"] = {"first": self.pull.first, "expect": self.pull.expect}
        return told


@dataclass(frozen=True, slots=True)
class Stick:
    """One physical length of the run.

    clock: roll of its first bend from the last bend of the earlier sticks, fittings counted; None without
    either.
    along: from the run's developed start to the stick's start, mm.  fit: when it is fitted, from 1.
    blank: what it is cut from; None where joints are "none", for then nobody said.
    turn_rounds: how often it is turned end for end between its bends; None without an order.
    """

    number: int
    cut_length: Mm
    clock: Deg | None
    bends: tuple[PlannedBend, ...]
    start: StickEnd
    finish: StickEnd
    along: Mm
    fit: int
    blank: Blank | None
    turn_rounds: int | None

    def to_dict(self) -> dict[str, object]:
        """The stick as the contract writes it."""
        told: dict[str, object] = {
            "number": self.number,
            "cut_length": self.cut_length,
            "clock": self.clock,
            "along": self.along,
            "fit": self.fit,
            "turn_rounds": self.turn_rounds,
            "bends": [bend.to_dict() for bend in self.bends],
            "start": self.start.to_dict(),
            "finish": self.finish.to_dict(),
        }
        if self.blank is not None:
            blank = self.blank
            told["blank"] = {
                "length": blank.length,
                "offcut": blank.offcut,
                "cuts": blank.cuts,
                "threads": blank.threads,
            }
        return told


@dataclass(frozen=True, slots=True)
class Plan:
    """A run planned: its sticks from start to finish, and what was found.

    supports: where the rule pack wants clips; empty without one.
    """

    run: str
    conduit: Conduit
    former: Former
    tolerance: Tolerance
    route: Route
    developed_length: Mm
    total_bend: Deg
    sticks: tuple[Stick, ...]
    findings: tuple[Finding, ...]
    bender: BenderAsked | None = None
    rules: RulePack | None = None
    fit_from: FitFrom = FitFrom.START
    supports: tuple[Support, ...] = ()

    @property
    def has_stop(self) -> bool:
        """Whether a finding says that the run cannot be made as planned."""
        return any(finding.level is Level.STOP for finding in self.findings)

    def to_dict(self, units: Units = Units.MM, dialect: Dialect = Dialect.UK) -> dict[str, object]:
        """The plan as the contract writes it; units and dialect are those of the findings' sentences."""
        told: dict[str, object] = {
            "run": self.run,
            "developed_length": self.developed_length,
            "total_bend": self.total_bend,
            "sticks": [stick.to_dict() for stick in self.sticks],
            "findings": [_told(finding, units, dialect) for finding in self.findings],
        }
        if self.rules is not None:
            starts = [stick.along for stick in self.sticks]
            told["supports"] = [
                {
                    "along": each.along,
                    "at": list(each.at),
                    "stick": each.stick,
                    "from_start": each.along - starts[each.stick - 1],
                }
                for each in self.supports
            ]
        return told


@dataclass(frozen=True, slots=True)
class Bank:
    """Conduits side by side: the given route first, each with the step of its marks from the one before."""

    plans: tuple[Plan, ...]

    @property
    def has_stop(self) -> bool:
        """Whether any of the conduits cannot be made as planned."""
        return any(plan.has_stop for plan in self.plans)

    def steps(self, conduit: int) -> tuple[Mm | None, ...]:
        """For each bend, how far its set mark moves from the conduit before, mm along the stick.

        conduit: from 1; the first has none.  None where the two bends stand on sticks of other numbers, or
        are held by other sides, so that their marks are not alike.
        """
        marks = [_marks_by_corner(plan) for plan in self.plans[max(conduit - 2, 0) : conduit]]
        if len(marks) < 2:
            return (None,) * len(marks[0])
        return tuple(
            Mm(after - before) if like == like_before else None
            for (like_before, before), (like, after) in zip(*marks, strict=True)
        )

    def to_dict(self, units: Units = Units.MM, dialect: Dialect = Dialect.UK) -> dict[str, object]:
        """`{"plans": [...]}`; each bend tells `step`, the step of its mark from the conduit before."""
        told = []
        for number, plan in enumerate(self.plans, start=1):
            steps = iter(self.steps(number))
            entry = plan.to_dict(units, dialect)
            entry["conduit"] = number
            entry["sticks"] = [
                {
                    **stick.to_dict(),
                    "bends": [{**bend.to_dict(), "step": next(steps)} for bend in stick.bends],
                }
                for stick in plan.sticks
            ]
            told.append(entry)
        return {"plans": told}


def _marks_by_corner(plan: Plan) -> list[tuple[tuple[int, str | None], Mm]]:
    return [((stick.number, bend.held), bend.set.mark) for stick in plan.sticks for bend in stick.bends]


def _told(finding: Finding, units: Units, dialect: Dialect) -> dict[str, object]:
    told: dict[str, object] = {
        "rule": finding.rule,
        "level": str(finding.level),
        "where": finding.where,
        "text": words.sentence(finding, units, dialect),
        "source": finding.source,
        "figures": dict(finding.figures),
    }
    if finding.edition:
        told["edition"] = finding.edition
    return told
