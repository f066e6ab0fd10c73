"""Runs whose papers have everything on them: the documents' examples, as released plans with their pieces."""

import json
from pathlib import Path
from typing import Any

from factories import House, make_former, make_run

import bendcore
from services.bench.models import Former
from services.planning.models import Plan, Stick, StickLine
from services.planning.rules import engine_version
from services.projects.models import Room, Run
from services.tracking.models import Piece, State

EXAMPLES = Path(__file__).resolve().parents[2] / "docs" / "examples"

LET_PASS: list[dict[str, Any]] = [
    {
        "rule": "total-bend",
        "where": "route",
        "finding": "420° of bend between draw-in points; 360° is the most.",
        "reason": "drawn in from the middle, agreed on site",
        "by": "Maud Pellowe",
    }
]


def example(number: int) -> dict[str, Any]:
    """A spec of docs/examples by its number."""
    (path,) = EXAMPLES.glob(f"{number:02d}-*.json")
    spec: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
    return spec


def planned_run(
    house: House,
    spec: dict[str, Any],
    room: Room,
    *,
    label: str,
    former: Former | None = None,
    overrides: list[dict[str, Any]] | None = None,
    state: str = State.RELEASED,
    **of_run: Any,
) -> Plan:
    """A run with this very plan, as if it had been released; its pieces stand in the state.

    Straight into the tables: the run sheet cannot ask for all that the engine can plan.
    """
    spec = {**spec, "run": label}
    run = make_run(house, room, label=label, former=former or make_former(house))
    Run.objects.filter(pk=run.pk).update(crew=house.crew, **of_run)
    result = bendcore.plan(spec)
    assert isinstance(result, bendcore.Plan)
    company = house.company
    plan = Plan.objects.create(
        run=run,
        revision=1,
        spec=spec,
        result=result.to_dict(bendcore.Units(company.units), bendcore.Dialect(company.words)),
        overrides=overrides or [],
        engine_version=engine_version(),
    )
    for each in result.sticks:
        line = StickLine.objects.create(run=run, number=each.number, label=f"{label}/{each.number}")
        stick = Stick.objects.create(
            plan=plan, line=line, number=each.number, cut_length_mm=each.cut_length, data=each.to_dict()
        )
        Piece.objects.create(line=line, stick=stick, attempt=1, state=state, is_latest=True)
    found: Plan = plan
    return found
