"""The API's description: valid by its specification, whole, and true of what the service answers."""

import json
from collections.abc import Iterator, Mapping
from typing import Any

import jsonschema
import pytest
from django.db import transaction
from django.urls import get_resolver
from drf_spectacular.drainage import GENERATOR_STATS
from factories import FreshClient, House
from openapi_spec_validator import OpenAPIV31SpecValidator
from rest_framework.views import APIView
from test_walls import OWN, address_of, filled, send, text_of
from walls import TABLE, furnish

from services.company.rights import Right
from services.core import openapi, problems
from services.pages.reference import reference

METHODS = ("get", "post", "put", "patch", "delete")
DESCRIPTION = "/api/v1/openapi.json"


def views() -> Iterator[tuple[str, str, type[APIView]]]:
    """Every view of the API: its name, its address as the description writes it, its class."""
    for part in get_resolver().url_patterns:
        if str(part.pattern) == "api/v1/":
            for each in part.url_patterns:  # type: ignore[union-attr]
                kind = getattr(each.callback, "cls", None)
                if kind is not None:
                    path = str(each.pattern).replace("<uuid:", "{").replace(">", "}")
                    yield each.name, f"/api/v1/{path}", kind


PATHS = {name: path for name, path, _kind in views()}


def operations() -> Iterator[tuple[str, str, Mapping[str, Any]]]:
    """Every operation of the description."""
    for path, methods in openapi.document()["paths"].items():
        for method in methods:
            yield path, method, methods[method]


def told(name: str, verb: str) -> Mapping[str, Any]:
    """What the description says of a route's method."""
    operation: Mapping[str, Any] = openapi.document()["paths"][PATHS[name]][verb.lower()]
    return operation


def judge(schema: Mapping[str, Any], value: Any) -> list[str]:
    """What is wrong with a value by a schema of the description."""
    whole = {**schema, "components": openapi.document()["components"]}
    checker = jsonschema.Draft202012Validator(
        whole, format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
    )
    return [
        f"{'.'.join(map(str, each.absolute_path))}: {each.message[:300]}"
        for each in checker.iter_errors(value)
    ]


def parameters(operation: Mapping[str, Any], where: str) -> dict[str, Mapping[str, Any]]:
    """Those of an operation, by name."""
    return {each["name"]: each for each in operation.get("parameters", []) if each["in"] == where}


# ---------------------------------------------------------------- valid and whole


def test_the_description_is_valid_by_the_specification_of_openapi_3_1() -> None:
    """Judged by openapi-spec-validator, which carries the schema that the OpenAPI Initiative publishes."""
    document = openapi.document()
    assert document["openapi"].startswith("3.1.")
    assert [each.message for each in OpenAPIV31SpecValidator(document).iter_errors()] == []
    json.dumps(document)


def test_the_validator_finds_what_is_not_valid() -> None:
    broken = {**openapi.document(), "paths": {"/api/v1/x": {"get": {"responses": {"200": {}}}}}}
    assert list(OpenAPIV31SpecValidator(broken).iter_errors()) != []


def test_the_generator_had_nothing_to_guess() -> None:
    openapi.document.cache_clear()
    openapi.document()
    assert dict(GENERATOR_STATS._warn_cache) == {}
    assert dict(GENERATOR_STATS._error_cache) == {}


def test_every_view_is_in_it_with_each_method_and_nothing_else_is() -> None:
    there = {(path, method) for _name, path, kind in views() for method in METHODS if hasattr(kind, method)}
    assert {(path, method) for path, method, _told in operations()} == there
    assert len(there) > 50


def test_the_rights_are_those_of_the_views() -> None:
    for _name, path, kind in views():
        for method, right in kind.rights.items():  # type: ignore[attr-defined]
            operation = openapi.document()["paths"][path][method.lower()]
            assert operation["x-right"] == right.value
            assert f"“{right.value}”" in operation["description"]
    assert {each["x-right"] for _path, _method, each in operations()} <= {each.value for each in Right}


def test_every_operation_says_what_it_is_and_no_two_alike() -> None:
    summaries, ids = [], []
    for path, method, each in operations():
        where = f"{method} {path}"
        assert each["summary"], where
        assert len(each["description"]) > 30, where
        assert each["tags"], where
        assert {"403", "503"} <= set(each["responses"]), where
        summaries.append(each["summary"])
        ids.append(each["operationId"])
        good = [answer for status, answer in each["responses"].items() if status < "300"]
        assert good, where
        for answer in good:
            assert answer.get("content") or next(iter(each["responses"])) == "204", where
    assert sorted(set(summaries)) == sorted(summaries)
    assert sorted(set(ids)) == sorted(ids)


def test_every_refusal_that_the_service_has_is_described_with_its_code() -> None:
    said = {
        name.removeprefix("Problem"): answer["description"]
        for name, answer in openapi.document()["components"]["responses"].items()
    }
    for kind, status in problems.STATUS.items():
        assert f"`{kind.code}`" in said[str(status)]


# ---------------------------------------------------------------- examples


def test_every_example_is_of_the_shape_that_it_is_an_example_of() -> None:
    seen = 0
    for path, method, each in operations():
        contents = [each.get("requestBody", {}).get("content", {})]
        contents += [answer.get("content", {}) for answer in each["responses"].values()]
        for content in contents:
            for body in content.values():
                if "example" in body:
                    seen += 1
                    assert judge(body["schema"], body["example"]) == [], f"{method} {path}"
    for answer in openapi.document()["components"]["responses"].values():
        (body,) = answer["content"].values()
        assert judge(body["schema"], body["example"]) == []
    assert seen > 90


def test_every_example_of_a_body_is_taken_by_the_form_that_reads_it() -> None:
    seen = 0
    for _name, path, kind in views():
        for method in METHODS:
            said = getattr(getattr(kind, method, None), "operation", None)
            if said is None or said.takes is None or said.example is None:
                continue
            seen += 1
            form = said.takes(data=said.example)
            assert form.is_valid(), f"{method} {path}: {form.errors}"
            content = openapi.document()["paths"][path][method]["requestBody"]["content"]
            assert content["application/json"]["example"] == said.example
    assert seen > 20


def test_every_json_body_has_an_example() -> None:
    for path, method, each in operations():
        for media_type, body in each.get("requestBody", {}).get("content", {}).items():
            assert media_type != "application/json" or "example" in body, f"{method} {path}"


# ---------------------------------------------------------------- true of what is answered

API = [(name, verb) for name, verb in OWN if name in PATHS]


@pytest.fixture
def ours(house: House) -> Mapping[str, Any]:
    """One of everything."""
    return furnish(house)


def test_every_answer_is_as_described(house: House, ours: Mapping[str, Any]) -> None:
    """Each try of the walls' table, with rows of one's own: body, status, ETag, media type."""
    wrong = []
    for name, verb in API:
        tried, operation = TABLE[name].tries[verb], told(name, verb)
        if tried.body and not tried.file:
            schema = operation["requestBody"]["content"]["application/json"]["schema"]
            wrong += [f"{verb} {name}, sent: {each}" for each in judge(schema, filled(tried.body, ours))]
        point = transaction.savepoint()
        response = send(house.client(tried.role), verb, address_of(name, ours), tried, ours)
        transaction.savepoint_rollback(point)
        answer = operation["responses"].get(str(response.status_code))
        if answer is None or "$ref" in answer:
            wrong.append(f"{verb} {name}: {response.status_code} {text_of(response)[:300]}")
            continue
        wrong += [f"{verb} {name}: {each}" for each in misfits(response, answer)]
    assert not wrong, "\n".join(wrong)
    assert len(API) > 50


def misfits(response: Any, answer: Mapping[str, Any]) -> Iterator[str]:
    """What of an answer is not as described."""
    if ("ETag" in answer["headers"]) != response.has_header("ETag"):
        yield f"ETag {response.headers.get('ETag')}"
    if "content" not in answer:
        if response.content:
            yield "a body"
        return
    media_type = response["Content-Type"].partition(";")[0]
    body = answer["content"].get(media_type)
    if body is None:
        yield media_type
    elif media_type == "application/json":
        yield from judge(body["schema"], json.loads(response.content))


def test_what_is_had_already_is_not_told_again_where_that_is_said(
    house: House, ours: Mapping[str, Any]
) -> None:
    said = [(name, verb) for name, verb in API if "If-None-Match" in parameters(told(name, verb), "header")]
    assert said == [("api-chart", "GET")]
    client, path = house.client("foreman"), address_of("api-chart", ours)
    again = client.get(path, headers={"If-None-Match": client.get(path)["ETag"]})
    assert again.status_code == 304
    assert list(misfits(again, told("api-chart", "GET")["responses"]["304"])) == []


def test_what_is_not_as_described_is_found(house: House, ours: Mapping[str, Any]) -> None:
    """Without this the test above might be judging by nothing."""
    answer = told("api-project", "GET")["responses"]["200"]
    response = house.client("foreman").get(address_of("api-project", ours))
    assert list(misfits(response, answer)) == []
    body = response.json()
    schema = answer["content"]["application/json"]["schema"]
    assert judge(schema, {**body, "stranger": 1}) != []
    assert judge(schema, {name: value for name, value in body.items() if name != "code"}) != []
    assert judge(schema, {**body, "id": "1"}) != []
    assert judge(schema, {**body, "version": "1"}) != []
    other = told("api-projects", "GET")["responses"]["200"]
    assert list(misfits(response, other)) != []


def test_if_match_is_needed_where_it_is_said_to_be_and_nowhere_else(
    house: House, ours: Mapping[str, Any]
) -> None:
    for name, verb in API:
        if verb == "GET" or TABLE[name].tries[verb].file:
            continue
        tried, operation = TABLE[name].tries[verb], told(name, verb)
        client = house.client(tried.role)
        client.raise_request_exception = False
        point = transaction.savepoint()
        body = json.dumps(filled(tried.body or {}, ours)).encode()
        response = client.generic(verb, address_of(name, ours), body, content_type="application/json")
        transaction.savepoint_rollback(point)
        needed = parameters(operation, "header").get("If-Match", {}).get("required", False)
        assert (response.status_code == 428) == needed, f"{verb} {name}: {text_of(response)[:300]}"
        assert needed == ("428" in operation["responses"])


def test_a_key_is_heeded_where_it_is_said_to_be_and_nowhere_else(
    house: House, ours: Mapping[str, Any]
) -> None:
    for name, verb in API:
        if verb == "GET" or TABLE[name].tries[verb].file:
            continue
        tried, operation = TABLE[name].tries[verb], told(name, verb)
        client = house.client(tried.role)
        client.raise_request_exception = False
        point = transaction.savepoint()
        body = json.dumps(filled(tried.body or {}, ours)).encode()
        headers = {"If-Match": '"2"', "Idempotency-Key": "none"}
        response = client.generic(
            verb, address_of(name, ours), body, content_type="application/json", headers=headers
        )
        transaction.savepoint_rollback(point)
        heeded = "Idempotency-Key" in parameters(operation, "header")
        assert (response.status_code == 400) == heeded, f"{verb} {name}: {text_of(response)[:300]}"


@pytest.mark.parametrize(
    ("role", "path", "status"),
    [
        ("foreman", "/api/v1/projects?limit=0", 400),
        ("electrician", "/api/v1/people", 403),
        ("foreman", "/api/v1/projects/0190f3a0-5c1e-7000-8000-000000000000", 404),
    ],
)
def test_a_refusal_is_of_the_shape_of_a_problem(house: House, role: str, path: str, status: int) -> None:
    response = house.client(role).get(path)
    assert response.status_code == status
    assert judge({"$ref": "#/components/schemas/Problem"}, response.json()) == []


# ---------------------------------------------------------------- served


def test_it_is_served_to_who_is_signed_in_and_to_nobody_else(house: House) -> None:
    for role in ("electrician", "foreman", "manager", "administrator"):
        response = house.client(role).get(DESCRIPTION)
        assert response.status_code == 200
        assert response.json() == json.loads(json.dumps(openapi.document()))
    assert FreshClient().get(DESCRIPTION).status_code == 403
    page = FreshClient().get("/api/v1/")
    assert page.status_code == 302
    assert page["Location"].startswith("/sign-in/")


def test_it_is_the_same_for_every_company_and_names_none_of_theirs(house: House, other_house: House) -> None:
    furnish(house)
    ours, theirs = (each.client("foreman").get(DESCRIPTION).content for each in (house, other_house))
    assert ours == theirs
    assert str(house.company.pk).encode() not in ours


def test_the_page_tells_every_operation_and_every_shape_without_a_script(house: House) -> None:
    response = house.client("electrician").get("/api/v1/")
    assert response.status_code == 200
    assert response["Content-Type"].startswith("text/html")
    page = response.content.decode()
    for path, method, each in operations():
        assert f'id="{each["operationId"]}"' in page, f"{method} {path}"
        assert path in page
    for name in openapi.document()["components"]["schemas"]:
        assert f'id="shape-{name}"' in page
    assert "<style" not in page
    assert ' style="' not in page
    assert "http://" not in page.replace("http://testserver", "")
    assert "unsafe" not in response["Content-Security-Policy"]


def test_every_link_within_the_page_leads_somewhere(house: House) -> None:
    page = house.client("electrician").get("/api/v1/").content.decode()
    targets = {part.partition('"')[0] for part in page.split('href="#')[1:]}
    ids = {part.partition('"')[0] for part in page.split(' id="')[1:]}
    assert len(targets) > 30
    assert targets - ids == set()


def test_the_page_lays_out_fields_with_their_places() -> None:
    shapes = {each.name: each for each in reference().shapes}
    fields = {each.name: each for each in shapes["Survey"].fields}
    assert fields["runs[].label"].kind == "string"
    assert fields["units"].kind == "mm, in, null"
    assert not {each.name: each for each in shapes["Row"].fields}["rise_mm"].is_required
    assert {each.name: each for each in shapes["JobReview"].fields}["runs[]"].shape == "RunScrap"
