"""Reads of plans and sticks, and plans made in memory."""

import uuid
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from django.db.models import Q
from django.utils.translation import gettext as _

import bendcore
from services.company.models import Company
from services.core.errors import IllegalMove, NotFound
from services.planning import rules
from services.planning.models import Override, Plan, Stick
from services.planning.rules import Draft
from services.projects.models import Run


def draft_of(run: Run, company: Company) -> Draft:
    """The run planned as it stands; writes nothing. For a run read by `projects.queries` no query, or one
    where a rule pack has a stop: what a manager let pass of them."""
    found = rules.draft(run, company)
    if not _may_pass(found):
        return found
    return _with_passed(found, overrides_of(run.pk))


def drafts_of(runs: Iterable[Run], company: Company) -> dict[uuid.UUID, Draft]:
    """Runs planned as they stand, by run. One query, whatever there is, for runs read by
    `projects.queries`."""
    found = {run.pk: rules.draft(run, company) for run in runs}
    stopped = [run_id for run_id, draft in found.items() if _may_pass(draft)]
    passed: dict[uuid.UUID, list[Override]] = defaultdict(list)
    for each in Override.objects.select_related("by").filter(run_id__in=stopped or [NOBODY]):
        passed[each.run_id].append(each)
    return found | {run_id: _with_passed(found[run_id], passed[run_id]) for run_id in stopped}


NOBODY: Final = uuid.UUID(int=0)
"""No row's id: asked for where there is nothing to ask for, so that the number of queries is one number."""


def _may_pass(found: Draft) -> bool:
    return any(finding.may_pass for finding in found.findings)


def _with_passed(found: Draft, overrides: Iterable[Override]) -> Draft:
    passed = {(each.rule, each.where, each.finding): (each.reason, each.by.name) for each in overrides}
    return replace(
        found,
        findings=tuple(
            replace(each, passed=reason, passed_by=by)
            for each in found.findings
            for reason, by in [passed.get((each.rule, each.where, each.said), ("", ""))]
        ),
    )


def overrides_of(run_id: uuid.UUID) -> list[Override]:
    """What managers let pass on a run, each with who did. One query."""
    return list(Override.objects.select_related("by").filter(run_id=run_id))


def override(run_id: uuid.UUID, override_id: uuid.UUID) -> Override:
    """One of a run's overrides. Raises NotFound. One query."""
    found: Override | None = Override.objects.filter(run_id=run_id, pk=override_id).first()
    if found is None:
        raise NotFound(_("The run has no such override."))
    return found


def steps_of_bank(run: Run, count: int, company: Company) -> list[tuple[float | None, ...]]:
    """For each of so many conduits that lie beside a run, the nearest first, how far the mark of each bend
    stands from that of the conduit before, mm; None where the two are not alike. Empty while the bank cannot
    be planned. No query."""
    try:
        spec = rules.spec_of(run, company)
    except ValueError:
        return []
    spec["parallel"] = rules.bank_asked(run, count + 1)
    try:
        planned = bendcore.plan(spec)
    except bendcore.SpecProblem:
        return []
    if not isinstance(planned, bendcore.Bank):
        return []
    return [planned.steps(number) for number in range(2, count + 2)]


def plan_by_revision(run_id: uuid.UUID, revision: int) -> Plan:
    """One of a run's plans. Raises NotFound. One query."""
    found: Plan | None = Plan.objects.filter(run_id=run_id, revision=revision).first()
    if found is None:
        raise NotFound(_("The run has no such revision."))
    return found


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


def plans(plan_ids: Iterable[uuid.UUID]) -> list[Plan]:
    """These plans, those that there are. One query."""
    return list(Plan.objects.filter(pk__in=list(plan_ids) or [NOBODY]))


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
    again = rules.the_run_of(bendcore.plan(plan.spec))
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


def drafts_given_to(crew_id: uuid.UUID) -> list[Run]:
    """The runs not released yet that a crew is named to bend or to fix, by label; archived jobs are left out.
    One query."""
    rows = Run.objects.filter(
        Q(crew_id=crew_id) | Q(fitting_crew_id=crew_id), room__project__archived_at__isnull=True
    ).exclude(pk__in=Plan.objects.values("run_id"))
    return list(rows.order_by("label"))
