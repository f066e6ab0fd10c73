"""People: invited by a link that opens once, let go, taken back, with a new password; crews and their end."""

import hashlib
import json
import logging
import re
import threading
import uuid
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest
from axes.models import AccessAttempt
from django.contrib.sessions.models import Session
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from factories import (
    PASSWORD,
    FreshClient,
    House,
    make_former,
    make_room,
    make_run,
    person,
    release,
)
from test_pages import judged

from services.company import commands, queries, rules
from services.company.models import (
    Crew,
    CrewMember,
    Invitation,
    Membership,
    ResetLink,
    Role,
    User,
)
from services.company.rights import RIGHTS, SAID, Right
from services.core.errors import IllegalMove, Invalid, NotAllowed, NotFound, StaleVersion
from services.core.models import Act, KeptAnswer
from services.core.scoping import across_companies
from services.projects import commands as projects
from services.tracking import commands as tracking
from services.tracking.queries import pieces_of_run

E, F, M, A = Role.ELECTRICIAN, Role.FOREMAN, Role.MANAGER, Role.ADMINISTRATOR
NEW = "quarry-lantern-7-otter"
"""A password that stands up to the checks."""

GUEST = "nell@guest.example"
TOKEN = re.compile(r"/(join|reset)/#([A-Za-z0-9_-]+)")


def invited(house: House, email: str = GUEST, role: str = F, **more: Any) -> str:
    """Invites and gives the token."""
    with house.scope():
        return commands.invite(actor=house.administrator, email=email, role=role, **more)[1]


def opened(token: str, door: str = "join", client: FreshClient | None = None) -> FreshClient:
    """A browser that followed a link, or that was turned away."""
    browser = client or FreshClient()
    browser.post(f"/{door}/", {"token": token})
    return browser


def members(house: House) -> set[tuple[str, str, bool]]:
    """Who is in the company: mail address, role, active."""
    with house.scope():
        rows = Membership.objects.select_related("person")
        return {(each.person.email, each.role, each.is_active) for each in rows}


def member_id(house: House, role: str) -> uuid.UUID:
    """The place of the person who has a role since the company was made."""
    with house.scope():
        found: uuid.UUID = Membership.objects.get(person=house.people[role]).pk
        return found


def acts(house: House) -> list[str]:
    """What was recorded."""
    with house.scope():
        return list(Act.objects.order_by("at", "id").values_list("act", flat=True))


def is_in(client: FreshClient) -> bool:
    """Whether the client is signed in and in a company."""
    return client.get("/account/").status_code == 200


def text(response: Any) -> str:
    """What a page says."""
    told: str = response.content.decode()
    return told


def later(monkeypatch: pytest.MonkeyPatch, by: timedelta) -> None:
    """Moves the clock of the service."""
    real = timezone.now
    monkeypatch.setattr(timezone, "now", lambda: real() + by)


# ---------------------------------------------------------------- invitations


def test_an_invited_person_sets_name_and_password_and_is_in_with_role_and_crews(house: House) -> None:
    admin = house.client(A)
    page = admin.post(
        "/people/", {"email": "Nell@Guest.example ", "role": F, "crew_ids": [str(house.crew.pk)]}
    )
    assert page.status_code == 200
    found = TOKEN.search(text(page))
    assert found
    browser = opened(found[2])
    assert "Join Ostley" in text(browser.get("/join/"))
    done = browser.post("/join/", {"what": "new", "name": "Nell Oake", "new": NEW})
    assert (done.status_code, done["Location"]) == (302, "/")
    assert (GUEST, F, True) in members(house)
    account = text(browser.get("/account/"))
    assert "Nell Oake" in account
    assert "Ostley crew" in account
    assert FreshClient().post("/sign-in/", {"email": GUEST, "password": NEW}).status_code == 302
    assert acts(house)[-2:] == ["person invited", "invitation accepted"]


def test_the_link_is_shown_once_and_kept_as_a_hash_of_256_random_bits(house: House) -> None:
    admin = house.client(A)
    page = text(admin.post("/people/", {"email": GUEST, "role": F}))
    found = TOKEN.search(page)
    assert found
    token = found[2]
    assert len(token) == 43  # 32 bytes in base64 without its padding: 256 bits
    assert token not in text(admin.get("/people/"))
    assert token not in text(admin.get("/api/v1/invitations"))
    with house.scope():
        row = Invitation.objects.get()
        assert row.token_hash == hashlib.sha256(token.encode()).hexdigest()
        kept = json.dumps([list(map(str, each)) for each in Act.objects.values_list()])
    assert token not in kept
    assert row.token_hash not in kept
    assert len({invited(house, f"p{each}@guest.example") for each in range(20)}) == 20


def test_a_link_opens_for_seven_days_and_not_after(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    token = invited(house)
    with monkeypatch.context() as clock:
        later(clock, timedelta(days=7, minutes=-1))
        assert queries.invitation_door(rules.hash_of(token)) is not None
    later(monkeypatch, timedelta(days=7, minutes=1))
    assert FreshClient().post("/join/", {"token": token}).status_code == 422


def test_a_link_whose_time_is_up_while_the_page_is_open_lets_nobody_in(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    browser = opened(invited(house))
    before = members(house)
    later(monkeypatch, timedelta(days=7, minutes=1))
    # the session's own time is up as well, so the command is asked itself
    answer = browser.post("/join/", {"what": "new", "name": "Nell", "new": NEW})
    assert answer.status_code in (200, 422)
    assert members(house) == before
    assert not User.objects.filter(email=GUEST).exists()


@pytest.mark.parametrize("fate", ["used", "withdrawn", "replaced", "over", "never was"])
def test_a_link_that_opens_nothing_is_told_alike_whatever_the_reason(
    house: House, fate: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    token = invited(house)
    if fate == "used":
        opened(token).post("/join/", {"what": "new", "name": "Nell", "new": NEW})
        assert (GUEST, F, True) in members(house)
    elif fate == "withdrawn":
        with house.scope():
            commands.withdraw_invitation(actor=house.administrator, invitation_id=Invitation.objects.get().pk)
    elif fate == "replaced":
        assert invited(house) != token
    elif fate == "over":
        later(monkeypatch, timedelta(days=8))
    else:
        token = rules.fresh_token()
    before = members(house)
    browser = FreshClient()
    answer = browser.post("/join/", {"token": token})
    assert answer.status_code == 422
    assert "This link opens nothing" in text(answer)
    assert "Ostley" not in text(answer)
    again = browser.post("/join/", {"what": "new", "name": "Nell", "new": NEW})
    assert again.status_code in (200, 422)
    assert members(house) == before


def test_a_link_lets_in_once_though_it_was_opened_twice(house: House) -> None:
    token = invited(house)
    first, second = opened(token), opened(token)
    assert first.post("/join/", {"what": "new", "name": "Nell", "new": NEW}).status_code == 302
    answer = second.post("/join/", {"what": "new", "name": "Mallory", "new": NEW + "x"})
    assert answer.status_code == 422
    assert not is_in(second)
    assert User.objects.get(email=GUEST).name == "Nell"


@pytest.mark.django_db(transaction=True)
def test_of_two_who_use_a_link_at_once_one_gets_in(house: House) -> None:
    token = invited(house)
    door = queries.invitation_door(rules.hash_of(token))
    assert door is not None
    outcomes: list[str] = []
    start = threading.Barrier(2)

    def use(name: str) -> None:
        from services.core.commands import Actor

        start.wait(10)
        try:
            commands.accept_invitation(
                actor=Actor(uuid.uuid4(), house.company.pk, F, None),
                token_hash=rules.hash_of(token),
                name=name,
                kept="!",
            )
            outcomes.append("in")
        except Exception as error:
            outcomes.append(type(error).__name__)
        finally:
            connection.close()

    threads = [threading.Thread(target=use, args=(name,)) for name in ("One", "Two")]
    for each in threads:
        each.start()
    for each in threads:
        each.join(30)
    assert outcomes.count("in") == 1, outcomes
    assert User.objects.filter(email=GUEST).count() == 1


def test_a_new_invitation_takes_the_place_of_the_old_and_there_is_one_at_a_time(scoped: House) -> None:
    for role in (E, F):
        commands.invite(actor=scoped.administrator, email=GUEST, role=role)
    assert [each.role for each in queries.invitations()] == [F]
    with pytest.raises(IntegrityError), transaction.atomic():
        Invitation.objects.create(
            email=GUEST, role=F, token_hash="x", made_by=scoped.people[A], expires_at=timezone.now()
        )


def test_an_invitation_used_or_withdrawn_cannot_be_withdrawn(scoped: House) -> None:
    made, _token = commands.invite(actor=scoped.administrator, email=GUEST, role=E)
    commands.withdraw_invitation(actor=scoped.administrator, invitation_id=made.pk)
    with pytest.raises(IllegalMove):
        commands.withdraw_invitation(actor=scoped.administrator, invitation_id=made.pk)
    assert queries.invitations() == []


@pytest.mark.parametrize(
    "email", ["", "nell", "nell@", "@x.example", "a b@x.example", "x" * 250 + "@x.example"]
)
def test_what_is_no_mail_address_is_not_invited(scoped: House, email: str) -> None:
    with pytest.raises(Invalid):
        commands.invite(actor=scoped.administrator, email=email, role=E)
    assert not Invitation.objects.exists()


def test_who_is_in_the_company_is_not_invited_and_another_companys_crew_is_not_there(
    scoped: House, other_house: House
) -> None:
    with pytest.raises(Invalid, match="belongs to the company already"):
        commands.invite(actor=scoped.administrator, email=scoped.people[E].email.upper(), role=E)
    with pytest.raises(NotFound):
        commands.invite(actor=scoped.administrator, email=GUEST, role=E, crew_ids=[other_house.crew.pk])
    assert not Invitation.objects.exists()


def test_an_invitation_does_not_tell_whether_the_service_knows_the_person(
    house: House, other_house: House
) -> None:
    admin = house.client(A)
    told = []
    for email in (other_house.people[E].email, "nobody@guest.example"):
        page = admin.post("/people/", {"email": email, "role": E})
        assert page.status_code == 200
        api = admin.post("/api/v1/invitations", {"email": email, "role": E}, content_type="application/json")
        shown = TOKEN.sub("(link)", text(page)).replace(email, "(mail)")
        shown = re.sub(r'value="[A-Za-z0-9]{64}"|/invitations/[0-9a-f-]{36}/', "", shown)
        told.append((api.status_code, sorted(api.json()), shown))
        with house.scope():
            for each in queries.invitations():
                commands.withdraw_invitation(actor=house.administrator, invitation_id=each.pk)
    assert told[0] == told[1]


def test_somebody_known_signs_in_to_join_and_keeps_their_other_company(
    house: House, other_house: House
) -> None:
    known = other_house.people[E]
    browser = opened(invited(house, known.email, M))
    page = text(browser.get("/join/"))
    assert 'href="/sign-in/?next=/join/"' in page
    assert 'name="new"' not in page
    # a new password cannot be set in place of theirs
    assert browser.post("/join/", {"what": "new", "name": "Mallory", "new": NEW}).status_code == 200
    before = User.objects.get(pk=known.pk).password
    assert before == known.password
    done = browser.post("/sign-in/", {"email": known.email, "password": PASSWORD, "next": "/join/"})
    assert done["Location"] == "/join/"
    assert "Join Ostley" in text(browser.get("/join/"))
    key = browser.session.session_key
    assert browser.post("/join/", {"what": "join"}).status_code == 302
    assert browser.session.session_key != key
    assert (known.email, M, True) in members(house)
    assert (known.email, E, True) in members(other_house)
    assert {each.name for each in queries.companies_of(known.pk)} == {"Ostley", "Quillback"}
    assert "Ostley" in text(browser.get("/account/"))


def test_signed_in_with_another_mail_address_is_refused_with_both_named(house: House) -> None:
    client = opened(invited(house), client=house.client(E))
    page = client.get("/join/")
    assert page.status_code == 403
    assert f"This invitation is for {GUEST}. You are signed in as {house.people[E].email}." in text(page)
    before = members(house)
    for body in ({"what": "join"}, {"what": "new", "name": "Nell", "new": NEW}):
        assert client.post("/join/", body).status_code == 403
    assert members(house) == before
    assert not User.objects.filter(email=GUEST).exists()
    # signs out, stays at the door
    assert client.post("/join/", {"what": "other"})["Location"] == "/join/"
    assert 'name="new"' in text(client.get("/join/"))
    assert not is_in(client)


def test_the_command_itself_takes_nobody_in_with_an_invitation_of_another(house: House) -> None:
    token = invited(house)
    with pytest.raises(NotAllowed):
        commands.accept_invitation(actor=house.electrician, token_hash=rules.hash_of(token))
    known = invited(house, person("Somebody", email="some@guest.example").email)
    with pytest.raises(NotAllowed):
        commands.accept_invitation(
            actor=house.electrician, token_hash=rules.hash_of(known), name="Mallory", kept="!"
        )
    assert queries.invitation_door(rules.hash_of(known)) is not None  # not used up


def test_who_left_comes_back_by_an_invitation_in_the_role_that_it_offers(house: House) -> None:
    with house.scope():
        commands.let_go(actor=house.administrator, member_id=member_id(house, E))
    browser = house.client(E)
    assert not is_in(browser)
    opened(invited(house, house.people[E].email, M), client=browser)
    assert browser.post("/join/", {"what": "join"}).status_code == 302
    assert (house.people[E].email, M, True) in members(house)


def test_a_crew_that_was_disbanded_meanwhile_takes_nobody(house: House) -> None:
    with house.scope():
        night = commands.form_crew(actor=house.administrator, name="Night", member_ids=[])
    token = invited(house, crew_ids=[night.pk, house.crew.pk])
    with house.scope():
        commands.disband_crew(actor=house.administrator, crew_id=night.pk, seen=1)
    opened(token).post("/join/", {"what": "new", "name": "Nell", "new": NEW})
    with house.scope():
        in_crews = CrewMember.objects.filter(membership__person__email=GUEST)
        assert [each.crew_id for each in in_crews] == [house.crew.pk]


@pytest.mark.parametrize(
    ("password", "said"),
    [
        ("short-one-9", "at least 12 characters"),
        ("password1234", "too common"),
        ("nell@guest.example", "too similar"),
        ("Stickbook-2026!", "program’s name"),
        ("a-b\x00c-defghijkl", ""),
        ("x1-" * 60, "at most 128 characters"),
        ("", ""),
    ],
)
def test_a_weak_password_is_told_at_its_field_and_lets_nobody_in(
    house: House, password: str, said: str
) -> None:
    browser = opened(invited(house))
    answer = browser.post("/join/", {"what": "new", "name": "Nell", "new": password})
    assert answer.status_code == 422
    assert 'id="id_new_error"' in text(answer)
    assert said in text(answer)
    assert not User.objects.filter(email=GUEST).exists()
    assert browser.post("/join/", {"what": "new", "name": "Nell", "new": NEW}).status_code == 302


def test_opening_links_is_slowed_after_five_misses_and_then_a_good_one_does_not_open(house: House) -> None:
    token = invited(house)
    browser = FreshClient()
    codes = [browser.post("/join/", {"token": rules.fresh_token()}).status_code for _ in range(5)]
    assert codes == [422, 422, 422, 422, 429]
    for door in ("/join/", "/reset/"):
        refused = FreshClient().post(door, {"token": token})
        assert refused.status_code == 429
        assert refused["Retry-After"] == "900"
        assert "quarter of an hour" in text(refused)
    elsewhere = FreshClient(REMOTE_ADDR="198.51.100.7")
    assert elsewhere.post("/join/", {"token": token}).status_code == 302
    # a sign-in is not slowed by it
    signed = FreshClient().post("/sign-in/", {"email": house.people[F].email, "password": PASSWORD})
    assert signed.status_code == 302


def test_no_token_and_no_password_comes_into_a_log_or_the_counter_of_misses(
    house: House, caplog: pytest.LogCaptureFixture
) -> None:
    token, wrong, typed = invited(house), rules.fresh_token(), "wrong-password-of-mine-3"
    with caplog.at_level(logging.DEBUG):
        browser = opened(token)
        opened(wrong)
        browser.post("/join/", {"what": "new", "name": "Nell", "new": NEW})
        client = house.client(E)
        client.post("/account/", {"what": "password", "old": typed, "new": NEW})
        client.post("/account/", {"what": "mail", "email": "x@y.example", "password": typed})
    kept = caplog.text + "".join(str(list(each.values())) for each in AccessAttempt.objects.values())
    assert AccessAttempt.objects.count() >= 2
    for secret in (token, wrong, typed, NEW, rules.hash_of(token)):
        assert secret not in kept
    for session in Session.objects.all():
        assert token not in str(session.get_decoded())


def test_a_token_never_stands_in_an_address_and_no_referer_leaves_the_service(house: House) -> None:
    page = house.client(A).post("/people/", {"email": GUEST, "role": F})
    link = re.search(r'value="(http[^"]*/join/[^"]*)"', text(page))
    assert link
    address, _hash, token = link[1].partition("#")
    assert address == "http://testserver/join/"
    browser = FreshClient()
    opened_page = browser.get("/join/")
    moved = browser.post("/join/", {"token": link[1]})  # a whole link, as it is pasted
    assert moved["Location"] == "/join/"
    for answer in (page, opened_page, moved, browser.get("/join/")):
        # not "no-referrer": with that a browser sends "Origin: null", which the guard of forms refuses
        assert answer["Referrer-Policy"] == "same-origin"
        assert "no-store" in answer["Cache-Control"]
    assert token not in text(browser.get("/join/"))


# ---------------------------------------------------------------- a new password by a link


def reset_token(house: House, role: str = E) -> str:
    """Makes a reset link for the person of a role and gives its token."""
    with house.scope():
        return commands.make_reset_link(actor=house.administrator, member_id=member_id(house, role))[1]


def test_a_reset_link_sets_a_password_once_and_ends_all_sessions_of_that_person(house: House) -> None:
    at_home, at_work, somebody_else = house.client(E), house.client(E), house.client(F)
    page = house.client(A).post(
        reverse("person", kwargs={"member_id": member_id(house, E)}), {"what": "reset", "seen": "1"}
    )
    found = TOKEN.search(text(page))
    assert found
    assert found[1] == "reset"
    browser = opened(found[2], "reset")
    assert house.people[E].email in text(browser.get("/reset/"))
    assert browser.post("/reset/", {"what": "new", "new": NEW})["Location"] == "/sign-in/"
    assert not is_in(at_home)
    assert not is_in(at_work)
    assert not is_in(browser)
    assert is_in(somebody_else)
    email = house.people[E].email
    assert FreshClient().post("/sign-in/", {"email": email, "password": PASSWORD}).status_code == 422
    assert FreshClient().post("/sign-in/", {"email": email, "password": NEW}).status_code == 302
    assert FreshClient().post("/reset/", {"token": found[2]}).status_code == 422
    assert acts(house)[-2:] == ["reset link made", "password reset"]


def test_a_reset_link_opens_for_24_hours_and_not_after(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    token = reset_token(house)
    with monkeypatch.context() as clock:
        later(clock, timedelta(hours=23, minutes=59))
        assert queries.reset_door(rules.hash_of(token)) is not None
    later(monkeypatch, timedelta(hours=24, minutes=1))
    assert FreshClient().post("/reset/", {"token": token}).status_code == 422


def test_a_newer_reset_link_ends_the_older_and_so_do_letting_go_and_a_changed_password(house: House) -> None:
    first = reset_token(house)
    second = reset_token(house)
    assert queries.reset_door(rules.hash_of(first)) is None
    assert queries.reset_door(rules.hash_of(second)) is not None
    house.client(E).post("/account/", {"what": "password", "old": PASSWORD, "new": NEW})
    assert queries.reset_door(rules.hash_of(second)) is None
    third = reset_token(house, F)
    with house.scope():
        commands.let_go(actor=house.administrator, member_id=member_id(house, F))
    assert queries.reset_door(rules.hash_of(third)) is None


def test_an_invitation_is_no_reset_link_and_the_other_way_round(house: House) -> None:
    assert FreshClient().post("/reset/", {"token": invited(house)}).status_code == 422
    assert FreshClient().post("/join/", {"token": reset_token(house)}).status_code == 422


def test_no_administrator_becomes_a_person_of_another_company_by_a_reset_or_a_corrected_mail(
    house: House, other_house: House
) -> None:
    """Whoever sets a password can sign in with it: where the person works for another company too, that
    would open its door."""
    shared = house.people[E]
    token = reset_token(house)
    with other_house.scope():
        commands.add_member(actor=other_house.administrator, person=shared, role=F)
    assert FreshClient().post("/reset/", {"token": token}).status_code == 422  # made before, dead since
    with house.scope():
        place = member_id(house, E)
        for act in (
            lambda: commands.make_reset_link(actor=house.administrator, member_id=place),
            lambda: commands.correct_mail(
                actor=house.administrator, member_id=place, email="x@guest.example"
            ),
        ):
            with pytest.raises(IllegalMove, match="not this company’s alone") as refused:
                act()
            assert "Quillback" not in refused.value.text
        assert not ResetLink.objects.filter(used_at__isnull=True, withdrawn_at__isnull=True).exclude(
            token_hash=rules.hash_of(token)
        )
    assert User.objects.get(pk=shared.pk).email == shared.email


def test_a_link_that_was_opened_before_the_person_joined_elsewhere_sets_nothing_after(
    house: House, other_house: House
) -> None:
    browser = opened(reset_token(house), "reset")
    with other_house.scope():
        commands.add_member(actor=other_house.administrator, person=house.people[E], role=F)
    assert browser.post("/reset/", {"what": "new", "new": NEW}).status_code == 422
    assert User.objects.get(pk=house.people[E].pk).password == house.people[E].password
    with pytest.raises(Invalid):
        commands.use_reset_link(actor=house.electrician, token_hash="0" * 64, kept="!")


def test_an_administrator_signed_in_does_not_set_anothers_password(house: House) -> None:
    admin = opened(reset_token(house), "reset", house.client(A))
    page = admin.get("/reset/")
    assert page.status_code == 403
    assert admin.post("/reset/", {"what": "new", "new": NEW}).status_code == 403
    assert User.objects.get(pk=house.people[E].pk).password == house.people[E].password


def test_an_administrator_makes_no_reset_link_for_themself(scoped: House) -> None:
    with pytest.raises(IllegalMove, match="with your password"):
        commands.make_reset_link(actor=scoped.administrator, member_id=member_id(scoped, A))


@pytest.mark.parametrize("role", [E, F, M])
def test_only_an_administrator_invites_and_makes_reset_links(scoped: House, role: str) -> None:
    actor = scoped.actors[role]
    made, _token = commands.invite(actor=scoped.administrator, email=GUEST, role=E)
    place = member_id(scoped, E)
    before = acts(scoped)
    refused: list[Callable[[], object]] = [
        lambda: commands.invite(actor=actor, email="x@guest.example", role=A),
        lambda: commands.withdraw_invitation(actor=actor, invitation_id=made.pk),
        lambda: commands.make_reset_link(actor=actor, member_id=place),
        lambda: commands.correct_mail(actor=actor, member_id=place, email="x@guest.example"),
        lambda: commands.take_back(actor=actor, member_id=place),
        lambda: commands.change_crew(actor=actor, crew_id=scoped.crew.pk, seen=1, name="X"),
        lambda: commands.disband_crew(actor=actor, crew_id=scoped.crew.pk, seen=1),
        lambda: commands.change_settings(actor=actor, seen=1, name="X"),
    ]
    for act in refused:
        with pytest.raises(NotAllowed):
            act()
    assert acts(scoped) == before


# ---------------------------------------------------------------- no telling who is known


def test_sign_in_says_the_same_of_a_wrong_password_an_unknown_name_and_who_is_deactivated(
    house: House,
) -> None:
    User.objects.filter(pk=house.people[M].pk).update(is_active=False)
    told = set()
    for email, password in (
        (house.people[E].email, "wrong-password-here"),
        ("nobody@guest.example", "wrong-password-here"),
        (house.people[M].email, PASSWORD),
    ):
        answer = FreshClient().post("/sign-in/", {"email": email, "password": password})
        shown = re.sub(r'value="[A-Za-z0-9]{64}"', "", text(answer)).replace(email, "(mail)")
        told.add((answer.status_code, shown))
    assert len(told) == 1


def test_the_session_has_another_key_after_a_sign_in_a_join_and_a_changed_password(house: House) -> None:
    browser = opened(invited(house))
    keys = [browser.session.session_key]
    browser.post("/join/", {"what": "new", "name": "Nell", "new": NEW})
    keys.append(browser.session.session_key)
    browser.post("/account/", {"what": "password", "old": NEW, "new": NEW + "-more"})
    keys.append(browser.session.session_key)
    assert is_in(browser)
    other = opened(invited(house, "two@guest.example"))  # a key known before the sign-in
    keys.append(other.session.session_key)
    other.post("/sign-in/", {"email": house.people[E].email, "password": PASSWORD})
    keys.append(other.session.session_key)
    assert len(set(keys)) == len(keys) == 5
    assert not Session.objects.filter(session_key__in=[keys[0], keys[1], keys[3]]).exists()


# ---------------------------------------------------------------- oneself


def test_a_changed_password_wants_the_old_one_and_ends_the_other_sessions_alone(house: House) -> None:
    here, there = house.client(E), house.client(E)
    wrong = here.post("/account/", {"what": "password", "old": "not-my-password-1", "new": NEW})
    assert wrong.status_code == 422
    assert "This is not your password." in text(wrong)
    assert is_in(there)
    assert here.post("/account/", {"what": "password", "old": PASSWORD, "new": "short"}).status_code == 422
    assert is_in(there)
    assert here.post("/account/", {"what": "password", "old": PASSWORD, "new": NEW}).status_code == 302
    assert is_in(here)
    assert not is_in(there)


@pytest.mark.parametrize("what", ["password", "mail"])
def test_guessing_ones_password_in_an_open_session_is_slowed_like_a_sign_in(house: House, what: str) -> None:
    client = house.client(E)
    body = {"what": what, "old": "guess-number-1", "password": "guess-number-1", "new": NEW, "email": GUEST}
    codes = [client.post("/account/", body).status_code for _ in range(5)]
    assert codes == [422, 422, 422, 422, 429]
    right = {**body, "old": PASSWORD, "password": PASSWORD}
    assert client.post("/account/", right).status_code == 429
    assert User.objects.get(pk=house.people[E].pk).email == house.people[E].email
    signed = FreshClient().post("/sign-in/", {"email": house.people[E].email, "password": PASSWORD})
    assert signed.status_code == 429


def test_ones_own_mail_address_wants_the_password_and_serves_the_next_sign_in(house: House) -> None:
    client = house.client(E)
    body = {"what": "mail", "email": "New.Self@Guest.example", "password": PASSWORD}
    assert client.post("/account/", {**body, "password": "wrong-password-1"}).status_code == 422
    assert client.post("/account/", {**body, "email": "no address"}).status_code == 422
    assert client.post("/account/", body).status_code == 302
    new = {"email": "new.self@guest.example", "password": PASSWORD}
    assert FreshClient().post("/sign-in/", new).status_code == 302
    assert acts(house)[-1] == "own mail changed"


def test_addresses_that_are_somebodys_cannot_be_tried_out_at_will(house: House, other_house: House) -> None:
    client = house.client(E)
    taken = other_house.people[M].email
    body = {"what": "mail", "email": taken, "password": PASSWORD}
    first = client.post("/account/", body)
    assert first.status_code == 422
    assert "cannot be used here" in text(first)
    assert other_house.company.name not in text(first)
    codes = [client.post("/account/", body).status_code for _ in range(4)]
    assert codes == [422, 422, 422, 429]
    assert client.post("/account/", {**body, "email": GUEST}).status_code == 429


def test_ones_own_name_is_changed_and_one_leaves_oneself_but_not_the_last_administrator(house: House) -> None:
    client = house.client(E)
    assert client.post("/account/", {"what": "name", "name": "Joss <b>Breck</b>"}).status_code == 302
    assert "Joss &lt;b&gt;Breck&lt;/b&gt;" in text(client.get("/account/"))
    assert client.post("/account/", {"what": "name", "name": " "}).status_code == 422
    assert client.post("/account/", {"what": "leave"})["Location"] == "/sign-in/"
    assert not is_in(client)
    assert (house.people[E].email, E, False) in members(house)
    admin = house.client(A)
    last = admin.post("/account/", {"what": "leave"})
    assert last.status_code == 409
    assert "only administrator" in text(last)
    assert is_in(admin)


def test_who_leaves_one_company_of_two_goes_on_in_the_other(house: House, other_house: House) -> None:
    with other_house.scope():
        commands.add_member(actor=other_house.administrator, person=house.people[E], role=F)
    client = house.client(E)
    assert client.post("/account/", {"what": "leave"})["Location"] == "/"
    assert "Quillback" in text(client.get("/account/"))


# ---------------------------------------------------------------- people on their page


def change(house: House, who: str, **body: Any) -> Any:
    """What an administrator does to the person of a role."""
    place = member_id(house, who)
    with house.scope():
        version = Membership.objects.get(pk=place).version
    address = reverse("person", kwargs={"member_id": place})
    return house.client(A).post(address, {"seen": version, **body})


def test_who_is_let_go_is_out_at_once_and_back_when_taken_back(house: House, other_house: House) -> None:
    with other_house.scope():
        commands.add_member(actor=other_house.administrator, person=house.people[E], role=F)
    client = house.client(E)
    assert "Ostley" in text(client.get("/account/"))
    assert change(house, E, what="go").status_code == 302
    assert "Quillback" in text(client.get("/account/"))  # the other company is not this one's to end
    assert "Ostley crew" not in text(client.get("/account/"))
    assert "<i>Ostley, </i>" not in text(client.get("/account/"))
    page = text(house.client(A).get("/people/"))
    assert "No longer here" in page
    assert change(house, E, what="back").status_code == 302
    assert (house.people[E].email, E, True) in members(house)
    with house.scope():
        assert queries.crew_ids_of(house.people[E].pk) == [house.crew.pk]
        assert acts(house)[-2:] == ["member let go", "member taken back"]


def test_roles_and_mail_addresses_are_changed_by_an_administrator_and_recorded(house: House) -> None:
    assert change(house, E, what="role", role=M).status_code == 302
    assert change(house, E, what="role", role="owner").status_code == 422
    assert change(house, E, what="mail", email=GUEST).status_code == 302
    assert (GUEST, M, True) in members(house)
    assert change(house, E, what="mail", email=house.people[F].email).status_code == 422
    assert change(house, A, what="role", role=E).status_code == 409
    assert change(house, A, what="go").status_code == 409
    assert change(house, E, what="paint").status_code == 422
    with house.scope():
        act = Act.objects.get(act="mail corrected")
        assert act.figures == {"before": house.people[E].email, "after": GUEST}
        assert Act.objects.get(act="role changed").figures == {"before": E, "role": M}


def test_the_second_of_two_administrators_is_told(scoped: House) -> None:
    place = member_id(scoped, E)
    commands.change_role(actor=scoped.administrator, member_id=place, role=F, seen=1)
    for act in (commands.change_role, commands.let_go):
        told = {"role": M} if act is commands.change_role else {}
        with pytest.raises(StaleVersion):
            act(actor=scoped.administrator, member_id=place, seen=1, **told)
    assert Membership.objects.get(pk=place).role == F


@pytest.mark.django_db(transaction=True)
def test_two_administrators_who_go_at_once_leave_one_behind(house: House) -> None:
    with house.scope():
        commands.change_role(actor=house.administrator, member_id=member_id(house, M), role=A)
    pairs = [(house.administrator, member_id(house, M)), (house.actors[M], member_id(house, A))]
    start = threading.Barrier(2)
    outcomes: list[str] = []

    def go(actor: Any, place: uuid.UUID) -> None:
        from dataclasses import replace

        start.wait(10)
        try:
            with house.scope():
                commands.let_go(actor=replace(actor, role=A), member_id=place)
            outcomes.append("gone")
        except Exception as error:
            outcomes.append(type(error).__name__)
        finally:
            connection.close()

    threads = [threading.Thread(target=go, args=pair) for pair in pairs]
    for each in threads:
        each.start()
    for each in threads:
        each.join(30)
    assert outcomes.count("gone") == 1, outcomes
    with house.scope():
        assert Membership.objects.filter(role=A, is_active=True).count() == 1


@pytest.mark.parametrize("count", [2, 200])
def test_lists_of_people_and_crews_take_two_queries_however_many_there_are(scoped: House, count: int) -> None:
    everybody = User.objects.bulk_create(
        [User(name=f"P{each}", email=f"p{each}@guest.example", password="!") for each in range(count)]
    )
    made = Membership.objects.bulk_create([Membership(person=each, role=E) for each in everybody])
    CrewMember.objects.bulk_create([CrewMember(crew=scoped.crew, membership=each) for each in made])
    for read, rows in ((queries.members, count + 4), (queries.crews_with_members, 1)):
        with CaptureQueriesContext(connection) as asked:
            found = read()
        assert (len(asked), len(found)) == (2, rows)
    assert len(queries.crew_with_members(scoped.crew.pk).people) == count + 2


# ---------------------------------------------------------------- crews


def test_a_crew_is_formed_changed_and_disbanded_on_its_page(house: House) -> None:
    admin = house.client(A)
    foreman, electrician = str(member_id(house, F)), str(member_id(house, E))
    formed = admin.post("/crews/", {"name": "Night", "member_ids": [foreman]})
    assert formed.status_code == 302
    with house.scope():
        crew = Crew.objects.get(name="Night")
    address = reverse("crew", kwargs={"crew_id": crew.pk})
    body = {"what": "change", "name": "Night shift", "member_ids": [electrician], "seen": "1"}
    assert admin.post(address, body).status_code == 302
    stale = admin.post(address, {**body, "name": "Dawn"})
    assert stale.status_code == 409
    assert "Somebody else changed this" in text(stale)
    with house.scope():
        found = queries.crew_with_members(crew.pk)
        assert (found.name, [each.person for each in found.people]) == ("Night shift", [house.people[E]])
    double = admin.post(address, {**body, "name": "Ostley crew", "seen": "2"})
    assert double.status_code == 422
    assert "there is a crew called Ostley crew already" in text(double)
    assert admin.post(address, {"what": "disband", "seen": "2"}).status_code == 302
    assert admin.get(address).status_code == 404
    assert admin.post("/crews/", {"name": "Night shift"}).status_code == 302  # the name is free again
    assert acts(house)[-4:] == ["crew formed", "crew changed", "crew disbanded", "crew formed"]


def test_a_crew_with_open_work_is_not_disbanded_and_says_what_it_has(scoped: House) -> None:
    plan = release(scoped)
    with pytest.raises(IllegalMove, match="07/1"):
        commands.disband_crew(actor=scoped.administrator, crew_id=scoped.crew.pk, seen=1)
    assert Crew.objects.get(pk=scoped.crew.pk).version == 1  # nothing of it was kept
    for piece in pieces_of_run(plan.run_id):
        for kind in ("cut", "bent", "checked", "installed"):
            told = {"verdict": "pass"} if kind == "checked" else {}
            tracking.tick_from_office(actor=scoped.electrician, piece_id=piece.pk, kind=kind, figures=told)
    commands.disband_crew(actor=scoped.administrator, crew_id=scoped.crew.pk, seen=1)
    assert queries.crews() == []
    with pytest.raises(NotFound):
        queries.crew(scoped.crew.pk)
    run = make_run(scoped, plan.run.room, label="08", former=plan.run.former)
    with pytest.raises(NotFound):
        release(scoped, run)


def test_a_crew_that_is_to_fix_is_not_disbanded_before_it_has_fixed(scoped: House) -> None:
    tower = commands.form_crew(actor=scoped.administrator, name="Tower", member_ids=[])
    run = make_run(scoped, make_room(scoped), former=make_former(scoped))
    projects.give_runs(
        actor=scoped.foreman, runs={run.pk: run.version}, crew_id=tower.pk, to_bend=False, to_fit=True
    )
    run.refresh_from_db()
    with pytest.raises(IllegalMove, match="named for 07, not released yet"):
        commands.disband_crew(actor=scoped.administrator, crew_id=tower.pk, seen=1)
    release(scoped, run)
    with pytest.raises(IllegalMove, match="07/1"):  # still to come: the bench has it now
        commands.disband_crew(actor=scoped.administrator, crew_id=tower.pk, seen=1)
    for piece in pieces_of_run(run.pk):
        for kind in ("cut", "bent", "checked"):
            told = {"verdict": "pass"} if kind == "checked" else {}
            tracking.tick_from_office(actor=scoped.electrician, piece_id=piece.pk, kind=kind, figures=told)
    with pytest.raises(IllegalMove, match="07/1"):
        commands.disband_crew(actor=scoped.administrator, crew_id=tower.pk, seen=1)
    commands.disband_crew(actor=scoped.administrator, crew_id=scoped.crew.pk, seen=1)  # the bench is done


def test_who_was_let_go_is_taken_into_no_crew(scoped: House) -> None:
    place = member_id(scoped, M)
    commands.let_go(actor=scoped.administrator, member_id=place)
    with pytest.raises(NotFound):
        commands.form_crew(actor=scoped.administrator, name="Night", member_ids=[place])
    with pytest.raises(NotFound):
        commands.change_crew(actor=scoped.administrator, crew_id=scoped.crew.pk, seen=1, member_ids=[place])


# ---------------------------------------------------------------- the API


def call(client: FreshClient, method: str, path: str, body: Any = None, **headers: str) -> Any:
    """Sends JSON."""
    return client.generic(
        method,
        f"/api/v1/{path}",
        b"" if body is None else json.dumps(body).encode(),
        content_type="application/json",
        headers={name.replace("_", "-"): value for name, value in headers.items()},
    )


def test_people_invitations_and_crews_over_the_api(house: House) -> None:
    admin = house.client(A)
    people = call(admin, "GET", "people").json()["items"]
    assert {(each["email"], each["role"]) for each in people} == {
        (house.people[role].email, role) for role in Role.values
    }
    joss = next(each for each in people if each["role"] == E)
    assert joss["crews"] == [{"id": str(house.crew.pk), "name": "Ostley crew"}]
    path = f"people/{joss['id']}"
    etag = call(admin, "GET", path)["ETag"]
    assert call(admin, "PATCH", path, {"role": M}).status_code == 428
    changed = call(admin, "PATCH", path, {"role": M}, If_Match=etag)
    assert (changed.status_code, changed.json()["role"], changed["ETag"]) == (200, M, '"2"')
    assert call(admin, "PATCH", path, {"role": E}, If_Match=etag).status_code == 412
    assert call(admin, "PATCH", path, {"role": E, "is_active": True}, If_Match='"2"').status_code == 422
    assert call(admin, "PATCH", path, {"email": GUEST}, If_Match='"2"').json()["email"] == GUEST
    gone = call(admin, "PATCH", path, {"is_active": False}, If_Match='"3"')
    assert gone.json()["is_active"] is False
    assert call(admin, "PATCH", path, {"is_active": True}, If_Match='"4"').json()["is_active"] is True
    link = call(admin, "POST", f"{path}/resets")
    assert link.status_code == 201
    assert opened(link.json()["token"], "reset").get("/reset/").status_code == 200

    made = call(admin, "POST", "invitations", {"email": "new@guest.example", "role": F})
    assert made.status_code == 201
    assert "Join Ostley" in text(opened(made.json()["token"]).get("/join/"))
    listed = call(admin, "GET", "invitations").json()["items"]
    assert [each["id"] for each in listed] == [made.json()["id"]]
    assert "token" not in listed[0]
    assert call(admin, "DELETE", f"invitations/{made.json()['id']}").status_code == 204
    assert call(admin, "DELETE", f"invitations/{made.json()['id']}").status_code == 409

    crew = call(admin, "POST", "crews", {"name": "Night", "members": [joss["id"]]})
    assert (crew.status_code, crew["ETag"]) == (201, '"1"')
    path = f"crews/{crew.json()['id']}"
    renamed = call(admin, "PATCH", path, {"name": "Dawn"}, If_Match='"1"')
    assert [each["id"] for each in renamed.json()["members"]] == [joss["id"]]
    assert call(admin, "PATCH", path, {"members": []}, If_Match='"2"').json()["members"] == []
    assert call(admin, "DELETE", path).status_code == 428
    assert call(admin, "DELETE", path, If_Match='"3"').status_code == 204
    assert call(admin, "GET", path).status_code == 404


def test_a_token_is_not_kept_for_a_request_that_is_sent_again(house: House) -> None:
    admin = house.client(A)
    asked = (
        ("invitations", {"email": GUEST, "role": F}),
        (f"people/{member_id(house, E)}/resets", None),
    )
    for path, body in asked:
        key = str(uuid.uuid4())
        first = call(admin, "POST", path, body, Idempotency_Key=key)
        again = call(admin, "POST", path, body, Idempotency_Key=key)
        assert (first.status_code, again.status_code) == (201, 201)
        assert again.json() == {**json.loads(first.content), "token": None}
        with house.scope():
            kept = json.dumps([list(map(str, each)) for each in KeptAnswer.objects.values_list()])
        assert first.json()["token"] not in kept
    assert acts(house)[-2:] == ["person invited", "reset link made"]


def test_oneself_over_the_api(house: House) -> None:
    client, elsewhere = house.client(E), house.client(E)
    assert call(client, "GET", "account").json()["email"] == house.people[E].email
    assert call(client, "PATCH", "account", {"name": "Joss"}).json()["name"] == "Joss"
    wrong = call(client, "POST", "account/password", {"old": "wrong-password-1", "new": NEW})
    assert (wrong.status_code, wrong.json()["problems"][0]["where"]) == (422, "old")
    assert call(client, "POST", "account/password", {"old": PASSWORD, "new": NEW}).status_code == 204
    assert call(elsewhere, "GET", "account").status_code == 403
    assert call(client, "POST", "account/mail", {"email": GUEST, "password": NEW}).json()["email"] == GUEST
    codes = [
        call(client, "POST", "account/mail", {"email": "a@b.example", "password": f"guess-{each}"})
        for each in range(5)
    ]
    assert [each.status_code for each in codes] == [422, 422, 422, 422, 429]
    assert codes[-1]["Content-Type"] == "application/problem+json"
    assert codes[-1]["Retry-After"] == "900"
    assert call(client, "POST", "account/leave").status_code == 204
    assert call(client, "GET", "account").status_code == 403


ADMINISTRATORS = (
    ("GET", "people"), ("GET", "people/{member}"), ("PATCH", "people/{member}"),
    ("POST", "people/{member}/resets"), ("GET", "invitations"), ("POST", "invitations"),
    ("DELETE", "invitations/{member}"), ("POST", "crews"), ("GET", "crews/{crew}"),
    ("PATCH", "crews/{crew}"), ("DELETE", "crews/{crew}"), ("GET", "settings"), ("PATCH", "settings"),
)  # fmt: skip


@pytest.mark.parametrize("role", [E, F, M])
@pytest.mark.parametrize(("method", "path"), ADMINISTRATORS)
def test_what_is_the_administrators_is_refused_to_others_over_the_api(
    house: House, role: str, method: str, path: str
) -> None:
    before = acts(house)
    where = path.format(member=member_id(house, E), crew=house.crew.pk)
    assert call(house.client(role), method, where, {}, If_Match='"1"').status_code == 403
    assert acts(house) == before


# ---------------------------------------------------------------- the pages themselves


@pytest.fixture
def pages(house: House) -> list[str]:
    """Every page of this kind that an administrator may open."""
    token = invited(house, crew_ids=[house.crew.pk])
    assert token
    with house.scope():
        commands.let_go(actor=house.administrator, member_id=member_id(house, M))
    return [
        "/people/", "/crews/", "/settings/", "/rights/", "/account/", "/join/", "/reset/",
        reverse("person", kwargs={"member_id": member_id(house, E)}),
        reverse("person", kwargs={"member_id": member_id(house, M)}),
        reverse("person", kwargs={"member_id": member_id(house, A)}),
        reverse("crew", kwargs={"crew_id": house.crew.pk}),
    ]  # fmt: skip


def test_no_page_of_people_has_what_a_strict_policy_blocks(house: House, pages: list[str]) -> None:
    client = house.client(A)
    for address in pages:
        answer = client.get(address)
        assert answer.status_code == 200, address
        assert judged(text(answer)) == [], address
        assert "no-store" in answer["Cache-Control"]
    for door, token in (("join", invited(house, "x@guest.example")), ("reset", reset_token(house))):
        browser = opened(token, door)
        assert judged(text(browser.get(f"/{door}/"))) == [], door


def test_the_page_of_rights_says_what_the_table_says_in_words(house: House) -> None:
    assert set(SAID) == set(RIGHTS) == set(Right)
    page = text(house.client(E).get("/rights/"))
    rows = dict(re.findall(r'<tr><th scope="row">(.*?)</th>(.*?)</tr>', page, re.DOTALL))
    for right, said in SAID.items():
        cells = re.findall(r'<td class="wide">(.*?)</td>', rows[str(said)], re.DOTALL)
        held = {role for role, cell in zip(Role.values, cells, strict=True) if "<b>yes</b>" in cell}
        assert held == RIGHTS[right], right
    with house.scope():
        commands.change_settings(actor=house.administrator, seen=1, foreman_sees_money=True)
    page = text(house.client(F).get("/rights/"))
    row = next(each for each in page.split("<tr>") if str(SAID[Right.SEE_MONEY]) in each)
    assert row.count("<b>yes</b>") == len(RIGHTS[Right.SEE_MONEY]) + 1


def test_only_who_may_is_led_to_the_companys_pages(house: House) -> None:
    assert 'href="/people/"' in text(house.client(A).get("/"))
    for role in (E, F, M):
        assert 'href="/people/"' not in text(house.client(role).get("/"))
        for address in ("/people/", "/crews/", "/settings/"):
            assert house.client(role).get(address).status_code == 403


def test_nothing_of_another_company_is_on_the_pages_of_people(house: House, other_house: House) -> None:
    """A person of both is shown with what is this company's alone."""
    with other_house.scope():
        commands.add_member(actor=other_house.administrator, person=house.people[E], role=F)
        commands.form_crew(
            actor=other_house.administrator,
            name="Quillback night",
            member_ids=[Membership.objects.get(person=house.people[E]).pk],
        )
    client = house.client(A)
    place = reverse("person", kwargs={"member_id": member_id(house, E)})
    for address in ("/people/", "/crews/", place, "/api/v1/people"):
        assert "Quillback" not in text(client.get(address)), address
    with across_companies(reason="a test counts"):
        assert Membership.objects.filter(person=house.people[E]).count() == 2
