"""Projects, rooms and runs over the API."""

import uuid
from typing import Any, ClassVar

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.company.rights import Right
from services.core.api import Id, Scalar, Strict, actor_of, listed, seen_by, taken, versioned
from services.projects import commands, queries
from services.projects.models import Project, Room, Run
from services.projects.rules import MOST_ROWS


class ProjectForm(Strict):
    """A new project."""

    code = Scalar()
    name = Scalar()
    client = Scalar(required=False)
    site = Scalar(required=False)


class RoomForm(Strict):
    """A new room."""

    name = Scalar()


class RunForm(Strict):
    """A new run, without rows."""

    label = Scalar()  # type: ignore[assignment]
    former = Id()
    from_place = Scalar(required=False)
    to_place = Scalar(required=False)
    heading = Scalar(required=False)


class RunChangeForm(Strict):
    """What may be changed of a run beside its rows; what is not named stays."""

    label = Scalar(required=False)  # type: ignore[assignment]
    former = Id(required=False)
    from_place = Scalar(required=False)
    to_place = Scalar(required=False)
    heading = Scalar(required=False)
    standoff_mm = Scalar(required=False)
    start_kind = Scalar(required=False)
    start_allowance_mm = Scalar(required=False, allow_null=True)
    finish_kind = Scalar(required=False)
    finish_allowance_mm = Scalar(required=False, allow_null=True)


class RowsForm(Strict):
    """All rows of a run. What stands in a row is the command's to check, row by row."""

    rows = serializers.ListField(
        child=serializers.DictField(child=Scalar(allow_null=True)), max_length=MOST_ROWS
    )


class Projects(APIView):
    """All projects that are not archived; a new one."""

    rights: ClassVar = {"GET": Right.SEE_WORK, "POST": Right.SURVEY}

    def get(self, request: Request) -> Response:
        """By code."""
        return listed(request, queries.projects(), project_told)

    def post(self, request: Request) -> Response:
        """Makes one."""
        made = commands.create_project(actor=actor_of(request), **taken(ProjectForm, request))
        return versioned(project_told(made), made.version, status=201)


class OneProject(APIView):
    """A project."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    def get(self, request: Request, project_id: uuid.UUID) -> Response:
        """With its version as ETag."""
        found = queries.project(project_id)
        return versioned(project_told(found), found.version)


class Rooms(APIView):
    """A project's rooms; a new one."""

    rights: ClassVar = {"GET": Right.SEE_WORK, "POST": Right.SURVEY}

    def get(self, request: Request, project_id: uuid.UUID) -> Response:
        """As they stand on the wall chart."""
        return listed(request, queries.rooms_of(queries.project(project_id).pk), room_told)

    def post(self, request: Request, project_id: uuid.UUID) -> Response:
        """Makes one, the last on the wall chart."""
        made = commands.create_room(
            actor=actor_of(request), project_id=project_id, **taken(RoomForm, request)
        )
        return versioned(room_told(made), made.version, status=201)


class RunsOfProject(APIView):
    """A project's runs."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    def get(self, request: Request, project_id: uuid.UUID) -> Response:
        """Room after room, by label."""
        return listed(request, queries.runs_of_project(queries.project(project_id).pk), run_told)


class RunsOfRoom(APIView):
    """New runs of a room."""

    rights: ClassVar = {"POST": Right.SURVEY}

    def post(self, request: Request, room_id: uuid.UUID) -> Response:
        """Makes one, without rows."""
        told = taken(RunForm, request)
        former = told.pop("former")
        made = commands.create_run(actor=actor_of(request), room_id=room_id, former_id=former, **told)
        return versioned(run_told(made), made.version, status=201)


class OneRun(APIView):
    """A run as measured."""

    rights: ClassVar = {"GET": Right.SEE_WORK, "PATCH": Right.SURVEY}

    def get(self, request: Request, run_id: uuid.UUID) -> Response:
        """With its version as ETag."""
        return _run(queries.run(run_id))

    def patch(self, request: Request, run_id: uuid.UUID) -> Response:
        """Changes what it says of itself. Needs If-Match."""
        seen = seen_by(request)
        told = taken(RunChangeForm, request)
        if "former" in told:
            told["former_id"] = told.pop("former")
        commands.change_run(actor=actor_of(request), run_id=run_id, seen=seen, **told)
        return _run(queries.run(run_id))


class Rows(APIView):
    """A run's rows."""

    rights: ClassVar = {"PUT": Right.SURVEY}

    def put(self, request: Request, run_id: uuid.UUID) -> Response:
        """Sets all of them. Needs If-Match."""
        seen = seen_by(request)
        rows = taken(RowsForm, request)["rows"]
        commands.set_rows(actor=actor_of(request), run_id=run_id, seen=seen, rows=rows)
        return _run(queries.run(run_id))


def _run(run: Run) -> Response:
    return versioned(run_told(run), run.version)


def project_told(project: Project) -> dict[str, Any]:
    """A project as the API tells it."""
    return {
        "id": str(project.pk),
        "code": project.code,
        "name": project.name,
        "client": project.client,
        "site": project.site,
        "version": project.version,
    }


def room_told(room: Room) -> dict[str, Any]:
    """A room as the API tells it."""
    return {"id": str(room.pk), "project": str(room.project_id), "name": room.name, "version": room.version}


def run_told(run: Run) -> dict[str, Any]:
    """A run as the API tells it. Lengths in mm, angles in degrees; a figure still to measure is null."""
    return {
        "id": str(run.pk),
        "room": str(run.room_id),
        "label": run.label,
        "from_place": run.from_place,
        "to_place": run.to_place,
        "former": str(run.former_id),
        "crew": str(run.crew_id) if run.crew_id else None,
        "heading": run.heading,
        "standoff_mm": run.standoff_mm,
        "start_kind": run.start_kind,
        "start_allowance_mm": run.start_allowance_mm,
        "finish_kind": run.finish_kind,
        "finish_allowance_mm": run.finish_allowance_mm,
        "rows": run.rows,
        "version": run.version,
    }
