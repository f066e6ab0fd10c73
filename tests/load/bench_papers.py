"""How fast papers are drawn: a pack of bend cards from its order to the last page, as the worker draws it.

    python tests/load/bench_papers.py [--cards N] [--json]

In a company of its own on a fresh SQLite file: runs of one to five sticks are released, a pack of the whole
project is ordered, and the outbox is worked off by one thread, as `manage.py serve` does. Told are seconds
by the clock and of the processor: on a machine that does other work the two differ. The other papers of the
same project are told beside it.
"""

import argparse
import json
import os
import secrets
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
SIGNED = ("bend-cards", "labels", "cut-list", "kit-list", "take-off")


def prepare(home: str) -> None:
    """Sets the service up on a database of its own."""
    sys.path[:0] = [str(ROOT), str(ROOT / "tests" / "services")]
    os.environ.update(
        DJANGO_SETTINGS_MODULE="services.config.settings",
        STICKBOOK_MODE="test",
        STICKBOOK_SECRET_KEY=secrets.token_urlsafe(64),
        STICKBOOK_DATABASE_URL=f"sqlite:///{home}/bench.sqlite3",
    )
    import django

    django.setup()
    from django.core.management import call_command

    call_command("migrate", verbosity=0, interactive=False)


def project_of(house: Any, count: int) -> Any:
    """A project with so many sticks or a few more, all released; nothing is drawn yet. Its id."""
    from factories import THREE_BENDS, leg, make_former, make_project, make_room, make_run, release

    from services.core.models import OutboxEntry
    from services.planning.models import Stick

    former = make_former(house, k=0.03, c_deg=0.5, sd_deg=0.5)
    project = make_project(house)
    room = make_room(house, project)
    number = 0
    while Stick.objects.count() < count:
        number += 1
        last = leg(450 + 2300 * (number % 5), **{"from": "back", "to": "face", "then": "end"})
        rows = [leg(877 + number, **{k: v for k, v in THREE_BENDS[0].items() if k != "length_mm"})]
        rows += [*THREE_BENDS[1:3], last]
        release(house, make_run(house, room, label=f"{number:03d}", rows=rows, former=former))
    OutboxEntry.objects.all().delete()  # what each release would draw of itself is drawn by the pack
    return project.pk


def timed(house: Any, what: str, project_id: Any) -> dict[str, Any]:
    """Orders a pack and works the outbox off."""
    from services.core import outbox
    from services.papers import commands, queries
    from services.papers.rules import Asked

    asked = Asked(
        what=what, of="project", of_id=project_id, paper="A4", labels="a4-70x37" if what == "labels" else ""
    )
    clock, processor, longest = time.perf_counter(), time.process_time(), 0.0
    pack = commands.order_pack(actor=house.foreman, asked=asked)
    ordered = time.perf_counter() - clock
    while True:
        begun = time.perf_counter()
        if not outbox.relay(most=1):
            break
        longest = max(longest, time.perf_counter() - begun)
    made, pdf = queries.pack_pdf(pack.pk)
    return {
        "sticks": made.sticks,
        "pages": made.pages,
        "clock_s": round(time.perf_counter() - clock, 2),
        "processor_s": round(time.process_time() - processor, 2),
        "order_s": round(ordered, 3),
        "longest_part_s": round(longest, 2),
        "kilobytes": len(pdf) // 1024,
    }


def main() -> None:
    """Measures and tells."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cards", type=int, default=100)
    parser.add_argument("--json", action="store_true")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="stickbook-bench-") as home:
        prepare(home)
        from factories import our_house

        house = our_house()
        with house.scope():
            project_id = project_of(house, options.cards)
            told = {what: timed(house, what, project_id) for what in SIGNED}
    if options.json:
        sys.stdout.write(json.dumps(told) + "\n")
        return
    for what, figures in told.items():
        sys.stdout.write(
            f"{what:11} " + ", ".join(f"{name} {value}" for name, value in figures.items()) + "\n"
        )


if __name__ == "__main__":
    main()
