"""Reads of plans and sticks, and plans made in memory."""

import uuid

from django.utils.translation import gettext as _

import bendcore
from services.company.models import Company
from services.core.errors import IllegalMove, NotFound
from services.planning import rules
from services.planning.models import Plan, Stick
from services.planning.rules import Draft
from services.projects.models import Run


def draft_of(run: Run, company: Company) -> Draft:
    """The run planned as it stands; writes nothing. No query for a run read by `projects.queries`."""
    return rules.draft(run, company)


def current_plan(run_id: uuid.UUID) -> Plan | None:
    """The run's released plan; None before its first release. One query."""
    found: Plan | None = Plan.objects.filter(run_id=run_id, is_current=True).first()
    return found


def plan(plan_id: uuid.UUID) -> Plan:
    """One plan with its run, room, project, former, bender and crew. Raises NotFound. One query."""
    found: Plan | None = (
        Plan.objects.select_related("run__room__project", "run__former__bender", "run__crew")
        .filter(pk=plan_id)
        .first()
    )
    if found is None:
        raise NotFound(_("There is no such plan."))
    return found


def plans_of(run_id: uuid.UUID) -> list[Plan]:
    """All plans that a run was released with, the newest first. One query."""
    return list(Plan.objects.filter(run_id=run_id).order_by("-revision"))


def sticks_of(plan_id: uuid.UUID) -> list[Stick]:
    """A plan's sticks from start to finish, each with its line. One query."""
    return list(Stick.objects.select_related("line").filter(plan_id=plan_id).order_by("number"))


def stick(stick_id: uuid.UUID) -> Stick:
    """One stick with its line and plan. Raises NotFound. One query."""
    found: Stick | None = Stick.objects.select_related("line", "plan").filter(pk=stick_id).first()
    if found is None:
        raise NotFound(_("There is no such stick."))
    return found


def engine_plan(plan: Plan) -> bendcore.Plan:
    """The plan as the engine's value, for drawings: planned again from the kept spec. No query.

    Raises IllegalMove where the present engine plans it otherwise than the one that the run was released
    with: a drawing that differs from the marks that are worked to would mislead.
    """
    again = bendcore.plan(plan.spec)
    if not isinstance(again, bendcore.Plan):  # pragma: no cover - our specs ask for no bank
        raise TypeError("one conduit was asked for")
    told = again.to_dict()
    if not all(rules.agrees(plan.result[part], told[part]) for part in ("developed_length", "sticks")):
        raise IllegalMove(
            _(
                "This plan was made by another version of the engine (%(then)s), and the present one "
                "(%(now)s) gives other figures. Its figures stand; it can be drawn once the run is released "
                "again."
            )
            % {"then": plan.engine_version, "now": rules.engine_version()}
        )
    return again
