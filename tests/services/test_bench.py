"""Benders and formers: what may be entered, by whom, and that a refusal leaves nothing."""

import uuid
from typing import Any

import pytest
from django.db import IntegrityError
from factories import House
from pytest_django import DjangoAssertNumQueries
from survey import a_former, nothing_changes

from services.bench import commands, queries
from services.bench.models import Bender, Former
from services.company.models import Role
from services.core.checks import make_once
from services.core.errors import FieldProblem, Invalid, NotAllowed, NotFound, StaleVersion
from services.core.models import Act


def problems_of(refused: pytest.ExceptionInfo[Invalid]) -> dict[str, str]:
    """Place and text of each problem."""
    return {each.where: each.text for each in refused.value.problems}


def test_a_former_keeps_its_figures_as_they_were_entered(scoped: House) -> None:
    bender = commands.add_bender(actor=scoped.foreman, name="  Bench bender 1 ")
    made = commands.add_former(
        actor=scoped.foreman,
        bender_id=bender.pk,
        conduit="steel-20-heavy",
        centreline_radius_mm=73.0,
        line="arrow",
        take_up_mm=60.0,
        k=0.02,
        c_deg=1.1,
        sd_deg=0.4,
        scale_deg=0.5,
    )
    kept = queries.former(made.pk)
    assert kept.bender.name == "Bench bender 1"
    assert (kept.conduit, kept.centreline_radius_mm, kept.line) == ("steel-20-heavy", 73.0, "arrow")
    assert (kept.take_up_mm, kept.reach_mm) == (60.0, None)
    assert (kept.k, kept.c_deg, kept.sd_deg, kept.scale_deg, kept.version) == (0.02, 1.1, 0.4, 0.5, 1)
    assert Act.objects.filter(act="former added", subject_id=kept.pk).count() == 1


@pytest.mark.parametrize("role", Role.values)
def test_benders_are_kept_by_foreman_and_administrator_alone(scoped: House, role: str) -> None:
    former = a_former(scoped)
    actor = scoped.actors[role]
    acts: list[Any] = [
        lambda: commands.add_bender(actor=actor, name="Another"),
        lambda: commands.add_former(
            actor=actor,
            bender_id=former.bender_id,
            conduit="steel-25-heavy",
            centreline_radius_mm=90.0,
        ),
        lambda: commands.change_former(actor=actor, former_id=former.pk, seen=1, centreline_radius_mm=74.0),
    ]
    for act in acts:
        if role in (Role.FOREMAN, Role.ADMINISTRATOR):
            act()
        else:
            with nothing_changes(), pytest.raises(NotAllowed):
                act()


@pytest.mark.parametrize("name", ["", "   ", "x" * 81, "two\nlines", "nul\0", None, 7])
def test_a_bender_without_a_fit_name_is_refused(scoped: House, name: Any) -> None:
    with nothing_changes(), pytest.raises(Invalid) as refused:
        commands.add_bender(actor=scoped.foreman, name=name)
    assert list(problems_of(refused)) == ["name"]


def test_a_name_or_a_conduit_is_taken_once_in_a_company_and_again_in_another(
    house: House, other_house: House
) -> None:
    for each in (house, other_house):
        with each.scope():
            bender = commands.add_bender(actor=each.foreman, name="Bench bender")
            told = {"bender_id": bender.pk, "conduit": "steel-20-heavy", "centreline_radius_mm": 73.0}
            commands.add_former(actor=each.foreman, **told)
            with nothing_changes(), pytest.raises(Invalid) as refused:
                commands.add_bender(actor=each.foreman, name="Bench bender")
            assert problems_of(refused) == {"name": "there is a bender called Bench bender already"}
            with nothing_changes(), pytest.raises(Invalid) as refused:
                commands.add_former(actor=each.foreman, **told)
            assert list(problems_of(refused)) == ["conduit"]


@pytest.mark.parametrize(
    ("figures", "wrong"),
    [
        ({"conduit": "steel-21"}, ["conduit"]),
        ({"conduit": None}, ["conduit"]),
        (
            {"centreline_radius_mm": 10.0},
            ["centreline_radius_mm"],
        ),  # half of 20 mm: the throat would close up
        ({"centreline_radius_mm": float("nan")}, ["centreline_radius_mm"]),
        ({"centreline_radius_mm": float("inf")}, ["centreline_radius_mm"]),
        ({"centreline_radius_mm": "73"}, ["centreline_radius_mm"]),
        ({"centreline_radius_mm": True}, ["centreline_radius_mm"]),
        ({"centreline_radius_mm": 10**400}, ["centreline_radius_mm"]),
        ({"line": "arc"}, ["line"]),
        ({"line": "arrow"}, ["take_up_mm"]),
        ({"line": "own"}, ["reach_mm"]),
        ({"take_up_mm": 60.0}, ["take_up_mm"]),
        ({"line": "arrow", "take_up_mm": 60.0, "reach_mm": 1.0}, ["reach_mm"]),
        ({"k": 0.9}, ["k"]),
        ({"k": -0.6, "c_deg": 31.0, "sd_deg": -0.1, "scale_deg": 0.0}, ["k", "c_deg", "sd_deg", "scale_deg"]),
    ],
)
def test_figures_that_no_former_has_are_refused_all_at_once(
    scoped: House, figures: dict[str, Any], wrong: list[str]
) -> None:
    bender = commands.add_bender(actor=scoped.foreman, name="Bench bender")
    told: dict[str, Any] = {"conduit": "steel-20-heavy", "centreline_radius_mm": 73.0, **figures}
    with nothing_changes(), pytest.raises(Invalid) as refused:
        commands.add_former(actor=scoped.foreman, bender_id=bender.pk, **told)
    assert sorted(problems_of(refused)) == sorted(wrong)


def test_a_refused_radius_says_what_is_allowed(scoped: House) -> None:
    with pytest.raises(Invalid) as refused:
        a_former(scoped, centreline_radius_mm=9.5)
    assert problems_of(refused) == {
        "centreline_radius_mm": "is 9.5; a number is wanted, above 10 and at most 5000 mm"
    }


def test_a_change_keeps_what_it_does_not_name_and_counts_the_version_up(scoped: House) -> None:
    former = a_former(scoped, line="own", reach_mm=12.0, k=0.02)
    commands.change_former(actor=scoped.foreman, former_id=former.pk, seen=1, centreline_radius_mm=74.5)
    kept = queries.former(former.pk)
    assert (kept.centreline_radius_mm, kept.reach_mm, kept.k, kept.version) == (74.5, 12.0, 0.02, 2)
    act = Act.objects.get(act="former changed")
    assert act.figures == {"before": {"centreline_radius_mm": 73.0}, "after": {"centreline_radius_mm": 74.5}}


def test_the_second_of_two_who_change_a_former_is_told_and_changes_nothing(scoped: House) -> None:
    former = a_former(scoped)
    commands.change_former(actor=scoped.foreman, former_id=former.pk, seen=1, centreline_radius_mm=74.0)
    with nothing_changes(), pytest.raises(StaleVersion) as refused:
        commands.change_former(
            actor=scoped.administrator, former_id=former.pk, seen=1, centreline_radius_mm=75.0
        )
    assert refused.value.figures == {"seen": 1, "now": 2}


def test_a_change_is_judged_with_the_figures_that_stay(scoped: House) -> None:
    former = a_former(scoped, line="arrow", take_up_mm=60.0)
    with nothing_changes(), pytest.raises(Invalid) as refused:
        commands.change_former(actor=scoped.foreman, former_id=former.pk, seen=1, line="begin")
    assert list(problems_of(refused)) == ["take_up_mm"]
    commands.change_former(actor=scoped.foreman, former_id=former.pk, seen=1, line="begin", take_up_mm=None)
    assert queries.former(former.pk).line == "begin"


def test_another_companys_bender_and_former_are_as_if_absent(house: House, other_house: House) -> None:
    with other_house.scope():
        theirs = a_former(other_house)
    with house.scope():
        assert queries.formers() == []
        assert queries.benders() == []
        told = []
        for bender_id, former_id in ((theirs.bender_id, theirs.pk), (uuid.uuid4(), uuid.uuid4())):
            for act in (
                lambda bender_id=bender_id: queries.bender(bender_id),
                lambda former_id=former_id: queries.former(former_id),
                lambda bender_id=bender_id: commands.add_former(
                    actor=house.foreman,
                    bender_id=bender_id,
                    conduit="steel-25-heavy",
                    centreline_radius_mm=90.0,
                ),
                lambda former_id=former_id: commands.change_former(
                    actor=house.foreman, former_id=former_id, seen=1, centreline_radius_mm=99.0
                ),
            ):
                with nothing_changes(), pytest.raises(NotFound) as refused:
                    act()
                told.append(refused.value.text)
        assert told[:4] == told[4:]


def test_a_broken_constraint_is_told_as_taken_only_where_something_stands_in_the_way(scoped: House) -> None:
    former = a_former(scoped)

    def make() -> Former:
        return Former.objects.create(
            bender=former.bender, conduit="steel-25-heavy", centreline_radius_mm=-1.0
        )

    problem = FieldProblem("conduit", "is taken")
    with nothing_changes(), pytest.raises(IntegrityError):
        make_once(make, taken=Former.objects.none(), problem=problem)
    with nothing_changes(), pytest.raises(Invalid, match="is taken"):
        make_once(make, taken=Former.objects.all(), problem=problem)


@pytest.mark.parametrize("count", [2, 200])
def test_lists_take_as_many_queries_at_2_rows_as_at_200(
    scoped: House, django_assert_num_queries: DjangoAssertNumQueries, count: int
) -> None:
    benders = Bender.objects.bulk_create(Bender(name=f"Bender {number:03}") for number in range(count))
    Former.objects.bulk_create(
        Former(bender=bender, conduit="steel-20-heavy", centreline_radius_mm=73.0) for bender in benders
    )
    with django_assert_num_queries(1):
        assert [former.bender.name for former in queries.formers()] == [bender.name for bender in benders]
    with django_assert_num_queries(2):
        assert sum(len(bender.formers.all()) for bender in queries.benders()) == count
    former = queries.formers()[0]
    with django_assert_num_queries(1):
        assert queries.former(former.pk).bender.name == "Bender 000"
