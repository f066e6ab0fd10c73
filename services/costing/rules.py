"""What a cut costs and what a scrapped piece loses: decimals in, decimals out."""

from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Final

from services.core.money import to_cents

_MICROMETRE: Final = Decimal("0.000001")


@dataclass(frozen=True, slots=True)
class Posted:
    """Metres and money of one entry. is_priced: false where there was no price, and the amount is 0 for want
    of it."""

    metres: Decimal
    amount: Decimal
    is_priced: bool

    def reversed(self) -> "Posted":
        """What puts it right."""
        return Posted(-self.metres, -self.amount, self.is_priced)


def metres_of(length_mm: float) -> Decimal:
    """Millimetres as metres, kept to a thousandth of a millimetre, half to even."""
    return (Decimal(repr(float(length_mm))) / 1000).quantize(_MICROMETRE, rounding=ROUND_HALF_EVEN)


def material(drawn_mm: float, price_per_mm: Decimal | None) -> Posted:
    """The material of a piece. drawn_mm: cut length and kerf.  price_per_mm: unrounded; None where there is
    none."""
    if price_per_mm is None:
        return Posted(metres_of(drawn_mm), Decimal("0.00"), is_priced=False)
    amount = to_cents(Decimal(repr(float(drawn_mm))) * price_per_mm)
    return Posted(metres_of(drawn_mm), amount, is_priced=True)


def returned(posted: Posted, lost: Posted) -> Posted:
    """What leaves a scrapped piece's material again, above what is lost: it went back to stock. At or below
    0."""
    return Posted(lost.metres - posted.metres, lost.amount - posted.amount, posted.is_priced)


def scrapped(posted: Posted, saved_mm: float) -> Posted:
    """What a scrapped piece loses of its posted material: drawn - saved, at the price at which it was
    posted."""
    lost = posted.metres - metres_of(saved_mm)
    if lost >= posted.metres:
        return posted
    return Posted(lost, to_cents(posted.amount * lost / posted.metres), posted.is_priced)


@dataclass(frozen=True, slots=True)
class Share:
    """A share that names its denominator. of: what it is a share of, in `unit`."""

    part: Decimal
    of: Decimal
    unit: str

    @property
    def ratio(self) -> Decimal | None:
        """part / of; None where there is nothing to be a share of."""
        return self.part / self.of if self.of else None

    @property
    def per_cent(self) -> Decimal | None:
        """The ratio in per cent, to a tenth, half to even; None as `ratio`."""
        ratio = self.ratio
        return None if ratio is None else (ratio * 100).quantize(Decimal("0.1"), rounding=ROUND_HALF_EVEN)
