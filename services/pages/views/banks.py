"""Runs beside a run and after it: laying a bank, leaving it, splitting at a box."""

import uuid

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from bendcore.units import Units
from services.company.rights import Right
from services.core.errors import IllegalMove, StaleVersion
from services.pages import beside
from services.pages.forms_run import MOST_BESIDE, BankForm, SplitForm
from services.pages.gate import PageRequest, page, seen_by
from services.pages.views.sheet import place_of
from services.projects import commands as project_commands
from services.projects import queries as project_queries
from services.projects.models import Run


@page(Right.SURVEY, "GET", "POST")
def run_bank(request: PageRequest, run_id: uuid.UUID) -> HttpResponse:
    """Lays runs beside one. How many is asked first; their labels are proposed, counting up."""
    run = project_queries.run(run_id)
    links = beside.links_of(run)
    most = MOST_BESIDE - len(links.bank)
    count = _count(request, most)
    last = links.bank[-1].label if links.bank else run.label
    labels = beside.labels_after(last, count, taken=beside.labels_of(run.room.project_id))
    form = BankForm(request.POST or None, units=Units(request.company.units), labels=labels, run=run)
    if request.method == "POST":
        try:
            laid = form.ask(
                project_commands.lay_bank, actor=request.actor, run_id=run_id, seen=seen_by(request)
            )
        except (StaleVersion, IllegalMove) as error:
            form.add_error(None, error.text)
            laid = None
        if laid is not None:
            return redirect("run-sheet", run_id=run_id)
    form.focus()
    context = {
        "run": run,
        "form": form,
        "links": links,
        "count": count,
        "most": most,
        "under": place_of(run),
        "seen": request.POST.get("seen") or run.version,
    }
    return render(request, "pages/run_bank.html", context, status=422 if form.is_bound else 200)


def _count(request: PageRequest, most: int) -> int:
    """How many runs are to be laid: as asked, from 1 to what a bank still takes."""
    text = request.GET.get("count", "") or request.POST.get("count", "")
    asked = int(text) if text.isascii() and text.isdigit() and len(text) <= 4 else 1
    return max(1, min(asked, most))


@page(Right.SURVEY, "POST")
def run_leave_bank(request: PageRequest, run_id: uuid.UUID) -> HttpResponse:
    """Makes the last run of a bank one of its own."""
    run = project_queries.run(run_id)
    try:
        project_commands.leave_bank(actor=request.actor, run_id=run.pk, seen=seen_by(request))
    except (StaleVersion, IllegalMove) as error:
        messages.error(request, error.text)
    return redirect("run-sheet", run_id=run_id)


@page(Right.SURVEY, "GET", "POST")
def run_split(request: PageRequest, run_id: uuid.UUID) -> HttpResponse:
    """Splits a run at the box of a row, and asks for the label of what goes on."""
    run = project_queries.run(run_id)
    row = _row(request)
    proposed = beside.label_of_rest(run.label, taken=beside.labels_of(run.room.project_id))
    form = SplitForm(request.POST or None, proposed=proposed)
    if request.method == "POST":
        made: Run | None
        try:
            made = form.ask(
                project_commands.split_at_box,
                actor=request.actor,
                run_id=run_id,
                seen=seen_by(request),
                row=row - 1,
            )
        except (StaleVersion, IllegalMove) as error:
            form.add_error(None, error.text)
            made = None
        if made is not None:
            messages.success(
                request,
                _(
                    "Run %(run)s ends in the box, and goes on as run %(made)s. Tell at both ends how far the "
                    "conduit goes into the box."
                )
                % {"run": run.label, "made": made.label},
            )
            return redirect("run-sheet", run_id=run_id)
    form.focus()
    context = {
        "form": form,
        "title": _("Split run %(label)s at the box of row %(row)d") % {"label": run.label, "row": row},
        "under": place_of(run),
        "go": _("Split the run"),
        "then": _("Rows up to the box stay in this run; what comes after goes into the new one."),
        "seen": request.POST.get("seen") or run.version,
    }
    return render(request, "pages/form.html", context, status=422 if form.is_bound else 200)


def _row(request: PageRequest) -> int:
    """The row asked for, from 1; 0 for what is no row."""
    text = request.POST.get("row", "") or request.GET.get("row", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 4 else 0
