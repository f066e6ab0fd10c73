"""The way back from the ledger to everything that is kept of it."""

import uuid
from collections import defaultdict

from services.company.models import Company
from services.company.rights import Right, require
from services.core.commands import Actor, command, record
from services.planning.models import Stick
from services.tracking import queries
from services.tracking.commands.ledger import PROJECTED, set_latest
from services.tracking.models import HeldTick, Piece, Tick


@command
def rebuild(*, actor: Actor) -> int:
    """Makes every piece's state and every held tick anew from the ledger; returns how many pieces were put
    right.

    Raises NotAllowed; rules.Illegal if the ledger itself is broken, and nothing is changed then.
    """
    require(actor, Right.SETTINGS)
    company = Company.objects.select_for_update(of=("self",)).get(pk=actor.company_id)
    rows = list(Tick.objects.order_by("number"))
    of_piece: dict[uuid.UUID, list[Tick]] = defaultdict(list)
    for row in rows:
        of_piece[row.piece_id].append(row)
    sticks = {
        (stick.line_id, stick.plan_id): stick.pk for stick in Stick.objects.only("line_id", "plan_id").all()
    }
    lines: dict[uuid.UUID, dict[int, Piece]] = defaultdict(dict)
    changed: list[Piece] = []
    for piece in Piece.objects.all():
        lines[piece.line_id][piece.attempt] = piece
        told = queries.projection(of_piece[piece.pk])
        plan_id = told.pop("plan_id")
        if told["changed_at"] is None:
            told["changed_at"] = piece.changed_at
        if plan_id is not None:
            told["stick_id"] = sticks[piece.line_id, plan_id]
        if any(getattr(piece, name) != value for name, value in told.items()):
            for name, value in told.items():
                setattr(piece, name, value)
            changed.append(piece)
    if changed:
        Piece.objects.bulk_update(changed, PROJECTED, batch_size=500)
    set_latest(lines.values())
    HeldTick.objects.all().delete()
    HeldTick.objects.bulk_create(
        (
            HeldTick(tick_id=tick_id, piece_id=piece_id, reason=reason, settled_at=at, settled_as=as_)
            for tick_id, (piece_id, reason, at, as_) in queries.held_projection(rows).items()
        ),
        batch_size=500,
    )
    record(actor, "projections rebuilt", company, entries=len(rows), put_right=len(changed))
    return len(changed)
