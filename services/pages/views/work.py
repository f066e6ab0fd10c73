"""The work: the wall chart, a crew's sticks, a released run, a piece with its ticks, scrap."""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from bendcore import tape
from bendcore.drawing import run_isometric, stick_isometric, strip
from bendcore.units import Mm, Units
from bendcore.words import Dialect
from services.bench import queries as bench_queries
from services.company import queries as company_queries
from services.company.models import Role
from services.company.rights import Right, may
from services.core import words
from services.core.errors import FieldProblem, IllegalMove, Invalid, NotFound
from services.costing import causes
from services.pages import chart, queries, rules
from services.pages.forms import Lengths, told
from services.pages.gate import PageRequest, page, project_remembered
from services.papers import queries as paper_queries
from services.planning import queries as planning_queries
from services.planning.models import Plan
from services.projects import queries as project_queries
from services.projects.models import Run
from services.tracking import commands as tracking_commands
from services.tracking import queries as tracking_queries
from services.tracking import rules as tracking_rules
from services.tracking.models import Kind, Piece, State

STATES: Final = ("installed", "checked", "bent", "rework", "rejected", "cut", "released", "waiting")
"""On the chart of the whole job, most metal first."""

FIRST_CAUSES: Final = 6
"""Causes offered before the rest is unfolded."""


# ------------------------------------------------------------------------------------------------ wall chart


@dataclass(frozen=True, slots=True)
class ChartRun:
    """A run on the wall chart. stop: what stops it, in words.  next: what comes next."""

    run: Run
    strip: chart.Row
    length_mm: float
    next: str
    stop: str = ""
    is_released: bool = False
    is_ready: bool = False


@page(Right.SEE_WORK)
def wall_chart(request: PageRequest, project_id: uuid.UUID | None = None) -> HttpResponse:
    """Every run of a job, drawn straight along one scale."""
    projects = project_queries.projects()
    asked = project_id or project_remembered(request)
    project = next((each for each in projects if each.pk == asked), None)
    if project_id is not None and project is None:
        raise NotFound(_("There is no such project."))
    project = project or (projects[0] if projects else None)
    runs = project_queries.runs_of_project(project.pk) if project else []
    if project is None or not runs:
        return _first_run(request, projects, project)
    if str(project.pk) != request.session.get("project"):
        request.session["project"] = str(project.pk)
    rows, sticks = _chart_rows(request, project, runs)
    rooms = [
        {
            "room": room,
            "rows": [row for row in rows if row.run.room_id == room.pk],
            "length": sum(row.length_mm for row in rows if row.run.room_id == room.pk),
            "installed": sum(
                stick.length_mm
                for row in rows
                if row.run.room_id == room.pk
                for stick in sticks[row.run.pk]
                if stick.state == "installed"
            ),
        }
        for room in project_queries.rooms_of(project.pk)
    ]
    scale = chart.scale_for(max([row.length_mm for row in rows] + [1.0]), Units(request.company.units))
    everything = [stick for each in sticks.values() for stick in each]
    ready = [row for row in rows if row.is_ready]
    context = {
        "project": project,
        "projects": projects,
        "rooms": rooms,
        "scale": scale,
        "whole": _whole(everything),
        "length": sum(stick.length_mm for stick in everything),
        "count": len(everything),
        "stopped": [row for row in rows if row.stop],
        "ready": ready[0] if ready and may(request.actor.role, Right.RELEASE) else None,
        "crews": _crews(rows, sticks),
        "held": tracking_queries.held_ticks(),
    }
    return render(request, "pages/wall_chart.html", context)


def _chart_rows(
    request: PageRequest, project: Any, runs: Sequence[Run]
) -> tuple[list[ChartRun], dict[uuid.UUID, list[chart.ChartStick]]]:
    pieces = queries.pieces_of_project(project.pk)
    sticks: dict[uuid.UUID, list[chart.ChartStick]] = {}
    told: dict[uuid.UUID, tuple[str, str, bool]] = {}
    for run in runs:
        made = pieces.get(run.pk, [])
        if made:
            sticks[run.pk] = [_chart_stick(piece) for piece in made]
            told[run.pk] = ("", _next_of_run(made, Dialect(request.company.words)), False)
        else:
            draft = planning_queries.draft_of(run, request.company)
            sticks[run.pk] = [
                chart.ChartStick(
                    each.number,
                    "waiting",
                    each.cut_length,
                    tuple((bend.begin, bend.finish) for bend in each.bends),
                )
                for each in (draft.plan.sticks if draft.plan else ())
            ]
            told[run.pk] = _next_of_draft(draft)
    longest = max((sum(stick.length_mm for stick in each) for each in sticks.values()), default=0.0)
    scale = chart.scale_for(max(longest, 1.0), Units(request.company.units))
    rows = [
        ChartRun(
            run,
            chart.row(sticks[run.pk], scale_mm=scale.mm),
            sum(stick.length_mm for stick in sticks[run.pk]),
            next=told[run.pk][1],
            stop=told[run.pk][0],
            is_released=bool(pieces.get(run.pk)),
            is_ready=told[run.pk][2],
        )
        for run in runs
    ]
    return rows, sticks


def _chart_stick(piece: Piece) -> chart.ChartStick:
    data = piece.stick.data
    return chart.ChartStick(
        piece.line.number,
        piece.state,
        piece.stick.cut_length_mm,
        tuple((bend["begin"], bend["finish"]) for bend in data["bends"]),
        tuple(bend["set"]["mark"] for bend in data["bends"]),
    )


def _next_of_draft(draft: Any) -> tuple[str, str, bool]:
    if draft.is_releasable:
        return "", _("ready to release"), True
    if draft.to_measure:
        row = draft.to_measure[0][0] + 1
        return _("Row %(row)d is still to measure.") % {"row": row}, _("to measure"), False
    real = [each for each in draft.stops if each.rule not in ("no-rows", "no-end")]
    if real:
        return real[0].text, _("stopped"), False
    return "", _("its route is still to type"), False


NEXT_ACT: Final[Mapping[str, str]] = {
    "released": "cut", "cut": "bend", "bent": "check", "rework": "rework", "rejected": "decide",
    "checked": "install",
}  # fmt: skip


def next_piece(pieces: Sequence[Piece]) -> Piece | None:
    """The piece to work on next: the first that is not checked yet, else the first to fix in place."""
    at_bench = (piece for piece in pieces if piece.state in NEXT_ACT and piece.state != State.CHECKED)
    return next(at_bench, None) or next((piece for piece in pieces if piece.state == State.CHECKED), None)


def _next_of_run(pieces: Sequence[Piece], dialect: Dialect) -> str:
    piece = next_piece(pieces)
    return _("complete") if piece is None else next_said(piece, dialect)


def next_said(piece: Piece, dialect: Dialect) -> str:
    """What comes next on a piece: "07/2 to bend"."""
    acts = {
        "cut": _("%(label)s to cut"),
        "bend": _("%(label)s to bend"),
        "check": _("%(label)s to check"),
        "rework": _("%(label)s back to the bender"),
        "decide": _("%(label)s rejected: rework or scrap"),
        "install": _("%(label)s to %(install)s"),
    }
    act = NEXT_ACT.get(piece.state)
    if act == "bend" and not piece.stick.data["bends"]:
        act = "check"
    return acts[act] % {"label": piece.line.label, "install": words.word("install", dialect)} if act else ""


def _whole(sticks: Sequence[chart.ChartStick]) -> dict[str, Any]:
    """All sticks of the job, gathered by state."""
    by_state = {state: [stick for stick in sticks if stick.state == state] for state in STATES}
    sums = [
        chart.ChartStick(0, state, sum(stick.length_mm for stick in each))
        for state, each in by_state.items()
        if each
    ]
    legend = [
        {"state": stick.state, "length": stick.length_mm, "count": len(by_state[stick.state])}
        for stick in sums
    ]
    return {
        "strip": chart.row(sums, scale_mm=sum(stick.length_mm for stick in sums)) if sums else None,
        "legend": legend,
    }


def _crews(
    rows: Sequence[ChartRun], sticks: Mapping[uuid.UUID, Sequence[chart.ChartStick]]
) -> list[dict[str, Any]]:
    told: dict[str, dict[str, Any]] = {}
    for row in rows:
        if row.run.crew is None or not row.is_released:
            continue
        crew = told.setdefault(row.run.crew.name, {"name": row.run.crew.name, "runs": [], "open": 0})
        left = sum(stick.state != "installed" for stick in sticks[row.run.pk])
        crew["open"] += left
        if left:
            crew["runs"].append(row.run.label)
    return list(told.values())


def _first_run(request: PageRequest, projects: Sequence[Any], project: Any) -> HttpResponse:
    """What to do first, as long as there is nothing to draw."""
    rooms = project_queries.rooms_of(project.pk) if project else []
    formers = bench_queries.formers()
    done = [bool(formers), bool(projects), bool(rooms), False]
    context = {
        "project": project,
        "projects": projects,
        "rooms": rooms,
        "formers": formers,
        "now": done.index(False) + 1,
        "crews": company_queries.crews(),
    }
    return render(request, "pages/first.html", context)


# ------------------------------------------------------------------------------------------- a crew's sticks


@page(Right.TICK)
def work(request: PageRequest) -> HttpResponse:
    """The sticks of one's own crews in working order."""
    crew_ids = company_queries.crew_ids_of(request.actor.person_id)
    pieces = tracking_queries.work_of_crew(crew_ids)
    crews = [crew.name for crew in company_queries.crews() if crew.pk in crew_ids]
    longest = max((piece.stick.cut_length_mm for piece in pieces), default=1.0)
    rows = [_listed(piece, longest, Dialect(request.company.words)) for piece in pieces]
    return render(request, "pages/work.html", {"rows": rows, "crews": crews, "length": _sum(pieces)})


def _sum(pieces: Sequence[Piece]) -> float:
    return sum(piece.stick.cut_length_mm for piece in pieces)


def _listed(piece: Piece, longest: float, dialect: Dialect) -> dict[str, Any]:
    stick = _chart_stick(piece)
    return {
        "piece": piece,
        "bends": len(stick.bends),
        "next": next_said(piece, dialect),
        "strip": chart.row([stick], scale_mm=longest),
    }


@page(Right.SEE_WORK)
def run(request: PageRequest, run_id: uuid.UUID) -> HttpResponse:
    """A released run with its sticks; one that is not released is a run sheet still."""
    found = project_queries.run(run_id)
    plan = planning_queries.current_plan(run_id)
    if plan is None:
        if may(request.actor.role, Right.SURVEY):
            return redirect("run-sheet", run_id=run_id)
        return render(request, "pages/run_waiting.html", {"run": found})
    pieces = tracking_queries.pieces_of_run(run_id)
    longest = max((piece.stick.cut_length_mm for piece in pieces), default=1.0)
    drawn, why = _engine_plan(plan)
    context = {
        "run": found,
        "plan": plan,
        "rows": [_listed(piece, longest, Dialect(request.company.words)) for piece in pieces],
        "length": plan.result["developed_length"],
        "findings": plan.result["findings"],
        "next": _next_of_run(pieces, Dialect(request.company.words)),
        "why_not_drawn": why,
        "first": next_piece(pieces),
        "draft_differs": _draft_differs(found, plan, request),
    }
    if drawn is not None:
        spoken: dict[str, Any] = {
            "units": Units(request.company.units),
            "dialect": Dialect(request.company.words),
            "paper": False,
        }
        context["iso_wide"] = run_isometric(drawn, width=520.0, prefix="iso-w", ends=_ends(found), **spoken)
        context["iso_narrow"] = run_isometric(drawn, width=310.0, prefix="iso-n", ends=_ends(found), **spoken)
    return render(request, "pages/run.html", context)


def _ends(found: Run) -> tuple[str, str]:
    """What stands at the run's ends, for its drawing."""
    return found.from_place or _("start"), found.to_place or _("finish")


def _draft_differs(found: Run, plan: Plan, request: PageRequest) -> bool:
    draft = planning_queries.draft_of(found, request.company)
    if draft.plan is None:
        return True
    return bool(draft.plan.to_dict()["sticks"] != plan.result["sticks"])


def _engine_plan(plan: Plan) -> tuple[Any, str]:
    try:
        return planning_queries.engine_plan(plan), ""
    except IllegalMove as error:
        return None, error.text


@page(Right.SEE_WORK)
def bend_cards(request: PageRequest, plan_id: uuid.UUID) -> HttpResponse:
    """A plan's bend cards as PDF."""
    plan = planning_queries.plan(plan_id)
    response = HttpResponse(paper_queries.bend_cards_pdf(plan_id), content_type="application/pdf")
    # an ASCII name made by us (RFC 6266): a run's label may hold anything
    label = "".join(each for each in plan.run.label if each.isascii() and each.isalnum()) or "run"
    response["Content-Disposition"] = f'inline; filename="bend-cards-{label}-{plan.revision}.pdf"'
    return response


# ---------------------------------------------------------------------------------------------------- a piece


@page(Right.SEE_WORK)
def stick(request: PageRequest, stick_id: uuid.UUID) -> HttpResponse:
    """What a card's code leads to: the latest attempt at that stick, or that the card is of an old
    revision."""
    found = planning_queries.stick(stick_id)
    attempts = queries.attempts_of(found.line_id)
    latest = next((piece for piece in attempts if piece.is_latest), None)
    if latest is None:
        raise NotFound(_("Nothing is released of this stick."))
    if latest.stick_id != found.pk:
        messages.warning(
            request,
            _("The card is of revision %(old)d, which is superseded. This is the present plan.")
            % {"old": found.plan.revision},
        )
    return redirect("piece", piece_id=latest.pk)


@page(Right.SEE_WORK)
def piece(request: PageRequest, piece_id: uuid.UUID) -> HttpResponse:
    """A piece at the bender: what the hand does next, its drawings, and what was ticked."""
    found = tracking_queries.piece(piece_id)
    plan = planning_queries.plan(found.stick.plan_id)
    data = found.stick.data
    bends = sorted(data["bends"], key=lambda bend: bend["order"] or bend["number"])
    step = _step(request, found, bends)
    in_hand = next((bend for bend in bends if step == f"bend-{bend['number']}"), None)
    attempts = queries.attempts_of(found.line_id)
    others = _other_crew(request, found)
    drawn, why = _engine_plan(plan)
    spoken: dict[str, Any] = {
        "units": Units(request.company.units),
        "dialect": Dialect(request.company.words),
        "paper": False,
    }
    number, highlight = found.stick.number, in_hand["number"] if in_hand else None
    context: dict[str, Any] = {
        "piece": found,
        "run": plan.run,
        "plan": plan,
        "data": data,
        "count": len(plan.result["sticks"]),
        "steps": _steps(found, bends, step),
        "step": step,
        "bend": in_hand,
        "bends": bends,
        "attempts": attempts,
        "next_attempt": next((each for each in attempts if each.attempt == found.attempt + 1), None),
        "ticks": tracking_queries.ticks_of_piece(piece_id),
        "may_take_back": None if others else tracking_queries.tick_to_take_back(piece_id, request.actor),
        "kinds": [] if others else tracking_rules.kinds_from(found.state, request.actor.role),
        "others": others,
        "why_not_drawn": why,
        "stock_length": drawn.conduit.stock_length if drawn else None,
    }
    if in_hand is not None:
        context |= _at_the_bender(in_hand, bends)
    if drawn is not None:
        context["strips"] = [
            (
                f"w{index}",
                strip(drawn, number, width=width, highlight=highlight, prefix=f"strip{index}", **spoken),
            )
            for index, width in ((1, 330.0), (2, 780.0), (3, 1230.0))
        ]
        context["iso_stick"] = stick_isometric(
            drawn, number, width=260.0, highlight=highlight, prefix="iso-s", **spoken
        )
        context["iso_run"] = run_isometric(
            drawn, width=260.0, bold=number, prefix="iso-r", ends=_ends(plan.run), **spoken
        )
    return render(request, "pages/piece.html", context)


def _other_crew(request: PageRequest, piece: Piece) -> str:
    """Whose piece it is where an electrician of another crew looks at it, who may not tick it; else empty."""
    if request.actor.role != Role.ELECTRICIAN:
        return ""
    crew = piece.crew or piece.line.run.crew
    if crew is None:
        return _("nobody")
    return "" if crew.pk in company_queries.crew_ids_of(request.actor.person_id) else str(crew.name)


_STEP_OF: Final[Mapping[str, str]] = {
    "released": "cut", "bent": "check", "checked": "install", "installed": "done", "scrapped": "done",
    "salvaged": "done", "rejected": "check",
}  # fmt: skip


def _step(request: PageRequest, piece: Piece, bends: Sequence[Mapping[str, Any]]) -> str:
    """The step in hand: the one asked for, else that of the piece's state."""
    names = ["cut", *(f"bend-{bend['number']}" for bend in bends), "check", "install"]
    asked = request.GET.get("step", "")
    if asked in names:
        return asked
    step = _STEP_OF.get(piece.state)
    if step is not None:
        return step
    return f"bend-{bends[0]['number']}" if bends else "check"


def _steps(piece: Piece, bends: Sequence[Mapping[str, Any]], step: str) -> list[dict[str, Any]]:
    """The steps of a piece in their order, each with whether it is done."""
    reached = {"cut": 1, "bent": 2, "rework": 1, "rejected": 2, "checked": 3, "installed": 4}.get(
        piece.state, 0
    )
    ended = piece.state in (State.SCRAPPED, State.SALVAGED)
    told: list[dict[str, Any]] = [{"name": "cut", "kind": "cut", "done": reached >= 1}]
    told += [
        {"name": f"bend-{bend['number']}", "kind": "bend", "bend": bend, "done": reached >= 2}
        for bend in bends
    ]
    told += [
        {"name": "check", "kind": "check", "done": reached >= 3},
        {"name": "install", "kind": "install", "done": reached >= 4},
    ]
    for number, each in enumerate(told, start=1):
        each |= {"number": number, "now": each["name"] == step and not ended}
    return told


def _at_the_bender(bend: Mapping[str, Any], bends: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    index = [each["number"] for each in bends].index(bend["number"])
    return {
        "posture": rules.posture(bend, bends),
        "position": index + 1,
        "before": bends[index - 1] if index else None,
        "after": bends[index + 1] if index + 1 < len(bends) else None,
        "is_set_by_line": f"line_{bend['set']['line']}",
    }


@page(Right.TICK, "POST")
def piece_tick(request: PageRequest, piece_id: uuid.UUID) -> HttpResponse:
    """One tick on a piece from the office."""
    kind = request.POST.get("kind", "")
    if kind not in Kind.values:
        messages.error(request, _("There is no such tick. Nothing was changed."))
        return redirect("piece", piece_id=piece_id)
    figures: dict[str, Any] = {}
    if kind == Kind.CHECKED:
        wrong = set(request.POST.getlist("untrue"))
        figures = {"verdict": request.POST.get("verdict", "")}
        figures |= {mark: mark not in wrong for mark in ("angle", "length", "bore")}
    try:
        tracking_commands.tick_from_office(actor=request.actor, piece_id=piece_id, kind=kind, figures=figures)
    except (IllegalMove, Invalid) as error:
        messages.error(request, told(error))
    return redirect("piece", piece_id=piece_id)


@page(Right.TICK, "POST")
def tick_back(request: PageRequest, piece_id: uuid.UUID, tick_id: uuid.UUID) -> HttpResponse:
    """Takes a tick back."""
    try:
        tracking_commands.take_back(actor=request.actor, tick_id=tick_id)
    except (IllegalMove, Invalid) as error:
        messages.error(request, told(error))
    return redirect("piece", piece_id=piece_id)


@page(Right.TICK, "GET", "POST")
def scrap(request: PageRequest, piece_id: uuid.UUID) -> HttpResponse:
    """Scrap in three touches: open this, choose the cause, say so. What can be saved is proposed."""
    found = tracking_queries.piece(piece_id)
    units = Units(request.company.units)
    problems: dict[str, str] = {}
    typed = request.POST.get("saved", "")
    chosen = request.POST.get("cause", "")
    if request.method == "POST":
        try:
            saved = Lengths(units=units, required=False).clean(typed)
            if chosen not in causes.CAUSES:
                raise Invalid([FieldProblem("cause", _("Choose why it is scrapped."))])
            tracking_commands.tick_from_office(
                actor=request.actor, piece_id=piece_id, kind=Kind.SCRAPPED,
                figures={"cause": chosen, "saved_mm": saved or 0.0},
            )  # fmt: skip
        except Invalid as error:
            problems = {"cause" if "cause" in each.where else "saved": each.text for each in error.problems}
        except IllegalMove as error:
            problems = {"": error.text}
        except ValidationError as error:
            problems = {"saved": "; ".join(error.messages)}
        else:
            return redirect("piece", piece_id=piece_id)
    proposed = rules.saving_proposed(
        found.stick.data,
        bent=found.state not in (State.RELEASED, State.CUT),
        least_mm=request.company.least_offcut_mm,
    )
    first, rest = _causes_in_order(found.state)
    context = {
        "piece": found,
        "first": first,
        "rest": rest,
        "chosen": chosen,
        "saved": typed if request.method == "POST" else tape.read(Mm(proposed), units),
        "problems": problems,
    }
    return render(request, "pages/scrap.html", context, status=422 if problems else 200)


_STAGE_OF: Final[Mapping[str, str]] = {
    "released": "cut", "cut": "bend", "bent": "bend", "rework": "bend", "rejected": "bend", "checked": "fit",
}  # fmt: skip


def _causes_in_order(state: str) -> tuple[list[Any], list[tuple[str, list[Any]]]]:
    """The six causes put down most, those of the piece's stage before others of equal use; the rest by
    stage."""
    used = queries.causes_by_use()
    stage = _STAGE_OF.get(state, "bend")
    every = list(causes.CAUSES.values())
    ranked = sorted(every, key=lambda each: (-used[each.cause], each.stage != stage))
    first = ranked[:FIRST_CAUSES]
    rest: dict[str, list[Any]] = {}
    for each in every:
        if each not in first:
            rest.setdefault(each.stage, []).append(each)
    return first, list(rest.items())
