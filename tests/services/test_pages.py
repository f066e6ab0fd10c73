"""The office pages: what they show, to whom, and what they say to bad input."""

import html
import json
import re
import uuid
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.http import QueryDict
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from factories import (
    PASSWORD,
    THREE_BENDS,
    FreshClient,
    House,
    leg,
    make_former,
    make_project,
    make_room,
    make_run,
    person,
)
from factories import release as release_to_crew

from bendcore.drawing import stylesheet
from bendcore.units import Units
from bendcore.words import Dialect
from services import pages
from services.company import commands as company_commands
from services.company.models import Role
from services.core import words
from services.pages import chart, rules, sheet
from services.projects import commands as project_commands
from services.projects import queries as project_queries
from services.projects import walk
from services.tracking import commands as tracking_commands
from services.tracking import queries as tracking_queries

# ---------------------------------------------------------------------------------------------- worked out


def row(then: str, angle: float | None = None, toward: str | None = None) -> dict[str, Any]:
    """A row as the rules want it."""
    return {"length_mm": 100.0, "to": "back", "then": then, "angle_deg": angle, "toward": toward}


def test_a_heading_follows_from_the_bends_before_it() -> None:
    rows = [
        row("bend", 90, "right"),
        row("bend", 90, "in"),
        row("offset", 30, "up"),
        row("bend", 90, "down"),
        row("end"),
    ]
    assert walk.headings(rows, "up") == ["up", "right", "in", "in", "down"]


def test_a_heading_is_aslant_after_a_bend_of_less_than_a_right_angle_and_back_after_its_other_half() -> None:
    rows = [row("bend", 45, "right"), row("bend", 45, "right"), row("end")]
    assert walk.headings(rows, "up") == ["up", "aslant", "right"]


def test_a_heading_is_not_told_after_a_bend_that_is_still_to_measure() -> None:
    assert walk.headings([row("bend", 90), row("end")], "up") == ["up", None]


def test_bends_add_up_with_both_of_a_set_and_all_of_a_saddle_set() -> None:
    rows = [row("bend", 90), row("offset", 30), row("saddle_set", 22.5), row("kick", 30), row("end")]
    assert walk.bends_so_far(rows) == [90.0, 150.0, 240.0, 270.0, 270.0]


def bend(number: int, roll: float, begin: float = 0.0, finish: float = 0.0) -> dict[str, Any]:
    """A bend of a stick, made in the order of its number."""
    return {"number": number, "order": number, "roll": roll, "begin": begin, "finish": finish}


@pytest.mark.parametrize(
    ("roll", "clock"),
    [
        (0.0, 0.0),  # both close the same way: the leg that is made already points up, as the new one will
        (180.0, 180.0),  # the second bend of a double set: the first leg hangs straight down
        (
            90.0,
            -90.0,
        ),  # the stick is turned a quarter back from 12 o'clock: seen from the datum end, to 9 o'clock
        (-90.0, 90.0),
        (30.0, -30.0),
    ],
)
def test_a_posture_tells_where_the_leg_of_the_bend_before_points(roll: float, clock: float) -> None:
    bends = [bend(1, 0.0), bend(2, roll)]
    assert rules.posture(bends[1], bends) == rules.Posture(1, clock)


def test_a_posture_looks_at_the_nearest_bend_that_is_made() -> None:
    bends = [bend(1, 0.0), bend(2, 90.0), bend(3, -90.0)]
    assert rules.posture(bends[2], bends) == rules.Posture(2, 180.0)
    assert rules.posture(bends[0], bends).of is None


def test_what_is_saved_of_a_scrapped_piece_is_its_longest_straight_if_it_is_long_enough() -> None:
    stick = {"cut_length": 3000.0, "bends": [bend(1, 0.0, 800.0, 915.0), bend(2, 0.0, 2000.0, 2115.0)]}
    assert rules.saving_proposed(stick, bent=True, least_mm=300.0) == 1085.0  # 2000 - 915
    assert rules.saving_proposed(stick, bent=True, least_mm=1100.0) == 0.0
    assert rules.saving_proposed(stick, bent=False, least_mm=300.0) == 3000.0


def test_of_three_versions_of_a_route_each_changed_row_is_told_with_who_changed_it() -> None:
    opened = [{"length_mm": each} for each in ("100", "200", "300", "400", "500")]
    mine = [{"length_mm": each} for each in ("101", "200", "303", "444", "500")]
    theirs = [{"length_mm": each} for each in ("100", "202", "333", "444", "500")]
    assert rules.merge(opened, mine, theirs=theirs) == rules.Merge(mine=(1,), theirs=(2,), both=(3,))


def test_rows_added_or_removed_are_not_merged_by_number() -> None:
    rows = [{"length_mm": "100"}, {"length_mm": "200"}]
    assert rules.merge(rows, rows, theirs=rows[:1]) is None
    assert rules.merge(rows, rows[:1], theirs=rows[:1]) is None


@pytest.mark.parametrize(
    "text", ["", "{}", "[[]]", "[1]", '[["1200"]]', "[" * 100_000, "[[1,2,3,4,5,6,7,8,9,10,11]]"]
)
def test_rows_as_they_were_opened_are_none_when_the_page_did_not_write_them(text: str) -> None:
    assert sheet.from_text(text) is None


def test_the_chart_lays_sticks_end_to_end_along_its_scale() -> None:
    laid = chart.row(
        [chart.ChartStick(1, "cut", 3000.0, ((600.0, 720.0),)), chart.ChartStick(2, "released", 1500.0)],
        scale_mm=6000.0,
    )
    assert [(each.x, each.width, each.end) for each in laid.segments] == [
        ("0.00%", "50.00%", "50.00%"), ("50.00%", "25.00%", "75.00%"),
    ]  # fmt: skip
    assert laid.segments[0].zones == (("10.00%", "2.00%"),)
    assert laid.tally == ((1, "cut"), (1, "released"))


def test_a_word_that_has_no_room_under_the_chart_is_left_out_but_the_last() -> None:
    sticks = [
        chart.ChartStick(1, "cut", 200.0),
        chart.ChartStick(2, "bent", 3000.0),
        chart.ChartStick(3, "released", 100.0),
    ]
    assert [state for state, _x in chart.row(sticks, scale_mm=12_000.0).words] == ["bent", "released"]


@pytest.mark.parametrize(
    ("longest", "units", "width", "last"),
    [
        (13_200.0, Units.MM, 14_000.0, "14"),
        (900.0, Units.MM, 2000.0, "2"),
        (11_900.0, Units.INCH, 12_192.0, "40"),
    ],
)
def test_a_scale_holds_the_longest_run_in_whole_steps(
    longest: float, units: Units, width: float, last: str
) -> None:
    scale = chart.scale_for(longest, units)
    assert scale.mm == pytest.approx(width)
    assert scale.labels[-1] == ("100.00%", last)


def typed(**fields: str) -> QueryDict:
    """A form of two rows, the second as a new row stands."""
    sent = QueryDict(mutable=True)
    first = {**sheet.blank(first=True), **fields}
    for name in sheet.NAMES:
        sent.setlist(name, [first[name], sheet.blank(first=False)[name]])
    return sent


def test_a_row_in_which_nothing_is_typed_is_none() -> None:
    found = sheet.read(typed(length_mm="1210", toward="right"), Units.MM)
    assert [each["length_mm"] for each in found.rows] == [1210.0]
    assert found.problems == []


def test_feet_and_inches_are_read_and_an_empty_figure_is_to_measure() -> None:
    found = sheet.read(typed(length_mm="""7' 10 1/2\"""", toward="right", angle_deg=""), Units.INCH)
    assert found.rows[0]["length_mm"] == pytest.approx(94.5 * 25.4)
    assert found.rows[0]["angle_deg"] is None


def test_what_cannot_be_read_is_a_problem_at_its_row_and_field() -> None:
    found = sheet.read(typed(length_mm="twelve", toward="right", angle_deg="steep"), Units.MM)
    assert [(row, name) for row, name, _text in found.problems] == [(0, "length_mm"), (0, "angle_deg")]
    assert "90 or 22.5" in found.problems[1][2]


def test_screen_words_are_those_of_the_country() -> None:
    assert words.word("crew", Dialect.UK), words.word("crew", Dialect.US) == ("gang", "crew")
    assert words.counted(1, "stick", Dialect.UK) == "1 length"
    assert words.counted(3, "stick", Dialect.US) == "3 sticks"
    assert words.counted(2, "coupler_and_male_bush", Dialect.UK) == "2 coupler and male bushes"
    assert words.state("installed", Dialect.UK) == "fitted"


def test_the_style_sheet_of_drawings_is_the_engines() -> None:
    kept = Path(pages.__file__).parent / "static/pages/drawings.css"
    assert kept.read_text(encoding="utf-8").split("\n", 1)[1] == stylesheet(), (
        "write the engine's style sheet there anew"
    )


# ---------------------------------------------------------------------------------------------------- the
# door


@pytest.mark.django_db
def test_who_is_not_signed_in_is_sent_to_the_door_and_then_to_where_they_wanted(house: House) -> None:
    client = FreshClient()
    answer = client.get(reverse("benders"))
    assert answer.status_code == 302
    assert answer["Location"] == "/sign-in/?next=/benders/"
    email = house.people[Role.FOREMAN].email
    answer = client.post("/sign-in/", {"email": email, "password": PASSWORD, "next": "/benders/"})
    assert answer["Location"] == "/benders/"


@pytest.mark.django_db
@pytest.mark.parametrize(
    "address", ["https://elsewhere.example/", "//elsewhere.example", "javascript:alert(1)"]
)
def test_the_door_leads_nowhere_else(house: House, address: str) -> None:
    body = {"email": house.people[Role.FOREMAN].email, "password": PASSWORD, "next": address}
    assert FreshClient().post("/sign-in/", body)["Location"] == "/"
    assert house.client(Role.FOREMAN).post("/light/", {"light": "dim", "next": address})["Location"] == "/"


@pytest.mark.django_db
def test_a_wrong_password_and_an_unknown_name_are_told_alike_and_the_name_stays(house: House) -> None:
    told = []
    for email in (house.people[Role.FOREMAN].email, "nobody@ostley.example"):
        answer = FreshClient().post("/sign-in/", {"email": email, "password": "not-the-password"})
        assert answer.status_code == 422
        text = answer.content.decode()
        assert f'value="{email}"' in text
        told.append(re.sub(r'(name="csrfmiddlewaretoken" value=")[^"]*', r"\1", text.replace(email, "")))
    assert told[0] == told[1]


@pytest.mark.django_db
def test_after_five_wrong_passwords_the_right_one_does_not_help(house: House) -> None:
    client = FreshClient()
    email = house.people[Role.FOREMAN].email
    body = {"email": email, "password": "not-the-password"}
    spellings = [email, email.upper(), f" {email}", email, email.title()]
    answers = [client.post("/sign-in/", {**body, "email": each}).status_code for each in spellings]
    assert answers[-1] == 429
    answer = client.post("/sign-in/", {**body, "password": PASSWORD})
    assert answer.status_code == 429
    assert "quarter of an hour" in answer.content.decode()
    other = {"email": house.people[Role.MANAGER].email, "password": PASSWORD}
    assert FreshClient().post("/sign-in/", other).status_code == 302  # nobody else is locked out by it


@pytest.mark.django_db
def test_the_light_is_kept_in_a_cookie_and_an_unknown_one_is_refused(house: House) -> None:
    client = house.client(Role.FOREMAN)
    assert "data-theme" not in client.get("/benders/").content.decode()
    client.post("/light/", {"light": "dim"})
    assert 'data-theme="dim"' in client.get("/benders/").content.decode()
    assert client.cookies["light"]["httponly"]
    assert client.post("/light/", {"light": "neon"}).status_code == 404


# -------------------------------------------------------------------------------------------------------
# pages


class Policy(HTMLParser):
    """What the content policy would block, and pictures without a word for those who do not see them."""

    def __init__(self) -> None:
        super().__init__()
        self.wrong: list[str] = []
        self.ids: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Looks at one element."""
        given = dict(attrs)
        if "style" in given or tag == "style":
            self.wrong.append(f"style at {tag}")
        self.wrong += [f"{name} at {tag}" for name in given if name.startswith(("on", "hx-on"))]
        if tag == "script" and "src" not in given:
            self.wrong.append("a script in the page")
        if given.get("id"):
            self.ids.append(str(given["id"]))


def judged(text: str) -> list[str]:
    """What is wrong with a page as it was sent."""
    policy = Policy()
    policy.feed(text)
    doubled = sorted({each for each in policy.ids if policy.ids.count(each) > 1} - {""})
    return policy.wrong + [f"id {each} stands twice" for each in doubled]


def test_what_a_strict_policy_blocks_is_found() -> None:
    assert judged('<p style="x" onclick="y"></p><script>z</script><i id="a"></i><i id="a"></i>') == [
        "style at p", "onclick at p", "a script in the page", "id a stands twice",
    ]  # fmt: skip


@pytest.mark.django_db
def test_no_page_has_what_a_strict_policy_blocks(house: House) -> None:
    with house.scope():
        plan = release_to_crew(house)
        run = plan.run
        draft = make_run(
            house, run.room, label="08", rows=[*THREE_BENDS[:1], leg(None, then="end")], former=run.former
        )
        piece = tracking_queries.pieces_of_run(run.pk)[0]
        for kind in ("cut", "bent"):
            tracking_commands.tick_from_office(actor=house.electrician, piece_id=piece.pk, kind=kind)
    names: list[tuple[str, dict[str, Any]]] = [
        ("wall-chart", {}), ("work", {}), ("benders", {}), ("stock", {}), ("project-new", {}),
        ("room-new", {"project_id": run.room.project_id}), ("run-new", {"room_id": run.room_id}),
        ("run", {"run_id": run.pk}), ("run-sheet", {"run_id": draft.pk}),
        ("run-change", {"run_id": draft.pk}),
        ("piece", {"piece_id": piece.pk}), ("scrap", {"piece_id": piece.pk}),
        ("former-new", {"bender_id": run.former.bender_id}), ("former-change", {"former_id": run.former_id}),
    ]  # fmt: skip
    client = house.client(Role.FOREMAN)
    for name, parts in names:
        answer = client.get(reverse(name, kwargs=parts))
        assert answer.status_code == 200, name
        assert judged(answer.content.decode()) == [], name
        assert answer["Cache-Control"] == "no-store"
    manager = house.client(Role.MANAGER)
    for name in ("review", "review-job", "review-entries"):
        parts = {} if name == "review" else {"project_id": run.room.project_id}
        assert judged(manager.get(reverse(name, kwargs=parts)).content.decode()) == [], name


@pytest.mark.django_db
def test_an_empty_company_is_told_what_to_do_first_and_what_is_done(house: House) -> None:
    client = house.client(Role.FOREMAN)

    def now() -> str:
        found = re.search(r'class="nowat"><span class="ord">(\d)', client.get("/").content.decode())
        assert found
        return found[1]

    assert now() == "1"
    with house.scope():
        make_former(house)
    assert now() == "2"
    with house.scope():
        project = make_project(house)
    assert now() == "3"
    with house.scope():
        make_run(house, make_room(house, project))
    assert "nowat" not in client.get("/").content.decode()


@pytest.mark.django_db
def test_a_bad_form_says_what_is_allowed_at_the_field_and_keeps_what_was_typed(house: House) -> None:
    client = house.client(Role.FOREMAN)
    with house.scope():
        make_project(house, code="FC-1")
    answer = client.post("/projects/new/", {"code": "FC-1", "name": "Fenwater <b>Creamery</b>"})
    text = answer.content.decode()
    assert answer.status_code == 422
    assert 'id="id_code_error"' in text
    assert "there is a project FC-1 already" in text
    assert "Fenwater &lt;b&gt;Creamery&lt;/b&gt;" in text
    with house.scope():
        assert len(project_queries.projects()) == 1


@pytest.mark.django_db
def test_a_former_is_typed_in_the_companys_units(other_house: House) -> None:
    client = other_house.client(Role.FOREMAN)
    client.post("/benders/", {"name": "Hand bender"})
    with other_house.scope():
        from services.bench.queries import benders

        bender = benders()[0]
    body = {"conduit": "emt-1/2", "centreline_radius_mm": "4 5/16", "line": "arrow", "take_up_mm": '5"'}
    assert client.post(reverse("former-new", kwargs={"bender_id": bender.pk}), body).status_code == 302
    with other_house.scope():
        former = benders()[0].formers.get()
    assert former.centreline_radius_mm == pytest.approx(109.5375)  # 4.3125 x 25.4
    assert former.take_up_mm == pytest.approx(127.0)
    assert "4 5/16" in client.get("/benders/").content.decode()


@pytest.mark.django_db
def test_rows_are_kept_all_or_none_and_the_answer_never_replaces_the_rows(house: House) -> None:
    with house.scope():
        run = make_run(house, rows=[])
    client = house.client(Role.FOREMAN)
    address = reverse("run-rows", kwargs={"run_id": run.pk})
    columns = {name: ["", ""] for name in sheet.NAMES}
    columns |= {
        "length_mm": ["1200", "ninety"], "from": ["face", "back"], "to": ["back", "face"],
        "then": ["bend", "end"], "angle_deg": ["90", ""], "toward": ["right", ""],
    }  # fmt: skip
    answer = client.post(address, {**columns, "seen": run.version}, headers={"HX-Request": "true"})
    assert answer.status_code == 422
    assert 'id="found-2"' in answer.content.decode()
    assert "name=&quot;length_mm" not in answer.content.decode()
    assert 'name="length_mm"' not in answer.content.decode()
    with house.scope():
        assert project_queries.run(run.pk).rows == []
    columns["length_mm"] = ["1200", "900"]
    answer = client.post(address, {**columns, "seen": run.version}, headers={"HX-Request": "true"})
    assert answer.status_code == 200
    assert f'id="seen" value="{run.version + 1}"' in answer.content.decode()
    assert "data-mark>1200<" in answer.content.decode()  # to the back, and set by the former's back line
    with house.scope():
        assert [each["length_mm"] for each in project_queries.run(run.pk).rows] == [1200.0, 900.0]


@pytest.mark.django_db
def test_a_sheet_that_is_older_than_the_run_changes_nothing_and_shows_the_difference(house: House) -> None:
    with house.scope():
        run = make_run(house)
        project_commands.set_rows(
            actor=house.foreman, run_id=run.pk, seen=run.version, rows=[leg(500, then="end")]
        )
    columns = {name: [""] for name in sheet.NAMES} | {
        "length_mm": ["700"],
        "from": ["face"],
        "to": ["face"],
        "then": ["end"],
    }
    answer = house.client(Role.FOREMAN).post(
        reverse("run-rows", kwargs={"run_id": run.pk}),
        {**columns, "seen": run.version},
        headers={"HX-Request": "true"},
    )
    assert answer.status_code == 412
    assert answer["HX-Retarget"] == "#stale"
    assert "500" in answer.content.decode()
    assert "700" in answer.content.decode()
    with house.scope():
        assert project_queries.run(run.pk).rows[0]["length_mm"] == 500.0


def columns_of(*lengths: str) -> dict[str, list[str]]:
    """A straight-measured sheet: right angles to the right and in by turns, then the end."""
    count = len(lengths)
    return {name: [""] * count for name in sheet.NAMES} | {
        "length_mm": list(lengths),
        "from": ["face"] + ["back"] * (count - 1),
        "to": ["back"] * (count - 1) + ["face"],
        "then": ["bend"] * (count - 1) + ["end"],
        "angle_deg": ["90"] * (count - 1) + [""],
        "toward": [("right", "in")[index % 2] for index in range(count - 1)] + [""],
    }


@pytest.mark.django_db
def test_a_run_of_two_hundred_rows_is_kept_through_the_page_and_one_more_is_refused(house: House) -> None:
    with house.scope():
        run = make_run(house, rows=[])
    client = house.client(Role.FOREMAN)
    address = reverse("run-rows", kwargs={"run_id": run.pk})
    sent = columns_of(*["12345.67890123"] * 200)
    opened = json.dumps(list(zip(*sent.values(), strict=True)))
    body = {**sent, "seen": run.version, "opened": opened, "csrfmiddlewaretoken": "x" * 64}
    assert client.post(address, body, headers={"HX-Request": "true"}).status_code == 200
    with house.scope():
        assert len(project_queries.run(run.pk).rows) == 200
    more = client.post(
        address, {**columns_of(*["1000"] * 201), "seen": run.version + 1}, headers={"HX-Request": "true"}
    )
    assert more.status_code == 422
    with house.scope():
        assert len(project_queries.run(run.pk).rows) == 200


@pytest.mark.django_db
def test_an_older_sheet_without_script_is_told_on_its_own_answer_and_never_on_the_next_page(
    house: House,
) -> None:
    with house.scope():
        run = make_run(house, rows=[leg(500, then="end")])
    client = house.client(Role.FOREMAN)
    opened = re.search(r'id="opened" value="([^"]*)"', client.get(f"/runs/{run.pk}/sheet/").content.decode())
    assert opened
    with house.scope():
        project_commands.set_rows(
            actor=house.foreman, run_id=run.pk, seen=run.version, rows=[leg(600, then="end")]
        )
    answer = client.post(
        reverse("run-rows", kwargs={"run_id": run.pk}),
        {**columns_of("700"), "seen": run.version, "opened": html.unescape(opened[1])},
    )
    assert answer.status_code == 412
    told = answer.content.decode()
    assert "Changed by Ostley foreman." in told
    assert 'value="700"' in told
    assert f'id="seen" value="{run.version + 1}"' in told
    assert "Changed by Ostley foreman" not in client.get("/").content.decode()
    with house.scope():
        assert project_queries.run(run.pk).rows[0]["length_mm"] == 600.0


@pytest.mark.django_db
def test_rows_that_are_kept_already_are_answered_as_kept_when_they_come_again(house: House) -> None:
    with house.scope():
        run = make_run(house, rows=[])
    client = house.client(Role.FOREMAN)
    address = reverse("run-rows", kwargs={"run_id": run.pk})
    for _time in range(2):
        answer = client.post(
            address, {**columns_of("1200", "900"), "seen": run.version}, headers={"HX-Request": "true"}
        )
        assert answer.status_code == 200
        assert f'id="seen" value="{run.version + 1}"' in answer.content.decode()


@pytest.mark.django_db
def test_a_run_with_a_stop_is_not_released_whatever_the_browser_says(house: House) -> None:
    rows = [
        leg(1000, then="bend", angle_deg=90, toward="right"),
        leg(50, then="bend", angle_deg=90, toward="in"),
        leg(500, then="end"),
    ]
    with house.scope():
        run = make_run(house, rows=rows)
    client = house.client(Role.FOREMAN)
    page = client.get(reverse("run-sheet", kwargs={"run_id": run.pk})).content.decode()
    assert re.search(r'id="go"[^>]*disabled', page)
    assert "1 stop" in page
    body = {"crew": str(house.crew.pk), "seen": run.version}
    answer = client.post(reverse("run-release", kwargs={"run_id": run.pk}), body, follow=True)
    assert "cannot be planned yet" in answer.content.decode()
    with house.scope():
        assert project_queries.run(run.pk).crew is None


@pytest.mark.django_db
def test_each_step_of_a_piece_has_its_caution(house: House) -> None:
    with house.scope():
        plan = release_to_crew(house)
        piece = tracking_queries.pieces_of_run(plan.run_id)[0]
    client = house.client(Role.ELECTRICIAN)
    address = reverse("piece", kwargs={"piece_id": piece.pk})
    for step, caution in (
        ("cut", "ream the bore"),
        ("bend-1", "The tail swings"),
        ("check", "do not straighten it and use it"),
        ("install", "Read continuity before cables are drawn in"),
    ):
        assert caution in client.get(f"{address}?step={step}").content.decode()


@pytest.mark.django_db
def test_a_card_of_an_old_revision_leads_to_the_present_piece_and_says_so(house: House) -> None:
    with house.scope():
        plan = release_to_crew(house)
        old = tracking_queries.pieces_of_run(plan.run_id)[0].stick_id
        run = project_queries.run(plan.run_id)
        rows = [{**THREE_BENDS[0], "length_mm": 900}, *THREE_BENDS[1:]]
        run = project_commands.set_rows(actor=house.foreman, run_id=run.pk, seen=run.version, rows=rows)
        release_to_crew(house, run)
    answer = house.client(Role.ELECTRICIAN).get(reverse("stick", kwargs={"stick_id": old}), follow=True)
    assert "The card is of revision 1, which is superseded." in answer.content.decode()


@pytest.mark.django_db
def test_money_is_on_no_page_of_those_who_may_not_see_it(house: House) -> None:
    client = house.client(Role.ELECTRICIAN)
    assert client.get("/review/").status_code == 403
    assert "GBP" not in client.get("/stock/").content.decode()
    assert "Review" not in client.get("/stock/").content.decode()
    assert "Prices" in house.client(Role.MANAGER).get("/stock/").content.decode()


@pytest.mark.django_db
def test_the_wall_chart_asks_the_same_number_of_questions_however_many_runs_there_are(house: House) -> None:
    client = house.client(Role.FOREMAN)
    with house.scope():
        former = make_former(house)
        room = make_room(house)
        release_to_crew(house, make_run(house, room, label="01", former=former))
        make_run(house, room, label="02", former=former)
    client.get("/")
    with CaptureQueriesContext(
        connection,
    ) as few:
        client.get("/")
    with house.scope():
        for number in range(3, 9):
            run = make_run(house, room, label=f"0{number}", former=former)
            if number % 2:
                release_to_crew(house, run)
    with CaptureQueriesContext(connection) as many:
        client.get("/")
    assert len(many) == len(few)


@pytest.mark.django_db
def test_an_electrician_has_no_tick_on_another_crews_piece_and_reads_whose_it_is(house: House) -> None:
    with house.scope():
        plan = release_to_crew(house)
        piece = tracking_queries.pieces_of_run(plan.run_id)[0]
    address = reverse("piece", kwargs={"piece_id": piece.pk})
    own = house.client(Role.ELECTRICIAN).get(address).content.decode()
    assert "Tick cut" in own
    assert "Scrap this piece" in own
    stranger = person("Brannoc Tull")
    with house.scope():
        company_commands.add_member(actor=house.administrator, person=stranger, role=Role.ELECTRICIAN)
        tracking_commands.tick_from_office(actor=house.foreman, piece_id=piece.pk, kind="cut")
    client = FreshClient()
    client.force_login(stranger, backend="django.contrib.auth.backends.ModelBackend")
    other = client.get(address).content.decode()
    assert "This piece is Ostley crew’s: they and the foreman tick here." in other
    for button in ("Tick bent", "Scrap this piece", "Take back"):
        assert button not in other


@pytest.mark.django_db
def test_what_is_refused_is_said_in_the_companys_words(house: House, other_house: House) -> None:
    for one, word, strange in ((house, "fitted", "installed"), (other_house, "installed", "fitted")):
        with one.scope():
            plan = release_to_crew(one)
            piece = tracking_queries.pieces_of_run(plan.run_id)[0]
            tracking_commands.tick_from_office(actor=one.foreman, piece_id=piece.pk, kind="installed")
        address = reverse("piece-tick", kwargs={"piece_id": piece.pk})
        answer = one.client(Role.FOREMAN).post(address, {"kind": "reworked"}, follow=True).content.decode()
        said = re.search(r'<p class="why".*?</p>', answer, re.DOTALL)
        assert said
        assert f"is {word};" in said[0]
        assert strange not in said[0]
        wrong = {"kind": "scrapped"}
        answer = one.client(Role.FOREMAN).post(address, wrong, follow=True).content.decode()
        assert "The cause is missing" in answer
        answer = one.client(Role.FOREMAN).post(address, {"kind": "frobnicated"}, follow=True).content.decode()
        assert "There is no such tick." in answer
        assert "allowed are" not in answer


@pytest.mark.django_db
@pytest.mark.parametrize("address", ["/nowhere/", "/ru/"])
def test_an_unknown_address_is_nowhere_in_the_bar(house: House, address: str) -> None:
    client = house.client(Role.FOREMAN)
    assert 'aria-current="page"' not in client.get(address).content.decode()
    assert client.get("/stock/").content.decode().count('aria-current="page"') == 1


@pytest.mark.django_db
def test_what_a_scrap_saved_stands_on_the_stock_page(house: House) -> None:
    with house.scope():
        plan = release_to_crew(house)
        piece = tracking_queries.pieces_of_run(plan.run_id)[0]
        tracking_commands.tick_from_office(
            actor=house.foreman,
            piece_id=piece.pk,
            kind="scrapped",
            figures={"cause": "kinked", "saved_mm": 777.0},
        )
    page = house.client(Role.FOREMAN).get("/stock/").content.decode()
    assert "777" in page


@pytest.mark.django_db
def test_an_unknown_address_is_a_page_that_leads_back(house: House) -> None:
    answer = house.client(Role.FOREMAN).get(reverse("piece", kwargs={"piece_id": uuid.uuid4()}))
    assert answer.status_code == 404
    assert "To the wall chart" in answer.content.decode()
