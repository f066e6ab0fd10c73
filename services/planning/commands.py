"""Release of runs: the only way to a plan that is kept."""

import uuid

from django.db.models import Max
from django.utils.translation import gettext as _

import bendcore
from services.company import queries as companies
from services.company.rights import Right, require
from services.core.commands import Actor, after_commit, claim_version, command, record
from services.core.errors import CannotPlan, IllegalMove, RunHasStops
from services.planning import queries, rules
from services.planning.models import Plan, Stick, StickLine
from services.planning.signals import release_judged, run_released
from services.projects import queries as projects
from services.projects.models import Run


@command
def release_run(*, actor: Actor, run_id: uuid.UUID, seen: int, crew_id: uuid.UUID) -> Plan:
    """Releases a run to a crew: a new revision of its plan, never changed after, with its sticks.

    A stick's line (07/1, 07/2, ...) is kept from revision to revision. seen: the version that the person saw.
    Raises NotAllowed, NotFound, StaleVersion; CannotPlan while something is to measure or the engine refuses
    the run, RunHasStops where a finding says that it cannot be made as planned, each with its rows;
    IllegalMove when work on the run has begun (a receiver of `release_judged` says so).
    """
    require(actor, Right.RELEASE)
    claim_version(projects.run(run_id), seen=seen)
    run = projects.run(run_id)  # read again: what stands now is the version claimed
    crew = companies.crew(crew_id)
    company = companies.company_settings(actor.company_id)
    _require_no_objection(run)
    planned = _releasable(run, queries.draft_of(run, company))
    latest = Plan.objects.filter(run=run).aggregate(latest=Max("revision"))["latest"]
    Plan.objects.filter(run=run, is_current=True).update(is_current=False)
    plan: Plan = Plan.objects.create(
        run=run,
        revision=1 if latest is None else latest + 1,
        spec=rules.spec_of(run, company),
        result=planned.to_dict(bendcore.Units(company.units), bendcore.Dialect(company.words)),
        engine_version=rules.engine_version(),
    )
    sticks = _keep_sticks(plan, run, planned)
    run.crew = crew
    run.save(update_fields=["crew"])
    record(
        actor,
        "run released",
        run,
        plan=str(plan.pk),
        revision=plan.revision,
        crew=str(crew.pk),
        sticks=[stick.line.label for stick in sticks],
    )
    run_released.send(sender=Run, run=run, plan=plan, sticks=sticks, actor=actor)
    after_commit("papers.draw_cards", plan_id=str(plan.pk))
    return plan


def _require_no_objection(run: Run) -> None:
    reasons = [str(reason) for _receiver, reason in release_judged.send(sender=Run, run=run) if reason]
    if reasons:
        raise IllegalMove(" ".join(reasons))


def _releasable(run: Run, found: rules.Draft) -> bendcore.Plan:
    problems = rules.release_problems(found)
    if found.plan is None:
        raise CannotPlan(
            _("Run %(label)s cannot be planned yet: its rows say why.") % {"label": run.label},
            problems=problems,
        )
    if problems:
        raise RunHasStops(
            _("Run %(label)s cannot be made as planned: its rows say why.") % {"label": run.label},
            problems=problems,
        )
    return found.plan


def _keep_sticks(plan: Plan, run: Run, planned: bendcore.Plan) -> list[Stick]:
    """The plan's sticks, each on its line; lines that the run has not yet are made. Three queries, whatever
    there is."""
    lines = {line.number: line for line in StickLine.objects.filter(run=run)}
    new = [
        StickLine(run=run, number=stick.number, label=rules.stick_label(run.label, stick.number))
        for stick in planned.sticks
        if stick.number not in lines
    ]
    lines |= {line.number: line for line in StickLine.objects.bulk_create(new)}
    sticks: list[Stick] = Stick.objects.bulk_create(
        Stick(
            plan=plan,
            line=lines[stick.number],
            number=stick.number,
            cut_length_mm=stick.cut_length,
            data=stick.to_dict(),
        )
        for stick in planned.sticks
    )
    return sticks
