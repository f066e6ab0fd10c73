"""Idempotency-Key: a creating request that is sent again does nothing more, whatever happened in between."""

import hashlib
import json
import threading
import uuid
from datetime import timedelta
from typing import Any

import pytest
from django.db import connection
from django.urls import get_resolver
from django.utils import timezone
from factories import FreshClient, House, make_former, make_project, make_room, make_run

from services.company import commands as companies
from services.company.models import Invitation, Membership, Role
from services.core import faults, idempotency, outbox
from services.core.models import Act, KeptAnswer, OutboxEntry
from services.projects import api as projects_api
from services.projects.models import Project, Room, Run
from services.tracking.models import Tick

PATIENCE_S = 60.0
"""Longest wait for a thread. Far above what it takes, so that a busy machine fails no test."""

CREAMERY = {"code": "FC-1", "name": "Fenwater Creamery"}


def send(
    client: FreshClient, key: object, body: Any = CREAMERY, path: str = "/api/v1/projects", **headers: str
) -> Any:
    """One creating request under a key."""
    client.raise_request_exception = False
    return client.post(
        path,
        json.dumps(body),
        content_type="application/json",
        headers={"Idempotency-Key": str(key), **headers},
    )


def code_of(response: Any) -> str:
    """The code of a problem."""
    return str(response.json()["type"]).removeprefix("urn:stickbook:problem:")


def told(response: Any) -> tuple[int, bytes, str | None]:
    """What a client goes by."""
    return response.status_code, response.content, response.headers.get("ETag")


# ---------------------------------------------------------------- the first answer again


def test_the_same_key_and_body_get_the_first_answer_again_and_make_nothing(house: House) -> None:
    key = uuid.uuid4()
    first = send(house.client("foreman"), key)
    assert told(first)[0] == 201
    again = send(house.client("foreman"), key)  # another session of the same person
    assert told(again) == told(first)
    assert again["ETag"] == '"1"'
    with house.scope():
        assert Project.objects.count() == 1
        assert Act.objects.filter(act="project created").count() == 1


def test_the_first_answer_is_told_though_what_it_tells_of_was_changed_since(house: House) -> None:
    key, client = uuid.uuid4(), house.client("foreman")
    first = send(client, key)
    path = f"/api/v1/projects/{first.json()['id']}"
    changed = client.patch(
        path, {"name": "Fenwater"}, content_type="application/json", headers={"If-Match": '"1"'}
    )
    assert changed["ETag"] == '"2"'
    assert told(send(client, key)) == told(first)


def test_the_key_may_stand_in_quotes_and_in_capitals_and_is_the_same(house: House) -> None:
    """A string of RFC 9651 is quoted, as the IETF's draft writes it."""
    key, client = uuid.uuid4(), house.client("foreman")
    first = send(client, f'"{key}"')
    assert told(send(client, str(key).upper())) == told(first)


def test_without_a_key_nothing_is_kept(house: House) -> None:
    client = house.client("foreman")
    assert client.post("/api/v1/projects", CREAMERY, content_type="application/json").status_code == 201
    assert client.post("/api/v1/projects", CREAMERY, content_type="application/json").status_code == 422
    with house.scope():
        assert not KeptAnswer.objects.exists()


ONE = "0190f3a0-0000-4000-8000-000000000001"


@pytest.mark.parametrize("key", ["", "1", "x" * 36, f"{ONE}x", f"{ONE}, {ONE}", f'"{ONE}', "٣"])
def test_a_key_that_is_no_uuid_is_malformed_and_makes_nothing(house: House, key: str) -> None:
    response = send(house.client("foreman"), key)
    assert response.status_code == 400
    assert code_of(response) == "malformed"
    with house.scope():
        assert not Project.objects.exists()
        assert not KeptAnswer.objects.exists()


def test_another_body_under_the_same_key_is_refused_and_makes_nothing(house: House) -> None:
    key, client = uuid.uuid4(), house.client("foreman")
    first = send(client, key)
    other = send(client, key, {"code": "FC-2", "name": "Fenwater Creamery"})
    assert other.status_code == 422
    assert code_of(other) == "key-reused"
    assert told(send(client, key)) == told(first)
    with house.scope():
        assert [each.code for each in Project.objects.all()] == ["FC-1"]


def test_a_key_counts_for_one_person_one_company_and_one_address(house: House, other_house: House) -> None:
    key = uuid.uuid4()
    first = send(house.client("foreman"), key)
    theirs = send(other_house.client("foreman"), key)
    assert (first.status_code, theirs.status_code) == (201, 201)
    assert first.json()["id"] != theirs.json()["id"]
    with house.scope():
        member = Membership.objects.get(person=house.people["manager"])
        companies.change_role(
            actor=house.administrator, member_id=member.pk, role=Role.FOREMAN, seen=member.version
        )
    colleague = send(house.client("manager"), key, {"code": "FC-2", "name": "Fenwater Creamery"})
    assert colleague.status_code == 201
    path = f"/api/v1/projects/{first.json()['id']}/rooms"
    assert send(house.client("foreman"), key, {"name": "Plate room"}, path).status_code == 201
    other = f"/api/v1/projects/{colleague.json()['id']}/rooms"
    room = send(house.client("foreman"), key, {"name": "Plate room"}, other)
    assert room.json()["project"] == colleague.json()["id"]


def test_who_has_lost_the_right_is_not_told_the_first_answer(house: House) -> None:
    key = uuid.uuid4()
    assert send(house.client("foreman"), key).status_code == 201
    with house.scope():
        member = Membership.objects.get(person=house.people["foreman"])
        companies.change_role(
            actor=house.administrator, member_id=member.pk, role=Role.ELECTRICIAN, seen=member.version
        )
    again = send(house.client("foreman"), key)
    assert again.status_code == 403
    assert b"Fenwater" not in again.content


# ---------------------------------------------------------------- what fails is not kept


def test_what_was_refused_can_be_tried_again_under_its_key(house: House) -> None:
    key, client = uuid.uuid4(), house.client("foreman")
    with house.scope():
        standing = make_project(house, code="FC-1", name="Fenwater, the old line")
    assert send(client, key).status_code == 422
    with house.scope():
        assert not KeptAnswer.objects.exists()
        Project.objects.filter(pk=standing.pk).update(code="FC-0")
    assert send(client, key).status_code == 201


@pytest.mark.parametrize("body", [{}, {"code": "FC-1", "name": "x", "stranger": 1}, [], "x"])
def test_a_bad_body_is_not_kept_and_may_be_corrected_under_its_key(house: House, body: Any) -> None:
    key, client = uuid.uuid4(), house.client("foreman")
    assert send(client, key, body).status_code in (400, 422)
    assert send(client, key).status_code == 201


def test_a_stale_version_is_not_kept(house: House) -> None:
    key, client = uuid.uuid4(), house.client("foreman")
    with house.scope():
        run = make_run(house)
    path, body = f"/api/v1/runs/{run.pk}/release", {"crew": str(house.crew.pk)}
    assert send(client, key, body, path, **{"If-Match": '"1"'}).status_code == 412
    first = send(client, key, body, path, **{"If-Match": '"2"'})
    assert first.status_code == 201
    assert told(send(client, key, body, path, **{"If-Match": '"2"'})) == told(first)
    with house.scope():
        assert Tick.objects.filter(kind="released").count() == len(first.json()["sticks"])


class Struck(Exception):
    """What a fault point raises here."""


def strike() -> None:
    """Stands for a failure of ours."""
    raise Struck


def test_a_failure_before_the_commit_leaves_nothing_and_the_key_is_free(house: House) -> None:
    key, client = uuid.uuid4(), house.client("foreman")
    faults.arm("before-commit", strike)
    assert send(client, key).status_code == 500
    faults.disarm()
    with house.scope():
        assert not Project.objects.exists()
        assert not KeptAnswer.objects.exists()
    assert send(client, key).status_code == 201


def test_an_answer_that_was_lost_after_the_commit_is_told_when_it_is_asked_again(house: House) -> None:
    key, client = uuid.uuid4(), house.client("foreman")
    faults.arm("after-commit", strike)
    assert send(client, key).status_code == 500
    faults.disarm()
    again = send(client, key)
    assert again.status_code == 201
    with house.scope():
        assert str(Project.objects.get().pk) == again.json()["id"]


def test_work_queued_by_the_command_is_in_the_same_transaction(house: House) -> None:
    key, client = uuid.uuid4(), house.client("foreman")
    with house.scope():
        run = make_run(house)
    path, body = f"/api/v1/runs/{run.pk}/release", {"crew": str(house.crew.pk)}
    faults.arm("before-commit", strike)
    assert send(client, key, body, path, **{"If-Match": '"2"'}).status_code == 500
    assert not OutboxEntry.objects.exists()
    faults.disarm()
    assert send(client, key, body, path, **{"If-Match": '"2"'}).status_code == 201
    queued = OutboxEntry.objects.count()
    assert queued >= 1
    send(client, key, body, path, **{"If-Match": '"2"'})
    assert OutboxEntry.objects.count() == queued


# ---------------------------------------------------------------- while the first is running


def test_while_the_first_is_running_the_second_is_told_when_to_come_back(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    key = uuid.uuid4()
    meanwhile: list[Any] = []

    def tell(project: Project) -> dict[str, Any]:
        if not meanwhile:
            meanwhile.append(send(house.client("foreman"), key))
        return original(project)

    original = projects_api.project_told
    monkeypatch.setattr(projects_api, "project_told", tell)
    first = send(house.client("foreman"), key)
    assert first.status_code == 201
    (second,) = meanwhile
    assert second.status_code == 409
    assert code_of(second) == "still-running"
    assert second["Retry-After"] == "1"
    assert told(send(house.client("foreman"), key)) == told(first)


def dead_claim(house: House, key: uuid.UUID, age: timedelta) -> None:
    """The row that a request leaves whose process died before its commit."""
    body = json.dumps(CREAMERY).encode()
    KeptAnswer.objects.create(
        person_id=house.foreman.person_id,
        route="/api/v1/projects",
        key=key,
        fingerprint=hashlib.sha256(body).hexdigest(),
        claim=uuid.uuid4(),
        claimed_at=timezone.now() - age,
    )


def test_a_request_whose_process_died_is_done_anew_after_60_s_and_not_before(house: House) -> None:
    key, client = uuid.uuid4(), house.client("foreman")
    with house.scope():
        dead_claim(house, key, timedelta(seconds=50))
    assert send(client, key).status_code == 409
    with house.scope():
        KeptAnswer.objects.update(claimed_at=timezone.now() - timedelta(seconds=61))
    assert send(client, key).status_code == 201
    assert send(client, key, {"code": "FC-2", "name": "x"}).status_code == 422


def test_a_request_that_was_taken_for_dead_is_undone_when_it_comes_to_its_commit(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    key = uuid.uuid4()

    def tell(project: Project) -> dict[str, Any]:
        with house.scope():
            KeptAnswer.objects.update(claim=uuid.uuid4())  # another request has it now
        return original(project)

    original = projects_api.project_told
    monkeypatch.setattr(projects_api, "project_told", tell)
    late = send(house.client("foreman"), key)
    assert late.status_code == 409
    assert code_of(late) == "still-running"
    with house.scope():
        assert not Project.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_of_many_at_once_under_one_key_one_makes_and_all_are_told_the_same(house: House) -> None:
    """8 keys, 6 at once under each: 8 rooms. Whoever is told to wait, or that the database is busy, asks
    again."""
    with house.scope():
        project = make_project(house)
    path = f"/api/v1/projects/{project.pk}/rooms"
    keys = [uuid.uuid4() for _ in range(8)]
    gate = threading.Barrier(6)
    answers: dict[uuid.UUID, set[tuple[int, bytes, str | None]]] = {key: set() for key in keys}
    odd: list[object] = []
    clients = [house.client("foreman") for _ in range(6)]

    def work(client: FreshClient) -> None:
        try:
            for number, key in enumerate(keys):
                gate.wait(PATIENCE_S)
                body = {"name": f"Room {number}"}
                response = send(client, key, body, path)
                while response.status_code in (409, 503):
                    assert response.has_header("Retry-After")
                    response = send(client, key, body, path)
                answers[key].add(told(response))
        except Exception as error:  # told below, in the test's own thread
            odd.append(error)
            gate.abort()
        finally:
            connection.close()

    threads = [threading.Thread(target=work, args=(client,)) for client in clients]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(PATIENCE_S)
    assert odd == []
    assert all(len(each) == 1 for each in answers.values()), answers
    assert {status for each in answers.values() for status, _body, _tag in each} == {201}
    with house.scope():
        names = sorted(Room.objects.values_list("name", flat=True))
        assert names == [f"Room {number}" for number in range(8)]
        assert KeptAnswer.objects.count() == 8


# ---------------------------------------------------------------- what is told once, and for how long


@pytest.mark.parametrize("what", ["invitations", "resets"])
def test_a_secret_is_told_in_the_first_answer_alone_and_kept_nowhere(house: House, what: str) -> None:
    key, client = uuid.uuid4(), house.client("administrator")
    with house.scope():
        member = Membership.objects.get(person=house.people["electrician"])
    path = "/api/v1/invitations" if what == "invitations" else f"/api/v1/people/{member.pk}/resets"
    body = {"email": "new@ostley.example", "role": "foreman"} if what == "invitations" else {}
    first = send(client, key, body, path)
    token = first.json()["token"]
    assert len(token) > 40
    again = send(client, key, body, path)
    assert again.status_code == 201
    assert again.json() == {**first.json(), "token": None}
    with house.scope():
        assert token not in KeptAnswer.objects.get().body
        assert Invitation.objects.count() == (1 if what == "invitations" else 0)


def test_after_30_days_a_key_is_as_new(house: House) -> None:
    key, client = uuid.uuid4(), house.client("foreman")
    send(client, key)
    with house.scope():
        KeptAnswer.objects.update(claimed_at=timezone.now() - timedelta(days=30))
    assert send(client, key).status_code == 422  # done anew: the code is taken
    fresh = send(client, key, {"code": "FC-2", "name": "x"})
    assert fresh.status_code == 201
    assert told(send(client, key, {"code": "FC-2", "name": "x"})) == told(fresh)


def test_answers_of_30_days_ago_are_removed_by_a_task_of_their_company_alone(
    house: House, other_house: House
) -> None:
    for each in (house, other_house):
        send(each.client("foreman"), uuid.uuid4())
        with each.scope():
            KeptAnswer.objects.update(claimed_at=timezone.now() - timedelta(days=30, seconds=1))
    fresh = uuid.uuid4()
    send(house.client("foreman"), fresh, {"code": "FC-2", "name": "x"})
    assert OutboxEntry.objects.filter(task="core.forget_answers", company_id=house.company.pk).count() == 1
    while outbox.relay():
        pass
    with house.scope():
        assert [each.key for each in KeptAnswer.objects.all()] == [fresh]
        assert idempotency.forget() == 0
    with other_house.scope():
        assert KeptAnswer.objects.count() == 1


# ---------------------------------------------------------------- files, and who takes no key

_FILE = b'Room,Run,Conduit,"Length, mm"\nNew room,41,steel-20-heavy,1200\n'


def upload(client: FreshClient, path: str, key: uuid.UUID, boundary: str, content: bytes) -> Any:
    """A survey as a form, with a boundary of its own, as each sending draws one."""
    client.raise_request_exception = False
    head = 'Content-Disposition: form-data; name="file"; filename="a.csv"\r\nContent-Type: text/csv'
    body = f"--{boundary}\r\n{head}\r\n\r\n".encode() + content + f"\r\n--{boundary}--\r\n".encode()
    return client.generic(
        "POST",
        path,
        body,
        content_type=f"multipart/form-data; boundary={boundary}",
        headers={"Idempotency-Key": str(key)},
    )


def test_a_file_sent_again_is_known_though_its_form_has_another_boundary(house: House) -> None:
    key, client = uuid.uuid4(), house.client("foreman")
    with house.scope():
        make_former(house)
        project = make_project(house)
    path = f"/api/v1/projects/{project.pk}/survey"
    first = upload(client, path, key, "aaa", _FILE)
    assert first.status_code == 201, first.content
    assert told(upload(client, path, key, "bbb", _FILE)) == told(first)
    other = upload(client, path, key, "aaa", _FILE.replace(b"41", b"42"))
    assert code_of(other) == "key-reused"
    with house.scope():
        assert Run.objects.count() == 1


TAKES_NONE = {
    "api-ticks": "each tick has its own id, and a repeated one gets its first answer",
    "api-own-mail": "a wrong password is counted, which must stand though the request fails",
    "api-own-password": "a wrong password is counted, which must stand though the request fails",
    "api-leave": "who has left has no answer to be told",
}
"""POSTs without a key, and why."""


def test_every_post_of_the_api_takes_a_key_but_those_with_a_reason() -> None:
    posts = {
        each.name: each.callback.cls.post  # type: ignore[union-attr]
        for part in get_resolver().url_patterns
        if str(part.pattern) == "api/v1/"
        for each in part.url_patterns  # type: ignore[union-attr]
        if hasattr(getattr(each.callback, "cls", None), "post")
    }
    assert len(posts) > 10
    assert {name for name, post in posts.items() if not hasattr(post, "takes_key")} == set(TAKES_NONE)


def test_a_key_on_a_batch_of_ticks_is_not_looked_at(house: House) -> None:
    client = house.client("electrician")
    first = send(client, "no uuid", {"ticks": [{"id": str(uuid.uuid4())}]}, "/api/v1/ticks")
    assert first.status_code == 400  # of the tick, which lacks its other keys
    assert "sequence" in first.json()["detail"]


def test_a_key_does_not_hide_a_wrong_password_from_the_counter(house: House) -> None:
    client = house.client("electrician")
    body = {"email": "new@ostley.example", "password": "not mine at all"}
    answers = [send(client, uuid.uuid4(), body, "/api/v1/account/mail").status_code for _ in range(6)]
    assert answers[0] == 422
    assert answers[-1] == 429


def test_a_key_on_a_room_of_another_company_is_answered_as_if_there_were_no_such_project(
    house: House, other_house: House
) -> None:
    with other_house.scope():
        theirs = make_room(other_house)
    path = f"/api/v1/projects/{theirs.project_id}/rooms"
    assert send(house.client("foreman"), uuid.uuid4(), {"name": "x"}, path).status_code == 404
    with house.scope():
        assert not KeptAnswer.objects.exists()
