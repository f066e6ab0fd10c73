"""The strip: the straight stick to scale in length, with what the pencil and the eye need on it."""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from bendcore import tape
from bendcore.drawing.lettering import ASCENT, DESCENT, text_height, text_width
from bendcore.drawing.plane import Spot
from bendcore.drawing.said import (
    angle_said,
    counted,
    end_said,
    listed,
    ordinal,
    run_said,
    stick_of,
    stick_said,
)
from bendcore.drawing.spread import Dropped, Figure, Flag, Flown, drop, fly, free_row
from bendcore.drawing.svg import Drawing, arrow_head
from bendcore.ends import StickEnd
from bendcore.planned import Plan, PlannedBend, Stick
from bendcore.units import Mm, Units
from bendcore.words import Dialect, term

LEAST_WIDTH: Final = 200.0
"""A strip narrower than this, px, has no room for its figures."""

_NARROW: Final = 480.0
_GAP: Final = 4.0
_NEAR: Final = 4.0  # marks nearer than this, px, share one place for their figures
_EDGE: Final = 2.0
_SHOWS_OVER: Final = 6.0  # how far a mark stands out over the tube
_ARROW: Final = 9.0
_THREAD_PITCH: Final = 2.6
_LINES: Final = 6  # of a thread, one less
_LONG_LINES: Final = 13
_BAR: Final = 3.0  # height of the bars of least straights, px
_JOINED: Final = 12.0  # width of a coupler, px

# What is drawn round the far end, by its kind: from the end, width, how far it stands out over the tube, px.
_FITTED: Final[Mapping[str, Sequence[tuple[float, float, float]]]] = {
    "coupler": ((-5.0, _JOINED, 3.5),),
    "running_coupler": ((-5.0, _JOINED, 3.5), (-9.5, 4.5, 4.5)),
    "union": ((-5.0, _JOINED, 3.5), (-1.5, 5.0, 5.5)),
    "draw_in_box": ((-1.0, _JOINED, 7.0),),
    "inspection_bend": ((-4.0, _JOINED, 5.0),),
    "tee": ((-4.0, _JOINED, 5.0),),
    "bought_bend": ((-5.0, _JOINED, 3.5),),
}
_LEAST_ARC: Final = 12.0  # a smaller roll, degrees, is told by the pointer alone


@dataclass(frozen=True, slots=True)
class _Lettering:
    """How a bend is labelled: by dial, angle, number and roll; or without the roll's figure, or the dial."""

    dial: float  # radius, px; 0: none
    angle_size: float
    small_size: float
    with_roll: bool
    most_rows: int
    with_order: bool = True

    @property
    def text_left(self) -> float:
        """From the pole to the text."""
        return self.dial + 7.0 if self.dial else 4.0

    @property
    def first_baseline(self) -> float:
        return ASCENT * self.angle_size

    @property
    def second_baseline(self) -> float:
        return text_height(self.angle_size) + 0.5 + ASCENT * self.small_size

    @property
    def height(self) -> float:
        return text_height(self.angle_size) + 0.5 + text_height(self.small_size)

    def texts(self, bend: PlannedBend, order: str, held: str) -> tuple[str, str, str]:
        """Angle; what stands beside it; what stands under it.

        order: when it is made, held: which end is held, where either has to be told.
        """
        number = f"bend {bend.number}{order if self.with_order else ''}"
        if self.with_roll:
            return tape.degrees(bend.angle), number, f"roll {tape.degrees(bend.roll)}{held}"
        return tape.degrees(bend.angle), "", number

    def beside_left(self, angle: str) -> float:
        """From the pole to what stands beside the angle."""
        return self.text_left + text_width(angle, self.angle_size, bold=True) + 4.0

    def flag(self, at: float, texts: tuple[str, str, str]) -> Flag:
        """The label as a flag on its pole."""
        angle, beside, under = texts
        first = self.text_left + text_width(angle, self.angle_size, bold=True)
        if beside:
            first = self.beside_left(angle) + text_width(beside, self.small_size)
        second = self.text_left + text_width(under, self.small_size)
        return Flag(at, self.dial + 1.0, max(first, second))


_MOST_FLOWN: Final = 12  # rows of labels or figures on bent lines

_LETTERINGS: Final = (
    _Lettering(13.0, 15.0, 13.0, with_roll=True, most_rows=2),
    _Lettering(10.0, 14.0, 12.0, with_roll=False, most_rows=3),
    _Lettering(0.0, 13.0, 11.0, with_roll=False, most_rows=3),
    _Lettering(0.0, 13.0, 11.0, with_roll=False, most_rows=_MOST_FLOWN, with_order=False),
)
_ROW_GAP: Final = 7.0
_CUT_TO: Final = "cut to"
_THREAD_SAID: Final = {"factory": "factory thread", "cut": "cut thread", "long": "long thread"}
_MOST_ROWS: Final = 4  # of figures on straight lines; deeper ones are better spread out
_BESIDE_POLE: Final = 4.0


@dataclass(frozen=True, slots=True)
class _Line:
    """One line of a figure under the dimension line."""

    at: float
    text: str
    size: float
    held: bool = False
    cut: bool = False  # it is the cut length, not a mark


@dataclass(frozen=True, slots=True)
class _Figured:
    """Figures that share a place, their marks being too near to tell apart: usually one."""

    lines: tuple[_Line, ...]

    @property
    def at(self) -> float:
        return (self.lines[0].at + self.lines[-1].at) / 2.0

    @property
    def width(self) -> float:
        return max(text_width(line.text, line.size, bold=True) for line in self.lines)

    @property
    def asked(self) -> Figure:
        """What room it wants."""
        return Figure(self.at, self.width, len(self.lines))


@dataclass(frozen=True, slots=True)
class _Word:
    """A word among the figures."""

    left: float
    row: int
    text: str


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of figures."""

    top: float
    baseline: float


@dataclass(frozen=True, slots=True)
class _Scale:
    """From mm along the stick to px across the sheet."""

    zero: float
    px_per_mm: float

    def at(self, along: Mm) -> float:
        return self.zero + along * self.px_per_mm


def strip(
    plan: Plan,
    number: int,
    *,
    units: Units = Units.MM,
    dialect: Dialect = Dialect.UK,
    width: float = 720.0,
    paper: bool = True,
    highlight: int | None = None,
    span: Mm | None = None,
    prefix: str | None = None,
) -> str:
    """The straight stick to scale in length, as SVG text: marks, bend zones, rolls, running dimensions.

    number: of the stick in the run, from 1.  width: px, 200 or more; the height follows from the bends.
    paper: looks as attributes, else as classes for the page's sheet.  highlight: number of the bend in hand.
    span: mm that the full width stands for, so that strips on one page share a scale; at least the stick's
    length.  prefix: of the ids, for the same drawing twice on a page.
    Raises ValueError for a stick, bend, width, span or prefix that is not there or not allowed.
    """
    stick = stick_of(plan, number)
    if not width >= LEAST_WIDTH:
        raise ValueError(f"a strip is {LEAST_WIDTH:g} px wide or more, not {width:g}")
    if highlight is not None and not 1 <= highlight <= len(stick.bends):
        raise ValueError(f"the stick has {counted(len(stick.bends), 'bend')}; there is no bend {highlight}")
    if span is not None and not span >= stick.cut_length:
        raise ValueError(f"a span of {span:g} mm is less than the stick's {stick.cut_length:g} mm")
    return _Strip(
        plan, stick, units=units, dialect=dialect, width=width, highlight=highlight, span=span
    ).draw(paper=paper, prefix=prefix)


class _Strip:
    """One strip: what stands where, from the top down."""

    def __init__(
        self,
        plan: Plan,
        stick: Stick,
        *,
        units: Units,
        dialect: Dialect,
        width: float,
        highlight: int | None,
        span: Mm | None,
    ) -> None:
        self.plan, self.stick, self.units, self.dialect = plan, stick, units, dialect
        self.width, self.highlight, self.span = width, highlight, span
        self.threaded = plan.conduit.joining == "threaded"
        narrow = width < _NARROW
        self.margins = (16.0, 14.0) if narrow else (26.0, 22.0)
        self.figure_size = 13.0 if narrow else 15.0
        self.small_size = 12.0 if narrow else 13.0
        self.tube_height = 18.0 if narrow else 20.0
        # in the order of their marks, which need not be the bends': each is marked for its own held end
        self.bends = sorted(stick.bends, key=lambda bend: (bend.set.mark, bend.number))
        self.out_of_order = any(bend.order not in (None, bend.number) for bend in stick.bends)
        self.scale = self._scaled()
        # Where there are too many for the sheet, the bend in hand alone is told.
        held = [bend for bend in self.bends if bend.number == highlight]
        figures = self._lay_figures(self.bends) or self._lay_figures(held)
        letterings = _LETTERINGS[1:] if narrow else _LETTERINGS
        labels = self._lay_labels(self.bends, letterings)
        self.labelled = held if labels is None else self.bends
        labels = labels or self._lay_labels(held, letterings)
        assert figures is not None  # noqa: S101 - two figures always go
        assert labels is not None  # noqa: S101 - one label always goes
        self.figures, self.places, self.poles = figures
        self.lettering, self.flown = labels

        self.label_pitch = self.lettering.height + _ROW_GAP
        self.label_rows = max((flown.row + 1 for flown in self.flown), default=0)
        self.band_top = 3.0 + self.label_rows * self.label_pitch
        self.band_bottom = self.band_top + _band(
            abs(flown.pole - self._at(bend)) for flown, bend in self._labelled()
        )
        self.tube_top = self.band_bottom + 3.0 + _SHOWS_OVER
        self.tube_bottom = self.tube_top + self.tube_height
        self.dim_y = self.tube_bottom + 27.0
        self.words = self._lay_words()
        self.rows = self._lay_rows()

    # ---------------------------------------------------------------------------------- what goes where

    def _at(self, bend: PlannedBend) -> float:
        return self.scale.at(bend.set.mark)

    def _texts(self, lettering: _Lettering, bend: PlannedBend) -> tuple[str, str, str]:
        """The words of a bend's label; its order only where bends are not made 1 to n."""
        order = f", {ordinal(bend.order)}" if self.out_of_order and bend.order is not None else ""
        held = f", {term('far_end', self.dialect)} held" if bend.held == "finish" else ""
        return lettering.texts(bend, order, held)

    def _labelled(self) -> list[tuple[Flown, PlannedBend]]:
        return list(zip(self.flown, self.labelled, strict=True))

    def _lay_figures(
        self, bends: Sequence[PlannedBend]
    ) -> tuple[list[_Figured], list[Dropped], list[float] | None] | None:
        """Figures, where they stand under the dimension line, and, where lines have to bend, the poles."""
        figures = self._clusters(bends, _NEAR)
        asked = [figure.asked for figure in figures]
        places = drop(asked, gap=_GAP, left=_EDGE, right=self.width - _EDGE)
        if places is not None:
            deep = max(place.row + len(each.lines) for each, place in zip(figures, places, strict=True))
            if deep <= _MOST_ROWS:
                return figures, places, None
        # Marks nearer than their figures are wide, all along: figures fly like the labels, upside down.
        alone = self._clusters(bends, 0.0)
        flags = [Flag(figure.at, 0.0, _BESIDE_POLE + figure.width) for figure in alone]
        for rows in range(2, _MOST_FLOWN + 1):
            flown = fly(flags, rows, gap=_GAP, left=_EDGE, right=self.width - _EDGE)
            if flown is not None:
                places = [Dropped(each.pole + _BESIDE_POLE, each.row) for each in flown]
                return alone, places, [each.pole for each in flown]
        return None

    def _scaled(self) -> _Scale:
        left, right = self.margins
        # a mark may fall off the stick: it is shown where it falls
        marks = [bend.set.mark for bend in self.bends]
        first = min([0.0, *marks])
        last = max([self.span or 0.0, self.stick.cut_length, *marks])
        px_per_mm = (self.width - left - right) / (last - first)
        return _Scale(left - first * px_per_mm, px_per_mm)

    def _clusters(self, bends: Sequence[PlannedBend], near: float) -> list[_Figured]:
        """Figures in the order of their marks, those nearer than `near` px together."""
        size, scale = self.figure_size, self.scale
        lines = []
        for bend in bends:
            held = bend.number == self.highlight
            text = tape.read(bend.set.mark, self.units)
            lines.append(_Line(scale.at(bend.set.mark), text, size * 1.3 if held else size, held=held))
        cut = tape.read(self.stick.cut_length, self.units)
        lines.append(_Line(scale.at(self.stick.cut_length), cut, size, cut=True))
        lines.sort(key=lambda line: line.at)
        groups: list[list[_Line]] = []
        for line in lines:
            if groups and line.at - groups[-1][-1].at < near:
                groups[-1].append(line)
            else:
                groups.append([line])
        return [_Figured(tuple(group)) for group in groups]

    def _lay_words(self) -> list[_Word]:
        """The ends' names, wherever they go, with their threads; and before the last figure what it is.

        The far end is named where its thread is told; what does not go in the first rows is left out.
        """
        figures = [figure.asked for figure in self.figures]
        name, size = term("datum_end", self.dialect), self.small_size
        left = max(_EDGE, self.scale.zero - 5.0)
        if self.poles is not None:
            return [_Word(left, 1 + max(place.row for place in self.places), name)]

        def row_of(left: float, text: str) -> int:
            return free_row(figures, self.places, left=left, width=text_width(text, size), gap=_GAP)

        cut = self.places[
            next(i for i, figure in enumerate(self.figures) if any(line.cut for line in figure.lines))
        ]
        row = row_of(left, name)
        words: list[_Word] = []
        if self.stick.finish.thread:
            text = _THREAD_SAID[self.stick.finish.thread]
            end = min(self.width - _EDGE, self.scale.at(self.stick.cut_length) + 12.0)
            start = end - text_width(text, size)
            below = row_of(start, text)
            beside = below != row or left + text_width(name, size) + _GAP <= start
            if start >= _EDGE and below <= cut.row + 1 and beside:
                words.append(_Word(start, below, text))
        if self.stick.start.thread:
            told = f"{name}, {_THREAD_SAID[self.stick.start.thread]}"
            right, below = left + text_width(told, size), row_of(left, told)
            # a row for it alone is not worth it
            deepest = max([row, *(word.row for word in words), *(place.row for place in self.places)])
            clear = all(word.row != below or right + _GAP <= word.left for word in words)
            if right <= self.width - _EDGE and below <= deepest and clear:
                name, row = told, below
        right = left + text_width(name, size)
        words.insert(0, _Word(left, row, name))
        before = cut.left - _GAP - text_width(_CUT_TO, size)
        room = right + _GAP if row == cut.row else _EDGE
        taken = free_row(figures, self.places, left=before, width=cut.left - _GAP - before, gap=_GAP - 0.1)
        if before >= room and taken == cut.row:
            words.append(_Word(before, cut.row, _CUT_TO))
        return words

    def _lay_rows(self) -> list[_Row]:
        """Where each row of figures stands."""
        sizes: dict[int, float] = {}
        for figure, place in zip(self.figures, self.places, strict=True):
            for row, line in enumerate(figure.lines, start=place.row):
                sizes[row] = max(sizes.get(row, 0.0), line.size)
        for word in self.words:
            sizes.setdefault(word.row, self.small_size)
        rows = []
        top = self.dim_y + 9.0
        if self.poles is not None:
            top += _band(abs(pole - figure.at) for pole, figure in zip(self.poles, self.figures, strict=True))
        for row in range(max(sizes) + 1):
            size = sizes.get(row, self.small_size)
            rows.append(_Row(top, top + ASCENT * size))
            top += text_height(size) + 1.5
        return rows

    def _lay_labels(
        self, bends: Sequence[PlannedBend], letterings: Sequence[_Lettering]
    ) -> tuple[_Lettering, list[Flown]] | None:
        """The fullest lettering that needs few rows, and its flags."""
        for lettering in letterings:
            flags = [lettering.flag(self._at(bend), self._texts(lettering, bend)) for bend in bends]
            for rows in range(1, min(lettering.most_rows, max(len(flags), 1)) + 1):
                flown = fly(flags, rows, gap=_GAP, left=_EDGE, right=self.width - _EDGE)
                if flown is not None:
                    return lettering, flown
        return None

    # ---------------------------------------------------------------------------------- drawing

    def draw(self, *, paper: bool, prefix: str | None) -> str:
        """The whole strip."""
        out = Drawing(paper=paper)
        self._tube(out)
        for flown, bend in self._labelled():
            self._label(out, flown, bend)
        self._dimension_line(out)
        self._figure_rows(out)
        last = self.rows[-1]
        return out.finish(
            "strip",
            width=self.width,
            height=last.baseline + DESCENT * self.figure_size * 1.3 + 3.0,
            title=f"Strip of {run_said(self.plan)}, {stick_said(self.stick.number, self.dialect)}",
            desc=self._desc(),
            prefix=prefix,
        )

    def _tube(self, out: Drawing) -> None:
        left, right = self.scale.zero, self.scale.at(self.stick.cut_length)
        out.gradient("g", (("g0", 0.0), ("g1", 0.28), ("g2", 0.62), ("g3", 1.0)))
        out.rect("st-tube", x=left, y=self.tube_top, width=right - left, height=self.tube_height, fill="g")
        if self.bends:
            out.hatch("z", "zl", 6.0)
        for bend in self.bends:
            begin, finish = self.scale.at(bend.begin), self.scale.at(bend.finish)
            held = " mk" if bend.number == self.highlight else ""
            out.rect(
                f"zone{held}",
                x=begin,
                y=self.tube_top,
                width=finish - begin,
                height=self.tube_height,
                fill="z",
            )
            self._least_straights(out, bend)
        self._threads(out, left, 1.0, self.stick.start)
        self._threads(out, right, -1.0, self.stick.finish)
        for x, width, over in _FITTED.get(self.stick.finish.kind, ()):
            out.rect(
                "coup", x=right + x, y=self.tube_top - over, width=width, height=self.tube_height + 2.0 * over
            )
        out.rect("datum", x=left - 5.0, y=self.tube_top - 7.0, width=5.0, height=self.tube_height + 14.0)
        for bend in self.bends:
            held = " mk" if bend.number == self.highlight else ""
            at = self._at(bend)
            out.line(f"mark{held}", (at, self.tube_top - _SHOWS_OVER), (at, self.tube_bottom + _SHOWS_OVER))

    def _least_straights(self, out: Drawing, bend: PlannedBend) -> None:
        """Beside a bend zone, the straight that it takes to hold (under the tube) and to swing (over it)."""
        bender = self.plan.bender
        if bender is None or bend.held is None:
            return
        begin, finish = float(bend.begin), float(bend.finish)
        if bend.held == "start":
            hold, swing = (begin - bender.hold_min, begin), (finish, finish + bender.swing_min)
        else:
            hold, swing = (finish, finish + bender.hold_min), (begin - bender.swing_min, begin)
        held = " mk" if bend.number == self.highlight else ""
        for classes, (low, high), y in (
            ("lean-h", hold, self.tube_bottom + 2.0),
            ("lean-s", swing, self.tube_top - 2.0 - _BAR),
        ):
            left = self.scale.at(Mm(max(low, 0.0)))
            right = self.scale.at(Mm(min(high, self.stick.cut_length)))
            if right - left >= 1.0:
                out.rect(f"{classes}{held}", x=left, y=y, width=right - left, height=_BAR)

    def _threads(self, out: Drawing, end: float, inward: float, kind: StickEnd) -> None:
        """Thread lines at an end that is screwed into something; up to the first bend."""
        if not self.threaded or kind.kind == "open":
            return  # an end of a run without joints has no told thread, and is screwed in all the same
        zones = [self.scale.at(at) for bend in self.bends for at in (bend.begin, bend.finish)]
        room = min((abs(at - end) for at in zones), default=20.0)
        for i in range(1, _LONG_LINES if kind.thread == "long" else _LINES):
            if i * _THREAD_PITCH > room:
                break
            at = end + inward * i * _THREAD_PITCH
            out.line("thr", (at + 0.7, self.tube_top + 1.5), (at - 0.7, self.tube_bottom - 1.5))

    def _label(self, out: Drawing, flown: Flown, bend: PlannedBend) -> None:
        lettering, held = self.lettering, " mk" if bend.number == self.highlight else ""
        pole, mark = flown.pole, self._at(bend)
        top = 3.0 + (self.label_rows - 1 - flown.row) * self.label_pitch
        middle = top + lettering.height / 2.0
        start = middle + lettering.dial if lettering.dial else top + 2.0
        foot = self.tube_top - _SHOWS_OVER
        spots = [(pole, start), (pole, self.band_top), (mark, self.band_bottom), (mark, foot)]
        if abs(pole - mark) < 0.05:
            spots = [(mark, start), (mark, foot)]
        out.path(f"ldr{held}", spots)
        if lettering.dial:
            _dial(out, (pole, middle), lettering.dial, bend, held)
        angle, beside, under = self._texts(lettering, bend)
        left, first, second = (
            pole + lettering.text_left,
            top + lettering.first_baseline,
            top + lettering.second_baseline,
        )
        out.text(f"t-b{held}", (left, first), angle, size=lettering.angle_size)
        if beside:
            out.text(
                f"t-s{held}", (pole + lettering.beside_left(angle), first), beside, size=lettering.small_size
            )
        out.text(f"t-s{held}", (left, second), under, size=lettering.small_size)

    def _dimension_line(self, out: Drawing) -> None:
        y, zero = self.dim_y, self.scale.zero
        marks = [(self._at(bend), bend.number == self.highlight) for bend in self.bends]
        stops = sorted([*marks, (self.scale.at(self.stick.cut_length), False)])
        out.line("dim", (min(zero, stops[0][0]), y), (stops[-1][0], y))
        held = next((at for at, is_held in stops if is_held), None)
        out.line("ext", (zero, self.tube_bottom + 9.0), (zero, y))
        top = self.tube_bottom + 8.0
        for i, (figure, place) in enumerate(zip(self.figures, self.places, strict=True)):
            foot = y + 6.0 if place.row == 0 else self.rows[place.row].top - 1.0
            for line in figure.lines:
                classes = "ext mk" if line.held else "ext"
                if self.poles is None:
                    out.line(classes, (line.at, top), (line.at, foot))
                else:
                    pole, bend = self.poles[i], self.rows[0].top - 2.0
                    foot = self.rows[place.row].baseline
                    out.path(classes, [(line.at, top), (line.at, y + 6.0), (pole, bend), (pole, foot)])
        if held is not None:
            out.line("dim mk2", (zero, y), (held, y))
        backs = [zero, *(at for at, _ in stops)]
        for back, (tip, is_held) in zip(backs, stops, strict=False):
            # a mark before the datum end is measured the other way
            _running_arrow(out, (tip, y), back=zero if tip < zero else max(back, zero), held=is_held)
        out.circle("org" if held is None else "org mk", (zero, y), 4.5)

    def _figure_rows(self, out: Drawing) -> None:
        for figure, place in zip(self.figures, self.places, strict=True):
            for row, line in enumerate(figure.lines, start=place.row):
                spot = (place.left + figure.width / 2.0, self.rows[row].baseline)
                out.text("t-b mk" if line.held else "t-b", spot, line.text, size=line.size, anchor="middle")
        for word in self.words:
            out.text("t-s", (word.left, self.rows[word.row].baseline), word.text, size=self.small_size)

    # ---------------------------------------------------------------------------------- told in words

    def _bend_said(self, bend: PlannedBend) -> str:
        """A bend in a sentence: with its order and its held end where these are not the usual."""
        dialect = self.dialect
        told = (
            f"Bend {bend.number}: {angle_said(bend.angle)}, mark {tape.say(bend.set.mark, self.units)} "
            f"from the {term('datum_end', dialect)}, roll {angle_said(bend.roll)}"
        )
        if self.out_of_order and bend.order is not None:
            told += f", made {ordinal(bend.order)}"
        if bend.held == "finish":
            told += f", {term('far_end', dialect)} held"
        return f"{told}."

    def _desc(self) -> str:
        units, dialect, stick = self.units, self.dialect, self.stick
        said = [
            f"Straight {term('stick', dialect)}, cut to {tape.say(stick.cut_length, units)}. "
            "Drawn to scale in length; the diameter is drawn larger.",
            f"At the {term('datum_end', dialect)}: {_end_with_thread(stick.start, dialect)}. "
            f"At the {term('far_end', dialect)}: {_end_with_thread(stick.finish, dialect)}.",
        ]
        said += [self._bend_said(bend) for bend in stick.bends]
        if not stick.bends:
            said.append("No bends.")
        elif len(self.labelled) < len(self.bends):
            said.append("There are too many bends to label each in the drawing.")
        elif not self.lettering.with_roll:
            left_out = "The figures of the rolls" if self.lettering.dial else "The rolls"
            said.append(f"{left_out} are left out of the drawing for want of room.")
        if self.out_of_order and not self.lettering.with_order:
            said.append("The order of the bends is left out of the drawing for want of room.")
        if sum(len(figure.lines) for figure in self.figures) < len(self.bends) + 1:
            said.append("There are too many marks for each to have its figure in the drawing.")
        off = [bend for bend in stick.bends if not 0.0 <= bend.set.mark <= stick.cut_length]
        if off:
            which = listed(str(bend.number) for bend in off)
            said.append(f"Off the {term('stick', dialect)}: the mark of bend {which}.")
        return " ".join(said)


def _end_with_thread(end: StickEnd, dialect: Dialect) -> str:
    """What stands at an end, and its thread where it has one."""
    told = end_said(end, dialect)
    return told if end.thread is None else f"{told}, {_THREAD_SAID[end.thread]}"


def _band(apart: Iterable[float]) -> float:
    """Height of the band in which leaders run aslant, for how far each has to go sideways, px."""
    return 4.0 + min(0.25 * max(apart, default=0.0), 28.0)


def _dial(out: Drawing, centre: Spot, radius: float, bend: PlannedBend, held: str) -> None:
    """The roll as a clock, seen from the datum end: 12 is the way bend 1 closes, plus is clockwise."""
    out.circle(f"dial{held}", centre, radius)
    if abs(bend.roll) >= _LEAST_ARC:
        out.arc(f"dial-arc{held}", centre, radius=0.62 * radius, start=0.0, sweep=bend.roll)
    turn = math.radians(bend.roll)
    hand = (centre[0] + radius * math.sin(turn), centre[1] - radius * math.cos(turn))
    out.line(f"dial-p{held}", centre, hand)
    out.circle(f"dial-c{held}", centre, 1.8)


def _running_arrow(out: Drawing, tip: Spot, *, back: float, held: bool) -> None:
    """An arrowhead on the running dimension line; shorter where the one before is near, or a dot."""
    away = abs(tip[0] - back)
    classes = "arw mk" if held else "arw"
    if away < 4.0:
        out.circle(classes, tip, 2.0)
        return
    size = min(13.0 if held else 9.0, away)
    out.path(classes, arrow_head(tip, (back, tip[1]), size=size), closed=True)
