"""Projects, rooms and runs over the API."""

import uuid
from collections.abc import Mapping, Sequence
from typing import Any, ClassVar

from django.http import HttpResponse
from django.utils.translation import gettext as _
from rest_framework import serializers
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from bendcore.units import Units
from bendcore.words import Dialect
from services.company.rights import Right
from services.core.api import Id, Scalar, Strict, actor_of, listed, seen_by, taken, versioned
from services.core.idempotency import once
from services.core.openapi import operation
from services.projects import answers, commands, queries, rules, survey_files
from services.projects.models import Project, Room, Run
from services.projects.rules import MOST_AT_ONCE, MOST_CABLES, MOST_IN_BANK, MOST_ROWS
from services.projects.survey import Survey as SurveyRead


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

    described: ClassVar = answers.WORDS_OF_RUN


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
    facing = Scalar(required=False)
    fit_from = Scalar(required=False)
    cables = serializers.ListField(
        child=serializers.DictField(child=Scalar(allow_null=True)), max_length=MOST_CABLES, required=False
    )

    described: ClassVar = answers.WORDS_OF_CHANGE


class BankForm(Strict):
    """Runs to be laid beside one, the nearest first."""

    labels = serializers.ListField(child=Scalar(), max_length=MOST_IN_BANK)
    spacing_mm = Scalar()
    toward = Scalar()
    corners = Scalar(required=False)

    described: ClassVar = answers.WORDS_OF_BANK


class SplitForm(Strict):
    """Where a run is split, and what the run that goes on is called. row: from 0, that has the box."""

    row = serializers.IntegerField(min_value=0, max_value=MOST_ROWS)
    label = Scalar()  # type: ignore[assignment]


class ProjectChangeForm(Strict):
    """What may be changed of a project; what is not named stays."""

    code = Scalar(required=False)
    name = Scalar(required=False)
    client = Scalar(required=False)
    site = Scalar(required=False)


class RoomOrderForm(Strict):
    """All rooms of a project, in their order on the wall chart."""

    rooms = serializers.ListField(child=Id(), max_length=2000)


class SeenRun(Strict):
    """A run, and the version that was seen of it."""

    run = Id()
    version = serializers.IntegerField(min_value=1, max_value=999_999_999)


class RunsForm(Strict):
    """Runs that are changed together."""

    runs = serializers.ListField(child=SeenRun(), max_length=MOST_AT_ONCE)


class DueForm(RunsForm):
    """The day by which runs are to be done; null takes it away."""

    due_on = Scalar(allow_null=True)


class PriorityForm(RunsForm):
    """What of runs goes first: 1, 2 or 3."""

    priority = Scalar()

    described: ClassVar = answers.WORDS_OF_PRIORITY


def seen_runs(told: Sequence[Mapping[str, Any]]) -> dict[uuid.UUID, int]:
    """Runs with the versions that were seen, as commands take them. Raises DRF's ValidationError for one that
    is named twice."""
    found = {each["run"]: each["version"] for each in told}
    if len(found) != len(told):
        raise serializers.ValidationError({"runs": [_("name a run twice")]})
    return found


class RowsForm(Strict):
    """All rows of a run. What stands in a row is the command's to check, row by row."""

    rows = serializers.ListField(
        child=serializers.DictField(child=Scalar(allow_null=True)), max_length=MOST_ROWS
    )

    described: ClassVar = answers.WORDS_OF_ROWS


class Projects(APIView):
    """All projects that are not archived; a new one."""

    rights: ClassVar = {"GET": Right.SEE_WORK, "POST": Right.SURVEY}

    @operation("List projects", gives=answers.PROJECT, listed=True)
    def get(self, request: Request) -> Response:
        """By code."""
        return listed(request, queries.projects(), project_told)

    @operation(
        "Open a project",
        gives=answers.PROJECT,
        takes=ProjectForm,
        example={"code": "FC-1", "name": "Fenwater Creamery", "client": "Fenwater Dairies"},
        status=201,
        etag=True,
    )
    @once
    def post(self, request: Request) -> Response:
        """Makes one."""
        made = commands.create_project(actor=actor_of(request), **taken(ProjectForm, request))
        return versioned(project_told(made), made.version, status=201)


class ArchivedProjects(APIView):
    """All projects that are archived."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation("List archived projects", gives=answers.PROJECT, listed=True)
    def get(self, request: Request) -> Response:
        """The one archived last first."""
        return listed(request, queries.archived_projects(), project_told)


class Archive(APIView):
    """Taking a project off the wall chart."""

    rights: ClassVar = {"POST": Right.SURVEY}

    @operation("Archive a project", gives=answers.PROJECT, etag=True, if_match=True)
    @once
    def post(self, request: Request, project_id: uuid.UUID) -> Response:
        """Nothing of it can be changed then, but to bring it back. Needs If-Match."""
        done = commands.archive_project(actor=actor_of(request), project_id=project_id, seen=seen_by(request))
        return versioned(project_told(done), done.version)


class BringBack(APIView):
    """Putting an archived project on the wall chart again."""

    rights: ClassVar = {"POST": Right.SURVEY}

    @operation("Bring back a project", gives=answers.PROJECT, etag=True, if_match=True)
    @once
    def post(self, request: Request, project_id: uuid.UUID) -> Response:
        """Needs If-Match."""
        done = commands.bring_project_back(
            actor=actor_of(request), project_id=project_id, seen=seen_by(request)
        )
        return versioned(project_told(done), done.version)


class RoomOrder(APIView):
    """The order of a project's rooms."""

    rights: ClassVar = {"PUT": Right.SURVEY}

    @operation(
        "Order a project’s rooms",
        gives=answers.ROOMS_TOLD,
        takes=RoomOrderForm,
        example={"rooms": ["0190f3a0-5c1e-7000-8000-000000000000"]},
        if_match=True,
    )
    def put(self, request: Request, project_id: uuid.UUID) -> Response:
        """Sets it: all rooms, each once. Needs If-Match, with the ETag of the project."""
        seen = seen_by(request)
        rooms = taken(RoomOrderForm, request)["rooms"]
        done = commands.order_rooms(actor=actor_of(request), project_id=project_id, seen=seen, room_ids=rooms)
        return Response({"items": [room_told(room) for room in done]})


class OneRoom(APIView):
    """A room."""

    rights: ClassVar = {"GET": Right.SEE_WORK, "PATCH": Right.SURVEY, "DELETE": Right.SURVEY}

    @operation("Tell of a room", gives=answers.ROOM, etag=True)
    def get(self, request: Request, room_id: uuid.UUID) -> Response:
        """With its version as ETag."""
        found = queries.room(room_id)
        return versioned(room_told(found), found.version)

    @operation(
        "Rename a room",
        gives=answers.ROOM,
        takes=RoomForm,
        example={"name": "Plate room"},
        etag=True,
        if_match=True,
        refuses=(409,),
    )
    def patch(self, request: Request, room_id: uuid.UUID) -> Response:
        """Gives it another name. Needs If-Match."""
        seen = seen_by(request)
        done = commands.rename_room(
            actor=actor_of(request), room_id=room_id, seen=seen, **taken(RoomForm, request)
        )
        return versioned(room_told(done), done.version)

    @operation("Delete a room", if_match=True, refuses=(409,))
    def delete(self, request: Request, room_id: uuid.UUID) -> Response:
        """Deletes it; it must have no runs. Needs If-Match."""
        commands.delete_room(actor=actor_of(request), room_id=room_id, seen=seen_by(request))
        return Response(status=204)


class DueDays(APIView):
    """Days by which runs are to be done."""

    rights: ClassVar = {"POST": Right.RELEASE}

    @operation(
        "Set the day of runs",
        gives=answers.RUNS_TOLD,
        takes=DueForm,
        example={
            "runs": [{"run": "0190f3a0-5c1e-7000-8000-000000000000", "version": 2}],
            "due_on": "2026-12-04",
        },
        refuses=(404, 412),
    )
    @once
    def post(self, request: Request) -> Response:
        """Sets one day for all of these runs, or none of them is changed."""
        told = taken(DueForm, request)
        runs = seen_runs(told["runs"])
        commands.set_due(actor=actor_of(request), runs=runs, due_on=told["due_on"])
        return Response({"items": [run_told(run) for run in queries.runs(list(runs))]})


class Priorities(APIView):
    """What of runs goes first."""

    rights: ClassVar = {"POST": Right.RELEASE}

    @operation(
        "Set the priority of runs",
        gives=answers.RUNS_TOLD,
        takes=PriorityForm,
        example={"runs": [{"run": "0190f3a0-5c1e-7000-8000-000000000000", "version": 2}], "priority": 1},
        refuses=(404, 412),
    )
    @once
    def post(self, request: Request) -> Response:
        """Sets one priority for all of these runs, or none of them is changed."""
        told = taken(PriorityForm, request)
        runs = seen_runs(told["runs"])
        commands.set_priority(actor=actor_of(request), runs=runs, priority=told["priority"])
        return Response({"items": [run_told(run) for run in queries.runs(list(runs))]})


class OneProject(APIView):
    """A project."""

    rights: ClassVar = {"GET": Right.SEE_WORK, "PATCH": Right.SURVEY}

    @operation("Tell of a project", gives=answers.PROJECT, etag=True)
    def get(self, request: Request, project_id: uuid.UUID) -> Response:
        """With its version as ETag."""
        found = queries.project(project_id)
        return versioned(project_told(found), found.version)

    @operation(
        "Change a project",
        gives=answers.PROJECT,
        takes=ProjectChangeForm,
        example={"site": "Fenwater, north yard"},
        etag=True,
        if_match=True,
        refuses=(409,),
    )
    def patch(self, request: Request, project_id: uuid.UUID) -> Response:
        """Changes what it says of itself. Needs If-Match."""
        seen = seen_by(request)
        done = commands.change_project(
            actor=actor_of(request), project_id=project_id, seen=seen, **taken(ProjectChangeForm, request)
        )
        return versioned(project_told(done), done.version)


class Rooms(APIView):
    """A project's rooms; a new one."""

    rights: ClassVar = {"GET": Right.SEE_WORK, "POST": Right.SURVEY}

    @operation("List a project’s rooms", gives=answers.ROOM, listed=True)
    def get(self, request: Request, project_id: uuid.UUID) -> Response:
        """As they stand on the wall chart."""
        return listed(request, queries.rooms_of(queries.project(project_id).pk), room_told)

    @operation(
        "Open a room",
        gives=answers.ROOM,
        takes=RoomForm,
        example={"name": "Plate room"},
        status=201,
        etag=True,
    )
    @once
    def post(self, request: Request, project_id: uuid.UUID) -> Response:
        """Makes one, the last on the wall chart."""
        made = commands.create_room(
            actor=actor_of(request), project_id=project_id, **taken(RoomForm, request)
        )
        return versioned(room_told(made), made.version, status=201)


class RunsOfProject(APIView):
    """A project's runs."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation("List a project’s runs", gives=answers.RUN, listed=True)
    def get(self, request: Request, project_id: uuid.UUID) -> Response:
        """Room after room, by label."""
        return listed(request, queries.runs_of_project(queries.project(project_id).pk), run_told)


class RunsOfRoom(APIView):
    """New runs of a room."""

    rights: ClassVar = {"POST": Right.SURVEY}

    @operation(
        "Open a run",
        gives=answers.RUN,
        takes=RunForm,
        example={
            "label": "07",
            "former": "0190f3a0-5c1e-7000-8000-000000000000",
            "from_place": "Distribution board",
            "to_place": "Pump 1",
        },
        status=201,
        etag=True,
    )
    @once
    def post(self, request: Request, room_id: uuid.UUID) -> Response:
        """Makes one, without rows."""
        told = taken(RunForm, request)
        former = told.pop("former")
        made = commands.create_run(actor=actor_of(request), room_id=room_id, former_id=former, **told)
        return versioned(run_told(made), made.version, status=201)


class OneRun(APIView):
    """A run as measured."""

    rights: ClassVar = {"GET": Right.SEE_WORK, "PATCH": Right.SURVEY, "DELETE": Right.SURVEY}

    @operation("Tell of a run", gives=answers.RUN, etag=True)
    def get(self, request: Request, run_id: uuid.UUID) -> Response:
        """With its version as ETag."""
        return _run(queries.run(run_id))

    @operation(
        "Change a run",
        gives=answers.RUN,
        takes=RunChangeForm,
        example={"to_place": "Pump 2", "standoff_mm": 20},
        etag=True,
        if_match=True,
        refuses=(409,),
    )
    def patch(self, request: Request, run_id: uuid.UUID) -> Response:
        """Changes what it says of itself. Needs If-Match."""
        seen = seen_by(request)
        told = taken(RunChangeForm, request)
        if "former" in told:
            told["former_id"] = told.pop("former")
        commands.change_run(actor=actor_of(request), run_id=run_id, seen=seen, **told)
        return _run(queries.run(run_id))

    @operation("Delete a run", if_match=True, refuses=(409,))
    def delete(self, request: Request, run_id: uuid.UUID) -> Response:
        """Deletes it, with its rows; it must never have been released. Needs If-Match."""
        commands.delete_run(actor=actor_of(request), run_id=run_id, seen=seen_by(request))
        return Response(status=204)


class Bank(APIView):
    """The runs that lie beside one."""

    rights: ClassVar = {"GET": Right.SEE_WORK, "POST": Right.SURVEY}

    @operation("List a run’s bank", gives=answers.RUN, listed=True)
    def get(self, request: Request, run_id: uuid.UUID) -> Response:
        """In their places, the nearest first."""
        return listed(request, queries.bank_of(queries.run(run_id).pk), run_told)

    @operation(
        "Lay runs beside one",
        gives=answers.RUNS_TOLD,
        takes=BankForm,
        example={"labels": ["08", "09"], "spacing_mm": 60, "toward": "out"},
        status=201,
        if_match=True,
        refuses=(409,),
    )
    @once
    def post(self, request: Request, run_id: uuid.UUID) -> Response:
        """Lays runs beside it. Needs If-Match, with the ETag of the run that they lie beside."""
        seen = seen_by(request)
        told = taken(BankForm, request)
        made = commands.lay_bank(actor=actor_of(request), run_id=run_id, seen=seen, **told)
        return Response({"items": [run_told(each) for each in made]}, status=201)


class LeaveBank(APIView):
    """A run taken out of the bank that it lies in."""

    rights: ClassVar = {"POST": Right.SURVEY}

    @operation("Take a run out of its bank", gives=answers.RUN, etag=True, if_match=True, refuses=(409,))
    @once
    def post(self, request: Request, run_id: uuid.UUID) -> Response:
        """Takes it out, with the rows that it had there: only the last of a bank may go. Needs If-Match."""
        commands.leave_bank(actor=actor_of(request), run_id=run_id, seen=seen_by(request))
        return _run(queries.run(run_id))


class Split(APIView):
    """A run split at a box."""

    rights: ClassVar = {"POST": Right.SURVEY}

    @operation(
        "Split a run at a box",
        gives=answers.RUN,
        takes=SplitForm,
        example={"row": 0, "label": "07b"},
        status=201,
        etag=True,
        if_match=True,
        refuses=(409,),
    )
    @once
    def post(self, request: Request, run_id: uuid.UUID) -> Response:
        """Ends it in the box, and makes the run that goes on. Needs If-Match."""
        seen = seen_by(request)
        told = taken(SplitForm, request)
        made = commands.split_at_box(actor=actor_of(request), run_id=run_id, seen=seen, **told)
        return versioned(run_told(made), made.version, status=201)


class SurveyForm(Strict):
    """A survey's file; whether it is only read, and nothing made."""

    file = serializers.FileField(allow_empty_file=True)
    dry_run = serializers.ChoiceField(["true", "false"], required=False)

    described: ClassVar = answers.WORDS_OF_SURVEY


class SurveyFileForm(Strict):
    """Which file is wanted: the empty template or the project's runs; a workbook or CSV; in what units."""

    what = serializers.ChoiceField(["template", "runs"], required=False)
    kind = serializers.ChoiceField(list(survey_files.KINDS), required=False)
    units = serializers.ChoiceField([each.value for each in Units], required=False)


class Survey(APIView):
    """A project's survey as a file: the template, the runs that there are, and the import of new ones."""

    rights: ClassVar = {"GET": Right.SURVEY, "POST": Right.SURVEY}
    parser_classes = (MultiPartParser,)

    def perform_content_negotiation(self, request: Request, force: bool = False) -> Any:
        """Whoever asks for a file says so; problems are told as JSON all the same."""
        return super().perform_content_negotiation(request, force=True)

    @operation("Fetch a survey’s file", query=SurveyFileForm, files=answers.SURVEY_FILES)
    def get(self, request: Request, project_id: uuid.UUID) -> HttpResponse:
        """The file."""
        asked = SurveyFileForm(data=request.query_params.dict())
        asked.is_valid(raise_exception=True)
        company = request._request.company  # type: ignore[attr-defined]
        file = queries.survey_file(
            project_id,
            with_runs=asked.validated_data.get("what") == "runs",
            kind=asked.validated_data.get("kind", "xlsx"),
            units=Units(asked.validated_data.get("units", company.units)),
            dialect=Dialect(company.words),
        )
        return HttpResponse(
            file.content,
            content_type=file.media_type,
            headers={"Content-Disposition": f'attachment; filename="{file.name}"'},
        )

    @operation("Import a survey", gives=answers.SURVEY, takes=SurveyForm, status=(200, 201))
    @once
    def post(self, request: Request, project_id: uuid.UUID) -> Response:
        """Makes what the file holds, or says what it would make."""
        told = taken(SurveyForm, request)
        project = queries.project(project_id)
        rules.require_open(project)
        table = survey_files.read(told["file"].read())
        survey = queries.checked_survey(project.pk, table)
        dry_run = told.get("dry_run") == "true"
        if dry_run:
            survey.require_sound()
            made = []
        else:
            made = commands.import_survey(actor=actor_of(request), project_id=project.pk, table=table)
        return Response(survey_told(survey, made), status=200 if dry_run else 201)


def survey_told(survey: SurveyRead, made: Sequence[Run]) -> dict[str, Any]:
    """A survey as the API tells it. made: its runs once they are, in the same order."""
    ids: list[str | None] = [str(run.pk) for run in made] or [None for _run in survey.runs]
    return {
        "imported": bool(made),
        "units": survey.units.value if survey.units else None,
        "new_rooms": list(survey.new_rooms),
        "rows": survey.rows,
        "to_measure": survey.open_figures,
        "notes": survey.notes,
        "runs": [
            {
                "id": name,
                "room": run.room,
                "label": run.label,
                "rows": len(run.rows),
                "to_measure": run.open_figures,
            }
            for name, run in zip(ids, survey.runs, strict=True)
        ],
    }


class Rows(APIView):
    """A run's rows."""

    rights: ClassVar = {"PUT": Right.SURVEY}

    @operation(
        "Set a run’s rows",
        gives=answers.RUN,
        takes=RowsForm,
        example={
            "rows": [
                {
                    "length_mm": 877,
                    "from": "face",
                    "to": "back",
                    "then": "bend",
                    "angle_deg": 90,
                    "toward": "right",
                },
                {"length_mm": 450, "from": "back", "to": "face", "then": "end"},
            ]
        },
        etag=True,
        if_match=True,
        refuses=(409,),
    )
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
        "archived_at": project.archived_at,
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
        "fitting_crew": str(run.fitting_crew_id) if run.fitting_crew_id else None,
        "due_on": run.due_on.isoformat() if run.due_on else None,
        "priority": run.priority,
        "heading": run.heading,
        "standoff_mm": run.standoff_mm,
        "start_kind": run.start_kind,
        "start_allowance_mm": run.start_allowance_mm,
        "finish_kind": run.finish_kind,
        "finish_allowance_mm": run.finish_allowance_mm,
        "rows": run.rows,
        "facing": run.facing,
        "fit_from": run.fit_from,
        "cables": run.cables,
        "follows": str(run.follows_id) if run.follows_id else None,
        "beside": str(run.beside_id) if run.beside_id else None,
        "place_in_bank": run.place_in_bank,
        "bank_spacing_mm": run.bank_spacing_mm,
        "bank_toward": run.bank_toward,
        "bank_corners": run.bank_corners,
        "version": run.version,
    }
