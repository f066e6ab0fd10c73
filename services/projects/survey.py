"""A survey as a table: its columns, and the rooms, runs and rows that a table makes.

One line of the table is one row of a run. Headings are part of the file's format, so they are the same in
every language; what stands under them may be said in the words of the code, of Britain or of the United
States.
"""

import re
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cache
from typing import Any, Final, get_args, get_type_hints

from django.utils.translation import gettext as _

from bendcore.catalogue import conduit as conduit_row
from bendcore.spec import EndKind, FittingKind
from bendcore.units import Units
from bendcore.words import Dialect, term
from services.core.checks import Checks, said
from services.core.errors import FieldProblem, Invalid
from services.projects.models import Heading
from services.projects.rules import (
    FIELDS_OF,
    MEASURED,
    Row,
    RunChange,
    checked_rows,
    checked_run,
    parse_length,
    to_measure,
)

MOST_LINES: Final = 5_000
MOST_RUNS: Final = 500
MOST_PROBLEMS: Final = 200
"""That are told at once; the rest is counted."""

LONGEST_CELL: Final = 1_000
OPEN: Final = "?"
"""In a cell: not measured yet."""

NOTE: Final = "##"
"""Begins the first cell of a line that is passed over."""

Cell = str | int | float


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the file as a spreadsheet numbers it, from 1. cells: as text, from column A on."""

    number: int
    cells: tuple[str, ...]

    @property
    def is_blank(self) -> bool:
        """Whether nothing stands in it."""
        return not any(self.cells)


@dataclass(frozen=True, slots=True)
class Table:
    """What a file holds. decimal_comma: whether `1210,5` is a figure, as where semicolons part the cells.
    notes: how many lines were passed over."""

    lines: tuple[Line, ...]
    decimal_comma: bool = False
    notes: int = 0

    def to_json(self) -> dict[str, Any]:
        """As it is kept between preview and import."""
        return {
            "decimal_comma": self.decimal_comma,
            "notes": self.notes,
            "lines": [[line.number, list(line.cells)] for line in self.lines],
        }

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> "Table":
        """What `to_json` gave."""
        lines = tuple(Line(number, tuple(cells)) for number, cells in kept["lines"])
        return cls(lines, kept["decimal_comma"], kept["notes"])


@dataclass(frozen=True, slots=True)
class KnownFormer:
    """A former as a survey names it: by its bender and its conduit (the id in the catalogue)."""

    id: uuid.UUID
    bender: str
    conduit: str


@dataclass(frozen=True, slots=True)
class SurveyedRun:
    """A run of a survey, ready to be made. line: where it begins in the file. Lengths in mm."""

    room: str
    former: KnownFormer
    line: int
    head: RunChange
    rows: Sequence[Row]

    @property
    def label(self) -> str:
        """What is painted on its pieces."""
        return self.head["label"]

    @property
    def open_figures(self) -> int:
        """How many figures are still to measure."""
        return len(to_measure(self.rows))


@dataclass(frozen=True, slots=True)
class Survey:
    """What a table makes. problems: all that is wrong, in the order of the file, each at its place
    (`row 14, column F`); while there is one, nothing of it is made.

    count: of all problems, of which the first MOST_PROBLEMS are told.
    """

    runs: tuple[SurveyedRun, ...] = ()
    new_rooms: tuple[str, ...] = ()
    notes: int = 0
    units: Units | None = None
    problems: tuple[FieldProblem, ...] = ()
    count: int = 0

    def told(self) -> list[FieldProblem]:
        """The problems, and how many there are when these are not all."""
        if self.count <= len(self.problems):
            return list(self.problems)
        text = _("The file has %(count)d problems; the first %(told)d are told") % {
            "count": self.count, "told": len(self.problems)
        }  # fmt: skip
        return [FieldProblem("file", text, "too-many"), *self.problems]

    def require_sound(self) -> None:
        """Raises Invalid with what is wrong, if anything is."""
        if self.problems:
            raise Invalid(self.told())

    @property
    def rooms(self) -> dict[str, list[SurveyedRun]]:
        """The runs by room, as the file has them."""
        found: dict[str, list[SurveyedRun]] = {}
        for run in self.runs:
            found.setdefault(run.room, []).append(run)
        return found

    @property
    def rows(self) -> int:
        """Of all runs."""
        return sum(len(run.rows) for run in self.runs)

    @property
    def open_figures(self) -> int:
        """Of all runs."""
        return sum(run.open_figures for run in self.runs)


# ---------------------------------------------------------------------------------------------------- columns


@dataclass(frozen=True, slots=True)
class Column:
    """A column of the table.

    kind: `length`, `signed` (a length that may be below 0), `number`, `whole`, `choice` or `text`.
    of_run: whether it is said once a run, in its first line.  words: of a choice, what it is in code by what
    is said.
    """

    name: str
    title: str
    kind: str
    of_run: bool = False
    words: Mapping[str, str] = field(default_factory=dict)

    @property
    def is_length(self) -> bool:
        """Whether its heading names a unit."""
        return self.kind in ("length", "signed")

    def heading(self, units: Units) -> str:
        """What stands above it in a file of these units."""
        return f"{self.title}, {units.value}" if self.is_length else self.title


_TITLES: Final[Mapping[str, str]] = {
    "length_mm": "Length",
    "from": "Measured from",
    "to": "Measured to",
    "toward": "Toward",
}

_BESIDE_TERMS: Final[Mapping[str, tuple[str, ...]]] = {
    "saddle_set": ("saddle_set_3", "saddle_set_4"),
    "corner": ("centre",),
}
"""Words of the code whose trade words stand in the glossary under other names."""

_MORE_WORDS: Final[Mapping[str, tuple[str, ...]]] = {"saddle_set": ("saddle",)}


def _plain(text: str) -> str:
    """A word without what does not part it from others: case, blanks, hyphens."""
    return " ".join(text.casefold().replace("_", " ").replace("-", " ").split())


def _terms(code: str) -> list[str]:
    found = []
    for name in (code, *_BESIDE_TERMS.get(code, ())):
        for dialect in Dialect:
            try:
                found.append(term(name, dialect))
            except KeyError:
                break
    return [*found, *_MORE_WORDS.get(code, ())]


def _choice(codes: Iterable[str]) -> dict[str, str]:
    """By what is said, the word of the code. The words of the code win; a trade word that two of them share
    is left out."""
    own = {_plain(code): code for code in codes}
    said_of: dict[str, set[str]] = {}
    for code in own.values():
        for each in _terms(code):
            said_of.setdefault(_plain(each), set()).add(code)
    return {text: min(of) for text, of in said_of.items() if len(of) == 1} | own


@cache
def columns() -> tuple[Column, ...]:
    """The columns in the order of the template: those of the run, then every field that a row may have."""
    ways = _choice(Heading.values)
    ends = _choice(EndKind)
    head = (
        Column("room", "Room", "text", True),
        Column("label", "Run", "text", True),
        Column("from_place", "From", "text", True),
        Column("to_place", "To", "text", True),
        Column("bender", "Bender", "text", True),
        Column("conduit", "Conduit", "text", True),
        Column("heading", "Sets off", "choice", True, ways),
        Column("facing", "Facing", "text", True),
        Column("standoff_mm", "Off the wall", "signed", True),
        Column("start_kind", "Start", "choice", True, ends),
        Column("start_allowance_mm", "Start past the face", "signed", True),
        Column("finish_kind", "Finish", "choice", True, ends),
        Column("finish_allowance_mm", "Finish past the face", "signed", True),
    )
    return head + tuple(_row_column(name, hint, ways) for name, hint in get_type_hints(Row).items())


def _row_column(name: str, hint: Any, ways: Mapping[str, str]) -> Column:
    title = _TITLES.get(name) or re.sub("_(mm|deg)$", "", name).replace("_", " ").capitalize()
    types = set(get_args(hint)) or {hint}
    if name in ("from", "to"):
        return Column(name, title, "choice", words=_choice(MEASURED))
    if name == "then":
        return Column(name, title, "choice", words=_choice(FIELDS_OF))
    if name == "fitting":
        return Column(name, title, "choice", words=_choice(FittingKind))
    if name.endswith("toward"):
        return Column(name, title, "choice", words=ways)
    if name.endswith("_mm"):
        return Column(name, title, "length")
    if float in types:
        return Column(name, title, "number")
    return Column(name, title, "whole" if int in types else "text")


def row_columns() -> tuple[Column, ...]:
    """The columns of a row's own."""
    return tuple(each for each in columns() if not each.of_run)


NEEDED: Final = ("room", "label", "length_mm")
"""Without these there is no survey; a column that is left out otherwise is one in which nothing stands."""


def letter(column: int) -> str:
    """A column as a spreadsheet names it. column: from 0."""
    name = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        name = chr(ord("A") + rest) + name
    return name


def place(line: int, column: int | None = None) -> str:
    """A place in the file as a person finds it. line: from 1.  column: from 0."""
    if column is None:
        return f"row {line}"
    return f"row {line}, column {letter(column)}"


# --------------------------------------------------------------------------------------------------- checking


@dataclass(frozen=True, slots=True)
class _Trouble:
    line: int
    column: int | None
    text: str
    code: str

    def told(self) -> FieldProblem:
        return FieldProblem(place(self.line, self.column) if self.line else "file", self.text, self.code)


@dataclass(frozen=True, slots=True)
class _Layout:
    """Where the headings stand. at: column of the table (from 0) by its name."""

    line: int
    at: Mapping[str, int]
    units: Units


@dataclass(slots=True)
class _Open:
    """A run that is being read: its first line, its lines that have rows."""

    room: str
    label: str
    first: Line
    lines: list[Line] = field(default_factory=list)


def check(table: Table, *, formers: Sequence[KnownFormer], there: Mapping[str, Iterable[str]]) -> Survey:
    """The survey that a table makes, or all that is wrong with it.

    formers: those of the company.  there: the labels of the runs that the project has already, by room; a
    survey makes new runs alone.
    """
    return _Checking(table, formers, there).survey()


class _Checking:
    def __init__(
        self, table: Table, formers: Sequence[KnownFormer], there: Mapping[str, Iterable[str]]
    ) -> None:
        self.table = table
        self.formers = formers
        self.there = {room: set(labels) for room, labels in there.items()}
        self.troubles: list[_Trouble] = []
        self.by_name = {each.name: each for each in columns()}

    def refuse(self, line: int, column: int | None, text: str, code: str = "invalid") -> None:
        self.troubles.append(_Trouble(line, column, text, code))

    def refuse_cell(self, line: Line, name: str, text: str, code: str = "invalid") -> None:
        """text: goes on from the heading, as `is empty`."""
        self.refuse(line.number, self.layout.at.get(name), f"{self.by_name[name].title} {text}", code)

    def survey(self) -> Survey:
        body = [each for each in self.table.lines if not each.is_blank]
        layout = self._layout(body[0]) if body else None
        if not body:
            self.refuse(0, None, _("The file is empty; its first row has the headings of the template"))
        if layout is None:
            return self._done()
        self.layout = layout
        del body[0]
        if len(body) > MOST_LINES:
            self.refuse(
                0, None,
                _("The file has %(count)d rows; at most %(most)d are read at once")
                % {"count": len(body), "most": MOST_LINES},
                "too-many",
            )  # fmt: skip
            return self._done(units=layout.units)
        if not body:
            self.refuse(0, None, _("The file has headings and no rows under them"))
        opened = self._opened(body)
        if len(opened) > MOST_RUNS:
            self.refuse(
                0, None,
                _("The file has %(count)d runs; at most %(most)d are read at once")
                % {"count": len(opened), "most": MOST_RUNS},
                "too-many",
            )  # fmt: skip
        runs = [run for run in map(self._run, opened) if run is not None]
        rooms = dict.fromkeys(each.room for each in opened)
        return self._done(
            runs=tuple(runs),
            new_rooms=tuple(room for room in rooms if room not in self.there),
            units=layout.units,
        )

    def _done(self, **found: Any) -> Survey:
        # Within a row, what is wrong with the whole of it comes first.
        ordered = sorted(
            self.troubles, key=lambda each: (each.line, -1 if each.column is None else each.column)
        )
        return Survey(
            **found,
            notes=self.table.notes,
            problems=tuple(each.told() for each in ordered[:MOST_PROBLEMS]),
            count=len(ordered),
        )

    # ------------------------------------------------------------------------------------------- the headings

    def _layout(self, line: Line) -> _Layout | None:
        at: dict[str, int] = {}
        units: dict[str, int] = {}
        known = {_plain(each.title): each for each in columns()}
        for column, text in enumerate(line.cells):
            if not text:
                continue
            # What is far too long is no heading; to part it would take long.
            title, unit = _parted(text) if len(text) <= LONGEST_CELL else (text[:LONGEST_CELL], "")
            found = known.get(_plain(title))
            if found is None:
                self.refuse(
                    line.number, column,
                    _("The heading is %(text)s, which is none of a survey; there are %(titles)s")
                    % {"text": said(text), "titles": ", ".join(each.title for each in columns())},
                    "unknown",
                )  # fmt: skip
            elif found.name in at:
                self.refuse(
                    line.number, column,
                    _("The heading %(title)s stands a second time") % {"title": found.title},
                    "repeated",
                )  # fmt: skip
            else:
                at[found.name] = column
                self._unit(line, column, found, unit, units)
        for name in NEEDED:
            if name not in at:
                self.refuse(
                    line.number, None,
                    _("There is no column %(title)s; the first row that is no note has the headings")
                    % {"title": self.by_name[name].title},
                    "missing",
                )  # fmt: skip
        if len(units) > 1:
            self.refuse(
                line.number, max(units.values()),
                _("The headings name mm and in; all lengths of a file are in one of them"),
            )  # fmt: skip
        if self.troubles or len(units) != 1:
            return None
        return _Layout(line.number, at, Units(next(iter(units))))

    def _unit(self, line: Line, column: int, found: Column, unit: str, units: dict[str, int]) -> None:
        if not found.is_length:
            if unit:
                self.refuse(
                    line.number, column, _("The heading %(title)s has no unit") % {"title": found.title}
                )
        elif unit in _UNITS:
            units.setdefault(_UNITS[unit], column)
        else:
            self.refuse(
                line.number, column,
                _("The heading says no unit; write %(mm)s or %(inch)s")
                % {"mm": said(found.heading(Units.MM)), "inch": said(found.heading(Units.INCH))},
            )  # fmt: skip

    # ----------------------------------------------------------------------------------------------- the runs

    def _cell(self, line: Line, name: str) -> str:
        column = self.layout.at.get(name)
        return line.cells[column] if column is not None and column < len(line.cells) else ""

    def _opened(self, body: Sequence[Line]) -> list[_Open]:
        """The runs with their lines. A line that names no room or run goes on with the one above."""
        opened: list[_Open] = []
        begun: dict[tuple[str, str], int] = {}
        rooms = {_plain(name): name for name in self.there}
        headed = set(self.layout.at.values())
        room = ""
        now: _Open | None = None
        for line in body:
            self._stray(line, headed)
            told = self._cell(line, "room")
            if told and told != room:
                room, now = told, None
                alike = rooms.setdefault(_plain(told), told)
                if alike != told:
                    self.refuse_cell(
                        line, "room",
                        _("is %(told)s, and there is %(alike)s: write the two alike")
                        % {"told": said(told), "alike": said(alike)},
                    )  # fmt: skip
            label = self._cell(line, "label") or (now.label if now else "")
            if not room:
                self.refuse_cell(line, "room", _("is empty; the first row names one"), "missing")
                room = OPEN  # said once
            if now is None or label != now.label:
                if not label:
                    self.refuse_cell(
                        line, "label", _("is empty; the first row of a room names a run"), "missing"
                    )
                now = _Open(room, label, line)
                opened.append(now)
                if (room, label) in begun:
                    self.refuse_cell(
                        line, "label",
                        _("is %(label)s, which stands in row %(row)d already; the rows of a run follow one "
                          "another")
                        % {"label": said(label), "row": begun[room, label]},
                        "repeated",
                    )  # fmt: skip
                begun.setdefault((room, label), line.number)
            elif line is not now.first:
                self._same_head(now, line)
            if any(self._cell(line, each.name) for each in row_columns()):
                now.lines.append(line)
        return opened

    def _stray(self, line: Line, headed: set[int]) -> None:
        for column, text in enumerate(line.cells):
            if len(text) > LONGEST_CELL:
                self.refuse(
                    line.number, column,
                    _("has %(count)d characters; at most %(longest)d are read")
                    % {"count": len(text), "longest": LONGEST_CELL},
                )  # fmt: skip
            elif text and column not in headed:
                self.refuse(line.number, column, _("%(text)s stands under no heading") % {"text": said(text)})

    def _same_head(self, run: _Open, line: Line) -> None:
        for each in columns():
            if not each.of_run or each.name in ("room", "label"):
                continue
            told, first = self._cell(line, each.name), self._cell(run.first, each.name)
            if told and _plain(told) != _plain(first):
                self.refuse_cell(
                    line, each.name,
                    _("is %(told)s, and %(first)s in row %(row)d, where the run begins: it is said there")
                    % {"told": said(told), "first": said(first or None), "row": run.first.number},
                )  # fmt: skip

    def _run(self, run: _Open) -> SurveyedRun | None:
        before = len(self.troubles)
        line = run.first
        checks = Checks()
        room = run.room if run.room == OPEN else checks.text("room", run.room, longest=120)
        head = RunChange(
            label=run.label,
            from_place=self._known(line, "from_place"),
            to_place=self._known(line, "to_place"),
            heading=self._choice(line, "heading") or Heading.UP.value,
            standoff_mm=self._length(line, "standoff_mm") or 0.0,
            start_kind=self._choice(line, "start_kind") or EndKind.OPEN.value,
            start_allowance_mm=self._length(line, "start_allowance_mm"),
            finish_kind=self._choice(line, "finish_kind") or EndKind.OPEN.value,
            finish_allowance_mm=self._length(line, "finish_allowance_mm"),
            facing=self._known(line, "facing"),
        )
        if not run.label:  # told already
            head["label"] = OPEN
        kept = checked_run(checks, head)
        if run.label and run.label in self.there.get(run.room, ()):
            checks.refuse(
                "label",
                _("is %(label)s, a run that the room has already; a survey makes new runs alone")
                % {"label": said(run.label)},
                "taken",
            )
        for problem in checks.problems:
            self.refuse_cell(line, problem.where, problem.text, problem.code)
        former = self._former(line)
        rows = self._rows(run)
        if former is None or len(self.troubles) > before:
            return None
        return SurveyedRun(room, former, line.number, kept, rows)

    def _known(self, line: Line, name: str) -> str:
        text = self._cell(line, name)
        return "" if text == OPEN else text

    def _former(self, line: Line) -> KnownFormer | None:
        bender, conduit = self._known(line, "bender"), self._known(line, "conduit")
        found = [
            each
            for each in self.formers
            if (not bender or _plain(each.bender) == _plain(bender))
            and (not conduit or _plain(conduit) in (_plain(each.conduit), _plain(title_of(each.conduit))))
        ]
        if len(found) == 1:
            return found[0]
        names = "; ".join(f"{each.bender} · {title_of(each.conduit)}" for each in self.formers[:12])
        if not bender and not conduit:
            wrong = "bender"
            text = _("is empty, and so is Conduit")
        elif found:
            wrong = "conduit" if bender else "bender"
            text = _("is empty, and several formers fit")
        else:
            is_known = any(_plain(each.bender) == _plain(bender) for each in self.formers)
            wrong = "bender" if bender and not is_known else "conduit"
            text = _("is %(told)s, for which there is no former") % {
                "told": said(self._known(line, wrong) or None)
            }
        there = _("there are %(names)s") % {"names": names} if names else _("the company has none yet")
        self.refuse_cell(line, wrong, f"{text}; {there}", "not-a-choice")
        return None

    # ----------------------------------------------------------------------------------------------- the rows

    def _rows(self, run: _Open) -> list[Row]:
        unclear: set[int] = set()
        given: list[dict[str, object]] = []
        for index, line in enumerate(run.lines):
            row: dict[str, object] = {}
            for column in row_columns():
                text = self._cell(line, column.name)
                if not text or (text == OPEN and column.name not in ("from", "to", "then")):
                    continue
                value = self._value(line, column)
                if value is None:
                    unclear.add(index)
                else:
                    row[column.name] = value
            given.append(row)
        try:
            return checked_rows(given)
        except Invalid as error:
            for problem in error.problems:
                self._row_problem(run, problem, unclear)
        return []

    def _row_problem(self, run: _Open, problem: FieldProblem, unclear: set[int]) -> None:
        number, name = _row_place(problem.where)
        if number is None:
            self.refuse(run.first.number, None, _("The run %(text)s") % {"text": problem.text}, problem.code)
        elif number not in unclear:  # of a row that could not be read, no more can be said
            line = run.lines[number]
            if name in self.by_name:
                self.refuse_cell(line, name, problem.text, problem.code)
            else:
                self.refuse(line.number, None, f"{name} {problem.text}".strip(), problem.code)

    def _value(self, line: Line, column: Column) -> object:
        """What a cell says; None when it cannot be read, which has been told then."""
        if column.kind == "length":
            return self._length(line, column.name)
        if column.kind == "choice":
            return self._choice(line, column.name) or None
        if column.kind in ("number", "whole"):
            return self._number(line, column)
        return self._cell(line, column.name)

    def _length(self, line: Line, name: str) -> float | None:
        text = self._known(line, name)
        if not text:
            return None
        if self.table.decimal_comma:
            if _THOUSANDS.fullmatch(text):
                self.refuse_cell(
                    line, name,
                    _("is %(text)s, where the sign may part thousands or decimals; write it without")
                    % {"text": said(text)},
                )  # fmt: skip
                return None
            text = _COMMA.sub(".", text)
        try:
            signed = self.by_name[name].kind == "signed"
            return parse_length(text, self.layout.units.value, where=name, signed=signed)
        except Invalid as error:
            for problem in error.problems:
                self.refuse_cell(line, name, problem.text, problem.code)
        return None

    def _number(self, line: Line, column: Column) -> float | int | None:
        text = self._cell(line, column.name)
        plain = text.removesuffix("°").strip().replace("−", "-").replace(",", ".")
        if _NUMBER.fullmatch(plain) is None:
            self.refuse_cell(
                line, column.name, _("is %(text)s; write it as 90 or 22.5") % {"text": said(text)}
            )
            return None
        number = float(plain)
        return int(number) if column.kind == "whole" and number.is_integer() else number

    def _choice(self, line: Line, name: str) -> str:
        text = self._cell(line, name)
        if not text or (text == OPEN and self.by_name[name].of_run):
            return ""
        words = self.by_name[name].words
        found = words.get(_plain(text))
        if found is None:
            allowed = ", ".join(code.replace("_", " ") for code in dict.fromkeys(words.values()))
            self.refuse_cell(
                line, name,
                _("is %(text)s; allowed are %(words)s") % {"text": said(text), "words": allowed},
                "not-a-choice",
            )  # fmt: skip
        return found or ""


_UNITS: Final[Mapping[str, str]] = {"mm": "mm", "in": "in", "inch": "in", "inches": "in"}
_HEADING: Final = re.compile(r"(?P<title>[^,(]+?)\s*(?:,\s*(?P<unit>[^,()]*)|\(\s*(?P<in>[^,()]*?)\s*\))?")
_NUMBER: Final = re.compile(r"-?(?:[0-9]{1,30}(?:\.[0-9]{0,30})?|\.[0-9]{1,30})")
_COMMA: Final = re.compile(r"(?<=[0-9]),(?=[0-9])")
_THOUSANDS: Final = re.compile(r"-?[1-9][0-9]{0,2}[.,][0-9]{3}(\s*mm)?")
_ROW: Final = re.compile(r"rows\[(\d+)\](?:\.(.*))?")


def _parted(heading: str) -> tuple[str, str]:
    """A heading's title and its unit: `Length, mm`, `Length (in)`."""
    match = _HEADING.fullmatch(heading.strip())
    if match is None:
        return heading, ""
    return match["title"], (match["unit"] or match["in"] or "").strip().casefold()


def _row_place(where: str) -> tuple[int | None, str]:
    match = _ROW.fullmatch(where)
    return (None, where) if match is None else (int(match[1]), match[2] or "")


def title_of(conduit: str) -> str:
    """A conduit as a person knows it."""
    return conduit_row(conduit).title


def spoken(code: str, column: Column, dialect: Dialect) -> str:
    """A choice in the company's words, where they lead back to it; else in the words of the code."""
    for name in (*_BESIDE_TERMS.get(code, ()), code):
        try:
            said_so = term(name, dialect)
        except KeyError:
            continue
        if column.words.get(_plain(said_so)) == code and name not in ("saddle_set_3", "saddle_set_4"):
            return said_so
    return code.replace("_", " ")
