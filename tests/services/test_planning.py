"""Drafts and releases: a release is whole or it is not, and what was released never changes."""

import json
import uuid
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from django.db import OperationalError, connection
from django.test.utils import CaptureQueriesContext
from factories import House
from pytest_django import DjangoAssertNumQueries
from survey import OVERLAP, RIGHT_ANGLE, TWO_STICKS, a_former, a_run, everything, nothing_changes

from services.bench import commands as bench
from services.company.models import Role
from services.core import faults
from services.core.commands import Actor
from services.core.errors import (
    CannotPlan,
    IllegalMove,
    NotAllowed,
    NotFound,
    RunHasStops,
    StaleVersion,
)
from services.core.models import Act, OutboxEntry
from services.planning import commands, queries
from services.planning.models import Plan, Stick, StickLine
from services.planning.signals import release_judged, run_released
from services.projects import commands as projects
from services.projects import queries as project_queries
from services.projects.models import Run
from services.tracking.commands import tick_from_office
from services.tracking.queries import pieces_of_run


def release(house: House, run: Run, *, seen: int | None = None) -> Plan:
    """Releases to the house's crew."""
    return commands.release_run(
        actor=house.foreman, run_id=run.pk, seen=run.version if seen is None else seen, crew_id=house.crew.pk
    )


@pytest.fixture
def listen() -> Iterator[Callable[[Any, Any], None]]:
    """Connects a receiver to a signal for one test."""
    connected: list[tuple[Any, Any]] = []

    def connect(signal: Any, receiver: Any) -> None:
        signal.connect(receiver, weak=False)
        connected.append((signal, receiver))

    yield connect
    for signal, receiver in connected:
        signal.disconnect(receiver)


# ------------------------------------------------------------------------------------------------ drafts


def test_a_draft_writes_nothing_and_plans_the_run_as_it_stands(scoped: House) -> None:
    run = a_run(scoped, TWO_STICKS)
    with nothing_changes():
        draft = queries.draft_of(project_queries.run(run.pk), scoped.company)
    assert draft.plan is not None
    assert [stick.cut_length for stick in draft.plan.sticks] == pytest.approx([3750.0, 1418.668], abs=0.001)


@pytest.mark.parametrize("count", [2, 200])
def test_a_draft_takes_no_query_at_2_rows_as_at_200(
    scoped: House, django_assert_num_queries: DjangoAssertNumQueries, count: int
) -> None:
    stairs: list[dict[str, Any]] = [
        {
            "length_mm": 1000.0,
            "from": "corner",
            "to": "corner",
            "then": "bend",
            "angle_deg": 90.0,
            "toward": "right" if index % 2 == 0 else "up",
        }
        for index in range(count - 1)
    ]
    run = a_run(scoped, [*stairs, {"length_mm": 1000.0, "from": "corner", "then": "end"}])
    run = project_queries.run(run.pk)
    with django_assert_num_queries(0):
        draft = queries.draft_of(run, scoped.company)
    assert draft.plan is not None
    assert sum(len(stick.bends) for stick in draft.plan.sticks) == count - 1


# ------------------------------------------------------------------------------------------------ releases


def test_a_release_keeps_the_plan_its_sticks_and_what_is_painted_on_them(
    scoped: House, listen: Callable[[Any, Any], None]
) -> None:
    heard: list[dict[str, Any]] = []
    listen(run_released, lambda **told: heard.append(told))
    run = a_run(scoped, TWO_STICKS)
    plan = release(scoped, run)
    kept = queries.current_plan(run.pk)
    assert kept is not None
    assert (kept.pk, kept.revision, kept.is_current) == (plan.pk, 1, True)
    assert kept.spec["route"]["steps"][0] == {"leg": 1200.0, "to": "corner", "from": "face"}
    sticks = queries.sticks_of(plan.pk)
    assert [(stick.number, stick.line.label) for stick in sticks] == [(1, "07/1"), (2, "07/2")]
    assert [stick.cut_length_mm for stick in sticks] == pytest.approx([3750.0, 1418.668], abs=0.001)
    assert [stick.data for stick in sticks] == kept.result["sticks"]
    after = project_queries.run(run.pk)
    assert (after.crew_id, after.version) == (scoped.crew.pk, 3)
    (told,) = heard
    assert told["run"].pk == run.pk
    assert told["plan"] == plan
    assert [stick.pk for stick in told["sticks"]] == [stick.pk for stick in sticks]
    assert told["actor"] == scoped.foreman
    assert Act.objects.get(act="run released").figures["sticks"] == ["07/1", "07/2"]
    entry = OutboxEntry.objects.get(task="papers.draw_cards")
    assert (entry.company_id, entry.payload) == (scoped.company.pk, {"plan_id": str(plan.pk)})


def test_a_second_release_is_a_new_revision_beside_the_old_one_on_the_same_lines(scoped: House) -> None:
    run = a_run(scoped, TWO_STICKS)
    first = release(scoped, run)
    before = Plan.objects.filter(pk=first.pk).values("spec", "result", "revision", "engine_version").get()
    old_sticks = list(Stick.objects.filter(plan=first).order_by("number").values())
    longer = [TWO_STICKS[0], TWO_STICKS[1] | {"length_mm": 8000.0}]
    run = projects.set_rows(actor=scoped.foreman, run_id=run.pk, seen=3, rows=longer)
    assert queries.current_plan(run.pk) == first  # a draft beside it
    second = release(scoped, run)
    assert (second.revision, queries.current_plan(run.pk)) == (2, second)
    assert [plan.revision for plan in queries.plans_of(run.pk)] == [2, 1]
    assert (
        Plan.objects.filter(pk=first.pk).values("spec", "result", "revision", "engine_version").get()
        == before
    )
    assert list(Stick.objects.filter(plan=first).order_by("number").values()) == old_sticks
    assert [stick.line.label for stick in queries.sticks_of(second.pk)] == ["07/1", "07/2", "07/3"]
    assert [stick.line_id for stick in queries.sticks_of(second.pk)][:2] == [
        stick["line_id"] for stick in old_sticks
    ]
    assert StickLine.objects.filter(run=run).count() == 3


def test_a_released_plan_keeps_its_former_and_settings_when_they_change(scoped: House) -> None:
    run = a_run(scoped, RIGHT_ANGLE)
    plan = release(scoped, run)
    bench.change_former(actor=scoped.foreman, former_id=run.former_id, seen=1, centreline_radius_mm=90.0)
    kept = queries.plan(plan.pk)
    drawn = queries.engine_plan(kept)
    assert drawn.former.centreline_radius == 73.0
    assert drawn.sticks[0].cut_length == queries.sticks_of(plan.pk)[0].cut_length_mm


def test_the_label_of_a_released_run_stays_for_it_is_painted_on_its_pieces(scoped: House) -> None:
    run = a_run(scoped, RIGHT_ANGLE)
    release(scoped, run)
    with nothing_changes(), pytest.raises(IllegalMove, match="painted"):
        projects.change_run(actor=scoped.foreman, run_id=run.pk, seen=3, label="08")
    projects.change_run(actor=scoped.foreman, run_id=run.pk, seen=3, label="07", to_place="light L4")
    assert project_queries.run(run.pk).to_place == "light L4"


# ------------------------------------------------------------------------------------------------ refusals


@pytest.mark.parametrize("role", [role for role in Role.values if role != Role.FOREMAN])
def test_only_a_foreman_releases(scoped: House, role: str) -> None:
    run = a_run(scoped, RIGHT_ANGLE)
    with nothing_changes(), pytest.raises(NotAllowed):
        commands.release_run(
            actor=scoped.actors[role], run_id=run.pk, seen=run.version, crew_id=scoped.crew.pk
        )


def test_a_run_with_a_gap_is_not_released_and_the_gap_is_named(scoped: House) -> None:
    run = a_run(scoped, [RIGHT_ANGLE[0] | {"toward": None}, RIGHT_ANGLE[1] | {"length_mm": None}])
    with nothing_changes(), pytest.raises(CannotPlan) as refused:
        release(scoped, run)
    assert [(each.where, each.code) for each in refused.value.problems] == [
        ("rows[0].toward", "to-measure"),
        ("rows[1].length_mm", "to-measure"),
    ]


@pytest.mark.parametrize(
    ("rows", "places"),
    [
        ([], [("run", "no-rows")]),
        (
            [
                RIGHT_ANGLE[0] | {"then": "bend"},
                {"length_mm": 90.0, "then": "bend", "angle_deg": 9.0, "toward": "up"},
            ],
            [("rows[1]", "no-end")],
        ),
        (OVERLAP, [("rows[1]", "overlap")]),
    ],
)
def test_a_run_that_the_engine_cannot_plan_is_not_released_and_the_row_is_named(
    scoped: House, rows: list[dict[str, Any]], places: list[tuple[str, str]]
) -> None:
    run = a_run(scoped, rows)
    with nothing_changes(), pytest.raises(CannotPlan) as refused:
        release(scoped, run)
    assert [(each.where, each.code) for each in refused.value.problems] == places


def test_a_run_with_a_stop_is_not_released_and_the_row_is_named(scoped: House) -> None:
    former = a_former(scoped, line="own", reach_mm=-1000.0)
    run = a_run(scoped, [TWO_STICKS[0] | {"length_mm": 900.0}, TWO_STICKS[1]], former=former)
    with nothing_changes(), pytest.raises(RunHasStops) as refused:
        release(scoped, run)
    assert [(each.where, each.code) for each in refused.value.problems] == [("rows[0]", "mark-off")]


def test_of_two_who_release_what_they_both_saw_one_is_told(scoped: House) -> None:
    run = a_run(scoped, RIGHT_ANGLE)
    release(scoped, run, seen=2)
    with nothing_changes(), pytest.raises(StaleVersion) as refused:
        release(scoped, run, seen=2)
    assert refused.value.figures == {"seen": 2, "now": 3}


def test_a_run_changed_since_it_was_looked_at_is_not_released(scoped: House) -> None:
    run = a_run(scoped, RIGHT_ANGLE)
    projects.set_rows(actor=scoped.foreman, run_id=run.pk, seen=2, rows=TWO_STICKS)
    with nothing_changes(), pytest.raises(StaleVersion):
        release(scoped, run, seen=2)


def test_a_run_is_not_released_again_once_a_piece_of_it_is_cut(scoped: House) -> None:
    run = a_run(scoped, TWO_STICKS)
    release(scoped, run)
    release(scoped, run, seen=3)  # nothing is cut yet
    second = pieces_of_run(run.pk)[1]
    tick_from_office(actor=scoped.foreman, piece_id=second.pk, kind="cut")
    with nothing_changes(), pytest.raises(IllegalMove, match="07/2"):
        release(scoped, run, seen=4)


def test_a_reason_against_the_release_is_told_and_nothing_changes(
    scoped: House, listen: Callable[[Any, Any], None]
) -> None:
    run = a_run(scoped, RIGHT_ANGLE)
    listen(release_judged, lambda run, **_: f"Run {run.label} waits for its survey.")
    listen(release_judged, lambda run, **_: None)
    with nothing_changes(), pytest.raises(IllegalMove) as refused:
        release(scoped, run)
    assert refused.value.text == "Run 07 waits for its survey."


def test_another_companys_run_crew_and_plan_are_as_if_absent(house: House, other_house: House) -> None:
    with other_house.scope():
        theirs = a_run(other_house, RIGHT_ANGLE)
        their_plan = release(other_house, theirs)
    with house.scope():
        ours = a_run(house, RIGHT_ANGLE)
        absent = uuid.uuid4()
        told = []
        for run_id, crew_id, plan_id in (
            (theirs.pk, other_house.crew.pk, their_plan.pk),
            (absent, absent, absent),
        ):
            acts: list[Callable[[], object]] = [
                lambda run_id=run_id: commands.release_run(
                    actor=house.foreman, run_id=run_id, seen=3, crew_id=house.crew.pk
                ),
                lambda crew_id=crew_id: commands.release_run(
                    actor=house.foreman, run_id=ours.pk, seen=2, crew_id=crew_id
                ),
                lambda plan_id=plan_id: queries.plan(plan_id),
            ]
            for act in acts:
                with nothing_changes(), pytest.raises(NotFound) as refused:
                    act()
                told.append(refused.value.text)
            assert queries.current_plan(run_id) is None
            assert queries.plans_of(run_id) == []
            assert queries.sticks_of(plan_id) == []
        assert told[:3] == told[3:]


# ------------------------------------------------------------------------------------------------ faults


class Struck(Exception):
    """What strikes here."""


def strike() -> None:
    """Stands for a process that dies."""
    raise Struck


@pytest.mark.parametrize("released_before", [False, True])
def test_a_fault_before_the_commit_leaves_nothing_half_released(scoped: House, released_before: bool) -> None:
    run = a_run(scoped, TWO_STICKS)
    if released_before:
        release(scoped, run)
        run = project_queries.run(run.pk)
    faults.arm("before-commit", strike)
    with nothing_changes(), pytest.raises(Struck):
        release(scoped, run)
    faults.disarm()
    assert release(scoped, run).revision == (2 if released_before else 1)


def test_a_follower_that_fails_takes_the_release_back(
    scoped: House, listen: Callable[[Any, Any], None]
) -> None:
    run = a_run(scoped, RIGHT_ANGLE)
    listen(run_released, lambda **_: strike())
    with nothing_changes(), pytest.raises(Struck):
        release(scoped, run)


def test_whichever_statement_of_a_release_fails_nothing_of_it_stays(scoped: House) -> None:
    """The n-th statement fails, n = 1, 2, ... until the release passes."""
    run = a_run(scoped, TWO_STICKS)
    before = everything()
    failed = 0
    while True:
        left = failed

        def fail_then(execute: Any, sql: str, *arguments: Any) -> Any:
            nonlocal left
            if sql.split(maxsplit=1)[0] in ("SELECT", "INSERT", "UPDATE", "DELETE"):
                left -= 1
                if left == -1:
                    raise OperationalError("struck")
            return execute(sql, *arguments)

        try:
            with connection.execute_wrapper(fail_then):
                plan = release(scoped, run)
            break
        except OperationalError:
            assert everything() == before
            failed += 1
    assert failed >= 10  # run, crew, company, plan, lines, sticks, act, outbox and more
    assert plan.revision == 1


# ------------------------------------------------------------------------------------------------ queries


def test_a_drawing_is_refused_where_the_engine_gives_other_figures_than_were_released(scoped: House) -> None:
    plan = release(scoped, a_run(scoped, RIGHT_ANGLE))
    kept = queries.plan(plan.pk)
    assert queries.engine_plan(kept).to_dict()["sticks"] == kept.result["sticks"]
    kept.result = json.loads(json.dumps(kept.result))
    kept.result["sticks"][0]["bends"][0]["set"]["mark"] += 0.5
    with pytest.raises(IllegalMove, match="another version of the engine"):
        queries.engine_plan(kept)


@pytest.mark.parametrize("count", [2, 200])
def test_plans_and_sticks_take_as_many_queries_at_2_rows_as_at_200(
    scoped: House, django_assert_num_queries: DjangoAssertNumQueries, count: int
) -> None:
    run = a_run(scoped, [{"length_mm": 3750.0 * count, "from": "face", "to": "face", "then": "end"}])
    plan = release(scoped, run)
    with django_assert_num_queries(1):
        sticks = queries.sticks_of(plan.pk)
        assert [stick.line.label for stick in sticks] == [f"07/{number}" for number in range(1, count + 1)]
    with django_assert_num_queries(1):
        assert queries.current_plan(run.pk) == plan
    with django_assert_num_queries(1):
        kept = queries.plan(plan.pk)
        assert (kept.run.room.project.name, kept.run.former.bender_id, kept.run.crew.name) == (
            "Fenwater Creamery",
            run.former.bender_id,
            scoped.crew.name,
        )
        queries.engine_plan(kept)
    Plan.objects.bulk_create(
        Plan(run=run, revision=revision, spec={}, result={}, engine_version="x", is_current=False)
        for revision in range(2, count + 1)
    )
    with django_assert_num_queries(1):
        assert len(queries.plans_of(run.pk)) == count


def test_a_release_takes_as_many_statements_for_40_sticks_as_for_2(
    scoped: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(release_judged, "send", lambda **_: [])
    monkeypatch.setattr(run_released, "send", lambda **_: [])  # what followers ask is theirs to pin
    taken = []
    for label, count in (("02", 2), ("40", 40)):
        run = a_run(scoped, [{"length_mm": 3750.0 * count, "to": "face", "then": "end"}], label=label)
        with CaptureQueriesContext(connection) as captured:
            assert len(queries.sticks_of(release(scoped, run).pk)) == count
        taken.append(len(captured))
    assert taken[0] == taken[1]


def test_an_actor_of_another_company_cannot_release_here(house: House, other_house: House) -> None:
    """The company's settings are the actor's own; outside its scope there is nothing to release."""
    with house.scope():
        run = a_run(house, RIGHT_ANGLE)
    stranger = Actor(other_house.foreman.person_id, other_house.company.pk, Role.FOREMAN)
    with other_house.scope(), nothing_changes(), pytest.raises(NotFound):
        commands.release_run(actor=stranger, run_id=run.pk, seen=2, crew_id=house.crew.pk)
