"""A rule pack's stops: a manager reads the sheet, and lets one pass with a reason or stand again."""

import uuid

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from bendcore.units import Units
from services.company.rights import Right
from services.core.errors import IllegalMove, Invalid, StaleVersion
from services.pages import sheet
from services.pages.forms import told
from services.pages.gate import PageRequest, page, seen_by
from services.pages.views.sheet import drawings, shown_sheet
from services.planning import commands as planning_commands
from services.planning import queries as planning_queries
from services.planning.rules import measured_run
from services.projects import queries as project_queries


@page(Right.OVERRIDE)
def run_judge(request: PageRequest, run_id: uuid.UUID) -> HttpResponse:
    """A run's rows as they stand, to read, with what was found; stops of the rule pack may be let pass."""
    run = project_queries.run(run_id)
    rows = measured_run(run).rows
    typed = sheet.typed_rows(rows, Units(request.company.units))
    overrides = planning_queries.overrides_of(run.pk)
    context = shown_sheet(request, run, typed, rows, {}, overrides=overrides)
    context["drawings"] = drawings(request, run, context["draft"])
    return render(request, "pages/run_judge.html", {**context, "judging": True})


@page(Right.OVERRIDE, "POST")
def run_let_pass(request: PageRequest, run_id: uuid.UUID) -> HttpResponse:
    """Lets a stop pass."""
    run = project_queries.run(run_id)
    try:
        planning_commands.let_pass(
            actor=request.actor,
            run_id=run.pk,
            seen=seen_by(request),
            rule=request.POST.get("rule", ""),
            where=request.POST.get("where", ""),
            said=request.POST.get("said", ""),
            reason=request.POST.get("reason", ""),
        )
    except Invalid as error:
        messages.error(
            request,
            _("Not let pass: write why. The cards print it.")
            if any(each.where == "reason" for each in error.problems)
            else told(error),
        )
    except (StaleVersion, IllegalMove) as error:
        messages.error(request, error.text)
    return redirect("run-judge", run_id=run_id)


@page(Right.OVERRIDE, "POST")
def run_stand_by(request: PageRequest, run_id: uuid.UUID, override_id: uuid.UUID) -> HttpResponse:
    """Takes an override back."""
    run = project_queries.run(run_id)
    try:
        planning_commands.stand_by(
            actor=request.actor, run_id=run.pk, seen=seen_by(request), override_id=override_id
        )
    except StaleVersion as error:
        messages.error(request, error.text)
    return redirect("run-judge", run_id=run_id)
