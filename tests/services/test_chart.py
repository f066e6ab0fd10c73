"""The wall chart: what stops a run, which runs are asked for, how many queries it takes, and what is new."""

import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.http import QueryDict
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from factories import House, make_former, make_project, make_room, make_run, release
from pieces import tick, tick_in
from survey import OVERLAP, TWO_STICKS

from services.bench import commands as bench
from services.company import commands as company_commands
from services.pages import overview, queries
from services.pages.overview import Asked, Outcome, Overview, memory
from services.projects import commands as projects
from services.projects.models import Project, Room, Run
from services.tracking import commands as tracking
from services.tracking import queries as tracking_queries

pytestmark = pytest.mark.django_db

UNMEASURED: list[dict[str, Any]] = [{"length_mm": None, "then": "end"}]


@pytest.fixture(autouse=True)
def _nothing_known() -> None:
    memory.clear()


@pytest.fixture
def job(scoped: House) -> Project:
    """A job with a run of each kind: 01 released, 02 ready, 03 stopped, 04 to measure, 05 untyped."""
    room = make_room(scoped)
    former = make_former(scoped)
    for label, rows in (
        ("01", None), ("02", TWO_STICKS), ("03", OVERLAP), ("04", UNMEASURED), ("05", []),
    ):  # fmt: skip
        run = make_run(scoped, room, label=label, former=former, rows=rows)
        if label == "01":
            release(scoped, run)
    return Project.objects.get(pk=room.project_id)


def look(project: Project, house: House, query: str = "", **more: Any) -> Overview:
    """The chart as asked for."""
    company = type(house.company).objects.get(pk=house.company.pk)
    return overview.overview(project, company, Asked.of(QueryDict(query)), today=timezone.localdate(), **more)


def labels(found: Overview) -> list[str]:
    """Of the runs that were asked for, in their order."""
    return [run.facts.label for run in found.runs]


def run_of(label: str) -> Run:
    """By its label."""
    found: Run = Run.objects.get(label=label)
    return found


def test_each_run_says_what_it_waits_for(scoped: House, job: Project) -> None:
    told = {run.facts.label: run for run in look(job, scoped).everything}
    assert {label: run.outcome for label, run in told.items()} == {
        "01": Outcome.AS_RELEASED,
        "02": Outcome.READY,
        "03": Outcome.STOPPED,
        "04": Outcome.TO_MEASURE,
        "05": Outcome.UNTYPED,
    }
    assert told["02"].counts == {"waiting": 2}
    assert told["02"].lengths["waiting"] == pytest.approx(3750 + 1418.668, abs=1e-3)  # by hand, see survey
    assert told["03"].judged is not None
    assert "46 mm" in told["03"].judged.text  # 146 are needed, 100 are there
    assert told["04"].judged is not None
    assert told["04"].judged.text == "Row 1 is still to measure."


def test_a_sheet_changed_after_its_release_is_superseded_until_the_run_is_released_again(
    scoped: House, job: Project
) -> None:
    run = run_of("01")
    projects.change_run(actor=scoped.foreman, run_id=run.pk, seen=run.version, to_place="Tank")
    assert look(job, scoped).everything[0].outcome is Outcome.AS_RELEASED  # no figure of it changed
    run = run_of("01")
    projects.set_rows(actor=scoped.foreman, run_id=run.pk, seen=run.version, rows=TWO_STICKS)
    assert look(job, scoped).everything[0].outcome is Outcome.SUPERSEDED
    release(scoped, run_of("01"))
    assert look(job, scoped).everything[0].outcome is Outcome.AS_RELEASED


def test_what_is_kept_in_memory_is_forgotten_when_a_former_changes(scoped: House, job: Project) -> None:
    assert look(job, scoped).everything[1].lengths["waiting"] == pytest.approx(5168.668, abs=1e-3)
    former = run_of("02").former
    bench.change_former(
        actor=scoped.foreman,
        former_id=former.pk,
        seen=former.version,
        centreline_radius_mm=900.0,
        line="back",
    )
    # by hand: 1200 + 4000 less a gain of 900 x (2 - pi/2) = 386.283
    assert look(job, scoped).everything[1].lengths["waiting"] == pytest.approx(4813.717, abs=1e-3)


@pytest.mark.parametrize(
    ("query", "wanted"),
    [
        ("", ["01", "02", "03", "04", "05"]),
        ("state=waiting", ["02", "03", "04", "05"]),
        ("state=released", ["01"]),
        ("state=installed", []),
        ("stopped=1", ["03"]),
        ("measure=1", ["04", "05"]),
        ("late=1", ["02"]),
        ("late=1&stopped=1", []),
        ("sort=due", ["02", "04", "05", "01", "03"]),
        ("sort=priority", ["05", "02", "04", "01", "03"]),
        ("state=melted&crew=nobody&sort=best&late=yes", ["01", "02", "03", "04", "05"]),
    ],
)
def test_filters_and_orders(scoped: House, job: Project, query: str, wanted: list[str]) -> None:
    today = timezone.localdate()
    for label, day in (("02", today - timedelta(days=1)), ("04", today)):
        run = run_of(label)
        projects.set_due(actor=scoped.foreman, runs={run.pk: run.version}, due_on=day)
    last = run_of("05")
    projects.set_priority(actor=scoped.foreman, runs={last.pk: last.version}, priority=1)
    assert labels(look(job, scoped, query)) == wanted


def test_the_filter_by_crew_finds_runs_and_single_sticks(scoped: House, job: Project) -> None:
    crew = company_commands.form_crew(actor=scoped.administrator, name="Tower", member_ids=[])
    assert labels(look(job, scoped, f"crew={crew.pk}")) == []
    piece = tracking_queries.pieces_of_run(run_of("01").pk)[0]
    tracking.assign(actor=scoped.foreman, stage="fitting", crew_id=crew.pk, runs={}, piece_ids=[piece.pk])
    draft = run_of("03")
    tracking.assign(actor=scoped.foreman, stage="bench", crew_id=crew.pk, runs={draft.pk: draft.version})
    assert labels(look(job, scoped, f"crew={crew.pk}")) == ["01", "03"]


def test_a_held_tick_stops_its_run(scoped: House, job: Project) -> None:
    piece = tracking_queries.pieces_of_run(run_of("01").pk)[0]
    tracking.record_ticks(actor=scoped.electrician, ticks=[tick_in(piece, "taken down", note="too early")])
    found = look(job, scoped, "stopped=1")
    assert labels(found) == ["01", "03"]
    assert [each.piece_id for each in found.held] == [piece.pk]


def test_an_address_reads_back_as_it_was_written() -> None:
    room, crew = uuid.uuid4(), uuid.uuid4()
    text = f"crew={crew}&state=cut&late=1&sort=due&open={room}&show=120"
    asked = Asked.of(QueryDict(text))
    assert asked.query == text
    assert asked.toggled(room).open == ()
    assert asked.toggled(room).toggled(room) == asked
    assert Asked.of(QueryDict("show=99999999&open=x")).query == ""


def many(house: House, count: int) -> Project:
    """A job with two rooms of drafts, all like one another."""
    room = make_room(house, make_project(house, code=f"N-{count}"))
    run = make_run(house, room, label="first", rows=TWO_STICKS)
    other = make_room(house, room.project, name="Other")
    Run.objects.bulk_create(
        Run(room=(room, other)[number % 2], label=f"{number:03d}", former=run.former, rows=run.rows)
        for number in range(count - 1)
    )
    found: Project = Project.objects.get(pk=room.project_id)
    return found


def test_rooms_of_a_large_job_are_folded_and_open_when_asked_for(scoped: House) -> None:
    project = many(scoped, 70)
    found = look(project, scoped)
    assert found.can_fold
    assert [(room.count, len(room.runs)) for room in found.rooms] == [(36, 0), (34, 0)]
    room = Room.objects.get(name="Other")
    found = look(project, scoped, f"open={room.pk}")
    assert [(room.count, len(room.runs)) for room in found.rooms] == [(36, 0), (34, 34)]
    assert [len(room.runs) for room in look(project, scoped, "sort=due").rooms] == [overview.SHOWN]
    assert [room.left for room in look(project, scoped, "sort=due").rooms] == [10]
    assert [len(room.runs) for room in look(project, scoped, "sort=due&show=120").rooms] == [70]


def test_of_a_large_job_the_engine_is_asked_bit_by_bit(scoped: House) -> None:
    project = many(scoped, 70)
    left = [look(project, scoped, beside=30).unknown for _time in range(3)]
    assert left == [40, 10, 0]
    assert {run.outcome for run in look(project, scoped, beside=0).everything} == {Outcome.READY}


@pytest.mark.parametrize("query", ["", "stopped=1", "sort=due", "crew=0190f3a0-0000-7000-8000-000000000001"])
def test_the_chart_takes_as_many_queries_for_2_runs_as_for_200(scoped: House, query: str) -> None:
    taken = []
    for count in (2, 200):
        project = many(scoped, count)
        with CaptureQueriesContext(connection) as asked:
            look(project, scoped, query)
        taken.append(len(asked))
    assert taken == [10, 10]


# ----------------------------------------------------------------------------------------------- what is new


def test_the_version_changes_with_everything_that_shows(scoped: House, job: Project) -> None:
    def version() -> str:
        project = Project.objects.get(pk=job.pk)
        company = type(scoped.company).objects.get(pk=scoped.company.pk)
        return queries.chart_version(project, company, timezone.localdate())

    def seen(label: str) -> dict[uuid.UUID, int]:
        return {run_of(label).pk: run_of(label).version}

    piece = tracking_queries.pieces_of_run(run_of("01").pk)[0]
    acts: list[Any] = [
        lambda: tick(scoped.electrician, piece, "cut"),
        lambda: projects.set_due(actor=scoped.foreman, runs=seen("02"), due_on="2026-12-01"),
        lambda: projects.set_priority(actor=scoped.foreman, runs=seen("02"), priority=1),
        lambda: tracking.assign(actor=scoped.foreman, stage="bench", crew_id=scoped.crew.pk, runs=seen("03")),
        lambda: projects.create_room(actor=scoped.foreman, project_id=job.pk, name="Hall"),
        lambda: projects.delete_run(actor=scoped.foreman, run_id=run_of("05").pk, seen=run_of("05").version),
        lambda: make_run(scoped, run_of("01").room, label="05", former=run_of("01").former, rows=[]),
        lambda: projects.rename_room(
            actor=scoped.foreman, room_id=Room.objects.get(name="Hall").pk, seen=1, name="Hall 2"
        ),
        lambda: projects.delete_room(
            actor=scoped.foreman, room_id=Room.objects.get(name="Hall 2").pk, seen=2
        ),
        lambda: release(scoped, run_of("02")),
        lambda: company_commands.form_crew(actor=scoped.administrator, name="Tower", member_ids=[]),
        lambda: projects.change_project(
            actor=scoped.foreman, project_id=job.pk, seen=Project.objects.get(pk=job.pk).version, name="New"
        ),
    ]
    versions = [version()]
    for act in acts:
        assert version() == versions[-1]
        act()
        versions.append(version())
    assert len(set(versions)) == len(versions)


@pytest.mark.parametrize("count", [2, 200])
def test_what_is_new_is_asked_in_one_number_of_queries(scoped: House, count: int) -> None:
    project = many(scoped, count)
    with CaptureQueriesContext(connection) as asked:
        queries.chart_version(project, scoped.company, timezone.localdate())
    assert len(asked) == 5


def test_a_page_that_is_right_gets_nothing_and_one_that_is_old_the_newer_chart(house: House) -> None:
    with house.scope():
        run = make_run(house)
    client = house.client("foreman")
    page = client.get(f"/projects/{run.room.project_id}/")
    live = f"/projects/{run.room.project_id}/chart/?seen={page.context['version']}"
    assert page.context["version"]
    assert client.get(live).status_code == 204
    with house.scope():
        projects.set_priority(actor=house.foreman, runs={run.pk: run.version}, priority=1)
    newer = client.get(live)
    assert newer.status_code == 200
    assert "goes first" in newer.content.decode()


# -------------------------------------------------------------------------------------------------- the pages


def test_the_bar_gives_what_is_chosen_and_says_so(house: House) -> None:
    with house.scope():
        run = make_run(house)
        release(house, run)
        piece = tracking_queries.pieces_of_run(run.pk)[0]
        run.refresh_from_db()
    client = house.client("foreman")
    address = f"/projects/{run.room.project_id}/give/"
    chosen = {"run": [f"{run.pk}:{run.version}"], "at": "sort=due"}
    given = client.post(
        address,
        {**chosen, "do": "give", "stage": "fitting", "crew": str(house.crew.pk), "piece": [str(piece.pk)]},
        headers={"HX-Request": "true"},
    )
    assert given.status_code == 200
    assert "Given: 1 run, 1 length." in given.content.decode()
    stale = client.post(
        address, {**chosen, "do": "due", "due_on": "2026-12-24"}, headers={"HX-Request": "true"}
    )
    assert stale.status_code == 412
    assert "Somebody else changed 07 since you looked." in stale.content.decode()
    with house.scope():
        kept = Run.objects.get(pk=run.pk)
        assert (kept.fitting_crew, kept.due_on) == (house.crew, None)
    plain = client.post(
        address, {**chosen, "run": [f"{run.pk}:{kept.version}"], "do": "priority", "priority": "1"}
    )
    assert plain.status_code == 302
    assert plain["Location"].endswith("?sort=due")
    with house.scope():
        assert Run.objects.get(pk=run.pk).priority == 1


@pytest.mark.parametrize(
    ("body", "said"),
    [
        ({"do": "give", "stage": "bench"}, "The crew is none; choose one"),
        ({"do": "give", "stage": "bench", "crew": "{crew}"}, "none"),
        ({"do": "due"}, "a day is wanted"),
        ({"do": "due", "due_on": "soon", "run": "{run}:2"}, "a day from 2000 to 2199 is wanted"),
        ({"do": "priority", "priority": "1"}, "whole runs"),
        ({"do": "melt"}, "nothing that can be done"),
        ({"do": "due", "due_on": "2026-12-24", "run": "{run}"}, "open it again"),
    ],
)
def test_a_bar_that_is_told_too_little_says_what_is_wanted(
    house: House, body: dict[str, str], said: str
) -> None:
    with house.scope():
        run = make_run(house)
    told = {key: text.format(crew=house.crew.pk, run=run.pk) for key, text in body.items()}
    answer = house.client("foreman").post(
        f"/projects/{run.room.project_id}/give/", told, headers={"HX-Request": "true"}
    )
    assert answer.status_code == 422
    assert said in answer.content.decode()


def test_an_archived_project_is_off_the_chart_and_shows_no_way_to_change_it(house: House) -> None:
    with house.scope():
        run = make_run(house)
        project = Project.objects.get(pk=run.room.project_id)
    client = house.client("foreman")
    assert "data-pick" in client.get(f"/projects/{project.pk}/").content.decode()
    client.post(f"/projects/{project.pk}/archive/", {"seen": str(project.version)})
    page = client.get(f"/projects/{project.pk}/").content.decode()
    assert "Archived on" in page
    assert "data-pick" not in page
    assert "Add a run" not in page
    assert project.name not in client.get("/").content.decode()
    assert project.code in client.get("/projects/").content.decode()
    client.post(f"/projects/{project.pk}/back/", {"seen": str(project.version + 1)})
    assert "data-pick" in client.get(f"/projects/{project.pk}/").content.decode()


def test_deleting_a_draft_asks_once_and_says_what_goes(house: House) -> None:
    with house.scope():
        run = make_run(house)
    client = house.client("foreman")
    asked = client.get(f"/runs/{run.pk}/delete/").content.decode()
    assert "4 rows of its route" in asked
    done = client.post(f"/runs/{run.pk}/delete/", {"seen": str(run.version)})
    assert done.status_code == 302
    with house.scope():
        assert not Run.objects.exists()


def test_the_api_tells_the_chart_with_an_etag(house: House) -> None:
    with house.scope():
        run = make_run(house)
    client = house.client("foreman")
    path = f"/api/v1/projects/{run.room.project_id}/chart"
    told = client.get(path)
    assert [each["outcome"] for each in told.json()["items"]] == ["ready"]
    again = client.get(path, headers={"If-None-Match": told["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    wrong = client.get(f"{path}?state=melted")
    assert wrong.status_code == 400
    assert wrong.json()["problems"][0]["where"] == "state"
