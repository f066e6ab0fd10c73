"""Papers: chosen, drawn at once or in the background, kept, opened."""

import uuid
from collections.abc import Mapping
from datetime import date, timedelta
from typing import Any, Final

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from bendcore.words import Dialect
from services.company import queries as company_queries
from services.company.rights import Right, may
from services.core import words
from services.core.errors import FieldProblem, IllegalMove, Invalid
from services.pages.forms import told
from services.pages.forms_papers import PaperForm, sheet_choices, what_choices
from services.pages.gate import PageRequest, page, project_remembered
from services.papers import commands, queries, rules
from services.papers.models import Of, Pack, PackState
from services.papers.rules import Asked
from services.planning import queries as planning_queries
from services.projects import queries as project_queries
from services.projects.models import Project


def _tomorrow() -> date:
    return timezone.localdate() + timedelta(days=1)


@page(Right.SEE_WORK, "GET", "POST")
def papers(request: PageRequest) -> HttpResponse:
    """Chooses a paper; draws it at once where it is short, and else in the background. Lists the packs."""
    form = _form(request)
    if request.method == "POST":
        asked = form.ask(rules.checked, tomorrow=_tomorrow())
        if asked is not None:
            contents = form.ask(lambda **_more: queries.contents_of(asked))
            if contents is not None and contents.sticks <= rules.at_once(asked.what):
                return redirect(f"{reverse('paper-drawn')}?{_query(asked)}")
            if (
                contents is not None
                and form.ask(_ordered, actor=request.actor, paper_asked=asked) is not None
            ):
                return redirect("papers")
    return _shown(request, form)


def _ordered(*, actor: Any, paper_asked: Asked, **_more: Any) -> Pack:
    return commands.order_pack(actor=actor, asked=paper_asked)


def _shown(request: PageRequest, form: PaperForm) -> HttpResponse:
    form.focus()
    context = {
        "form": form,
        "packs": [_told(each, request) for each in queries.packs()],
        "at_once": rules.AT_ONCE["bend-cards"],
        "kept_days": rules.KEPT_DAYS,
    }
    bad = form.is_bound and bool(form.errors)
    return render(request, "pages/papers.html", context, status=422 if bad else 200)


def _form(request: PageRequest) -> PaperForm:
    project = _project(request)
    subjects = _subjects(request, project)
    sheets = sheet_choices(request.company.paper)
    known = {value for _group, some in subjects for value, _said in some}
    asked = request.GET
    subject = f"{asked.get('of', '')}:{asked.get('id', '')}"
    initial = {
        "what": asked.get("what") if asked.get("what") in dict(what_choices()) else None,
        "subject": subject if subject in known else None,
        "paper": request.company.paper,
        "labels": sheets[0][1][0][0],
        "start": 1,
        "day": _tomorrow(),
    }
    return PaperForm(
        request.POST if request.method == "POST" else None, subjects=subjects, sheets=sheets, initial=initial
    )


def _project(request: PageRequest) -> Project | None:
    """The project of what is asked for, else the one last looked at."""
    projects = project_queries.projects()
    wanted = _project_asked(request.GET) or project_remembered(request)
    return next((each for each in projects if each.pk == wanted), projects[0] if projects else None)


def _project_asked(asked: QueryDict) -> uuid.UUID | None:
    """Raises NotFound where a page leads here with something that is not there."""
    try:
        of_id = uuid.UUID(asked.get("id", ""))
    except ValueError:
        return None
    of = asked.get("of")
    if of == Of.RUN:
        return project_queries.run(of_id).room.project_id
    if of == Of.ROOM:
        return project_queries.room(of_id).project_id
    return of_id if of == Of.PROJECT else None


def _subjects(request: PageRequest, project: Project | None) -> list[tuple[str, list[tuple[str, str]]]]:
    """What there can be papers of: the project, its rooms and runs, and the crews. Each as "run:ID"."""
    dialect = Dialect(request.company.words)
    crews = [(f"crew:{each.pk}", each.name) for each in company_queries.crews()]
    found: list[tuple[str, list[tuple[str, str]]]] = []
    if project is not None:
        rooms = project_queries.rooms_of(project.pk)
        runs = project_queries.runs_of_project(project.pk)
        found = [
            (_("Project"), [(f"project:{project.pk}", f"{project.code} {project.name}")]),
            (_("Rooms"), [(f"room:{each.pk}", each.name) for each in rooms]),
            (_("Runs"), [(f"run:{each.pk}", f"{each.label}, {each.room.name}") for each in runs]),
        ]
    name = words.plural(words.word("crew", dialect))
    return [each for each in (*found, (name[:1].upper() + name[1:], crews)) if each[1]]


def _query(asked: Asked) -> str:
    query = QueryDict(mutable=True)
    query.update({"what": asked.what, "of": asked.of, "id": str(asked.of_id), "paper": asked.paper})
    if asked.labels:
        query.update({"labels": asked.labels, "start": str(asked.start)})
    if asked.day:
        query["day"] = asked.day.isoformat()
    if asked.only_open:
        query["only_open"] = "yes"
    return query.urlencode()


@page(Right.SEE_WORK)
def drawn(request: PageRequest) -> HttpResponse:
    """A short paper as PDF, by its query; a long one's page says that it goes to the background."""
    asked = asked_of(request.GET, request.company.paper)
    pdf = queries.drawn_now(asked)
    if pdf is None:
        raise IllegalMove(
            _("This is too much to draw while you wait: ask for it on the page of papers, as a pack.")
        )
    return as_pdf(pdf, queries.filename(asked.what, queries.title_of(asked)))


def asked_of(query: Mapping[str, str], paper: str) -> Asked:
    """The paper that a query asks for. paper: without one in the query. Raises Invalid."""
    try:
        of_id = uuid.UUID(query.get("id", ""))
    except ValueError:
        raise Invalid([FieldProblem("id", _("is no name of a row; a UUID is wanted"))]) from None
    start = query.get("start")
    return rules.checked(
        what=query.get("what"),
        of=query.get("of"),
        of_id=of_id,
        paper=query.get("paper", paper),
        labels=query.get("labels"),
        start=int(start) if start and start.isascii() and start.isdigit() and len(start) < 6 else start,
        day=query.get("day"),
        only_open=query.get("only_open") == "yes",
        tomorrow=_tomorrow(),
    )


def as_pdf(pdf: bytes, name: str) -> HttpResponse:
    """A PDF to open in the browser, under that name."""
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response


@page(Right.SEE_WORK)
def bend_cards(request: PageRequest, plan_id: uuid.UUID) -> HttpResponse:
    """A plan's bend cards as PDF: those kept, or drawn now; where they are too many for that, the page on
    which they can be asked for."""
    plan = planning_queries.plan(plan_id)
    pdf = queries.bend_cards_pdf(plan_id)
    if pdf is None:
        messages.info(request, _("These cards are many, and are drawn in the background. Ask for them here."))
        return redirect(f"{reverse('papers')}?what=bend-cards&of=run&id={plan.run_id}")
    return as_pdf(pdf, queries.filename("bend-cards", f"{plan.run.label} {plan.revision}"))


# -------------------------------------------------------------------------------------------------- packs

_STATE: Final[Mapping[str, str]] = {
    PackState.WAITING: "waiting",
    PackState.DRAWING: "cut",
    PackState.MADE: "checked",
    PackState.FAILED: "stopped",
    PackState.CANCELLED: "scrapped",
}
"""The shape that stands with each state."""


def _told(pack: Pack, request: PageRequest) -> dict[str, Any]:
    own = pack.by_id == request.actor.person_id or may(request.actor.role, Right.RELEASE)
    under_way = pack.state in commands.UNDER_WAY
    return {
        "pack": pack,
        "name": dict(what_choices()).get(pack.what, pack.what),
        "glyph": _STATE[PackState(pack.state)],
        "under_way": under_way,
        "may_cancel": own and under_way,
        "may_try": own and pack.state in (PackState.FAILED, PackState.CANCELLED),
        "paper": pack.parameters.get("paper", ""),
    }


@page(Right.SEE_WORK)
def pack_row(request: PageRequest, pack_id: uuid.UUID) -> HttpResponse:
    """How far a pack is: its row of the list, asked for again and again while it is drawn."""
    return render(request, "parts/pack.html", {"each": _told(queries.pack(pack_id), request)})


@page(Right.SEE_WORK)
def pack_pdf(request: PageRequest, pack_id: uuid.UUID) -> HttpResponse:
    """A made pack."""
    pack, pdf = queries.pack_pdf(pack_id)
    return as_pdf(pdf, queries.filename(pack.what, pack.title))


@page(Right.SEE_WORK, "POST")
def pack_cancel(request: PageRequest, pack_id: uuid.UUID) -> HttpResponse:
    """Stops a pack."""
    try:
        commands.cancel_pack(actor=request.actor, pack_id=pack_id)
    except IllegalMove as error:
        messages.error(request, told(error))
    return redirect("papers")


@page(Right.SEE_WORK, "POST")
def pack_again(request: PageRequest, pack_id: uuid.UUID) -> HttpResponse:
    """Tries a pack again."""
    try:
        commands.draw_again(actor=request.actor, pack_id=pack_id)
    except (IllegalMove, Invalid) as error:
        messages.error(request, told(error))
    return redirect("papers")
