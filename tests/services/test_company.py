"""Companies, people, roles and rights: one table of who may do what, read anew on each request."""

import uuid

import pytest
from django.contrib.auth import authenticate
from django.contrib.auth.hashers import check_password
from django.db import IntegrityError, transaction
from django.test import RequestFactory
from factories import PASSWORD, FreshClient, House, make_house, person

from services.company import commands, queries
from services.company.middleware import SESSION_KEY
from services.company.models import Crew, Membership, Role, User
from services.company.rights import RIGHTS, Right, may, require
from services.core.commands import Actor
from services.core.errors import IllegalMove, Invalid, NotAllowed, NotFound
from services.core.models import Act

E, F, M, A = "electrician", "foreman", "manager", "administrator"

TABLE = {
    "see work": {E, F, M, A},
    "tick work": {E, F},
    "survey and plan": {F},
    "release and assign": {F},
    "let a rule's stop pass": {M},
    "keep benders and formers": {F, A},
    "keep stock": {F, M, A},
    "see money": {M, A},
    "keep prices": {M, A},
    "keep people and crews": {A},
    "change settings": {A},
}
"""Electrician: own crew's work; foreman: survey, plan, release, benders; manager: money; administrator:
people, settings,
prices. Written out here so that a change of the table in the code is seen."""


def test_the_table_of_rights_is_this() -> None:
    assert {right.value: {str(role) for role in roles} for right, roles in RIGHTS.items()} == TABLE
    assert set(RIGHTS) == set(Right)


@pytest.mark.parametrize("right", list(Right), ids=str)
@pytest.mark.parametrize("role", [E, F, M, A, "visitor"])
def test_a_role_may_what_the_table_says_and_nothing_else(role: str, right: Right) -> None:
    actor = Actor(uuid.uuid4(), uuid.uuid4(), role)
    if role in TABLE[right]:
        assert may(role, right)
        require(actor, right)
    else:
        assert not may(role, right)
        with pytest.raises(NotAllowed, match=f"you are signed in as {role}"):
            require(actor, right)


def test_a_foreman_sees_money_where_the_company_says_so_and_an_electrician_never() -> None:
    assert may(F, Right.SEE_MONEY, foreman_sees_money=True)
    assert not may(F, Right.PRICES, foreman_sees_money=True)
    assert not may(E, Right.SEE_MONEY, foreman_sees_money=True)


# ---------------------------------------------------------------- people and crews


def test_a_new_company_has_an_administrator_and_one_office_device(house: House) -> None:
    found = queries.belonging(house.people[A].pk, None)
    assert found is not None
    assert (found.company, found.role) == (house.company, "administrator")
    assert found.device_id == house.administrator.device_id is not None


@pytest.mark.parametrize("role", [E, F, M])
def test_only_an_administrator_keeps_people_and_crews(scoped: House, role: str) -> None:
    actor = scoped.actors[role]
    newcomer = person("Newcomer")
    before = Membership.objects.count(), Crew.objects.count(), Act.objects.count()
    member = Membership.objects.get(person=scoped.people[E])
    with pytest.raises(NotAllowed):
        commands.add_member(actor=actor, person=newcomer, role=E)
    with pytest.raises(NotAllowed):
        commands.form_crew(actor=actor, name="Night", member_ids=[])
    with pytest.raises(NotAllowed):
        commands.change_role(actor=actor, member_id=member.pk, role=A)
    with pytest.raises(NotAllowed):
        commands.let_go(actor=actor, member_id=member.pk)
    assert (Membership.objects.count(), Crew.objects.count(), Act.objects.count()) == before
    member.refresh_from_db()
    assert (member.role, member.is_active) == (E, True)


def test_a_role_that_there_is_not_is_refused_with_those_there_are(scoped: House) -> None:
    with pytest.raises(Invalid, match="allowed are electrician, foreman, manager, administrator"):
        commands.add_member(actor=scoped.administrator, person=person("Newcomer"), role="owner")
    member = Membership.objects.get(person=scoped.people[E])
    with pytest.raises(Invalid, match="allowed are"):
        commands.change_role(actor=scoped.administrator, member_id=member.pk, role="owner")


def test_a_person_joins_a_company_once(scoped: House) -> None:
    with pytest.raises(Invalid, match="belongs to the company already"):
        commands.add_member(actor=scoped.administrator, person=scoped.people[E], role=F)
    with pytest.raises(IntegrityError), transaction.atomic():
        Membership.objects.create(person=scoped.people[E], role=F)


def test_the_database_knows_the_roles(scoped: House) -> None:
    with pytest.raises(IntegrityError), transaction.atomic():
        Membership.objects.create(person=person("Newcomer"), role="owner")


@pytest.mark.parametrize("name", ["", "   ", "x" * 81])
def test_a_crew_has_a_name_of_1_to_80_characters(scoped: House, name: str) -> None:
    with pytest.raises(Invalid, match="1 to 80 characters"):
        commands.form_crew(actor=scoped.administrator, name=name, member_ids=[])


def test_a_crew_name_stands_once_in_a_company_and_is_free_in_another(
    scoped: House, other_house: House
) -> None:
    with pytest.raises(Invalid, match="there is a crew called Ostley crew already"):
        commands.form_crew(actor=scoped.administrator, name=" Ostley crew ", member_ids=[])
    with other_house.scope():
        commands.form_crew(actor=other_house.administrator, name="Ostley crew", member_ids=[])


def test_a_crew_takes_no_people_of_another_company(scoped: House, other_house: House) -> None:
    with other_house.scope():
        theirs = Membership.objects.get(person=other_house.people[E]).pk
    with pytest.raises(NotFound):
        commands.form_crew(actor=scoped.administrator, name="Mixed", member_ids=[theirs])
    assert not Crew.objects.filter(name="Mixed").exists()


def test_crews_of_a_person_are_those_of_the_active_company(scoped: House, other_house: House) -> None:
    assert queries.crew_ids_of(scoped.people[E].pk) == [scoped.crew.pk]
    assert queries.crew_ids_of(scoped.people[M].pk) == []
    assert queries.crew_ids_of(other_house.people[E].pk) == []
    with pytest.raises(NotFound):
        queries.crew(other_house.crew.pk)


def test_a_company_keeps_an_administrator(scoped: House) -> None:
    only = Membership.objects.get(person=scoped.people[A])
    with pytest.raises(IllegalMove, match="only administrator"):
        commands.let_go(actor=scoped.administrator, member_id=only.pk)
    with pytest.raises(IllegalMove, match="only administrator"):
        commands.change_role(actor=scoped.administrator, member_id=only.pk, role=F)
    second = Membership.objects.get(person=scoped.people[M])
    commands.change_role(actor=scoped.administrator, member_id=second.pk, role=A)
    commands.let_go(actor=scoped.administrator, member_id=only.pk)
    assert queries.belonging(scoped.people[A].pk, None) is None


def test_another_companys_member_is_not_found(scoped: House, other_house: House) -> None:
    with other_house.scope():
        theirs = Membership.objects.get(person=other_house.people[E])
    for act in (
        lambda: commands.change_role(actor=scoped.administrator, member_id=theirs.pk, role=F),
        lambda: commands.let_go(actor=scoped.administrator, member_id=theirs.pk),
    ):
        with pytest.raises(NotFound):
            act()
    with other_house.scope():
        theirs.refresh_from_db()
        assert (theirs.role, theirs.is_active) == (E, True)


# ---------------------------------------------------------------- passwords and sign-in


def test_a_password_is_kept_as_argon2id_with_46_mib_one_pass_one_lane(db: None) -> None:
    """OWASP's password storage cheat sheet: Argon2id, m = 47104 KiB, t = 1, p = 1 (from memory)."""
    someone = User.objects.create_user("Ilse@Example.test", "Ilse", PASSWORD)
    assert someone.email == "ilse@example.test"
    assert someone.password.startswith("argon2$argon2id$v=19$m=47104,t=1,p=1$")
    assert check_password(PASSWORD, someone.password)
    assert not check_password(PASSWORD + "x", someone.password)


def test_a_mail_address_belongs_to_one_person_whatever_its_capitals(db: None) -> None:
    person("One", email="one@example.test")
    with pytest.raises(IntegrityError), transaction.atomic():
        person("Two", email="ONE@example.test")


def test_sign_in_takes_the_mail_address_in_any_capitals(house: House, rf: RequestFactory) -> None:
    email = house.people[F].email
    request = rf.post("/")
    assert authenticate(request, username=email.upper(), password=PASSWORD) == house.people[F]
    assert authenticate(request, username=email, password="something else entirely") is None


def test_a_deactivated_person_cannot_sign_in(house: House, rf: RequestFactory) -> None:
    User.objects.filter(pk=house.people[F].pk).update(is_active=False)
    request = rf.post("/")
    assert authenticate(request, username=house.people[F].email, password=PASSWORD) is None


# ---------------------------------------------------------------- what a session knows


def whoami(client: FreshClient) -> tuple[str | None, str | None]:
    """Role and company of a client's next request."""
    told = client.get("/whoami").json()
    return told["role"], told["company"]


@pytest.mark.urls("probe_urls")
def test_a_request_has_the_role_and_company_of_its_session(house: House, other_house: House) -> None:
    for role in Role.values:
        assert whoami(house.client(role)) == (role, str(house.company.pk))
        assert whoami(other_house.client(role)) == (role, str(other_house.company.pk))
    assert whoami(FreshClient()) == (None, None)


@pytest.mark.urls("probe_urls")
def test_nothing_in_a_request_chooses_the_company(house: House, other_house: House) -> None:
    client = house.client(F)
    theirs = str(other_house.company.pk)
    client.cookies["company"] = theirs
    told = client.get(
        f"/whoami?company={theirs}&company_id={theirs}",
        headers={"Company": theirs, "X-Company": theirs, "X-Company-Id": theirs},
    ).json()
    assert told["company"] == str(house.company.pk)
    assert client.post("/whoami", {"company": theirs, "company_id": theirs}).json()["company"] == str(
        house.company.pk
    )


@pytest.mark.urls("probe_urls")
def test_a_session_that_names_a_company_one_does_not_belong_to_gets_ones_own(
    house: House, other_house: House
) -> None:
    client = house.client(F)
    session = client.session
    session[SESSION_KEY] = str(other_house.company.pk)
    session.save()
    assert whoami(client) == (F, str(house.company.pk))
    assert client.get("/crews").json() == ["Ostley crew"]


@pytest.mark.urls("probe_urls")
def test_a_person_of_two_companies_is_in_the_chosen_one_with_the_role_they_have_there(
    house: House, other_house: House
) -> None:
    someone = house.people[F]
    with other_house.scope():
        commands.add_member(actor=other_house.administrator, person=someone, role=E)
    client = house.client(F)
    assert client.get("/crews").json() == ["Ostley crew"]
    session = client.session
    session[SESSION_KEY] = str(other_house.company.pk)
    session.save()
    assert whoami(client) == (E, str(other_house.company.pk))
    assert client.get("/crews").json() == ["Quillback crew"]
    assert [each.name for each in queries.companies_of(someone.pk)] == ["Ostley", "Quillback"]


@pytest.mark.urls("probe_urls")
def test_a_changed_role_counts_from_the_next_request_on(house: House) -> None:
    client = house.client(F)
    send = {"path": "/api/v1/probe/x", "data": {}, "content_type": "application/json"}
    assert client.post(**send).status_code == 200
    with house.scope():
        member = Membership.objects.get(person=house.people[F])
        commands.change_role(actor=house.administrator, member_id=member.pk, role=E)
    assert whoami(client) == (E, str(house.company.pk))
    assert client.post(**send).status_code == 403


@pytest.mark.urls("probe_urls")
def test_who_was_let_go_is_nobody_from_the_next_request_on(house: House) -> None:
    client = house.client(F)
    assert whoami(client) == (F, str(house.company.pk))
    with house.scope():
        member = Membership.objects.get(person=house.people[F])
        commands.let_go(actor=house.administrator, member_id=member.pk)
    assert whoami(client) == (None, None)
    assert client.get("/api/v1/probe/x").status_code == 403


@pytest.mark.urls("probe_urls")
def test_a_deactivated_person_is_signed_out_from_the_next_request_on(house: House) -> None:
    client = house.client(F)
    User.objects.filter(pk=house.people[F].pk).update(is_active=False)
    assert whoami(client) == (None, None)


@pytest.mark.urls("probe_urls")
def test_a_changed_password_ends_the_sessions_made_with_the_old_one(house: House) -> None:
    client = house.client(F)
    house.people[F].set_password("another-password-entirely-3")
    house.people[F].save()
    assert whoami(client) == (None, None)


@pytest.mark.urls("probe_urls")
def test_a_person_without_a_company_reaches_nothing(db: None) -> None:
    client = FreshClient()
    client.force_login(person("Stray"), backend="django.contrib.auth.backends.ModelBackend")
    assert whoami(client) == (None, None)
    assert client.get("/api/v1/probe/x").status_code == 403


@pytest.mark.urls("probe_urls")
def test_reading_who_asks_takes_four_queries_however_many_companies_there_are(
    house: House, django_assert_num_queries: object
) -> None:
    """Session, person, membership with its company, office device."""
    for number in range(3):
        make_house(f"Extra {number}")
    client = house.client(F)
    client.get("/whoami")
    with django_assert_num_queries(4):  # type: ignore[operator]
        client.get("/whoami")
