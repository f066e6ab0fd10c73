"""From a run to the engine's spec, and from what the engine says to the rows of the run sheet."""

import hashlib
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Any, Final

from django.utils.translation import gettext as _

import bendcore
from bendcore import catalogue, words
from services.bench.models import Bender, Former, Line
from services.company.models import Company
from services.core.errors import FieldProblem
from services.projects.models import Run
from services.projects.rules import END, KICK, Steps, to_measure, to_steps

STOP: Final = str(bendcore.Level.STOP)

SAME_WITHIN: Final = 1e-6
"""Figures of two plans nearer than this, mm or degrees, are the same: rounding, nothing a saw could cut."""


_LONGEST_TAIL: Final = 1e6
"""Of the straight after the last turn so far, mm; a turn near a reversal would ask for more."""


@dataclass(frozen=True, slots=True)
class RowFinding:
    """What is told at a row of the run sheet, or of the run as a whole.

    row: from 0; None for the run.  level: `stop`, `warn` or `note`.  text: a sentence for a person.  rule:
    stable id of the engine's rule, or the code of its problem.  where: its place in the engine's spec.
    edition: of a rule pack's rule; empty for what geometry says.  said: the sentence as it is kept whatever a
    company reads in, for an override to name.  passed, passed_by: why a manager let it pass, and who.
    """

    row: int | None
    level: str
    text: str
    rule: str
    where: str = ""
    edition: str = ""
    said: str = ""
    passed: str = ""
    passed_by: str = ""

    @property
    def may_pass(self) -> bool:
        """Whether a manager may let it pass: a rule pack's stop, never one of geometry."""
        return self.level == STOP and bool(self.edition)


@dataclass(frozen=True, slots=True)
class Draft:
    """A run planned in memory.

    plan: None while something is to measure, or where the engine refuses the run; the findings say why.
    to_measure: row (from 0) and field.  so_far: for a drawing, the plan; while there is none, the rows up to
    the first that is not measured, with a short straight after the last turn. Nothing is to be cut by that.
    """

    plan: bendcore.Plan | None
    findings: tuple[RowFinding, ...]
    to_measure: tuple[tuple[int, str], ...] = ()
    so_far: bendcore.Plan | None = None

    @property
    def stops(self) -> tuple[RowFinding, ...]:
        """What stands against a release: what a manager let pass does not."""
        return tuple(finding for finding in self.findings if finding.level == STOP and not finding.passed)

    @property
    def is_releasable(self) -> bool:
        """Whether the run is planned, and can be made as planned."""
        return self.plan is not None and not self.stops


# ----------------------------------------------------------------------------------------------------- asking


def measured_run(run: Run) -> Run:
    """The run whose rows it has: itself, or the run of the bank that it lies beside. That must be at hand."""
    return run.beside if run.beside_id is not None and run.beside is not None else run


def spec_of(run: Run, company: Company) -> dict[str, Any]:
    """The engine's spec of a run by its contract; needs the run's former at hand, and what it lies beside.

    Calibration stands in it when k, c and sd of the former are all known. For a run of a bank the spec asks
    for the conduits up to it: the last of them is the run. Raises ValueError while something is to measure.
    """
    return _spec(run, company, to_steps(measured_run(run).rows))


def _spec(run: Run, company: Company, steps: Steps) -> dict[str, Any]:
    source = measured_run(run)
    former: Former = source.former
    spec: dict[str, Any] = {
        "run": run.label,
        "conduit": {"catalogue": former.conduit},
        "former": {"centreline_radius": former.centreline_radius_mm, "set_line": _set_line(former)},
        "route": {"heading": source.heading, "standoff": source.standoff_mm, "steps": steps.steps},
        "ends": {
            "start": {"kind": source.start_kind, "allowance": source.start_allowance_mm},
            "finish": {"kind": source.finish_kind, "allowance": source.finish_allowance_mm},
        },
        "joints": _joints(company),
        "tolerance": {"angle": company.tolerance_deg, "length": company.tolerance_mm},
        "fit_from": str(source.fit_from),
    }
    if former.k is not None and former.c_deg is not None and former.sd_deg is not None:
        spec["calibration"] = {"k": former.k, "c": former.c_deg, "sd": former.sd_deg, "risk": company.risk}
        if former.scale_deg is not None:
            spec["calibration"]["scale"] = former.scale_deg
    bender = _bender(former.bender)
    if bender is not None:
        spec["bender"] = bender
    if company.rules:
        spec["rules"] = company.rules
        if run.cables:
            spec["cables"] = run.cables
    if run.beside_id is not None:
        spec["parallel"] = bank_asked(source, run.place_in_bank)
    return spec


def bank_asked(leads: Run, count: int) -> dict[str, Any]:
    """So many conduits of a bank, by the engine's contract; `leads`, the run that was measured, is the first
    of them."""
    return {
        "count": count,
        "spacing": leads.bank_spacing_mm,
        "toward": leads.bank_toward,
        "corners": leads.bank_corners,
    }


def _joints(company: Company) -> dict[str, Any]:
    joints: dict[str, Any] = {
        "clearance": company.clearance_mm,
        "min_piece": company.min_piece_mm,
        "long_thread": company.long_thread_mm,
        "union_gap": company.union_gap_mm,
    }
    if company.joint_costs:
        joints["costs"] = company.joint_costs
    return joints


def _bender(bender: Bender) -> dict[str, Any] | None:
    """The bender as the engine has it; None where nothing is known of it, and no swing is checked.

    Straights alone are judged where its body is not known.
    """
    measured = {"hold_min": bender.hold_min_mm, "swing_min": bender.swing_min_mm}
    told: dict[str, Any] = {
        **_shapes().get(bender.shape, {}),
        **{name: least for name, least in measured.items() if least is not None},
    }
    if not told:
        return None
    return told if "bodies" in told else {**told, "motion": "both"}


@cache
def _shapes() -> dict[str, dict[str, Any]]:
    return catalogue.bender_shapes()


def _set_line(former: Former) -> dict[str, Any]:
    line: dict[str, Any] = {"kind": former.line}
    if former.line == Line.ARROW:
        line["take_up"] = former.take_up_mm
    if former.line == Line.OWN:
        line["reach"] = former.reach_mm
    return line


def said_of(finding: bendcore.Finding) -> str:
    """A finding's sentence as overrides name it: in millimetres and UK words, whatever the company reads."""
    return words.sentence(finding, bendcore.Units.MM, bendcore.Dialect.UK)


def draft(run: Run, company: Company) -> Draft:
    """The run planned as it stands, in memory, with what the engine says told at the rows; needs the run's
    former and bender at hand, and what it lies beside. Findings come in the order of the rows, those of the
    whole run first."""
    run_rows = measured_run(run).rows
    if not run_rows:
        text = _("Type the route row by row: nothing is measured yet.")
        return Draft(None, (RowFinding(None, STOP, text, "no-rows"),))
    missing = tuple(to_measure(run_rows))
    last = len(run_rows) - 1
    ends = run_rows[last]["then"] == END
    if missing or not ends:
        so_far, refused = _so_far(run, company, missing[0][0] if missing else last + 1)
        if not ends:
            text = _("The run does not end here: type the row after it, or let the run end with this one.")
            refused.append(RowFinding(last, STOP, text, "no-end"))
        return Draft(None, _in_order(refused), missing, so_far)
    steps = to_steps(run_rows)
    plan, refused = _planned(
        _spec(run, company, steps), steps.row_of_step, units=bendcore.Units(company.units)
    )
    if plan is None:
        return Draft(None, _in_order(refused))
    units, dialect = bendcore.Units(company.units), bendcore.Dialect(company.words)
    return Draft(
        plan,
        _in_order(
            RowFinding(
                row_of(finding.where, steps.row_of_step),
                str(finding.level),
                words.sentence(finding, units, dialect),
                finding.rule,
                finding.where,
                finding.edition,
                said_of(finding),
            )
            for finding in plan.findings
        ),
        (),
        plan,
    )


def _planned(
    spec: dict[str, Any], row_of_step: Sequence[int], *, units: bendcore.Units
) -> tuple[bendcore.Plan | None, list[RowFinding]]:
    """The plan, or what the engine refuses."""
    try:
        plan = bendcore.plan(spec)
    except bendcore.SpecProblem as refused:
        return None, [told_problem(each, row_of_step, units=units) for each in refused.problems]
    return the_run_of(plan), []


def the_run_of(planned: bendcore.Plan | bendcore.Bank) -> bendcore.Plan:
    """The plan of the run that a spec was made for: of a bank, the last conduit asked for."""
    return planned.plans[-1] if isinstance(planned, bendcore.Bank) else planned


def _so_far(run: Run, company: Company, count: int) -> tuple[bendcore.Plan | None, list[RowFinding]]:
    """The first rows planned as one stick, and what the engine refuses at them; it has no say yet about what
    the run as a whole needs."""
    rows = measured_run(run).rows[:count]
    if not rows:
        return None, []
    steps = to_steps(rows)
    asked = _spec(run, company, steps) | {"joints": "none", "ends": {}}
    for judged in ("rules", "cables", "bender"):
        asked.pop(judged, None)
    then = rows[-1]["then"]
    if then not in (END, KICK):
        # Room for the last bend, and a straight as long as its radius to see it by.
        radius = measured_run(run).former.centreline_radius_mm
        angle = rows[-1]["angle_deg"] or 0.0
        tail = radius * (math.tan(math.radians(angle) / 2.0) + 1.0) + (rows[-1]["leg_out_mm"] or 0.0)
        asked["route"] = {**asked["route"], "steps": [*steps.steps, {"leg": min(tail, _LONGEST_TAIL)}]}
    plan, refused = _planned(asked, steps.row_of_step, units=bendcore.Units(company.units))
    return plan, [each for each in refused if each.row is not None]


def _in_order(findings: Iterable[RowFinding]) -> tuple[RowFinding, ...]:
    return tuple(sorted(findings, key=lambda finding: -1 if finding.row is None else finding.row))


# ---------------------------------------------------------------------------------------------------- telling

_STEP: Final = re.compile(r"route\.steps\[([0-9]+)\](?:\.|$)")


def row_of(where: str, row_of_step: Sequence[int]) -> int | None:
    """The row (from 0) that gave the step at a place in the spec; None for any other place.

    where: `route.steps[4].offset.rise`, `ends.start`, empty for the whole.  row_of_step: as `to_steps` gives
    it.
    """
    match = _STEP.match(where)
    if match is None or int(match[1]) >= len(row_of_step):
        return None
    return row_of_step[int(match[1])]


def told_problem(
    problem: bendcore.BendError, row_of_step: Sequence[int], *, units: bendcore.Units
) -> RowFinding:
    """What the engine refuses, as a stop at its row, in a sentence that needs no place beside it."""
    return RowFinding(row_of(problem.where, row_of_step), STOP, _sentence(problem, units), problem.code)


def _sentence(problem: bendcore.BendError, units: bendcore.Units) -> str:
    # The engine's text goes on from its place ("ends.start.allowance: takes away ..."), which no person sees.
    subject = _subject(problem)
    text = words.problem_said(problem, units)
    text = f"{subject} {text}" if subject else text
    text = text[:1].upper() + text[1:]
    return text if text.endswith(".") else f"{text}."


def _subject(problem: bendcore.BendError) -> str:
    if problem.code in ("overlap", "no-joint") and problem.where != "joints.min_piece":
        return ""  # says itself what it is about
    field = problem.where.rpartition(".")[2] if "." in problem.where else problem.where
    named: Mapping[str, str] = {
        "to": _("Measured to"),
        "from": _("Measured from"),
        "toward": _("Toward:"),
        "spread_toward": _("Spread toward:"),
        "min_piece": _("The company's shortest piece"),
        "clearance": _("The company's clearance of joints"),
        "angle": _("The company's tolerance of angles"),
        "length": _("The company's tolerance of lengths"),
        "centreline_radius": _("The former's radius"),
        "steps": _("The rows"),
        "route": _("The run"),
        "ends": _("The allowances at the ends"),
    }
    if problem.where.startswith("ends.start"):
        return _("The allowance at the start")
    if problem.where.startswith("ends.finish"):
        return _("The allowance at the finish")
    if field in named:
        return named[field]
    if problem.code == "reversal":
        return _("This bend")
    if problem.code == "cannot-walk":
        return _("This length")
    return f"{problem.where}:" if problem.where else ""


def release_problems(found: Draft) -> tuple[FieldProblem, ...]:
    """What stands against a release, one problem for each, with its row (`rows[2]`, `rows[2].angle_deg`,
    `run`)."""
    return (
        *(
            FieldProblem(f"rows[{row}].{field}", _("is still to measure"), "to-measure")
            for row, field in found.to_measure
        ),
        *(
            FieldProblem("run" if stop.row is None else f"rows[{stop.row}]", stop.text, stop.rule)
            for stop in found.stops
        ),
    )


def stick_label(run_label: str, number: int) -> str:
    """What is painted on a piece of a stick: the run's label and the stick's number, 07/2."""
    return f"{run_label}/{number}"


# -------------------------------------------------------------------------------------------------- comparing


@dataclass(frozen=True, slots=True)
class StickChange:
    """One stick in two plans of its run.

    number: along the run.  before, after: the stick by the engine's contract; None where a plan has it not.
    what: what differs, of `cut length`, `marks`, `angles`, `rolls`, `order`, `joints`, `bends` (their count),
    `new`, `gone`; empty where both are alike.
    """

    number: int
    before: Mapping[str, Any] | None
    after: Mapping[str, Any] | None
    what: tuple[str, ...]


def difference(before: Mapping[str, Any], after: Mapping[str, Any]) -> list[StickChange]:
    """Two results of the engine for one run side by side, stick by stick; figures within SAME_WITHIN are
    alike."""
    ours = {stick["number"]: stick for stick in before["sticks"]}
    theirs = {stick["number"]: stick for stick in after["sticks"]}
    return [
        StickChange(number, one, other, _changed(one, other))
        for number in sorted(ours.keys() | theirs.keys())
        for one, other in [(ours.get(number), theirs.get(number))]
    ]


def _changed(before: Mapping[str, Any] | None, after: Mapping[str, Any] | None) -> tuple[str, ...]:
    if before is None:
        return ("new",)
    if after is None:
        return ("gone",)
    found = [] if agrees(before["cut_length"], after["cut_length"]) else ["cut length"]
    if not all(agrees(before[end], after[end]) for end in ("start", "finish")):
        found.append("joints")
    if len(before["bends"]) != len(after["bends"]):
        return (*found, "bends")
    pairs = list(zip(before["bends"], after["bends"], strict=True))

    def differ(*path: str) -> bool:
        return any(not agrees(_at(one, path), _at(other, path)) for one, other in pairs)

    if differ("set", "mark"):
        found.append("marks")
    if differ("angle"):
        found.append("angles")
    if differ("roll") or not agrees(before.get("clock"), after.get("clock")):
        found.append("rolls")
    if differ("order") or differ("held"):
        found.append("order")
    return tuple(found)


def _at(value: Mapping[str, Any], path: Sequence[str]) -> object:
    found: Any = value
    for name in path:
        found = found[name]
    return found


# ------------------------------------------------------------------------------------------------- the engine


@cache
def engine_version() -> str:
    """Which engine plans: a digest of its code and tables, drawings left out. No number that somebody must
    remember to count up, so two plans of one version were made by the same code."""
    digest = hashlib.sha256()
    for path, file in sorted(_files(resources.files(bendcore), "")):
        digest.update(f"{path}\0".encode())
        digest.update(file.read_bytes())
    return digest.hexdigest()[:12]


def _files(folder: Traversable, path: str) -> list[tuple[str, Traversable]]:
    found: list[tuple[str, Traversable]] = []
    for each in folder.iterdir():
        here = f"{path}/{each.name}"
        if each.is_dir():
            if each.name not in ("drawing", "__pycache__"):
                found += _files(each, here)
        elif each.name.endswith((".py", ".csv", ".json")):
            found.append((here, each))
    return found


def agrees(kept: object, now: object) -> bool:
    """Whether a kept result still stands in what the engine gives now: every kept key and entry is there,
    figures within SAME_WITHIN. More beside it is welcome."""
    if isinstance(kept, Mapping):
        return isinstance(now, Mapping) and all(
            name in now and agrees(value, now[name]) for name, value in kept.items()
        )
    if isinstance(kept, list):
        return isinstance(now, list) and len(kept) == len(now) and all(map(agrees, kept, now))
    if isinstance(kept, (int, float)) and not isinstance(kept, bool) and isinstance(now, (int, float)):
        return abs(kept - now) <= SAME_WITHIN
    return kept == now
