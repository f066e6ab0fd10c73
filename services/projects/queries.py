"""Reads of projects, rooms and runs."""

import uuid

from django.utils.translation import gettext as _

from services.core.errors import NotFound
from services.projects.models import Project, Room, Run


def projects() -> list[Project]:
    """The company's projects by code, the archived left out. One query."""
    return list(Project.objects.filter(archived_at__isnull=True).order_by("code"))


def project(project_id: uuid.UUID) -> Project:
    """One project. Raises NotFound. One query."""
    found: Project | None = Project.objects.filter(pk=project_id).first()
    if found is None:
        raise NotFound(_("There is no such project."))
    return found


def rooms_of(project_id: uuid.UUID) -> list[Room]:
    """A project's rooms as they stand on the wall chart. One query."""
    return list(Room.objects.filter(project_id=project_id).order_by("place", "name"))


def room(room_id: uuid.UUID) -> Room:
    """One room with its project. Raises NotFound. One query."""
    found: Room | None = Room.objects.select_related("project").filter(pk=room_id).first()
    if found is None:
        raise NotFound(_("There is no such room."))
    return found


def run(run_id: uuid.UUID) -> Run:
    """One run with its room, project, former, bender and crew. Raises NotFound. One query."""
    found: Run | None = (
        Run.objects.select_related("room__project", "former__bender", "crew").filter(pk=run_id).first()
    )
    if found is None:
        raise NotFound(_("There is no such run."))
    return found


def runs_of_project(project_id: uuid.UUID) -> list[Run]:
    """A project's runs, room after room, by label; each with its room, project, former, bender and crew. One
    query."""
    return list(
        Run.objects.select_related("room__project", "former__bender", "crew")
        .filter(room__project_id=project_id)
        .order_by("room__place", "room__name", "label")
    )
