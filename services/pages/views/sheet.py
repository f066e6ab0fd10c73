"""The run sheet: rows kept and planned as they are typed, the drawing that follows, and the release."""

import uuid
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from bendcore.catalogue import conduit as conduit_row
from bendcore.spec import FittingKind
from bendcore.units import Units
from services.company import queries as company_queries
from services.company.rights import Right
from services.core.errors import (
    CannotPlan,
    FieldProblem,
    IllegalMove,
    Invalid,
    RunHasStops,
    StaleVersion,
)
from services.pages import beside, drawn, rules, sheet, sticks
from services.pages.forms import told
from services.pages.gate import PageRequest, page, seen_by
from services.planning import commands as planning_commands
from services.planning import queries as planning_queries
from services.planning.models import Override
from services.planning.rules import Draft, measured_run
from services.projects import commands as project_commands
from services.projects import queries as project_queries
from services.projects import rules as project_rules
from services.projects import walk
from services.projects.models import Run
from services.tracking import queries as tracking_queries

_NOT_STOPS: Final = ("no-end", "no-rows")
"""What a half-typed sheet always has: open, rather than wrong."""


@page(Right.SURVEY)
def run_sheet(request: PageRequest, run_id: uuid.UUID) -> HttpResponse:
    """A run's route as rows, with what was found at each."""
    run = project_queries.run(run_id)
    rows = measured_run(run).rows
    typed = sheet.typed_rows(rows, Units(request.company.units))
    context = shown_sheet(request, run, typed or [sheet.blank(first=True)], rows, {})
    return render(request, "pages/run_sheet.html", context | _around(request, context))


def _around(request: PageRequest, context: Mapping[str, Any]) -> dict[str, Any]:
    """What the whole page shows beside the sheet's own."""
    run: Run = context["run"]
    draft: Draft = context["draft"]
    return {
        "blank": sheet.blank_row(),
        "crews": company_queries.crews(),
        "crew": run.crew_id or remembered(request, "crew"),
        "drawings": drawings(request, run, draft),
    }


def drawings(request: PageRequest, run: Run, draft: Draft, *widths: str) -> list[tuple[str, str]]:
    """The run's drawing in these widths (`drawn.WIDTHS`), in all unless told; empty where nothing can be
    drawn yet."""
    plan = draft.plan or draft.so_far
    if plan is None:
        return []
    ends = _ends(run, draft)
    return [
        (width, drawn.isometric(plan, request.company, width=width, ends=ends))
        for width in widths or drawn.WIDTHS
    ]


def remembered(request: PageRequest, what: str) -> uuid.UUID | None:
    """What was chosen last in this session, as the id of its row."""
    try:
        return uuid.UUID(str(request.session.get(what)))
    except ValueError:
        return None


@page(Right.SURVEY)
def run_drawn(request: PageRequest, run_id: uuid.UUID) -> HttpResponse:
    """The run's drawing in one width, for a sheet whose rows were kept: it follows their answer, for it takes
    longer than all else."""
    run = project_queries.run(run_id)
    width = request.GET.get("width", "")
    draft = planning_queries.draft_of(run, request.company)
    width = width if width in drawn.WIDTHS else "wide"
    context = {"draft": draft, "drawings": drawings(request, run, draft, width), "only": True}
    return render(request, "parts/sheet_drawn.html", context)


def _ends(run: Run, draft: Draft) -> tuple[str, str]:
    whole = draft.plan is not None
    return run.from_place or _("start"), (run.to_place or _("finish")) if whole else _("so far")


@page(Right.SURVEY, "POST")
def run_rows(request: PageRequest, run_id: uuid.UUID) -> HttpResponse:
    """Keeps the rows and plans them: answers with findings and sticks; never with the rows, for somebody is
    typing in them."""
    run = project_queries.run(run_id)
    units = Units(request.company.units)
    sent = sheet.read(request.POST, units)
    problems: dict[tuple[int, str], str] = {(row, name): text for row, name, text in sent.problems}
    if not problems:
        try:
            project_commands.set_rows(
                actor=request.actor, run_id=run_id, seen=seen_by(request), rows=sent.rows
            )
            run = project_queries.run(run_id)
        except StaleVersion:
            run = project_queries.run(run_id)
            # Kept already, and only the answer was lost: what is there is what was sent.
            if sheet.retyped(sent, units) != sheet.typed_rows(run.rows, units):
                return _stale(request, run, sent)
        except Invalid as error:
            problems = {_row_place(each.where): each.text for each in error.problems}
    if not request.htmx and not problems:
        return redirect("run-sheet", run_id=run_id)
    context = shown_sheet(request, run, sent.typed, sent.rows if problems else run.rows, problems)
    context["kept"] = not problems
    status = 422 if problems else 200
    if not request.htmx:
        return render(request, "pages/run_sheet.html", context | _around(request, context), status=status)
    return render(request, "parts/planned.html", {**context, "answer": True}, status=status)


@page(Right.RELEASE, "POST")
def run_release(request: PageRequest, run_id: uuid.UUID) -> HttpResponse:
    """Releases a run to a crew: all of its sticks, or those that are ticked."""
    try:
        crew_id = uuid.UUID(request.POST.get("crew", ""))
    except ValueError:
        messages.error(request, _("Choose who the run is released to."))
        return redirect("run-sheet", run_id=run_id)
    try:
        chosen = chosen_sticks(request)
        planning_commands.release_run(
            actor=request.actor, run_id=run_id, seen=seen_by(request), crew_id=crew_id, stick_numbers=chosen
        )
    except (RunHasStops, CannotPlan, StaleVersion, IllegalMove) as error:
        messages.error(request, error.text)
        return redirect("run-sheet", run_id=run_id)
    except Invalid as error:
        messages.error(request, told(error))
        return redirect("run-sheet", run_id=run_id)
    request.session["crew"] = str(crew_id)
    return redirect("run", run_id=run_id)


def chosen_sticks(request: PageRequest) -> list[int] | None:
    """The sticks that are ticked; None where the page had none to tick. Raises Invalid for what is no
    number."""
    if "choose" not in request.POST:
        return None
    given = request.POST.getlist("stick")
    if not all(each.isascii() and each.isdigit() and len(each) <= 4 for each in given):
        raise Invalid([FieldProblem("sticks", _("has what is no number of a stick"))])
    return [int(each) for each in given]


def place_of(run: Run) -> str:
    """Where a run is, in one line."""
    ends = " – ".join(each for each in (run.from_place, run.to_place) if each)
    return " · ".join(each for each in (run.room.name, ends, conduit_row(run.former.conduit).title) if each)


def _stale(request: PageRequest, run: Run, sent: sheet.ReadRows) -> HttpResponse:
    """The difference to what somebody else kept meanwhile, each row to choose; nothing is kept.

    Without the page's own script the rows are filled with theirs where they alone changed one.
    """
    units = Units(request.company.units)
    mine, theirs = sheet.retyped(sent, units), sheet.typed_rows(run.rows, units)
    opened = sheet.from_text(request.POST.get("opened", ""))
    merged = None if opened is None else rules.merge(opened, mine, theirs=theirs)
    numbers = [n for n in range(1, max(len(mine), len(theirs)) + 1) if mine[n - 1 : n] != theirs[n - 1 : n]]
    by_rows = len(mine) == len(theirs)
    pairs = [
        {
            "number": number,
            "mine": mine[number - 1] if number <= len(mine) else None,
            "theirs": theirs[number - 1] if number <= len(theirs) else None,
            "changed_by": _changed_by(number, merged),
        }
        for number in numbers
    ]
    context: dict[str, Any] = {
        "run": run,
        "who": beside.changed_last_by(run.pk),
        "pairs": pairs,
        "by_rows": by_rows,
        "both": by_rows and any(pair["changed_by"] == "both" for pair in pairs),
        "their_rows": sheet.as_text(theirs),
        "my_rows": sheet.as_text(mine),
        "opened": sheet.as_text(theirs),
    }
    if request.htmx:
        response = render(request, "parts/stale.html", context, status=412)
        response["HX-Retarget"] = "#stale"
        response["HX-Reswap"] = "innerHTML"
        return response
    rows = [
        theirs[index] if merged and index + 1 in merged.theirs else row
        for index, row in enumerate(sent.typed)
    ]
    context |= shown_sheet(request, run, rows or [sheet.blank(first=True)], run.rows, {})
    context |= _around(request, context) | {"stale": True}
    context["state"] |= {"ready": False, "why": _("Not kept yet: somebody else changed the run.")}
    return render(request, "pages/run_sheet.html", context, status=412)


def _changed_by(number: int, merged: rules.Merge | None) -> str:
    if merged is None or number in merged.both:
        return "both"
    return "mine" if number in merged.mine else "theirs"


def _row_place(where: str) -> tuple[int, str]:
    """`rows[2].angle_deg` as (2, "angle_deg"); row -1 for what is not at a row."""
    head, _dot, name = where.partition(".")
    number = head.removeprefix("rows[").removesuffix("]")
    return (int(number), name) if number.isdigit() else (-1, where)


def shown_sheet(
    request: PageRequest,
    run: Run,
    typed: list[sheet.Typed],
    rows: Sequence[Any],
    problems: Mapping[tuple[int, str], str],
    *,
    overrides: Iterable[Override] = (),
) -> dict[str, Any]:
    """What the sheet and its fragment show.

    typed, rows: as they stand in the fields, and as they are kept or were read.  problems: by row and field;
    with any, nothing is planned.  overrides: what was let pass, where they are to be taken back.
    """
    company = request.company
    source = measured_run(run)
    draft = planning_queries.draft_of(run, company) if not problems else Draft(None, (), ())
    found: dict[int, list[sheet.Found]] = defaultdict(list)
    wrong: dict[int, set[str]] = defaultdict(set)
    for (row, name), text in problems.items():
        found[row].append(sheet.Found("stop", f"{sheet.field_word(name)} {text}"))
        wrong[row].add(name)
    of_run: list[sheet.Found] = []
    for row_or_run, one in sheet.findings_of(draft, overrides):
        (of_run if row_or_run is None else found[row_or_run]).append(one)
    by_row: dict[int, list[str]] = defaultdict(list)
    for row, name in draft.to_measure:
        by_row[row].append(name)
        wrong[row].add(name)
    for row, names in by_row.items():
        listed = ", ".join(sheet.field_word(name) for name in names)
        found[row].append(sheet.Found("measure", _("To measure: %(fields)s.") % {"fields": listed}))
    for row in found:
        found[row].sort(key=lambda each: sheet.LEVELS.index(each.level))
    links = beside.links_of(run)
    released = planning_queries.current_plan(run.pk)
    plan = draft.plan or draft.so_far
    result = None if plan is None else plan.to_dict()
    return {
        "run": run,
        "source": source,
        "draft": draft,
        "plan": plan,
        "whole": draft.plan is not None,
        "sticks": sticks.shown(result) if result is not None else [],
        "place": place_of(run),
        "rows": sheet.shown(typed, rows, start=source.heading, found=found, wrong=wrong),
        "opened": sheet.as_text(sheet.typed_rows(run.rows, Units(company.units))),
        "of_run": sheet.grouped(of_run),
        "state": _state(draft, problems, found) | _standing(run, released, result if draft.plan else None),
        "measured": project_rules.MEASURED,
        "ways": project_rules.FIELDS_OF,
        "fittings": [kind.value for kind in FittingKind],
        "directions": tuple(walk.DIRECTIONS),
        "links": links,
        "bank": _bank(run, links, company) if not problems else [],
        "released": released,
        "may_split": released is None and not run.beside_id and not links.bank,
    }


def _bank(run: Run, links: beside.Links, company: Any) -> list[dict[str, Any]]:
    """The runs beside one, each with how far its marks stand from those of the run before it."""
    if not links.bank:
        return []
    steps = planning_queries.steps_of_bank(run, len(links.bank), company)
    return [
        {"run": each, "steps": told_steps}
        for each, told_steps in zip(links.bank, steps or [()] * len(links.bank), strict=True)
    ]


def _state(
    draft: Draft, problems: Mapping[tuple[int, str], str], found: Mapping[int, list[sheet.Found]]
) -> dict[str, Any]:
    """What stands against the release, in a sentence, and the first row that it is about."""

    def count(level: str) -> int:
        return sum(each.level == level for each in draft.findings)

    first = next(
        (
            row + 1
            for row in sorted(found)
            if any(each.level in ("stop", "measure") and not each.passed for each in found[row])
        ),
        None,
    )
    parts = []
    stops = len(problems) or sum(each.rule not in _NOT_STOPS for each in draft.stops)
    if stops:
        parts.append(ngettext("%d stop", "%d stops", stops) % stops)
    passed = sum(bool(each.passed) for each in draft.findings)
    if passed:
        parts.append(ngettext("%d stop let pass", "%d stops let pass", passed) % passed)
    if draft.to_measure:
        open_figures = len(draft.to_measure)
        parts.append(ngettext("%d figure to measure", "%d figures to measure", open_figures) % open_figures)
    warnings, notes = count("warn"), count("note")
    if warnings:
        parts.append(ngettext("%d warning", "%d warnings", warnings) % warnings)
    if notes:
        parts.append(ngettext("%d note", "%d notes", notes) % notes)
    if problems:
        why = _("Not kept yet: a row has a figure that cannot be read.")
    elif stops and all(each.may_pass for each in draft.stops):
        why = _("It cannot be released unless a manager lets its stops pass.")
    elif stops:
        why = _("A run with a stop cannot be released.")
    elif draft.to_measure:
        why = _("It can be released when all is measured.")
    elif draft.plan is None:
        why = _("It can be released when its rows lead to its end.")
    else:
        why = _("Ready to release.")
    ready = draft.is_releasable and not problems
    return {"parts": ", ".join(parts), "why": why, "ready": ready, "first": first, "stops": stops}


def _standing(run: Run, released: Any, result: Mapping[str, Any] | None) -> dict[str, Any]:
    """Why a run that is released already is not released again; nothing for one that may be."""
    if released is None or result is None:
        return {}
    if result["sticks"] == released.result["sticks"]:
        why = _("Released as it stands here, revision %(revision)d.") % {"revision": released.revision}
    elif begun := [each.line.label for each in tracking_queries.begun_of_run(run.pk)]:
        why = _("Work on %(labels)s has begun to revision %(revision)d: it cannot be released anew.") % {
            "labels": ", ".join(begun), "revision": released.revision
        }  # fmt: skip
    else:
        return {}
    return {"why": why, "ready": False, "stops": 0}
