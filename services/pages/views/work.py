"""The work: a crew's sticks, a piece with its ticks, scrap."""

import uuid
from collections.abc import Mapping, Sequence
from typing import Any, Final

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from bendcore import tape
from bendcore.drawing import pose, run_isometric, stick_isometric, strip
from bendcore.units import Mm, Units
from bendcore.words import Dialect
from services.company import queries as company_queries
from services.company.models import Role
from services.company.rights import Right
from services.core.errors import FieldProblem, IllegalMove, Invalid, NotFound
from services.costing import causes
from services.pages import chart, queries, rules, said
from services.pages.forms import Lengths, told
from services.pages.gate import PageRequest, page
from services.planning import queries as planning_queries
from services.planning.models import Plan
from services.projects.models import Run
from services.tracking import commands as tracking_commands
from services.tracking import queries as tracking_queries
from services.tracking import rules as tracking_rules
from services.tracking.models import Kind, Piece, State

FIRST_CAUSES: Final = 6
"""Causes offered before the rest is unfolded."""


# ------------------------------------------------------------------------------------------- a crew's sticks


@page(Right.TICK)
def work(request: PageRequest) -> HttpResponse:
    """The sticks of one's own crews in working order."""
    crew_ids = company_queries.crew_ids_of(request.actor.person_id)
    pieces = tracking_queries.work_of_crew(crew_ids)
    crews = [crew.name for crew in company_queries.crews() if crew.pk in crew_ids]
    longest = max((piece.stick.cut_length_mm for piece in pieces), default=1.0)
    rows = [listed(piece, longest, Dialect(request.company.words)) for piece in pieces]
    return render(request, "pages/work.html", {"rows": rows, "crews": crews, "length": _sum(pieces)})


def _sum(pieces: Sequence[Piece]) -> float:
    return sum(piece.stick.cut_length_mm for piece in pieces)


def listed(piece: Piece, longest: float, dialect: Dialect) -> dict[str, Any]:
    """A piece as lists show it. longest: what the whole width of its strip stands for, mm."""
    stick = chart.stick_of(piece.line.number, piece.state, piece.stick.cut_length_mm, piece.stick.data)
    return {
        "piece": piece,
        "bends": len(stick.bends),
        "next": said.next_said(piece, dialect),
        "strip": chart.row([stick], scale_mm=longest),
    }


def ends_of(found: Run) -> tuple[str, str]:
    """What stands at the run's ends, for its drawing."""
    return found.from_place or _("start"), found.to_place or _("finish")


def engine_plan(plan: Plan) -> tuple[Any, str]:
    """The plan as the engine has it, for drawings; or None, and why it is not drawn."""
    try:
        return planning_queries.engine_plan(plan), ""
    except IllegalMove as error:
        return None, error.text


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
    drawn, why = engine_plan(plan)
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
        if in_hand is not None and in_hand["order"] is not None:
            context["poses"] = [
                (name, pose(drawn, number, in_hand["number"], width=width, prefix=name, **spoken))
                for name, width in (("pose-w", 360.0), ("pose-n", 310.0))
            ]
        context["iso_stick"] = stick_isometric(
            drawn, number, width=260.0, highlight=highlight, prefix="iso-s", **spoken
        )
        context["iso_run"] = run_isometric(
            drawn, width=260.0, bold=number, prefix="iso-r", ends=ends_of(plan.run), **spoken
        )
    return render(request, "pages/piece.html", context)


def _other_crew(request: PageRequest, piece: Piece) -> str:
    """Whose piece it is where an electrician of another crew looks at it, who may not tick it; else empty."""
    if request.actor.role != Role.ELECTRICIAN:
        return ""
    crew = tracking_queries.crew_at_work(piece)
    if crew is None:
        return _("nobody")
    given = tracking_queries.crews_of(piece)
    own = company_queries.crew_ids_of(request.actor.person_id)
    return "" if {given.bench, given.fitting} & set(own) else str(crew.name)


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
