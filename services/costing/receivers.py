"""What costing follows, after stock."""

from typing import Any

from django.dispatch import receiver
from django.utils.translation import gettext as _

from services.costing import commands
from services.costing.causes import CAUSES
from services.tracking.models import Kind, Tick
from services.tracking.rules import Reason
from services.tracking.signals import tick_judged, ticks_applied


@receiver(ticks_applied, dispatch_uid="costing")
def _ticks_applied(sender: object, **told: Any) -> None:
    commands.post_entries(actor=told["actor"], changes=told["changes"])


@receiver(tick_judged, dispatch_uid="costing")
def _tick_judged(sender: object, **told: Any) -> Reason | None:
    """Holds scrap of a cause that is not known: two spellings would be two causes in every review."""
    tick: Tick = told["tick"]
    if tick.kind == Kind.SCRAPPED and tick.figures["cause"] not in CAUSES:
        return Reason(
            "cause-not-known",
            _("“%(cause)s” is not a known cause; choose one of the list.") % {"cause": tick.figures["cause"]},
        )
    return None
