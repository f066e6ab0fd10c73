"""Drafts and releases over the API."""

import uuid
from typing import Any, ClassVar

from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.company.queries import company_settings
from services.company.rights import Right
from services.core.api import Id, Strict, actor_of, seen_by, taken, versioned
from services.core.errors import NotFound
from services.planning import commands, queries
from services.planning.models import Plan
from services.projects import queries as projects


class ReleaseForm(Strict):
    """Who is to make the run."""

    crew = Id()


class Draft(APIView):
    """A run planned as it stands, in memory."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    def get(self, request: Request, run_id: uuid.UUID) -> Response:
        """The plan by the engine's contract, null while it cannot be made; what is told at the rows; what is
        to measure.

        The ETag is the run's: a release of this very draft names it.
        """
        run = projects.run(run_id)
        draft = queries.draft_of(run, company_settings(actor_of(request).company_id))
        told = {
            "plan": draft.plan.to_dict() if draft.plan else None,
            "findings": [
                {"row": each.row, "level": each.level, "text": each.text, "rule": each.rule}
                for each in draft.findings
            ],
            "to_measure": [{"row": row, "field": field} for row, field in draft.to_measure],
        }
        return versioned(told, run.version)


class Release(APIView):
    """Release of a run to a crew."""

    rights: ClassVar = {"POST": Right.RELEASE}

    def post(self, request: Request, run_id: uuid.UUID) -> Response:
        """Keeps its plan as a new revision. Needs If-Match, with the ETag of the run."""
        seen = seen_by(request)
        crew = taken(ReleaseForm, request)["crew"]
        plan = commands.release_run(actor=actor_of(request), run_id=run_id, seen=seen, crew_id=crew)
        return Response(plan_told(plan), status=201)


class CurrentPlan(APIView):
    """The plan that a run is made to."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    def get(self, request: Request, run_id: uuid.UUID) -> Response:
        """As released; 404 before the first release."""
        found = queries.current_plan(projects.run(run_id).pk)
        if found is None:
            raise NotFound
        return Response(plan_told(found))


def plan_told(plan: Plan) -> dict[str, Any]:
    """A released plan as the API tells it; `result` is by the engine's contract. Two queries."""
    return {
        "id": str(plan.pk),
        "run": str(plan.run_id),
        "revision": plan.revision,
        "released_at": plan.released_at,
        "engine_version": plan.engine_version,
        "result": plan.result,
        "sticks": [
            {
                "id": str(stick.pk),
                "number": stick.number,
                "label": stick.line.label,
                "cut_length_mm": stick.cut_length_mm,
            }
            for stick in queries.sticks_of(plan.pk)
        ],
    }
