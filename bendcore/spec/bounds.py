"""How far figures go, and the kinds of value that more than one record reads."""

from typing import Final

from bendcore.reader import Choice, Number
from bendcore.spec.choices import Heading

REACH: Final = 1e7
"""Coordinates and lengths end here, mm: ten kilometres. What lies beyond is a slip of the keyboard."""

SMALLEST_TURN: Final = 1e-4
"""Below this, degrees, a turn is no corner."""

REVERSAL: Final = 179.9999
"""Above this, degrees, a turn is a reversal."""

MOST_ROWS: Final = 10_000

LENGTH = Number("mm", above=0.0, at_most=REACH)
LENGTH_OR_0 = Number("mm", at_least=0.0, at_most=REACH)
SIGNED = Number("mm", at_least=-REACH, at_most=REACH)
TOWARD = Choice(Heading)
