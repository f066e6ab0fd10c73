"""Drafts and releases over the API."""

import uuid
from typing import Any, ClassVar, Final

from django.utils.translation import gettext as _
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.company.queries import company_settings
from services.company.rights import Right
from services.core.api import Id, Scalar, Strict, actor_of, listed, seen_by, taken, versioned
from services.core.errors import NotFound
from services.core.idempotency import once
from services.core.openapi import operation
from services.planning import answers, commands, queries, rules
from services.planning.models import Override, Plan
from services.projects import queries as projects

MOST_STICKS: Final = 2000
"""Numbers in one list of sticks."""


class Sticks(serializers.ListField):
    """Numbers of sticks."""

    child = serializers.IntegerField(min_value=1, max_value=MOST_STICKS)

    def __init__(self, **more: Any) -> None:
        super().__init__(max_length=MOST_STICKS, **more)


class ReleaseForm(Strict):
    """Who is to make the run; of its sticks all, unless some are named."""

    crew = Id()
    sticks = Sticks(required=False)


class MoreSticksForm(Strict):
    """Sticks that waited, and the revision of the plan that was seen."""

    revision = serializers.IntegerField(min_value=1, max_value=10**9)
    sticks = Sticks()


class LetPassForm(Strict):
    """A stop of a rule pack as a draft tells it, and why it may pass."""

    rule = Scalar()
    where = Scalar()
    said = Scalar()
    reason = Scalar()

    described: ClassVar = answers.LET_PASS


class Draft(APIView):
    """A run planned as it stands, in memory."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation("Plan a run as it stands", gives=answers.DRAFT, etag=True, refuses=(422,))
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
                {
                    "row": each.row,
                    "level": each.level,
                    "text": each.text,
                    "rule": each.rule,
                    "where": each.where,
                    "edition": each.edition,
                    "said": each.said,
                    "may_pass": each.may_pass,
                    "passed": each.passed,
                    "passed_by": each.passed_by,
                }
                for each in draft.findings
            ],
            "to_measure": [{"row": row, "field": field} for row, field in draft.to_measure],
        }
        return versioned(told, run.version)


class Release(APIView):
    """Release of a run to a crew."""

    rights: ClassVar = {"POST": Right.RELEASE}

    @operation(
        "Release a run",
        gives=answers.PLAN,
        takes=ReleaseForm,
        example={"crew": "0190f3a0-5c1e-7000-8000-000000000000"},
        status=201,
        if_match=True,
    )
    @once
    def post(self, request: Request, run_id: uuid.UUID) -> Response:
        """Keeps its plan as a new revision. Needs If-Match, with the ETag of the run."""
        seen = seen_by(request)
        told = taken(ReleaseForm, request)
        plan = commands.release_run(
            actor=actor_of(request),
            run_id=run_id,
            seen=seen,
            crew_id=told["crew"],
            stick_numbers=told.get("sticks"),
        )
        return Response(plan_told(plan), status=201)


class MoreSticks(APIView):
    """More sticks of a released plan."""

    rights: ClassVar = {"POST": Right.RELEASE}

    @operation(
        "Release more sticks",
        gives=answers.PLAN,
        takes=MoreSticksForm,
        example={"revision": 1, "sticks": [2]},
    )
    @once
    def post(self, request: Request, run_id: uuid.UUID) -> Response:
        """Releases sticks that waited. The revision that was seen stands in the body, for a plan never
        changes."""
        told = taken(MoreSticksForm, request)
        plan = commands.release_sticks(
            actor=actor_of(request),
            run_id=run_id,
            revision=told["revision"],
            stick_numbers=told["sticks"],
        )
        return Response(plan_told(plan))


class Overrides(APIView):
    """What managers let pass on a run."""

    rights: ClassVar = {"GET": Right.SEE_WORK, "POST": Right.OVERRIDE}

    @operation("List what was let pass", gives=answers.OVERRIDE, listed=True)
    def get(self, request: Request, run_id: uuid.UUID) -> Response:
        """The oldest first."""
        return listed(request, queries.overrides_of(projects.run(run_id).pk), override_told)

    @operation(
        "Let a stop pass",
        gives=answers.OVERRIDE,
        takes=LetPassForm,
        example={
            "rule": "bends between draw-in points",
            "where": "route",
            "said": "5 bends between draw-in points; 4 are allowed",
            "reason": "agreed with the client’s engineer",
        },
        status=201,
        if_match=True,
    )
    @once
    def post(self, request: Request, run_id: uuid.UUID) -> Response:
        """Lets a stop of the draft pass. Needs If-Match, with the ETag of the run."""
        seen = seen_by(request)
        told = taken(LetPassForm, request)
        made = commands.let_pass(actor=actor_of(request), run_id=run_id, seen=seen, **told)
        return Response(override_told(made), status=201)


class OneOverride(APIView):
    """An override."""

    rights: ClassVar = {"DELETE": Right.OVERRIDE}

    @operation("Let a stop stand again", if_match=True)
    def delete(self, request: Request, run_id: uuid.UUID, override_id: uuid.UUID) -> Response:
        """The stop stands again. Needs If-Match, with the ETag of the run."""
        commands.stand_by(
            actor=actor_of(request), run_id=run_id, seen=seen_by(request), override_id=override_id
        )
        return Response(status=204)


class Plans(APIView):
    """All plans that a run was released with."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation("List a run’s plans", gives=answers.REVISION, listed=True)
    def get(self, request: Request, run_id: uuid.UUID) -> Response:
        """The newest first, without their figures."""
        return listed(request, queries.plans_of(projects.run(run_id).pk), revision_told)


class CompareForm(Strict):
    """Which two are asked for: revisions by number, or the draft."""

    before = serializers.RegexField(r"^(?:[0-9]{1,9}|draft)$")
    after = serializers.RegexField(r"^(?:[0-9]{1,9}|draft)$")


class Compare(APIView):
    """Two plans of a run side by side."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation("Compare two plans", gives=answers.COMPARED, query=CompareForm)
    def get(self, request: Request, run_id: uuid.UUID) -> Response:
        """Stick by stick, what differs and both sticks by the engine's contract."""
        asked = CompareForm(data=request.query_params.dict())
        asked.is_valid(raise_exception=True)
        run = projects.run(run_id)
        company = company_settings(actor_of(request).company_id)
        results = []
        for side in ("before", "after"):
            name = asked.validated_data[side]
            if name == "draft":
                plan = queries.draft_of(run, company).plan
                if plan is None:
                    raise NotFound(_("The draft of this run cannot be planned yet."))
                results.append(plan.to_dict())
            else:
                results.append(queries.plan_by_revision(run.pk, int(name)).result)
        return Response(
            {
                "sticks": [
                    {
                        "number": each.number,
                        "what": list(each.what),
                        "before": each.before,
                        "after": each.after,
                    }
                    for each in rules.difference(*results)
                ]
            }
        )


class CurrentPlan(APIView):
    """The plan that a run is made to."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation("Tell a run’s plan", gives=answers.PLAN)
    def get(self, request: Request, run_id: uuid.UUID) -> Response:
        """As released; 404 before the first release."""
        found = queries.current_plan(projects.run(run_id).pk)
        if found is None:
            raise NotFound
        return Response(plan_told(found))


def override_told(override: Override) -> dict[str, Any]:
    """What a manager let pass, as the API tells it."""
    return {
        "id": str(override.pk),
        "rule": override.rule,
        "where": override.where,
        "finding": override.finding,
        "reason": override.reason,
        "by": override.by.name,
        "made_at": override.made_at,
    }


def revision_told(plan: Plan) -> dict[str, Any]:
    """A plan of a run without its figures."""
    return {
        "id": str(plan.pk),
        "revision": plan.revision,
        "released_at": plan.released_at,
        "is_current": plan.is_current,
        "overrides": plan.overrides,
    }


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
