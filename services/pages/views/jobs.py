"""Projects: the list, archiving and bringing back, what a project says of itself, its rooms; and deleting a
draft run."""

import uuid
from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from services.company.rights import Right
from services.core.errors import IllegalMove, Invalid, StaleVersion
from services.pages.forms import ProjectForm, told
from services.pages.gate import PageRequest, page, seen_by
from services.planning import queries as planning_queries
from services.projects import commands as project_commands
from services.projects import queries as project_queries
from services.projects import rules as project_rules
from services.projects.models import Project


@page(Right.SEE_WORK)
def projects(request: PageRequest) -> HttpResponse:
    """All projects: those going on, and the archived ones."""
    counts = project_queries.runs_by_project()

    def listed(rows: list[Project]) -> list[dict[str, Any]]:
        return [{"project": each, "runs": counts.get(each.pk, 0)} for each in rows]

    context = {
        "going": listed(project_queries.projects()),
        "archived": listed(project_queries.archived_projects()),
    }
    return render(request, "pages/projects.html", context)


@page(Right.SURVEY, "POST")
def project_archive(request: PageRequest, project_id: uuid.UUID) -> HttpResponse:
    """Takes a project off the wall chart; it can be brought back."""
    if _done(request, project_commands.archive_project, project_id=project_id) and (
        request.session.get("project") == str(project_id)
    ):
        del request.session["project"]
    return redirect("projects")


@page(Right.SURVEY, "POST")
def project_back(request: PageRequest, project_id: uuid.UUID) -> HttpResponse:
    """Puts an archived project on the wall chart again."""
    _done(request, project_commands.bring_project_back, project_id=project_id)
    return redirect("projects")


@page(Right.SURVEY, "GET", "POST")
def project_change(request: PageRequest, project_id: uuid.UUID) -> HttpResponse:
    """What a project says of itself, and its rooms in their order."""
    project = project_queries.project(project_id)
    form = ProjectForm(
        request.POST or None,
        initial={name: getattr(project, name) for name in ("code", "name", "client", "site")},
    )
    if request.method == "POST":
        try:
            changed = form.ask(
                project_commands.change_project,
                actor=request.actor,
                project_id=project_id,
                seen=seen_by(request),
            )
        except (StaleVersion, IllegalMove) as error:
            form.add_error(None, error.text)
            changed = None
        if changed is not None:
            messages.success(request, _("Kept."))
            return redirect("project-change", project_id=project_id)
    bad = form.is_bound and bool(form.errors)
    if bad:
        form.focus()
    counts = project_queries.runs_in_rooms(project_id)
    context = {
        "project": project,
        "form": form,
        "seen": request.POST.get("seen") or project.version,
        "rooms": [
            {"room": room, "runs": counts.get(room.pk, 0)} for room in project_queries.rooms_of(project_id)
        ],
    }
    return render(request, "pages/project_change.html", context, status=422 if bad else 200)


@page(Right.SURVEY, "POST")
def room_rename(request: PageRequest, room_id: uuid.UUID) -> HttpResponse:
    """Gives a room another name."""
    room = project_queries.room(room_id)
    _done(request, project_commands.rename_room, room_id=room_id, name=request.POST.get("name", ""))
    return redirect("project-change", project_id=room.project_id)


@page(Right.SURVEY, "POST")
def room_move(request: PageRequest, room_id: uuid.UUID) -> HttpResponse:
    """Moves a room one place up or down on the wall chart. `seen` is the project's version."""
    room = project_queries.room(room_id)
    order = [each.pk for each in project_queries.rooms_of(room.project_id)]
    at = order.index(room.pk)
    to = at + (-1 if request.POST.get("way") == "up" else 1)
    if 0 <= to < len(order):
        order[at], order[to] = order[to], order[at]
        _done(request, project_commands.order_rooms, project_id=room.project_id, room_ids=order)
    return redirect("project-change", project_id=room.project_id)


@page(Right.SURVEY, "POST")
def room_delete(request: PageRequest, room_id: uuid.UUID) -> HttpResponse:
    """Deletes a room without runs."""
    room = project_queries.room(room_id)
    if _done(request, project_commands.delete_room, room_id=room_id):
        messages.success(request, _("Room %(name)s is deleted.") % {"name": room.name})
    return redirect("project-change", project_id=room.project_id)


@page(Right.SURVEY, "GET", "POST")
def run_delete(request: PageRequest, run_id: uuid.UUID) -> HttpResponse:
    """Asks once, saying what goes; then deletes a run that was never released."""
    run = project_queries.run(run_id)
    if request.method == "POST":
        if _done(request, project_commands.delete_run, run_id=run_id):
            messages.success(request, _("Run %(label)s is deleted.") % {"label": run.label})
            return redirect("project", project_id=run.room.project_id)
        return redirect("run", run_id=run_id)
    missing = len(project_rules.to_measure(run.rows))
    context = {
        "run": run,
        "released": project_queries.is_released(run_id),
        "missing": missing,
        "overrides": planning_queries.overrides_of(run_id),
    }
    return render(request, "pages/run_delete.html", context)


def _done(request: PageRequest, command: Callable[..., Any], **arguments: Any) -> bool:
    """Calls a command with the version that the page showed; tells what it refuses. Whether it was done."""
    try:
        command(actor=request.actor, seen=seen_by(request), **arguments)
    except (Invalid, StaleVersion, IllegalMove) as error:
        messages.error(request, told(error))
        return False
    return True
