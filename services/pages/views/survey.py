"""Setting up: projects, rooms, and what a run says of itself."""

import json
import uuid
from collections.abc import Mapping, Sequence
from typing import Any, Final

from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from bendcore.catalogue import conduit as conduit_row
from bendcore.units import Units
from bendcore.words import Dialect
from services.bench import queries as bench_queries
from services.company.rights import Right
from services.core import words
from services.core.errors import IllegalMove, StaleVersion
from services.pages import beside, rules
from services.pages.forms import ProjectForm, RoomForm
from services.pages.forms_run import RunForm, typed_run
from services.pages.gate import PageRequest, page, seen_by
from services.pages.views.sheet import place_of
from services.projects import commands as project_commands
from services.projects import queries as project_queries
from services.projects.models import Run


@page(Right.SURVEY, "GET", "POST")
def project_new(request: PageRequest) -> HttpResponse:
    """Opens a project."""
    form = ProjectForm(request.POST or None)
    if request.method == "POST":
        project = form.ask(project_commands.create_project, actor=request.actor)
        if project is not None:
            request.session["project"] = str(project.pk)
            return redirect("room-new", project_id=project.pk)
    return _form(
        request, form, title=_("Open a project"), go=_("Open the project"), then=_("Next: its first room.")
    )


@page(Right.SURVEY, "GET", "POST")
def room_new(request: PageRequest, project_id: uuid.UUID) -> HttpResponse:
    """Adds a room to a project."""
    project = project_queries.project(project_id)
    form = RoomForm(request.POST or None)
    if request.method == "POST":
        room = form.ask(project_commands.create_room, actor=request.actor, project_id=project_id)
        if room is not None:
            return redirect("run-new", room_id=room.pk)
    return _form(
        request, form, title=_("Add a room"), under=str(project.name), go=_("Add the room"),
        then=_("Next: its first run."),
    )  # fmt: skip


@page(Right.SURVEY, "GET", "POST")
def run_new(request: PageRequest, room_id: uuid.UUID) -> HttpResponse:
    """Adds a run to a room. Label and former are proposed: Enter alone makes a run."""
    room = project_queries.room(room_id)
    formers = bench_queries.formers()
    if not formers:
        return redirect("benders")
    proposed = beside.next_label(beside.labels_of(room.project_id))
    form = _run_form(request, formers, request.POST or None, proposed=proposed)
    if request.method == "POST":
        run = form.ask(project_commands.create_run, actor=request.actor, room_id=room_id)
        if run is not None:
            request.session["former"] = str(run.former_id)
            return redirect("run-sheet", run_id=run.pk)
    return _form(
        request, form, title=_("Add a run"), under=f"{room.project.name} · {room.name}",
        go=_("Type its route"), then=_("Next: its route, row by row."),
    )  # fmt: skip


@page(Right.SURVEY, "GET", "POST")
def run_change(request: PageRequest, run_id: uuid.UUID) -> HttpResponse:
    """Changes what a run says of itself: label, places, former, directions, ends, cables.

    Where somebody else changed it meanwhile, nothing is kept: the form comes back with theirs where they
    alone changed a field, and asks whose stands where both did.
    """
    run = project_queries.run(run_id)
    now = typed_run(run, Units(request.company.units), request.company.rules)
    if request.method == "POST":
        sent, unchosen = _chosen(request.POST, now)
        form = _run_form(request, bench_queries.formers(), sent, run=run)
        if unchosen:
            return _stale_run(request, run, form, now)
        try:
            changed = form.ask(
                project_commands.change_run, actor=request.actor, run_id=run_id, seen=seen_by(request)
            )
        except StaleVersion:
            return _stale_run(request, run, form, now)
        except IllegalMove as error:
            form.add_error(None, error.text)
            changed = None
        if changed is not None:
            return redirect("run-sheet", run_id=run_id)
        opened = request.POST.get("opened", "")
    else:
        form = _run_form(request, bench_queries.formers(), None, run=run, initial=now)
        opened = json.dumps(now)
    return _run_page(request, run, form, opened=opened, seen=request.POST.get("seen") or run.version)


_CHOICE: Final = "whose-"
"""Begins the name of a choice between two people's words for a field."""


def _chosen(sent: QueryDict, now: Mapping[str, str]) -> tuple[QueryDict, bool]:
    """What was sent, with theirs where that was chosen; and whether a choice is still open."""
    merged = sent.copy()
    asked = [each.removeprefix(_CHOICE) for each in sent.getlist("choices")]
    unchosen = False
    for name in asked:
        whose = sent.get(f"{_CHOICE}{name}")
        if whose == "theirs":
            merged[name] = now.get(name, "")
        elif whose != "mine":
            unchosen = True
    return merged, unchosen


def _stale_run(request: PageRequest, run: Run, form: RunForm, now: Mapping[str, str]) -> HttpResponse:
    """The form with the difference to what somebody else kept meanwhile."""
    opened = _opened(request.POST.get("opened", ""))
    open_still = {each.removeprefix(_CHOICE) for each in request.POST.getlist("choices")}
    merged = request.POST.copy()
    pairs, choices = [], []
    for name in form.fields:
        mine, theirs = str(form.data.get(name, "")).strip(), now.get(name, "")
        was = opened.get(name, theirs) if opened is not None else None
        whose = rules.changed_by(None if name in open_still else was, mine, theirs)
        if whose == "nobody":
            continue
        if whose == "theirs":
            merged[name] = theirs
        if whose == "both":
            choices.append(f"{_CHOICE}{name}")
        field = form[name]
        pairs.append(
            {
                "name": f"{_CHOICE}{name}",
                "label": field.label,
                "mine": _said(field, mine),
                "theirs": _said(field, theirs),
                "whose": whose,
            }
        )
    again = _run_form(request, bench_queries.formers(), merged, run=run)
    told = {"who": beside.changed_last_by(run.pk), "pairs": pairs, "choices": choices}
    return _run_page(
        request, run, again, opened=json.dumps(dict(now)), seen=run.version, stale=told, status=412
    )


def _opened(text: str) -> dict[str, str] | None:
    """The fields as the page showed them; None for anything else."""
    try:
        found = json.loads(text)
    except (ValueError, RecursionError):
        return None
    if not isinstance(found, dict) or not all(isinstance(each, str) for each in found.values()):
        return None
    return found


def _said(field: Any, value: str) -> str:
    choices = dict(getattr(field.field, "choices", ()))
    return str(choices.get(value, value)) or _("empty")


def _run_page(request: PageRequest, run: Run, form: RunForm, *, status: int = 0, **more: Any) -> HttpResponse:
    form.focus()
    context = {
        "form": form,
        "run": run,
        "title": _("Change run %(label)s") % {"label": run.label},
        "under": place_of(run),
        "go": _("Keep"),
        "facings": form.facings,
        **more,
    }
    status = status or (422 if form.is_bound and form.errors else 200)
    return render(request, "pages/run_form.html", context, status=status)


def _run_form(
    request: PageRequest,
    formers: Sequence[Any],
    sent: QueryDict | None,
    *,
    run: Run | None = None,
    proposed: str = "",
    initial: Mapping[str, str] | None = None,
) -> RunForm:
    dialect = Dialect(request.company.words)
    choices = [(str(each.pk), f"{each.bender.name} · {conduit_row(each.conduit).title}") for each in formers]
    former = words.word("former", dialect)
    return RunForm(
        sent,
        company=request.company,
        formers=choices,
        end_words=lambda kind: words.word(kind, dialect),
        former_label=_("%(former)s and conduit") % {"former": former[:1].upper() + former[1:]},
        proposed=proposed,
        run=run,
        facings=beside.facings_of(run.room_id) if run is not None else (),
        initial={"former_id": request.session.get("former"), **(initial or {})},
    )


def _form(request: PageRequest, form: Any, *, title: str, go: str, **more: Any) -> HttpResponse:
    status = 422 if form.is_bound and form.errors else 200
    form.focus()
    return render(request, "pages/form.html", {"form": form, "title": title, "go": go, **more}, status=status)
