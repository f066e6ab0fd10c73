"""Changes of stock and of prices."""

import uuid
from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from decimal import Decimal, InvalidOperation
from typing import Any, Final

from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext as _

from bendcore import catalogue
from services.company.models import Company
from services.company.rights import Right, require
from services.core.checks import Checks
from services.core.commands import Actor, command, record
from services.core.scoping import current_company_id
from services.stock import queries, rules
from services.stock.models import Movement, MovementKind, Offcut, Price
from services.tracking.models import Piece, Tick
from services.tracking.rules import FULL_LENGTH, LONGEST_MM, day_of_tick
from services.tracking.signals import Applied

MOST_LENGTHS: Final = 100_000
HIGHEST_PRICE: Final = Decimal("99999999.99")


@command
def set_price(*, actor: Actor, conduit: str, full_length_mm: float, price: Decimal, from_day: date) -> Price:
    """What a full length of a conduit costs from a day on. A second price of the same day puts the first
    right.

    Late rows repost nothing: what was cut before is posted at the price that was known then.
    Raises NotAllowed, Invalid.
    """
    require(actor, Right.PRICES)
    checks = Checks()
    conduit = checks.choice("conduit", conduit, catalogue.conduit_ids())
    length = checks.number("full_length_mm", full_length_mm, unit="mm", above=0.0, at_most=LONGEST_MM)
    money = _money(checks, price)
    day: object = from_day
    if not isinstance(day, date) or not 2000 <= from_day.year <= 2100:
        checks.refuse("from_day", _("is not a day between 2000 and 2100"))
    checks.done()
    before: Price | None = Price.objects.filter(conduit=conduit, from_day=from_day).first()
    row, _made = Price.objects.update_or_create(
        conduit=conduit, from_day=from_day, defaults={"price": money, "full_length_mm": length}
    )
    record(
        actor,
        "price set",
        row,
        conduit=conduit,
        from_day=from_day.isoformat(),
        price=str(money),
        full_length_mm=length,
        before=str(before.price) if before else None,
    )
    found: Price = row
    return found


def _money(checks: Checks, value: object) -> Decimal:
    try:
        money = Decimal(str(value))
    except InvalidOperation:
        money = Decimal("NaN")
    exact = money.is_finite() and 0 <= money <= HIGHEST_PRICE and money == money.quantize(Decimal("0.01"))
    if not exact:
        checks.refuse(
            "price",
            _("is not an amount of money from 0 to %(most)s with at most two decimals")
            % {"most": HIGHEST_PRICE},
            "out-of-range",
        )
    return money


@command
def receive(*, actor: Actor, conduit: str, lengths: int) -> Movement:
    """Full lengths came into the store. Raises NotAllowed, Invalid."""
    require(actor, Right.STOCK)
    checks = Checks()
    conduit = checks.choice("conduit", conduit, catalogue.conduit_ids())
    whole: object = lengths
    if not isinstance(whole, int) or isinstance(whole, bool) or not 1 <= whole <= MOST_LENGTHS:
        checks.refuse(
            "lengths", _("is not a whole number from 1 to %(most)d") % {"most": MOST_LENGTHS}, "out-of-range"
        )
    checks.done()
    movement: Movement = Movement.objects.create(kind=MovementKind.RECEIVED, conduit=conduit, lengths=lengths)
    record(actor, "stock received", movement, conduit=conduit, lengths=lengths)
    return movement


@command
def post_cuts(*, actor: Actor, changes: Sequence[Applied]) -> None:
    """Draws from stock what was cut, keeps the rests and what is saved of scrapped pieces, and moves back
    what was taken back. Joins the ticks' command.

    A fixed number of queries, whatever the number of ticks.
    """
    moving = [
        change
        for change in changes
        if rules.cuts_of(change) != (False, None) or rules.scraps_of(change) != (False, None)
    ]
    if moving:
        _Posting(moving).post()


class _Posting:
    """The movements of one batch of ticks."""

    def __init__(self, changes: Sequence[Applied]) -> None:
        self.changes = changes
        pieces = {change.piece.pk: change.piece for change in changes}
        self.company = Company.objects.get(pk=current_company_id())
        self.prices = queries.prices_of(piece.conduit for piece in pieces.values())
        self.live: dict[uuid.UUID, list[Movement]] = defaultdict(list)
        for movement in queries.live_movements(pieces.keys()):
            if movement.piece_id is not None:
                self.live[movement.piece_id].append(movement)
        begun = [rules.cuts_of(change)[1] for change in changes]
        labels = {rules.source_of(cut) for cut in begun if cut is not None} - {FULL_LENGTH}
        self.offcuts: dict[str, Offcut] = {
            each.label: each for each in Offcut.objects.filter(label__in=labels)
        }
        self.next_number = (Offcut.objects.aggregate(most=Max("number"))["most"] or 0) + 1
        self.now = timezone.now()
        self.made: list[Offcut] = []
        self.changed: dict[uuid.UUID, Offcut] = {}
        self.movements: list[Movement] = []
        self.sequence: dict[uuid.UUID, int] = defaultdict(int)

    def post(self) -> None:
        """Writes it all."""
        for change in self.changes:
            uncut, cut = rules.cuts_of(change)
            unscrapped, scrap = rules.scraps_of(change)
            if unscrapped:
                self._counter(change, of_scrap=True)
            if uncut:
                self._counter(change, of_scrap=False)
            if cut is not None:
                self._draw(change, cut)
            if scrap is not None:
                self._save(change, scrap)
        Offcut.objects.bulk_create(self.made)
        made = {each.pk for each in self.made}
        Offcut.objects.bulk_update(
            [each for each in self.changed.values() if each.pk not in made], ("is_on_hand",)
        )
        Movement.objects.bulk_create(self.movements)

    def _move(self, change: Applied, kind: str, **figures: Any) -> Movement:
        tick = change.tick
        movement = Movement(
            at=self.now,
            kind=kind,
            conduit=change.piece.conduit,
            piece=change.piece,
            tick=tick,
            sequence=self.sequence[tick.pk],
            **figures,
        )
        self.sequence[tick.pk] += 1
        self.movements.append(movement)
        if movement.offcut is not None:
            movement.offcut.is_on_hand = movement.offcuts > 0
            self.changed[movement.offcut.pk] = movement.offcut
        return movement

    def _counter(self, change: Applied, *, of_scrap: bool) -> None:
        """Moves back what the piece's cut had moved, or its scrap."""
        own = self.live[change.piece.pk]
        for movement in [each for each in own if rules.is_of_scrap(each) == of_scrap]:
            own.remove(movement)
            offcut = movement.offcut
            if offcut is not None:  # of two rows of one offcut, the one that the batch knows
                offcut = self.changed.get(offcut.pk) or self.offcuts.get(offcut.label) or offcut
            self._move(
                change,
                MovementKind.RETURNED,
                lengths=-movement.lengths,
                offcuts=-movement.offcuts,
                length_mm=-movement.length_mm,
                offcut=offcut,
                counters=movement,
            )

    def _draw(self, change: Applied, cut: Tick) -> None:
        """Draws what a piece was cut from, and keeps the rest of it."""
        piece, kerf = change.piece, self.company.kerf_mm
        length = piece.stick.cut_length_mm
        source = rules.source_of(cut)
        if source == FULL_LENGTH:
            whole = self._full_length(piece, change.tick)
            drawn = rules.drawn_mm(length, kerf_mm=kerf, source_mm=whole)
            moved = [self._move(change, MovementKind.DRAWN, lengths=-1, length_mm=drawn)]
        else:
            offcut = self.offcuts[source]
            whole = offcut.length_mm
            drawn = rules.drawn_mm(length, kerf_mm=kerf, source_mm=whole)
            moved = [
                self._move(change, MovementKind.OFFCUT_DRAWN, offcuts=-1, length_mm=drawn, offcut=offcut)
            ]
        rest = rules.rest_mm(length, kerf_mm=kerf, source_mm=whole, least_mm=self.company.least_offcut_mm)
        if rest is not None:
            moved.append(self._move(change, MovementKind.KEPT, offcuts=1, offcut=self._labelled(piece, rest)))
        self.live[piece.pk] += moved

    def _save(self, change: Applied, scrap: Tick) -> None:
        """Keeps what is saved of a scrapped piece, unless it is too short; the piece is of it no more."""
        saved = rules.saved_mm(scrap, least_mm=self.company.least_offcut_mm)
        if saved is not None:
            kept = self._labelled(change.piece, saved)
            moved = self._move(change, MovementKind.KEPT, offcuts=1, length_mm=-saved, offcut=kept)
            self.live[change.piece.pk].append(moved)

    def _labelled(self, piece: Piece, length_mm: float) -> Offcut:
        """An offcut of the piece with the next label."""
        kept = Offcut(
            number=self.next_number,
            label=rules.label_of(self.next_number),
            conduit=piece.conduit,
            length_mm=length_mm,
            rest_of=piece,
        )
        self.next_number += 1
        self.made.append(kept)
        return kept

    def _full_length(self, piece: Piece, tick: Tick) -> float:
        """The conduit's full length on the day: by its price row, else by the catalogue."""
        day = day_of_tick(
            tick.made_at, tick.received_at, clock_suspect=tick.clock_suspect, zone=self.company.time_zone
        )
        price = rules.price_in_force(self.prices, piece.conduit, day)
        if price is not None:
            return price.full_length_mm
        row = catalogue.conduit(piece.conduit)
        return row.stock_length if row.net_length is None else row.net_length
