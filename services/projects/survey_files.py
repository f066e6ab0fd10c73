"""Survey files: CSV and XLSX read as a table within bounds, and written."""

import csv
import io
import re
import zipfile
import zlib
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, time, timedelta
from typing import Any, Final, NoReturn

from django.utils.text import slugify
from django.utils.translation import gettext as _

from bendcore.units import Units
from bendcore.words import Dialect
from services.core.errors import FieldProblem, Invalid, TooLarge
from services.projects.survey import (
    MOST_PROBLEMS,
    NOTE,
    Cell,
    KnownFormer,
    Line,
    SurveyedRun,
    Table,
    columns,
    place,
    title_of,
)
from services.projects.survey_lines import example, explained, headings, written

MOST_BYTES: Final = 2_000_000
"""Of a file, as it is sent."""

MOST_UNPACKED: Final = 16_000_000
"""Bytes of a workbook's parts together. The most rows that are read, every cell filled, take some 12 MB."""

MOST_PARTS: Final = 100
MOST_TAGS: Final = 800_000
MOST_TAGS_BESIDE: Final = 200_000
"""Of a workbook's sheets, and of its other parts: what reading costs goes by these, not by bytes."""

MOST_COLUMNS: Final = 100
LOWEST_ROW: Final = 20_000
"""Of a spreadsheet: below it nothing may stand, be it empty."""

SURVEY_SHEET: Final = "Survey"

_SHEETS_AT: Final = "xl/worksheets/"
_ZIP: Final = b"PK\x03\x04"
_OLD: Final = b"\xd0\xcf\x11\xe0"
"""Begins the compound files of older spreadsheets, and of those with a password."""

_UNSAFE: Final = re.compile(r"'*(?:[=+\-@]|##)")
"""Begins a text that a spreadsheet would take for a formula, or this reader for a note."""


def read(content: bytes) -> Table:
    """The table that a file holds, by what it is and not by its name: a workbook (XLSX) or text (CSV).

    Raises TooLarge above MOST_BYTES; Invalid when it is neither, with the place `file`, and with every cell
    that holds what is no text or figure, each at its place.
    """
    if len(content) > MOST_BYTES:
        raise TooLarge(
            _("The file has %(count)d bytes; at most %(most)d are read.")
            % {"count": len(content), "most": MOST_BYTES}
        )
    if content.startswith(_OLD):
        _refuse(_("is a workbook of an older kind, or has a password; save it as XLSX without one"))
    return _Workbook(content).table() if content.startswith(_ZIP) else _from_csv(content)


def _refuse(text: str, code: str = "invalid") -> NoReturn:
    raise Invalid([FieldProblem("file", _("The file %(text)s") % {"text": text}, code)])


def _cell(text: str) -> str:
    """A cell without the blanks around it, and without the apostrophe that stands before a sign."""
    stripped = text.strip()
    return stripped[1:] if stripped[:1] == "'" and _UNSAFE.match(stripped) else stripped


# -------------------------------------------------------------------------------------------------------- CSV


def _from_csv(content: bytes) -> Table:
    try:
        text = content.decode("utf-8-sig")
    except UnicodeDecodeError:
        _refuse(_("is neither a workbook (XLSX) nor text in UTF-8; save it as XLSX or as CSV in UTF-8"))
    if "\0" in text:
        _refuse(_("is neither a workbook (XLSX) nor text: it has signs that stand for nothing (NUL)"))
    delimiter = _delimiter(text)
    lines: list[Line] = []
    notes = 0
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        number = 0
        for number, cells in enumerate(reader, 1):
            if number > LOWEST_ROW:
                _refuse(_("goes on below row %(row)d") % {"row": LOWEST_ROW}, "too-many")
            while cells and not cells[-1].strip():
                cells.pop()
            if cells and cells[0].startswith(NOTE):
                notes += 1
                continue
            if len(cells) > MOST_COLUMNS:
                _refuse(_("has %(count)d columns in row %(row)d") % {"count": len(cells), "row": number})
            lines.append(Line(number, tuple(_cell(each) for each in cells)))
    except csv.Error:
        problem = _(
            "has a quotation mark that is not closed, or text after one that is; a mark inside quoted text "
            "is written twice"
        )
        raise Invalid([FieldProblem(place(number + 1), problem)]) from None
    return Table(tuple(lines), decimal_comma=delimiter != ",", notes=notes)


def _delimiter(text: str) -> str:
    """What parts the cells: the sign that the first line that is no note has most of, outside quotes."""
    for line in text.splitlines():
        if line.strip(" \t;,") and not line.lstrip(' "').startswith(NOTE):
            outside = re.sub(r'"[^"]*"', "", line)
            return max((",", ";", "\t"), key=outside.count)
    return ","


# ------------------------------------------------------------------------------------------------------- XLSX


class _Workbook:
    """One workbook, opened within bounds. Its parts are read by openpyxl, over defusedxml."""

    def __init__(self, content: bytes) -> None:
        self.content = content
        self.problems: list[FieldProblem] = []
        self.notes = 0

    def table(self) -> Table:
        """The lines of the sheet `Survey`, or of the first sheet."""
        try:
            self._within_bounds()
            lines = tuple(self._lines())
        except Invalid:
            raise
        except Exception:  # whatever is wrong with its XML comes out of the library as it falls
            self._broken()
        if self.problems:
            raise Invalid(self.problems[:MOST_PROBLEMS])
        return Table(lines, notes=self.notes)

    def _broken(self) -> NoReturn:
        _refuse(_("is no workbook that can be read; open it and save it anew as XLSX"))

    def _within_bounds(self) -> None:
        """What it says of itself, before anything of it is taken for XML. The sizes that the directory names
        are those up to which the parts are unpacked."""
        with zipfile.ZipFile(io.BytesIO(self.content)) as archive:
            parts = archive.infolist()
            if len(parts) > MOST_PARTS:
                _refuse(_("has %(count)d parts; a survey has a few") % {"count": len(parts)}, "too-large")
            if sum(part.file_size for part in parts) > MOST_UNPACKED:
                _refuse(
                    _("unpacks to more than %(most)d bytes; a survey does not") % {"most": MOST_UNPACKED},
                    "too-large",
                )
            if any(part.flag_bits & 1 for part in parts):
                _refuse(_("has a password; save it without one"))
            if any(part.filename.lower().endswith("vbaproject.bin") for part in parts):
                _refuse(_("has macros; save it as XLSX, without them"))
            if not any(part.filename == "[Content_Types].xml" for part in parts):
                _refuse(_("is packed, but no workbook; save it as XLSX or as CSV in UTF-8"))
            tags = {True: 0, False: 0}
            for part in parts:
                try:
                    unpacked = archive.read(part)
                except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError):
                    self._broken()
                tags[part.filename.startswith(_SHEETS_AT)] += unpacked.count(b"<")
                if part.filename == "[Content_Types].xml" and b"macroenabled" in unpacked.lower():
                    _refuse(_("has macros; save it as XLSX, without them"))
            if tags[True] > MOST_TAGS or tags[False] > MOST_TAGS_BESIDE:
                _refuse(_("holds more cells than a survey has; copy the survey into a new one"), "too-large")

    def _lines(self) -> Iterator[Line]:
        from openpyxl.reader.excel import ExcelReader

        reader = ExcelReader(io.BytesIO(self.content), read_only=True, keep_links=False)
        reader.read_manifest()
        if any(
            each.PartName.startswith(f"/{_SHEETS_AT}")
            for each in reader.package.Override
            if not each.ContentType.endswith("worksheet+xml")
        ):
            self._broken()  # it would have the bounds of a sheet
        reader.read_strings()
        reader.read_workbook()
        dates = _date_styles(reader)
        sheets = [(sheet.name, rel.target) for sheet, rel in reader.parser.find_sheets()]
        if not sheets:
            _refuse(_("has no sheet"))
        at = next(
            (target for name, target in sheets if name.casefold() == SURVEY_SHEET.casefold()), sheets[0][1]
        )
        with reader.archive.open(at) as source:
            yield from self._of_sheet(_sheet_parser(source, reader, dates), dates)

    def _of_sheet(self, parser: Any, dates: Collection[int]) -> Iterator[Line]:
        below = 0
        for seen, (number, cells) in enumerate(parser.rows(), 1):
            if number > LOWEST_ROW or seen > LOWEST_ROW:
                _refuse(
                    _("goes on below row %(row)d; delete the rows under the survey") % {"row": LOWEST_ROW},
                    "too-many",
                )
            if number <= below:
                self._broken()
            below = number
            found: dict[int, str] = {}
            if any(cell["column"] == 1 and str(cell["value"]).startswith(NOTE) for cell in cells):
                self.notes += 1
                continue
            for cell in cells:
                text = self._text(cell, number, dates)
                if not text:
                    continue
                if not 1 <= cell["column"] <= MOST_COLUMNS:
                    _refuse(
                        _("has something right of column %(column)d in row %(row)d")
                        % {"column": MOST_COLUMNS, "row": number}
                    )
                found[cell["column"] - 1] = text
            yield Line(number, tuple(found.get(at, "") for at in range(max(found, default=-1) + 1)))

    def _text(self, cell: Any, number: int, dates: Collection[int]) -> str:
        value, kind = cell["value"], cell["data_type"]
        if isinstance(value, _Formula):
            kind, value = value.kind, value.text
            if not value:
                self._wrong(
                    cell, number,
                    _("has a formula without a value; open the file, let it be worked out and save it, or "
                      "write the figure"),
                )  # fmt: skip
                return ""
            if kind == "n":
                kind = "d" if cell["style_id"] in dates else "n"
                value = float(value)
        if value is None:
            return ""
        if kind == "e":
            self._wrong(cell, number, _("has an error for a value, %(text)s") % {"text": str(value)[:20]})
        elif kind == "d" or isinstance(value, (date, time, timedelta)):
            self._wrong(
                cell, number,
                _("has a date; a fraction such as 1/2 is typed into a cell that is formatted as text"),
            )  # fmt: skip
        elif kind == "b":
            self._wrong(cell, number, _("has true or false for a value; text or a figure is wanted"))
        elif isinstance(value, str):
            if "\0" not in value:
                return _cell(value)
            self._wrong(cell, number, _("has a sign that stands for nothing (NUL)"))
        else:
            return _figure(value)
        return ""

    def _wrong(self, cell: Any, number: int, text: str) -> None:
        where = place(number, cell["column"] - 1) if 1 <= cell["column"] <= MOST_COLUMNS else place(number)
        self.problems.append(FieldProblem(where, text))


def _figure(value: float) -> str:
    return str(int(value)) if isinstance(value, int) or value.is_integer() else repr(value)


class _Formula:
    """A cell's formula by what it came to. kind: the type that the file gives the value."""

    def __init__(self, kind: str, text: str) -> None:
        self.kind = kind
        self.text = text


def _date_styles(reader: Any) -> frozenset[int]:
    """The styles of cells that show a figure as a date. The library's own reader of styles refuses many that
    spreadsheets write."""
    from openpyxl.styles.numbers import BUILTIN_FORMATS, is_date_format
    from openpyxl.xml.functions import fromstring

    at = next((rel.target for rel in reader.parser.rels.values() if rel.Type.endswith("/styles")), None)
    if at is None or at not in reader.valid_files:
        return frozenset()
    root = fromstring(reader.archive.read(at))
    own = {
        each.get("numFmtId"): each.get("formatCode", "")
        for each in root.iterfind(f"{_SHEETS}numFmts/{_SHEETS}numFmt")
    }
    found = set()
    for style, each in enumerate(root.iterfind(f"{_SHEETS}cellXfs/{_SHEETS}xf")):
        name = each.get("numFmtId", "0")
        code = own.get(name) or BUILTIN_FORMATS.get(int(name), "")
        if is_date_format(code):
            found.add(style)
    return frozenset(found)


_SHEETS: Final = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"


def _sheet_parser(source: Any, reader: Any, dates: Collection[int]) -> Any:
    from openpyxl.worksheet._reader import ROW_TAG, VALUE_TAG, WorkSheetParser
    from openpyxl.xml.functions import iterparse

    class Parser(WorkSheetParser):  # type: ignore[misc] # it carries no types
        """Reads rows and nothing beside them, and gives a formula's value, or that there is none: the library
        gives the one without the other."""

        def rows(self) -> Iterator[tuple[int, list[Any]]]:
            """Each row by its number, with the cells that hold something."""
            number = 0
            for _event, row in iterparse(self.source):
                if row.tag == ROW_TAG:
                    told = row.get("r")
                    number = number + 1 if told is None else int(told)
                    self.row_counter, self.col_counter = number, 0
                    yield number, [cell for cell in map(self.filled, row) if cell is not None]
                    row.clear()

        def filled(self, cell: Any) -> Any:
            if len(cell):
                return self.parse_cell(cell)
            self.col_counter += 1  # of those that do not say where they stand
            return None

        def parse_formula(self, element: Any) -> _Formula:
            return _Formula(element.get("t", "n"), element.findtext(VALUE_TAG) or "")

    return Parser(
        source,
        reader.shared_strings,
        data_only=False,
        epoch=reader.wb.epoch,
        date_formats=dates,
    )


# ---------------------------------------------------------------------------------------------------- writing


@dataclass(frozen=True, slots=True)
class SurveyFile:
    """A file as it is handed out. name: in ASCII."""

    name: str
    media_type: str
    content: bytes


KINDS: Final = ("xlsx", "csv")


def survey_file_of(
    runs: Sequence[SurveyedRun] | None,
    *,
    code: str,
    kind: str,
    units: Units,
    dialect: Dialect,
    formers: Sequence[KnownFormer],
) -> SurveyFile:
    """The file of these runs, or the template when they are None.

    code: the project's, for the name.  kind: of KINDS.  formers: the company's; the example has the first.
    """
    make, media_type = (xlsx_file, _XLSX) if kind == "xlsx" else (csv_file, "text/csv; charset=utf-8")
    content = make(runs, units=units, dialect=dialect, formers=formers)
    about = "template" if runs is None else slugify(code) or "runs"
    return SurveyFile(f"survey-{about}-{units.value}.{kind}", media_type, content)


_XLSX: Final = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def csv_file(
    runs: Sequence[SurveyedRun] | None,
    *,
    units: Units,
    dialect: Dialect,
    formers: Sequence[KnownFormer] = (),
) -> bytes:
    """A survey as CSV, in UTF-8 with its mark, so that a spreadsheet knows. Without runs (None): the
    template, with its explanations and an example as notes."""
    out = io.StringIO()
    writer = csv.writer(out)
    lines = [headings(units), *written(runs or (), units=units, dialect=dialect)]
    if runs is None:
        for text in _told(units, dialect, formers):
            writer.writerow([f"{NOTE} {text}"])
        if formers:
            for line in written(example(formers[0], units), units=units, dialect=dialect):
                writer.writerow([f"{NOTE} {line[0]}", *line[1:]])
    for line in lines:
        writer.writerow([_safe(each) for each in line])
    return ("\ufeff" + out.getvalue()).encode("utf-8")


def xlsx_file(
    runs: Sequence[SurveyedRun] | None,
    *,
    units: Units,
    dialect: Dialect,
    formers: Sequence[KnownFormer] = (),
) -> bytes:
    """A survey as a workbook: the sheet that is read, one that explains its columns, one with an example."""
    from openpyxl import Workbook
    from openpyxl.styles import Alignment, Font
    from openpyxl.writer.excel import save_workbook

    workbook = Workbook()
    survey = workbook.active
    survey.title = SURVEY_SHEET
    _sheet(survey, written(runs or (), units=units, dialect=dialect), units, ready=runs is None)
    told = workbook.create_sheet(_("How to fill it in"))
    for text in _general(units):
        told.append([text])
    told.append([])
    head = told.max_row + 1
    told.append([_("Column"), _("What goes into it")])
    for each in columns():
        told.append([each.heading(units), explained(each, dialect)])
    if formers:
        told.append([])
        told.append([_("Bender"), _("Conduit")])
        for former in formers:
            told.append([former.bender, title_of(former.conduit)])
    told.column_dimensions["A"].width, told.column_dimensions["B"].width = 26, 110
    for row in told.iter_rows(min_row=1):
        for cell in row:
            cell.data_type = "s" if cell.value is not None else cell.data_type
            if cell.row >= head:
                cell.alignment = Alignment(vertical="top", wrap_text=True)
            if cell.row == head:
                cell.font = Font(bold=True)
    if formers:
        shown = workbook.create_sheet(_("Example"))
        _sheet(shown, written(example(formers[0], units), units=units, dialect=dialect), units, ready=False)
    out = io.BytesIO()
    save_workbook(workbook, out)
    return out.getvalue()


_READY_ROWS: Final = 300
"""Of a template that are formatted as text, so that 1/2 and 07 stay what was typed."""


def _sheet(sheet: Any, lines: list[list[Cell]], units: Units, *, ready: bool) -> None:
    from openpyxl.styles import Alignment, Font
    from openpyxl.utils import get_column_letter

    told = columns()
    for row, line in enumerate([headings(units), *lines], 1):
        for column, value in enumerate(line, 1):
            if value == "":
                continue
            cell = sheet.cell(row, column)
            cell.value = _safe(value)
            if isinstance(value, str):
                cell.data_type = "s"
                cell.number_format = "@"
            if row == 1:
                cell.font = Font(bold=True)
                cell.alignment = Alignment(wrap_text=True, vertical="top")
    if ready:
        for row in range(2, _READY_ROWS + 2):
            for column, each in enumerate(told, 1):
                if not each.is_length or units is Units.INCH:
                    sheet.cell(row, column).number_format = "@"
    for column, each in enumerate(told, 1):
        wide = each.name in ("room", "from_place", "to_place", "bender", "conduit", "facing")
        sheet.column_dimensions[get_column_letter(column)].width = 20 if wide else 12
    sheet.freeze_panes = "C2"


def _safe(value: Cell) -> Cell:
    """A text that a spreadsheet would take for a formula is marked as text, by an apostrophe."""
    if isinstance(value, str) and _UNSAFE.match(value) and not _SIGNED.fullmatch(value):
        return f"'{value}"
    return value


_SIGNED: Final = re.compile(r"-[0-9][0-9 ./]*")
"""A length below 0. It is a figure whatever a spreadsheet makes of it."""


def _general(units: Units) -> list[str]:
    unit = (
        _("Lengths are in mm: 1210, 1210.5 or 1.21 m; inches with their sign are read too.")
        if units is Units.MM
        else _(
            "Lengths are in inches: 94 1/2, 94.5 or 7' 10 1/2\"; millimetres with their unit are read too."
        )
    )
    return [
        _("One row for each straight of a run, in order, with what follows it."),
        _("What is told of the run as a whole stands in its first row."),
        _("Rooms and runs stand one under the other. A new name in Room or Run begins a new one."),
        unit,
        _("What is not measured yet stays empty, or gets a question mark."),
        _("A row whose first cell begins with ## is passed over."),
        _("A survey makes new runs; it changes none that there is. It is taken whole, or not at all."),
    ]


def _told(units: Units, dialect: Dialect, formers: Sequence[KnownFormer]) -> list[str]:
    return [
        *_general(units),
        *(f"{each.heading(units)}: {explained(each, dialect)}" for each in columns()),
        *(f"{_('Former')}: {former.bender} · {title_of(former.conduit)}" for former in formers),
    ]
