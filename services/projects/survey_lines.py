"""What a survey's file says: the lines of runs, what goes into each column, an example."""

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from fractions import Fraction
from typing import Any

from django.utils.translation import gettext as _

from bendcore.units import Units
from bendcore.words import Dialect
from services.core.errors import Invalid
from services.projects.rules import FIELDS_OF, RunChange, checked_rows, parse_length, to_measure
from services.projects.survey import OPEN, Cell, Column, KnownFormer, SurveyedRun, columns, spoken, title_of


def headings(units: Units) -> list[Cell]:
    """The first row of a file."""
    return [each.heading(units) for each in columns()]


def written(runs: Iterable[SurveyedRun], *, units: Units, dialect: Dialect) -> list[list[Cell]]:
    """The lines that make these runs again, under `headings`: read back, the same rows come of them.

    Lengths are numbers in mm; in inches they are text, as a tape reads, or with their unit where no such
    figure is exactly the length that is kept. What is to measure is a question mark.
    """
    return [line for run in runs for line in _lines(run, units, dialect)]


def _lines(run: SurveyedRun, units: Units, dialect: Dialect) -> list[list[Cell]]:
    open_at = set(to_measure(run.rows))
    head: dict[str, Any] = {
        **run.head,
        "room": run.room,
        "bender": run.former.bender,
        "conduit": title_of(run.former.conduit),
    }
    if head.get("standoff_mm") == 0:
        head["standoff_mm"] = None
    lines = []
    rows: Sequence[Mapping[str, Any] | None] = run.rows or [None]
    for index, row in enumerate(rows):
        line: list[Cell] = []
        for column in columns():
            if column.of_run:
                told = head.get(column.name) if index == 0 or column.name in ("room", "label") else None
            elif row is None:
                told = None
            else:
                told = OPEN if (index, column.name) in open_at else row.get(column.name)
            line.append(_told(told, column, units, dialect))
        lines.append(line)
    return lines


def _told(value: Any, column: Column, units: Units, dialect: Dialect) -> Cell:
    if value is None or value == OPEN:
        return value or ""
    if column.is_length:
        return _tape(value, units, signed=column.kind == "signed")
    if column.kind == "choice":
        return spoken(str(value), column, dialect)
    return _number(value) if isinstance(value, (int, float)) else str(value)


def _number(value: float) -> Cell:
    """A figure as a cell: as text where a spreadsheet, which keeps 15 digits, would change it."""
    if float(value).is_integer():
        return int(value)
    return value if float(f"{value:.15g}") == value else f"{Decimal(repr(value)):f}"


def _tape(length: float, units: Units, *, signed: bool) -> Cell:
    """A length as a cell from which exactly that length is read again."""
    if units is Units.MM:
        return _number(length)
    for text in (_sixty_fourths(length), f"{length / 25.4!r}"):
        try:
            if parse_length(text, units.value, signed=signed) == length:
                return text
        except Invalid:
            continue
    return f"{Decimal(repr(length)):f} mm"


def _sixty_fourths(length: float) -> str:
    parts = round(Fraction(length) / Fraction(254, 10) * 64)
    whole, rest = divmod(abs(parts), 64)
    fraction = Fraction(rest, 64)
    # 0 1/2: a spreadsheet takes 1/2 for a date.
    text = f"{whole} {fraction}" if rest else str(whole)
    return f"-{text}" if parts < 0 else text


# ---------------------------------------------------------------------------------------------- explanations


def explained(column: Column, dialect: Dialect) -> str:
    """What goes into a column, in a sentence or two."""
    text = {
        "room": _("Room of the project; a new one is made if there is none of that name. Empty: as above."),
        "label": _("Label of the run, painted on its pieces; new in its room. Empty: as above."),
        "from_place": _("Where it begins. May stay empty."),
        "to_place": _("Where it ends. May stay empty."),
        "bender": _("Name of the bender. May stay empty where the conduit tells the former."),
        "conduit": _("Conduit of the former. May stay empty where the bender has one former."),
        "heading": _("Way that the first leg goes, facing the wall that the room is drawn from. Empty: up."),
        "facing": _("Name of the wall that one faces. May stay empty."),
        "standoff_mm": _("From the wall to the conduit, where legs are measured to the wall. Empty: 0."),
        "start_kind": _("How it ends at its start. Empty: open."),
        "start_allowance_mm": _("How far the conduit goes past the face measured to. Empty: not known."),
        "finish_kind": _("How it ends at its finish. Empty: open."),
        "finish_allowance_mm": _("How far the conduit goes past the face measured to. Empty: not known."),
        "length_mm": _("The straight as the tape reads it. Empty or ? : still to measure."),
        "from": _("What the length is measured from. Empty: face in a run’s first row, else back."),
        "to": _("What the length is measured to. Empty: face where the run ends, else back."),
        "then": _("What follows the length. Empty: a bend, and the end in a run’s last row."),
        "angle_deg": _("Degrees: of the bend, or of each bend of the set."),
        "toward": _("Way that the conduit goes after the bend, or that a set rises."),
        "bends": _("3 or 4."),
        "fitting": _("What stands there. Empty: a draw-in box."),
        "radius_mm": _("Of a bought bend, at its centreline."),
        "leg_in_mm": _("From the fitting’s corner to its nearer end. Empty: not known."),
        "leg_out_mm": _("From the fitting’s corner to its farther end. Empty: not known."),
    }.get(column.name, "")  # fmt: skip
    with_kinds = [kind for kind, names in FIELDS_OF.items() if column.name in names]
    then = next(each for each in columns() if each.name == "then")
    parts = [text] if text else []
    if with_kinds and len(with_kinds) < len(FIELDS_OF) - 1:
        listed = ", ".join(spoken(kind, then, dialect) for kind in with_kinds)
        parts.append(_("Goes with %(kinds)s.") % {"kinds": listed})
    if column.kind == "choice":
        codes = dict.fromkeys(column.words.values())
        parts.append(
            _("One of: %(words)s.") % {"words": ", ".join(spoken(c, column, dialect) for c in codes)}
        )
    return " ".join(parts)


def example(former: KnownFormer, units: Units) -> list[SurveyedRun]:
    """Two invented runs: one measured, with every figure there, one still to measure in part."""
    inch = units is Units.INCH

    def mm(millimetres: float, inches: float) -> float:
        return float(Fraction(inches) * Fraction(254, 10)) if inch else millimetres

    measured = checked_rows(
        [
            {"length_mm": mm(1210, 47.625), "to": "back", "then": "bend", "angle_deg": 90, "toward": "right"},
            {"length_mm": mm(1640, 64.5), "to": "corner", "then": "offset", "angle_deg": 30, "toward": "in",
             "rise_mm": mm(60, 2.375)},
            {"length_mm": mm(900, 35.5), "from": "corner", "to": "back", "then": "bend", "angle_deg": 90,
             "toward": "down"},
            {"length_mm": mm(450, 17.75), "then": "end"},
        ]
    )  # fmt: skip
    partly = checked_rows(
        [
            {"length_mm": mm(877, 34.5), "then": "bend", "angle_deg": 90, "toward": "left"},
            {"length_mm": None, "then": "bend", "angle_deg": None, "toward": "in"},
            {"length_mm": mm(640, 25.25), "then": "end"},
        ]
    )
    first = RunChange(
        label="07", from_place="DB-3", to_place="Pump P2", heading="up", standoff_mm=0.0, start_kind="open",
        start_allowance_mm=None, finish_kind="open", finish_allowance_mm=None,
        facing=_("north wall"),
    )  # fmt: skip
    second = RunChange(**{**first, "label": "08", "to_place": "Pump P3"})
    room = _("Plant room 2")
    return [
        SurveyedRun(room, former, 0, first, measured),
        SurveyedRun(room, former, 0, second, partly),
    ]
