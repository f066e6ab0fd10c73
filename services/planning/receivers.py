"""What planning follows."""

from typing import Any

from django.dispatch import receiver
from django.utils.translation import gettext as _

from services.company.models import Crew
from services.company.signals import crew_disbanding
from services.planning import commands, queries
from services.projects.signals import draft_deleted


@receiver(draft_deleted, dispatch_uid="planning")
def _draft_deleted(sender: object, **told: Any) -> None:
    commands.forget_overrides(actor=told["actor"], run=told["run"])


@receiver(crew_disbanding, dispatch_uid="planning")
def _crew_disbanding(sender: object, *, crew: Crew, **told: Any) -> str | None:
    """Not while it is named for runs that are not released yet."""
    labels = [run.label for run in queries.drafts_given_to(crew.pk)]
    if not labels:
        return None
    return _("named for %(runs)s, not released yet") % {"runs": ", ".join(labels)}
