"""Release of runs, the only way to a plan that is kept, and of what a rule pack would stop."""

import uuid
from collections.abc import Sequence, Set

from django.db.models import Max
from django.utils.translation import gettext as _

import bendcore
from services.company import queries as companies
from services.company.rights import Right, require
from services.core.checks import Checks
from services.core.commands import Actor, after_commit, claim_version, command, record
from services.core.errors import CannotPlan, IllegalMove, RunHasStops
from services.planning import queries, rules
from services.planning.models import Override, Plan, Stick, StickLine
from services.planning.signals import release_judged, run_released, sticks_released
from services.projects import queries as projects
from services.projects import rules as project_rules
from services.projects.models import Run


@command
def release_run(
    *,
    actor: Actor,
    run_id: uuid.UUID,
    seen: int,
    crew_id: uuid.UUID,
    stick_numbers: Sequence[int] | None = None,
) -> Plan:
    """Releases a run to a crew: a new revision of its plan, never changed after, with its sticks.

    stick_numbers: the sticks that are to be made now; None: all. The others wait, and `release_sticks` lets
    them follow. A stick's line (07/1, 07/2, ...) is kept from revision to revision. seen: the version that
    the person saw.
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
    draft = queries.draft_of(run, company)
    planned = _releasable(run, draft)
    chosen = _chosen(stick_numbers, {stick.number for stick in planned.sticks})
    latest = Plan.objects.filter(run=run).aggregate(latest=Max("revision"))["latest"]
    Plan.objects.filter(run=run, is_current=True).update(is_current=False)
    plan: Plan = Plan.objects.create(
        run=run,
        revision=1 if latest is None else latest + 1,
        spec=rules.spec_of(run, company),
        result=planned.to_dict(bendcore.Units(company.units), bendcore.Dialect(company.words)),
        engine_version=rules.engine_version(),
        rows=rules.measured_run(run).rows,
        overrides=[
            {
                "rule": each.rule,
                "where": each.where,
                "finding": each.text,
                "reason": each.passed,
                "by": each.passed_by,
            }
            for each in draft.findings
            if each.passed
        ],
    )
    sticks = [stick for stick in _keep_sticks(plan, run, planned) if stick.number in chosen]
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


@command
def release_sticks(*, actor: Actor, run_id: uuid.UUID, revision: int, stick_numbers: Sequence[int]) -> Plan:
    """Releases more sticks of a run's plan, those that waited when it was released.

    revision: of the plan that the person saw. Raises NotAllowed, NotFound; Invalid for a stick that the plan
    has not; IllegalMove where another revision has been released since, or a stick is released already.
    """
    require(actor, Right.RELEASE)
    run = projects.run(run_id)
    plan = queries.current_plan(run_id)
    if plan is None or plan.revision != revision:
        raise IllegalMove(
            _("Run %(label)s has been released anew since. Look at it again.") % {"label": run.label}
        )
    _require_open(run)
    sticks = queries.sticks_of(plan.pk)
    chosen = _chosen(stick_numbers, {stick.number for stick in sticks})
    released = [stick for stick in sticks if stick.number in chosen]
    record(
        actor,
        "sticks released",
        run,
        plan=str(plan.pk),
        revision=plan.revision,
        sticks=[stick.line.label for stick in released],
    )
    sticks_released.send(sender=Run, run=run, plan=plan, sticks=released, actor=actor)
    return plan


@command
def let_pass(
    *, actor: Actor, run_id: uuid.UUID, seen: int, rule: str, where: str, said: str, reason: str
) -> Override:
    """Lets a stop of a rule pack pass, with a reason that the cards print; a stop of geometry never.

    rule, where, said: of the finding (`RowFinding`), as the person saw it; it holds for that sentence alone.
    Raises NotAllowed, NotFound, StaleVersion; Invalid without a reason; IllegalMove where the draft has no
    such stop.
    """
    require(actor, Right.OVERRIDE)
    claim_version(projects.run(run_id), seen=seen)
    run = projects.run(run_id)
    _require_open(run)
    checks = Checks()
    reason = checks.text("reason", reason, longest=300)
    checks.done()
    draft = queries.draft_of(run, companies.company_settings(actor.company_id))
    stops = {(each.rule, each.where, each.said) for each in draft.stops if each.may_pass}
    if (rule, where, said) not in stops:
        raise IllegalMove(
            _("Run %(label)s has no such stop that may be let pass. Look at it again.") % {"label": run.label}
        )
    Override.objects.filter(run=run, rule=rule, where=where).delete()
    made: Override = Override.objects.create(
        run=run, rule=rule, where=where, finding=said, reason=reason, by_id=actor.person_id
    )
    record(actor, "stop let pass", run, rule=rule, where=where, finding=said, reason=reason)
    return made


@command
def stand_by(*, actor: Actor, run_id: uuid.UUID, seen: int, override_id: uuid.UUID) -> None:
    """Takes an override back: the stop stands again, for the next release. Raises NotAllowed, NotFound,
    StaleVersion."""
    require(actor, Right.OVERRIDE)
    claim_version(projects.run(run_id), seen=seen)
    found = queries.override(run_id, override_id)
    run = projects.run(run_id)
    found.delete()
    record(actor, "stop stands again", run, rule=found.rule, where=found.where)


@command
def forget_overrides(*, actor: Actor, run: Run) -> None:
    """Deletes what was let pass on a run that is deleted itself."""
    gone = Override.objects.filter(run=run)
    record(actor, "overrides deleted", run, rules=[each.rule for each in gone])
    gone.delete()


def _require_open(run: Run) -> None:
    project_rules.require_open(run.room.project)


def _chosen(numbers: Sequence[int] | None, there: Set[int]) -> Set[int]:
    """The sticks asked for. Raises Invalid for one that is not there, and for none."""
    if numbers is None:
        return there
    checks = Checks()
    for number in numbers:
        if number not in there:
            checks.refuse("sticks", _("has %(number)s, which is no stick of this run") % {"number": number})
    if not numbers:
        checks.refuse("sticks", _("is empty; choose one stick at least"))
    checks.done()
    return set(numbers)


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
