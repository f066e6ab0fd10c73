"""Runs as whole things: fittings in the rows, banks, runs split at a box, some sticks released, a rule's stop
let pass, two plans side by side."""

from typing import Any

import pytest
from factories import THREE_BENDS, House, leg, make_former, make_room, make_run

from services.company.models import Company
from services.core.errors import IllegalMove, Invalid, NotAllowed, RunHasStops, StaleVersion
from services.planning import commands as planning
from services.planning import queries, rules
from services.planning.models import Override
from services.projects import commands as projects
from services.projects import queries as project_queries
from services.projects.models import Run
from services.tracking.models import State
from services.tracking.queries import pieces_of_run

BOX = {"then": "fitting", "fitting": "draw_in_box", "leg_in_mm": 46.0, "leg_out_mm": 46.0}
THROUGH_A_BOX = [
    leg(1210, then="bend", angle_deg=90, toward="right", to="back"),
    leg(1900, **{"from": "back", "to": "corner", **BOX}),
    leg(1500, **{"from": "corner", "to": "back", "then": "bend", "angle_deg": 90, "toward": "in"}),
    leg(700, **{"from": "back", "to": "face", "then": "end"}),
]
FIVE_BENDS = [
    leg(900, then="bend", angle_deg=90, toward="right"),
    *[leg(900, then="bend", angle_deg=90, toward=toward) for toward in ("in", "up", "left", "out")],
    leg(600, then="end"),
]


def fresh(run: Run) -> Run:
    return project_queries.run(run.pk)


def settings(house: House, **told: Any) -> Company:
    Company.objects.filter(pk=house.company.pk).update(**told)
    return Company.objects.get(pk=house.company.pk)


def release(house: House, run: Run, **more: Any) -> Any:
    return planning.release_run(
        actor=house.foreman, run_id=run.pk, seen=fresh(run).version, crew_id=house.crew.pk, **more
    )


# ------------------------------------------------------------------------------------------------ fittings


def test_a_run_goes_through_a_box_and_its_sticks_end_there(scoped: House) -> None:
    draft = queries.draft_of(fresh(make_run(scoped, rows=THROUGH_A_BOX)), scoped.company)
    assert draft.plan is not None
    first, second = draft.plan.sticks
    # 1210 - 10 - 73, the arc, 1900 + 10 - 73 - 46 past it; then 1500 - 10 - 73 - 46, the arc, 700 - 10 + ...
    assert first.cut_length == pytest.approx(1127.0 + 114.66813 + 1771.0, abs=1e-3)
    assert first.finish.kind == "draw_in_box"
    assert second.cut_length == pytest.approx(1371.0 + 114.66813 + 617.0, abs=1e-3)


def test_a_row_to_a_fitting_is_measured_to_its_corner_unless_told(scoped: House) -> None:
    run = make_run(scoped, rows=[leg(900, **BOX), leg(900, then="end")])
    assert [(row["from"], row["to"]) for row in run.rows] == [("face", "corner"), ("corner", "face")]


@pytest.mark.parametrize(
    ("figures", "missing"),
    [
        ({}, []),
        ({"toward": "in"}, ["angle_deg"]),
        ({"angle_deg": 90}, ["toward"]),
        ({"fitting": "bought_bend"}, ["angle_deg", "toward", "radius_mm"]),
    ],
)
def test_what_a_fitting_still_wants_is_to_measure(
    scoped: House, figures: dict[str, Any], missing: list[str]
) -> None:
    run = make_run(scoped, rows=[leg(900, **{**BOX, **figures}), leg(900, then="end")])
    draft = queries.draft_of(fresh(run), scoped.company)
    assert [name for _row, name in draft.to_measure] == missing


def test_a_fittings_figures_stay_with_it(scoped: House) -> None:
    with pytest.raises(Invalid) as told:
        make_run(
            scoped, rows=[leg(900, then="bend", angle_deg=90, toward="in", leg_in_mm=4), leg(9, then="end")]
        )
    assert [problem.where for problem in told.value.problems] == ["rows[0].leg_in_mm"]


# ------------------------------------------------------------------------------------------------ banks


def lay(house: House, run: Run, *labels: str, **more: Any) -> list[Run]:
    told = {"spacing_mm": 60.0, "toward": "right", **more}
    return projects.lay_bank(
        actor=house.foreman, run_id=run.pk, seen=fresh(run).version, labels=labels, **told
    )


def test_a_bank_shifts_every_run_and_each_is_released_for_itself(scoped: House) -> None:
    run = make_run(scoped)
    _, third = lay(scoped, run, "08", "09")
    drafts = [queries.draft_of(fresh(each), scoped.company).plan for each in (run, third)]
    assert drafts[0] is not None
    assert drafts[1] is not None
    # The first corner closes toward the others: each lies a spacing nearer the start than the one before.
    before, after = (each.sticks[0].bends[0].marks.begin for each in drafts)
    assert before - after == pytest.approx(120.0)
    plan = release(scoped, third)
    assert plan.spec["parallel"]["count"] == 3
    assert queries.engine_plan(queries.plan(plan.pk)).sticks[0].bends[0].marks.begin == pytest.approx(after)


def test_a_run_of_a_bank_has_no_rows_of_its_own(scoped: House) -> None:
    run = make_run(scoped)
    (second,) = lay(scoped, run, "08")
    with pytest.raises(IllegalMove, match="beside run 07"):
        projects.set_rows(
            actor=scoped.foreman, run_id=second.pk, seen=fresh(second).version, rows=THREE_BENDS
        )


def test_who_saw_a_run_of_a_bank_is_told_when_the_measured_one_changes(scoped: House) -> None:
    run = make_run(scoped)
    (second,) = lay(scoped, run, "08")
    seen = fresh(second).version
    projects.set_rows(actor=scoped.foreman, run_id=run.pk, seen=fresh(run).version, rows=THREE_BENDS[:2])
    with pytest.raises(StaleVersion):
        planning.release_run(actor=scoped.foreman, run_id=second.pk, seen=seen, crew_id=scoped.crew.pk)


def test_only_the_last_of_a_bank_leaves_and_takes_its_rows_along(scoped: House) -> None:
    run = make_run(scoped)
    second, third = lay(scoped, run, "08", "09")
    with pytest.raises(IllegalMove):
        projects.leave_bank(actor=scoped.foreman, run_id=second.pk, seen=fresh(second).version)
    left = projects.leave_bank(actor=scoped.foreman, run_id=third.pk, seen=fresh(third).version)
    assert (left.beside, left.rows) == (None, fresh(run).rows)


@pytest.mark.parametrize(
    ("told", "where"),
    [
        ({"labels": []}, "labels"),
        ({"labels": ["08", "08"]}, "labels"),
        ({"labels": ["0/8"]}, "labels"),
        ({"labels": [str(number) for number in range(20, 60)]}, "labels"),
        ({"labels": ["08"], "spacing_mm": 0}, "spacing_mm"),
        ({"labels": ["08"], "toward": "north"}, "toward"),
        ({"labels": ["08"], "corners": "round"}, "corners"),
    ],
)
def test_a_bank_that_cannot_be_is_refused_and_nothing_is_made(
    scoped: House, told: dict[str, Any], where: str
) -> None:
    run = make_run(scoped)
    labels = told.pop("labels")
    with pytest.raises(Invalid) as refused:
        lay(scoped, run, *labels, **told)
    assert {problem.where for problem in refused.value.problems} == {where}
    assert Run.objects.count() == 1


def test_a_label_that_is_taken_lays_no_bank_at_all(scoped: House) -> None:
    room = make_room(scoped)
    former = make_former(scoped)
    run = make_run(scoped, room, former=former)
    make_run(scoped, room, label="09", former=former)
    with pytest.raises(Invalid):
        lay(scoped, run, "08", "09")
    assert Run.objects.count() == 2


# -------------------------------------------------------------------------------- split at a box


def test_a_run_split_at_its_box_keeps_every_length(scoped: House) -> None:
    run = make_run(scoped, rows=THROUGH_A_BOX)
    whole = queries.draft_of(fresh(run), scoped.company).plan
    made = projects.split_at_box(
        actor=scoped.foreman, run_id=run.pk, seen=fresh(run).version, row=1, label="07B"
    )
    assert whole is not None
    assert made.follows_id == run.pk
    for half in (run, made):  # how far they go into the spout is asked; 0 makes them as they were
        told = {"finish_allowance_mm": 0.0} if half is run else {"start_allowance_mm": 0.0}
        projects.change_run(actor=scoped.foreman, run_id=half.pk, seen=fresh(half).version, **told)
    halves = [queries.draft_of(fresh(each), scoped.company).plan for each in (run, made)]
    assert [each.sticks[0].cut_length for each in halves if each] == pytest.approx(
        [stick.cut_length for stick in whole.sticks]
    )
    assert fresh(made).heading == "right"


@pytest.mark.parametrize("row", [0, 2, 3, 9, -1])
def test_a_run_is_split_at_a_box_alone(scoped: House, row: int) -> None:
    run = make_run(scoped, rows=THROUGH_A_BOX)
    with pytest.raises(IllegalMove):
        projects.split_at_box(
            actor=scoped.foreman, run_id=run.pk, seen=fresh(run).version, row=row, label="07B"
        )


def test_a_released_run_is_not_split(scoped: House) -> None:
    run = make_run(scoped, rows=THROUGH_A_BOX)
    release(scoped, run)
    with pytest.raises(IllegalMove, match="released"):
        projects.split_at_box(
            actor=scoped.foreman, run_id=run.pk, seen=fresh(run).version, row=1, label="07B"
        )


# ------------------------------------------------------------------------------------------------ some sticks


def test_chosen_sticks_are_released_and_the_rest_follow(scoped: House) -> None:
    run = make_run(scoped, rows=THROUGH_A_BOX)
    plan = release(scoped, run, stick_numbers=[2])
    assert [piece.line.label for piece in pieces_of_run(run.pk)] == ["07/2"]
    planning.release_sticks(actor=scoped.foreman, run_id=run.pk, revision=plan.revision, stick_numbers=[1])
    found = {piece.line.label: piece.state for piece in pieces_of_run(run.pk)}
    assert found == {"07/1": State.RELEASED, "07/2": State.RELEASED}
    with pytest.raises(IllegalMove, match="released already"):
        planning.release_sticks(
            actor=scoped.foreman, run_id=run.pk, revision=plan.revision, stick_numbers=[2]
        )


@pytest.mark.parametrize("numbers", [[], [3], [1, 0]])
def test_a_stick_that_is_not_there_is_not_released(scoped: House, numbers: list[int]) -> None:
    run = make_run(scoped, rows=THROUGH_A_BOX)
    with pytest.raises(Invalid):
        release(scoped, run, stick_numbers=numbers)
    assert queries.current_plan(run.pk) is None


def test_more_sticks_are_released_of_the_plan_that_was_seen(scoped: House) -> None:
    run = make_run(scoped, rows=THROUGH_A_BOX)
    release(scoped, run, stick_numbers=[2])
    with pytest.raises(IllegalMove, match="anew"):
        planning.release_sticks(actor=scoped.foreman, run_id=run.pk, revision=7, stick_numbers=[1])


# ------------------------------------------------------------------------------------------------ overrides


def stopped(house: House) -> tuple[Run, rules.RowFinding]:
    """A run that a rule pack stops: five right angles under the rules of the United States."""
    company = settings(house, rules="us")
    run = make_run(house, rows=FIVE_BENDS)
    (stop,) = [each for each in queries.draft_of(fresh(run), company).stops if each.rule == "total-bend"]
    return run, stop


def passed(house: House, run: Run, stop: rules.RowFinding, **more: Any) -> Override:
    told = {"reason": "Pulled from the middle through a temporary opening", "actor": house.manager, **more}
    return planning.let_pass(
        run_id=run.pk, seen=fresh(run).version, rule=stop.rule, where=stop.where, said=stop.said, **told
    )


def test_a_managers_reason_lets_a_rules_stop_pass_and_stands_in_the_plan(scoped: House) -> None:
    run, stop = stopped(scoped)
    with pytest.raises(RunHasStops):
        release(scoped, run)
    passed(scoped, run, stop)
    others = [each for each in queries.draft_of(fresh(run), settings(scoped)).stops if each.may_pass]
    for each in others:
        passed(scoped, run, each)
    plan = release(scoped, run)
    (kept,) = [each for each in plan.overrides if each["rule"] == "total-bend"]
    assert kept["reason"] == "Pulled from the middle through a temporary opening"
    assert kept["by"] == scoped.people["manager"].name


def test_only_a_manager_lets_a_stop_pass_and_only_with_a_reason(scoped: House) -> None:
    run, stop = stopped(scoped)
    with pytest.raises(NotAllowed):
        passed(scoped, run, stop, actor=scoped.foreman)
    with pytest.raises(Invalid):
        passed(scoped, run, stop, reason="  ")
    assert not Override.objects.exists()


def test_a_stop_of_geometry_is_never_let_pass(scoped: House) -> None:
    run = make_run(scoped, former=make_former(scoped, line="own", reach_mm=-950.0))
    draft = queries.draft_of(fresh(run), scoped.company)
    stop = next(each for each in draft.stops if each.rule == "mark-off")
    assert not stop.may_pass
    with pytest.raises(IllegalMove):
        passed(scoped, run, stop)


def test_other_figures_want_another_reason(scoped: House) -> None:
    run, stop = stopped(scoped)
    passed(scoped, run, stop)
    rows = [*FIVE_BENDS[:-1], leg(900, then="bend", angle_deg=45, toward="down"), leg(600, then="end")]
    projects.set_rows(actor=scoped.foreman, run_id=run.pk, seen=fresh(run).version, rows=rows)
    draft = queries.draft_of(fresh(run), settings(scoped))
    assert "total-bend" in {each.rule for each in draft.stops}


def test_an_override_is_taken_back(scoped: House) -> None:
    run, stop = stopped(scoped)
    made = passed(scoped, run, stop)
    assert "total-bend" not in {each.rule for each in queries.draft_of(fresh(run), settings(scoped)).stops}
    planning.stand_by(actor=scoped.manager, run_id=run.pk, seen=fresh(run).version, override_id=made.pk)
    assert "total-bend" in {each.rule for each in queries.draft_of(fresh(run), settings(scoped)).stops}


# -------------------------------------------------------------------------------- side by side


def test_two_revisions_side_by_side_name_what_differs(scoped: House) -> None:
    run = make_run(scoped, rows=THROUGH_A_BOX)
    first = release(scoped, run)
    rows = [dict(row) for row in THROUGH_A_BOX]
    rows[2]["length_mm"] = 1550
    projects.set_rows(actor=scoped.foreman, run_id=run.pk, seen=fresh(run).version, rows=rows)
    second = release(scoped, run)
    assert [(each.number, each.what) for each in rules.difference(first.result, second.result)] == [
        (1, ()),
        (2, ("cut length", "marks")),
    ]
    assert queries.plan_by_revision(run.pk, 1).pk == first.pk


def test_a_stick_that_came_or_went_is_said_so(scoped: House) -> None:
    run = make_run(scoped, rows=THROUGH_A_BOX)
    both = release(scoped, run).result
    alone = {"sticks": both["sticks"][:1]}
    assert [each.what for each in rules.difference(both, alone)] == [(), ("gone",)]
    assert [each.what for each in rules.difference(alone, both)] == [(), ("new",)]


# -------------------------------------------------------------------------------- company and bender


def test_the_companys_rules_cables_and_long_thread_are_asked_of_the_engine(scoped: House) -> None:
    company = settings(scoped, rules="uk", long_thread_mm=46.0, joint_costs={"cut": 2.0})
    run = make_run(scoped)
    cables = [{"csa_mm2": 2.5, "count": 3}]
    projects.change_run(actor=scoped.foreman, run_id=run.pk, seen=fresh(run).version, cables=cables)
    spec = rules.spec_of(fresh(run), company)
    assert spec["rules"] == "uk"
    assert spec["cables"] == cables
    assert spec["joints"]["long_thread"] == 46.0
    assert spec["joints"]["costs"] == {"cut": 2.0}
    assert "cable-capacity" in {each.rule for each in queries.draft_of(fresh(run), company).findings}


def test_a_benders_shape_gives_an_order_of_bending(scoped: House) -> None:
    run = make_run(scoped)
    bender = fresh(run).former.bender
    bender.shape, bender.hold_min_mm = "bench machine", 95.0
    bender.save()
    spec = rules.spec_of(fresh(run), scoped.company)
    assert spec["bender"]["hold_min"] == 95.0
    assert spec["bender"]["bodies"]


@pytest.mark.parametrize(
    "cables",
    [
        [{"csa_mm2": -1, "count": 3}],
        [{"csa_mm2": 2.5}],
        ["cable"],
        "cables",
        [{"size": "12 AWG", "insulation": "THHN", "count": 0}],
    ],
)
def test_cables_that_cannot_be_are_refused_with_their_place(scoped: House, cables: Any) -> None:
    run = make_run(scoped)
    with pytest.raises(Invalid) as told:
        projects.change_run(actor=scoped.foreman, run_id=run.pk, seen=fresh(run).version, cables=cables)
    assert all(problem.where.startswith("cables") for problem in told.value.problems)
