"""No company ever sees or moves a trace of another: every address and verb is walked with the other's
rows."""

import json
import re
import uuid
from collections.abc import Mapping
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import models
from django.urls import reverse
from factories import FreshClient, House
from walls import SENTINEL, TABLE, VERBS, Try, furnish, plant, routes, state_of

from services.company.models import Role
from services.core.scoping import ScopedManager

ROUTES = dict(routes())
FOR_SOMEBODY = [*Role.values, ""]
"""Everybody of ours, and a stranger."""

CHANGING = ("POST", "PUT", "PATCH", "DELETE")

UUID = re.compile(r"[0-9a-f]{8}(?:-[0-9a-f]{4}){3}-[0-9a-f]{12}")


def address_of(name: str, names: Mapping[str, Any]) -> str:
    """The address with these rows in it."""
    parts = {}
    for part in ROUTES[name].pattern.converters:
        known = TABLE[name].instead.get(part, part.removesuffix("_id"))
        parts[part] = names[known]
    return reverse(name, kwargs=parts)


def filled(pattern: Any, names: Mapping[str, Any]) -> Any:
    """A body with these rows in it."""
    if isinstance(pattern, str):
        return pattern.format(**names) if "{" in pattern else pattern
    if isinstance(pattern, Mapping):
        return {key: filled(value, names) for key, value in pattern.items()}
    if isinstance(pattern, list):
        return [filled(value, names) for value in pattern]
    return pattern


def send(client: FreshClient, verb: str, path: str, tried: Try | None, names: Mapping[str, Any]) -> Any:
    """Sends one request: JSON to the API, a form to a page. A verb that has no try gets every name there
    is."""
    client.raise_request_exception = False
    body = filled(tried.body if tried and tried.body is not None else {}, names)
    if not body and verb in ("POST", "PUT", "PATCH"):
        body = {each: str(value) for each, value in names.items()}
    query = filled(tried.query, names) if tried else ""
    if query:
        path = f"{path}?{query}"
    if tried and tried.file is not None:
        return client.post(path, {**(tried.body or {}), "file": SimpleUploadedFile("a.csv", tried.file)})
    if path.startswith("/api/"):
        return client.generic(
            verb,
            path,
            json.dumps(body).encode(),
            content_type="application/json",
            headers={"If-Match": '"2"'},
        )
    if verb == "POST":
        return client.post(path, body)
    return client.generic(verb, path)


def text_of(response: Any) -> str:
    """All that came back, headers too."""
    content = b"".join(response.streaming_content) if response.streaming else response.content
    return (
        "\n".join(f"{name}: {value}" for name, value in response.items())
        + "\n"
        + content.decode("utf-8", "replace")
    )


def trace_of(text: str, their_ids: set[str], sent: Mapping[str, Any]) -> list[str]:
    """What of the other company is in a text, beyond what was sent."""
    known = {str(value) for value in sent.values()}
    found = [each for each in UUID.findall(text.lower()) if each in their_ids and each not in known]
    return found + re.findall(rf"{SENTINEL}[^<\"]{{0,20}}", text, re.IGNORECASE)


# ---------------------------------------------------------------- the table itself


def test_every_address_has_a_name_and_stands_in_the_table() -> None:
    names = [name for name, _pattern in routes()]
    assert "" not in names
    assert sorted(names) == sorted(set(names)), "two addresses share a name"
    assert set(names) == set(TABLE)


@pytest.fixture
def ours(house: House) -> Mapping[str, Any]:
    """Our rows."""
    return furnish(house)


OWN = [(name, verb) for name, address in TABLE.items() for verb in address.tries]


@pytest.mark.parametrize(("name", "verb"), OWN)
def test_with_ones_own_rows_every_try_of_the_table_works(
    house: House, ours: Mapping[str, Any], name: str, verb: str
) -> None:
    """Without this the walk below might be walking into nothing."""
    tried = TABLE[name].tries[verb]
    client = house.client(tried.role) if tried.role else FreshClient()
    response = send(client, verb, address_of(name, ours), tried, ours)
    assert response.status_code == tried.ok, text_of(response)[:3000]
    if response.status_code == 302:
        assert "/sign-in" not in response["Location"] or name == "sign-out"


@pytest.mark.parametrize("name", sorted(TABLE))
def test_a_verb_that_is_not_in_the_table_is_refused(house: House, ours: Mapping[str, Any], name: str) -> None:
    address = TABLE[name]
    role = next(iter(address.tries.values())).role
    for verb in VERBS:
        if verb in address.tries or (verb == "HEAD" and "GET" in address.tries):
            continue
        client = house.client(role) if role else FreshClient()
        response = send(client, verb, address_of(name, ours), None, ours)
        assert response.status_code in (403, 405), f"{verb}: {text_of(response)[:500]}"


# ---------------------------------------------------------------- the walk


@pytest.mark.parametrize("name", sorted(TABLE))
def test_no_address_gives_or_moves_anything_of_another_company(
    house: House, other_house: House, ours: Mapping[str, Any], name: str
) -> None:
    theirs = furnish(other_house)
    their_ids = plant(other_house)
    before = state_of(other_house)
    address = TABLE[name]
    has_parts = bool(ROUTES[name].pattern.converters)
    for role in FOR_SOMEBODY:
        for verb in VERBS:
            tried = address.tries.get(verb) or (address.tries.get("GET") if verb == "HEAD" else None)
            for names in _whose(name, verb, theirs, ours):
                client = house.client(role) if role else FreshClient()
                response = send(client, verb, address_of(name, names), tried, names)
                where = f"{verb} as {role or 'a stranger'}: {response.status_code}"
                text = text_of(response)
                assert trace_of(text, their_ids, names) == [], where
                assert response.status_code < 500, f"{where} {text[:2000]}"
                if names is theirs and has_parts:
                    allowed = {404, 403, 405} | ({302} if not role and not name.startswith("api-") else set())
                    assert response.status_code in allowed, f"{where} {text[:2000]}"
                if not role and not address.is_open:
                    _is_refused_to_strangers(response, where)
                if verb in CHANGING:
                    _shows_nothing_afterwards(client, their_ids, where)
    assert state_of(other_house) == before


def _whose(
    name: str, verb: str, theirs: Mapping[str, Any], ours: Mapping[str, Any]
) -> list[Mapping[str, Any]]:
    """The other's rows everywhere; and, where there is a body, the other's in it alone and our own in the
    address."""
    return [theirs, {**theirs, **_own_parts(name, ours)}] if verb in CHANGING else [theirs]


def _own_parts(name: str, ours: Mapping[str, Any]) -> dict[str, Any]:
    """The names that stand in the address itself: with our own there, only the body speaks of the other's
    rows."""
    parts = [
        TABLE[name].instead.get(part, part.removesuffix("_id")) for part in ROUTES[name].pattern.converters
    ]
    return {part: ours[part] for part in parts}


def _is_refused_to_strangers(response: Any, where: str) -> None:
    assert response.status_code in (302, 403, 405), where
    if response.status_code == 302:
        assert response["Location"].startswith("/sign-in/"), where


def _shows_nothing_afterwards(client: FreshClient, their_ids: set[str], where: str) -> None:
    """A request may have changed the session: it must not have led into the other company."""
    page = client.get("/api/v1/projects")
    assert trace_of(text_of(page), their_ids, {}) == [], where


@pytest.mark.parametrize(
    "name", ["project", "run", "piece", "stock", "api-project", "api-rows", "api-projects"]
)
def test_the_walk_finds_a_wall_that_is_down(
    house: House, other_house: House, ours: Mapping[str, Any], name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With scoping switched off, each of these addresses gives or moves something, and what the walk looks at
    says so."""
    theirs = furnish(other_house)
    their_ids = plant(other_house)
    before = state_of(other_house)
    monkeypatch.setattr(ScopedManager, "get_queryset", models.Manager.get_queryset)
    found: list[str] = []
    for verb, tried in TABLE[name].tries.items():
        response = send(house.client(tried.role), verb, address_of(name, theirs), tried, theirs)
        found += trace_of(text_of(response), their_ids, theirs)
    assert found or state_of(other_house) != before


@pytest.mark.parametrize(
    "name", sorted(name for name in TABLE if ROUTES.get(name) and ROUTES[name].pattern.converters)
)
def test_another_companys_row_is_answered_like_one_that_there_is_not(
    house: House, other_house: House, ours: Mapping[str, Any], name: str
) -> None:
    theirs = furnish(other_house)
    nobodys = {each: uuid.uuid4() for each in theirs}
    for verb, tried in TABLE[name].tries.items():
        answers = []
        for names in (theirs, nobodys):
            response = send(house.client(tried.role), verb, address_of(name, names), tried, names)
            text = UUID.sub("(id)", text_of(response))
            answers.append((response.status_code, re.sub(r'value="[A-Za-z0-9]{64}"', "(token)", text)))
        assert answers[0] == answers[1], verb
