"""What a cut takes from stock and what it leaves, and the price of a day."""

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Final

from services.stock.models import Movement, Price
from services.tracking.models import Kind, Tick
from services.tracking.rules import FULL_LENGTH
from services.tracking.signals import Applied

CUT_TICK_NEEDS_MM: Final = 1e-6
"""How far a length may fall short of a cut and count as long enough: rounding in floats, no more."""


def drawn_mm(cut_length_mm: float, *, kerf_mm: float, source_mm: float) -> float:
    """What a piece takes of the length it is cut from, mm: its own and the kerf, where there is a cut to
    make.

    A length that is used up whole, or of which less than a kerf is left, has no more to take.
    """
    return max(cut_length_mm, min(cut_length_mm + kerf_mm, source_mm))


def rest_mm(cut_length_mm: float, *, kerf_mm: float, source_mm: float, least_mm: float) -> float | None:
    """The length of the rest, mm; None if it is too short to keep."""
    rest = source_mm - drawn_mm(cut_length_mm, kerf_mm=kerf_mm, source_mm=source_mm)
    return rest if rest > 0 and rest >= least_mm else None


def label_of(number: int) -> str:
    """What is painted on the company's n-th kept rest."""
    return f"R{number}"


def source_of(tick: Tick) -> str:
    """The label of the offcut that a cut is made from, or a full length."""
    return str(tick.figures.get("offcut") or FULL_LENGTH)


def cuts_of(change: Applied) -> tuple[bool, Tick | None]:
    """Whether a tick ends the effect of a cut, and the cut that counts from now on by it.

    A cut that takes an implied one's place (or leaves it) and is from a full length as that one was changes
    nothing: what was drawn stays drawn.
    """
    ended = [each for each in change.undone if each.kind == Kind.CUT]
    begun = [each for each in (change.tick, *change.redone) if each.kind == Kind.CUT]
    if ended and begun and source_of(ended[0]) == source_of(begun[0]):
        return False, None
    return bool(ended), begun[0] if begun else None


def scraps_of(change: Applied) -> tuple[bool, Tick | None]:
    """Whether a tick ends the effect of a scrap, and the scrap that counts from now on by it."""
    ended = any(each.kind == Kind.SCRAPPED for each in change.undone)
    return ended, change.tick if change.tick.kind == Kind.SCRAPPED else None


def is_of_scrap(movement: Movement) -> bool:
    """Whether a movement is of what was saved of a scrapped piece; the others of a piece are of its cut."""
    return movement.tick is not None and movement.tick.kind == Kind.SCRAPPED


def saved_mm(scrap: Tick, *, least_mm: float) -> float | None:
    """What is saved of a scrapped piece, mm; None if it is too short to keep."""
    saved = float(scrap.figures.get("saved_mm") or 0.0)
    return saved if saved > 0 and saved >= least_mm else None


def price_in_force(prices: Iterable[Price], conduit: str, day: date) -> Price | None:
    """The newest of the conduit's prices that was in force on the day; None if there was none."""
    rows = [price for price in prices if price.conduit == conduit and price.from_day <= day]
    return max(rows, key=lambda price: price.from_day, default=None)


def price_per_mm(price: Price) -> Decimal:
    """Money a millimetre, unrounded."""
    return price.price / Decimal(repr(price.full_length_mm))
