"""The conduit of a run, and what its sticks may be cut from."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

from bendcore import catalogue
from bendcore.catalogue import ConduitRow
from bendcore.errors import BendError, Conflict, MissingKey, NotAChoice
from bendcore.reader import Choice, Count, Listed, Nullable, Number, Record, RecordOf, Text, key, name_of
from bendcore.spec.bounds import REACH
from bendcore.spec.choices import Joining
from bendcore.units import Mm


@dataclass(frozen=True, slots=True)
class StockAsked(Record):
    """One length that sticks may be cut from: a length as bought, or an offcut."""

    length: Mm = key(Number("mm", at_least=100.0, at_most=REACH), "its length, mm")
    threaded_ends: Literal[0, 1, 2] = key(
        Count(0, 2), "how many of its ends are threaded; of no account in plain conduit", default=2
    )
    count: int | None = key(
        Nullable(Count(1, 10_000)),
        "how many there are: an offcut, paid for already; absent: as many as are bought",
        default=None,
    )


@dataclass(frozen=True, slots=True)
class Conduit(Record):
    """The conduit of the run, from the catalogue or by its own figures."""

    catalogue: str | None = key(
        Text(60),
        "id of a conduit in the catalogue; stock_length and wall beside it replace the catalogue's",
        default=None,
    )
    own_outside_diameter: Mm | None = key(
        Number("mm", above=0.0, at_most=500.0),
        "measured outside diameter, mm; needed without a catalogue id",
        default=None,
        name="outside_diameter",
    )
    own_stock_length: Mm | None = key(
        Number("mm", at_least=100.0, at_most=REACH),
        "length of conduit as bought, mm; needed unless the catalogue has it or joints is none",
        default=None,
        name="stock_length",
    )
    stock: tuple[StockAsked, ...] = key(
        Listed(RecordOf(StockAsked), least=1, most=200),
        "lengths to cut from; stock_length, or the catalogue's, stands beside them unless one of them is "
        "bought at will (has no count)",
        default=(),
    )
    own_joining: Joining | None = key(
        Choice(Joining), "threaded (the default) or plain", default=None, name="joining"
    )
    own_wall: Mm | None = key(
        Number("mm", above=0.0, at_most=50.0), "measured wall thickness, mm", default=None, name="wall"
    )

    def conflicts(self, where: str) -> Iterable[BendError]:
        if self.catalogue is not None:
            if self._row is None:
                ids = catalogue.conduit_ids()
                yield NotAChoice(
                    f"{where}catalogue", f"is {name_of(self.catalogue)}; allowed are {', '.join(ids)}"
                )
            for name, given in (
                ("outside_diameter", self.own_outside_diameter),
                ("joining", self.own_joining),
            ):
                if given is not None:
                    yield Conflict(
                        f"{where}{name}", "stands in the catalogue: leave it out, or leave catalogue out"
                    )
        elif self.own_outside_diameter is None:
            yield MissingKey(
                f"{where}outside_diameter", "is missing: give the outside diameter in mm, or a catalogue id"
            )
        if self.own_stock_length is not None and any(each.count is None for each in self.stock):
            yield Conflict(
                f"{where}stock_length",
                "stands beside a stock that has lengths bought at will (without count): leave one out",
            )
        known = self._row is not None or self.own_outside_diameter is not None
        if self.own_wall is not None and known:
            most = self.outside_diameter / 2.0
            if self.own_wall >= most:
                yield Conflict(
                    f"{where}wall", f"is {self.own_wall:g} mm; it must stay under {most:g} mm", below_mm=most
                )

    @property
    def _row(self) -> ConduitRow | None:
        try:
            return catalogue.conduit(self.catalogue or "")
        except KeyError:
            return None

    @property
    def outside_diameter(self) -> Mm:
        """Outside diameter D, mm."""
        row = self._row
        if row is not None:
            return row.outside_diameter
        assert self.own_outside_diameter is not None  # noqa: S101 - `conflicts` holds it
        return self.own_outside_diameter

    @property
    def lengths(self) -> tuple[StockAsked, ...]:
        """Every length that sticks may be cut from; empty where nobody said.

        Rigid metal conduit is bought ten feet long with its coupling on: the bare stick is shorter.
        """
        if any(each.count is None for each in self.stock):
            return self.stock
        bought = self.own_stock_length
        row = self._row
        if bought is None and row is not None:
            bought = row.stock_length if row.net_length is None else row.net_length
        return self.stock if bought is None else (StockAsked(bought), *self.stock)

    @property
    def stock_length(self) -> Mm | None:
        """The longest stick that can be cut from what there is, mm; None where nobody said."""
        return max((each.length for each in self.lengths), default=None)

    @property
    def joining(self) -> Joining:
        """Threaded or plain."""
        row = self._row
        if row is not None:
            return Joining(row.joining)
        return self.own_joining or Joining.THREADED

    @property
    def wall(self) -> Mm | None:
        """Wall thickness, mm; None where nobody said."""
        if self.own_wall is not None:
            return self.own_wall
        row = self._row
        return None if row is None else row.wall
