"""Pieces for tests: runs with plans of known cut lengths, released as planning does, and ticks on them."""

import uuid
from collections.abc import Sequence
from datetime import datetime, timedelta
from itertools import count
from typing import Any

from django.utils import timezone
from factories import House

from services.bench.models import Bender, Former
from services.core.commands import Actor, command, record
from services.core.ids import uuid7
from services.planning.models import Plan, Stick, StickLine
from services.planning.signals import run_released
from services.projects.models import Project, Room, Run
from services.tracking import commands
from services.tracking.models import Piece
from services.tracking.rules import TickAnswer, TickIn

CONDUIT = "steel-20-heavy"
_sequence = count(1)


def make_run(house: House, label: str = "07", *, project: str = "FW-1", room: str = "Churn hall") -> Run:
    """A run of 20 mm conduit, given to the house's crew."""
    bender, _made = Bender.objects.get_or_create(name="Bench one")
    former, _made = Former.objects.get_or_create(
        bender=bender, conduit=CONDUIT, defaults={"centreline_radius_mm": 73.0}
    )
    job, _made = Project.objects.get_or_create(code=project, defaults={"name": f"Fenwater {project}"})
    place, _made = Room.objects.get_or_create(project=job, name=room)
    run: Run = Run.objects.create(room=place, label=label, former=former, crew=house.crew)
    return run


@command
def release(actor: Actor, run: Run, lengths: Sequence[float]) -> Plan:
    """The run's next revision with sticks of these cut lengths in mm, told as planning tells it."""
    revision = Plan.objects.filter(run=run).count() + 1
    Plan.objects.filter(run=run).update(is_current=False)
    plan: Plan = Plan.objects.create(
        run=run,
        revision=revision,
        spec={"conduit": {"catalogue": CONDUIT}},
        result={},
        engine_version="test",
    )
    sticks = []
    for number, length in enumerate(lengths, start=1):
        line, _made = StickLine.objects.get_or_create(
            run=run, number=number, defaults={"label": f"{run.label}/{number}"}
        )
        sticks.append(
            Stick.objects.create(
                plan=plan, line=line, number=number, cut_length_mm=length, data={"bends": []}
            )
        )
    record(actor, "run released", run)
    run_released.send(sender=Run, run=run, plan=plan, sticks=sticks, actor=actor)
    return plan


def made(house: House, *lengths: float, label: str = "07", **where: str) -> list[Piece]:
    """The first attempts of a released run with sticks of these cut lengths."""
    run = make_run(house, label, **where)
    release(house.foreman, run, lengths or (1200.0,))
    return list(Piece.objects.filter(line__run=run).order_by("line__number"))


def tick_in(piece: Piece, kind: str, *, at: datetime | None = None, **more: Any) -> TickIn:
    """A tick as a device sends it, with the next sequence."""
    figures = {
        key: value for key, value in more.items() if key not in ("id", "sequence", "plan_id", "takes_back")
    }
    return TickIn(
        id=more.get("id") or uuid7(),
        sequence=more.get("sequence") or next(_sequence),
        kind=kind,
        piece_id=piece.pk,
        plan_id=more.get("plan_id") or piece.stick.plan_id,
        made_at=at or timezone.now() - timedelta(seconds=1),
        figures=figures,
        takes_back=more.get("takes_back"),
    )


def send(actor: Actor, *ticks: TickIn) -> list[TickAnswer]:
    """One batch."""
    return commands.record_ticks(actor=actor, ticks=list(ticks))


def tick(actor: Actor, piece: Piece, kind: str, **figures: Any) -> TickAnswer:
    """One tick made in the office."""
    return commands.tick_from_office(actor=actor, piece_id=piece.pk, kind=kind, figures=figures)


def state_of(piece: Piece) -> str:
    """The piece's state in the database now."""
    return str(Piece.objects.values_list("state", flat=True).get(pk=piece.pk))


def new_id() -> uuid.UUID:
    """An id that nothing has."""
    return uuid7()
