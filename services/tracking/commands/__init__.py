"""Changes of pieces and of the ledger."""

from services.tracking.commands.assign import assign
from services.tracking.commands.rebuild import rebuild
from services.tracking.commands.release import make_first_attempts, make_more_attempts
from services.tracking.commands.ticks import discard_held, record_ticks, take_back, tick_from_office

__all__ = [
    "assign",
    "discard_held",
    "make_first_attempts",
    "make_more_attempts",
    "rebuild",
    "record_ticks",
    "take_back",
    "tick_from_office",
]
