"""The API: strict input, versions in headers, problems as answers, and never another company's rows."""

import json
import uuid
from collections.abc import Mapping
from datetime import timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.utils import timezone
from factories import (
    THREE_BENDS,
    FreshClient,
    House,
    make_former,
    make_project,
    make_room,
    make_run,
    person,
    release,
)

from services.company import commands
from services.company.models import Company
from services.company.rights import Right
from services.config.api_urls import urlpatterns
from services.core.ids import uuid7
from services.core.models import Act
from services.planning.models import Plan
from services.projects.models import Project, Room, Run
from services.stock import commands as stock
from services.tracking import commands as tracking
from services.tracking.models import Tick
from services.tracking.queries import pieces_of_run

JSON = "application/json"


def send(client: FreshClient, method: str, path: str, body: object = None, **headers: str) -> Any:
    """Sends JSON; `If_Match='"3"'` becomes the header."""
    named = {name.replace("_", "-"): value for name, value in headers.items()}
    return client.generic(
        method, f"/api/v1/{path}", b"" if body is None else _json(body), content_type=JSON, headers=named
    )


def _json(body: object) -> bytes:
    return json.dumps(body).encode()


def problem(response: Any, status: int, code: str) -> Mapping[str, Any]:
    """The problem of an answer, checked for status and code."""
    assert response.status_code == status, response.content
    assert response["Content-Type"] == "application/problem+json"
    body: Mapping[str, Any] = response.json()
    assert body["type"] == f"urn:stickbook:problem:{code}"
    return body


def places(body: Mapping[str, Any]) -> set[str]:
    """Where a problem's bad inputs stand."""
    return {each["where"] for each in body["problems"]}


@pytest.fixture
def foreman(house: House) -> FreshClient:
    """Our foreman's program."""
    return house.client("foreman")


# ---------------------------------------------------------------- the path


def test_a_run_goes_from_project_to_release_over_the_api(house: House, foreman: FreshClient) -> None:
    with house.scope():
        former = make_former(house)
    project = send(foreman, "POST", "projects", {"code": "FC-1", "name": "Fenwater Creamery"})
    assert project.status_code == 201
    assert project["ETag"] == '"1"'
    room = send(foreman, "POST", f"projects/{project.json()['id']}/rooms", {"name": "Plate room"})
    assert room.status_code == 201
    run = send(foreman, "POST", f"rooms/{room.json()['id']}/runs", {"label": "07", "former": str(former.pk)})
    assert run.status_code == 201
    address = f"runs/{run.json()['id']}"
    rows = send(foreman, "PUT", f"{address}/rows", {"rows": THREE_BENDS}, If_Match=run["ETag"])
    assert rows.status_code == 200, rows.content
    assert rows["ETag"] == '"2"'
    draft = send(foreman, "GET", f"{address}/draft")
    assert draft["ETag"] == '"2"'
    assert draft.json()["to_measure"] == []
    assert [stick["number"] for stick in draft.json()["plan"]["sticks"]] == [1]
    plan = send(foreman, "POST", f"{address}/release", {"crew": str(house.crew.pk)}, If_Match=draft["ETag"])
    assert plan.status_code == 201, plan.content
    assert plan.json()["revision"] == 1
    assert [stick["label"] for stick in plan.json()["sticks"]] == ["07/1"]
    assert send(foreman, "GET", f"{address}/plan").json() == plan.json()
    assert send(foreman, "GET", address).json()["crew"] == str(house.crew.pk)


def test_the_first_mark_of_a_planned_run_is_the_measured_distance(house: House, foreman: FreshClient) -> None:
    """Common practice, and the engine's contract: brought to where the back of a squared spare piece stands,
    the mark of
    a first right angle is the finished distance to its back; 877 mm was measured."""
    with house.scope():
        run = make_run(house)
    plan = send(foreman, "GET", f"runs/{run.pk}/draft").json()["plan"]
    first = plan["sticks"][0]["bends"][0]
    assert first["angle"] == 90
    assert first["set"]["line"] == "back"
    assert first["set"]["mark"] == pytest.approx(877.0, abs=1e-9)


def test_a_run_still_to_measure_is_kept_and_its_missing_figures_named(
    house: House, foreman: FreshClient
) -> None:
    rows = [{**THREE_BENDS[0], "length_mm": None}, *THREE_BENDS[1:]]
    with house.scope():
        run = make_run(house, rows=rows)
    draft = send(foreman, "GET", f"runs/{run.pk}/draft").json()
    assert draft["plan"] is None
    assert draft["to_measure"] == [{"row": 0, "field": "length_mm"}]
    refused = send(
        foreman, "POST", f"runs/{run.pk}/release", {"crew": str(house.crew.pk)}, If_Match=f'"{run.version}"'
    )
    assert places(problem(refused, 422, "cannot-plan")) == {"rows[0].length_mm"}
    with house.scope():
        assert not Plan.objects.exists()


# ---------------------------------------------------------------- versions


def changing(house: House) -> list[tuple[str, str, object]]:
    """Each request that changes what people edit: method, address, body. Makes the run; needs no scope."""
    with house.scope():
        run = make_run(house)
    return [
        ("PATCH", f"runs/{run.pk}", {"from_place": "Panel"}),
        ("PUT", f"runs/{run.pk}/rows", {"rows": THREE_BENDS[:3]}),
        ("POST", f"runs/{run.pk}/release", {"crew": str(house.crew.pk)}),
    ]


@pytest.mark.parametrize("which", range(3))
def test_a_change_without_if_match_is_refused_with_428(
    house: House, foreman: FreshClient, which: int
) -> None:
    """RFC 6585, section 3."""
    method, path, body = changing(house)[which]
    problem(send(foreman, method, path, body), 428, "version-missing")
    with house.scope():
        assert Run.objects.get().version == 2


@pytest.mark.parametrize("which", range(3))
def test_a_change_to_an_older_version_is_refused_with_412_and_told_both(
    house: House, foreman: FreshClient, which: int
) -> None:
    """RFC 9110, section 13.1.1."""
    method, path, body = changing(house)[which]
    told = problem(send(foreman, method, path, body, If_Match='"1"'), 412, "stale-version")
    assert (told["seen"], told["now"]) == (1, 2)
    with house.scope():
        run = Run.objects.get()
        assert (run.version, run.from_place, len(run.rows), run.crew_id) == (2, "", 4, None)
        assert not Plan.objects.exists()


@pytest.mark.parametrize("given", ["*", 'W/"2"', "2", '"2", "3"', '"-2"', '"x"', '"99999999999"', '""'])
@pytest.mark.parametrize("which", range(3))
def test_if_match_takes_one_strong_etag_of_ours(
    house: House, foreman: FreshClient, which: int, given: str
) -> None:
    method, path, body = changing(house)[which]
    problem(send(foreman, method, path, body, If_Match=given), 400, "malformed")
    with house.scope():
        assert Run.objects.get().version == 2


def test_each_change_gives_the_next_etag(house: House, foreman: FreshClient) -> None:
    method, path, body = changing(house)[0]
    first = send(foreman, method, path, body, If_Match='"2"')
    assert (first.status_code, first["ETag"], first.json()["from_place"]) == (200, '"3"', "Panel")
    assert send(foreman, "GET", path)["ETag"] == '"3"'
    problem(send(foreman, method, path, body, If_Match='"2"'), 412, "stale-version")


# ---------------------------------------------------------------- what comes in


@pytest.mark.parametrize(
    ("body", "where"),
    [
        ({}, {"code", "name"}),
        ({"code": "A"}, {"name"}),
        ({"code": "A", "name": "B", "company": "x"}, {"company"}),
        ({"code": ["A"], "name": {"a": 1}}, {"code", "name"}),
        ({"code": None, "name": "B"}, {"code"}),
        ({"code": "A" * 1001, "name": "B"}, {"code"}),
        ({"code": [], "x": 1, "y": 2}, {"code", "name", "x", "y"}),
    ],
)
def test_a_body_of_another_shape_is_malformed_and_every_place_named(
    house: House, foreman: FreshClient, body: object, where: set[str]
) -> None:
    assert places(problem(send(foreman, "POST", "projects", body), 400, "malformed")) == where
    with house.scope():
        assert not Project.objects.exists()


@pytest.mark.parametrize("body", [[], "text", 7, None, True])
def test_a_body_that_is_no_object_is_malformed(house: House, foreman: FreshClient, body: object) -> None:
    response = foreman.generic("POST", "/api/v1/projects", _json(body), content_type=JSON)
    problem(response, 400, "malformed")


@pytest.mark.parametrize(
    ("body", "where"),
    [
        ({"code": "", "name": " "}, {"code", "name"}),
        ({"code": "A" * 31, "name": "B" * 121}, {"code", "name"}),
        ({"code": 7, "name": True}, {"code", "name"}),
        ({"code": "A\nB", "name": "C"}, {"code"}),
    ],
)
def test_what_is_not_allowed_is_told_at_its_place_and_nothing_is_kept(
    house: House, foreman: FreshClient, body: object, where: set[str]
) -> None:
    assert places(problem(send(foreman, "POST", "projects", body), 422, "invalid")) == where
    with house.scope():
        assert not Project.objects.exists()
        assert not Act.objects.filter(act="project created").exists()


def test_a_bad_row_is_told_by_row_and_figure_and_no_row_is_kept(house: House, foreman: FreshClient) -> None:
    with house.scope():
        run = make_run(house)
    rows = [
        {**THREE_BENDS[0], "angle_deg": 190},
        {**THREE_BENDS[1], "length_mm": "long", "colour": "red"},
        {**THREE_BENDS[2], "toward": "north-west"},
        {**THREE_BENDS[3], "then": "stop"},
    ]
    told = problem(
        send(foreman, "PUT", f"runs/{run.pk}/rows", {"rows": rows}, If_Match='"2"'), 422, "invalid"
    )
    assert places(told) == {
        "rows[0].angle_deg",
        "rows[1].length_mm",
        "rows[1].colour",
        "rows[2].toward",
        "rows[3].then",
    }
    with house.scope():
        kept = Run.objects.get()
        assert (kept.version, kept.rows[0]["angle_deg"]) == (2, 90.0)


@pytest.mark.parametrize(
    "rows", [{"a": 1}, "rows", 7, [1, 2], [[]], [{"length_mm": [1]}], [{"length_mm": {"a": 1}}], [{}] * 501]
)
def test_rows_of_another_shape_are_malformed(house: House, foreman: FreshClient, rows: object) -> None:
    with house.scope():
        run = make_run(house)
    problem(send(foreman, "PUT", f"runs/{run.pk}/rows", {"rows": rows}, If_Match='"2"'), 400, "malformed")
    with house.scope():
        assert Run.objects.get().version == 2


@pytest.mark.parametrize(
    "former", ["", "70", 7, True, "x" * 36, "{" + "0" * 32 + "}", "urn:uuid:" + "0" * 32]
)
def test_a_name_that_is_no_uuid_is_malformed(house: House, foreman: FreshClient, former: object) -> None:
    with house.scope():
        room = make_room(house)
    told = problem(
        send(foreman, "POST", f"rooms/{room.pk}/runs", {"label": "07", "former": former}), 400, "malformed"
    )
    assert places(told) == {"former"}


@pytest.mark.parametrize("path", ["runs/7", "projects/x/rooms", "runs/" + "0" * 400])
def test_an_address_that_names_nothing_is_not_found(foreman: FreshClient, path: str) -> None:
    problem(send(foreman, "GET", path), 404, "not-found")


# ---------------------------------------------------------------- lists


@pytest.fixture
def many(house: House) -> list[str]:
    """Codes of 7 projects."""
    codes = [f"P{number}" for number in range(7)]
    with house.scope():
        for code in reversed(codes):
            make_project(house, code)
    return codes


def test_a_list_is_read_page_by_page_each_row_once(foreman: FreshClient, many: list[str]) -> None:
    seen: list[str] = []
    cursor = ""
    for size in (3, 3, 1):
        page = send(foreman, "GET", f"projects?limit=3{cursor}").json()
        assert len(page["items"]) == size
        seen += [each["code"] for each in page["items"]]
        cursor = f"&cursor={page['next']}"
    assert page["next"] is None
    assert seen == many


def test_a_list_of_just_one_page_has_no_next(foreman: FreshClient, many: list[str]) -> None:
    assert send(foreman, "GET", "projects?limit=7").json()["next"] is None
    assert send(foreman, "GET", "projects").json()["next"] is None


@pytest.mark.parametrize(
    "query",
    ["limit=0", "limit=201", "limit=-1", "limit=x", "limit=1e2", "cursor=7", "cursor=%00", "order=code"],
)
def test_a_page_is_asked_for_by_cursor_and_a_limit_of_1_to_200_and_nothing_else(
    foreman: FreshClient, many: list[str], query: str
) -> None:
    problem(send(foreman, "GET", f"projects?{query}"), 400, "malformed")


def test_a_cursor_of_another_company_is_as_one_of_nobody(
    house: House, other_house: House, foreman: FreshClient, many: list[str]
) -> None:
    with other_house.scope():
        theirs = make_project(other_house)
    other = problem(send(foreman, "GET", f"projects?cursor={theirs.pk}"), 400, "malformed")
    nobody = problem(send(foreman, "GET", f"projects?cursor={uuid.uuid4()}"), 400, "malformed")
    assert other["problems"] == nobody["problems"]


@pytest.mark.parametrize("path", ["projects", "formers", "crews"])
def test_lists_take_as_many_queries_for_two_rows_as_for_many(
    house: House, foreman: FreshClient, path: str, django_assert_num_queries: Any
) -> None:
    """Four to know who asks, one for the rows."""
    for count in (2, 20):
        with house.scope():
            for number in range(count):
                make_project(house, f"P{count}-{number}")
                make_former(house)
        with django_assert_num_queries(5):
            send(foreman, "GET", path)


# ---------------------------------------------------------------- ticks


def a_tick(piece: Mapping[str, Any], sequence: int, kind: str, **more: Any) -> dict[str, Any]:
    """A tick as a device sends it."""
    return {
        "id": str(uuid7()),
        "sequence": sequence,
        "kind": kind,
        "piece": piece["id"],
        "plan": piece["plan"],
        "made_at": "2026-11-25T08:30:00+00:00",
        **more,
    }


@pytest.fixture
def piece(house: House) -> Mapping[str, Any]:
    """A released piece as the API tells it."""
    with house.scope():
        plan = release(house)
    told: Mapping[str, Any] = send(house.client("electrician"), "GET", f"runs/{plan.run_id}/pieces").json()[
        "items"
    ][0]
    assert (told["label"], told["state"], told["attempt"]) == ("07/1", "released", 1)
    return told


def test_a_batch_of_ticks_is_answered_one_by_one_and_moves_its_piece(
    house: House, piece: Mapping[str, Any]
) -> None:
    crew = house.client("electrician")
    ticks = [a_tick(piece, 101, "cut"), a_tick(piece, 102, "bent")]
    answers = send(crew, "POST", "ticks", {"ticks": ticks}).json()["answers"]
    assert [(each["id"], each["answer"]) for each in answers] == [(each["id"], "applied") for each in ticks]
    first, second = (each["number"] for each in answers)
    assert second == first + 1
    assert send(crew, "GET", f"pieces/{piece['id']}").json()["state"] == "bent"
    ledger = send(crew, "GET", f"pieces/{piece['id']}/ticks").json()["items"]
    assert [each["kind"] for each in ledger] == ["released", "cut", "bent"]


def test_a_batch_sent_twice_counts_once_and_gets_its_first_answers_again(
    house: House, piece: Mapping[str, Any]
) -> None:
    crew = house.client("electrician")
    body = {
        "ticks": [a_tick(piece, 101, "cut"), a_tick(piece, 102, "installed"), a_tick(piece, 103, "pulled")]
    }
    first = send(crew, "POST", "ticks", body).json()
    with house.scope():
        kept = Tick.objects.count()
    assert send(crew, "POST", "ticks", body).json() == first
    with house.scope():
        assert Tick.objects.count() == kept


def test_one_bad_tick_harms_no_other(house: House, piece: Mapping[str, Any]) -> None:
    bad: list[dict[str, Any]] = [
        a_tick(piece, 201, "melted"),
        a_tick(piece, 0, "cut"),
        {**a_tick(piece, 203, "cut"), "piece": "not a uuid"},
        {**a_tick(piece, 204, "cut"), "plan": None},
        {**a_tick(piece, 205, "cut"), "made_at": "yesterday"},
        {**a_tick(piece, 206, "cut"), "made_at": "2026-11-25T08:30:00"},
        {**a_tick(piece, 207, "cut"), "figures": [1]},
        {**a_tick(piece, 208, "cut"), "figures": {"length_mm": -4}},
        {**a_tick(piece, 209, "cut"), "takes_back": "x"},
        {**a_tick(piece, 210, "cut"), "piece": str(uuid.uuid4())},
        {**a_tick(piece, 211, "cut"), "sequence": "12"},
    ]
    good = a_tick(piece, 101, "cut")
    response = send(house.client("electrician"), "POST", "ticks", {"ticks": [*bad[:6], good, *bad[6:]]})
    assert response.status_code == 200, response.content
    answers = {each["id"]: each for each in response.json()["answers"]}
    assert answers[good["id"]]["answer"] == "applied"
    for each in bad:
        assert answers[each["id"]]["answer"] == "refused", each
        assert answers[each["id"]]["text"]
        assert answers[each["id"]]["number"] is None


@pytest.mark.parametrize(
    "body",
    [
        {},
        {"ticks": []},
        {"ticks": {}},
        {"ticks": [7]},
        {"ticks": [{"id": "7"}]},
        {"ticks": [{}]},
        {"ticks": [], "device": "x"},
        {"ticks": [{"id": "01a20000-0000-7000-8000-000000000000"}] * 501},
    ],
)
def test_a_batch_of_another_shape_is_malformed(house: House, body: object) -> None:
    problem(send(house.client("electrician"), "POST", "ticks", body), 400, "malformed")


@pytest.mark.parametrize("role", ["manager", "administrator"])
def test_who_ticks_nothing_may_send_no_ticks(house: House, piece: Mapping[str, Any], role: str) -> None:
    problem(
        send(house.client(role), "POST", "ticks", {"ticks": [a_tick(piece, 101, "cut")]}), 403, "not-allowed"
    )


def test_ticks_on_another_companys_piece_are_refused_like_on_one_that_there_is_not(
    house: House, other_house: House, piece: Mapping[str, Any]
) -> None:
    theirs = a_tick(piece, 101, "cut")
    nobodys = {**a_tick(piece, 102, "cut"), "piece": str(uuid.uuid4()), "plan": str(uuid.uuid4())}
    answers = send(other_house.client("electrician"), "POST", "ticks", {"ticks": [theirs, nobodys]}).json()[
        "answers"
    ]
    told = [{name: value for name, value in each.items() if name != "id"} for each in answers]
    assert told[0] == told[1]
    assert told[0]["answer"] == "refused"
    assert send(house.client("electrician"), "GET", f"pieces/{piece['id']}").json()["state"] == "released"


def test_two_companies_may_use_the_same_tick_id(house: House, other_house: House) -> None:
    """An id that another company has used tells nothing: both ticks are taken."""
    same = str(uuid7())
    for each in (house, other_house):
        with each.scope():
            plan = release(each)
        crew = each.client("electrician")
        piece = send(crew, "GET", f"runs/{plan.run_id}/pieces").json()["items"][0]
        sent = {**a_tick(piece, 101, "cut"), "id": same}
        answer = send(crew, "POST", "ticks", {"ticks": [sent]}).json()["answers"][0]
        assert (answer["id"], answer["answer"]) == (same, "applied")


def test_an_electrician_is_told_the_work_of_their_own_crews(house: House, piece: Mapping[str, Any]) -> None:
    with house.scope():
        newcomer = person("Newcomer")
        commands.add_member(actor=house.administrator, person=newcomer, role="electrician")
    client = FreshClient()
    client.force_login(newcomer, backend="django.contrib.auth.backends.ModelBackend")
    assert send(client, "GET", "pieces").json()["items"] == []
    answer = send(client, "POST", "ticks", {"ticks": [a_tick(piece, 101, "cut")]}).json()["answers"][0]
    assert (answer["answer"], answer["reason"]) == ("refused", "other-crew")
    for role in ("electrician", "foreman", "manager"):
        items = send(house.client(role), "GET", "pieces").json()["items"]
        assert [each["id"] for each in items] == [piece["id"]]


# ---------------------------------------------------------------- scrap


@pytest.fixture
def scrapped(house: House) -> str:
    """A project with one piece cut and lost, at 11.40 for a length of 3750 mm; gives its id.

    A leg of 998 mm and the kerf of 2 mm: 1.000 m drawn, 3.04 of money, of which 400 mm are saved.
    """
    with house.scope():
        former = make_former(house)
        stock.set_price(
            actor=house.manager,
            conduit=former.conduit,
            full_length_mm=3750.0,
            price=Decimal("11.40"),
            from_day=timezone.localdate() - timedelta(days=2),
        )
        run = make_run(house, former=former, rows=[{"length_mm": 998, "then": "end"}])
        release(house, run)
        piece = pieces_of_run(run.pk)[0]
        for kind, figures in (("cut", {}), ("scrapped", {"cause": "over-bent", "saved_mm": 400})):
            tracking.tick_from_office(actor=house.electrician, piece_id=piece.pk, kind=kind, figures=figures)
        return str(run.room.project_id)


def test_scrap_is_told_in_metres_and_money_each_share_with_its_denominator(
    house: House, scrapped: str
) -> None:
    """998 mm and 2 mm of kerf are 1.000 m, 3.04 at 11.40 / 3750; 400 mm go back: 600 drawn and lost, 1.82."""
    job = send(house.client("manager"), "GET", "review/scrap").json()["items"][0]
    assert job["project"] == scrapped
    assert (float(job["drawn_m"]), float(job["scrap_m"])) == (0.6, 0.6)
    assert (Decimal(job["drawn"]["amount"]), Decimal(job["scrap"]["amount"])) == (
        Decimal("1.82"),
        Decimal("1.82"),
    )
    assert job["scrap"]["currency"] == "GBP"
    assert job["share"]["unit"] == "m"
    assert float(job["share"]["of"]) == 0.6
    assert job["share"]["ratio"] == "1.000000"


def test_a_figure_opens_down_to_its_entries_and_ticks_and_they_add_up(house: House, scrapped: str) -> None:
    manager = house.client("manager")
    review = send(manager, "GET", f"review/scrap/{scrapped}").json()
    assert [(each["cause"], Decimal(each["scrap"]["amount"])) for each in review["causes"]] == [
        ("over-bent", Decimal("1.82"))
    ]
    entries = send(manager, "GET", f"review/scrap/{scrapped}/entries?kind=scrap").json()["items"]
    assert [(Decimal(each["money"]["amount"]), each["cause"], each["label"]) for each in entries] == [
        (Decimal("1.82"), "over-bent", "07/1")
    ]
    piece = send(manager, "GET", f"pieces/{entries[0]['piece']}/ticks").json()["items"]
    assert entries[0]["tick"] in {each["id"] for each in piece if each["kind"] == "scrapped"}


@pytest.mark.parametrize(
    "query", ["kind=labour", "run=7", "cause=%00", "cause=" + "x" * 61, "colour=red", "limit=0"]
)
def test_entries_are_asked_for_by_what_there_is(house: House, scrapped: str, query: str) -> None:
    problem(
        send(house.client("manager"), "GET", f"review/scrap/{scrapped}/entries?{query}"), 400, "malformed"
    )


@pytest.mark.parametrize("path", ["review/scrap", "review/scrap/{0}", "review/scrap/{0}/entries"])
def test_money_is_for_those_who_may_see_it(house: House, scrapped: str, path: str) -> None:
    for role in ("electrician", "foreman"):
        problem(send(house.client(role), "GET", path.format(scrapped)), 403, "not-allowed")
    for role in ("manager", "administrator"):
        assert send(house.client(role), "GET", path.format(scrapped)).status_code == 200
    Company.objects.filter(pk=house.company.pk).update(foreman_sees_money=True)
    assert send(house.client("foreman"), "GET", path.format(scrapped)).status_code == 200
    problem(send(house.client("electrician"), "GET", path.format(scrapped)), 403, "not-allowed")


# ---------------------------------------------------------------- rights and companies


READS = [
    "projects",
    "formers",
    "crews",
    "projects/{project}",
    "projects/{project}/rooms",
    "projects/{project}/runs",
]
READS += ["runs/{run}", "runs/{run}/draft", "runs/{run}/plan"]
WRITES: list[tuple[str, str, object]] = [
    ("POST", "projects", {"code": "N", "name": "New"}),
    ("POST", "projects/{project}/rooms", {"name": "New"}),
    ("POST", "rooms/{room}/runs", {"label": "N", "former": "{former}"}),
    ("PATCH", "runs/{run}", {"from_place": "Panel"}),
    ("PUT", "runs/{run}/rows", {"rows": []}),
    ("POST", "runs/{run}/release", {"crew": "{crew}"}),
]


def filled(pattern: object, names: Mapping[str, Any]) -> Any:
    """A pattern with the ids in it."""
    if isinstance(pattern, str):
        return pattern.format(**names)
    if isinstance(pattern, dict):
        return {name: filled(value, names) for name, value in pattern.items()}
    return pattern


def tree(house: House) -> dict[str, Any]:
    """One of everything, released."""
    with house.scope():
        former = make_former(house)
        room = make_room(house)
        run = make_run(house, room, former=former)
        release(house, run)
        return {
            "project": room.project_id,
            "room": room.pk,
            "run": run.pk,
            "former": former.pk,
            "crew": house.crew.pk,
        }


def counts(house: House) -> tuple[int, ...]:
    """How much there is."""
    with house.scope():
        return tuple(model.objects.count() for model in (Project, Room, Run, Plan, Act))


@pytest.mark.parametrize("role", ["electrician", "foreman", "manager", "administrator"])
@pytest.mark.parametrize("pattern", READS)
def test_everybody_of_the_company_may_read_the_work(house: House, role: str, pattern: str) -> None:
    response = send(house.client(role), "GET", filled(pattern, tree(house)))
    assert response.status_code == 200, response.content


@pytest.mark.parametrize("role", ["electrician", "manager", "administrator"])
@pytest.mark.parametrize(("method", "pattern", "body"), WRITES)
def test_only_a_foreman_surveys_and_releases(
    house: House, role: str, method: str, pattern: str, body: object
) -> None:
    names = tree(house)
    before = counts(house)
    response = send(house.client(role), method, filled(pattern, names), filled(body, names), If_Match='"3"')
    problem(response, 403, "not-allowed")
    assert counts(house) == before


@pytest.mark.parametrize(
    ("method", "pattern", "body"), [("GET", each, None) for each in READS[3:]] + WRITES[1:]
)
def test_another_companys_row_is_as_one_that_there_is_not(
    house: House, other_house: House, foreman: FreshClient, method: str, pattern: str, body: object
) -> None:
    theirs = tree(other_house)
    nobodys = dict.fromkeys(theirs, uuid.uuid4())
    before = counts(other_house)
    answers = []
    for names in (theirs, nobodys):
        response = send(foreman, method, filled(pattern, names), filled(body, names), If_Match='"3"')
        told = dict(problem(response, 404, "not-found"))
        del told["instance"]
        answers.append((told, sorted(response.headers)))
    assert answers[0] == answers[1]
    assert counts(other_house) == before


@pytest.mark.parametrize(
    ("method", "pattern", "body"),
    [
        ("POST", "rooms/{room}/runs", {"label": "N", "former": "{former}"}),
        ("PATCH", "runs/{run}", {"former": "{former}"}),
        ("POST", "runs/{run}/release", {"crew": "{crew}"}),
    ],
)
def test_another_companys_row_in_a_body_is_not_found_and_nothing_moves(
    house: House, other_house: House, foreman: FreshClient, method: str, pattern: str, body: object
) -> None:
    theirs, ours = tree(other_house), tree(house)
    before = counts(house), counts(other_house)
    with house.scope():
        version = Run.objects.get().version
    response = send(foreman, method, filled(pattern, ours), filled(body, theirs), If_Match=f'"{version}"')
    problem(response, 404, "not-found")
    assert (counts(house), counts(other_house)) == before
    with house.scope():
        assert Run.objects.get().version == version


def test_every_view_of_the_api_names_its_rights_and_only_for_methods_it_has() -> None:
    for pattern in urlpatterns:
        view = getattr(pattern.callback, "view_class", None)
        if view is None:  # a page, which its gate guards
            assert (pattern.name, pattern.callback.right) == ("api-reference", Right.SEE_WORK)  # type: ignore[attr-defined]
            continue
        has = {name.upper() for name in ("get", "post", "put", "patch", "delete") if hasattr(view, name)}
        assert set(view.rights) == has, pattern.name
