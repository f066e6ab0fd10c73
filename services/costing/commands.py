"""Cost entries: posted from ticks once, put right by counter-entries only."""

import uuid
from collections import defaultdict
from collections.abc import Sequence

from services.company.models import Company
from services.core.commands import Actor, command
from services.core.scoping import current_company_id
from services.costing import queries, rules
from services.costing.causes import CAUSES
from services.costing.models import CostEntry, EntryKind
from services.stock import queries as stock_queries
from services.stock import rules as stock_rules
from services.stock.models import Movement, MovementKind, Price
from services.tracking.models import Kind
from services.tracking.rules import day_of_tick
from services.tracking.signals import Applied

_COSTS = (Kind.CUT, Kind.SCRAPPED)


@command
def post_entries(*, actor: Actor, changes: Sequence[Applied]) -> None:
    """Posts material of what was cut and scrap of what was lost, and counters what was taken back. Joins the
    ticks' command, after stock. A fixed number of queries, whatever the number of ticks."""
    told = [
        change
        for change in changes
        if any(each.kind in _COSTS for each in (change.tick, *change.undone, *change.redone))
    ]
    if told:
        _Posting(told).post()


class _Posting:
    """The entries of one batch of ticks."""

    def __init__(self, changes: Sequence[Applied]) -> None:
        self.changes = changes
        pieces = {change.piece.pk: change.piece for change in changes}
        self.company = Company.objects.get(pk=current_company_id())
        self.prices: list[Price] = stock_queries.prices_of(piece.conduit for piece in pieces.values())
        drawn = Movement.objects.filter(
            tick_id__in=[change.tick.pk for change in changes],
            kind__in=(MovementKind.DRAWN, MovementKind.OFFCUT_DRAWN),
        )
        self.drawn_mm: dict[uuid.UUID, float] = dict(drawn.values_list("tick_id", "length_mm"))
        saved = Movement.objects.filter(
            tick_id__in=[change.tick.pk for change in changes if change.tick.kind == Kind.SCRAPPED],
            kind=MovementKind.KEPT,
        )
        self.saved_mm: dict[uuid.UUID, float] = dict(saved.values_list("tick_id", "offcut__length_mm"))
        self.live: dict[uuid.UUID, list[CostEntry]] = defaultdict(list)
        for entry in queries.live_entries(pieces.keys()):
            self.live[entry.piece_id].append(entry)
        self.entries: list[CostEntry] = []
        self.sequence: dict[uuid.UUID, int] = defaultdict(int)

    def post(self) -> None:
        """Writes them."""
        for change in self.changes:
            ended, begun = stock_rules.cuts_of(change)
            if any(each.kind == Kind.SCRAPPED for each in change.undone):
                self._counter(change, of_scrap=True)
            if ended:
                self._counter(change, of_scrap=False)
            if begun is not None:
                self._material(change)
            if change.tick.kind == Kind.SCRAPPED:
                self._scrap(change)
        CostEntry.objects.bulk_create(self.entries)

    def _post(
        self,
        change: Applied,
        kind: str,
        posted: rules.Posted,
        *,
        cause: str = "",
        payer: str = "",
        counters: CostEntry | None = None,
    ) -> None:
        tick, run = change.tick, change.piece.line.run
        entry = CostEntry(
            project_id=run.room.project_id,
            run=run,
            piece=change.piece,
            tick=tick,
            kind=kind,
            sequence=self.sequence[tick.pk],
            metres=posted.metres,
            amount=posted.amount,
            is_priced=posted.is_priced,
            currency=counters.currency if counters else self.company.currency,
            cause=cause,
            payer=payer,
            day=day_of_tick(
                tick.made_at, tick.received_at, clock_suspect=tick.clock_suspect, zone=self.company.time_zone
            ),
            counters=counters,
        )
        self.sequence[tick.pk] += 1
        self.entries.append(entry)
        if counters is None:
            self.live[change.piece.pk].append(entry)

    def _counter(self, change: Applied, *, of_scrap: bool) -> None:
        own = self.live[change.piece.pk]
        for entry in [each for each in own if queries.is_of_cut(each) != of_scrap]:
            posted = rules.Posted(entry.metres, entry.amount, entry.is_priced).reversed()
            self._post(change, entry.kind, posted, cause=entry.cause, payer=entry.payer, counters=entry)
            own.remove(entry)

    def _material(self, change: Applied) -> None:
        tick = change.tick
        day = day_of_tick(
            tick.made_at, tick.received_at, clock_suspect=tick.clock_suspect, zone=self.company.time_zone
        )
        price = stock_rules.price_in_force(self.prices, change.piece.conduit, day)
        per_mm = stock_rules.price_per_mm(price) if price else None
        self._post(change, EntryKind.MATERIAL, rules.material(self.drawn_mm[tick.pk], per_mm))

    def _scrap(self, change: Applied) -> None:
        """Moves what was lost from material to scrap, and takes out of material what stock kept of it."""
        figures = change.tick.figures
        drawn = next(each for each in self.live[change.piece.pk] if queries.is_of_cut(each))
        posted = rules.Posted(drawn.metres, drawn.amount, drawn.is_priced)
        saved = self.saved_mm.get(change.tick.pk)
        lost = rules.scrapped(posted, saved or 0.0)
        if saved is not None:
            self._post(change, EntryKind.MATERIAL, rules.returned(posted, lost))
        cause = CAUSES[figures["cause"]]
        self._post(change, EntryKind.MATERIAL, lost.reversed(), cause=cause.cause, payer=cause.payer)
        self._post(change, EntryKind.SCRAP, lost, cause=cause.cause, payer=cause.payer)
