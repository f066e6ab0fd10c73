"""Reads of projects, rooms and runs."""

import uuid
from collections.abc import Collection
from datetime import timedelta
from typing import Final

from django.db.models import Count
from django.utils import timezone
from django.utils.translation import gettext as _

from bendcore.units import Units
from bendcore.words import Dialect
from services.bench import queries as bench
from services.core.errors import NotFound
from services.projects.models import Project, Room, Run, SurveyUpload
from services.projects.rules import RunChange
from services.projects.survey import KnownFormer, Survey, SurveyedRun, Table, check
from services.projects.survey_files import SurveyFile, survey_file_of

_AT_HAND: Final = ("room__project", "former__bender", "crew", "fitting_crew", "beside__former__bender")


def projects() -> list[Project]:
    """The company's projects by code, the archived left out. One query."""
    return list(Project.objects.filter(archived_at__isnull=True).order_by("code"))


def archived_projects() -> list[Project]:
    """The company's archived projects, the one archived last first. One query."""
    return list(Project.objects.filter(archived_at__isnull=False).order_by("-archived_at", "code"))


def runs_by_project() -> dict[uuid.UUID, int]:
    """How many runs each of the company's projects has; those with none are left out. One query."""
    rows = Run.objects.order_by().values_list("room__project_id").annotate(count=Count("pk"))
    return dict(rows)


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
    """One run with its room, project, former, bender and crews, and the run it lies beside with its former.
    Raises NotFound. One query."""
    found: Run | None = Run.objects.select_related(*_AT_HAND).filter(pk=run_id).first()
    if found is None:
        raise NotFound(_("There is no such run."))
    return found


def bank_of(run_id: uuid.UUID) -> list[Run]:
    """The runs that lie beside one, in their places in the bank. One query."""
    return list(Run.objects.select_related(*_AT_HAND).filter(beside_id=run_id).order_by("place_in_bank"))


def runs(run_ids: Collection[uuid.UUID]) -> list[Run]:
    """These runs, those that there are, as `run` gives one; room after room, by label. One query."""
    return list(
        Run.objects.select_related(*_AT_HAND)
        .filter(pk__in=run_ids)
        .order_by("room__place", "room__name", "label")
    )


def runs_in_rooms(project_id: uuid.UUID) -> dict[uuid.UUID, int]:
    """How many runs each room of a project has; those with none are left out. One query."""
    rows = Run.objects.filter(room__project_id=project_id).order_by().values_list("room_id")
    return dict(rows.annotate(count=Count("pk")))


def is_released(run_id: uuid.UUID) -> bool:
    """Whether a run was ever released: its sticks have lines then, painted on their pieces. One query."""
    return Run.objects.filter(pk=run_id, lines__isnull=False).exists()


def runs_of_project(project_id: uuid.UUID) -> list[Run]:
    """A project's runs, room after room, by label; each with its room, project, former, bender and crew. One
    query."""
    return list(
        Run.objects.select_related(*_AT_HAND)
        .filter(room__project_id=project_id)
        .order_by("room__place", "room__name", "label")
    )


SURVEY_WAITS: Final = timedelta(days=1)
"""How long a survey that was read waits for its import."""


def known_formers() -> list[KnownFormer]:
    """The company's formers as a survey names them, by bender and conduit. One query."""
    return [KnownFormer(each.pk, each.bender.name, each.conduit) for each in bench.formers()]


def checked_survey(project_id: uuid.UUID, table: Table) -> Survey:
    """What a table makes in a project, or all that is wrong with it. Three queries."""
    there: dict[str, list[str]] = {room.name: [] for room in rooms_of(project_id)}
    labels = Run.objects.filter(room__project_id=project_id).order_by().values_list("room__name", "label")
    for room_name, label in labels:
        there.setdefault(room_name, []).append(label)
    return check(table, formers=known_formers(), there=there)


def survey_upload(upload_id: uuid.UUID) -> SurveyUpload:
    """A survey that waits, or waited, for its import, with its project. Raises NotFound. One query."""
    found: SurveyUpload | None = (
        SurveyUpload.objects.select_related("project")
        .filter(pk=upload_id, made_at__gt=timezone.now() - SURVEY_WAITS)
        .first()
    )
    if found is None:
        raise NotFound(_("There is no such survey. One that was read waits a day for its import."))
    return found


def survey_table(upload: SurveyUpload) -> Table:
    """The table that a kept survey holds. No query."""
    return Table.from_json(upload.table)


def survey_of(project_id: uuid.UUID) -> list[SurveyedRun]:
    """A project's runs as a survey tells them, room after room, by label. One query."""
    return [
        SurveyedRun(
            run.room.name,
            KnownFormer(run.former_id, run.former.bender.name, run.former.conduit),
            0,
            RunChange(
                label=run.label,
                from_place=run.from_place,
                to_place=run.to_place,
                heading=run.heading,
                standoff_mm=run.standoff_mm,
                start_kind=run.start_kind,
                start_allowance_mm=run.start_allowance_mm,
                finish_kind=run.finish_kind,
                finish_allowance_mm=run.finish_allowance_mm,
                facing=run.facing,
            ),
            run.rows,
        )
        for run in runs_of_project(project_id)
    ]


def survey_file(
    project_id: uuid.UUID, *, with_runs: bool, kind: str, units: Units, dialect: Dialect
) -> SurveyFile:
    """A project's survey as a file: its runs, or the empty template. Three queries."""
    of = project(project_id)
    return survey_file_of(
        survey_of(of.pk) if with_runs else None,
        code=of.code,
        kind=kind,
        units=units,
        dialect=dialect,
        formers=known_formers(),
    )
