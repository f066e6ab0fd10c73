"""Projects, rooms and runs as kept: who may, what may, and that a refusal leaves nothing."""

import uuid
from typing import Any

import pytest
from factories import House
from pytest_django import DjangoAssertNumQueries
from survey import OVERLAP, RIGHT_ANGLE, a_former, a_run, nothing_changes

from services.company.models import Role
from services.core import faults
from services.core.errors import Invalid, NotAllowed, NotFound, StaleVersion
from services.core.models import Act
from services.projects import commands, queries
from services.projects.models import Project, Room, Run


def wrong(refused: pytest.ExceptionInfo[Invalid]) -> list[str]:
    """Places of the problems."""
    return [each.where for each in refused.value.problems]


def test_a_job_is_set_up_from_project_to_run(scoped: House) -> None:
    project = commands.create_project(
        actor=scoped.foreman, code=" FC-1 ", name="Fenwater Creamery", client="Fenwater", site="Mill Lane"
    )
    churn = commands.create_room(actor=scoped.foreman, project_id=project.pk, name="Churn hall")
    cold = commands.create_room(actor=scoped.foreman, project_id=project.pk, name="Cold store")
    former = a_former(scoped)
    run = commands.create_run(
        actor=scoped.foreman,
        room_id=cold.pk,
        label="07",
        former_id=former.pk,
        from_place="board DB2",
        to_place="light L4",
        heading="down",
    )
    assert [each.code for each in queries.projects()] == ["FC-1"]
    assert [(each.name, each.place) for each in queries.rooms_of(project.pk)] == [
        ("Churn hall", 0),
        ("Cold store", 1),
    ]
    kept = queries.run(run.pk)
    assert (kept.label, kept.room.project.name, kept.former.bender_id) == (
        "07",
        "Fenwater Creamery",
        former.bender_id,
    )
    assert (kept.from_place, kept.to_place, kept.heading, kept.rows, kept.version) == (
        "board DB2",
        "light L4",
        "down",
        [],
        1,
    )
    assert churn.version == 1
    acts = Act.objects.order_by("at").values_list("act", flat=True)
    assert list(acts)[-6:] == [
        "project created",
        "room created",
        "room created",
        "bender added",
        "former added",
        "run created",
    ]


@pytest.mark.parametrize("role", Role.values)
def test_surveys_are_the_foremans(scoped: House, role: str) -> None:
    run = a_run(scoped, RIGHT_ANGLE)
    actor = scoped.actors[role]
    acts: list[Any] = [
        lambda: commands.create_project(actor=actor, code="FC-2", name="Boiler house"),
        lambda: commands.create_room(actor=actor, project_id=run.room.project_id, name="Loft"),
        lambda: commands.create_run(actor=actor, room_id=run.room_id, label="08", former_id=run.former_id),
        lambda: commands.change_run(actor=actor, run_id=run.pk, seen=2, to_place="light L9"),
        lambda: commands.set_rows(actor=actor, run_id=run.pk, seen=3, rows=OVERLAP),
    ]
    for act in acts:
        if role == Role.FOREMAN:
            act()
        else:
            with nothing_changes(), pytest.raises(NotAllowed):
                act()


@pytest.mark.parametrize(
    ("told", "places"),
    [
        ({"code": "", "name": ""}, ["code", "name"]),
        ({"code": "x" * 31}, ["code"]),
        ({"name": "x" * 121}, ["name"]),
        ({"client": "x" * 121, "site": "x" * 201}, ["client", "site"]),
        ({"name": "nul\0"}, ["name"]),
        ({"name": "\ud800"}, ["name"]),
        ({"code": 7, "client": None}, ["code", "client"]),
    ],
)
def test_a_project_with_unfit_words_is_refused_all_at_once(
    scoped: House, told: dict[str, Any], places: list[str]
) -> None:
    with nothing_changes(), pytest.raises(Invalid) as refused:
        commands.create_project(actor=scoped.foreman, **{"code": "FC-1", "name": "Fenwater Creamery", **told})
    assert wrong(refused) == places


def test_code_room_and_label_are_taken_once(scoped: House) -> None:
    run = a_run(scoped)
    with nothing_changes(), pytest.raises(Invalid) as refused:
        commands.create_project(actor=scoped.foreman, code=run.room.project.code, name="Another")
    assert wrong(refused) == ["code"]
    with nothing_changes(), pytest.raises(Invalid) as refused:
        commands.create_room(actor=scoped.foreman, project_id=run.room.project_id, name=run.room.name)
    assert wrong(refused) == ["name"]
    with nothing_changes(), pytest.raises(Invalid) as refused:
        commands.create_run(actor=scoped.foreman, room_id=run.room_id, label="07", former_id=run.former_id)
    assert wrong(refused) == ["label"]
    other = commands.create_run(
        actor=scoped.foreman, room_id=run.room_id, label="08", former_id=run.former_id
    )
    with nothing_changes(), pytest.raises(Invalid) as refused:
        commands.change_run(actor=scoped.foreman, run_id=other.pk, seen=1, label="07")
    assert wrong(refused) == ["label"]


def test_a_run_keeps_what_a_change_does_not_name(scoped: House) -> None:
    run = a_run(scoped, RIGHT_ANGLE)
    changed = commands.change_run(
        actor=scoped.foreman,
        run_id=run.pk,
        seen=2,
        start_kind="spout",
        start_allowance_mm=-12.5,
        standoff_mm=6.0,
    )
    kept = queries.run(run.pk)
    assert (kept.start_kind, kept.start_allowance_mm, kept.standoff_mm) == ("spout", -12.5, 6.0)
    assert (kept.label, kept.heading, kept.finish_kind, kept.finish_allowance_mm) == (
        "07",
        "up",
        "open",
        None,
    )
    assert kept.rows == run.rows
    assert (kept.version, changed.version) == (3, 3)
    assert Act.objects.get(act="run changed").figures == {
        "before": {"start_kind": "open", "start_allowance_mm": None, "standoff_mm": 0.0},
        "after": {"start_kind": "spout", "start_allowance_mm": -12.5, "standoff_mm": 6.0},
    }


@pytest.mark.parametrize(
    ("fields", "places"),
    [
        ({"label": ""}, ["label"]),
        ({"label": "07/1"}, ["label"]),
        ({"label": "x" * 21, "heading": "north"}, ["label", "heading"]),
        ({"start_kind": "welded", "finish_kind": 3}, ["start_kind", "finish_kind"]),
        (
            {"start_allowance_mm": "6", "finish_allowance_mm": 1001.0},
            ["start_allowance_mm", "finish_allowance_mm"],
        ),
        ({"standoff_mm": float("nan")}, ["standoff_mm"]),
        ({"standoff_mm": None}, ["standoff_mm"]),
    ],
)
def test_a_change_that_is_not_allowed_is_refused_all_at_once(
    scoped: House, fields: dict[str, Any], places: list[str]
) -> None:
    run = a_run(scoped)
    with nothing_changes(), pytest.raises(Invalid) as refused:
        commands.change_run(actor=scoped.foreman, run_id=run.pk, seen=1, **fields)
    assert wrong(refused) == places


def test_the_second_of_two_who_change_a_run_is_told_and_changes_nothing(scoped: House) -> None:
    run = a_run(scoped, RIGHT_ANGLE)
    commands.set_rows(actor=scoped.foreman, run_id=run.pk, seen=2, rows=OVERLAP)
    for act in (
        lambda: commands.set_rows(actor=scoped.foreman, run_id=run.pk, seen=2, rows=RIGHT_ANGLE),
        lambda: commands.change_run(actor=scoped.foreman, run_id=run.pk, seen=2, label="09"),
    ):
        with nothing_changes(), pytest.raises(StaleVersion) as refused:
            act()
        assert refused.value.figures == {"seen": 2, "now": 3}


def test_rows_are_set_whole_or_not_at_all(scoped: House) -> None:
    run = a_run(scoped, RIGHT_ANGLE)
    bad = [
        {"length_mm": -1.0, "then": "bend", "angle_deg": 200.0, "toward": "north"},
        {"length_mm": 600.0, "then": "offset", "rise_mm": 0.0},
        {"length_mm": None, "then": "end", "angle_deg": 90.0},
    ]
    with nothing_changes(), pytest.raises(Invalid) as refused:
        commands.set_rows(actor=scoped.foreman, run_id=run.pk, seen=2, rows=bad)
    assert wrong(refused) == [
        "rows[0].length_mm",
        "rows[0].angle_deg",
        "rows[0].toward",
        "rows[1].rise_mm",
        "rows[2].angle_deg",
    ]


def test_rows_that_cannot_be_bent_are_kept_all_the_same(scoped: House) -> None:
    run = a_run(scoped, OVERLAP)
    assert [row["length_mm"] for row in queries.run(run.pk).rows] == [1000.0, 100.0, 500.0]


def test_a_fault_before_the_commit_leaves_the_rows_as_they_were(scoped: House) -> None:
    run = a_run(scoped, RIGHT_ANGLE)

    def strike() -> None:
        raise RuntimeError("struck")

    faults.arm("before-commit", strike)
    with nothing_changes(), pytest.raises(RuntimeError, match="struck"):
        commands.set_rows(actor=scoped.foreman, run_id=run.pk, seen=2, rows=OVERLAP)


def test_another_companys_projects_are_as_if_absent(house: House, other_house: House) -> None:
    with other_house.scope():
        theirs = a_run(other_house, RIGHT_ANGLE)
    with house.scope():
        ours = a_run(house, RIGHT_ANGLE)
        assert [each.pk for each in queries.projects()] == [ours.room.project_id]
        assert queries.rooms_of(theirs.room.project_id) == []
        assert queries.runs_of_project(theirs.room.project_id) == []
        absent = uuid.uuid4()
        told = []
        for project_id, room_id, run_id, former_id in (
            (theirs.room.project_id, theirs.room_id, theirs.pk, theirs.former_id),
            (absent, absent, absent, absent),
        ):
            acts: list[Any] = [
                lambda project_id=project_id: queries.project(project_id),
                lambda room_id=room_id: queries.room(room_id),
                lambda run_id=run_id: queries.run(run_id),
                lambda project_id=project_id: commands.create_room(
                    actor=house.foreman, project_id=project_id, name="Loft"
                ),
                lambda room_id=room_id: commands.create_run(
                    actor=house.foreman, room_id=room_id, label="08", former_id=ours.former_id
                ),
                lambda former_id=former_id: commands.create_run(
                    actor=house.foreman, room_id=ours.room_id, label="08", former_id=former_id
                ),
                lambda former_id=former_id: commands.change_run(
                    actor=house.foreman, run_id=ours.pk, seen=2, former_id=former_id
                ),
                lambda run_id=run_id: commands.change_run(
                    actor=house.foreman, run_id=run_id, seen=2, label="09"
                ),
                lambda run_id=run_id: commands.set_rows(
                    actor=house.foreman, run_id=run_id, seen=2, rows=OVERLAP
                ),
            ]
            for act in acts:
                with nothing_changes(), pytest.raises(NotFound) as refused:
                    act()
                told.append(refused.value.text)
        assert told[:9] == told[9:]


@pytest.mark.parametrize("count", [2, 200])
def test_lists_and_details_take_as_many_queries_at_2_rows_as_at_200(
    scoped: House, django_assert_num_queries: DjangoAssertNumQueries, count: int
) -> None:
    first = a_run(scoped, RIGHT_ANGLE)
    project = first.room.project
    Project.objects.bulk_create(Project(code=f"P{number}", name="Job") for number in range(count - 1))
    rooms = Room.objects.bulk_create(
        Room(project=project, name=f"Room {number:03}", place=number + 1) for number in range(count - 1)
    )
    Run.objects.bulk_create(Run(room=room, former=first.former, label="01") for room in rooms)
    with django_assert_num_queries(1):
        assert len(queries.projects()) == count
    with django_assert_num_queries(1):
        assert len(queries.rooms_of(project.pk)) == count
    with django_assert_num_queries(1):
        runs = queries.runs_of_project(project.pk)
        told = {(run.room.project.name, run.former.bender.name, run.crew) for run in runs}
        assert (len(runs), len(told)) == (count, 1)
    with django_assert_num_queries(1):
        run = queries.run(first.pk)
        assert (run.room.project_id, run.former.bender_id, run.crew) == (
            project.pk,
            first.former.bender_id,
            None,
        )
    with django_assert_num_queries(1):
        assert queries.room(first.room_id).project.code == project.code
    with django_assert_num_queries(1):
        assert queries.project(project.pk) == project
