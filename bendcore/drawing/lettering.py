"""How much room a line of text takes, so that a drawing can keep its words clear of its lines.

The drawings are set in Liberation Sans, whose figures and letters are as wide as Arial's. A screen may use
its own sans instead, so a little is added to every width.
"""

from collections.abc import Mapping
from functools import cache
from typing import Final

ASCENT: Final = 0.905
"""Part of the size above the baseline: measured in a browser, and measured again by the tests."""

DESCENT: Final = 0.212
"""Part of the size below the baseline: measured likewise."""

SMALLEST: Final = 11.0
"""No text is set smaller than this, px."""

_SLACK: Final = 1.05
"""Segoe UI, Roboto and Noto Sans set the same line up to so much wider."""

# Thousandths of the size, by character, as a browser measures them; the tests measure them again.
_REGULAR: Final[Mapping[int, str]] = {
    191: "'",
    222: "ijl’",
    278: "  !,./:;I[\\]ft·",
    333: "()-`r“”",
    334: "{}",
    355: '"',
    389: "*",
    400: "°",
    500: "Jcksvxyz",
    556: "#$0123456789?L_abdeghnopqu–",
    584: "+<=>~×−",
    611: "FTZ",
    667: "&ABEKPSVXY",
    722: "CDHNRUw",
    778: "GOQ",
    834: "½¼¾",
    889: "%",
    944: "W",
    1000: "—…",
    1015: "@",
}
_BOLD: Final[Mapping[int, str]] = {
    238: "'",
    278: "  ,./I\\ijl·’",
    333: "!()-:;[]`ft",
    389: "*r{}",
    400: "°",
    474: '"',
    500: "z“”",
    556: "#$0123456789J_aceksvxy–",
    584: "+<=>~×−",
    611: "?FLTZbdghnopqu",
    667: "EPSVXY",
    722: "&ABCDHKNRU",
    778: "GOQw",
    834: "½¼¾",
    889: "%m",
    944: "W",
    975: "@",
    1000: "—…",
}
_NOT_LISTED: Final = 1_100  # wider than any letter listed, and than an ideograph


def _by_character(table: Mapping[int, str]) -> Mapping[str, int]:
    return {character: width for width, characters in table.items() for character in characters}


WIDTHS: Final[Mapping[bool, Mapping[str, int]]] = {False: _by_character(_REGULAR), True: _by_character(_BOLD)}
"""Width of a character in thousandths of the size: `WIDTHS[bold][character]`."""


@cache
def text_width(text: str, size: float, *, bold: bool = False) -> float:
    """Width of a line of text at a size, px, with what another sans may need more."""
    widths = WIDTHS[bold]
    return _SLACK * size * sum(widths.get(character, _NOT_LISTED) for character in text) / 1000.0


def text_height(size: float) -> float:
    """Height from the top of the tallest letter's line to the bottom of the deepest, px."""
    return size * (ASCENT + DESCENT)
