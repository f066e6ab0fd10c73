"""What tracking follows."""

from typing import Any, Final

from django.dispatch import receiver
from django.utils.translation import gettext as _

from services.company.models import Crew
from services.company.signals import crew_disbanding
from services.planning.signals import release_judged, run_released, sticks_released
from services.projects.models import Run
from services.projects.rules import archived
from services.tracking import commands, queries

MOST_NAMED: Final = 8
"""Pieces named one by one in a refusal; of more, the rest is counted."""


@receiver(release_judged, dispatch_uid="tracking")
def _release_judged(sender: object, *, run: Run, **told: Any) -> str | None:
    """Not in an archived job; not while a piece of the run has been begun, for it was made to the plan that
    would be superseded."""
    if run.room.project.archived_at is not None:
        return archived(run.room.project).text
    begun = queries.begun_of_run(run.pk)
    if not begun:
        return None
    return _("%(pieces)s: begun already. Take these ticks back, or make a new run for what has changed.") % {
        "pieces": ", ".join(f"{piece.line.label} ({piece.state})" for piece in begun)
    }


@receiver(run_released, dispatch_uid="tracking")
def _run_released(sender: object, **told: Any) -> None:
    commands.make_first_attempts(
        actor=told["actor"], run=told["run"], plan=told["plan"], sticks=told["sticks"]
    )


@receiver(sticks_released, dispatch_uid="tracking")
def _sticks_released(sender: object, **told: Any) -> None:
    commands.make_more_attempts(
        actor=told["actor"], run=told["run"], plan=told["plan"], sticks=told["sticks"]
    )


@receiver(crew_disbanding, dispatch_uid="tracking")
def _crew_disbanding(sender: object, *, crew: Crew, **told: Any) -> str | None:
    """Not while it has pieces to make or to fix, or sticks that wait to be released to it."""
    labels = [piece.line.label for piece in queries.left_to_crew(crew.pk)]
    labels += [stick.line.label for stick in queries.sticks_that_wait_for(crew.pk)]
    if not labels:
        return None
    few = ", ".join(labels[:MOST_NAMED])
    if len(labels) <= MOST_NAMED:
        return few
    return _("%(few)s and %(count)d more") % {"few": few, "count": len(labels) - MOST_NAMED}
