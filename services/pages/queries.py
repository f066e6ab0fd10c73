"""Reads that only screens want: what stands on the wall chart, and which causes are put down most."""

import hashlib
import uuid
from collections import Counter, defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any, Final

from django.db.models import Count, Sum

from services.bench.models import Bender, Former
from services.company.models import Company, Crew
from services.costing.models import CostEntry, EntryKind
from services.planning.models import Stick
from services.planning.queries import NOBODY
from services.projects.models import Project, Room, Run
from services.tracking import queries as tracking_queries
from services.tracking.models import Piece, State


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


# ------------------------------------------------------------------------------------------- the wall chart


@dataclass(frozen=True, slots=True)
class RunFacts:
    """What the wall chart wants of every run, drawn or not. made_from: the versions of all that its draft is
    made from, and its plan."""

    pk: uuid.UUID
    label: str
    room_id: uuid.UUID
    version: int
    from_place: str
    to_place: str
    conduit: str
    crew_id: uuid.UUID | None
    fitting_crew_id: uuid.UUID | None
    due_on: date | None
    priority: int
    plan_id: uuid.UUID | None
    made_from: tuple[Any, ...]


_FACTS: Final = (
    "pk", "label", "room_id", "version", "from_place", "to_place", "former__conduit", "crew_id",
    "fitting_crew_id", "due_on", "priority",
)  # fmt: skip
_MADE_FROM: Final = (
    "former__version", "former__bender__version", "beside__version", "beside__former__version",
    "beside__former__bender__version", "follows__version",
)  # fmt: skip
"""Which former a run is bent on, and what it lies beside or follows, is said by its own version."""


def run_facts(project_id: uuid.UUID, plans: Mapping[uuid.UUID, "PlanFacts"]) -> list[RunFacts]:
    """All runs of a job, room after room, by label. plans: in force, by run. One query."""
    rows = (
        Run.objects.filter(room__project_id=project_id)
        .order_by("room__place", "room__name", "label")
        .values_list(*_FACTS, *_MADE_FROM)
    )
    known = len(_FACTS)
    facts = []
    row: tuple[Any, ...]
    for row in rows:
        plan = plans.get(row[0])
        plan_id = plan.pk if plan else None
        made_from = (row[0], row[3], plan_id, *row[known:])
        told: Any = (*row[:known], plan_id, made_from)  # columns, which nothing types
        facts.append(RunFacts(*told))
    return facts


@dataclass(frozen=True, slots=True)
class PieceGroup:
    """Latest pieces of one run that are in one state and given to the same crews."""

    state: str
    crew_id: uuid.UUID | None
    fitting_crew_id: uuid.UUID | None
    count: int
    length_mm: float


def piece_groups(project_id: uuid.UUID) -> Mapping[uuid.UUID, list[PieceGroup]]:
    """The latest pieces of a job by run, in groups. One query."""
    rows = (
        Piece.objects.filter(line__run__room__project_id=project_id, is_latest=True)
        .exclude(state=State.WAITING)
        .order_by()
        .values_list("line__run_id", "state", "crew_id", "fitting_crew_id")
        .annotate(count=Count("pk"), length=Sum("stick__cut_length_mm"))
    )
    found: dict[uuid.UUID, list[PieceGroup]] = defaultdict(list)
    for run_id, *group in rows:
        found[run_id].append(PieceGroup(*group))
    return found


@dataclass(frozen=True, slots=True)
class PlanFacts:
    """The plan in force of a run: how many sticks it has, and how many mm of them."""

    pk: uuid.UUID
    sticks: int
    length_mm: float


def plans_in_force(project_id: uuid.UUID) -> dict[uuid.UUID, PlanFacts]:
    """The plans in force of a job, by run. One query."""
    rows = (
        Stick.objects.filter(plan__run__room__project_id=project_id, plan__is_current=True)
        .order_by()
        .values_list("plan__run_id", "plan_id")
        .annotate(count=Count("pk"), length=Sum("cut_length_mm"))
    )
    return {run_id: PlanFacts(*plan) for run_id, *plan in rows}


def pieces_of_runs(run_ids: Collection[uuid.UUID]) -> Mapping[uuid.UUID, list[Piece]]:
    """The latest pieces of these runs by run, in the order of the sticks, each with its line and stick. One
    query."""
    rows = (
        Piece.objects.select_related("line", "stick")
        .filter(line__run_id__in=list(run_ids) or [NOBODY], is_latest=True)
        .exclude(state=State.WAITING)
        .order_by("line__number")
    )
    found: dict[uuid.UUID, list[Piece]] = defaultdict(list)
    for each in rows:
        found[each.line.run_id].append(each)
    return found


def sticks_of_plans(plan_ids: Collection[uuid.UUID]) -> Mapping[uuid.UUID, list[Stick]]:
    """The sticks of these plans by run, from start to finish, each with its line. One query."""
    rows = Stick.objects.select_related("line").filter(plan_id__in=list(plan_ids) or [NOBODY])
    found: dict[uuid.UUID, list[Stick]] = defaultdict(list)
    for each in rows.order_by("number"):
        found[each.line.run_id].append(each)
    return found


def chart_version(project: Project, company: Company, today: date) -> str:
    """A text that is another whenever the chart of a job would be: counts and sums of versions, and the
    ledger's next number. Five queries, whose cost does not hang on how much was ticked.

    Every change of a row counts its version up, and a deleted row counts up the version of what held it; so
    no two states have one text.
    """
    rooms = Room.objects.filter(project=project).aggregate(count=Count("pk"), sum=Sum("version"))
    runs = Run.objects.filter(room__project=project).aggregate(count=Count("pk"), sum=Sum("version"))
    formers = Former.objects.aggregate(count=Count("pk"), sum=Sum("version"))
    benders = Bender.objects.aggregate(count=Count("pk"), sum=Sum("version"))
    told = (
        project.pk, project.version, rooms, runs, formers, benders,
        list(Crew.objects.values_list("pk", "name")), company.next_ledger_number, today,
        [getattr(company, each.attname) for each in company._meta.concrete_fields],
    )  # fmt: skip
    return hashlib.sha256(repr(told).encode()).hexdigest()[:32]
