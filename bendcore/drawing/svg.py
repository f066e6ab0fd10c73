"""The text of one SVG drawing: elements by class, escaped, with ids of its own."""

import hashlib
import math
import re
from collections.abc import Mapping, Sequence
from typing import Final
from xml.sax.saxutils import escape, quoteattr

from bendcore.drawing.lettering import SMALLEST
from bendcore.drawing.plane import Spot
from bendcore.drawing.style import attributes

_ID: Final = "\x00"
"""Stands for the drawing's id until the content that gives it is known. No text can hold it: see `clean`."""

_PREFIX: Final = re.compile(r"[A-Za-z][A-Za-z0-9_-]{0,63}")

# What XML 1.0 has no place for (section 2.2, production Char); beside it the controls of U+007F to U+009F,
# and those that turn the direction of writing, which would set a figure backwards.
_NOT_DRAWN: Final = re.compile(
    "[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff\u200e\u200f\u202a-\u202e\u2066-\u2069]"
)

_MARKUP: Final = {"'": "&#39;", '"': "&quot;"}


def clean(text: str) -> str:
    """Text from outside, fit for a line of a drawing: no control characters, breaks and tabs as one space."""
    return " ".join(_NOT_DRAWN.sub("", text).split())


def number(value: float) -> str:
    """A coordinate, to a hundredth of a px. Raises ValueError when it is not finite."""
    if not math.isfinite(value):
        raise ValueError(f"a drawing has finite coordinates only: {value!r}")
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


class Drawing:
    """Elements in the order they are painted. paper: write their looks out, else leave them to a sheet."""

    def __init__(self, *, paper: bool) -> None:
        self._paper = paper
        self._parts: list[str] = []

    def line(self, classes: str, a: Spot, b: Spot) -> None:
        """A straight line."""
        self._add("line", classes, x1=a[0], y1=a[1], x2=b[0], y2=b[1])

    def path(
        self, classes: str, spots: Sequence[Spot], *, closed: bool = False, width: float | None = None
    ) -> None:
        """A line through places, or the outline they make. width: of the line, where the class has none."""
        steps = "L".join(f"{number(x)} {number(y)}" for x, y in spots)
        given = {} if width is None else {"stroke-width": width}
        self._add("path", classes, d=f"M{steps}{'Z' if closed else ''}", **given)

    def arc(self, classes: str, centre: Spot, *, radius: float, start: float, sweep: float) -> None:
        """An arc of a circle. start, sweep: degrees clockwise from 12; sweep up to a half turn, not 0."""
        a, b = (_on_clock(centre, radius, angle) for angle in (start, start + sweep))
        size, turn = number(radius), 1 if sweep > 0.0 else 0
        self._add(
            "path",
            classes,
            d=f"M{number(a[0])} {number(a[1])}A{size} {size} 0 0 {turn} {number(b[0])} {number(b[1])}",
        )

    def circle(self, classes: str, centre: Spot, radius: float) -> None:
        """A circle."""
        self._add("circle", classes, cx=centre[0], cy=centre[1], r=radius)

    def rect(
        self, classes: str, *, x: float, y: float, width: float, height: float, fill: str | None = None
    ) -> None:
        """An upright rectangle. fill: name of a gradient or pattern of this drawing."""
        given = {} if fill is None else {"fill": f"url(#{_ID}-{fill})"}
        self._add("rect", classes, x=x, y=y, width=width, height=height, **given)

    def text(self, classes: str, spot: Spot, text: str, *, size: float, anchor: str = "start") -> None:
        """A line of text. spot: its anchor (`start`, `middle`, `end`) on the baseline. size: px."""
        assert size >= SMALLEST, f"{text} would be set at {size} px"  # noqa: S101 - our own slip
        given: dict[str, str | float] = {"x": spot[0], "y": spot[1], "font-size": size}
        if anchor != "start":
            given["text-anchor"] = anchor
        self._parts.append(f"<text{self._attributes(classes, given)}>{escape(text, _MARKUP)}</text>")

    def gradient(self, name: str, stops: Sequence[tuple[str, float]]) -> None:
        """A gradient from top to bottom. stops: class and part of the height."""
        inner = "".join(f"<stop{self._attributes(classes, {'offset': at})}/>" for classes, at in stops)
        self._parts.append(
            f'<defs><linearGradient id="{_ID}-{name}" x1="0" y1="0" x2="0" y2="1">{inner}'
            "</linearGradient></defs>"
        )

    def hatch(self, name: str, classes: str, pitch: float) -> None:
        """A pattern of slanting lines."""
        size = number(pitch)
        line = f"<line{self._attributes(classes, {'x1': 0.0, 'y1': 0.0, 'x2': 0.0, 'y2': pitch})}/>"
        self._parts.append(
            f'<defs><pattern id="{_ID}-{name}" width="{size}" height="{size}" patternUnits="userSpaceOnUse" '
            f'patternTransform="rotate(45)">{line}</pattern></defs>'
        )

    def finish(
        self, kind: str, *, width: float, height: float, title: str, desc: str, prefix: str | None
    ) -> str:
        """The drawing's text.

        kind: its class beside `dwg`.  prefix: of its ids; without one it is made from the content, so that
        different drawings on a page never share an id. The same drawing twice wants a prefix each.
        Raises ValueError for a prefix that is no name.
        """
        if prefix is not None and _PREFIX.fullmatch(prefix) is None:
            raise ValueError(
                f"an id begins with a letter and goes on in letters, digits, - and _: {prefix!r}"
            )
        size = f"{number(width)} {number(height)}"
        body = (
            f'<title id="{_ID}-t">{escape(clean(title), _MARKUP)}</title>'
            f'<desc id="{_ID}-d">{escape(clean(desc), _MARKUP)}</desc>' + "".join(self._parts)
        )
        given: dict[str, str | float] = {
            "viewBox": f"0 0 {size}",
            "role": "img",
            "aria-labelledby": f"{_ID}-t",
            "aria-describedby": f"{_ID}-d",
        }
        if self._paper:
            given |= {"width": width, "height": height}
        looks = self._attributes(f"dwg dwg-{kind}", given)
        text = f'<svg xmlns="http://www.w3.org/2000/svg"{looks}>{body}</svg>'
        own = prefix or "d" + hashlib.sha256(text.encode()).hexdigest()[:12]
        return text.replace(_ID, own)

    def _add(self, tag: str, classes: str, **given: str | float) -> None:
        self._parts.append(f"<{tag}{self._attributes(classes, given)}/>")

    def _attributes(self, classes: str, given: Mapping[str, str | float]) -> str:
        look = attributes(classes)  # also on screen: a class without a style is a slip in either
        named: Mapping[str, str | float]
        # What an element gives itself goes before its class: a fill by pattern, a tube's own width.
        named = {**look, **given} if self._paper else {"class": classes, **given}
        return "".join(f" {name}={_quoted(value)}" for name, value in named.items())


def _quoted(value: str | float) -> str:
    return quoteattr(value) if isinstance(value, str) else f'"{number(value)}"'


def _on_clock(centre: Spot, radius: float, angle: float) -> Spot:
    turn = math.radians(angle)
    return (centre[0] + radius * math.sin(turn), centre[1] - radius * math.cos(turn))


def arrow_head(tip: Spot, back: Spot, *, size: float) -> tuple[Spot, Spot, Spot]:
    """The three corners of an arrowhead at `tip` whose line comes from `back`. size: its length, px."""
    dx, dy = tip[0] - back[0], tip[1] - back[1]
    long = math.hypot(dx, dy) or 1.0
    ux, uy = dx / long, dy / long
    half = size / 3.0
    foot = (tip[0] - size * ux, tip[1] - size * uy)
    return (tip, (foot[0] - half * uy, foot[1] + half * ux), (foot[0] + half * uy, foot[1] - half * ux))
