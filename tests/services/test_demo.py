"""The invented companies: made through the real commands, only into an empty database, and served."""

import os
import re
import signal
import sqlite3
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections import Counter
from contextlib import suppress
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import transaction
from django.test import RequestFactory
from factories import FreshClient, House

from services.company.models import Company, Role, User
from services.core.models import Act
from services.core.scoping import across_companies, company_scope
from services.costing.queries import compare_with_ledger, scrap_by_project
from services.planning.queries import current_plan, draft_of
from services.projects.models import Project, Room, Run
from services.projects.queries import projects, runs_of_project
from services.tracking.models import Piece
from services.tracking.queries import compare_projections

ROOT = Path(__file__).resolve().parents[2]
PASSWORD = "kettle-heron-umber-quill"
PATIENCE_S = 120
"""For a child process on a busy machine."""


@pytest.fixture
def told(db: None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    """What loading printed."""
    monkeypatch.setenv("STICKBOOK_HOME", str(tmp_path))
    out = StringIO()
    began = time.monotonic()
    call_command("load_demo", password=PASSWORD, stdout=out)
    assert time.monotonic() - began < 60
    return out.getvalue()


def test_the_demo_holds_two_companies_with_every_kind_of_work(told: str) -> None:
    ostley, tamber = Company.objects.order_by("name")
    assert (ostley.name, ostley.words, ostley.units, ostley.currency) == (
        "Ostley Electrical",
        "uk",
        "mm",
        "GBP",
    )
    assert (tamber.name, tamber.words, tamber.units, tamber.currency) == (
        "Tamber Ridge Electric",
        "us",
        "in",
        "USD",
    )
    with company_scope(ostley.pk):
        assert (Project.objects.count(), Room.objects.count(), Run.objects.count()) == (2, 8, 40)
        states = Counter(Piece.objects.values_list("state", flat=True))
        assert set(states) >= {
            "released",
            "cut",
            "bent",
            "checked",
            "installed",
            "scrapped",
            "rejected",
            "rework",
        }
        followed = {
            row["then"] for run in Run.objects.all() for row in run.rows if row["then"] not in ("bend", "end")
        }
        assert followed == {"offset", "saddle_set", "kick", "box_set"}
        assert any(row["spread_mm"] for run in Run.objects.all() for row in run.rows)
        drafts = [draft_of(run, ostley) for each in projects() for run in runs_of_project(each.pk)]
        assert sum(bool(draft.to_measure) for draft in drafts) == 2
        assert sum(bool(draft.stops) for draft in drafts) == 1
        assert any(draft.plan and len(draft.plan.sticks) > 1 for draft in drafts)
        scrap = scrap_by_project()
        assert {row.code for row in scrap} == {"FC-26", "SP-04"}
        assert all(row.scrapped_pieces and row.scrap_amount for row in scrap)
        assert all(not row.unpriced_pieces for row in scrap)


def test_what_the_demo_made_is_what_its_ledger_says(told: str) -> None:
    for company in Company.objects.all():
        with company_scope(company.pk):
            assert compare_projections() == []
            assert compare_with_ledger() == []
            for run in Run.objects.filter(crew__isnull=False):
                assert current_plan(run.pk) is not None
            made = set(Act.objects.values_list("act", flat=True))
            assert made >= {"company founded", "project created", "rows set", "run released", "price set"}


def test_lengths_in_the_american_company_are_of_whole_eighths_of_an_inch(told: str) -> None:
    with company_scope(Company.objects.get(units="in").pk):
        lengths = [row["length_mm"] for run in Run.objects.all() for row in run.rows if row["length_mm"]]
    assert lengths
    for length in lengths:
        assert length / 25.4 * 8 == pytest.approx(round(length / 25.4 * 8), abs=1e-9)


def test_everybody_told_can_sign_in_with_the_password_told(
    told: str, rf: RequestFactory, tmp_path: Path
) -> None:
    from django.contrib.auth import authenticate

    assert f"http://127.0.0.1:8000/ with the password {PASSWORD}" in told
    addresses = re.findall(r"\S+@\S+", told)
    assert sorted(addresses) == sorted(User.objects.values_list("email", flat=True))
    for address in addresses:
        assert authenticate(rf.post("/"), username=address, password=PASSWORD) is not None
    for role in Role.values:
        assert len(re.findall(rf"^  {role} ", told, re.MULTILINE)) >= 2
    kept = tmp_path / "demo-sign-ins.txt"
    assert kept.stat().st_mode & 0o777 == 0o600
    assert PASSWORD in kept.read_text(encoding="utf-8")


def test_the_manager_of_the_demo_sees_its_scrap_and_the_foreman_does_not(told: str) -> None:
    for role, status in ((Role.MANAGER, 200), (Role.FOREMAN, 403)):
        address = re.findall(rf"^  {role} +(\S+)", told, re.MULTILINE)[0]
        client = FreshClient()
        client.force_login(
            User.objects.get(email=address), backend="django.contrib.auth.backends.ModelBackend"
        )
        assert client.get("/api/v1/review/scrap").status_code == status


def test_the_same_seed_makes_the_same_work(db: None) -> None:
    class Undone(Exception):
        """Takes a load back."""

    loads: list[list[object]] = []
    for seed in (1, 1, 2):
        with suppress(Undone), transaction.atomic():
            call_command("load_demo", password=PASSWORD, seed=seed, stdout=StringIO())
            with across_companies(reason="a test compares two loads"):
                runs = Run.objects.order_by("company__name", "room__project__code", "label")
                pieces = Piece.objects.order_by(
                    "company__name", "line__run__room__project__code", "line__label", "attempt"
                )
                loads.append(
                    [
                        *runs.values_list("label", "rows"),
                        *pieces.values_list("line__label", "attempt", "state"),
                    ]
                )
            raise Undone
    assert loads[0] == loads[1]
    assert loads[0] != loads[2]


def test_the_demo_is_refused_where_there_is_data_and_changes_nothing(house: House) -> None:
    people = User.objects.count()
    with pytest.raises(CommandError, match="holds data already"):
        call_command("load_demo", password=PASSWORD, stdout=StringIO())
    out = StringIO()
    call_command("load_demo", password=PASSWORD, if_empty=True, stdout=out)
    assert out.getvalue() == ""
    assert (Company.objects.count(), User.objects.count()) == (1, people)


def test_a_load_that_fails_half_way_leaves_the_database_empty(
    db: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    from services.demo import season

    def fails(**told: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(season.stock, "receive", fails)
    with pytest.raises(ZeroDivisionError):
        call_command("load_demo", password=PASSWORD, stdout=StringIO())
    assert not Company.objects.exists()
    assert not User.objects.exists()


def test_a_short_password_is_refused(db: None) -> None:
    with pytest.raises(CommandError, match="at least 12"):
        call_command("load_demo", password="short", stdout=StringIO())
    assert not Company.objects.exists()


# ---------------------------------------------------------------- serving


def served(home: Path) -> tuple[subprocess.Popen[str], str]:
    """The embedded service on a free port, and its address."""
    process = subprocess.Popen(
        [sys.executable, "manage.py", "serve", "--port", "0"],
        cwd=ROOT,
        env={"PATH": os.environ["PATH"], "STICKBOOK_HOME": str(home)},
        stdout=subprocess.PIPE,
        text=True,
    )
    assert process.stdout is not None
    line = process.stdout.readline()
    found = re.search(r"http://127\.0\.0\.1:\d+/", line)
    assert found, line
    return process, found[0]


def fetched(address: str) -> tuple[int, str]:
    """Status and text of a page."""
    try:
        with urllib.request.urlopen(address, timeout=PATIENCE_S) as response:  # noqa: S310 - our own child
            return response.status, response.read().decode()
    except urllib.error.HTTPError as error:
        return error.code, error.read().decode()


def left_in_outbox(home: Path) -> int:
    """Queued tasks not done yet."""
    with sqlite3.connect(f"file:{home / 'stickbook.sqlite3'}?mode=ro", uri=True) as database:
        return int(
            database.execute("SELECT count(*) FROM core_outboxentry WHERE done_at IS NULL").fetchone()[0]
        )


@pytest.mark.slow
@pytest.mark.parametrize("stop", [signal.SIGTERM, signal.SIGINT], ids=["SIGTERM", "SIGINT"])
def test_the_embedded_service_serves_does_what_was_queued_before_and_stops_when_told(
    tmp_path: Path, stop: signal.Signals
) -> None:
    environment = {"PATH": os.environ["PATH"], "STICKBOOK_HOME": str(tmp_path)}
    for command in (["migrate", "-v0"], ["load_demo", "--password", PASSWORD]):
        subprocess.run(
            [sys.executable, "manage.py", *command], cwd=ROOT, env=environment, check=True,
            timeout=PATIENCE_S,
            stdout=subprocess.DEVNULL,
        )  # fmt: skip
    assert left_in_outbox(tmp_path) > 10
    process, address = served(tmp_path)
    try:
        status, text = fetched(f"{address}sign-in/")
        assert status == 200
        assert "password" in text
        assert fetched(f"{address}api/v1/projects")[0] == 403
        until = time.monotonic() + PATIENCE_S
        while left_in_outbox(tmp_path) and time.monotonic() < until:
            time.sleep(0.5)
        assert left_in_outbox(tmp_path) == 0
        process.send_signal(stop)
        assert process.wait(PATIENCE_S) == 0
    finally:
        process.kill()
        process.communicate()
