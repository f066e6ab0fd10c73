"""Reads that only screens want: what stands on the wall chart, and which causes are put down most."""

import uuid
from collections import Counter, defaultdict
from collections.abc import Mapping

from django.db.models import Count

from services.costing.models import CostEntry, EntryKind
from services.tracking import queries as tracking_queries
from services.tracking.models import Piece, State


def pieces_of_project(project_id: uuid.UUID) -> Mapping[uuid.UUID, list[Piece]]:
    """The latest pieces of each run of a job, in the order of the sticks. One query."""
    rows = (
        tracking_queries.pieces()
        .filter(line__run__room__project_id=project_id, is_latest=True)
        .exclude(state=State.WAITING)
        .order_by("line__number")
    )
    found: dict[uuid.UUID, list[Piece]] = defaultdict(list)
    for each in rows:
        found[each.line.run_id].append(each)
    return found


def causes_by_use() -> Counter[str]:
    """How often each cause was put down, counter-entries taken off. One query."""
    rows = (
        CostEntry.objects.filter(kind=EntryKind.SCRAP, counters__isnull=True, countered_by__isnull=True)
        .values_list("cause")
        .annotate(count=Count("tick", distinct=True))
        .order_by("cause")
    )
    return Counter({cause: count for cause, count in rows if cause})


def attempts_of(line_id: uuid.UUID) -> list[Piece]:
    """All attempts at a stick, the first one first. One query."""
    rows = tracking_queries.pieces().filter(line_id=line_id).exclude(state=State.WAITING)
    return list(rows.order_by("attempt"))
