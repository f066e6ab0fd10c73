"""Whatever is typed or sent, the answer says what is wrong; it is never our own failure."""

import json
from collections.abc import Iterator, Mapping
from typing import Any

import pytest
from django.db import transaction
from factories import House
from test_walls import OWN, address_of, filled, text_of
from walls import TABLE, furnish

TYPED = (
    "",
    " ",
    "\x00",
    "a\x00b",
    "x" * 5000,
    "-1",
    "0",
    "1e999",
    "NaN",
    "9" * 400,
    "٣",
    "½",
    "\u202e\u0007",
    "<script>alert(1)</script>",
    "';--",
    "00000000-0000-0000-0000-000000000000",
    "2026-02-30",
    "0001-01-01",
)
"""What a form may hold."""

SENT: tuple[Any, ...] = (*TYPED, None, True, -1, 0, 1.5, 1e308, 10**300, [], {}, [[]], {"a": {"b": [1]}})
"""What JSON may hold beside that."""


def places(body: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[Any, ...]]:
    """Every place of a body, the inner ones too."""
    for key, value in body.items() if isinstance(body, Mapping) else enumerate(body):
        yield (*path, key)
        if isinstance(value, (Mapping, list)):
            yield from places(value, (*path, key))


def replaced(body: Any, path: tuple[Any, ...], value: Any) -> Any:
    """The body with another value at one place."""
    if not path:
        return value
    made = dict(body) if isinstance(body, Mapping) else list(body)
    made[path[0]] = replaced(made[path[0]], path[1:], value)
    return made


@pytest.mark.parametrize(
    ("name", "verb"),
    [(name, verb) for name, verb in OWN if TABLE[name].tries[verb].body and name != "sign-out"],
)
def test_a_bad_value_at_any_place_of_a_body_is_answered(house: House, name: str, verb: str) -> None:
    ours = furnish(house)
    tried = TABLE[name].tries[verb]
    body = filled(tried.body, ours)
    path = address_of(name, ours)
    is_api = path.startswith("/api/")
    client = house.client(tried.role or "foreman")
    if not tried.role:
        client.logout()
    client.raise_request_exception = False
    for place in places(body):
        for value in SENT if is_api else TYPED:
            bad = replaced(body, place, value)
            point = transaction.savepoint()
            if is_api:
                response = client.generic(
                    verb,
                    path,
                    json.dumps(bad).encode(),
                    content_type="application/json",
                    headers={"If-Match": '"2"'},
                )
            else:
                response = client.post(path, bad)
            transaction.savepoint_rollback(point)
            where = f"{place} = {value!r:.60}: {response.status_code}"
            assert response.status_code < 500, f"{where} {text_of(response)[:600]}"
            if is_api and response.status_code >= 400:
                assert response["Content-Type"] == "application/problem+json", where
                assert response.json()["detail"], where


QUERIES = (
    "x=%00",
    "cause=%00",
    "run=%00",
    "kind=%00&cause=%00&run=%00",
    "cursor=%00&limit=%00",
    "step=%00&next=%00",
    "run=x&cause=" + "x" * 3000,
)


@pytest.mark.parametrize("name", sorted(name for name in TABLE if "GET" in TABLE[name].tries))
def test_a_bad_query_is_answered(house: House, name: str) -> None:
    ours = furnish(house)
    role = TABLE[name].tries["GET"].role
    client = house.client(role or "foreman")
    client.raise_request_exception = False
    for query in QUERIES:
        point = transaction.savepoint()
        response = client.get(f"{address_of(name, ours)}?{query}")
        transaction.savepoint_rollback(point)
        assert response.status_code < 500, f"{query}: {text_of(response)[:600]}"
