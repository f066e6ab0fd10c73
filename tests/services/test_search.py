"""Search: projects, rooms, runs, and sticks by the label painted on them."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import House, make_former, make_project, make_room, make_run, release

from services.pages import search
from services.projects import commands as projects
from services.projects.models import Project

pytestmark = pytest.mark.django_db


@pytest.fixture
def job(scoped: House) -> Project:
    """FC-1 with run 07, released, and run 12, a draft; FC-2 with its own run 07, released."""
    former = make_former(scoped)
    first = make_project(scoped)
    room = make_room(scoped, first)
    release(scoped, make_run(scoped, room, label="07", former=former))
    run = make_run(scoped, room, label="12", former=former)
    projects.change_run(actor=scoped.foreman, run_id=run.pk, seen=run.version, to_place="Chilled water pump")
    other = make_room(scoped, make_project(scoped, code="FC-2", name="Sallow End"), name="Pump hall")
    release(scoped, make_run(scoped, other, label="07", former=former))
    return first


@pytest.mark.parametrize("text", ["07/1", "7/1", " 007 / 1 ", "7 /1"])
def test_a_painted_label_is_found_as_people_type_it(scoped: House, job: Project, text: str) -> None:
    found = search.find(text)
    assert [(piece.line.label, piece.line.run.room.project.code) for piece in found.pieces] == [
        ("07/1", "FC-1"),
        ("07/1", "FC-2"),
    ]
    assert [run.label for run in found.runs] == ["07", "07"]


@pytest.mark.parametrize("text", ["chilled", "water PUMP", "12"])
def test_a_run_is_found_by_label_and_by_where_it_goes(scoped: House, job: Project, text: str) -> None:
    assert [run.label for run in search.find(text).runs] == ["12"]


def test_what_is_called_so_stands_before_what_is_called_partly_so(scoped: House, job: Project) -> None:
    make_project(scoped, code="A-FC-1", name="Earlier by code")
    assert [project.code for project in search.find("fc-1").projects] == ["FC-1", "A-FC-1"]
    assert [room.name for room in search.find("pump").rooms] == ["Pump hall"]


def test_an_archived_job_is_found_last(scoped: House, job: Project) -> None:
    projects.archive_project(actor=scoped.foreman, project_id=job.pk, seen=job.version)
    assert [piece.line.run.room.project.code for piece in search.find("07/1").pieces] == ["FC-2", "FC-1"]


def test_nothing_is_found_for_nothing_and_for_what_there_is_not(scoped: House, job: Project) -> None:
    for text in ("", "   ", "99/1", "100%", "_", "07/"):
        found = search.find(text)
        assert found.is_empty or text == "07/", text
    assert not search.find("07/").is_empty  # part of a label


def test_of_many_the_first_are_told_and_that_there_are_more(scoped: House) -> None:
    for number in range(search.MOST + 3):
        make_project(scoped, code=f"M-{number:02d}", name="Alike")
    with CaptureQueriesContext(connection) as asked:
        found = search.find("alike")
    assert len(asked) == 4
    assert len(found.projects) == search.MOST
    assert found.more == {"projects"}


def test_every_page_has_the_field_and_the_address_holds_what_was_looked_for(house: House) -> None:
    with house.scope():
        release(house)
    client = house.client("electrician")
    assert 'id="find-q"' in client.get("/work/").content.decode()
    page = client.get("/search/?q=7/1").content.decode()
    assert "07/1" in page
    assert 'value="7/1"' in page
    hostile = client.get("/search/", {"q": "<script>alert(1)</script>"}).content.decode()
    assert "<script>alert" not in hostile
    assert "Nothing is called so." in hostile


def test_the_api_finds_the_same(house: House) -> None:
    with house.scope():
        release(house)
    client = house.client("electrician")
    told = client.get("/api/v1/search?q=07/1").json()
    assert [piece["label"] for piece in told["pieces"]] == ["07/1"]
    assert client.get("/api/v1/search?q=").status_code == 400
    assert client.get("/api/v1/search?what=07").status_code == 400
