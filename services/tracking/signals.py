"""What tracking asks and tells those after it, inside the transaction of the ticks."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from django.dispatch import Signal

from services.tracking.models import Piece, Tick


@dataclass(frozen=True, slots=True)
class Applied:
    """A tick that took effect, and what else changed by it.

    undone: entries whose effect it ends: those that it takes back, or the implied one whose place it takes.
    redone: the implied entry that counts again, when the one in its place is taken back.
    """

    tick: Tick
    piece: Piece
    undone: tuple[Tick, ...] = ()
    redone: tuple[Tick, ...] = ()


@dataclass(slots=True)
class Batch:
    """The ticks that are received together, for who judges them.

    pieces: all that they may be of.  figures: of each that may be applied, the held ones of these pieces
    among them. applied: so far.  kept: a receiver's own notes, so that it asks the database once a batch and
    not once a tick.
    """

    pieces: Sequence[Piece]
    figures: Sequence[Mapping[str, Any]]
    applied: list[Applied] = field(default_factory=list)
    kept: dict[str, Any] = field(default_factory=dict)


ticks_applied = Signal()
"""Sent once a batch with actor, ticks (applied, in the order in which they took effect, each with its piece)
and changes (for each of them an Applied)."""

tick_judged = Signal()
"""Sent with tick, piece, undone (as in Applied) and batch before a tick is applied; a receiver may return a
`rules.Reason` to hold it."""
