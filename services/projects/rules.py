"""Rows of a run sheet: what may stand in them, what is still to measure, and the engine's steps that they
make."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any, Final, TypedDict

from django.utils.translation import gettext as _

from bendcore.spec import REACH, REVERSAL, SMALLEST_TURN, EndKind
from services.core.checks import Checks, said
from services.core.errors import FieldProblem
from services.projects.models import Heading

MOST_ROWS: Final = 200
"""Of one run. The field limit in the settings follows from it: the sheet sends eleven fields a row."""

FARTHEST_MM: Final = 1000.0
"""Allowances at the ends and the clear distance to the wall stay within this, either way."""

MEASURED: Final = ("back", "corner", "inside", "wall", "face")
"""What a length is measured from and to."""

BEND, OFFSET, SADDLE_SET, KICK, BOX_SET, END = "bend", "offset", "saddle_set", "kick", "box_set", "end"

FIELDS_OF: Final[Mapping[str, tuple[str, ...]]] = {
    BEND: ("angle_deg", "toward"),
    OFFSET: ("angle_deg", "toward", "rise_mm", "spread_mm", "spread_toward"),
    SADDLE_SET: ("angle_deg", "toward", "rise_mm", "bends", "width_mm"),
    KICK: ("angle_deg", "toward", "rise_mm"),
    BOX_SET: ("angle_deg", "toward", "rise_mm"),
    END: (),
}
"""What may follow a row's length, and the figures it has then; a spread or width is not always wanted."""

_BESIDE: Final = ("angle_deg", "toward", "rise_mm", "spread_mm", "spread_toward", "bends", "width_mm")
_FIELDS: Final = ("length_mm", "from", "to", "then", *_BESIDE)

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
    the run ends.
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
                rows.append(_row(checks, row, where, first=index == 0, last=index == last))
            else:
                checks.refuse(where, _("is no row; an object with its figures is wanted"), "wrong-type")
    checks.done()
    return rows


def _row(checks: Checks, given: Mapping[Any, object], where: str, *, first: bool, last: bool) -> Row:
    for stranger in given:
        if stranger not in _FIELDS:
            checks.refuse(
                f"{where}.{stranger if isinstance(stranger, str) and len(stranger) <= 40 else '…'}",
                _("is no figure of a row; there are %(fields)s") % {"fields": ", ".join(_FIELDS)},
                "unknown",
            )
    then = checks.choice(f"{where}.then", given.get("then", END if last else BEND), FIELDS_OF)
    if then == END and not last:
        checks.refuse(f"{where}.then", _("says that the run ends here, but rows follow"))
    row: Row = {
        "length_mm": _length(checks, given, where, "length_mm", least=0.0),
        "from": checks.choice(f"{where}.from", given.get("from", "face" if first else "back"), MEASURED),
        "to": checks.choice(f"{where}.to", given.get("to", "face" if then == END else "back"), MEASURED),
        "then": then,
        "angle_deg": None,
        "toward": None,
        "rise_mm": None,
        "spread_mm": None,
        "spread_toward": None,
        "bends": None,
        "width_mm": None,
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
    return row


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
    if then == BEND:
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
    return kept


def _within(checks: Checks, name: str, value: object) -> float:
    return checks.number(name, value, unit="mm", at_least=-FARTHEST_MM, at_most=FARTHEST_MM)


# -------------------------------------------------------------------------------------------------- measuring


def to_measure(rows: Sequence[Row]) -> list[tuple[int, str]]:
    """What is still to measure: row (from 0) and field, in order. Empty when the rows can be planned.

    A row after a kick has no length of its own: the kick's leg is its rise over the sine of its angle. A
    spread wants its direction and the other way round; a saddle set of four bends wants its width.
    """
    return [
        (index, name)
        for index, row in enumerate(rows)
        for name in _missing(row, rows[index - 1] if index else None)
    ]


def _missing(row: Row, before: Row | None) -> list[str]:
    wanted = ["length_mm"] if before is None or before["then"] != KICK else []
    if row["then"] != END:
        wanted += ["angle_deg", "toward"]
    if row["then"] not in (BEND, END):
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


def label_taken(label: str) -> FieldProblem:
    """The problem of a run's label that its room has already."""
    return FieldProblem(
        "label", _("there is a run %(label)s in this room already") % {"label": label}, "taken"
    )
