"""Companies are kept apart in one place, and forgetting it is an error."""

import logging
from contextlib import suppress

import pytest
from django.apps import apps
from django.db import IntegrityError, models, transaction
from factories import House

from services.company.models import Company, Crew, Device, Membership
from services.core.models import Act
from services.core.scoping import NoCompany, Owned, ScopedManager, across_companies, current_company_id

OWNED = sorted(
    (each for each in apps.get_models() if issubclass(each, Owned)), key=lambda each: each._meta.label
)
OURS = sorted(
    (each for each in apps.get_models() if each.__module__.startswith("services.")),
    key=lambda each: each._meta.label,
)
NOT_OWNED = {"company.Company", "company.User", "core.OutboxEntry"}
"""The company itself; people, who may belong to several; the relay's queue, whose every entry names its
company."""


def named(model: type[models.Model]) -> str:
    """Test id."""
    return model._meta.label


def test_every_table_of_ours_is_owned_by_a_company_but_for_those_named_here() -> None:
    assert {each._meta.label for each in OURS if each not in OWNED} == NOT_OWNED


@pytest.mark.parametrize("model", OWNED, ids=named)
def test_reading_outside_any_scope_is_an_error(model: type[models.Model], db: None) -> None:
    manager = model._default_manager
    with pytest.raises(NoCompany, match=model.__name__):
        manager.all()
    with pytest.raises(NoCompany):
        manager.filter(pk="00000000-0000-7000-8000-000000000000").exists()
    with pytest.raises(NoCompany):
        manager.count()


@pytest.mark.parametrize("model", OWNED, ids=named)
def test_making_a_row_outside_any_scope_is_an_error(model: type[models.Model]) -> None:
    with pytest.raises(NoCompany):
        model()


@pytest.mark.parametrize("model", OWNED, ids=named)
def test_an_owned_model_has_the_scoped_manager_as_its_only_one(model: type[models.Model]) -> None:
    assert [type(each) for each in model._meta.managers] == [ScopedManager]
    assert model._meta.default_manager_name is None
    assert model._meta.base_manager_name is None


@pytest.mark.parametrize("model", OWNED, ids=named)
def test_in_a_scope_every_read_names_the_company(model: type[models.Model], scoped: House) -> None:
    column = f'"{model._meta.db_table}"."company_id" = '
    assert column in str(model._default_manager.all().query)
    assert column in str(model._default_manager.filter(pk=scoped.company.pk).query)


@pytest.mark.parametrize("model", OWNED, ids=named)
def test_what_must_be_unique_is_so_within_a_company(model: type[models.Model]) -> None:
    """Else one company would learn from a refusal what another has. Names made by us (id, tick to its held
    row) are
    random, so they tell nothing."""
    for constraint in model._meta.constraints:
        if isinstance(constraint, models.UniqueConstraint):
            assert constraint.fields[:1] == ("company",), constraint.name
    assert not model._meta.unique_together
    for field in model._meta.concrete_fields:
        if field.unique and not field.primary_key:
            assert field.is_relation, field.name


def test_two_companies_see_each_their_own(house: House, other_house: House) -> None:
    with house.scope():
        assert [crew.name for crew in Crew.objects.all()] == ["Ostley crew"]
        assert not Crew.objects.filter(pk=other_house.crew.pk).exists()
        assert not Crew.objects.filter(pk=other_house.crew.pk).update(name="Taken")
        assert Membership.objects.count() == 4
    with other_house.scope():
        assert [crew.name for crew in Crew.objects.all()] == ["Quillback crew"]


def test_a_relation_read_backwards_stays_in_scope(house: House, other_house: House) -> None:
    """A person who works for both has the memberships of the active company alone."""
    with other_house.scope():
        Membership.objects.create(person=house.people["foreman"], role="electrician")
    with house.scope():
        assert [each.role for each in house.people["foreman"].memberships.all()] == ["foreman"]
    with pytest.raises(NoCompany):
        house.people["foreman"].memberships.all()


def test_scopes_nest_and_end_also_after_an_error(house: House, other_house: House) -> None:
    with house.scope():
        with suppress(ZeroDivisionError), other_house.scope():
            assert current_company_id() == other_house.company.pk
            raise ZeroDivisionError
        assert current_company_id() == house.company.pk
    with pytest.raises(NoCompany):
        current_company_id()


def test_across_companies_all_is_read_nothing_can_be_made_and_the_reason_is_logged(
    house: House, other_house: House, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.INFO, "stickbook.scoping"), across_companies(reason="nightly compare"):
        assert Crew.objects.count() == 2
        with pytest.raises(NoCompany):
            Crew(name="Nobody's")
    assert [each.getMessage() for each in caplog.records] == ["across companies: nightly compare"]
    with pytest.raises(NoCompany):
        Crew.objects.all()


def test_a_row_keeps_the_company_of_the_scope_it_was_made_in(house: House, other_house: House) -> None:
    with house.scope():
        crew = Crew(name="Second crew")
    with other_house.scope():
        crew.save()
    assert crew.company_id == house.company.pk


def test_the_database_itself_refuses_a_second_office_device(scoped: House) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Device.objects.create(kind="office", name="Another office")


def test_founding_a_company_is_recorded_in_its_own_scope(house: House) -> None:
    with house.scope():
        act = Act.objects.get(act="company founded")
    assert act.subject_id == house.company.pk
    assert act.figures == {"name": "Ostley"}
    assert Company.objects.count() == 1
