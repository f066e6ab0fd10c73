"""How long the wall chart of a large job takes, and how that grows: server time and queries a page.

    python tests/load/bench_chart.py [--runs N] [--passes N] [--json]

A job of N runs (2,000 unless told) in rooms of 50, and one of 20 runs beside it, in a database of their own.
Of each ten runs six are released, with pieces in every state, two are drafts that can be released, one has a
stop and one is to measure. Times are processor time of the whole request, from the client's call to the
bytes, and the median of the passes; ratios are to the small job, measured in turn within one run, since
machines differ and are busy.
"""

import argparse
import contextvars
import json
import os
import secrets
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))
sys.path.insert(0, str(ROOT / "tests" / "services"))

_home = tempfile.TemporaryDirectory(prefix="stickbook-bench-")
os.environ["DJANGO_SETTINGS_MODULE"] = "services.config.settings"
os.environ["STICKBOOK_MODE"] = "test"
os.environ["STICKBOOK_SECRET_KEY"] = secrets.token_urlsafe(64)
os.environ["STICKBOOK_DATABASE_URL"] = f"sqlite:///{_home.name}/bench.sqlite3"

import django  # noqa: E402 - the environment comes first

django.setup()

from django.core.management import call_command  # noqa: E402
from django.db import connection  # noqa: E402
from django.test.utils import CaptureQueriesContext, setup_test_environment  # noqa: E402
from factories import THREE_BENDS, House, make_former, make_project, make_room, make_run, our_house  # noqa: E402
from factories import release as release_run  # noqa: E402

from services.pages.overview import memory  # noqa: E402
from services.planning.models import Plan, Stick, StickLine  # noqa: E402
from services.projects.models import Project, Room, Run  # noqa: E402
from services.tracking.models import Piece, State  # noqa: E402

RUNS_A_ROOM = 50
STATES = (State.RELEASED, State.CUT, State.BENT, State.CHECKED, State.INSTALLED, State.REWORK)
SHORT: list[dict[str, Any]] = [
    {"length_mm": 1000.0, "to": "corner", "then": "bend", "angle_deg": 90.0, "toward": "right"},
    {"length_mm": 100.0, "from": "corner", "to": "corner", "then": "bend", "angle_deg": 90.0, "toward": "up"},
    {"length_mm": 500.0, "from": "corner", "then": "end"},
]
"""Two right angles too close for their former."""

UNMEASURED: list[dict[str, Any]] = [{"length_mm": None, "then": "end"}]


def build(house: House, code: str, count: int) -> Project:
    """A job of so many runs. One of each kind is made by commands, the others are copies of its rows."""
    project = make_project(house, code=code, name=f"Job of {count} runs")
    former = make_former(house)
    patterns = make_room(house, project, name="Patterns")
    made = make_run(house, patterns, label="P1", former=former)
    plan = release_run(house, made)
    kinds = {"ready": THREE_BENDS, "stopped": SHORT, "to measure": UNMEASURED}
    drafts = {
        kind: make_run(house, patterns, label=f"P{number}", former=former, rows=rows)
        for number, (kind, rows) in enumerate(kinds.items(), start=2)
    }
    rooms = Room.objects.bulk_create(
        Room(project=project, name=f"Room {number:03d}", place=number + 1)
        for number in range(-(-count // RUNS_A_ROOM))
    )
    order = ["released"] * 6 + ["ready"] * 2 + ["stopped", "to measure"]
    runs, plans, lines, sticks, pieces = [], [], [], [], []
    template = list(Stick.objects.filter(plan=plan).order_by("number"))
    for number in range(count):
        kind = order[number % len(order)]
        like = made if kind == "released" else drafts[kind]
        run = Run(
            room=rooms[number // RUNS_A_ROOM], label=f"{number:04d}", former=former, rows=like.rows,
            from_place="Panel", to_place=f"Box {number}", heading=like.heading,
        )  # fmt: skip
        runs.append(run)
        if kind != "released":
            continue
        run.crew = house.crew
        copy = Plan(
            run=run, revision=1, spec=plan.spec | {"run": run.label}, result=plan.result, rows=plan.rows,
            engine_version=plan.engine_version,
        )  # fmt: skip
        plans.append(copy)
        for each in template:
            line = StickLine(run=run, number=each.number, label=f"{run.label}/{each.number}")
            stick = Stick(
                plan=copy, line=line, number=each.number, cut_length_mm=each.cut_length_mm, data=each.data
            )
            lines.append(line)
            sticks.append(stick)
            pieces.append(
                Piece(
                    line=line, stick=stick, attempt=1, is_latest=True,
                    state=STATES[(number + each.number) % len(STATES)],
                )
            )  # fmt: skip
    for model, rows in ((Run, runs), (Plan, plans), (StickLine, lines), (Stick, sticks), (Piece, pieces)):
        model.objects.bulk_create(rows, batch_size=500)
    return project


def timed(ask: Callable[[], Any], passes: int) -> float:
    """Median milliseconds of a call."""
    took = []
    for _pass in range(passes):
        begun = time.process_time()
        ask()
        took.append((time.process_time() - begun) * 1000.0)
    return statistics.median(took)


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("--runs", type=int, default=2000)
    asked.add_argument("--passes", type=int, default=9)
    asked.add_argument("--json", action="store_true")
    options = asked.parse_args()
    call_command("migrate", verbosity=0)
    setup_test_environment()
    house = our_house()
    with house.scope():
        large = build(house, "LARGE", options.runs)
        small = build(house, "SMALL", 20)
        room = Room.objects.filter(project=large, name="Room 000").get()
    client = house.client("foreman")

    def get(project: Project, tail: str = "", *, live: bool = False) -> Callable[[], Any]:
        path = f"/projects/{project.pk}/{'chart/' if live else ''}{tail}"

        def ask() -> Any:
            response = contextvars.Context().run(client.get, path)
            assert response.status_code in (200, 204), response.status_code
            return response

        return ask

    memory.clear()
    begun = time.process_time()
    first = get(large)()
    cold = (time.process_time() - begun) * 1000.0
    looks = 1
    while first.context["found"].unknown:
        first = get(large, live=True)()
        looks += 1
    version = first.context["version"]
    told: dict[str, Any] = {
        "runs": options.runs + 4,
        "first_page_with_nothing_known_ms": cold,
        "requests_until_all_are_known": looks,
        "pages": {},
    }
    pages = {
        "folded": ("", False),
        "one room open": (f"?open={room.pk}", False),
        "stopped only": ("?stopped=1", False),
        "by day due": ("?sort=due", False),
        "newer chart": ("", True),
    }
    for name, (tail, live) in pages.items():
        get(large, tail, live=live)(), get(small, tail, live=live)()
        ms, small_ms = (
            timed(get(large, tail, live=live), options.passes),
            timed(get(small, tail, live=live), options.passes),
        )
        with CaptureQueriesContext(connection) as many:
            get(large, tail, live=live)()
        asked_many = len(many)  # counted before the next request clears the log
        with CaptureQueriesContext(connection) as few:
            get(small, tail, live=live)()
        told["pages"][name] = {
            "ms": ms, "ms_of_20_runs": small_ms, "ratio": ms / small_ms, "queries": asked_many,
            "queries_of_20_runs": len(few),
        }  # fmt: skip
    nothing = get(large, f"?seen={version}", live=True)
    assert nothing().status_code == 204
    with CaptureQueriesContext(connection) as queries:
        nothing()
    told["nothing_changed"] = {"queries": len(queries)}
    told["nothing_changed"]["ms"] = timed(nothing, options.passes)
    if options.json:
        print(json.dumps(told))
        return
    print(f"A job of {told['runs']} runs, {len(plans_of(house, large))} of them released")
    print(f"first page, with nothing known: {cold:.0f} ms; all known after {looks} requests")
    for name, row in told["pages"].items():
        print(
            f"{name:>14}: {row['ms']:6.1f} ms, {row['ratio']:4.1f} times that of 20 runs, "
            f"{row['queries']} queries ({row['queries_of_20_runs']})"
        )
    row = told["nothing_changed"]
    print(f"nothing changed: {row['ms']:.1f} ms, {row['queries']} queries")


def plans_of(house: House, project: Project) -> list[Plan]:
    with house.scope():
        return list(Plan.objects.filter(run__room__project=project).only("pk"))


if __name__ == "__main__":
    main()
