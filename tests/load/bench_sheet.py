"""How long the run sheet takes to answer a row that was left, and what its drawing takes after it.

    python tests/load/bench_sheet.py [--rows N] [--passes N] [--json]

A run of ten rows (unless told) under the British rule pack, in a database of its own. Times are processor
time of the whole request, from the client's call to the bytes, the median of the passes: the answer to POST
runs/ID/rows/ with findings and sticks; the drawing that follows by a request of its own, each time another
and from memory; and the page when it is opened anew.
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
from factories import Row, leg, make_run, our_house  # noqa: E402

from bendcore.units import Units  # noqa: E402
from services.company.models import Company  # noqa: E402
from services.pages import drawn, sheet  # noqa: E402
from services.projects import queries as project_queries  # noqa: E402
from services.projects.rules import checked_rows  # noqa: E402

WAYS = ("in", "up", "right", "out", "down", "in", "up", "right")
"""Of the rows between the first and the last; none turns back on the one before."""


def route(count: int) -> list[Row]:
    """So many rows: two right angles first, then bends of 45°, which fit a shorter run."""
    between = [
        leg(
            1300.0 + 37 * index,
            then="bend",
            angle_deg=90 if index < 2 else 45,
            toward=WAYS[index % len(WAYS)],
        )
        for index in range(count - 2)
    ]
    return [leg(1200, then="bend", angle_deg=90, toward="right"), *between, leg(900, then="end")]


def main() -> None:
    asked = argparse.ArgumentParser()
    asked.add_argument("--rows", type=int, default=10)
    asked.add_argument("--passes", type=int, default=9)
    asked.add_argument("--json", action="store_true")
    options = asked.parse_args()
    call_command("migrate", verbosity=0)
    setup_test_environment()
    house = our_house()
    with house.scope():
        Company.objects.filter(pk=house.company.pk).update(rules="uk")
        run = make_run(house, rows=route(options.rows))
    client = house.client("foreman")
    address = f"/runs/{run.pk}"

    def ask(call: Callable[[], Any]) -> float:
        """Milliseconds of one request that is answered."""
        begun = time.process_time()
        response = contextvars.Context().run(call)
        took = (time.process_time() - begun) * 1000.0
        assert response.status_code == 200, response.status_code
        return took

    def post(by: float) -> Callable[[], Any]:
        """The rows sent, the first leg longer by so much."""
        rows = route(options.rows)
        rows[0]["length_mm"] = 1200.0 + by
        typed = sheet.typed_rows(checked_rows(rows), Units.MM)
        with house.scope():
            seen = project_queries.run(run.pk).version
        body = {**{name: [row[name] for row in typed] for name in sheet.NAMES}, "seen": seen}
        return lambda: client.post(f"{address}/rows/", body, headers={"HX-Request": "true"})

    took: dict[str, list[float]] = {"rows": [], "drawing": [], "drawing from memory": [], "page": []}
    ask(post(0.0))  # templates and tables are read once
    for number in range(options.passes):
        took["rows"].append(ask(post(1.0 + number)))
        drawn.forget()
        took["drawing"].append(ask(lambda: client.get(f"{address}/drawn/?width=wide")))
        took["drawing from memory"].append(ask(lambda: client.get(f"{address}/drawn/?width=wide")))
        took["page"].append(ask(lambda: client.get(f"{address}/sheet/")))
    sent = post(0.5)
    with CaptureQueriesContext(connection) as queries:
        contextvars.Context().run(sent)
    told: dict[str, Any] = {"rows": options.rows, "queries": len(queries)}
    told["ms"] = {name: statistics.median(times) for name, times in took.items()}
    if options.json:
        print(json.dumps(told))
        return
    print(f"A run of {options.rows} rows; rows are kept and planned with {len(queries)} queries")
    for name, median in told["ms"].items():
        print(f"{name:>20}: {median:6.1f} ms")


if __name__ == "__main__":
    main()
