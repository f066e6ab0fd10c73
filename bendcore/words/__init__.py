"""Findings, and the sentences and trade words in which a person reads them.

The only place that makes a finding's sentence: a module for each concern, one small function a rule.
"""

import re
from typing import Final

from bendcore import tape
from bendcore.errors import BendError
from bendcore.units import Mm, Units
from bendcore.words import bending, fitting, judged, marks
from bendcore.words.finding import Dialect, Finding, Level
from bendcore.words.terms import Speaker, term

__all__ = ["Dialect", "Finding", "Level", "problem_said", "sentence", "term"]

_SENTENCES: Final = {**marks.SENTENCES, **fitting.SENTENCES, **bending.SENTENCES, **judged.SENTENCES}


# A length as `tape.fine` writes it in a problem's text, and whether it says what must be added at least.
_LENGTH_TOLD: Final = re.compile(r"(-?\d+(?:\.\d)?) mm(?P<least> short| longer| more)?")


def problem_said(problem: BendError, units: Units) -> str:
    """A problem's text in the units that a person reads; the text itself is in millimetres.

    What must be added goes up to the next division, so that adding it is enough.
    """
    if units is Units.MM:
        return problem.text

    def told(found: re.Match[str]) -> str:
        length, least = Mm(float(found[1])), found["least"]
        return tape.say_up(length, units) + least if least else tape.say(length, units)

    return _LENGTH_TOLD.sub(told, problem.text)


def sentence(finding: Finding, units: Units, dialect: Dialect) -> str:
    """The finding as a person reads it: what is so, with its figures, and what to do."""
    return _SENTENCES[finding.rule](Speaker(finding, units, dialect))
