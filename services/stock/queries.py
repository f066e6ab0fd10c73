"""Reads of stock: all from movements."""

import uuid
from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Q, QuerySet, Sum

from services.stock import rules
from services.stock.models import Movement, MovementKind, Offcut, Price
from services.tracking.models import Kind, Tick
from services.tracking.queries import Difference, history


@dataclass(frozen=True, slots=True)
class OnHand:
    """What there is of a conduit. lengths: full ones; below 0 where more was cut than was ever told to have
    come."""

    conduit: str
    lengths: int
    offcuts: int
    offcut_mm: float


def on_hand() -> list[OnHand]:
    """Full lengths (the sum of their movements) and offcuts of each conduit, by its id. Two queries."""
    lengths = dict(Movement.objects.order_by().values_list("conduit").annotate(Sum("lengths")))
    kept: dict[str, list[float]] = defaultdict(list)
    for each in offcuts():
        kept[each.conduit].append(each.length_mm)
    return [
        OnHand(conduit, lengths.get(conduit, 0), len(kept[conduit]), sum(kept[conduit]))
        for conduit in sorted(lengths.keys() | kept.keys())
    ]


def offcuts() -> list[Offcut]:
    """The offcuts on hand, by conduit and length. One query."""
    return list(Offcut.objects.filter(is_on_hand=True))


def movements(conduit: str) -> list[Movement]:
    """The movements of a conduit, oldest first, with offcut, piece and tick. One query."""
    return list(
        Movement.objects.filter(conduit=conduit)
        .select_related("offcut", "piece__line", "tick__person")
        .order_by("at", "tick__number", "sequence")
    )


def prices_of(conduits: Iterable[str]) -> list[Price]:
    """All price rows of these conduits. One query."""
    return list(Price.objects.filter(conduit__in=set(conduits)))


def prices() -> list[Price]:
    """All price rows, the newest of each conduit first. One query."""
    return list(Price.objects.all())


def price_on(conduit: str, day: date) -> Price | None:
    """The price in force on that day; None if there was none. One query."""
    return rules.price_in_force(prices_of([conduit]), conduit, day)


def live_movements(piece_ids: Collection[uuid.UUID]) -> QuerySet[Movement]:
    """Movements of these pieces that were not countered and counter none."""
    rows: QuerySet[Movement] = Movement.objects.filter(
        piece_id__in=piece_ids, counters__isnull=True, countered_by__isnull=True
    )
    return rows.select_related("offcut", "tick").order_by("tick__number", "sequence")


def saved_offcuts(piece_ids: Collection[uuid.UUID]) -> dict[uuid.UUID, Offcut]:
    """The offcut that was saved of each of these pieces when scrapped, by the piece's id. One query."""
    rows = live_movements(piece_ids).filter(kind=MovementKind.KEPT, tick__kind=Kind.SCRAPPED)
    return {each.piece_id: each.offcut for each in rows if each.piece_id and each.offcut}


def ids_of_saved(offcuts: Iterable[Offcut]) -> set[uuid.UUID]:
    """Which of these offcuts were saved of scrapped pieces: the others are rests of cuts. One query."""
    rows = Movement.objects.filter(kind=MovementKind.KEPT, tick__kind=Kind.SCRAPPED, offcut__in=list(offcuts))
    return {each for each in rows.order_by().values_list("offcut_id", flat=True) if each is not None}


def compare_projections() -> list[Difference]:
    """Where offcuts differ from their movements, or the movements from the ledger's cuts and scraps.

    What is saved and shorter than the least offcut of its day is not kept, and that may have been another
    than today's: so nothing kept is no difference here; what is kept has the length that the scrap tells.
    Five queries.
    """
    sums = dict(
        Movement.objects.filter(offcut__isnull=False)
        .order_by()
        .values_list("offcut")
        .annotate(Sum("offcuts"))
    )
    found = [
        Difference(f"offcut {each.label} is_on_hand", str(each.is_on_hand), str(sums.get(each.pk, 0)))
        for each in Offcut.objects.all()
        if int(each.is_on_hand) != sums.get(each.pk, 0)
    ]
    of_piece: dict[uuid.UUID, list[Tick]] = defaultdict(list)
    for row in Tick.objects.order_by("number"):
        of_piece[row.piece_id].append(row)
    drawn: dict[uuid.UUID, list[str]] = defaultdict(list)
    source = Q(kind__in=(MovementKind.DRAWN, MovementKind.OFFCUT_DRAWN))
    for each in live_movements(of_piece.keys()).filter(source):
        if each.piece_id is not None:
            drawn[each.piece_id].append(each.offcut.label if each.offcut else "full length")
    saved = saved_offcuts(of_piece.keys())
    for piece_id, rows in of_piece.items():
        standing = history(rows).standing
        cut = [entry for entry in standing if entry.kind == Kind.CUT]
        told = [str(entry.figures.get("offcut") or "full length") for entry in cut]
        if drawn[piece_id] != told:
            found.append(Difference(f"piece {piece_id} drawn from", str(drawn[piece_id]), str(told)))
        scraps = [entry.figures.get("saved_mm", 0.0) for entry in standing if entry.kind == Kind.SCRAPPED]
        if piece_id in saved and [saved[piece_id].length_mm] != scraps:
            found.append(Difference(f"piece {piece_id} saved", str([saved[piece_id].length_mm]), str(scraps)))
    return found
