"""The wall chart: every run of a job along one scale, who has it, what stops it; and the bar that gives runs
and sticks to crews, sets days and what goes first."""

import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from django.contrib import messages
from django.http import HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from bendcore.units import Units
from bendcore.words import Dialect
from services.bench import queries as bench_queries
from services.company import queries as company_queries
from services.company.rights import Right, may
from services.core import words
from services.core.errors import FieldProblem, IllegalMove, Invalid, NotFound, StaleVersion
from services.core.problems import status_of
from services.pages import chart, overview, queries, said
from services.pages.forms import told
from services.pages.gate import PageRequest, page, project_remembered
from services.pages.overview import Asked, Outcome, Overview, Standing
from services.projects import commands as project_commands
from services.projects import queries as project_queries
from services.projects.models import Priority, Project
from services.tracking import commands as tracking_commands
from services.tracking import rules as tracking_rules
from services.tracking.models import Piece

STOPS_TOLD: Final = 12
"""Stops that stand beside the chart; more are a filter away."""

POLL_S: Final = 4
POLL_WHILE_UNKNOWN_S: Final = 1


@dataclass(frozen=True, slots=True)
class StickOnRow:
    """A stick as its row lists it. piece: None while it waits.  bench, fitting: crews that are said of it."""

    label: str
    state: str
    piece: Piece | None
    bench: str
    fitting: str
    can_be_given: bool


@dataclass(frozen=True, slots=True)
class Row:
    """A run on the wall chart. next: what comes next.  bench, fitting: names of its crews."""

    run: Standing
    strip: chart.Row
    drawn: SafeString
    length_mm: float
    sticks: tuple[StickOnRow, ...]
    bench: str
    fitting: str
    next: str
    glyph: str
    is_late: bool
    room: str


@page(Right.SEE_WORK)
def wall_chart(request: PageRequest, project_id: uuid.UUID | None = None) -> HttpResponse:
    """Every run of a job, drawn straight along one scale."""
    projects = project_queries.projects()
    project = _project(request, projects, project_id)
    asked = Asked.of(request.GET)
    if project is None or not project_queries.runs_in_rooms(project.pk):
        return _first_run(request, projects, project)
    if project.archived_at is None and str(project.pk) != request.session.get("project"):
        request.session["project"] = str(project.pk)
    context = {
        **_context(request, project, asked, beside=overview.LOOKED_AT_BY_PAGE),
        "projects": projects,
    }
    return render(request, "pages/wall_chart.html", context)


def _project(
    request: PageRequest, projects: Sequence[Project], project_id: uuid.UUID | None
) -> Project | None:
    """The project asked for, an archived one too; else the one last looked at, else the first."""
    if project_id is not None:
        return project_queries.project(project_id)
    asked = project_remembered(request)
    found = next((each for each in projects if each.pk == asked), None)
    return found or (projects[0] if projects else None)


@page(Right.SEE_WORK)
def chart_live(request: PageRequest, project_id: uuid.UUID) -> HttpResponse:
    """The chart as it is now, for a page that shows it already; nothing (204) while that page is right.

    Asked for every few seconds. `seen`: the version that the page shows.
    """
    project = project_queries.project(project_id)
    seen = request.GET.get("seen", "")
    if seen and seen == _version(request, project):
        return HttpResponse(status=204)
    return _answer(request, project, Asked.of(request.GET))


def _answer(
    request: PageRequest, project: Project, asked: Asked, *, status: int = 200, **more: Any
) -> HttpResponse:
    context = {**_context(request, project, asked, beside=overview.LOOKED_AT_ONCE), **more}
    return render(request, "parts/chart_live.html", context, status=status)


def _version(request: PageRequest, project: Project) -> str:
    return queries.chart_version(project, request.company, timezone.localdate())


@page(Right.RELEASE, "POST")
def chart_give(request: PageRequest, project_id: uuid.UUID) -> HttpResponse:
    """What the bar does with the runs and sticks that are chosen: one of give, due, priority."""
    project = project_queries.project(project_id)
    asked = Asked.of(QueryDict(request.POST.get("at", "")[:4000]))
    status, done, wrong = 200, "", ""
    try:
        done = _give(request)
    except (Invalid, StaleVersion, IllegalMove, NotFound) as error:
        status, wrong = status_of(error), told(error)
        status = 409 if status == 404 else status  # the page is there; what was chosen on it is not
    if request.htmx:
        return _answer(request, project, asked, status=status, done=done, wrong=wrong)
    if wrong:
        messages.error(request, wrong)
    address = reverse("project", kwargs={"project_id": project.pk})
    return redirect(f"{address}?{asked.query}" if asked.query else address)


def _give(request: PageRequest) -> str:
    """Does it; returns what was done, in words. Raises as the commands do."""
    runs, pieces = _chosen(request.POST.getlist("run")), _ids(request.POST.getlist("piece"))
    what = request.POST.get("do", "")
    dialect = Dialect(request.company.words)
    count = words.counted(len(runs), "run", dialect)
    if what == "give":
        crew_id = _id(request.POST.get("crew", ""))
        if crew_id is None:
            raise _problem("crew_id", _("is none; choose one"))
        tracking_commands.assign(
            actor=request.actor,
            stage=request.POST.get("stage", ""),
            crew_id=crew_id,
            runs=runs,
            piece_ids=pieces,
        )
        sticks = words.counted(len(pieces), "stick", dialect)
        told_of = [text for text, number in ((count, len(runs)), (sticks, len(pieces))) if number]
        return _("Given: %(what)s.") % {"what": ", ".join(told_of)}
    if what in ("due", "undue"):
        day = request.POST.get("due_on", "") if what == "due" else ""
        if what == "due" and not day:
            raise _problem("due_on", _("is empty; a day is wanted, such as 2026-11-25"))
        _require_runs(runs, dialect)
        project_commands.set_due(actor=request.actor, runs=runs, due_on=day)
        return _("Day set: %(what)s.") % {"what": count}
    if what == "priority":
        _require_runs(runs, dialect)
        project_commands.set_priority(
            actor=request.actor, runs=runs, priority=request.POST.get("priority", "")
        )
        return _("Order set: %(what)s.") % {"what": count}
    raise _problem("do", _("is nothing that can be done here"))


def _require_runs(runs: Mapping[uuid.UUID, int], dialect: Dialect) -> None:
    if not runs:
        run = words.plural(words.word("run", dialect))
        raise _problem("runs", _("are none; a day and an order are those of whole %(runs)s") % {"runs": run})


def _problem(where: str, text: str) -> Invalid:
    return Invalid([FieldProblem(where, text)])


def _chosen(values: Sequence[str]) -> dict[uuid.UUID, int]:
    """Runs with the version that the page showed: `ID:VERSION`. Raises Invalid for anything else."""
    found = {}
    for value in values:
        text, _colon, version = value.partition(":")
        run_id = _id(text)
        if run_id is None or not (version.isascii() and version.isdigit() and len(version) <= 9):
            raise _problem("runs", _("are not told as the page tells them; open it again"))
        found[run_id] = int(version)
    return found


def _ids(values: Sequence[str]) -> list[uuid.UUID]:
    found = [_id(value) for value in values]
    if None in found:
        raise _problem("runs", _("are not told as the page tells them; open it again"))
    return list(dict.fromkeys(each for each in found if each is not None))


def _id(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text) if len(text) == 36 else None
    except ValueError:
        return None


def _first_run(request: PageRequest, projects: Sequence[Project], project: Project | None) -> HttpResponse:
    """What to do first, as long as there is nothing to draw."""
    rooms = project_queries.rooms_of(project.pk) if project else []
    formers = bench_queries.formers()
    done = [bool(formers), bool(projects), bool(rooms), False]
    context = {
        "project": project,
        "projects": projects,
        "rooms": rooms,
        "formers": formers,
        "now": done.index(False) + 1,
        "crews": company_queries.crews(),
    }
    return render(request, "pages/first.html", context)


# --------------------------------------------------------------------------------------------- what is shown


def _context(request: PageRequest, project: Project, asked: Asked, *, beside: int) -> dict[str, Any]:
    version = _version(request, project)  # before the rest is read: what changes meanwhile shows next time
    found = overview.overview(project, request.company, asked, today=timezone.localdate(), beside=beside)
    units = Units(request.company.units)
    longest = max((sum(run.lengths.values()) for run in found.shown), default=0.0)
    scale = chart.scale_for(max(longest, 1.0), units)
    rows = _rows(request, found, scale.mm)
    is_open = project.archived_at is None
    ready = next((run for run in found.everything if run.outcome is Outcome.READY), None)
    stopped = [run for run in found.runs if run.is_stopped or run.is_to_measure]
    return {
        "project": project,
        "here": reverse("project", kwargs={"project_id": project.pk}),
        "live": reverse("chart-live", kwargs={"project_id": project.pk}),
        "asked": asked,
        "found": found,
        "rooms": [
            {
                "it": room,
                "rows": [rows[run.facts.pk] for run in room.runs],
                "toggle": asked.toggled(room.room.pk).query if room.room else "",
            }
            for room in found.rooms
        ],
        "more": asked.more().query if any(room.left for room in found.rooms) else "",
        "scale": scale,
        "whole": whole(found.everything),
        "length": sum(sum(run.lengths.values()) for run in found.everything),
        "count": sum(sum(run.counts.values()) for run in found.everything),
        "stopped": [
            {"run": run, "text": _why(run), "glyph": _glyph(run)}
            for run in stopped[:STOPS_TOLD]
            if run.judged and run.judged.text
        ],
        "stopped_more": max(0, len(stopped) - STOPS_TOLD),
        "ready": ready if is_open and may(request.actor.role, Right.RELEASE) else None,
        "crew_table": crew_table(found),
        "crews": sorted(found.crews.values(), key=lambda crew: str(crew.name)),
        "can_give": is_open and may(request.actor.role, Right.RELEASE),
        "can_change": is_open and may(request.actor.role, Right.SURVEY),
        "states": overview.STATES,
        "sorts": said.sorts(),
        "priorities": [(each.value, said.priority(each.value)) for each in Priority],
        "stages": said.stages(Dialect(request.company.words)),
        "version": "" if found.unknown else version,
        "poll_s": POLL_WHILE_UNKNOWN_S if found.unknown else POLL_S,
    }


def _rows(request: PageRequest, found: Overview, scale_mm: float) -> dict[uuid.UUID, Row]:
    shown = found.shown
    dialect = Dialect(request.company.words)
    pieces = queries.pieces_of_runs([run.facts.pk for run in shown])
    planned = queries.sticks_of_plans([run.facts.plan_id for run in shown if run.facts.plan_id])
    rooms = {room.room.pk: str(room.room.name) for room in found.rooms if room.room}
    if not rooms:
        rooms = {room.pk: str(room.name) for room in project_queries.rooms_of(found.project.pk)}
    state_words = {state: words.state(state, dialect) for state in chart.STATES}
    told = {}
    for run in shown:
        made = pieces.get(run.facts.pk, [])
        drawn, sticks = _sticks(run, made, planned.get(run.facts.pk, []), found)
        bench, fitting = overview.crew_names(run.facts, found.crews)
        told[run.facts.pk] = Row(
            run=run,
            strip=(strip := chart.row(drawn, scale_mm=scale_mm)),
            drawn=mark_safe(chart.svg(strip, state_words)),  # noqa: S308 - figures of ours, words escaped
            length_mm=sum(run.lengths.values()),
            sticks=tuple(sticks),
            bench=bench,
            fitting=fitting,
            next=_next(run, made, dialect),
            glyph=_glyph(run),
            is_late=run.is_late(found.today),
            room=rooms.get(run.facts.room_id, ""),
        )
    return told


def _sticks(
    run: Standing, made: Sequence[Piece], planned: Sequence[Any], found: Overview
) -> tuple[list[chart.ChartStick], list[StickOnRow]]:
    """A run's sticks as they are drawn, and as they are listed."""
    if not run.is_released:
        drawn = list(run.judged.sticks) if run.judged else []
        return drawn, []
    by_line = {piece.line_id: piece for piece in made}
    drawn, listed = [], []
    for stick in planned:
        piece = by_line.pop(stick.line_id, None)
        kept = piece.stick if piece else stick
        state = piece.state if piece else "waiting"
        drawn.append(chart.stick_of(stick.line.number, state, kept.cut_length_mm, kept.data))
        own = (piece.crew_id, piece.fitting_crew_id) if piece else (None, None)
        bench, fitting = overview.crew_names(run.facts, found.crews, own=own)
        listed.append(
            StickOnRow(
                stick.line.label, state, piece, bench, fitting,
                can_be_given=piece is not None and state in tracking_rules.GIVEN_IN,
            )
        )  # fmt: skip
    return drawn, listed


def _next(run: Standing, made: Sequence[Piece], dialect: Dialect) -> str:
    """What comes next on a run, or what it waits for."""
    if run.held:
        return ngettext("%(count)d held tick", "%(count)d held ticks", run.held) % {"count": run.held}
    if run.is_released:
        if run.outcome is Outcome.SUPERSEDED:
            return _("superseded: the sheet was changed")
        return said.next_of_run(made, dialect, is_complete=run.is_complete)
    return said.outcome(run.outcome)


def _why(run: Standing) -> str:
    return run.judged.text if run.judged else ""


def _glyph(run: Standing) -> str:
    if run.held:
        return "held"
    return "stopped" if run.is_stopped or run.outcome is Outcome.TO_MEASURE else ""


def whole(runs: Sequence[Standing]) -> dict[str, Any]:
    """All sticks of the job, gathered by state, most metal first."""
    counts: dict[str, int] = {}
    lengths: dict[str, float] = {}
    for run in runs:
        for state, count in run.counts.items():
            counts[state] = counts.get(state, 0) + count
            lengths[state] = lengths.get(state, 0.0) + run.lengths[state]
    sums = [chart.ChartStick(0, state, lengths[state]) for state in chart.STATES if counts.get(state)]
    legend = [{"state": each.state, "length": each.length_mm, "count": counts[each.state]} for each in sums]
    scale = sum(stick.length_mm for stick in sums)
    return {"strip": chart.row(sums, scale_mm=scale) if sums and scale > 0 else None, "legend": legend}


def crew_table(found: Overview) -> list[dict[str, Any]]:
    """For each crew that has something: in how many runs, and how many sticks are open at the bench and for
    fitting."""
    table: dict[uuid.UUID, dict[str, int]] = {}
    for run in found.everything:
        given_here = set()
        for group in run.groups:
            stage = tracking_rules.OPEN_STAGE.get(group.state)
            crew_id = tracking_rules.crews_of(
                group.crew_id,
                group.fitting_crew_id,
                run_bench=run.facts.crew_id,
                run_fitting=run.facts.fitting_crew_id,
            ).of(stage)
            if stage is None or crew_id is None:
                continue
            row = table.setdefault(crew_id, {"runs": 0, tracking_rules.BENCH: 0, tracking_rules.FITTING: 0})
            row[stage] += group.count
            given_here.add(crew_id)
        for crew_id in given_here:
            table[crew_id]["runs"] += 1
    return [{"crew": crew, **table[crew_id]} for crew_id, crew in found.crews.items() if crew_id in table]
