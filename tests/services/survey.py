"""Surveyed runs for tests, and what it takes to say that nothing changed."""

import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from django.db import connection
from factories import House

from services.bench import commands as bench
from services.bench.models import Former
from services.projects import commands as projects
from services.projects.models import Run

RIGHT_ANGLE: list[dict[str, Any]] = [
    {"length_mm": 1210.0, "from": "face", "to": "back", "then": "bend", "angle_deg": 90.0, "toward": "right"},
    {"length_mm": 600.0, "from": "back", "to": "face", "then": "end"},
]
"""Up and to the right. With 20 mm conduit and a radius of 73 mm, by hand: legs of 1200 and 590 to the corner;
the bend begins at 1127 and is 114.668 long; the stick is 1758.668."""

TWO_STICKS: list[dict[str, Any]] = [
    {"length_mm": 1200.0, "to": "corner", "then": "bend", "angle_deg": 90.0, "toward": "right"},
    {"length_mm": 4000.0, "from": "corner", "then": "end"},
]
"""By hand: 1200 + 4000 less a gain of 31.332; a whole length of 3750, and 1418.668."""

OVERLAP: list[dict[str, Any]] = [
    {"length_mm": 1000.0, "to": "corner", "then": "bend", "angle_deg": 90.0, "toward": "right"},
    {"length_mm": 100.0, "from": "corner", "to": "corner", "then": "bend", "angle_deg": 90.0, "toward": "up"},
    {"length_mm": 500.0, "from": "corner", "then": "end"},
]
"""Two right angles of 73 mm radius need 146 mm between their corners; row 1 (the second) has 100."""


def a_former(house: House, **figures: Any) -> Former:
    """A former for 20 mm conduit on a bender of its own; 73 mm radius unless told."""
    bender = bench.add_bender(actor=house.foreman, name=f"Bender {uuid.uuid4().hex[:8]}")
    told = {"conduit": "steel-20-heavy", "centreline_radius_mm": 73.0, **figures}
    return bench.add_former(actor=house.foreman, bender_id=bender.pk, **told)


def a_run(
    house: House, rows: list[dict[str, Any]] | None = None, *, label: str = "07", former: Former | None = None
) -> Run:
    """A run in a room and a project of its own, with these rows; in the house's scope."""
    code = uuid.uuid4().hex[:8]
    project = projects.create_project(actor=house.foreman, code=code, name="Fenwater Creamery")
    room = projects.create_room(actor=house.foreman, project_id=project.pk, name="Churn hall")
    former = former or a_former(house)
    run = projects.create_run(actor=house.foreman, room_id=room.pk, label=label, former_id=former.pk)
    if rows is None:
        return run
    return projects.set_rows(actor=house.foreman, run_id=run.pk, seen=run.version, rows=rows)


def everything() -> dict[str, list[str]]:
    """Every row of every table, of all companies: read past the models, so that no scope hides one."""
    kept = {}
    with connection.cursor() as cursor:
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")  # noqa: S608 - names of our own tables
            kept[table] = sorted(map(repr, cursor.fetchall()))
    return kept


@contextmanager
def nothing_changes() -> Iterator[None]:
    """Fails unless every row is as it was."""
    before = everything()
    yield
    assert everything() == before
