"""A released run: its sticks and pieces, more sticks released, two of its plans side by side."""

import uuid
from typing import Any, Final

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from bendcore.planned import Plan as EnginePlan
from bendcore.units import Units
from bendcore.words import Dialect
from services.company.rights import Right, may
from services.core.errors import IllegalMove, Invalid, NotFound
from services.pages import beside, compare, drawn, said, sheet, sticks
from services.pages.forms import told
from services.pages.gate import PageRequest, counted_by, page
from services.pages.views.sheet import chosen_sticks
from services.pages.views.work import ends_of, engine_plan, listed
from services.planning import commands as planning_commands
from services.planning import queries as planning_queries
from services.planning.models import Plan
from services.projects import queries as project_queries
from services.projects.models import Run
from services.tracking import queries as tracking_queries

DRAFT: Final = "draft"


@page(Right.SEE_WORK)
def run(request: PageRequest, run_id: uuid.UUID) -> HttpResponse:
    """A released run with its sticks; one that is not released is a run sheet still."""
    found = project_queries.run(run_id)
    plan = planning_queries.current_plan(run_id)
    if plan is None:
        if may(request.actor.role, Right.SURVEY):
            return redirect("run-sheet", run_id=run_id)
        if may(request.actor.role, Right.OVERRIDE):
            return redirect("run-judge", run_id=run_id)
        return render(request, "pages/run_waiting.html", {"run": found})
    dialect = Dialect(request.company.words)
    pieces = tracking_queries.pieces_of_run(run_id)
    planned = {stick.number: stick for stick in sticks.shown(plan.result)}
    longest = max((stick.cut_length for stick in planned.values()), default=1.0)
    released = {piece.line.number for piece in pieces}
    waiting = [stick for number, stick in planned.items() if number not in released]
    as_planned, why = engine_plan(plan)
    draft = planning_queries.draft_of(found, request.company)
    overrides = [
        sheet.Found("stop", each["finding"], passed=each["reason"], passed_by=each["by"], may_pass=True)
        for each in plan.overrides
    ]
    let_pass = {(each["rule"], each["where"]) for each in plan.overrides}
    context = {
        "run": found,
        "plan": plan,
        "rows": [
            {**listed(piece, longest, dialect), "stick": planned.get(piece.line.number)} for piece in pieces
        ],
        "waiting": waiting,
        "length": plan.result["developed_length"],
        "clips": len(plan.result.get("supports", ())),
        "groups": sheet.grouped(
            [
                *overrides,
                *(
                    sheet.Found(each["level"], each["text"], each.get("source", ""), each.get("edition", ""))
                    for each in plan.result["findings"]
                    if (each["rule"], each["where"]) not in let_pass or each["level"] != "stop"
                ),
            ]
        ),
        "next": said.next_of_run(pieces, dialect, is_complete=not waiting),
        "why_not_drawn": why,
        "first": said.next_piece(pieces),
        "draft_differs": draft.plan is None or draft.plan.to_dict()["sticks"] != plan.result["sticks"],
        "has_draft": draft.plan is not None,
        "links": beside.links_of(found),
        "drawings": [
            (width, drawn.isometric(as_planned, request.company, width=width, ends=ends_of(found)))
            for width in drawn.WIDTHS
        ]
        if as_planned is not None
        else [],
    }
    return render(request, "pages/run.html", context)


@page(Right.RELEASE, "POST")
def run_release_more(request: PageRequest, run_id: uuid.UUID) -> HttpResponse:
    """Releases more sticks of the plan that the page showed."""
    found = project_queries.run(run_id)
    try:
        planning_commands.release_sticks(
            actor=request.actor,
            run_id=found.pk,
            revision=counted_by(
                request, "revision", _("the page did not say which revision it showed; open it again")
            ),
            stick_numbers=chosen_sticks(request) or [],
        )
    except (IllegalMove, Invalid) as error:
        messages.error(request, told(error))
    return redirect("run", run_id=run_id)


@page(Right.SEE_WORK)
def run_compare(request: PageRequest, run_id: uuid.UUID) -> HttpResponse:
    """Two revisions of a run, or one and the draft, side by side."""
    found = project_queries.run(run_id)
    plans = planning_queries.plans_of(run_id)
    if not plans:
        raise NotFound(_("This run has no revision yet: it was never released."))
    draft = planning_queries.draft_of(found, request.company).plan
    known = [str(plan.revision) for plan in reversed(plans)] + ([DRAFT] if draft is not None else [])
    after = _asked(request, "after", known, known[-1])
    before = _asked(request, "before", known, known[max(known.index(after) - 1, 0)])
    units, dialect = Units(request.company.units), Dialect(request.company.words)
    sides = [_side(request, found, name, plans, draft) for name in (before, after)]
    context = {
        "run": found,
        "known": known,
        "before": before,
        "after": after,
        "sides": sides,
        "compared": compare.compared(sides[0]["result"], sides[1]["result"], units, dialect),
    }
    return render(request, "pages/run_compare.html", context)


def _asked(request: PageRequest, name: str, known: list[str], usual: str) -> str:
    given = request.GET.get(name, "")
    return given if given in known else usual


def _side(
    request: PageRequest, found: Run, name: str, plans: list[Plan], draft: EnginePlan | None
) -> dict[str, Any]:
    """One of the two: its result, and its drawing or why there is none."""
    if name == DRAFT and draft is not None:
        units, dialect = Units(request.company.units), Dialect(request.company.words)
        told_draft: dict[str, Any] = {"name": name, "result": draft.to_dict(units, dialect), "why": ""}
        planned: EnginePlan | None = draft
        side = told_draft
    else:
        plan = next(each for each in plans if str(each.revision) == name)
        planned, why = engine_plan(plan)
        side = {"name": name, "plan": plan, "result": plan.result, "why": why}
    side["drawing"] = (
        drawn.isometric(planned, request.company, width="narrow", ends=ends_of(found))
        if planned is not None
        else ""
    )
    return side
