"""Reads of pieces, of the ledger, and of how the one follows from the other."""

import uuid
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import Count, Exists, F, OuterRef, Q, QuerySet
from django.db.models.fields.json import KeyTextTransform, KeyTransform
from django.db.models.functions import Coalesce
from django.utils import timezone
from django.utils.translation import gettext as _

from services.company.models import Company, Crew, Role
from services.core.commands import Actor
from services.core.errors import NotFound
from services.core.scoping import current_company_id
from services.planning.models import Stick
from services.tracking import rules
from services.tracking.models import Answer, HeldTick, Kind, Piece, SetAside, State, Tick


def pieces() -> QuerySet[Piece]:
    """Pieces with their line, run, room, project, stick and crews; without the plans' long figures."""
    rows: QuerySet[Piece] = (
        Piece.objects.select_related(
            "line__run__room__project",
            "line__run__crew",
            "line__run__fitting_crew",
            "stick__plan",
            "crew",
            "fitting_crew",
        )
        .defer("line__run__rows", "stick__plan__spec", "stick__plan__result")
        .annotate(conduit=KeyTextTransform("catalogue", KeyTransform("conduit", "stick__plan__spec")))
    )
    return rows


def pieces_of_run(run_id: uuid.UUID) -> list[Piece]:
    """The latest attempt of each stick of the run, in the order of the sticks. One query."""
    rows = pieces().filter(line__run_id=run_id, is_latest=True).exclude(state=State.WAITING)
    return list(rows.order_by("line__number"))


def latest_pieces_of(run_ids: Iterable[uuid.UUID]) -> list[Piece]:
    """The latest attempt of each stick of these runs that is released, in the order of runs and sticks. One
    query."""
    rows = pieces().filter(line__run_id__in=list(run_ids), is_latest=True).exclude(state=State.WAITING)
    return list(rows.order_by("line__run__room__place", "line__run__label", "line__number"))


def pieces_by_id(piece_ids: Collection[uuid.UUID]) -> list[Piece]:
    """These pieces, those that there are. One query."""
    return list(pieces().filter(pk__in=piece_ids).order_by("line__run__label", "line__number"))


def begun_of_run(run_id: uuid.UUID) -> list[Piece]:
    """The pieces of the run that are past being released, in the order of the sticks. One query."""
    rows = pieces().filter(line__run_id=run_id).exclude(state__in=(State.WAITING, State.RELEASED))
    return list(rows.order_by("line__number", "attempt"))


DONE = (State.INSTALLED, State.SCRAPPED, State.SALVAGED, State.WAITING)
"""States in which there is nothing left to do on a piece."""


BENCH_STATES = tuple(state for state, stage in rules.OPEN_STAGE.items() if stage == rules.BENCH)
FITTING_STATES = tuple(state for state, stage in rules.OPEN_STAGE.items() if stage == rules.FITTING)

BENCH_CREW = Coalesce("crew_id", "line__run__crew_id")
FITTING_CREW = Coalesce("fitting_crew_id", "line__run__fitting_crew_id", "crew_id", "line__run__crew_id")
"""Who has a piece's stages, as `rules.crews_of` says it."""


def work_of_crew(crew_ids: Collection[uuid.UUID]) -> list[Piece]:
    """The pieces of which these crews have the stage that is open, in working order: what goes first, by the
    day it is due, then by job, room, run and stick. Archived jobs are left out. One query."""
    rows = (
        pieces()
        .alias(bench_crew=BENCH_CREW, fitting_crew_now=FITTING_CREW)
        .filter(
            Q(state__in=BENCH_STATES, bench_crew__in=crew_ids)
            | Q(state__in=FITTING_STATES, fitting_crew_now__in=crew_ids),
            is_latest=True,
            line__run__room__project__archived_at__isnull=True,
        )
    )
    return list(
        rows.order_by(
            "line__run__priority",
            F("line__run__due_on").asc(nulls_last=True),
            "line__run__room__project__code",
            "line__run__room__place",
            "line__run__room__name",
            "line__run__label",
            "line__number",
        )
    )


def left_to_crew(crew_id: uuid.UUID) -> list[Piece]:
    """The pieces of which this crew has a stage that is open or still to come, by run and stick. Archived
    jobs are left out. One query."""
    rows = (
        pieces()
        .alias(bench_crew=BENCH_CREW, fitting_crew_now=FITTING_CREW)
        .filter(
            Q(state__in=BENCH_STATES, bench_crew=crew_id)
            | Q(state__in=BENCH_STATES + FITTING_STATES, fitting_crew_now=crew_id),
            is_latest=True,
            line__run__room__project__archived_at__isnull=True,
        )
    )
    return list(rows.order_by("line__run__room__project__code", "line__run__label", "line__number"))


def sticks_that_wait_for(crew_id: uuid.UUID) -> list[Stick]:
    """The sticks of this crew's runs that wait to be released with the rest of their plan, by run and stick.
    Archived jobs are left out. One query."""
    made = Piece.objects.filter(line_id=OuterRef("line_id"), is_latest=True).exclude(state=State.WAITING)
    rows = Stick.objects.filter(
        Q(plan__run__crew_id=crew_id) | Q(plan__run__fitting_crew_id=crew_id),
        ~Exists(made),
        plan__is_current=True,
        plan__run__room__project__archived_at__isnull=True,
    )
    return list(rows.select_related("line").order_by("line__run__label", "number"))


def crews_of(piece: Piece) -> rules.Crews:
    """Who has the stages of a piece that `pieces` read. No query."""
    run = piece.line.run
    return rules.crews_of(
        piece.crew_id, piece.fitting_crew_id, run_bench=run.crew_id, run_fitting=run.fitting_crew_id
    )


def crew_at_work(piece: Piece) -> Crew | None:
    """The crew that has the open stage of a piece that `pieces` read; who fixed it where none is open; None
    while it is nobody's. No query."""
    run = piece.line.run
    known = (piece.crew, piece.fitting_crew, run.crew, run.fitting_crew)
    stage = rules.OPEN_STAGE.get(piece.state, rules.FITTING)
    crew_id = crews_of(piece).of(stage)
    return next((crew for crew in known if crew is not None and crew.pk == crew_id), None)


def piece(piece_id: uuid.UUID) -> Piece:
    """One piece. Raises NotFound. One query."""
    found: Piece | None = pieces().filter(pk=piece_id).first()
    if found is None:
        raise NotFound(_("There is no such piece."))
    return found


def ticks_of_piece(piece_id: uuid.UUID) -> list[Tick]:
    """What was ticked on a piece, in the order of the ledger, each with its person and whether it `stands`.
    One query.

    A tick that is held, was taken back, or was implied and has its own by now, does not stand. Entries that
    only say that another was settled are left out.
    """
    rows = list(
        Tick.objects.filter(piece_id=piece_id).select_related("person", "device", "plan").defer(*_LONG)
    )
    standing = {entry.id for entry in history(rows).standing}
    told = [row for row in rows if row.kind != Kind.SETTLED]
    for row in told:
        row.stands = row.pk in standing or (row.kind == Kind.TAKEN_BACK and row.answer == Answer.APPLIED)
    return told


_LONG = ("plan__spec", "plan__result")


def tick_to_take_back(piece_id: uuid.UUID, actor: Actor) -> Tick | None:
    """The tick of the piece that this person could take back now: the latest, if it is theirs. Two
    queries."""
    rows = ticks_of_piece(piece_id)
    company = Company.objects.get(pk=current_company_id())
    by_id = {row.pk: row for row in rows}
    latest = history(rows).latest
    found = by_id.get(latest.id) if latest else None
    if found is None or found.implied_by_id or found.kind in rules.BY_SERVER:
        return None  # nobody ticked it on its own
    if actor.role == Role.FOREMAN:
        return found
    today = rules.day_of(timezone.now(), company.time_zone)
    own = found.person_id == actor.person_id and rules.day_of(found.received_at, company.time_zone) == today
    return found if own and actor.role == Role.ELECTRICIAN else None


@dataclass(frozen=True, slots=True)
class StateCount:
    """How many latest pieces of a run are in a state."""

    room_id: uuid.UUID
    room: str
    run_id: uuid.UUID
    run: str
    state: str
    count: int


def states_of_project(project_id: uuid.UUID) -> list[StateCount]:
    """The wall chart: pieces of the job by room, run and state, in the order of rooms and runs. One query."""
    rows = (
        Piece.objects.filter(line__run__room__project_id=project_id, is_latest=True)
        .exclude(state=State.WAITING)
        .order_by("line__run__room__place", "line__run__room__name", "line__run__label", "state")
        .values(
            "state",
            room_id=F("line__run__room_id"),
            room=F("line__run__room__name"),
            run_id=F("line__run_id"),
            run=F("line__run__label"),
        )
        .annotate(count=Count("pk"))
    )
    return [StateCount(**row) for row in rows]


def held_ticks() -> list[HeldTick]:
    """The ticks that are held now, oldest first, with piece, person and job: for the foreman to settle. One
    query."""
    return list(
        HeldTick.objects.filter(settled_at__isnull=True)
        .select_related("tick__person", "tick__device", "piece__line__run__room__project")
        .defer("piece__line__run__rows")
    )


def set_aside() -> list[SetAside]:
    """What was refused or put in quarantine, oldest first, with person and device. One query."""
    return list(SetAside.objects.select_related("person", "device"))


# From ledger to pieces --------------------------------------------------------------------------------------


def entry_of(tick: Tick) -> rules.Entry:
    """A ledger row as the rules read it."""
    return rules.Entry(
        id=tick.pk,
        tick_id=tick.tick_id,
        kind=str(tick.kind),
        figures=tick.figures,
        plan_id=tick.plan_id,
        takes_back=tick.takes_back,
        implied_by=tick.implied_by_id,
    )


def in_effect(rows: Iterable[Tick]) -> Iterator[tuple[Tick, Tick]]:
    """The ticks that took effect, in that order, each with the entry at whose number it did: itself, or the
    one that says that it was applied after having been held. rows: in the order of the ledger."""
    by_id: dict[uuid.UUID, Tick] = {}
    for row in rows:
        by_id[row.pk] = row
        if row.kind == Kind.SETTLED:
            if row.figures.get("as") == "applied" and row.settles_id:
                yield by_id[row.settles_id], row
        elif row.answer == Answer.APPLIED:
            yield row, row


def history(rows: Iterable[Tick]) -> rules.History:
    """What a piece's ledger rows, in the order of the ledger, make of it. Raises rules.Illegal for a broken
    ledger."""
    return rules.History(entry_of(row) for row, _at in in_effect(rows))


def held_of(rows: Sequence[Tick]) -> list[Tick]:
    """Those of a piece's ledger rows that are held and not settled, in the order of the tablets.

    One device's come in its own sequence; of two devices the one that was heard of first.
    """
    settled = {row.settles_id for row in rows}
    held = [row for row in rows if row.answer == Answer.HELD and row.pk not in settled]
    first: dict[uuid.UUID, int] = {}
    for row in held:
        first.setdefault(row.device_id, row.number)
    return sorted(held, key=lambda row: (first[row.device_id], row.sequence or 0, row.number))


def projection(rows: Sequence[Tick]) -> dict[str, Any]:
    """The columns of a piece that follow from its ledger rows. stick_id is not among them; plan_id stands for
    it."""
    last: Tick | None = None
    made = rules.History()
    for row, at in in_effect(rows):
        made.take(entry_of(row))
        last = at
    life = made.life
    return {
        "state": life.state,
        "plan_id": life.plan_id,
        "crew_id": life.crew_id,
        "fitting_crew_id": life.fitting_crew_id,
        "bent_once": life.bent_once,
        "reworked_times": life.reworked_times,
        "cut_from": life.cut_from,
        "changed_at": last.received_at if last else None,
        "last_number": last.number if last else 0,
    }


def chained(tick: Tick) -> dict[str, object]:
    """All fields of a ledger row that its hash covers."""
    return {
        "id": tick.pk,
        "tick_id": tick.tick_id,
        "number": tick.number,
        "device": tick.device_id,
        "sequence": tick.sequence,
        "kind": str(tick.kind),
        "piece": tick.piece_id,
        "plan": tick.plan_id,
        "person": tick.person_id,
        "role": str(tick.role),
        "made_at": tick.made_at,
        "clock_suspect": tick.clock_suspect,
        "received_at": tick.received_at,
        "figures": tick.figures,
        "fingerprint": tick.fingerprint,
        "answer": str(tick.answer),
        "reason": tick.reason,
        "text": tick.text,
        "takes_back": tick.takes_back,
        "implied_by": tick.implied_by_id,
        "settles": tick.settles_id,
    }


@dataclass(frozen=True, slots=True)
class Difference:
    """Where what is kept differs from what the ledger makes. where: row and column."""

    where: str
    kept: str
    rebuilt: str


def compare_projections() -> list[Difference]:
    """Where pieces or held ticks differ from what the ledger makes of them, or the ledger itself is not
    whole.

    A fixed number of queries; reads the company's whole ledger.
    """
    rows = list(Tick.objects.order_by("number"))
    found = _broken_links(rows)
    of_piece: dict[uuid.UUID, list[Tick]] = defaultdict(list)
    for row in rows:
        of_piece[row.piece_id].append(row)
    all_pieces = list(Piece.objects.select_related("stick"))
    states: dict[uuid.UUID, list[tuple[int, str, Piece]]] = defaultdict(list)
    for each in all_pieces:
        try:
            told = projection(of_piece[each.pk])
        except rules.Illegal:
            found.append(Difference(f"piece {each.pk} ledger", "legal", "not legal"))
            continue
        states[each.line_id].append((each.attempt, told["state"], each))
        plan_id = told.pop("plan_id")
        if plan_id is not None:
            told["plan"] = plan_id
        kept = {name: each.stick.plan_id if name == "plan" else getattr(each, name) for name in told}
        if told["changed_at"] is None:
            kept["changed_at"] = None
        found += [
            Difference(f"piece {each.pk} {name}", str(kept[name]), str(told[name]))
            for name in told
            if kept[name] != told[name]
        ]
    for attempts in states.values():
        latest = latest_attempt({number: state for number, state, _each in attempts})
        found += [
            Difference(f"piece {each.pk} is_latest", str(each.is_latest), str(number == latest))
            for number, _state, each in attempts
            if each.is_latest != (number == latest)
        ]
    return found + _held_differences(rows)


def latest_attempt(states: dict[int, str]) -> int | None:
    """Which attempt at a stick is its latest: the last that is not waiting, else the first. states: by
    attempt."""
    real = [attempt for attempt, state in states.items() if state != State.WAITING]
    return max(real) if real else min(states, default=None)


def _broken_links(rows: Sequence[Tick]) -> list[Difference]:
    found = []
    before = ""
    for expected, row in enumerate(rows, start=1):
        if row.number != expected:
            found.append(Difference("ledger number", str(row.number), str(expected)))
            break
        chain = rules.link(before, chained(row))
        if row.chain != chain:
            found.append(Difference(f"ledger entry {row.number} chain", row.chain, chain))
        before = row.chain
    following = Company.objects.values_list("next_ledger_number", flat=True).get(pk=current_company_id())
    if following != len(rows) + 1:
        found.append(Difference("company next_ledger_number", str(following), str(len(rows) + 1)))
    return found


def held_projection(rows: Iterable[Tick]) -> dict[uuid.UUID, tuple[uuid.UUID, str, Any, str]]:
    """For each ledger row that was held: its piece, why, when it was settled and as what."""
    settled = {row.settles_id: row for row in rows if row.settles_id}
    told = {}
    for row in rows:
        if row.answer == Answer.HELD:
            end = settled.get(row.pk)
            told[row.pk] = (
                row.piece_id,
                row.text,
                end.received_at if end else None,
                str(end.figures["as"]) if end else "",
            )
    return told


def _held_differences(rows: Sequence[Tick]) -> list[Difference]:
    told = held_projection(rows)
    kept = {
        each.tick_id: (each.piece_id, each.reason, each.settled_at, each.settled_as)
        for each in HeldTick.objects.all()
    }
    return [
        Difference(f"held tick {tick_id}", str(kept.get(tick_id)), str(told.get(tick_id)))
        for tick_id in sorted(kept.keys() | told.keys())
        if kept.get(tick_id) != told.get(tick_id)
    ]
