"""Errors as answers: one status a class, problem details for programs, nothing of our insides for anybody."""

import json
from typing import Any

import pytest
from django.db import OperationalError, connections
from factories import FreshClient, House

from services.core import errors, faults, problems

pytestmark = [pytest.mark.django_db, pytest.mark.urls("probe_urls")]


def leaves(root: type[errors.DomainError]) -> list[type[errors.DomainError]]:
    """Every class below the root."""
    return [each for child in root.__subclasses__() for each in (child, *leaves(child))]


def quiet(client: FreshClient) -> FreshClient:
    """Answers as a server would, where the test client would raise the error anew."""
    client.raise_request_exception = False
    return client


def told(response: Any, status: int) -> dict[str, Any]:
    """The problem details of an answer, checked for what all have."""
    assert response.status_code == status, response.content
    assert response["Content-Type"] == "application/problem+json"
    body = json.loads(response.content)
    assert body["status"] == status
    assert body["type"].startswith("urn:stickbook:problem:")
    assert body["title"]
    assert body["detail"]
    assert body["instance"] == response["X-Request-Id"]
    assert "SECRET" not in response.content.decode()
    return body


def test_every_error_class_has_its_status() -> None:
    assert set(problems.STATUS) == set(leaves(errors.DomainError))


def test_no_two_error_classes_share_a_code_or_a_title() -> None:
    classes = leaves(errors.DomainError)
    assert len({each.code for each in classes}) == len(classes)
    assert len({each.title for each in classes}) == len(classes)


def test_the_statuses_are_those_of_the_specification() -> None:
    """400 malformed, 404 absent or not yours, 409 not from this state, 412 failed If-Match, 422 well formed
    but not
    allowed (house style); 413, 428, 429 and 503: RFC 9110 15.5.14, RFC 6585 sections 3 and 4, RFC 9110
    15.6.4."""
    by_code = {each.code: status for each, status in problems.STATUS.items()}
    assert by_code == {
        "malformed": 400,
        "not-allowed": 403,
        "token-missing": 403,
        "not-found": 404,
        "illegal-move": 409,
        "still-running": 409,
        "run-has-stops": 409,
        "stale-version": 412,
        "too-large": 413,
        "cannot-plan": 422,
        "invalid": 422,
        "key-reused": 422,
        "version-missing": 428,
        "too-many-tries": 429,
        "unavailable": 503,
    }


@pytest.mark.parametrize("view", ["fails", "probe"])
@pytest.mark.parametrize(
    ("how", "status", "code"),
    [
        ("away", 503, "unavailable"),
        ("cut", 503, "unavailable"),
        ("absent", 404, "not-found"),
        ("denied", 403, "not-allowed"),
        ("odd", 400, "malformed"),
        ("slip", 500, "unexpected"),
        ("illegal", 409, "illegal-move"),
        ("invalid", 422, "invalid"),
    ],
)
def test_the_api_answers_every_failure_as_a_problem(
    house: House, view: str, how: str, status: int, code: str
) -> None:
    response = quiet(house.client("foreman")).get(f"/api/v1/{view}/{how}")
    body = told(response, status)
    assert body["type"] == f"urn:stickbook:problem:{code}"
    assert response.has_header("Retry-After") == (status == 503)


def test_figures_and_bad_inputs_stand_in_the_problem(house: House) -> None:
    client = house.client("foreman")
    assert told(client.get("/api/v1/probe/illegal"), 409)["state"] == "released"
    assert told(client.get("/api/v1/probe/invalid"), 422)["problems"] == [
        {"where": "rows[2].angle_deg", "text": "is 190; allowed is above 0 to below 180", "code": "range"}
    ]


@pytest.mark.parametrize(
    ("how", "status"), [("away", 503), ("absent", 404), ("denied", 403), ("odd", 400), ("illegal", 409)]
)
def test_a_page_tells_a_person_the_same(house: House, how: str, status: int) -> None:
    response = quiet(house.client("foreman")).get(f"/fails/{how}")
    assert response.status_code == status
    assert response["Content-Type"].startswith("text/html")
    assert "SECRET" not in response.content.decode()
    assert response["X-Request-Id"] in response.content.decode()
    assert response.has_header("Retry-After") == (status == 503)


def test_the_unexpected_is_a_bare_500_with_a_reference_to_quote(
    house: House, caplog: pytest.LogCaptureFixture
) -> None:
    response = quiet(house.client("foreman")).get("/fails/slip")
    assert response.status_code == 500
    text = response.content.decode()
    assert response["X-Request-Id"] in text
    assert "SECRET" not in text
    assert "ZeroDivision" not in text
    ours = [each for each in caplog.records if each.name == "stickbook.problems"]
    assert [each.getMessage() for each in ours] == [f"unexpected, reference {response['X-Request-Id']}"]
    assert "SECRET-DETAIL" in caplog.text


def test_an_address_that_there_is_not_is_a_problem_too(house: House) -> None:
    told(house.client("foreman").get("/api/v1/no/such/thing"), 404)
    told(FreshClient().get("/api/v1/no/such/thing"), 404)
    page = house.client("foreman").get("/no/such/thing")
    assert page.status_code == 404
    assert "text/html" in page["Content-Type"]


def test_a_stranger_is_refused_by_the_api_before_anything_is_looked_at() -> None:
    body = told(FreshClient().get("/api/v1/probe/slip"), 403)
    assert body["type"] == "urn:stickbook:problem:not-authenticated"


def test_a_role_without_the_right_and_a_method_without_one_are_refused(house: House) -> None:
    electrician = house.client("electrician")
    told(electrician.post("/api/v1/probe/x", {}, content_type="application/json"), 403)
    told(house.client("administrator").delete("/api/v1/probe/x"), 403)
    told(house.client("foreman").put("/api/v1/probe/x", {}, content_type="application/json"), 403)
    assert (
        house.client("manager").put("/api/v1/probe/x", {}, content_type="application/json").status_code == 200
    )


def test_a_method_that_there_is_not_names_those_there_are(house: House) -> None:
    response = house.client("foreman").patch("/api/v1/probe/x", {}, content_type="application/json")
    assert response.status_code in (403, 405)
    told(response, response.status_code)


@pytest.mark.parametrize(
    ("body", "content_type", "status", "code"),
    [
        (b'{"a": 1', "application/json", 400, "malformed"),
        (b'{"a": NaN}', "application/json", 400, "malformed"),
        (b"\xff\xfe", "application/json", 400, "malformed"),
        (b"a=1", "application/x-www-form-urlencoded", 415, "unsupported-media-type"),
        (b'"' + b"x" * 1_000_001 + b'"', "application/json", 413, "too-large"),
        (b"[" * 100_000, "application/json", 400, "malformed"),
        (b"[" * 18 + b"]" * 18, "application/json", 400, "malformed"),
        (b'{"a": 1e400}', "application/json", 400, "malformed"),
        (b'{"a": ' + b"9" * 5000 + b"}", "application/json", 400, "malformed"),
        (b'{"a": 1, "a": 2}', "application/json", 400, "malformed"),
        (b'{"a": "b\\u0000c"}', "application/json", 400, "malformed"),
        (b'{"a\\u0000": 1}', "application/json", 400, "malformed"),
        (b'["\\ud800"]', "application/json", 400, "malformed"),
    ],
)
def test_a_body_that_is_not_json_or_too_much_is_refused_as_a_problem(
    house: House, body: bytes, content_type: str, status: int, code: str
) -> None:
    response = quiet(house.client("foreman")).generic(
        "POST", "/api/v1/probe/x", body, content_type=content_type
    )
    assert told(response, status)["type"] == f"urn:stickbook:problem:{code}"


def test_a_form_without_its_token_is_refused(house: House) -> None:
    client = FreshClient(enforce_csrf_checks=True)
    client.force_login(house.people["foreman"], backend="django.contrib.auth.backends.ModelBackend")
    page = client.post("/fails/slip", {"a": "b"})
    assert page.status_code == 403
    assert "Open it again" in page.content.decode()
    told(client.post("/api/v1/probe/x", {}, content_type="application/json"), 403)


@pytest.mark.parametrize(
    "path", ["/api/v1/projects?cursor=%00", "/api/v1/runs/%00", "/whoami?next=a%00b", "/%00"]
)
def test_an_address_with_a_nul_in_it_is_malformed(house: House, path: str) -> None:
    response = quiet(house.client("foreman")).get(path)
    assert response.status_code == 400
    if path.startswith("/api/"):
        told(response, 400)


def database_away(*args: Any, **kwargs: Any) -> None:
    """Stands for a server that does not answer."""
    raise OperationalError("could not connect to server SECRET-HOST")


@pytest.mark.parametrize("path", ["/api/v1/probe/slip", "/whoami", "/crews"])
def test_when_the_database_is_away_the_answer_is_503_and_when_to_come_back(
    house: House, path: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first thing to fail is the session, outside any view."""
    client = quiet(house.client("foreman"))
    with monkeypatch.context() as patch:
        patch.setattr(type(connections["default"]), "cursor", database_away)
        response = client.get(path)
    assert response.status_code == 503
    assert response["Retry-After"] == "3"
    assert "SECRET" not in response.content.decode()
    if path.startswith("/api/"):
        told(response, 503)
    else:
        assert response["X-Request-Id"] in response.content.decode()
    assert client.get("/whoami").status_code == 200


def test_a_read_outside_a_scope_is_our_slip_and_shows_nothing(house: House) -> None:
    response = quiet(FreshClient()).get("/crews")
    assert response.status_code == 500
    assert "Ostley" not in response.content.decode()


@pytest.mark.parametrize(
    "path",
    [
        "/whoami",
        "/fails/slip",
        "/fails/absent",
        "/no/such",
        "/api/v1/probe/slip",
        "/api/v1/none",
        "/fails/away",
    ],
)
@pytest.mark.parametrize("signed_in", [True, False])
def test_every_answer_carries_the_headers(house: House, path: str, signed_in: bool) -> None:
    client = quiet(house.client("foreman") if signed_in else FreshClient())
    response = client.get(path)
    assert response["X-Content-Type-Options"] == "nosniff"
    assert response["Referrer-Policy"] == "same-origin"
    assert response["Cross-Origin-Opener-Policy"] == "same-origin"
    assert response["Cross-Origin-Resource-Policy"] == "same-origin"
    assert response["X-Frame-Options"] == "DENY"
    assert response["Cache-Control"] == "no-store"
    assert "camera=()" in response["Permissions-Policy"]
    policy = response["Content-Security-Policy"]
    assert "default-src 'none'" in policy
    assert "frame-ancestors 'none'" in policy
    assert "unsafe" not in policy
    assert len(response["X-Request-Id"]) == 36
    assert "Server" not in response


def test_a_request_id_is_ours_and_never_taken_from_the_request(house: House) -> None:
    response = house.client("foreman").get("/whoami", headers={"X-Request-Id": "forged"})
    assert response["X-Request-Id"] != "forged"


def test_what_breaks_after_the_answer_was_made_undoes_nothing(house: House) -> None:
    """The point stands after the answer: what the view committed stays."""
    reached: list[int] = []
    faults.arm("after-answer", lambda: reached.append(1))
    assert house.client("foreman").get("/whoami").status_code == 200
    assert reached == [1]
