"""Reads for the review: metres and money of material and scrap, from a job down to a tick.

Money is for those who may see it (`Right.SEE_MONEY`); whoever shows these asks that first.
"""

import uuid
from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Case, IntegerField, Q, Sum, Value, When
from django.db.models.functions import Coalesce
from django.utils.translation import gettext as _

from services.core.errors import NotFound
from services.costing.causes import CAUSES
from services.costing.models import CostEntry, EntryKind
from services.costing.rules import Share, metres_of
from services.projects.models import Project
from services.stock import queries as stock_queries
from services.tracking.models import Kind, Tick
from services.tracking.queries import Difference, history

_ZERO = Decimal(0)
_CUT = Q(kind=EntryKind.MATERIAL, cause="")
_SCRAP = Q(kind=EntryKind.SCRAP)


def _sum(column: str, which: Q) -> Any:
    return Coalesce(Sum(column, filter=which), Value(_ZERO))


def _pieces(which: Q) -> Any:
    """How many pieces: entries of the kind less those countered. What went back to stock is below 0, and is
    no piece."""
    once = Case(
        When(counters__isnull=True, metres__gt=0, then=1),
        When(counters__isnull=False, metres__lt=0, then=-1),
        default=0,
        output_field=IntegerField(),
    )
    return Coalesce(Sum(once, filter=which), 0)


_FIGURES = {
    "drawn_m": _sum("metres", _CUT),
    "drawn_amount": _sum("amount", _CUT),
    "scrap_m": _sum("metres", _SCRAP),
    "scrap_amount": _sum("amount", _SCRAP),
    "cut_pieces": _pieces(_CUT),
    "scrapped_pieces": _pieces(_SCRAP),
    "unpriced_pieces": _pieces(_CUT & Q(is_priced=False)),
}


@dataclass(frozen=True, slots=True)
class Figures:
    """What was drawn, less what went back to stock, and what was scrapped of it.

    unpriced_pieces: cut while no price was in force; their money is missing in the amounts, and the review
    says so.
    """

    currency: str
    drawn_m: Decimal
    drawn_amount: Decimal
    scrap_m: Decimal
    scrap_amount: Decimal
    cut_pieces: int
    scrapped_pieces: int
    unpriced_pieces: int

    @property
    def share(self) -> Share:
        """Scrap metres of metres drawn."""
        return Share(self.scrap_m, self.drawn_m, "m")

    @property
    def share_of_money(self) -> Share:
        """Scrap money of material money drawn."""
        return Share(self.scrap_amount, self.drawn_amount, self.currency)

    @property
    def share_of_pieces(self) -> Share:
        """Pieces scrapped of pieces cut."""
        return Share(Decimal(self.scrapped_pieces), Decimal(self.cut_pieces), "pieces")


@dataclass(frozen=True, slots=True)
class ProjectScrap(Figures):
    """One job in the review."""

    project_id: uuid.UUID
    code: str
    name: str


@dataclass(frozen=True, slots=True)
class RunScrap(Figures):
    """One run of a job."""

    run_id: uuid.UUID
    label: str
    room: str


@dataclass(frozen=True, slots=True)
class CauseScrap:
    """What one cause took of a job. share: of the job's scrap metres."""

    cause: str
    stage: str
    payer: str
    currency: str
    scrap_m: Decimal
    scrap_amount: Decimal
    scrapped_pieces: int
    share: Share


@dataclass(frozen=True, slots=True)
class JobReview:
    """A job by run and by cause, the dearest first. Figures are by currency, should the company have changed
    it."""

    project: Project
    runs: list[RunScrap]
    causes: list[CauseScrap]


def scrap_by_project() -> list[ProjectScrap]:
    """Every job that drew material, the one that lost most money first. One query."""
    rows: Any = (
        CostEntry.objects.order_by()
        .values("currency", "project_id", "project__code", "project__name")
        .annotate(**_FIGURES)
        .order_by("-scrap_amount", "-scrap_m", "project__code")
    )
    return [ProjectScrap(code=row.pop("project__code"), name=row.pop("project__name"), **row) for row in rows]


def job(project_id: uuid.UUID) -> JobReview:
    """One job by run and by cause. Three queries. Raises NotFound."""
    project: Project | None = Project.objects.filter(pk=project_id).first()
    if project is None:
        raise NotFound(_("There is no such job."))
    entries: Any = CostEntry.objects.filter(project_id=project_id).order_by()
    by_run: Any = (
        entries.values("currency", "run_id", "run__label", "run__room__name")
        .annotate(**_FIGURES)
        .order_by("-scrap_amount", "-scrap_m", "run__room__name", "run__label")
    )
    by_cause: Any = (
        entries.filter(_SCRAP)
        .values("currency", "cause", "payer")
        .annotate(
            scrap_m=_FIGURES["scrap_m"],
            scrap_amount=_FIGURES["scrap_amount"],
            scrapped_pieces=_FIGURES["scrapped_pieces"],
        )
        .filter(scrapped_pieces__gt=0)
        .order_by("-scrap_amount", "-scrap_m", "cause")
    )
    runs = [RunScrap(label=row.pop("run__label"), room=row.pop("run__room__name"), **row) for row in by_run]
    whole = sum((row.scrap_m for row in runs), _ZERO)
    told = [
        CauseScrap(
            stage=CAUSES[row["cause"]].stage if row["cause"] in CAUSES else "",
            share=Share(row["scrap_m"], whole, "m"),
            **row,
        )
        for row in by_cause
    ]
    return JobReview(project, runs, told)


def entries_of(
    project_id: uuid.UUID, kind: str, run_id: uuid.UUID | None = None, cause: str | None = None
) -> list[CostEntry]:
    """The entries behind a figure, in the order of the ledger, each with its run, piece, line and tick. One
    query.

    kind: material or scrap.  They add up to the figure: countered ones are there with what counters them.
    For the material that was drawn, take `cause=""`.
    """
    rows = CostEntry.objects.filter(project_id=project_id, kind=kind)
    if run_id is not None:
        rows = rows.filter(run_id=run_id)
    if cause is not None:
        rows = rows.filter(cause=cause)
    return list(
        rows.select_related("run__room", "piece__line", "tick__person", "counters__tick").defer("run__rows")
    )


def live_entries(piece_ids: Collection[uuid.UUID]) -> list[CostEntry]:
    """The entries of these pieces that were not countered and counter none. One query."""
    return list(
        CostEntry.objects.filter(piece_id__in=piece_ids, counters__isnull=True, countered_by__isnull=True)
    )


def is_of_cut(entry: CostEntry) -> bool:
    """Whether an entry that counters none is a cut's: those of a scrap have a cause, or are below 0."""
    return not entry.cause and entry.metres > 0


def compare_with_ledger() -> list[Difference]:
    """Where entries differ from what the ledger has standing: a cut is posted once, a scrap once, and
    with it what stock kept. Three queries."""
    of_piece: dict[uuid.UUID, list[Tick]] = defaultdict(list)
    for row in Tick.objects.order_by("number"):
        of_piece[row.piece_id].append(row)
    live: dict[uuid.UUID, list[str]] = defaultdict(list)
    for each in live_entries(of_piece.keys()):
        if each.cause:
            live[each.piece_id].append(f"{each.kind} {each.cause}")
        else:
            live[each.piece_id].append("cut" if is_of_cut(each) else f"saved {-each.metres}")
    saved = stock_queries.saved_offcuts(of_piece.keys())
    found = []
    for piece_id, rows in of_piece.items():
        told: list[str] = []
        for entry in history(rows).standing:
            if entry.kind == Kind.CUT:
                told.append("cut")
            elif entry.kind == Kind.SCRAPPED:
                told += [f"{kind} {entry.figures['cause']}" for kind in (EntryKind.MATERIAL, EntryKind.SCRAP)]
                told += [f"saved {metres_of(saved[piece_id].length_mm)}"] if piece_id in saved else []
        if sorted(live[piece_id]) != sorted(told):
            found.append(
                Difference(f"piece {piece_id} entries", str(sorted(live[piece_id])), str(sorted(told)))
            )
    return found
