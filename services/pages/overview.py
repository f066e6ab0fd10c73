"""The wall chart's figures: what every run of a job is at, what stops it, and which of them were asked for.

Facts of all runs come in a fixed number of queries and few columns. What the engine says of a draft is kept
in memory by the versions of all that it is made from, so that a run is planned again only when something of
it changed; of runs that nobody looks at now, some are planned each time, until all are known.
"""

import threading
import uuid
from collections import OrderedDict, defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from enum import StrEnum
from typing import Any, Final, Self
from urllib.parse import urlencode

from django.http import QueryDict
from django.utils.translation import gettext as _

from services.company import queries as company_queries
from services.company.models import Company, Crew
from services.core.scoping import current_company_id
from services.pages import queries
from services.pages.chart import ChartStick
from services.pages.queries import PieceGroup, PlanFacts, RunFacts
from services.planning import queries as planning_queries
from services.planning import rules as planning_rules
from services.planning.models import Plan
from services.projects import queries as project_queries
from services.projects.models import Project, Room, Run
from services.tracking import queries as tracking_queries
from services.tracking import rules as tracking_rules
from services.tracking.models import HeldTick, State

ALL_OPEN: Final = 60
"""Runs up to which every room stands open; of more, rooms are folded until one is asked for."""

SHOWN: Final = 60
"""Runs of one room, or of a list, that stand on the page at first."""

MOST_SHOWN: Final = 600

LOOKED_AT_ONCE: Final = 100
LOOKED_AT_BY_PAGE: Final = 20
"""Runs beside those shown of which the engine is asked: by a page that is there already and asks for what is
new, and by one that somebody waits for."""

KEPT: Final = 10_000
"""Runs of which what the engine said is kept in memory, of all companies."""


# ----------------------------------------------------------------------------------------- what was asked for


class Sort(StrEnum):
    """Orders of the chart's runs."""

    PLACE = "place"
    DUE = "due"
    PRIORITY = "priority"


STATES: Final = tuple(state for state in State.values if state not in (State.SCRAPPED, State.SALVAGED))


@dataclass(frozen=True, slots=True)
class Asked:
    """What of the chart is asked for; lives in its address.

    crew: bench or fitting.  state: of one stick at least.  late, stopped, measure: those alone.  open: rooms
    that are unfolded, where they are folded at all.  show: how many runs of each.
    """

    crew: uuid.UUID | None = None
    state: str = ""
    late: bool = False
    stopped: bool = False
    measure: bool = False
    sort: Sort = Sort.PLACE
    open: tuple[uuid.UUID, ...] = ()
    show: int = SHOWN

    @classmethod
    def of(cls, query: QueryDict) -> Self:
        """Reads an address; what makes no sense in it counts as not said."""
        crew = _id(query.get("crew", ""))
        state = query.get("state", "")
        sort = query.get("sort", "")
        show = query.get("show", "")
        opened = [each for each in map(_id, query.getlist("open")) if each is not None]
        return cls(
            crew=crew,
            state=state if state in STATES else "",
            late=query.get("late") == "1",
            stopped=query.get("stopped") == "1",
            measure=query.get("measure") == "1",
            sort=Sort(sort) if sort in list(Sort) else Sort.PLACE,
            open=tuple(dict.fromkeys(opened))[:50],
            show=min(int(show), MOST_SHOWN) if show.isascii() and show.isdigit() and len(show) < 5 else SHOWN,
        )

    @property
    def is_filtered(self) -> bool:
        """Whether runs are left out."""
        return bool(self.crew or self.state or self.late or self.stopped or self.measure)

    @property
    def query(self) -> str:
        """As it stands in an address; empty where nothing is asked for."""
        told: list[tuple[str, str]] = []
        if self.crew:
            told.append(("crew", str(self.crew)))
        if self.state:
            told.append(("state", self.state))
        told += [(name, "1") for name in ("late", "stopped", "measure") if getattr(self, name)]
        if self.sort is not Sort.PLACE:
            told.append(("sort", self.sort.value))
        told += [("open", str(each)) for each in self.open]
        if self.show != SHOWN:
            told.append(("show", str(self.show)))
        return urlencode(told)

    def toggled(self, room_id: uuid.UUID) -> Self:
        """With a room unfolded that was folded, or the other way round."""
        if room_id in self.open:
            return replace(self, open=tuple(each for each in self.open if each != room_id))
        return replace(self, open=(*self.open, room_id))

    def more(self) -> Self:
        """With more runs of each room."""
        return replace(self, show=min(self.show + SHOWN, MOST_SHOWN))


def _id(text: str) -> uuid.UUID | None:
    try:
        return uuid.UUID(text) if len(text) == 36 else None
    except ValueError:
        return None


# ------------------------------------------------------------------------------- what the engine says of runs


class Outcome(StrEnum):
    """What a run waits for, as planned now."""

    READY = "ready"
    STOPPED = "stopped"
    TO_MEASURE = "to measure"
    UNTYPED = "untyped"
    AS_RELEASED = "as released"
    SUPERSEDED = "superseded"


@dataclass(frozen=True, slots=True)
class Judged:
    """What the engine said of a run. text: what stops it, for a person.  sticks: of a draft that can be
    planned, none made yet."""

    outcome: Outcome
    text: str = ""
    sticks: tuple[ChartStick, ...] = ()

    @property
    def length_mm(self) -> float:
        """Of all its sticks."""
        return sum(stick.length_mm for stick in self.sticks)


class _Memory:
    """What was judged, the longest unused forgotten first."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._kept: OrderedDict[Hashable, Judged] = OrderedDict()
        self._lock = threading.Lock()

    def get(self, key: Hashable) -> Judged | None:
        """What is kept under a key."""
        with self._lock:
            found = self._kept.get(key)
            if found is not None:
                self._kept.move_to_end(key)
            return found

    def keep(self, key: Hashable, judged: Judged) -> None:
        """Keeps it."""
        with self._lock:
            self._kept[key] = judged
            self._kept.move_to_end(key)
            while len(self._kept) > self._most:
                self._kept.popitem(last=False)

    def clear(self) -> None:
        """Forgets all."""
        with self._lock:
            self._kept.clear()


memory: Final = _Memory(KEPT)

_NOT_JUDGED_BY: Final = frozenset(
    {"name", "next_ledger_number", "foreman_sees_money", "currency", "time_zone"}
)


def settings_print(company: Company) -> str:
    """All settings of a company that what the engine says of a run may hang on, as one text."""
    return repr(
        [
            getattr(company, each.attname)
            for each in company._meta.concrete_fields
            if each.attname not in _NOT_JUDGED_BY
        ]
    )


def known(facts: Iterable[RunFacts], settings: str) -> dict[uuid.UUID, Judged]:
    """What is known of runs without asking the engine. settings: as `settings_print` gives them. No query."""
    company_id = current_company_id()
    told = ((each.pk, memory.get((company_id, settings, each.made_from))) for each in facts)
    return {run_id: found for run_id, found in told if found is not None}


def judged(facts: Iterable[RunFacts], company: Company, settings: str) -> dict[uuid.UUID, Judged]:
    """What the engine says of these runs; it is kept in memory. Three queries, whatever there is to judge."""
    asked = {each.pk: each for each in facts}
    runs = project_queries.runs(list(asked) or [planning_queries.NOBODY])
    plans = {
        plan.run_id: plan
        for plan in planning_queries.plans(each.plan_id for each in asked.values() if each.plan_id)
    }
    changed = [run for run in runs if not _is_as_released(run, plans.get(run.pk), company)]
    drafts = planning_queries.drafts_of(changed, company)
    found = {}
    for run in runs:
        draft = drafts.get(run.pk)
        told = Judged(Outcome.AS_RELEASED) if draft is None else _judge(draft, plans.get(run.pk))
        found[run.pk] = told
        memory.keep((current_company_id(), settings, asked[run.pk].made_from), told)
    return found


def _is_as_released(run: Run, plan: Plan | None, company: Company) -> bool:
    """Whether a released run asks for the very same as when it was released: then nothing need be planned."""
    if plan is None:
        return False
    try:
        return bool(planning_rules.spec_of(run, company) == plan.spec)
    except ValueError:  # something is to measure by now
        return False


def _judge(draft: planning_rules.Draft, plan: Plan | None) -> Judged:
    if plan is not None:
        told = draft.plan.to_dict() if draft.plan is not None else {}
        same = all(
            planning_rules.agrees(plan.result[part], told.get(part))
            for part in ("developed_length", "sticks")
        )
        return Judged(Outcome.AS_RELEASED if same else Outcome.SUPERSEDED, "" if same else superseded())
    if draft.is_releasable and draft.plan is not None:
        return Judged(Outcome.READY, sticks=_sticks(draft.plan))
    if draft.to_measure:
        row = draft.to_measure[0][0] + 1
        return Judged(Outcome.TO_MEASURE, _("Row %(row)d is still to measure.") % {"row": row})
    real = [each for each in draft.stops if each.rule not in ("no-rows", "no-end")]
    if real:
        sticks = _sticks(draft.plan) if draft.plan is not None else ()
        return Judged(Outcome.STOPPED, real[0].text, sticks)
    return Judged(Outcome.UNTYPED, _("Its route is still to type."))


def superseded() -> str:
    """What is said of a released run whose sheet was changed since."""
    return _("The run sheet was changed after the release. The work goes on to the old revision until then.")


def _sticks(plan: Any) -> tuple[ChartStick, ...]:
    return tuple(
        ChartStick(
            each.number, "waiting", each.cut_length, tuple((bend.begin, bend.finish) for bend in each.bends)
        )
        for each in plan.sticks
    )


# --------------------------------------------------------------------------------------------------- the runs


@dataclass(frozen=True, slots=True)
class Standing:
    """A run as the chart has it.

    lengths, counts: by state; a draft's sticks wait.  judged: None while the engine has not been asked.
    crews: all who have a stage of it, or of one of its sticks.  groups: its latest pieces.
    """

    facts: RunFacts
    counts: Mapping[str, int]
    lengths: Mapping[str, float]
    judged: Judged | None
    crews: frozenset[uuid.UUID]
    groups: tuple[PieceGroup, ...] = ()
    held: int = 0

    @property
    def is_released(self) -> bool:
        """Whether it has a plan in force."""
        return self.facts.plan_id is not None

    @property
    def outcome(self) -> Outcome | None:
        """What it waits for."""
        return self.judged.outcome if self.judged else None

    @property
    def is_complete(self) -> bool:
        """Whether every stick is fixed in place."""
        return self.is_released and set(self.counts) <= {State.INSTALLED.value}

    @property
    def is_stopped(self) -> bool:
        """Whether it cannot go on as it is: a stop, a held tick, or a sheet that differs from what is
        made."""
        return bool(self.held) or self.outcome in (Outcome.STOPPED, Outcome.SUPERSEDED)

    @property
    def is_to_measure(self) -> bool:
        """Whether a figure of it is missing."""
        return self.outcome in (Outcome.TO_MEASURE, Outcome.UNTYPED)

    def is_late(self, today: date) -> bool:
        """Whether its day has passed and not all of it is fixed in place."""
        return self.facts.due_on is not None and self.facts.due_on < today and not self.is_complete


@dataclass(frozen=True, slots=True)
class RoomOnChart:
    """A room with the runs that were asked for. room: None for one list of all rooms.  runs: those that stand
    on the page."""

    room: Room | None
    asked_for: tuple[Standing, ...]
    runs: tuple[Standing, ...]
    length_mm: float
    installed_mm: float
    stopped: int
    to_measure: int
    late: int
    is_open: bool

    @property
    def count(self) -> int:
        """How many were asked for."""
        return len(self.asked_for)

    @property
    def left(self) -> int:
        """How many of an open one do not stand on the page; 0 of a folded one."""
        return self.count - len(self.runs) if self.is_open else 0


@dataclass(frozen=True, slots=True)
class Overview:
    """The whole chart of a job.

    everything: all runs, whatever was asked for.  runs: those asked for, in the order asked for.  rooms: with
    the runs that stand open.  unknown: how many the engine was not asked about yet.  can_fold: whether rooms
    are folded at all.
    """

    project: Project
    everything: tuple[Standing, ...]
    runs: tuple[Standing, ...]
    rooms: tuple[RoomOnChart, ...]
    crews: Mapping[uuid.UUID, Crew]
    held: tuple[HeldTick, ...]
    unknown: int
    can_fold: bool
    today: date

    @property
    def shown(self) -> list[Standing]:
        """The runs that stand open, from top to bottom."""
        return [run for room in self.rooms for run in room.runs]


def overview(
    project: Project, company: Company, asked: Asked, *, today: date, beside: int | None = None
) -> Overview:
    """The chart of a job as asked for. Nine queries, whatever there is.

    beside: how many runs that do not stand on the page the engine may be asked about; None: all.
    """
    rooms = project_queries.rooms_of(project.pk)
    plans = queries.plans_in_force(project.pk)
    facts = queries.run_facts(project.pk, plans)
    groups = queries.piece_groups(project.pk)
    held = [
        each for each in tracking_queries.held_ticks() if each.piece.line.run.room.project_id == project.pk
    ]
    crews = {crew.pk: crew for crew in company_queries.crews()}
    held_of: dict[uuid.UUID, int] = defaultdict(int)
    for tick in held:
        held_of[tick.piece.line.run_id] += 1
    places = {room.pk: place for place, room in enumerate(rooms)}
    settings = settings_print(company)
    told = known(facts, settings)

    def standing(each: RunFacts) -> Standing:
        run_id = each.pk
        return _standing(each, groups.get(run_id, ()), plans.get(run_id), told.get(run_id), held_of[run_id])

    runs = [standing(each) for each in facts]
    arranged = _arranged(runs, asked, rooms, places, today)
    # The engine is asked about what stands on the page, and about some of the rest.
    shown = {run.facts.pk for room in arranged for run in room.runs}
    unknown = [each for each in facts if each.pk not in told]
    rest = [each for each in unknown if each.pk not in shown]
    told |= judged([*(each for each in unknown if each.pk in shown), *rest[:beside]], company, settings)
    if unknown:
        now = {each.pk for each in unknown}
        runs = [standing(run.facts) if run.facts.pk in now else run for run in runs]
        arranged = _arranged(runs, asked, rooms, places, today)
    found = tuple(run for room in arranged for run in room.asked_for)
    return Overview(
        project=project,
        everything=tuple(runs),
        runs=found,
        rooms=tuple(arranged),
        crews=crews,
        held=tuple(held),
        unknown=0 if beside is None else max(0, len(rest) - beside),
        can_fold=asked.sort is Sort.PLACE and len(found) > ALL_OPEN,
        today=today,
    )


def _standing(
    facts: RunFacts, groups: Sequence[PieceGroup], plan: PlanFacts | None, told: Judged | None, held: int
) -> Standing:
    counts: dict[str, int] = {}
    lengths: dict[str, float] = {}
    crews = {facts.crew_id, facts.fitting_crew_id}
    for group in groups:
        counts[group.state] = counts.get(group.state, 0) + group.count
        lengths[group.state] = lengths.get(group.state, 0.0) + group.length_mm
        crews |= {group.crew_id, group.fitting_crew_id}
    if plan is not None:  # sticks that wait while others of their plan are made
        left = plan.sticks - sum(counts.values())
        if left > 0:
            lengths["waiting"] = max(0.0, plan.length_mm - sum(lengths.values()))
            counts["waiting"] = left
    elif told is not None and told.sticks:
        counts["waiting"], lengths["waiting"] = len(told.sticks), told.length_mm
    return Standing(
        facts=facts,
        counts=counts,
        lengths=lengths,
        judged=told,
        crews=frozenset(each for each in crews if each),
        groups=tuple(groups),
        held=held,
    )


def _is_asked_for(run: Standing, asked: Asked, today: date) -> bool:
    if asked.crew and asked.crew not in run.crews:
        return False
    if asked.state and not (
        run.counts.get(asked.state) or (asked.state == "waiting" and not run.is_released)
    ):
        return False
    return (
        (not asked.late or run.is_late(today))
        and (not asked.stopped or run.is_stopped)
        and (not asked.measure or run.is_to_measure)
    )


_FAR: Final = date.max


def _order(asked: Asked, places: Mapping[uuid.UUID, int]) -> Callable[[Standing], Any]:
    def place(run: Standing) -> tuple[int, str]:
        return places[run.facts.room_id], run.facts.label

    def due(run: Standing) -> Any:
        return run.is_complete, run.facts.due_on or _FAR, run.facts.priority, place(run)

    def priority(run: Standing) -> Any:
        return run.is_complete, run.facts.priority, run.facts.due_on or _FAR, place(run)

    return {Sort.PLACE: place, Sort.DUE: due, Sort.PRIORITY: priority}[asked.sort]


def _arranged(
    runs: Iterable[Standing],
    asked: Asked,
    rooms: Sequence[Room],
    places: Mapping[uuid.UUID, int],
    today: date,
) -> list[RoomOnChart]:
    """Rooms as they stand on the chart; one list without a room where another order than by place is asked
    for. An empty room is left out where runs are filtered."""
    found = sorted((run for run in runs if _is_asked_for(run, asked, today)), key=_order(asked, places))
    if asked.sort is not Sort.PLACE:
        return [_room(None, found, asked, today, is_open=True)] if found else []
    of_room: dict[uuid.UUID, list[Standing]] = defaultdict(list)
    for run in found:
        of_room[run.facts.room_id].append(run)
    every = len(found) <= ALL_OPEN
    return [
        _room(room, of_room[room.pk], asked, today, is_open=every or room.pk in asked.open)
        for room in rooms
        if of_room[room.pk] or not asked.is_filtered
    ]


def _room(
    room: Room | None, runs: Sequence[Standing], asked: Asked, today: date, *, is_open: bool
) -> RoomOnChart:
    return RoomOnChart(
        room=room,
        asked_for=tuple(runs),
        runs=tuple(runs[: asked.show]) if is_open else (),
        length_mm=sum(sum(run.lengths.values()) for run in runs),
        installed_mm=sum(run.lengths.get(State.INSTALLED, 0.0) for run in runs),
        stopped=sum(run.is_stopped for run in runs),
        to_measure=sum(run.is_to_measure for run in runs),
        late=sum(run.is_late(today) for run in runs),
        is_open=is_open,
    )


def crew_names(
    run: RunFacts,
    crews: Mapping[uuid.UUID, Crew],
    *,
    own: tuple[uuid.UUID | None, uuid.UUID | None] = (None, None),
) -> tuple[str, str]:
    """Who bends and who fits, by name; empty while nobody does. own: what is said of a single stick."""
    given = tracking_rules.crews_of(*own, run_bench=run.crew_id, run_fitting=run.fitting_crew_id)
    names = [
        str(crews[each].name) if each is not None and each in crews else ""
        for each in (given.bench, given.fitting)
    ]
    return names[0], names[1]
