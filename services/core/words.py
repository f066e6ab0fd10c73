"""The words on screens and papers: the trade's, from the engine's glossary, and the service's own, British
or American."""

from collections.abc import Mapping
from typing import Final

from bendcore.words import Dialect, term

# word of the code: (UK, US). What the engine's glossary has is not repeated here. Source: docs/words.md.
_SERVICE: Final[Mapping[str, tuple[str, str]]] = {
    "stock": ("stock", "stock"),
    "offcut": ("offcut", "remnant"),
    "crew": ("gang", "crew"),
    "installed": ("fitted", "installed"),
    "install": ("fit", "install"),
    "datum_side": ("datum side", "datum side"),
    "protective_conductor": ("protective conductor (cpc)", "equipment grounding conductor (EGC)"),
    "metres": ("metres", "feet"),
    "stick_in_full": ("length (stick)", "stick"),
    "room": ("room", "room"),
    "row": ("row", "row"),
    "project": ("project", "project"),
    "tick": ("tick", "tick"),
    "attempt": ("attempt", "attempt"),
    "stop": ("stop", "stop"),
    "warning": ("warning", "warning"),
    "note": ("note", "note"),
    "full length": ("full length", "full length"),
    "day": ("day", "day"),
}


def word(name: str, dialect: Dialect) -> str:
    """The word for a word of the code. Raises KeyError for one that is in neither glossary."""
    own = _SERVICE.get(name)
    if own is None:
        return term(name, dialect)
    return own[0] if dialect is Dialect.UK else own[1]


def counted(count: int, name: str, dialect: Dialect) -> str:
    """A count with its word, singular or plural: "1 length", "3 lengths"."""
    said = word(name, dialect)
    return f"{count} {said}" if count == 1 else f"{count} {plural(said)}"


def plural(said: str) -> str:
    """The plural of a trade word. All of them take an s or an es."""
    return f"{said}es" if said.endswith(("sh", "ch", "x", "s")) else f"{said}s"


_VERDICTS: Final[Mapping[str, str]] = {
    "pass": "passed",
    "correct": "to correct",
    "open": "to open",
    "shorten": "to shorten",
    "reject": "rejected",
}


def act(name: str, dialect: Dialect) -> str:
    """What a tick tells as it is said: its kind, and for a check what it found."""
    kind, is_check, verdict = name.partition("checked ")
    if is_check:
        return f"checked, {_VERDICTS.get(verdict, verdict)}"
    return state(kind, dialect)


def state(name: str, dialect: Dialect) -> str:
    """A piece's state as it is said; `waiting` is a stick's that has no piece yet."""
    return word("installed", dialect) if name == "installed" else name
