"""Stages of work are given to crews: runs and sticks, drafts in advance, what is released by the ledger."""

from datetime import date
from typing import Any

import pytest
from factories import House, make_former, make_project, make_room, make_run, person, release
from pieces import made, send, state_of, tick, tick_in
from survey import nothing_changes

from services.company import commands as company_commands
from services.company.models import Crew, Membership, Role
from services.core.commands import Actor
from services.core.errors import IllegalMove, Invalid, NotAllowed, NotFound, StaleVersion
from services.projects import commands as projects
from services.projects.models import Project, Run
from services.tracking import commands, queries
from services.tracking.models import Piece, Tick

pytestmark = pytest.mark.django_db


@pytest.fixture
def tower(scoped: House) -> Crew:
    """A second crew, of an electrician of its own."""
    member = company_commands.add_member(
        actor=scoped.administrator, person=person("Nesta"), role=Role.ELECTRICIAN
    )
    return company_commands.form_crew(actor=scoped.administrator, name="Tower", member_ids=[member.pk])


def fitter(house: House, crew: Crew) -> Actor:
    """The electrician of a crew."""
    member = Membership.objects.get(crews=crew)
    return Actor(member.person_id, house.company.pk, Role.ELECTRICIAN, house.electrician.device_id)


def give(house: House, crew: Crew, stage: str = "bench", **what: Any) -> int:
    """What a foreman gives; runs with the version they have now."""
    runs = {run.pk: Run.objects.get(pk=run.pk).version for run in what.get("runs", ())}
    pieces = [piece.pk for piece in what.get("pieces", ())]
    return commands.assign(actor=house.foreman, stage=stage, crew_id=crew.pk, runs=runs, piece_ids=pieces)


def listed(*crews: Crew) -> list[str]:
    """The labels on these crews' worklist."""
    return [piece.line.label for piece in queries.work_of_crew([crew.pk for crew in crews])]


def test_a_draft_is_given_in_advance_without_a_tick(scoped: House, tower: Crew) -> None:
    run = make_run(scoped)
    assert give(scoped, tower, "both", runs=[run]) == 0
    run.refresh_from_db()
    assert (run.crew, run.fitting_crew) == (tower, tower)
    assert not Tick.objects.exists()
    projects.change_run(actor=scoped.foreman, run_id=run.pk, seen=run.version, label="09")  # not released


def test_giving_released_sticks_writes_a_tick_for_each_that_changes_hands(scoped: House, tower: Crew) -> None:
    first, second, third = made(scoped, 1200.0, 900.0, 800.0)
    tick(scoped.electrician, third, "installed")
    assert give(scoped, tower, "bench", runs=[first.line.run]) == 2
    told = Tick.objects.filter(kind="assigned").order_by("number")
    assert [(each.piece_id, each.figures) for each in told] == [
        (piece.pk, {"crew": str(tower.pk), "stage": "bench"}) for piece in (first, second)
    ]
    assert give(scoped, tower, "bench", runs=[first.line.run]) == 0  # theirs already
    assert queries.compare_projections() == []


def test_the_ledger_rebuilds_who_has_what(scoped: House, tower: Crew) -> None:
    first, second = made(scoped, 1200.0, 900.0)
    give(scoped, tower, "fitting", runs=[first.line.run])
    give(scoped, tower, "bench", pieces=[second])
    before = sorted(Piece.objects.values_list("pk", "crew", "fitting_crew"))
    Piece.objects.update(crew=None, fitting_crew=None)
    assert queries.compare_projections() != []
    commands.rebuild(actor=scoped.administrator)
    assert sorted(Piece.objects.values_list("pk", "crew", "fitting_crew")) == before
    assert queries.compare_projections() == []


def test_a_crew_sees_what_stage_is_open_to_it(scoped: House, tower: Crew) -> None:
    first, _second = made(scoped, 1200.0, 900.0)
    give(scoped, tower, "fitting", runs=[first.line.run])
    assert listed(scoped.crew) == ["07/1", "07/2"]
    assert listed(tower) == []
    for kind in ("cut", "bent", "checked"):
        tick(scoped.electrician, first, kind, **({"verdict": "pass"} if kind == "checked" else {}))
    assert listed(scoped.crew) == ["07/2"]
    assert listed(tower) == ["07/1"]
    tick(fitter(scoped, tower), first, "installed")
    assert listed(tower) == []


def test_who_bends_a_run_fits_it_where_nobody_else_is_named(scoped: House, tower: Crew) -> None:
    piece = made(scoped)[0]
    tick(scoped.electrician, piece, "checked", verdict="pass")
    assert listed(scoped.crew) == ["07/1"]
    give(scoped, tower, "bench", runs=[piece.line.run])
    assert (listed(scoped.crew), listed(tower)) == ([], ["07/1"])


def test_a_single_stick_goes_to_another_crew_than_its_run(scoped: House, tower: Crew) -> None:
    _first, second = made(scoped, 1200.0, 900.0)
    assert give(scoped, tower, "bench", pieces=[second]) == 1
    assert (listed(scoped.crew), listed(tower)) == (["07/1"], ["07/2"])
    assert send(fitter(scoped, tower), tick_in(second, "cut"))[0].answer == "applied"


def test_the_next_attempt_goes_to_whom_the_stick_was_given(scoped: House, tower: Crew) -> None:
    _first, second = made(scoped, 1200.0, 900.0)
    give(scoped, tower, "bench", pieces=[second])
    tick(scoped.foreman, second, "scrapped", cause="over-bent")
    following = Piece.objects.get(line=second.line, attempt=2)
    assert following.crew == tower
    assert listed(tower) == ["07/2"]
    commands.take_back(actor=scoped.foreman, tick_id=Tick.objects.get(piece=second, kind="scrapped").tick_id)
    assert state_of(following) == "waiting"
    assert queries.compare_projections() == []


def test_being_given_away_does_not_keep_a_tick_from_being_taken_back(scoped: House, tower: Crew) -> None:
    piece = made(scoped)[0]
    tick(scoped.electrician, piece, "cut")
    give(scoped, tower, "fitting", pieces=[piece])
    cut = queries.tick_to_take_back(piece.pk, scoped.electrician)
    assert cut is not None
    assert cut.kind == "cut"
    commands.take_back(actor=scoped.electrician, tick_id=cut.tick_id)
    piece.refresh_from_db()
    assert (piece.state, piece.fitting_crew) == ("released", tower)
    assert queries.compare_projections() == []


def test_a_run_that_is_released_anew_is_all_its_new_crews(scoped: House, tower: Crew) -> None:
    run = make_run(scoped)
    release(scoped, run)
    give(scoped, tower, "bench", runs=[run])
    assert listed(tower)
    run.refresh_from_db()
    release(scoped, run)
    assert listed(tower) == []
    assert listed(scoped.crew)
    assert queries.compare_projections() == []


def test_what_cannot_be_given_is_refused_whole(scoped: House, tower: Crew) -> None:
    first, second = made(scoped, 1200.0, 900.0)
    tick(scoped.electrician, second, "installed")
    run = Run.objects.get(pk=first.line.run_id)
    seen = {run.pk: run.version}
    for error, asked in (
        (IllegalMove, {"piece_ids": [first.pk, second.pk]}),  # the second is fixed in place
        (StaleVersion, {"runs": {run.pk: run.version + 1}}),
        (NotFound, {"piece_ids": [first.pk, run.pk]}),
        (NotFound, {"runs": seen | {first.pk: 1}}),
        (NotFound, {"runs": seen, "crew_id": run.pk}),
        (Invalid, {}),
        (Invalid, {"runs": seen, "stage": "welding"}),
        (NotAllowed, {"runs": seen, "actor": scoped.electrician}),
    ):
        usual = {"actor": scoped.foreman, "stage": "bench", "crew_id": tower.pk, "runs": {}, "piece_ids": []}
        told = usual | asked
        with nothing_changes(), pytest.raises(error):
            commands.assign(**told)


def test_what_goes_first_and_the_day_order_the_worklist(scoped: House) -> None:
    pieces = {label: made(scoped, label=label)[0] for label in ("01", "02", "03", "04")}
    runs = {label: pieces[label].line.run for label in pieces}

    def seen(*labels: str) -> dict[Any, int]:
        return {runs[each].pk: Run.objects.get(pk=runs[each].pk).version for each in labels}

    assert listed(scoped.crew) == ["01/1", "02/1", "03/1", "04/1"]
    projects.set_due(actor=scoped.foreman, runs=seen("03"), due_on="2026-12-01")
    projects.set_due(actor=scoped.foreman, runs=seen("04"), due_on=date(2026, 11, 30))
    assert listed(scoped.crew) == ["04/1", "03/1", "01/1", "02/1"]
    projects.set_priority(actor=scoped.foreman, runs=seen("02"), priority=1)
    projects.set_priority(actor=scoped.foreman, runs=seen("04"), priority="3")
    assert listed(scoped.crew) == ["02/1", "03/1", "01/1", "04/1"]
    projects.set_due(actor=scoped.foreman, runs=seen("03"), due_on=None)
    assert Run.objects.get(label="03").due_on is None


@pytest.mark.parametrize("day", ["2026-02-30", "30 Nov", "1999-12-31", "2200-01-01", 5, True])
def test_a_day_that_is_none_is_refused(scoped: House, day: Any) -> None:
    run = make_run(scoped)
    with nothing_changes(), pytest.raises(Invalid, match="due_on"):
        projects.set_due(actor=scoped.foreman, runs={run.pk: run.version}, due_on=day)


@pytest.mark.parametrize("priority", [0, 4, "first", None, True, 1.0])
def test_a_priority_that_is_none_is_refused(scoped: House, priority: Any) -> None:
    run = make_run(scoped)
    with nothing_changes(), pytest.raises(Invalid, match="priority"):
        projects.set_priority(actor=scoped.foreman, runs={run.pk: run.version}, priority=priority)


def test_the_second_of_two_people_is_told_which_run_was_changed(scoped: House) -> None:
    room = make_room(scoped)
    former = make_former(scoped)
    one, two = (make_run(scoped, room, label=label, former=former) for label in ("01", "02"))
    seen = {one.pk: one.version, two.pk: two.version}
    projects.set_priority(actor=scoped.foreman, runs={two.pk: two.version}, priority=1)
    with nothing_changes(), pytest.raises(StaleVersion, match="02") as told:
        projects.set_due(actor=scoped.foreman, runs=seen, due_on="2026-12-01")
    assert told.value.figures["runs"] == ["02"]


# ----------------------------------------------------------------------------------- projects, rooms, drafts


def test_an_archived_project_stays_as_it_is_until_it_is_brought_back(scoped: House, tower: Crew) -> None:
    run = make_run(scoped)
    plan = release(scoped, run)
    draft = make_run(scoped, run.room, label="08", former=run.former)
    piece = queries.pieces_of_run(run.pk)[0]
    project = Project.objects.get(pk=run.room.project_id)
    archived = projects.archive_project(actor=scoped.foreman, project_id=project.pk, seen=project.version)
    run.refresh_from_db()
    acts: list[Any] = [
        lambda: projects.create_room(actor=scoped.foreman, project_id=project.pk, name="New"),
        lambda: projects.set_rows(actor=scoped.foreman, run_id=run.pk, seen=run.version, rows=[]),
        lambda: projects.delete_run(actor=scoped.foreman, run_id=draft.pk, seen=draft.version),
        lambda: release(scoped, draft),
        lambda: give(scoped, tower, runs=[run]),
        lambda: give(scoped, tower, pieces=[piece]),
        lambda: tick(scoped.electrician, piece, "cut"),
        lambda: projects.archive_project(actor=scoped.foreman, project_id=project.pk, seen=archived.version),
    ]
    for act in acts:
        with nothing_changes(), pytest.raises(IllegalMove, match="archived"):
            act()
    assert listed(scoped.crew) == []
    late = send(scoped.electrician, tick_in(piece, "cut", plan_id=plan.pk))
    assert late[0].answer == "applied"  # a tablet's tick is never lost
    projects.bring_project_back(actor=scoped.foreman, project_id=project.pk, seen=archived.version)
    assert listed(scoped.crew)


def test_only_what_was_never_released_is_deleted(scoped: House) -> None:
    run = make_run(scoped)
    release(scoped, run)
    run.refresh_from_db()
    with nothing_changes(), pytest.raises(IllegalMove, match="kept"):
        projects.delete_run(actor=scoped.foreman, run_id=run.pk, seen=run.version)
    draft = make_run(scoped, run.room, label="08", former=run.former)
    beside = make_run(scoped, run.room, label="09", former=run.former)
    Run.objects.filter(pk=beside.pk).update(beside=draft)
    with nothing_changes(), pytest.raises(IllegalMove, match="09 hangs on it"):
        projects.delete_run(actor=scoped.foreman, run_id=draft.pk, seen=draft.version)
    projects.delete_run(actor=scoped.foreman, run_id=beside.pk, seen=beside.version)
    projects.delete_run(actor=scoped.foreman, run_id=draft.pk, seen=draft.version)
    assert list(Run.objects.values_list("label", flat=True)) == ["07"]


def test_rooms_are_renamed_ordered_and_deleted_when_empty(scoped: House) -> None:
    project = make_project(scoped)
    one, two = (make_room(scoped, project, name=name) for name in ("One", "Two"))
    projects.rename_room(actor=scoped.foreman, room_id=one.pk, seen=1, name="Hall")
    with nothing_changes(), pytest.raises(Invalid, match="already"):
        projects.rename_room(actor=scoped.foreman, room_id=two.pk, seen=1, name="Hall")
    projects.order_rooms(
        actor=scoped.foreman, project_id=project.pk, seen=project.version, room_ids=[two.pk, one.pk]
    )
    assert [room.name for room in project.rooms.order_by("place")] == ["Two", "Hall"]
    with nothing_changes(), pytest.raises(Invalid, match="each once"):
        projects.order_rooms(actor=scoped.foreman, project_id=project.pk, seen=2, room_ids=[two.pk, two.pk])
    make_run(scoped, two)
    with nothing_changes(), pytest.raises(IllegalMove, match="has runs"):
        projects.delete_room(actor=scoped.foreman, room_id=two.pk, seen=1)
    projects.delete_room(actor=scoped.foreman, room_id=one.pk, seen=2)
    assert [room.name for room in project.rooms.all()] == ["Two"]
