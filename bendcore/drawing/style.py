"""How a drawing looks: one table of classes, read as a style sheet on screen and as attributes on paper.

On screen an element carries its classes and the page's sheet does the rest, light or dark. Paper and a file
of its own have no sheet, so there the same table is written out as attributes, in the colours of a bright
page.
"""

from collections.abc import Mapping
from functools import cache
from typing import Final

TOKENS: Final[Mapping[str, str]] = {
    "plate": "#ffffff",
    "galv-3": "#a8b2b6",
    "galv-4": "#6d787d",
    "ink": "#14181a",
    "pencil": "#475055",
    "mark": "#b02a08",
    "tube-0": "#eef1f1",
    "tube-1": "#ffffff",
    "tube-2": "#b7c0c4",
    "tube-3": "#828e95",
    "tube-edge": "#343d41",
    "tube-line": "#343d41",
    "former": "#d8dddd",
    "room-1": "#e9ecea",
    "room-2": "#f3f4f1",
    "room-3": "#e0e4e3",
    "w-fine": "1",
    "w-line": "1.5",
    "w-bold": "2.5",
    "w-mark": "3.5",
    "sans": "Liberation Sans, Arial, Helvetica, sans-serif",
}
"""The tokens a drawing needs, as they are on paper. On screen the page gives them, bright or dim."""

_HIGHLIGHT: Final = "mk"
"""Beside another class: this is where the hand goes next."""

STYLES: Final[Mapping[str, Mapping[str, str]]] = {
    "dwg": {"font-family": "--sans", "fill": "none", "stroke": "none"},
    # writing: figures, dimensions, second voice
    "t-b": {"fill": "--ink", "font-weight": "700"},
    "t-b mk": {"fill": "--mark"},
    "t-dim": {"fill": "--ink", "font-weight": "600"},
    "t-dim mk": {"fill": "--mark"},
    "t-s": {"fill": "--pencil", "font-weight": "400"},
    "t-s mk": {"fill": "--mark"},
    # lines that measure and point
    "dim": {"stroke": "--pencil", "stroke-width": "--w-fine"},
    "dim mk": {"stroke": "--mark"},
    "dim mk2": {"stroke": "--mark", "stroke-width": "--w-bold"},
    "ext": {"stroke": "--galv-4", "stroke-width": "--w-fine"},
    "ext mk": {"stroke": "--mark"},
    "ldr": {"stroke": "--pencil", "stroke-width": "--w-fine"},
    "ldr mk": {"stroke": "--mark"},
    "arw": {"fill": "--pencil"},
    "arw mk": {"fill": "--mark"},
    "org": {"stroke": "--pencil", "stroke-width": "--w-fine", "fill": "--plate"},
    "org mk": {"stroke": "--mark", "stroke-width": "--w-bold"},
    # the straight stick
    "st-tube": {"stroke": "--tube-line", "stroke-width": "--w-line"},
    "g0": {"stop-color": "--tube-0"},
    "g1": {"stop-color": "--tube-1"},
    "g2": {"stop-color": "--tube-2"},
    "g3": {"stop-color": "--tube-3"},
    "thr": {"stroke": "--tube-edge", "stroke-width": "--w-fine"},
    "coup": {"stroke": "--tube-line", "stroke-width": "--w-line"},
    "datum": {"fill": "--ink"},
    "zone": {"stroke": "--tube-edge", "stroke-width": "--w-fine"},
    "zone mk": {"stroke": "--mark", "stroke-width": "--w-line"},
    "zl": {"stroke": "--tube-edge", "stroke-width": "2"},
    "mark": {"stroke": "--ink", "stroke-width": "--w-bold"},
    "mark mk": {"stroke": "--mark", "stroke-width": "--w-mark"},
    "lean-h": {"fill": "--galv-4"},
    "lean-h mk": {"fill": "--mark"},
    "lean-s": {"stroke": "--galv-4", "stroke-width": "--w-fine"},
    "lean-s mk": {"stroke": "--mark"},
    # the roll dial
    "dial": {"stroke": "--pencil", "stroke-width": "--w-line", "fill": "--plate"},
    "dial mk": {"stroke": "--mark"},
    "dial-p": {"stroke": "--ink", "stroke-width": "--w-bold"},
    "dial-p mk": {"stroke": "--mark", "stroke-width": "--w-mark"},
    "dial-c": {"fill": "--ink"},
    "dial-c mk": {"fill": "--mark"},
    "dial-arc": {"stroke": "--pencil", "stroke-width": "1.3"},
    "dial-arc mk": {"stroke": "--mark"},
    # the finished stick and its room
    "tu-e": {"stroke": "--tube-line", "stroke-linejoin": "round"},
    "tu-b": {"stroke": "--tube-2", "stroke-linejoin": "round"},
    "tu-d": {"stroke": "--tube-3", "stroke-linejoin": "round"},
    "tu-h": {"stroke": "--tube-1", "stroke-linejoin": "round"},
    "tu-e ghost": {"stroke": "--galv-4"},
    "tu-b ghost": {"stroke": "--room-1"},
    "tu-end": {"fill": "--tube-2", "stroke": "--tube-line"},
    "tu-end ghost": {"fill": "--room-1", "stroke": "--galv-4"},
    "tu-bore": {"fill": "--tube-3"},
    "tu-bore ghost": {"fill": "--galv-3"},
    "datum-l": {"stroke": "--ink", "stroke-width": "5"},
    "joint": {"fill": "--plate", "stroke": "--tube-line", "stroke-width": "2"},
    "joint small": {"stroke-width": "--w-fine"},
    "joint ghost": {"stroke": "--galv-4"},
    "fit": {"fill": "--plate", "stroke": "--tube-line", "stroke-width": "2", "stroke-linejoin": "round"},
    "fit small": {"stroke-width": "--w-fine"},
    "fit ghost": {"stroke": "--galv-4"},
    "long": {"stroke": "--tube-line", "stroke-width": "--w-line"},
    "long small": {"stroke-width": "--w-fine"},
    "long ghost": {"stroke": "--galv-4"},
    "clip": {"stroke": "--pencil", "stroke-width": "3"},
    "clip small": {"stroke-width": "2"},
    "clip ghost": {"stroke": "--galv-3"},
    "ring": {"stroke": "--mark", "stroke-width": "--w-mark"},
    # the stick in the bender
    "brk": {"stroke": "--tube-line", "stroke-width": "--w-line"},
    "next": {"stroke": "--pencil", "stroke-width": "1.2", "stroke-dasharray": "6 4"},
    "swp": {"stroke": "--pencil", "stroke-width": "--w-fine"},
    "setl": {"stroke": "--ink", "stroke-width": "--w-line", "stroke-dasharray": "9 3 2 3"},
    "grip": {"stroke": "--ink", "stroke-width": "3.5"},
    "turn": {"stroke": "--ink", "stroke-width": "--w-line"},
    "turn-a": {"fill": "--ink"},
    "former": {"fill": "--former", "stroke": "--galv-4", "stroke-width": "--w-fine"},
    "former-c": {"stroke": "--galv-4", "stroke-width": "--w-fine"},
    "room-f": {"fill": "--room-1", "stroke": "--galv-3", "stroke-linejoin": "round"},
    "room-w": {"fill": "--room-2", "stroke": "--galv-3", "stroke-linejoin": "round"},
    "room-w2": {"fill": "--room-3", "stroke": "--galv-3", "stroke-linejoin": "round"},
}
"""Class, or two classes together, to what it gives. A value that begins with `--` is a token."""

MARKER_ONLY: Final = frozenset({_HIGHLIGHT, "mk2", "ghost", "small", "dwg-strip", "dwg-iso", "dwg-pose"})
"""Classes that give nothing alone: they qualify another, or name what is inside a group for the page."""


@cache
def attributes(classes: str) -> Mapping[str, str]:
    """What an element of these classes looks like on paper: attribute to value, tokens resolved.

    classes: as in a class attribute. Of two entries that fit, the one of more classes wins, then the later.
    Raises KeyError for a class that the table does not have.
    """
    names = frozenset(classes.split())
    if unknown := names - MARKER_ONLY - STYLES.keys():
        raise KeyError(f"no style for {', '.join(sorted(unknown))}")
    fitting = [entry for entry in STYLES if names.issuperset(entry.split())]
    found: dict[str, str] = {}
    for entry in sorted(fitting, key=lambda each: len(each.split())):
        found |= STYLES[entry]
    return {name: _resolved(value) for name, value in found.items()}


def stylesheet() -> str:
    """The table as a style sheet: every rule under `.dwg`, values as the page's tokens."""
    rules = []
    for entry, values in STYLES.items():
        selector = "".join(f".{name}" for name in entry.split())
        under = selector if entry == "dwg" else f".dwg {selector}"
        rules.append(
            f"{under} {{ {' '.join(f'{name}: {_token(value)};' for name, value in values.items())} }}"
        )
    return "\n".join(rules) + "\n"


def _resolved(value: str) -> str:
    return TOKENS[value.removeprefix("--")] if value.startswith("--") else value


def _token(value: str) -> str:
    return f"var({value})" if value.startswith("--") else value
