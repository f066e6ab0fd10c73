"""A survey from a file: the template, what a file would make, and its import."""

import re
import uuid
from collections.abc import Sequence
from typing import Any, Final

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from bendcore.units import Units
from bendcore.words import Dialect
from services.company.rights import Right
from services.core.errors import FieldProblem, IllegalMove, Invalid
from services.pages.gate import PageRequest, page
from services.projects import commands as project_commands
from services.projects import queries as project_queries
from services.projects import survey_files
from services.projects.models import Project
from services.projects.survey import MOST_LINES, MOST_RUNS, Survey, columns
from services.projects.survey_lines import explained

_PLACE: Final = re.compile(r"row (\d+)(?:, column ([A-Z]+))?")


@page(Right.SURVEY, "GET", "POST")
def survey_import(request: PageRequest, project_id: uuid.UUID) -> HttpResponse:
    """Takes a file. One without a problem is kept until somebody has seen what it makes; of any other, all
    problems are told."""
    project = project_queries.project(project_id)
    if request.method != "POST":
        return _ask(request, project)
    file = request.FILES.get("file")
    if file is None:
        return _ask(request, project, missing=_("Choose a file first."))
    name = file.name or ""
    survey = Survey()
    try:
        table = survey_files.read(file.read())
        survey = project_queries.checked_survey(project.pk, table)
        survey.require_sound()
    except Invalid as error:
        return _ask(request, project, problems=error.problems, survey=survey, file_name=name)
    upload = project_commands.keep_survey(
        actor=request.actor, project_id=project.pk, file_name=name, table=table
    )
    return redirect("survey-preview", upload_id=upload.pk)


@page(Right.SURVEY, "GET", "POST")
def survey_preview(request: PageRequest, upload_id: uuid.UUID) -> HttpResponse:
    """What a kept file makes; imports it."""
    upload = project_queries.survey_upload(upload_id)
    if request.method == "POST":
        try:
            made = project_commands.import_kept_survey(actor=request.actor, upload_id=upload_id)
        except IllegalMove as error:
            messages.error(request, error.text)
            return redirect("project", project_id=upload.project_id)
        except Invalid as error:  # somebody has made such a run meanwhile, or taken the former away
            return _ask(
                request, upload.project, problems=error.problems, survey=Survey(), file_name=upload.file_name
            )
        messages.success(
            request,
            ngettext("%(count)d run was imported.", "%(count)d runs were imported.", len(made))
            % {"count": len(made)},
        )
        return redirect("project", project_id=upload.project_id)
    if upload.imported_at is not None:
        messages.info(request, _("This survey was imported already."))
        return redirect("project", project_id=upload.project_id)
    survey = project_queries.checked_survey(upload.project_id, project_queries.survey_table(upload))
    if survey.problems:
        return _ask(
            request, upload.project, problems=survey.told(), survey=survey, file_name=upload.file_name
        )
    return render(
        request,
        "pages/import_preview.html",
        {"upload": upload, "project": upload.project, "survey": survey, "said": _counts(survey)},
    )


@page(Right.SURVEY)
def survey_file(request: PageRequest, project_id: uuid.UUID) -> HttpResponse:
    """The template, or the runs that there are, as a workbook or as CSV, in mm or in inches."""
    asked = request.GET
    file = project_queries.survey_file(
        project_id,
        with_runs=asked.get("what") == "runs",
        kind="csv" if asked.get("kind") == "csv" else "xlsx",
        units=_units(asked.get("units"), request.company.units),
        dialect=Dialect(request.company.words),
    )
    return HttpResponse(
        file.content,
        content_type=file.media_type,
        headers={"Content-Disposition": f'attachment; filename="{file.name}"'},
    )


def _units(asked: str | None, otherwise: str) -> Units:
    return Units(asked if asked in list(Units) else otherwise)


def _ask(
    request: PageRequest,
    project: Project,
    *,
    missing: str = "",
    problems: Sequence[FieldProblem] = (),
    survey: Survey | None = None,
    file_name: str = "",
) -> HttpResponse:
    units, dialect = Units(request.company.units), Dialect(request.company.words)
    context: dict[str, Any] = {
        "project": project,
        "missing": missing,
        "file_name": file_name,
        "problems": [(_place(each.where), each.text) for each in problems],
        "count": max(len(problems), survey.count if survey else 0),
        "sound": len(survey.runs) if survey else 0,
        "columns": [(each.heading(units), explained(each, dialect)) for each in columns()],
        "files": [
            (_("in millimetres") if each is Units.MM else _("in inches"), each.value)
            for each in sorted(Units, key=lambda each: each is not units)
        ],
        "most": {"rows": MOST_LINES, "runs": MOST_RUNS},
    }
    return render(request, "pages/import.html", context, status=422 if missing or problems else 200)


def _place(where: str) -> str:
    """A problem's place as a person reads it: `row 14, column F`."""
    match = _PLACE.fullmatch(where)
    if match is None:
        return _("File")
    if match[2] is None:
        return _("Row %(row)s") % {"row": match[1]}
    return _("Row %(row)s, column %(column)s") % {"row": match[1], "column": match[2]}


def _counts(survey: Survey) -> list[str]:
    """What a survey makes, count by count."""
    runs, rows, rooms = len(survey.runs), survey.rows, len(survey.new_rooms)
    told = [
        ngettext("%d run", "%d runs", runs) % runs,
        ngettext("%d row", "%d rows", rows) % rows,
        ngettext("%d new room", "%d new rooms", rooms) % rooms,
    ]
    if open_figures := survey.open_figures:
        told.append(ngettext("%d figure to measure", "%d figures to measure", open_figures) % open_figures)
    if notes := survey.notes:
        told.append(ngettext("%d note passed over", "%d notes passed over", notes) % notes)
    return told
