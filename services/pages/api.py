"""The wall chart and search over the API."""

import re
import uuid
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from django.utils import timezone
from django.utils.translation import gettext as _
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.serializers import ValidationError
from rest_framework.views import APIView

from services.company.models import Company
from services.company.rights import Right
from services.core.api import listed
from services.core.openapi import operation
from services.pages import answers, overview, queries, search
from services.pages.overview import Asked, Overview, Standing
from services.projects import queries as projects
from services.projects.api import project_told, room_told
from services.tracking.api import piece_told

ASKED = ("crew", "state", "late", "stopped", "measure", "sort")


class Chart(APIView):
    """A job's runs as they stand on the wall chart."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation(
        "List runs of the wall chart",
        gives=answers.CHART_RUN,
        listed=True,
        query=answers.CHART_ASKED,
        if_none_match=True,
    )
    def get(self, request: Request, project_id: uuid.UUID) -> Response:
        """Those asked for, in the order asked for; with an ETag that changes when anything of the chart does.

        304 to `If-None-Match` with that ETag. crew: an id.  state: of one stick at least.  late, stopped,
        measure: 1 for those alone.  sort: place, due or priority.
        """
        project = projects.project(project_id)
        company: Company = request._request.company  # type: ignore[attr-defined]
        today = timezone.localdate(timezone=ZoneInfo(company.time_zone))
        tag = f'"{queries.chart_version(project, company, today)}"'
        if tag in [each.strip() for each in request.headers.get("If-None-Match", "").split(",")]:
            return Response(status=304, headers={"ETag": tag})
        asked = Asked.of(request._request.GET)
        _check(request, asked)
        found = overview.overview(project, company, asked, today=today)
        response = listed(request, found.runs, lambda run: run_told(run, found), key=_run_id, beside=ASKED)
        response["ETag"] = tag
        return response


def _run_id(run: Standing) -> uuid.UUID:
    return run.facts.pk


def _check(request: Request, asked: Asked) -> None:
    """What was asked for and makes no sense is told; a page passes over it."""
    given = request.query_params
    problems = {}
    if given.get("crew") and asked.crew is None:
        problems["crew"] = [_("must be a UUID as text")]
    if given.get("state") and not asked.state:
        problems["state"] = [_("is no state; there are %(states)s") % {"states": ", ".join(overview.STATES)}]
    if given.get("sort") and given["sort"] not in list(overview.Sort):
        problems["sort"] = [_("is no order; there are %(sorts)s") % {"sorts": ", ".join(overview.Sort)}]
    for name in ("late", "stopped", "measure"):
        if given.get(name, "1") != "1":
            problems[name] = [_("is 1, or left out")]
    if problems:
        raise ValidationError(problems)


def run_told(run: Standing, found: Overview) -> dict[str, Any]:
    """A run of the chart as the API tells it. Lengths in mm, by state."""
    facts = run.facts
    return {
        "id": str(facts.pk),
        "label": facts.label,
        "room": str(facts.room_id),
        "from_place": facts.from_place,
        "to_place": facts.to_place,
        "conduit": facts.conduit,
        "crew": _text(facts.crew_id),
        "fitting_crew": _text(facts.fitting_crew_id),
        "due_on": facts.due_on.isoformat() if facts.due_on else None,
        "priority": facts.priority,
        "is_released": run.is_released,
        "is_late": run.is_late(found.today),
        "is_stopped": run.is_stopped,
        "is_to_measure": run.is_to_measure,
        "outcome": run.outcome.value if run.outcome else None,
        "why": run.judged.text if run.judged else "",
        "held": run.held,
        "sticks": [
            {"state": state, "count": count, "length_mm": run.lengths[state]}
            for state, count in run.counts.items()
        ],
        "version": facts.version,
    }


def _text(row_id: uuid.UUID | None) -> str | None:
    return str(row_id) if row_id else None


class Search(APIView):
    """What is called so: projects, rooms, runs, and sticks by their painted label."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation("Search", gives=answers.FOUND, query=answers.SEARCH_ASKED)
    def get(self, request: Request) -> Response:
        """At most 20 of each; `more` names the kinds of which there are more. q: what is looked for."""
        strangers = set(request.query_params) - {"q"}
        if strangers:
            raise ValidationError({sorted(strangers)[0][:40]: [_("is not asked for here; there is q")]})
        text = request.query_params.get("q", "")
        if not re.search(r"\S", text):
            raise ValidationError({"q": [_("is empty; say what is looked for")]})
        found = search.find(text)
        return Response(
            {
                "text": found.text,
                "projects": [project_told(each) for each in found.projects],
                "rooms": [room_told(each) for each in found.rooms],
                "runs": [
                    {
                        "id": str(each.pk),
                        "room": str(each.room_id),
                        "project": str(each.room.project_id),
                        "label": each.label,
                        "from_place": each.from_place,
                        "to_place": each.to_place,
                    }
                    for each in found.runs
                ],
                "pieces": [piece_told(each) for each in found.pieces],
                "more": sorted(found.more),
            }
        )
