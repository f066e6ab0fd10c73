"""Lists and labels: what is cut from what, kits, take-offs, a crew's sheet, labels."""

import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any, Final

from django.utils import timezone
from django.utils.translation import gettext as _

from bendcore import tape
from bendcore.catalogue import conduit as conduit_row
from bendcore.units import Deg, Mm, Units
from bendcore.words import Dialect
from services.bench import queries as bench
from services.company.models import Company
from services.core import words
from services.papers import rules
from services.papers.models import Of
from services.papers.queries import content
from services.papers.queries.content import NOT_CUT, Item, conduit_of
from services.papers.queries.press import address_of, page_css, printed, qr
from services.papers.rules import Asked, Kit, Sheet
from services.planning import queries as planning
from services.planning.models import Plan
from services.projects import queries as projects
from services.projects.models import Run
from services.stock import queries as stock
from services.tracking import queries as tracking
from services.tracking.models import Piece
from services.tracking.rules import BENCH, FITTING, OPEN_STAGE

MARGIN: Final = "12mm 12mm 15mm"

_FOOT: Final = (
    "@page { @bottom-left { content: string(paper); font: 8pt 'Liberation Sans'; color: #475055 }"
    " @bottom-right { content: counter(page) ' / ' counter(pages); font: 8pt 'Liberation Sans';"
    " color: #475055 } }\n"
)


def _listed(template: str, context: Mapping[str, Any], company: Company, asked: Asked) -> bytes:
    told = {
        "company": company,
        "title": content.title_of(asked),
        "of": asked.of,
        "printed_at": timezone.localtime(),
        **context,
    }
    return printed(f"papers/{template}", told, page_css(asked.paper, MARGIN) + _FOOT)


def conduit_said(conduit_id: str) -> str:
    """A conduit by its name in the catalogue."""
    try:
        return conduit_row(conduit_id).title
    except KeyError:
        return conduit_id


# ------------------------------------------------------------------------------------------------- cut list


def cut_list(found: Sequence[Item], company: Company, asked: Asked) -> bytes:
    """What to cut from what, of the sticks that are not cut yet. Two queries."""
    return _listed("cut_list.html", cut_list_of(found, company), company, asked)


def cut_list_of(found: Sequence[Item], company: Company) -> dict[str, Any]:
    """By conduit, the blanks with what is cut from them; the longest first. One query."""
    left = [each for each in found if each.state in NOT_CUT]
    by_conduit: dict[str, list[Item]] = defaultdict(list)
    for each in left:
        by_conduit[conduit_of(each.plan)].append(each)
    kept: dict[str, list[tuple[str, float]]] = defaultdict(list)
    for offcut in stock.offcuts():
        kept[offcut.conduit].append((offcut.label, offcut.length_mm))
    told = []
    for conduit in sorted(by_conduit, key=conduit_said):
        some = {str(each.stick.pk): each for each in by_conduit[conduit]}
        full = _full_length(conduit, some.values())
        blanks = rules.cut_from(
            [_to_cut(name, each) for name, each in some.items()], kept[conduit],
            full_mm=full, kerf_mm=company.kerf_mm, least_mm=company.least_offcut_mm,
        )  # fmt: skip
        scale = max(each.length_mm for each in blanks)
        told.append(
            {
                "title": conduit_said(conduit),
                "count": len(some),
                "full": sum(not each.label for each in blanks),
                "offcuts": sum(bool(each.label) for each in blanks),
                "blanks": [_blank_told(each, some, scale) for each in blanks],
            }
        )
    return {"conduits": told, "count": len(left), "cut_before": len(found) - len(left)}


def _to_cut(name: str, item: Item) -> rules.ToCut:
    ends = item.stick.data["start"], item.stick.data["finish"]
    return rules.ToCut(name, item.stick.cut_length_mm, (ends[0].get("thread"), ends[1].get("thread")))


def _full_length(conduit: str, found: Iterable[Item]) -> float:
    try:
        row = conduit_row(conduit)
    except KeyError:
        return max(each.stick.cut_length_mm for each in found)
    return float(row.net_length or row.stock_length)


_BAR: Final = 1000.0
"""Width of a drawn length, in the units of its own view."""


def _blank_told(blank: rules.Blank, some: Mapping[str, Item], scale: float) -> dict[str, Any]:
    """A blank with its pieces, and the bar that shows them along it."""
    at = 0.0
    pieces, bars = [], []
    for each in blank.pieces:
        width = each.piece.length_mm / scale * _BAR
        bars.append({"x": f"{at + 2.0:.1f}", "width": f"{max(width - 4.0, 4.0):.1f}"})
        item = some[each.piece.name]
        pieces.append({"item": item, "threads": each.threads, "is_whole": each.is_whole})
        at += width
    return {
        "label": blank.label,
        "length_mm": blank.length_mm,
        "rest_mm": blank.rest_mm,
        "is_kept": blank.is_kept,
        "bar_width": f"{blank.length_mm / scale * _BAR - 4.0:.1f}",
        "bars": bars,
        "pieces": pieces,
    }


# ------------------------------------------------------------------------------------------------- kit list


def kit_list(company: Company, asked: Asked) -> bytes:
    """What each run is put together from. Two queries."""
    return _listed("kit_list.html", kit_list_of(asked), company, asked)


def kit_list_of(asked: Asked) -> dict[str, Any]:
    """The kits of the runs that are released, and all of them together by conduit. One query."""
    plans = content.plans_within(asked.of, asked.of_id)
    runs = [{"run": plan.run, "plan": plan, **_kit_told(rules.kit_of(plan.result), plan)} for plan in plans]
    together = []
    for conduit, some in _by_conduit(plans).items():
        kit = rules.added([rules.kit_of(plan.result) for plan in some])
        together.append({"title": conduit_said(conduit), "runs": len(some), "kit": kit, **_parts(kit)})
    return {"runs": runs, "together": together if len(plans) > 1 else []}


def _by_conduit(plans: Sequence[Plan]) -> dict[str, list[Plan]]:
    found: dict[str, list[Plan]] = defaultdict(list)
    for plan in plans:
        found[conduit_of(plan)].append(plan)
    return dict(sorted(found.items(), key=lambda each: conduit_said(each[0])))


def _kit_told(kit: Kit, plan: Plan) -> dict[str, Any]:
    sticks = [
        {"label": f"{plan.run.label}/{each['number']}", "length_mm": each["cut_length"]}
        for each in plan.result["sticks"]
    ]
    return {"kit": kit, "conduit": conduit_said(conduit_of(plan)), "sticks": sticks, **_parts(kit)}


def _parts(kit: Kit) -> dict[str, Any]:
    return {"parts": rules.parts_in_order(kit.parts)}


# ------------------------------------------------------------------------------------------------- take-off


def runs_in(asked: Asked) -> int:
    """How many runs a take-off counts. One query."""
    return len(_runs(asked))


def _runs(asked: Asked) -> list[Run]:
    if asked.of == Of.RUN:
        return [projects.run(asked.of_id)]
    if asked.of == Of.ROOM:
        room = projects.room(asked.of_id)
        return [run for run in projects.runs_of_project(room.project_id) if run.room_id == room.pk]
    return projects.runs_of_project(asked.of_id)


def take_off(company: Company, asked: Asked) -> bytes:
    """What a job takes, of drafts and of what is released. Four queries, one more for a room."""
    return _listed("take_off.html", take_off_of(company, asked), company, asked)


@dataclass(frozen=True, slots=True)
class _Counted:
    run: Run
    kit: Kit
    is_released: bool


def take_off_of(company: Company, asked: Asked) -> dict[str, Any]:
    """By conduit: released, drafts, together; and the runs that cannot be counted yet. Queries as for
    `take_off`, but one."""
    plans = {plan.run_id: plan for plan in content.plans_within(asked.of, asked.of_id)}
    counted: dict[str, list[_Counted]] = defaultdict(list)
    left_out: list[Run] = []
    runs = _runs(asked)
    drafts = planning.drafts_of([run for run in runs if run.pk not in plans], company)
    for run in runs:
        if run.pk in plans:
            plan = plans[run.pk]
            counted[conduit_of(plan)].append(_Counted(run, rules.kit_of(plan.result), is_released=True))
            continue
        draft = drafts[run.pk].plan
        if draft is None:
            left_out.append(run)
        else:
            kit = rules.kit_of(draft.to_dict())
            counted[run.former.conduit].append(_Counted(run, kit, is_released=False))
    dialect, units = Dialect(company.words), Units(company.units)
    return {
        "conduits": [
            _taken_off(conduit, counted[conduit], dialect, units)
            for conduit in sorted(counted, key=conduit_said)
        ],
        "left_out": left_out,
        "runs": sum(len(each) for each in counted.values()),
    }


def _taken_off(conduit: str, some: Sequence[_Counted], dialect: Dialect, units: Units) -> dict[str, Any]:
    kits = [rules.added([each.kit for each in some if each.is_released is want]) for want in (True, False)]
    kits.append(rules.added([each.kit for each in some]))
    full = _full_length(conduit, ()) if _is_known(conduit) else None
    rows: list[tuple[str, list[str]]] = [
        (_("metres of conduit") if units is Units.MM else _("feet of conduit"),
         [tape.metres(Mm(kit.metres_mm), units) for kit in kits]),
    ]  # fmt: skip
    if full:
        rows.append(
            (
                _("full lengths at least"),
                [str(_at_least(kit.metres_mm, full)) for kit in kits],
            )
        )
    rows.append((words.plural(words.word("stick", dialect)), [str(kit.sticks) for kit in kits]))
    rows += [
        (
            _("%(bends)s of %(angle)s")
            % {"bends": words.plural(words.word("bend", dialect)), "angle": tape.degrees(Deg(angle))},
            [str(kit.bends[angle]) for kit in kits],
        )
        for angle in sorted(kits[2].bends, reverse=True)
    ]
    rows += [
        (words.word(name, dialect), [str(kit.parts[name]) for kit in kits])
        for name, _count in rules.parts_in_order(kits[2].parts)
    ]
    rows.append((_("threads to cut"), [str(kit.threads) for kit in kits]))
    clips = words.plural(words.word("clip", dialect))
    rows.append((clips, ["–" if kit.clips is None else str(kit.clips) for kit in kits]))
    return {
        "title": conduit_said(conduit),
        "runs": len(some),
        "rows": rows,
        "without_clips": sum(each.kit.clips is None for each in some),
    }


def _is_known(conduit: str) -> bool:
    try:
        conduit_row(conduit)
    except KeyError:
        return False
    return True


def _at_least(metres_mm: float, full_mm: float) -> int:
    return -int(-(metres_mm - 1e-6) // full_mm) if metres_mm > 0 else 0


# ------------------------------------------------------------------------------------------- a crew's sheet


def crew_sheet(company: Company, asked: Asked) -> bytes:
    """What a crew is to do on a day, in order. Three queries."""
    return _listed("crew_sheet.html", crew_sheet_of(asked), company, asked)


def crew_sheet_of(asked: Asked) -> dict[str, Any]:
    """At the bench and for fitting, each by what is due, what has priority and what stands on one bender and
    former; one after the other as they follow. Two queries."""
    rows = tracking.left_to_crew(asked.of_id)
    formers = {each.pk: each for each in bench.formers()}
    at_bench = [each for each in rows if _has_open(each, asked.of_id, BENCH)]
    fitting = [each for each in rows if tracking.crews_of(each).of(FITTING) == asked.of_id]
    ready = [each for each in fitting if _has_open(each, asked.of_id, FITTING)]

    def setup(piece: Piece) -> tuple[str, str, float]:
        former = formers[piece.line.run.former_id]
        return former.bender.name, conduit_said(piece.conduit or former.conduit), former.centreline_radius_mm

    def order(piece: Piece) -> tuple[Any, ...]:
        run = piece.line.run
        return rules.urgency(run.due_on, run.priority), setup(piece), _place(piece)

    return {
        "day": asked.day or timezone.localdate(),
        "bench": [
            {"setup": each, "rows": list(some)}
            for each, some in groupby(sorted(at_bench, key=order), key=setup)
        ],
        "bench_count": len(at_bench),
        "fitting": sorted(ready, key=_fitting_order),
        "not_ready": len(fitting) - len(ready),
    }


def _has_open(piece: Piece, crew_id: uuid.UUID, stage: str) -> bool:
    return OPEN_STAGE.get(piece.state) == stage and tracking.crews_of(piece).of(stage) == crew_id


def _place(piece: Piece) -> tuple[Any, ...]:
    run = piece.line.run
    return run.room.project.code, run.room.place, run.room.name, run.label, piece.line.number


def _fitting_order(piece: Piece) -> tuple[Any, ...]:
    run = piece.line.run
    fit = piece.stick.data.get("fit", piece.line.number)
    return rules.urgency(run.due_on, run.priority), _place(piece)[:-1], fit


# --------------------------------------------------------------------------------------------------- labels


def labels(found: Sequence[Item], company: Company, sheet: Sheet, start: int) -> bytes:
    """Labels for sticks on their sheets. No query."""
    sheets = [
        [
            {
                "item": item,
                "qr": qr(address_of(item.stick.pk)),
                "conduit": conduit_of(item.plan),
                "place": f"l{at // sheet.columns}-{at % sheet.columns}",
                "points": f"{_painted(item.stick.line.label, sheet):.1f}",
            }
            for at, item in enumerate(places)
            if item is not None
        ]
        for places in rules.label_sheets(found, sheet, start)
    ]
    return printed(
        "papers/labels.html", {"company": company, "sheets": sheets, "is_tall": sheet.height >= 45.0},
        page_css(sheet.paper) + _grid(sheet),
    )  # fmt: skip


_EDGE_MM: Final = 3.0
"""Kept free on a label: few printers reach the edge of a sheet."""

_POINT_MM: Final = 25.4 / 72.0
_LETTER_WIDTH: Final = 0.6
"""Of a bold figure or letter, in its height; Liberation Sans has 0.556 for a figure and more for few."""


def _code_mm(sheet: Sheet) -> float:
    return min(sheet.height - 2.0 * _EDGE_MM, sheet.width * 0.42, 40.0)


def _painted(label: str, sheet: Sheet) -> float:
    """The largest type, in points, in which what is painted goes beside the code."""
    width = sheet.width - _code_mm(sheet) - 2.0 * _EDGE_MM - 2.5
    return min(sheet.height * 0.38, width / (_LETTER_WIDTH * max(len(label), 1))) / _POINT_MM


def _grid(sheet: Sheet) -> str:
    """Where each label lies on the sheet."""
    width, height = (215.9, 279.4) if sheet.paper == "Letter" else (210.0, 297.0)
    code = _code_mm(sheet)
    small = max(6.5, min(10.0, sheet.height * 0.22))
    places = [
        f".l{row}-{column} {{ left: {sheet.left + column * sheet.step_x:.4f}mm;"
        f" top: {sheet.top + row * sheet.step_y:.4f}mm }}"
        for row in range(sheet.rows)
        for column in range(sheet.columns)
    ]
    return "\n".join(
        [
            f".labels {{ width: {width}mm; height: {height}mm }}",
            f".label {{ width: {sheet.width:.4f}mm; height: {sheet.height:.4f}mm; padding: {_EDGE_MM}mm;"
            f" font-size: {small:.1f}pt }}",
            f".label .code {{ width: {code:.2f}mm }} .label .code svg {{ height: {code:.2f}mm }}",
            *places,
            "",
        ]
    )
