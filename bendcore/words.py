"""Findings, and the sentences and trade words in which a person reads them."""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final

from bendcore import tape
from bendcore.errors import BendError, Figure
from bendcore.units import Deg, Mm, Units


class Dialect(StrEnum):
    """Whose words of the trade: those of Great Britain or of the United States."""

    UK = "uk"
    US = "us"


class Level(StrEnum):
    """How a finding binds: a stop cannot be made, a warning wants a decision, a note wants to be known."""

    STOP = "stop"
    WARN = "warn"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Finding:
    """What a plan tells beside its figures.

    rule: stable id of the rule.  where: the place in the spec (`route.steps[4]`, `ends.start`).
    figures: lengths in mm (`*_mm`), angles in degrees (`*_deg`), counts and names.  source: who says so.
    """

    rule: str
    level: Level
    where: str
    figures: Mapping[str, Figure] = field(default_factory=dict)
    source: str = ""


# one word of the code: (UK, US). Source: docs/words.md.
_TERMS: Final[Mapping[str, tuple[str, str]]] = {
    "run": ("run", "run"),
    "stick": ("length", "stick"),
    "full_length": ("full length", "full length"),
    "piece": ("piece", "piece"),
    "leg": ("leg", "leg"),
    "corner": ("corner", "corner"),
    "bend": ("bend", "bend"),
    "back": ("back", "back"),
    "inside": ("throat", "throat"),
    "centre": ("centre", "center"),
    "begin": ("start of bend", "start of bend"),
    "finish": ("end of bend", "end of bend"),
    "datum_end": ("datum end", "datum end"),
    "far_end": ("far end", "far end"),
    "mark": ("mark", "mark"),
    "set_line": ("set line", "line"),
    "former": ("former", "shoe"),
    "bender": ("bender", "bender"),
    "hold_side": ("held end", "hook end"),
    "swing_side": ("swinging end", "free end"),
    "pull": ("pull", "pull"),
    "take_up": ("take-up", "take-up"),
    "gain": ("gain", "gain"),
    "shrink": ("shrink", "shrink"),
    "springback": ("springback", "springback"),
    "offset": ("double set", "offset"),
    "saddle_set_3": ("bubble set", "3-point saddle"),
    "saddle_set_4": ("bridge set", "4-point saddle"),
    "kick": ("set", "kick"),
    "box_set": ("box set", "box offset"),
    "bank": ("bank", "bank"),
    "clip": ("saddle", "strap"),
    "coupler": ("coupler", "coupling"),
    "union": ("union", "union"),
    "roll": ("roll", "roll"),
    # ends, as they stand at boxes
    "open": ("open end", "open end"),
    "spout": ("spout", "hub"),
    "coupler_and_male_bush": ("coupler and male bush", "coupling and bushing"),
    "locknuts_and_female_bush": ("locknuts and female bush", "locknuts and bushing"),
    "connector": ("connector", "connector"),
    "flexible": ("flexible", "flexible"),
    "joint": ("joint", "joint"),
    # set lines
    "line_begin": ("begin line", "begin line"),
    "line_back": ("back line", "back line"),
    "line_arrow": ("arrow", "arrow"),
    "line_middle": ("middle of the shoe", "center of the shoe"),
    "line_own": ("own line", "own line"),
}


def term(word: str, dialect: Dialect) -> str:
    """The trade's word for a word of the code (`coupler` is a coupling in the United States).

    Raises KeyError for a word that is not in the glossary.
    """
    uk, us = _TERMS[word]
    return uk if dialect is Dialect.UK else us


@dataclass(frozen=True, slots=True)
class _Speaker:
    """One finding's figures, said in the units and words asked for."""

    finding: Finding
    units: Units
    dialect: Dialect

    def length(self, name: str) -> str:
        return tape.say(Mm(self._number(name)), self.units)

    def angle(self, name: str) -> str:
        return tape.degrees(Deg(self._number(name)))

    def plain(self, name: str) -> str:
        return str(self.finding.figures[name])

    def word(self, name: str) -> str:
        return term(name, self.dialect)

    def word_of(self, name: str) -> str:
        return term(self.plain(name), self.dialect)

    def has(self, name: str) -> bool:
        return self.finding.figures.get(name) is not None

    def _number(self, name: str) -> float:
        value = self.finding.figures[name]
        assert isinstance(value, (int, float)), f"{self.finding.rule} has no number {name}"  # noqa: S101 - our own slip
        return value


def _mark_off(say: _Speaker) -> str:
    bend = f"The mark for bend {say.plain('bend')} of {say.word('stick')} {say.plain('stick')}"
    if say.has("made_bend"):
        return (
            f"{bend} comes to {say.length('mark_mm')}, on or before bend {say.plain('made_bend')}, "
            "which is already made. "
            f"Use another {say.word('set_line')} or move the bends apart."
        )
    return (
        f"{bend} comes to {say.length('mark_mm')}, off the {say.word('stick')}, which is "
        f"{say.length('cut_length_mm')} long. Use another {say.word('set_line')}, hold the other end, "
        "or bend it on a longer piece and cut after."
    )


def _allowance_untold(say: _Speaker) -> str:
    return (
        f"No allowance is given for the {say.plain('end')} of the run ({say.word_of('kind')}), "
        "so it counts as 0. "
        "Measure how far the conduit goes past the face and give that."
    )


def _points_merged(say: _Speaker) -> str:
    return f"Points {say.plain('first')} and {say.plain('second')} are one point, and count as one."


def _turn_too_small(say: _Speaker) -> str:
    return (
        f"Point {say.plain('point')} lies in a straight line with its neighbours "
        f"and is no {say.word('corner')}."
    )


def _handbook_figures(say: _Speaker) -> str:
    three = say.plain("feature") == "saddle_set_3"
    marks = "the middles of its bends" if three else "like marks"
    arc = " and its top in the arc, below the corner," if three else ""
    return (
        f"By the handbook the {say.word_of('feature')} shrinks {say.length('handbook_shrink_mm')}, with "
        f"{marks} {say.length('handbook_spacing_mm')} apart. With the {say.word('gain')} of its bends{arc} "
        f"counted it is {say.length('shrink_mm')} and {say.length('spacing_mm')}: the plan uses these."
    )


def _pull_too_far(say: _Speaker) -> str:
    return (
        f"By the calibration, bend {say.plain('bend')} of {say.word('stick')} {say.plain('stick')} would "
        f"take a {say.word('pull')} of {say.angle('pull_deg')}, which no {say.word('bender')} makes. "
        "Check k and c with a trial bend."
    )


def _former_radius(say: _Speaker) -> str:
    return (
        f"To keep one centre with its neighbours, {say.word('corner')} {say.plain('corner')} of conduit "
        f"{say.plain('conduit')} needs a radius of {say.length('need_mm')}; the {say.word('former')} in use "
        f"gives {say.length('radius_mm')}. Use a {say.word('former')} of that radius, bend it in segments, "
        "or choose equal corners."
    )


_SENTENCES: Final[Mapping[str, Callable[[_Speaker], str]]] = {
    "mark-off": _mark_off,
    "allowance-untold": _allowance_untold,
    "points-merged": _points_merged,
    "turn-too-small": _turn_too_small,
    "handbook-figures": _handbook_figures,
    "former-radius": _former_radius,
    "pull-too-far": _pull_too_far,
}


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
    return _SENTENCES[finding.rule](_Speaker(finding, units, dialect))
