"""Money: decimals with their currency, rounded by one named rule."""

from decimal import ROUND_HALF_EVEN, Decimal
from typing import Final

CENT: Final = Decimal("0.01")


def to_cents(amount: Decimal) -> Decimal:
    """Rounded to hundredths, half to even: over many entries the roundings cancel."""
    return amount.quantize(CENT, rounding=ROUND_HALF_EVEN)


def said(amount: Decimal, currency: str) -> str:
    """As a person reads it: "12.40 GBP"."""
    return f"{to_cents(amount):,.2f} {currency}"
