"""The trade's words, and a finding's figures said in them."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from bendcore import tape
from bendcore.units import Deg, Mm, Units
from bendcore.words.finding import Dialect, Finding

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
    "running_coupler": ("running coupler", "running coupling"),
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
    # fittings
    "draw_in_box": ("draw-in box", "pull box"),
    "inspection_bend": ("inspection bend", "conduit body"),
    "tee": ("inspection tee", "tee body"),
    "bought_bend": ("normal bend", "factory elbow"),
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
class Speaker:
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


Sentence = Callable[[Speaker], str]
"""Makes one rule's sentence: what is so, with its figures, and what to do."""
