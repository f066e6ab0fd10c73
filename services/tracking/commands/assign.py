"""Giving stages of work to crews: of whole runs, and of single sticks."""

import uuid
from collections.abc import Collection, Iterable, Mapping
from typing import Final

from django.utils.translation import gettext as _

from services.company import queries as companies
from services.company.rights import Right, require
from services.core import words
from services.core.checks import Checks
from services.core.commands import Actor, command, record
from services.core.errors import IllegalMove, NotFound
from services.projects import commands as projects
from services.projects import rules as project_rules
from services.projects.models import Run
from services.tracking import queries, rules
from services.tracking.commands.ledger import Ledger
from services.tracking.commands.ticks import at_office
from services.tracking.models import Piece

BOTH: Final = "both"
"""Of the stages: bench and fitting."""


@command
def assign(
    *,
    actor: Actor,
    stage: str,
    crew_id: uuid.UUID,
    runs: Mapping[uuid.UUID, int],
    piece_ids: Collection[uuid.UUID] = (),
) -> int:
    """Gives a stage of runs, and of single sticks, to a crew; returns how many ticks that took.

    stage: `bench`, `fitting` or `both`.  runs: each with the version that the person saw; a draft is given in
    advance.  piece_ids: latest attempts, whose stage then is that crew's whoever has the rest of the run.
    Each piece that changes hands gets an `assigned` tick for each stage, so that the ledger says who had it;
    what is fixed in place or lost keeps its crew. All are given, or none.
    Raises NotAllowed, NotFound, StaleVersion, Invalid; IllegalMove where a stick has nothing left to give, or
    its project is archived. The number of queries does not depend on how many there are.
    """
    require(actor, Right.RELEASE)
    checks = Checks()
    stage = checks.choice("stage", stage, (*rules.STAGES, BOTH))
    project_rules.check_how_many(checks, "runs", len(runs) + len(piece_ids))
    checks.done()
    stages = rules.STAGES if stage == BOTH else (stage,)
    crew = companies.crew(crew_id)
    ledger = Ledger(at_office(actor))  # first: what is read after it, nobody else changes
    before: list[Run] = []
    if runs:
        before = projects.give_runs(
            actor=actor, runs=runs, crew_id=crew.pk,
            to_bend=rules.BENCH in stages, to_fit=rules.FITTING in stages,
        )  # fmt: skip
    of_runs = queries.latest_pieces_of(runs)
    chosen = queries.pieces_by_id(piece_ids)
    _require_all(chosen, piece_ids)
    ledger.load({piece.line_id for piece in (*of_runs, *chosen)})
    ledger.expect([])
    _require_something_left(ledger, chosen)
    had = {run.pk: run for run in before}
    ticks = 0
    for piece in of_runs:
        run, life = had[piece.line.run_id], ledger.life(piece)
        if life.state not in rules.GIVEN_IN:
            continue
        held = rules.crews_of(
            life.crew_id, life.fitting_crew_id, run_bench=run.crew_id, run_fitting=run.fitting_crew_id
        )
        for each in stages:
            if held.of(each) != crew.pk:
                ledger.give(ledger.pieces[piece.pk], each, crew.pk)
                ticks += 1
    for piece in chosen:
        for each in stages:
            life = ledger.life(piece)
            own = life.crew_id if each == rules.BENCH else life.fitting_crew_id
            if own != crew.pk:
                ledger.give(ledger.pieces[piece.pk], each, crew.pk)
                ticks += 1
    ledger.close()
    record(
        actor, "work given", crew, stages=list(stages), ticks=ticks,
        runs=[str(run_id) for run_id in runs], sticks=[piece.line.label for piece in chosen],
    )  # fmt: skip
    return ticks


def _require_all(chosen: Collection[Piece], piece_ids: Collection[uuid.UUID]) -> None:
    """Raises NotFound where one is missing, IllegalMove for one that is no latest attempt or is archived."""
    if len(chosen) != len(set(piece_ids)):
        raise NotFound(_("One of these sticks is not there any more."))
    old = [piece.line.label for piece in chosen if not piece.is_latest]
    if old:
        raise IllegalMove(
            _("%(sticks)s: a later attempt took its place. Nothing was given; look again, then choose.")
            % {"sticks": ", ".join(old)}
        )
    projects_of = {piece.line.run.room.project_id: piece.line.run.room.project for piece in chosen}
    for project in projects_of.values():
        project_rules.require_open(project)


def _require_something_left(ledger: Ledger, chosen: Iterable[Piece]) -> None:
    done = [
        f"{piece.line.label} ({words.state(state, ledger.dialect)})"
        for piece in chosen
        if (state := ledger.life(piece).state) not in rules.GIVEN_IN
    ]
    if done:
        raise IllegalMove(
            _("%(sticks)s: nothing is left to give. Nothing was given.") % {"sticks": ", ".join(done)}
        )
