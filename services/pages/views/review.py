"""The review: metres and money of scrap a job, each figure open down to its ticks."""

import uuid
from decimal import Decimal
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _

from services.company.rights import Right
from services.core.errors import NotFound
from services.costing import queries as costing_queries
from services.costing.models import EntryKind
from services.pages.gate import PageRequest, page


@page(Right.SEE_MONEY)
def review(request: PageRequest) -> HttpResponse:
    """Jobs compared."""
    jobs = costing_queries.scrap_by_project()
    most = max((job.drawn_m for job in jobs), default=Decimal(0))
    return render(request, "pages/review.html", {"jobs": [(job, _bar(job, most)) for job in jobs]})


def _bar(job: Any, most: Decimal) -> dict[str, str]:
    """A job's metres as a length of conduit to one scale, its scrap at the far end; per cent of the width."""
    if not most:
        return {"drawn": "0%", "scrap": "0%", "from": "0%"}
    drawn, scrap = (max(Decimal(0), 100 * figure / most) for figure in (job.drawn_m, job.scrap_m))
    return {"drawn": f"{drawn:.2f}%", "scrap": f"{scrap:.2f}%", "from": f"{drawn - scrap:.2f}%"}


@page(Right.SEE_MONEY)
def review_job(request: PageRequest, project_id: uuid.UUID) -> HttpResponse:
    """A job by run and by cause."""
    job = costing_queries.job(project_id)
    figures = [each for each in costing_queries.scrap_by_project() if each.project_id == project_id]
    most = max((each.scrap_m for each in job.causes), default=Decimal(0))
    bars = [(each, f"{100 * each.scrap_m / most:.2f}%" if most > 0 else "0%") for each in job.causes]
    runs_most = max((each.drawn_m for each in job.runs), default=Decimal(0))
    context = {
        "project": job.project,
        "figures": figures,
        "runs": [(each, _bar(each, runs_most)) for each in job.runs],
        "causes": bars,
    }
    return render(request, "pages/review_job.html", context)


@page(Right.SEE_MONEY)
def review_entries(request: PageRequest, project_id: uuid.UUID) -> HttpResponse:
    """The entries that a figure is the sum of, each with its piece and tick."""
    project = costing_queries.job(project_id).project
    kind = request.GET.get("kind", EntryKind.SCRAP)
    if kind not in EntryKind.values:
        raise NotFound(_("There is no such figure; there are material and scrap."))
    cause = request.GET.get("cause")
    run_id = _run_id(request.GET.get("run"))
    # What was drawn carries no cause; the material's other half of a scrap does.
    asked = "" if kind == EntryKind.MATERIAL and cause is None else cause
    entries = costing_queries.entries_of(project_id, kind, run_id=run_id, cause=asked)
    context = {
        "project": project,
        "kind": kind,
        "cause": cause,
        "run": entries[0].run if run_id and entries else None,
        "entries": entries,
        "metres": sum((each.metres for each in entries), Decimal(0)),
        "amounts": _by_currency(entries),
    }
    return render(request, "pages/review_entries.html", context)


def _by_currency(entries: list[Any]) -> list[tuple[Decimal, str]]:
    sums: dict[str, Decimal] = {}
    for each in entries:
        sums[each.currency] = sums.get(each.currency, Decimal(0)) + each.amount
    return [(amount, currency) for currency, amount in sums.items()]


def _run_id(text: str | None) -> uuid.UUID | None:
    if not text:
        return None
    try:
        return uuid.UUID(text)
    except ValueError:
        raise NotFound(_("There is no such run.")) from None
