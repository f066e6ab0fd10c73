"""The run sheet between screen and command: rows as typed, as kept, and as shown with what was found."""

import json
import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from django.http import QueryDict
from django.utils.translation import gettext as _

from bendcore import tape
from bendcore.units import Deg, Units
from services.core.errors import Invalid
from services.pages.forms import typed_length
from services.planning.models import Override
from services.planning.rules import Draft
from services.projects import rules as project_rules
from services.projects import walk

LENGTHS: Final = (
    "length_mm", "rise_mm", "spread_mm", "width_mm", "radius_mm", "leg_in_mm", "leg_out_mm",
)  # fmt: skip
NAMES: Final = project_rules.FIELDS
"""Fields of a row, as the browser sends them: each as often as there are rows."""

Typed = dict[str, str]


@dataclass(frozen=True, slots=True)
class Found:
    """A finding at a row or of the run: level `stop`, `warn`, `note` or `measure`, and its sentence.

    source, edition: where a rule has it from.  may_pass: whether a manager may let it pass.  passed,
    passed_by: why one did, and who; override: the row that says so.  rule, where, said: how it is named
    then.
    """

    level: str
    text: str
    source: str = ""
    edition: str = ""
    may_pass: bool = False
    passed: str = ""
    passed_by: str = ""
    override: uuid.UUID | None = None
    rule: str = ""
    where: str = ""
    said: str = ""


LEVELS: Final = ("stop", "warn", "measure", "note")
"""The strongest first."""

MOST_NOTES: Final = 3
"""Notes of a run that are shown; of more, all are folded."""


@dataclass(frozen=True, slots=True)
class Group:
    """Findings of one level. is_folded: whether they are shown on demand alone."""

    level: str
    found: tuple[Found, ...]

    @property
    def is_folded(self) -> bool:
        """Whether there are more notes than are read in passing."""
        return self.level == "note" and len(self.found) > MOST_NOTES


def grouped(found: Iterable[Found]) -> list[Group]:
    """Findings by level, the strongest first; what a manager let pass stands after what stops."""
    told = list(found)
    groups = [(level, [each for each in told if each.level == level]) for level in LEVELS]
    return [
        Group(level, tuple(sorted(some, key=lambda each: bool(each.passed))))
        for level, some in groups
        if some
    ]


def findings_of(draft: Draft, overrides: Iterable[Override] = ()) -> list[tuple[int | None, Found]]:
    """What was found, each with its row (from 0) or None for the run. overrides: what was let pass, where
    they are to be taken back."""
    by_name = {(each.rule, each.where, each.finding): each.pk for each in overrides}
    sources = {(each.rule, each.where): each.source for each in draft.plan.findings} if draft.plan else {}
    return [
        (
            each.row,
            Found(
                "measure" if each.rule in ("no-end", "no-rows") else each.level,
                each.text,
                source=sources.get((each.rule, each.where), ""),
                edition=each.edition,
                may_pass=each.may_pass,
                passed=each.passed,
                passed_by=each.passed_by,
                override=by_name.get((each.rule, each.where, each.said)),
                rule=each.rule,
                where=each.where,
                said=each.said,
            ),
        )
        for each in draft.findings
    ]


@dataclass(frozen=True, slots=True)
class ShownRow:
    """A row of the sheet. typed: field to text.  found: what to show under it.  wrong: fields with a
    problem."""

    number: int
    typed: Typed
    heading: str
    so_far: str
    found: tuple[Found, ...] = ()
    wrong: frozenset[str] = frozenset()
    has_more: bool = False
    splits: bool = False
    """Whether the run could be split here: at a box, with rows after it."""

    @property
    def worst(self) -> str:
        """The strongest level at this row; what was let pass weighs as a note."""
        levels = {"note" if each.passed else each.level for each in self.found}
        return next((level for level in LEVELS if level in levels), "")


@dataclass(frozen=True, slots=True)
class ReadRows:
    """What the browser sent. problems: (row, field, text)."""

    typed: list[Typed]
    rows: list[dict[str, Any]]
    problems: list[tuple[int, str, str]] = field(default_factory=list)


def read(sent: QueryDict, units: Units) -> ReadRows:
    """Rows out of a form. Rows at the end in which nothing is typed are left out; a field that was not sent
    at all is empty in every row."""
    given = {name: sent.getlist(name) for name in NAMES}
    count = min((len(column) for column in given.values() if column), default=0)
    columns = {name: column or [""] * count for name, column in given.items()}
    typed = [{name: columns[name][index].strip() for name in NAMES} for index in range(count)]
    while len(typed) > 1 and not (
        typed[-1]["length_mm"] or typed[-1]["toward"] or typed[-1]["then"] in ("end", "fitting")
    ):
        typed.pop()
    if len(typed) == 1 and not (typed[0]["length_mm"] or typed[0]["toward"]):
        typed.pop()
    read_rows = ReadRows(typed, [])
    for index, row in enumerate(typed):
        read_rows.rows.append(_row(index, row, units, read_rows.problems))
    return read_rows


def _row(index: int, typed: Typed, units: Units, problems: list[tuple[int, str, str]]) -> dict[str, Any]:
    wanted = project_rules.FIELDS_OF.get(typed["then"], ())
    kept: dict[str, Any] = {"from": typed["from"], "to": typed["to"], "then": typed["then"]}
    for name in ("length_mm", *wanted):
        text = typed[name]
        if not text:
            kept[name] = None
        elif name in LENGTHS:
            try:
                kept[name] = project_rules.parse_length(text, units.value)
            except Invalid as error:
                problems.extend((index, name, each.text) for each in error.problems)
        elif name in ("angle_deg", "bends"):
            number = _number(text)
            if number is None:
                problems.append((index, name, _("is “%(text)s”; write it as 90 or 22.5") % {"text": text}))
            else:
                kept[name] = number
        else:
            kept[name] = text
    return kept


def _number(text: str) -> float | None:
    try:
        return float(text.removesuffix("°").replace(",", ".").replace("−", "-"))
    except ValueError:
        return None


def typed_rows(rows: Sequence[Mapping[str, Any]], units: Units) -> list[Typed]:
    """Kept rows as they stand in the fields."""
    return [{name: _typed(row.get(name), name, units) for name in NAMES} for row in rows]


def as_text(typed: Sequence[Typed]) -> str:
    """Rows as they stand in the fields, as the page sends them back: JSON, each a list in the order of
    NAMES."""
    return json.dumps([[row[name] for name in NAMES] for row in typed], separators=(",", ":"))


def from_text(text: str) -> list[Typed] | None:
    """What `as_text` wrote; None for anything else."""
    try:
        rows = json.loads(text)
    except (ValueError, RecursionError):
        return None
    if not isinstance(rows, list):
        return None
    for row in rows:
        if not isinstance(row, list) or len(row) != len(NAMES):
            return None
        if not all(isinstance(each, str) for each in row):
            return None
    return [dict(zip(NAMES, row, strict=True)) for row in rows]


def retyped(sent: ReadRows, units: Units) -> list[Typed]:
    """The rows as they would stand in the fields once kept (1200 for 1200.0 mm); as they were sent when they
    cannot be kept."""
    try:
        return typed_rows(project_rules.checked_rows(sent.rows), units) if not sent.problems else sent.typed
    except Invalid:
        return sent.typed


def _typed(value: Any, name: str, units: Units) -> str:
    if value is None:
        return ""
    if name in LENGTHS:
        return typed_length(value, units)
    if name == "angle_deg":
        shown = tape.degrees(Deg(value)).removesuffix("°")
        return shown if float(shown) == value else repr(float(value))
    return str(value)


def blank(*, first: bool) -> Typed:
    """A new row: most legs are measured back to back and end in a right angle (common practice)."""
    row = dict.fromkeys(NAMES, "")
    return {**row, "from": "face" if first else "back", "to": "back", "then": "bend", "angle_deg": "90"}


def blank_row() -> ShownRow:
    """A new row as the page's template for one."""
    return ShownRow(0, blank(first=False), "", "")


def shown(
    typed: Sequence[Typed],
    rows: Sequence[Mapping[str, Any]],
    *,
    start: str,
    found: Mapping[int, list[Found]],
    wrong: Mapping[int, set[str]],
) -> list[ShownRow]:
    """Rows as the sheet shows them, with the way each goes and its bend so far."""
    ways = walk.headings(rows, start)
    angles = walk.bends_so_far(rows)
    words = _ways()
    last = len(typed) - 1
    return [
        ShownRow(
            number=index + 1,
            typed=row,
            heading=words.get(ways[index] or "", "?") if index < len(ways) else "",
            so_far=tape.degrees(Deg(angles[index])) if index < len(angles) else "",
            found=tuple(found.get(index, ())),
            wrong=frozenset(wrong.get(index, ())),
            has_more=_has_more(row, before=typed[index - 1] if index else None),
            splits=index < last and row["then"] == "fitting" and row["fitting"] != "bought_bend",
        )
        for index, row in enumerate(typed)
    ]


def _has_more(row: Typed, *, before: Typed | None) -> bool:
    usual = "face" if before is None else "corner" if before["then"] == "fitting" else "back"
    return row["from"] != usual or bool(row["spread_mm"] or row["spread_toward"])


def _ways() -> dict[str, str]:
    return {
        "up": _("up"), "down": _("down"), "left": _("left"), "right": _("right"), "in": _("in"),
        "out": _("out"), "aslant": _("aslant"),
    }  # fmt: skip


def field_word(name: str) -> str:
    """A field of a row as it is said."""
    return {
        "length_mm": _("length"), "from": _("measured from"), "to": _("measured to"), "then": _("then"),
        "angle_deg": _("angle"), "toward": _("toward"), "rise_mm": _("rise"), "spread_mm": _("spread"),
        "spread_toward": _("spread toward"), "bends": _("bends"), "width_mm": _("width"),
        "fitting": _("fitting"), "radius_mm": _("radius"), "leg_in_mm": _("leg in"),
        "leg_out_mm": _("leg out"),
    }.get(name, name)  # fmt: skip
