"""What tracking follows."""

from typing import Any

from django.dispatch import receiver
from django.utils.translation import gettext as _

from services.planning.signals import release_judged, run_released
from services.projects.models import Run
from services.tracking import commands, queries


@receiver(release_judged, dispatch_uid="tracking")
def _release_judged(sender: object, *, run: Run, **told: Any) -> str | None:
    """Not while a piece of the run has been begun: it was made to the plan that would be superseded."""
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
