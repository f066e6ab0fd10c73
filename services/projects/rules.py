"""Rows of a run sheet: what may stand in them, what is still to measure, and the engine's steps that they
make."""

import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date, datetime
from fractions import Fraction
from typing import Any, Final, TypedDict

from django.utils.translation import gettext as _

from bendcore.errors import SpecProblem
from bendcore.spec import (
    REACH,
    REVERSAL,
    SMALLEST_TURN,
    EndKind,
    FittingKind,
    GaugeCables,
    MetricCables,
)
from services.core.checks import Checks, said
from services.core.errors import FieldProblem, IllegalMove
from services.projects.models import BankCorners, FitFrom, Heading, Priority, Project
from services.projects.walk import headings

MOST_ROWS: Final = 200
"""Of one run. The field limit in the settings follows from it: the sheet sends fifteen fields a row."""

FARTHEST_MM: Final = 1000.0
"""Allowances at the ends and the clear distance to the wall stay within this, either way."""

MEASURED: Final = ("back", "corner", "inside", "wall", "face")
"""What a length is measured from and to."""

BEND, OFFSET, SADDLE_SET, KICK, BOX_SET, END = "bend", "offset", "saddle_set", "kick", "box_set", "end"
FITTING: Final = "fitting"

FIELDS_OF: Final[Mapping[str, tuple[str, ...]]] = {
    BEND: ("angle_deg", "toward"),
    OFFSET: ("angle_deg", "toward", "rise_mm", "spread_mm", "spread_toward"),
    SADDLE_SET: ("angle_deg", "toward", "rise_mm", "bends", "width_mm"),
    KICK: ("angle_deg", "toward", "rise_mm"),
    BOX_SET: ("angle_deg", "toward", "rise_mm"),
    FITTING: ("fitting", "angle_deg", "toward", "radius_mm", "leg_in_mm", "leg_out_mm"),
    END: (),
}
"""What may follow a row's length, and the figures it has then; a spread or width is not always wanted, nor is
a fitting's angle, radius or leg."""

_BESIDE: Final = (
    "angle_deg",
    "toward",
    "rise_mm",
    "spread_mm",
    "spread_toward",
    "bends",
    "width_mm",
    "fitting",
    "radius_mm",
    "leg_in_mm",
    "leg_out_mm",
)
FIELDS: Final = ("length_mm", "from", "to", "then", *_BESIDE)
"""Of a row, in the order in which a page and a survey give them."""

Row = TypedDict(
    "Row",
    {
        "length_mm": float | None,
        "from": str,
        "to": str,
        "then": str,
        "angle_deg": float | None,
        "toward": str | None,
        "rise_mm": float | None,
        "spread_mm": float | None,
        "spread_toward": str | None,
        "bends": int | None,
        "width_mm": float | None,
        "fitting": str | None,
        "radius_mm": float | None,
        "leg_in_mm": float | None,
        "leg_out_mm": float | None,
    },
)
"""One row: a straight as the tape read it, and what follows it. None: not measured yet, or not wanted."""


class RunChange(TypedDict, total=False):
    """What a person may change of a run beside its rows. Lengths in mm."""

    label: str
    from_place: str
    to_place: str
    former_id: Any
    heading: str
    standoff_mm: float
    start_kind: str
    start_allowance_mm: float | None
    finish_kind: str
    finish_allowance_mm: float | None
    facing: str
    fit_from: str
    cables: Sequence[Mapping[str, object]]


class ProjectChange(TypedDict, total=False):
    """What a person may change of a project."""

    code: str
    name: str
    client: str
    site: str


@dataclass(frozen=True, slots=True)
class Steps:
    """A run's rows as the engine's steps. row_of_step: for each step, the row (from 0) that gave it."""

    steps: list[dict[str, Any]]
    row_of_step: list[int]


# --------------------------------------------------------------------------------------------------- checking


def checked_rows(given: object) -> list[Row]:
    """The rows as they are kept: every key there, numbers as floats.

    given: a list of mappings. A missing figure is None. A missing `then` is `bend`, and `end` in the last
    row; a missing `from` is `back`, and `face` in the first row; a missing `to` is `back`, and `face` where
    the run ends. At a fitting both are `corner`.
    Raises Invalid with every problem at once, each at its place (`rows[2].angle_deg`). Whether the rows make
    a run that can be bent is not asked here: that is planning's to tell.
    """
    checks = Checks()
    rows: list[Row] = []
    if not isinstance(given, (list, tuple)):
        checks.refuse("rows", _("is no list of rows"), "wrong-type")
    elif len(given) > MOST_ROWS:
        checks.refuse(
            "rows",
            _("has %(count)d rows; at most %(most)d are allowed") % {"count": len(given), "most": MOST_ROWS},
        )
    else:
        last = len(given) - 1
        for index, row in enumerate(given):
            where = f"rows[{index}]"
            if isinstance(row, Mapping):
                before = rows[-1]["then"] if rows else None
                rows.append(_row(checks, row, where, before=before, last=index == last))
            else:
                checks.refuse(where, _("is no row; an object with its figures is wanted"), "wrong-type")
    checks.done()
    return rows


def _row(checks: Checks, given: Mapping[Any, object], where: str, *, before: str | None, last: bool) -> Row:
    for stranger in given:
        if stranger not in FIELDS:
            checks.refuse(
                f"{where}.{stranger if isinstance(stranger, str) and len(stranger) <= 40 else '…'}",
                _("is no figure of a row; there are %(fields)s") % {"fields": ", ".join(FIELDS)},
                "unknown",
            )
    then = checks.choice(f"{where}.then", given.get("then", END if last else BEND), FIELDS_OF)
    if then == END and not last:
        checks.refuse(f"{where}.then", _("says that the run ends here, but rows follow"))
    near = "face" if before is None else "corner" if before == FITTING else "back"
    far = "face" if then == END else "corner" if then == FITTING else "back"
    row: Row = {
        "length_mm": _length(checks, given, where, "length_mm", least=0.0),
        "from": checks.choice(f"{where}.from", given.get("from", near), MEASURED),
        "to": checks.choice(f"{where}.to", given.get("to", far), MEASURED),
        "then": then,
        "angle_deg": None,
        "toward": None,
        "rise_mm": None,
        "spread_mm": None,
        "spread_toward": None,
        "bends": None,
        "width_mm": None,
        "fitting": None,
        "radius_mm": None,
        "leg_in_mm": None,
        "leg_out_mm": None,
    }
    fields = FIELDS_OF.get(then)
    if fields is None:
        return row
    for name in _BESIDE:
        if name not in fields and given.get(name) is not None:
            owners = ", ".join(owner for owner, names in FIELDS_OF.items() if name in names)
            checks.refuse(
                f"{where}.{name}",
                _("goes with %(owners)s; what follows here is %(then)s") % {"owners": owners, "then": then},
            )
    if "angle_deg" in fields:
        row["angle_deg"] = _angle(checks, given.get("angle_deg"), f"{where}.angle_deg", then=then)
        row["toward"] = _direction(checks, given, where, "toward")
    if "rise_mm" in fields:
        row["rise_mm"] = _length(checks, given, where, "rise_mm", above=0.0)
    if then == OFFSET:
        row["spread_mm"] = _length(checks, given, where, "spread_mm", least=0.0)
        row["spread_toward"] = _direction(checks, given, where, "spread_toward")
    if then == SADDLE_SET:
        row["bends"] = bends = _bends(checks, given.get("bends"), f"{where}.bends")
        row["width_mm"] = width = _length(checks, given, where, "width_mm", least=0.0)
        if bends == 3 and width is not None:
            checks.refuse(
                f"{where}.width_mm", _("goes with four bends alone; three bends meet over the middle")
            )
    if then == FITTING:
        _fitting(checks, given, where, row)
    return row


def _fitting(checks: Checks, given: Mapping[Any, object], where: str, row: Row) -> None:
    kind = checks.choice(
        f"{where}.fitting", given.get("fitting") or FittingKind.DRAW_IN_BOX, list(FittingKind)
    )
    row["fitting"] = str(kind)
    row["radius_mm"] = _length(checks, given, where, "radius_mm", above=0.0)
    row["leg_in_mm"] = _length(checks, given, where, "leg_in_mm", least=0.0)
    row["leg_out_mm"] = _length(checks, given, where, "leg_out_mm", least=0.0)


def _length(
    checks: Checks,
    given: Mapping[Any, object],
    where: str,
    name: str,
    *,
    least: float | None = None,
    above: float | None = None,
) -> float | None:
    value = given.get(name)
    if value is None:
        return None
    return checks.number(f"{where}.{name}", value, unit="mm", at_least=least, above=above, at_most=REACH)


def _angle(checks: Checks, value: object, where: str, *, then: str) -> float | None:
    if value is None:
        return None
    if then in (BEND, FITTING):
        return checks.number(where, value, unit="°", at_least=SMALLEST_TURN, at_most=REVERSAL)
    if then == SADDLE_SET:  # the middle bend of three is twice the outer one
        return checks.number(where, value, unit="°", at_least=SMALLEST_TURN, below=90.0)
    return checks.number(where, value, unit="°", at_least=SMALLEST_TURN, at_most=90.0)


def _direction(checks: Checks, given: Mapping[Any, object], where: str, name: str) -> str | None:
    value = given.get(name)
    return None if value is None else checks.choice(f"{where}.{name}", value, Heading.values)


def _bends(checks: Checks, value: object, where: str) -> int | None:
    if value is None:
        return None
    if isinstance(value, (int, float)) and not isinstance(value, bool) and value in (3, 4):
        return int(value)
    checks.refuse(
        where, _("is %(value)s; a saddle set has 3 or 4 bends") % {"value": said(value)}, "not-a-choice"
    )
    return None


def checked_run(checks: Checks, given: RunChange) -> RunChange:
    """What is given of a run as it is kept, but for the former; what is wrong goes to `checks`, each with its
    field."""
    kept: RunChange = {}
    if "label" in given:
        kept["label"] = label = checks.text("label", given["label"], longest=20)
        if "/" in label:
            checks.refuse("label", _("has a /, which parts the run from the number of its stick, as in 07/2"))
    if "from_place" in given:
        kept["from_place"] = checks.text("from_place", given["from_place"], longest=80, optional=True)
    if "to_place" in given:
        kept["to_place"] = checks.text("to_place", given["to_place"], longest=80, optional=True)
    if "heading" in given:
        kept["heading"] = checks.choice("heading", given["heading"], Heading.values)
    if "standoff_mm" in given:
        kept["standoff_mm"] = _within(checks, "standoff_mm", given["standoff_mm"])
    if "start_kind" in given:
        kept["start_kind"] = checks.choice("start_kind", given["start_kind"], list(EndKind))
    if "finish_kind" in given:
        kept["finish_kind"] = checks.choice("finish_kind", given["finish_kind"], list(EndKind))
    if "start_allowance_mm" in given:
        told = given["start_allowance_mm"]
        kept["start_allowance_mm"] = None if told is None else _within(checks, "start_allowance_mm", told)
    if "finish_allowance_mm" in given:
        told = given["finish_allowance_mm"]
        kept["finish_allowance_mm"] = None if told is None else _within(checks, "finish_allowance_mm", told)
    if "facing" in given:
        kept["facing"] = checks.text("facing", given["facing"], longest=60, optional=True)
    if "fit_from" in given:
        kept["fit_from"] = checks.choice("fit_from", given["fit_from"], FitFrom.values)
    if "cables" in given:
        kept["cables"] = checked_cables(checks, given["cables"])
    return kept


MOST_CABLES: Final = 50
"""Kinds of cable in one run."""


def checked_cables(checks: Checks, given: object) -> list[dict[str, object]]:
    """What is to be drawn in, as the engine has it: by cross-section, or by gauge and insulation."""
    if not isinstance(given, (list, tuple)) or len(given) > MOST_CABLES:
        checks.refuse("cables", _("is no list of at most %(most)d kinds of cable") % {"most": MOST_CABLES})
        return []
    kept: list[dict[str, object]] = []
    for index, cable in enumerate(given):
        where = f"cables[{index}]"
        if not isinstance(cable, Mapping):
            checks.refuse(where, _("is no cable; an object with its size and count is wanted"), "wrong-type")
            continue
        try:
            read = (GaugeCables if "size" in cable else MetricCables).from_json(cable, where)
        except SpecProblem as refused:
            for problem in refused.problems:
                checks.refuse(problem.where, problem.text, problem.code)
        else:
            kept.append(read.to_json())
    return kept


def _within(checks: Checks, name: str, value: object) -> float:
    return checks.number(name, value, unit="mm", at_least=-FARTHEST_MM, at_most=FARTHEST_MM)


# ------------------------------------------------------------------------------------------- banks, splitting

MOST_IN_BANK: Final = 20
"""Runs side by side, the one that was measured included."""


@dataclass(frozen=True, slots=True)
class Bank:
    """What lies beside a run. settings: of the run that leads it.  labels: of the new runs."""

    settings: dict[str, Any]
    labels: list[str]


def checked_bank(
    checks: Checks, *, labels: object, spacing_mm: object, toward: object, corners: object, there: int
) -> Bank:
    """A bank as it is kept. there: how many lie there already."""
    kept: list[str] = []
    if not isinstance(labels, (list, tuple)) or not labels:
        checks.refuse("labels", _("is empty; a label is wanted for each run that is laid beside"))
    elif there + 1 + len(labels) > MOST_IN_BANK:
        checks.refuse(
            "labels",
            _("makes %(count)d runs side by side; at most %(most)d are allowed")
            % {"count": there + 1 + len(labels), "most": MOST_IN_BANK},
        )
    else:
        for label in labels:
            own = Checks()
            kept.append(checked_run(own, {"label": label}).get("label", ""))
            for problem in own.problems:
                checks.refuse("labels", problem.text, problem.code)
        for label in {label for label in kept if kept.count(label) > 1}:
            checks.refuse("labels", _("has %(label)s twice") % {"label": said(label)}, "taken")
    settings = {
        "bank_spacing_mm": checks.number("spacing_mm", spacing_mm, unit="mm", above=0.0, at_most=FARTHEST_MM),
        "bank_toward": checks.choice("toward", toward, Heading.values),
        "bank_corners": checks.choice("corners", corners, BankCorners.values),
    }
    return Bank(settings, kept)


@dataclass(frozen=True, slots=True)
class Half:
    """One half of a run that is split. heading: the way that it sets out."""

    rows: list[Row]
    heading: str


def split_rows(rows: Sequence[Row], at: int, *, start: str) -> tuple[Half, Half]:
    """A run's rows before and after the draw-in box of a row (from 0); start: the way that the run sets out.

    The conduit ends the box's legs from its corner: what was measured to there is that much shorter. Raises
    IllegalMove where the row has no such box, or something up to it is to measure.
    """
    if not 0 <= at < len(rows) - 1 or rows[at]["then"] != FITTING:
        raise IllegalMove(_("That row has no box that the run could be split at."))
    box = rows[at]
    if box["fitting"] == FittingKind.BOUGHT_BEND:
        raise IllegalMove(_("Cable is not drawn in at a bought bend: the run is split at a box."))
    legs = box["leg_in_mm"], box["leg_out_mm"]
    if any(row <= at for row, _field in to_measure(rows)) or legs[0] is None or legs[1] is None:
        raise IllegalMove(_("Measure the rows up to the box, and the box itself, first."))
    way = headings(rows[: at + 2], start)[-1]
    if way not in Heading.values:
        raise IllegalMove(_("After the box the run goes aslant; a run sets out along a wall, up or down."))
    last, first = box.copy(), rows[at + 1].copy()
    last["length_mm"] = _shorter(last["length_mm"], legs[0])
    first["length_mm"] = _shorter(first["length_mm"], legs[1])
    last["then"], last["to"], first["from"] = END, "face", "face"
    for name in _BESIDE:
        last[name] = None
    return Half([*rows[:at], last], start), Half([first, *rows[at + 2 :]], str(way))


def _shorter(length: float | None, by: float) -> float | None:
    if length is None:
        return None
    if length <= by:
        raise IllegalMove(_("The box takes more than the leg beside it has."))
    return length - by


# -------------------------------------------------------------------------------------------------- measuring


def to_measure(rows: Sequence[Row]) -> list[tuple[int, str]]:
    """What is still to measure: row (from 0) and field, in order. Empty when the rows can be planned.

    A row after a kick has no length of its own: the kick's leg is its rise over the sine of its angle. A
    spread wants its direction and the other way round; a saddle set of four bends wants its width; a fitting
    that turns its angle and direction, a bought bend its radius too.
    """
    return [
        (index, name)
        for index, row in enumerate(rows)
        for name in _missing(row, rows[index - 1] if index else None)
    ]


def _missing(row: Row, before: Row | None) -> list[str]:
    wanted = ["length_mm"] if before is None or before["then"] != KICK else []
    if row["then"] == FITTING:
        turns = row["angle_deg"] is not None or row["toward"] is not None
        if row["fitting"] == FittingKind.BOUGHT_BEND:
            wanted += ["angle_deg", "toward", "radius_mm"]
        elif turns:
            wanted += ["angle_deg", "toward"]
    elif row["then"] != END:
        wanted += ["angle_deg", "toward"]
    if row["then"] not in (BEND, FITTING, END):
        wanted.append("rise_mm")
    if row["then"] == OFFSET and (row["spread_mm"] is not None or row["spread_toward"] is not None):
        wanted += ["spread_mm", "spread_toward"]
    if row["then"] == SADDLE_SET:
        wanted += ["bends", "width_mm"] if row["bends"] == 4 else ["bends"]
    figures: Mapping[str, object] = row
    return [name for name in wanted if figures[name] is None]


def to_steps(rows: Sequence[Row]) -> Steps:
    """The engine's steps (its contract, `route.steps`) that the rows make, and the row of each.

    Each row gives its leg, then what follows it; a row after a kick, left without a length, gives no leg.
    Raises ValueError while something is to measure.
    """
    missing = to_measure(rows)
    if missing:
        at, name = missing[0]
        raise ValueError(f"rows[{at}].{name} is still to measure")
    steps: list[dict[str, Any]] = []
    row_of_step: list[int] = []
    for index, row in enumerate(rows):
        made = _leg(row) + _turn(row)
        steps += made
        row_of_step += [index] * len(made)
    return Steps(steps, row_of_step)


def _leg(row: Row) -> list[dict[str, Any]]:
    if row["length_mm"] is None:
        return []
    return [{"leg": row["length_mm"], "to": row["to"], "from": row["from"]}]


def _turn(row: Row) -> list[dict[str, Any]]:
    then = row["then"]
    if then == END:
        return []
    if then == BEND:
        return [{"bend": row["angle_deg"], "toward": row["toward"]}]
    if then == FITTING:
        fitting: dict[str, Any] = {
            "kind": row["fitting"],
            "leg_in": row["leg_in_mm"],
            "leg_out": row["leg_out_mm"],
        }
        if row["angle_deg"] is not None:
            fitting |= {"angle": row["angle_deg"], "toward": row["toward"]}
            if row["radius_mm"] is not None:
                fitting["radius"] = row["radius_mm"]
        return [{FITTING: fitting}]
    figures: dict[str, Any] = {"rise": row["rise_mm"], "angle": row["angle_deg"], "toward": row["toward"]}
    if then == OFFSET and row["spread_mm"] is not None:
        figures |= {"spread": row["spread_mm"], "spread_toward": row["spread_toward"]}
    if then == SADDLE_SET:
        figures["bends"] = row["bends"]
        if row["bends"] == 4:
            figures["width"] = row["width_mm"]
    return [{then: figures}]


# ---------------------------------------------------------------------------------------------------- lengths

_LONGEST_TEXT: Final = 40
_MM: Final[Mapping[str, Fraction]] = {"mm": Fraction(1), "cm": Fraction(10), "m": Fraction(1000)}
_MM_PER_INCH: Final = Fraction(127, 5)
"""25.4 exactly, by definition of the international inch (1959)."""

_INCHES_PER_FOOT: Final = 12
_PARTS_OF_AN_INCH: Final = (2, 4, 8, 16, 32, 64)
"""Divisions that tapes and rules of the trade have (common practice)."""

_SIGNS: Final = str.maketrans({"′": "'", "’": "'", "‘": "'", "″": '"', "”": '"', "“": '"', "−": "-"})
_VULGAR: Final[Mapping[str, str]] = {
    "½": "1/2", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
}  # fmt: skip

_DECIMAL: Final = r"[0-9]+(?:\.[0-9]*)?|\.[0-9]+"
_METRIC: Final = re.compile(rf"(?P<figure>{_DECIMAL})\s*(?P<unit>mm|cm|m)?")
_FEET_INCHES: Final = re.compile(
    rf"""
    (?: (?P<feet>{_DECIMAL}) \s* (?P<ft>'|ft\.?|feet|foot) \s* -? \s* )?
    (?: (?: (?P<whole>{_DECIMAL}) (?: (?:\s*-\s*|\s+) (?P<top>[0-9]+) \s*/\s* (?P<bottom>[0-9]+) )?
          | (?P<top_alone>[0-9]+) \s*/\s* (?P<bottom_alone>[0-9]+) )
        \s* (?P<in>"|''|in\.?|inches|inch)? )?
    """,
    re.VERBOSE,
)


def parse_length(text: str, units: str, *, where: str = "length_mm", signed: bool = False) -> float:
    """A length as a person types it, in mm.

    units: "mm" or "in", how a figure without its unit is meant.  signed: a minus may stand before it.
    Read are `1210`, `1210.5 mm`, `121 cm`, `1.21 m`, `94 1/2"`, `94.5 in`, `1/2"`, `7' 10 1/2"`,
    `7 ft 10 in`, with the typographer's signs too; fractions are halves to sixty-fourths.
    Raises Invalid with one problem, at `where`, that says what is wrong and what is allowed.
    Accuracy: the nearest float to the exact value.
    """
    checks = Checks()
    value = _parsed(checks, text, where, inches=units == "in", signed=signed)
    if not checks.problems and abs(value) > REACH:
        checks.refuse(where, _("is beyond ten kilometres"), "out-of-range")
    checks.done()
    return float(value)


def _parsed(checks: Checks, text: str, where: str, *, inches: bool, signed: bool) -> Fraction:
    plain = text.translate(_SIGNS).strip().lower()
    for sign, fraction in _VULGAR.items():
        plain = plain.replace(sign, f" {fraction} ")
    plain = plain.strip()
    allowed = (
        _("""write it as 94 1/2, 94.5 or 7' 10 1/2" """).strip()
        if inches
        else _("""write it as 1210 or 1210.5, or in inches as 47 5/8" """).strip()
    )
    if not plain:
        checks.refuse(where, _("is empty; %(allowed)s") % {"allowed": allowed})
        return Fraction(0)
    negative = plain.startswith("-")
    if negative and not signed:
        checks.refuse(where, _("is below 0; a length is wanted"), "out-of-range")
        return Fraction(0)
    plain = plain.removeprefix("-").lstrip()
    found = _metric(plain, inches=inches)
    if found is None and len(plain) <= _LONGEST_TEXT:
        found = _imperial(checks, plain, where, inches=inches)
    if found is None:
        if not checks.problems:
            checks.refuse(
                where,
                _("is %(text)s, which is no length; %(allowed)s") % {"text": said(text), "allowed": allowed},
            )
        return Fraction(0)
    return -found if negative else found


def _metric(plain: str, *, inches: bool) -> Fraction | None:
    match = _METRIC.fullmatch(plain) if len(plain) <= _LONGEST_TEXT else None
    if match is None or (inches and match["unit"] is None):
        return None
    return Fraction(_figure(match["figure"])) * _MM[match["unit"] or "mm"]


def _imperial(checks: Checks, plain: str, where: str, *, inches: bool) -> Fraction | None:
    match = _FEET_INCHES.fullmatch(plain)
    if match is None:
        return None
    top, bottom = match["top"] or match["top_alone"], match["bottom"] or match["bottom_alone"]
    if match["ft"] is None and match["in"] is None and not inches:
        if top is not None:
            checks.refuse(
                where, _('has a fraction without its unit; millimetres have none, inches are written 10 1/2"')
            )
        return None
    length = Fraction(0)
    if match["whole"] is not None:
        length += Fraction(_figure(match["whole"]))
    if top is not None:
        if int(bottom) not in _PARTS_OF_AN_INCH or int(top) >= int(bottom):
            checks.refuse(
                where,
                _("has the fraction %(top)s/%(bottom)s; a tape has halves to sixty-fourths, below 1")
                % {"top": top, "bottom": bottom},
            )
            return None
        if match["whole"] is not None and "." in match["whole"]:
            checks.refuse(where, _("has a decimal point and a fraction; one of them is wanted"))
            return None
        length += Fraction(int(top), int(bottom))
    if match["ft"] is not None:
        if length >= _INCHES_PER_FOOT:
            checks.refuse(where, _("has 12 inches or more beside its feet; below 12 are wanted"))
            return None
        if "." in match["feet"] and (match["whole"] is not None or top is not None):
            checks.refuse(where, _("has parts of a foot and inches; one of them is wanted"))
            return None
        length += _INCHES_PER_FOOT * Fraction(_figure(match["feet"]))
    return length * _MM_PER_INCH


def _figure(text: str) -> str:
    """`7.` and `.5` as Fraction reads them."""
    return f"0{text}0" if "." in text else text


def archived(project: Project) -> IllegalMove:
    """What is said to somebody who would change an archived project."""
    return IllegalMove(
        _("Project %(code)s is archived, and stays as it is. Bring it back to go on with it.")
        % {"code": project.code}
    )


def require_open(project: Project) -> None:
    """Raises IllegalMove for an archived project."""
    if project.archived_at is not None:
        raise archived(project)


def checked_project(checks: Checks, given: ProjectChange) -> ProjectChange:
    """What is given of a project as it is kept; what is wrong goes to `checks`, each with its field."""
    kept: ProjectChange = {}
    if "code" in given:
        kept["code"] = checks.text("code", given["code"], longest=30)
    if "name" in given:
        kept["name"] = checks.text("name", given["name"], longest=120)
    if "client" in given:
        kept["client"] = checks.text("client", given["client"], longest=120, optional=True)
    if "site" in given:
        kept["site"] = checks.text("site", given["site"], longest=200, optional=True)
    return kept


MOST_AT_ONCE: Final = 500
"""Runs or sticks that one act may change."""

_FIRST_DAY, _LAST_DAY = date(2000, 1, 1), date(2199, 12, 31)


def check_how_many(checks: Checks, where: str, count: int) -> None:
    """At least one, and no more than one act may change."""
    if not count:
        checks.refuse(where, _("are none; choose at least one"))
    elif count > MOST_AT_ONCE:
        checks.refuse(
            where,
            _("are %(count)d; at most %(most)d are changed at once") % {"count": count, "most": MOST_AT_ONCE},
            "out-of-range",
        )


def checked_day(checks: Checks, where: str, value: object) -> date | None:
    """A day, or its text by ISO 8601 such as 2026-11-25; None for None and for empty text."""
    if value is None or value == "":
        return None
    day: date | None = None
    if isinstance(value, date) and not isinstance(value, datetime):
        day = value
    elif isinstance(value, str) and re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", value):
        with suppress(ValueError):
            day = date.fromisoformat(value)
    if day is None or not _FIRST_DAY <= day <= _LAST_DAY:
        checks.refuse(
            where,
            _("is %(value)s; a day from 2000 to 2199 is wanted, such as 2026-11-25") % {"value": said(value)},
        )
        return None
    return day


def checked_priority(checks: Checks, where: str, value: object) -> int:
    """One of `Priority`, as a number or as its digit."""
    text = str(value) if isinstance(value, (int, str)) and not isinstance(value, bool) else ""
    for each in Priority:
        if text == str(each.value):
            return each.value
    checks.refuse(
        where,
        _("is %(value)s; allowed are 1 (first), 2 (ordinary) and 3 (later)") % {"value": said(value)},
        "not-a-choice",
    )
    return Priority.ORDINARY.value


def code_taken(code: str) -> FieldProblem:
    """The problem of a project's code that the company has already."""
    return FieldProblem("code", _("there is a project %(code)s already") % {"code": code}, "taken")


def room_taken(name: str) -> FieldProblem:
    """The problem of a room's name that its project has already."""
    return FieldProblem(
        "name", _("there is a room %(name)s in this project already") % {"name": name}, "taken"
    )


def label_taken(label: str) -> FieldProblem:
    """The problem of a run's label that its room has already."""
    return FieldProblem(
        "label", _("there is a run %(label)s in this room already") % {"label": label}, "taken"
    )
