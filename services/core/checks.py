"""Checks of what came in: all that is wrong is collected, so that a person sees it at once."""

from collections.abc import Callable, Iterable
from typing import Any, Final, TypeVar

from django.db import IntegrityError, models, transaction
from django.utils.translation import gettext as _

from services.core.errors import FieldProblem, Invalid

T = TypeVar("T")

_FINITE: Final = 1e300
"""A whole number beyond is none that a float holds well."""


class Checks:
    """The problems of one input. Each check gives the value as it is kept; what it gives for a bad one is not
    used, for `done` raises."""

    def __init__(self) -> None:
        self.problems: list[FieldProblem] = []

    def refuse(self, where: str, text: str, code: str = "invalid") -> None:
        """Adds a problem. text: what is wrong and what is allowed."""
        self.problems.append(FieldProblem(where, text, code))

    def done(self) -> None:
        """Raises Invalid with every problem found, if there are any."""
        if self.problems:
            raise Invalid(self.problems)

    def text(self, where: str, value: object, *, longest: int, optional: bool = False) -> str:
        """One line of printable text, without the blanks around it."""
        if not isinstance(value, str):
            self.refuse(where, _("is no text; one line of text is wanted"), "wrong-type")
            return ""
        line = value.strip()
        if not line and not optional:
            self.refuse(where, _("is empty; 1 to %(longest)d characters are wanted") % {"longest": longest})
        elif len(line) > longest:
            self.refuse(
                where,
                _("has %(count)d characters; at most %(longest)d are allowed")
                % {"count": len(line), "longest": longest},
            )
        elif not line.isprintable():
            self.refuse(where, _("has characters that cannot be printed; one line of text is wanted"))
        return line

    def choice(self, where: str, value: object, allowed: Iterable[str]) -> str:
        """One word out of those allowed."""
        words = list(allowed)
        if isinstance(value, str) and value in words:
            return value
        self.refuse(
            where,
            _("is %(value)s; allowed are %(words)s") % {"value": said(value), "words": ", ".join(words)},
            "not-a-choice",
        )
        return ""

    def number(
        self,
        where: str,
        value: object,
        *,
        unit: str = "",
        above: float | None = None,
        at_least: float | None = None,
        below: float | None = None,
        at_most: float | None = None,
    ) -> float:
        """A finite number within bounds; `above` and `below` leave theirs out. Booleans and text are
        refused."""
        if (
            isinstance(value, (int, float))
            and not isinstance(value, bool)
            and abs(value) <= _FINITE  # not so for NaN
            and (above is None or value > above)
            and (at_least is None or value >= at_least)
            and (below is None or value < below)
            and (at_most is None or value <= at_most)
        ):
            return float(value)
        bounds = [
            text % {"bound": f"{bound:.10g}"}
            for text, bound in (
                (_("above %(bound)s"), above),
                (_("at least %(bound)s"), at_least),
                (_("below %(bound)s"), below),
                (_("at most %(bound)s"), at_most),
            )
            if bound is not None
        ]
        allowed = (_(" and ").join(bounds) or _("any number")) + (f" {unit}" if unit else "")
        self.refuse(
            where,
            _("is %(value)s; a number is wanted, %(allowed)s") % {"value": said(value), "allowed": allowed},
            "out-of-range"
            if isinstance(value, (int, float)) and not isinstance(value, bool)
            else "wrong-type",
        )
        return 0.0


def said(value: object) -> str:
    """A value as a problem names it: short."""
    if value is None:
        return _("empty")
    if isinstance(value, bool):
        return _("true") if value else _("false")
    if isinstance(value, int) and abs(value) >= 10**15:
        return _("a number far too large")
    if isinstance(value, (int, float)):
        return f"{value:.10g}"
    if isinstance(value, str):
        return repr(value if len(value) <= 40 else value[:37] + "...")
    return _("a list") if isinstance(value, (list, tuple)) else _("an object")


def make_once(make: Callable[[], T], *, taken: models.QuerySet[Any], problem: FieldProblem) -> T:
    """What `make` makes; Invalid with the problem where a unique constraint says that there is one already.

    taken: the rows that stand in the way then. The constraint decides, not a look before: between a look and
    a write another may write. Any other broken constraint goes on as it is.
    """
    try:
        with transaction.atomic():
            return make()
    except IntegrityError:
        if not taken.exists():
            raise
        raise Invalid([problem]) from None
