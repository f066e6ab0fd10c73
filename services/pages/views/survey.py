"""Setting up: projects, rooms, runs and their sheets, up to the release."""

import copy
import uuid
from collections import defaultdict
from collections.abc import Sequence
from typing import Any, Final

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from bendcore.catalogue import conduit as conduit_row
from bendcore.drawing import run_isometric
from bendcore.errors import BendError
from bendcore.units import Units
from bendcore.words import Dialect
from services.bench import queries as bench_queries
from services.company import queries as company_queries
from services.company.rights import Right
from services.core import words
from services.core.errors import CannotPlan, FieldProblem, IllegalMove, Invalid, RunHasStops, StaleVersion
from services.pages import chart, rules, sheet
from services.pages.forms import ProjectForm, RoomForm, RunForm, typed_length
from services.pages.gate import PageRequest, page
from services.planning import commands as planning_commands
from services.planning import queries as planning_queries
from services.planning.rules import Draft
from services.projects import commands as project_commands
from services.projects import queries as project_queries
from services.projects import rules as project_rules
from services.projects.models import Run
from services.tracking import queries as tracking_queries
from services.tracking.models import State

ISOMETRIC_WIDE: Final = 520.0
ISOMETRIC_NARROW: Final = 310.0


@page(Right.SURVEY, "GET", "POST")
def project_new(request: PageRequest) -> HttpResponse:
    """Opens a project."""
    form = ProjectForm(request.POST or None)
    if request.method == "POST":
        project = form.ask(project_commands.create_project, actor=request.actor)
        if project is not None:
            request.session["project"] = str(project.pk)
            return redirect("room-new", project_id=project.pk)
    return _form(
        request, form, title=_("Open a project"), go=_("Open the project"), then=_("Next: its first room.")
    )


@page(Right.SURVEY, "GET", "POST")
def room_new(request: PageRequest, project_id: uuid.UUID) -> HttpResponse:
    """Adds a room to a project."""
    project = project_queries.project(project_id)
    form = RoomForm(request.POST or None)
    if request.method == "POST":
        room = form.ask(project_commands.create_room, actor=request.actor, project_id=project_id)
        if room is not None:
            return redirect("run-new", room_id=room.pk)
    return _form(
        request, form, title=_("Add a room"), under=str(project.name), go=_("Add the room"),
        then=_("Next: its first run."),
    )  # fmt: skip


@page(Right.SURVEY, "GET", "POST")
def run_new(request: PageRequest, room_id: uuid.UUID) -> HttpResponse:
    """Adds a run to a room."""
    room = project_queries.room(room_id)
    formers = bench_queries.formers()
    if not formers:
        return redirect("benders")
    form = _run_form(request, formers, with_ends=False)
    if request.method == "POST":
        run = form.ask(project_commands.create_run, actor=request.actor, room_id=room_id)
        if run is not None:
            request.session["former"] = str(run.former_id)
            return redirect("run-sheet", run_id=run.pk)
    return _form(
        request, form, title=_("Add a run"), under=f"{room.project.name} · {room.name}",
        go=_("Type its route"), then=_("Next: its route, row by row."),
    )  # fmt: skip


@page(Right.SURVEY, "GET", "POST")
def run_change(request: PageRequest, run_id: uuid.UUID) -> HttpResponse:
    """Changes what a run says of itself: label, places, former, heading, ends."""
    run = project_queries.run(run_id)
    units = Units(request.company.units)
    initial: dict[str, Any] = {
        name: getattr(run, name)
        for name in ("label", "from_place", "to_place", "former_id", "heading", "start_kind", "finish_kind")
    }
    for name in ("start_allowance_mm", "finish_allowance_mm", "standoff_mm"):
        initial[name] = typed_length(getattr(run, name), units)
    form = _run_form(request, bench_queries.formers(), with_ends=True, initial=initial)
    if request.method == "POST":
        try:
            changed = form.ask(
                project_commands.change_run, actor=request.actor, run_id=run_id, seen=_seen(request)
            )
        except (StaleVersion, IllegalMove) as error:
            form.add_error(None, error.text)
            changed = None
        if changed is not None:
            return redirect("run-sheet", run_id=run_id)
    seen = request.POST.get("seen") or run.version
    return _form(
        request,
        form,
        title=_("Change run %(label)s") % {"label": run.label},
        under=_place(run),
        go=_("Keep"),
        seen=seen,
    )


def _run_form(
    request: PageRequest, formers: Sequence[Any], *, with_ends: bool, initial: dict[str, Any] | None = None
) -> RunForm:
    dialect = Dialect(request.company.words)
    choices = [(str(each.pk), f"{each.bender.name} · {conduit_row(each.conduit).title}") for each in formers]
    told = {"former_id": request.session.get("former"), **(initial or {})}
    former = words.word("former", dialect)
    return RunForm(
        request.POST or None,
        company=request.company,
        formers=choices,
        end_words=lambda kind: words.word(kind, dialect),
        former_label=_("%(former)s and conduit") % {"former": former[:1].upper() + former[1:]},
        with_ends=with_ends,
        initial=told,
    )


def _form(request: PageRequest, form: Any, *, title: str, go: str, **more: Any) -> HttpResponse:
    status = 422 if form.is_bound and form.errors else 200
    form.focus()
    return render(request, "pages/form.html", {"form": form, "title": title, "go": go, **more}, status=status)


def _seen(request: PageRequest) -> int:
    text = request.POST.get("seen", "")
    if not text.isascii() or not text.isdigit() or len(text) > 9:
        raise Invalid(
            [FieldProblem("seen", _("the page did not say which version it showed; open it again"))]
        )
    return int(text)


def _place(run: Run) -> str:
    ends = " – ".join(each for each in (run.from_place, run.to_place) if each)
    return " · ".join(each for each in (run.room.name, ends, conduit_row(run.former.conduit).title) if each)


# ------------------------------------------------------------------------------------------------ the sheet


@page(Right.SURVEY)
def run_sheet(request: PageRequest, run_id: uuid.UUID) -> HttpResponse:
    """A run's route as rows, with what was found at each."""
    run = project_queries.run(run_id)
    typed = sheet.typed_rows(run.rows, Units(request.company.units))
    context = _sheet(request, run, typed or [sheet.blank(first=True)], run.rows, {})
    return render(request, "pages/run_sheet.html", context | _around(run))


def _around(run: Run) -> dict[str, Any]:
    """What the whole page shows beside the sheet's own."""
    return {
        "blank": sheet.blank_row(),
        "crews": company_queries.crews(),
        "released": planning_queries.current_plan(run.pk),
    }


@page(Right.SURVEY, "POST")
def run_rows(request: PageRequest, run_id: uuid.UUID) -> HttpResponse:
    """Keeps the rows and plans them: answers with findings, drawing and sticks; never with the rows, for
    somebody is typing in them."""
    run = project_queries.run(run_id)
    units = Units(request.company.units)
    sent = sheet.read(request.POST, units)
    problems: dict[tuple[int, str], str] = {(row, name): text for row, name, text in sent.problems}
    if not problems:
        try:
            run = project_commands.set_rows(
                actor=request.actor, run_id=run_id, seen=_seen(request), rows=sent.rows
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
    context = _sheet(request, run, sent.typed, sent.rows if problems else run.rows, problems)
    context["kept"] = not problems
    status = 422 if problems else 200
    if not request.htmx:
        return render(request, "pages/run_sheet.html", context | _around(run), status=status)
    return render(request, "parts/planned.html", {**context, "answer": True}, status=status)


@page(Right.RELEASE, "POST")
def run_release(request: PageRequest, run_id: uuid.UUID) -> HttpResponse:
    """Releases a run to a crew."""
    try:
        crew_id = uuid.UUID(request.POST.get("crew", ""))
    except ValueError:
        messages.error(request, _("Choose who the run is released to."))
        return redirect("run-sheet", run_id=run_id)
    try:
        planning_commands.release_run(
            actor=request.actor, run_id=run_id, seen=_seen(request), crew_id=crew_id
        )
    except (RunHasStops, CannotPlan, StaleVersion, IllegalMove) as error:
        messages.error(request, error.text)
        return redirect("run-sheet", run_id=run_id)
    return redirect("run", run_id=run_id)


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
    context |= (
        _sheet(request, run, rows or [sheet.blank(first=True)], run.rows, {}) | _around(run) | {"stale": True}
    )
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


def _sheet(
    request: PageRequest,
    run: Run,
    typed: list[sheet.Typed],
    rows: Sequence[Any],
    problems: dict[tuple[int, str], str],
) -> dict[str, Any]:
    """What the sheet and its fragment show."""
    company = request.company
    draft = planning_queries.draft_of(run, company) if not problems else Draft(None, (), ())
    preview = draft if draft.plan is not None or problems else _preview(run, company, draft)
    found: dict[int, list[sheet.Found]] = defaultdict(list)
    wrong: dict[int, set[str]] = defaultdict(set)
    for (row, name), text in problems.items():
        found[row].append(sheet.Found("stop", f"{sheet.field_word(name)} {text}"))
        wrong[row].add(name)
    of_run: list[sheet.Found] = []
    told = list(draft.findings)
    if preview.plan is not None:
        told += [each for each in preview.findings if each not in told]
    for each in told:
        one = sheet.Found("measure" if each.rule in ("no-end", "no-rows") else each.level, each.text)
        (of_run if each.row is None else found[each.row]).append(one)
    by_row: dict[int, list[str]] = defaultdict(list)
    for row, name in draft.to_measure:
        by_row[row].append(name)
        wrong[row].add(name)
    for row, names in by_row.items():
        listed = ", ".join(sheet.field_word(name) for name in names)
        found[row].append(sheet.Found("measure", _("To measure: %(fields)s.") % {"fields": listed}))
    for row in found:
        found[row].sort(key=lambda each: ("stop", "warn", "measure", "note").index(each.level))
    return {
        "run": run,
        "place": _place(run),
        "rows": sheet.shown(typed, rows, start=run.heading, found=found, wrong=wrong),
        "opened": sheet.as_text(sheet.typed_rows(run.rows, Units(company.units))),
        "of_run": [each for each in of_run if not problems],
        "state": _state(draft, problems, found) | _standing(run, draft),
        "measured": project_rules.MEASURED,
        "ways": project_rules.FIELDS_OF,
        "directions": tuple(rules.DIRECTIONS),
        **_drawn(request, run, preview, whole=draft.plan is not None),
    }


def _preview(run: Run, company: Any, draft: Draft) -> Draft:
    """The run as far as it is measured and can be bent, ending there: drawn while somebody is still at the
    rest."""
    stopped = [each.row for each in draft.stops if each.row is not None and each.rule != "no-end"]
    end = min([row for row, _name in project_rules.to_measure(run.rows)] + stopped + [len(run.rows)])
    rows = [dict(row) for row in run.rows[:end]]
    if not rows:
        return Draft(None, (), ())
    last = rows[-1]
    rows[-1] = {
        **last, "then": "end", "to": "face" if last["to"] == "face" else "corner",
        "angle_deg": None, "toward": None, "rise_mm": None, "spread_mm": None, "spread_toward": None,
        "bends": None, "width_mm": None,
    }  # fmt: skip
    so_far = copy.copy(run)
    so_far.rows = rows
    return planning_queries.draft_of(so_far, company)


def _state(
    draft: Draft, problems: dict[tuple[int, str], str], found: dict[int, list[sheet.Found]]
) -> dict[str, Any]:
    """What stands against the release, in a sentence, and the first row that it is about."""

    def count(level: str) -> int:
        return sum(each.level == level for each in draft.findings)

    first = next(
        (row + 1 for row in sorted(found) if found[row] and found[row][0].level in ("stop", "measure")), None
    )
    parts = []
    stops = len(problems) or sum(each.rule not in ("no-end", "no-rows") for each in draft.stops)
    if stops:
        parts.append(ngettext("%d stop", "%d stops", stops) % stops)
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


def _standing(run: Run, draft: Draft) -> dict[str, Any]:
    """Why a run that is released already is not released again; nothing for one that may be."""
    plan = planning_queries.current_plan(run.pk)
    if plan is None or draft.plan is None:
        return {}
    if draft.plan.to_dict()["sticks"] == plan.result["sticks"]:
        why = _("Released as it stands here, revision %(revision)d.") % {"revision": plan.revision}
    elif begun := [
        each.line.label for each in tracking_queries.pieces_of_run(run.pk) if each.state != State.RELEASED
    ]:
        why = _("Work on %(labels)s has begun to revision %(revision)d: it cannot be released anew.") % {
            "labels": ", ".join(begun), "revision": plan.revision
        }  # fmt: skip
    else:
        return {}
    return {"why": why, "ready": False, "stops": 0}


def _drawn(request: PageRequest, run: Run, draft: Draft, *, whole: bool) -> dict[str, Any]:
    plan = draft.plan
    if plan is None:
        return {"plan": None}
    units, dialect = Units(request.company.units), Dialect(request.company.words)
    ends = (run.from_place or _("start"), (run.to_place or _("finish")) if whole else _("so far"))
    try:
        wide, narrow = (
            run_isometric(
                plan, units=units, dialect=dialect, width=width, paper=False, prefix=prefix, ends=ends
            )
            for width, prefix in ((ISOMETRIC_WIDE, "iso-w"), (ISOMETRIC_NARROW, "iso-n"))
        )
    except BendError:  # a drawing must not stop the figures
        wide = narrow = ""
    longest = max(stick.cut_length for stick in plan.sticks)
    sticks = [
        {
            "number": stick.number,
            "cut_length": stick.cut_length,
            "is_whole": plan.conduit.stock_length is not None
            and abs(stick.cut_length - plan.conduit.stock_length) < 0.5,
            "bends": [{"mark": bend.set.mark, "angle": bend.angle} for bend in stick.bends],
            "strip": chart.row(
                [
                    chart.ChartStick(
                        stick.number,
                        "checked",
                        stick.cut_length,
                        tuple((bend.begin, bend.finish) for bend in stick.bends),
                        tuple(bend.set.mark for bend in stick.bends),
                    )
                ],
                scale_mm=longest,
            ),
        }
        for stick in plan.sticks
    ]
    return {"plan": plan, "whole": whole, "iso_wide": wide, "iso_narrow": narrow, "sticks": sticks}
