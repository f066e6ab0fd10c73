"""Drawings of runs for screens, kept in memory: drawing costs more than planning, and a run that is looked at
is looked at again."""

import hashlib
from collections import OrderedDict
from threading import Lock
from typing import Final

from bendcore.drawing import run_isometric
from bendcore.errors import BendError
from bendcore.planned import Plan
from bendcore.units import Units
from bendcore.words import Dialect
from services.company.models import Company

WIDE: Final = 520.0
NARROW: Final = 310.0
WIDTHS: Final = {"wide": WIDE, "narrow": NARROW}
"""Of a run's drawing, px, by the part of a page that it stands in."""

MOST_KEPT: Final = 200
"""Drawings; some 30 kB each."""

_kept: OrderedDict[str, str] = OrderedDict()
_lock: Final = Lock()


def isometric(plan: Plan, company: Company, *, width: str, ends: tuple[str, str]) -> str:
    """A run's isometric as SVG text, at one of WIDTHS; empty where it cannot be drawn: a drawing must not
    stop the figures.

    It is made from these arguments alone, and found again by a hash over all of them: whoever gets it from
    memory gave the same.
    """
    made_from = (plan, company.units, company.words, width, ends)
    key = hashlib.sha256(repr(made_from).encode()).hexdigest()
    with _lock:
        if key in _kept:
            _kept.move_to_end(key)
            return _kept[key]
    try:
        drawing = run_isometric(
            plan,
            units=Units(company.units),
            dialect=Dialect(company.words),
            width=WIDTHS[width],
            paper=False,
            prefix=f"iso-{width[0]}",
            ends=ends,
        )
    except BendError:
        drawing = ""
    with _lock:
        _kept[key] = drawing
        while len(_kept) > MOST_KEPT:
            _kept.popitem(last=False)
    return drawing


def forget() -> None:
    """Forgets all drawings, for tests that count the work."""
    with _lock:
        _kept.clear()
