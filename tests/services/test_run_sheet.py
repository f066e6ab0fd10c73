"""The run sheet on screen: fittings in the rows, banks, a run split at its box, stops let pass, chosen
sticks, two who edit at once, two plans side by side."""

import html
import json
import re
from typing import Any

import pytest
from django.db import connection
from django.http import QueryDict
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from factories import THREE_BENDS, FreshClient, House, leg, make_former, make_room, make_run

import bendcore
from bendcore.units import Units
from bendcore.words import Dialect
from services.bench import commands as bench
from services.company import commands as companies
from services.company.models import Company, Role
from services.core.errors import Invalid, NotAllowed, StaleVersion
from services.pages import beside, compare, drawn, rules, sheet, sticks
from services.planning import commands as planning
from services.planning import queries as planning_queries
from services.planning.models import Override
from services.projects import commands as projects
from services.projects import queries as project_queries
from services.projects import rules as project_rules
from services.projects.models import Run
from services.tracking.queries import pieces_of_run

BOX = {"then": "fitting", "fitting": "draw_in_box", "leg_in_mm": 46.0, "leg_out_mm": 46.0}
THROUGH_A_BOX = [
    leg(1210, then="bend", angle_deg=90, toward="right"),
    leg(1900, **{"from": "back", "to": "corner", **BOX}),
    leg(1500, **{"from": "corner", "to": "back", "then": "bend", "angle_deg": 90, "toward": "in"}),
    leg(700, **{"from": "back", "to": "face", "then": "end"}),
]
FIVE_BENDS = [
    leg(900, then="bend", angle_deg=90, toward="right"),
    *[leg(900, then="bend", angle_deg=90, toward=toward) for toward in ("in", "up", "left", "out")],
    leg(600, then="end"),
]
TEN_ROWS = [
    leg(1200, then="bend", angle_deg=90, toward="right"),
    *[
        leg(1300 + 37 * index, then="bend", angle_deg=90 if index < 2 else 45, toward=way)
        for index, way in enumerate(("in", "up", "right", "out", "down", "in", "up", "right"))
    ],
    leg(900, then="end"),
]


def fresh(run: Run) -> Run:
    """The run as it stands."""
    return project_queries.run(run.pk)


def settings(house: House, **told: Any) -> Company:
    """The company with other settings."""
    Company.objects.filter(pk=house.company.pk).update(**told)
    return Company.objects.get(pk=house.company.pk)


def at(name: str, run: Run, **more: Any) -> str:
    """An address of a run."""
    return reverse(name, kwargs={"run_id": run.pk, **more})


def page(client: FreshClient, address: str) -> str:
    """A page's text; fails unless it is answered with 200."""
    answer = client.get(address)
    assert answer.status_code == 200, answer.content.decode()[:500]
    return answer.content.decode()


def hidden(text: str, name: str) -> str:
    """The value of a hidden field."""
    found = re.search(rf'name="{name}"[^>]*value="([^"]*)"', text)
    assert found, name
    return html.unescape(found[1])


def typed(rows: list[dict[str, Any]]) -> dict[str, list[str]]:
    """Rows as the browser sends them."""
    made = sheet.typed_rows(project_rules.checked_rows(rows), Units.MM)
    return {name: [row[name] for row in made] for name in sheet.NAMES}


def keep(client: FreshClient, run: Run, rows: list[dict[str, Any]], **more: Any) -> Any:
    """Sends rows as the page's script does."""
    return client.post(
        at("run-rows", run), {**typed(rows), "seen": run.version, **more}, headers={"HX-Request": "true"}
    )


# ---------------------------------------------------------------------- rows, findings


def test_a_fitting_is_read_from_the_fields_and_stands_in_them_again() -> None:
    sent = QueryDict(mutable=True)
    for name, values in typed(THROUGH_A_BOX).items():
        sent.setlist(name, values)
    found = sheet.read(sent, Units.MM)
    assert found.problems == []
    assert found.rows[1]["fitting"] == "draw_in_box"
    assert (found.rows[1]["leg_in_mm"], found.rows[1]["leg_out_mm"]) == (46.0, 46.0)
    assert "fitting" not in found.rows[0]
    assert sheet.typed_rows(found.rows, Units.MM)[1]["leg_in_mm"] == "46"


def test_a_field_that_an_older_page_did_not_send_is_empty() -> None:
    sent = QueryDict(mutable=True)
    for name, values in typed(THREE_BENDS).items():
        if name not in ("fitting", "radius_mm", "leg_in_mm", "leg_out_mm"):
            sent.setlist(name, values)
    assert len(sheet.read(sent, Units.MM).rows) == len(THREE_BENDS)


@pytest.mark.parametrize(
    ("words", "names"),
    [
        ("uk", ("draw-in box", "inspection bend", "inspection tee", "normal bend")),
        ("us", ("pull box", "conduit body", "tee body", "factory elbow")),
    ],
)
def test_fittings_are_called_as_the_company_calls_them(
    house: House, words: str, names: tuple[str, ...]
) -> None:
    with house.scope():
        settings(house, words=words)
        run = make_run(house, rows=THROUGH_A_BOX)
    told = page(house.client(Role.FOREMAN), at("run-sheet", run))
    for name in names:
        assert f">{name}</option>" in told


def test_findings_are_grouped_and_many_notes_are_folded() -> None:
    note, let = sheet.Found("note", "a"), sheet.Found("stop", "c", passed="why")
    groups = sheet.grouped([note, sheet.Found("warn", "b"), note, let, note, note, sheet.Found("stop", "d")])
    assert [(group.level, len(group.found), group.is_folded) for group in groups] == [
        ("stop", 2, False),
        ("warn", 1, False),
        ("note", 4, True),
    ]
    assert [each.text for each in groups[0].found] == ["d", "c"]
    assert not sheet.grouped([note, note, note])[0].is_folded


def test_a_finding_of_the_rules_says_where_it_is_from(house: House) -> None:
    with house.scope():
        settings(house, rules="uk")
        run = make_run(house)
    told = page(house.client(Role.FOREMAN), at("run-sheet", run))
    assert "Where this is from" in told
    assert "On-Site Guide" in told


def test_the_start_row_says_which_wall_one_faces_and_the_form_proposes_that_of_the_room(house: House) -> None:
    with house.scope():
        room = make_room(house)
        former = make_former(house)
        run = make_run(house, room, former=former)
        other = make_run(house, room, label="08", former=former)
        projects.change_run(actor=house.foreman, run_id=run.pk, seen=2, facing="the north wall")
    client = house.client(Role.FOREMAN)
    assert "facing the north wall" in page(client, at("run-sheet", run))
    assert "Other runs of this room: the north wall." in page(client, at("run-change", other))


# ---------------------------------------------------------------------- the run form


def form_of(client: FreshClient, run: Run) -> dict[str, str]:
    """The run form as it is opened, ready to be sent."""
    answer = client.get(at("run-change", run))
    form = answer.context["form"]
    sent = {name: str(form[name].value() or "") for name in form.fields}
    text = answer.content.decode()
    return {**sent, "seen": hidden(text, "seen"), "opened": hidden(text, "opened")}


def test_cables_of_either_country_are_typed_as_that_country_does(house: House) -> None:
    with house.scope():
        settings(house, rules="uk")
        run = make_run(house)
    client = house.client(Role.FOREMAN)
    sent = form_of(client, run) | {
        "cable_1_csa_mm2": "2.5",
        "cable_1_type": "solid",
        "cable_1_count": "3",
        "fit_from": "both",
    }
    assert client.post(at("run-change", run), sent).status_code == 302
    with house.scope():
        kept = fresh(run)
        assert kept.cables == [{"csa_mm2": 2.5, "count": 3, "type": "solid"}]
        assert kept.fit_from == "both"
        settings(house, rules="us")
    assert "cable_1_insulation" in page(client, at("run-change", run))


def test_without_a_rule_pack_no_cable_is_asked_and_those_that_there_are_stay(house: House) -> None:
    with house.scope():
        settings(house, rules="uk")
        run = make_run(house)
        cables = [{"csa_mm2": 4.0, "count": 2, "type": "stranded"}]
        projects.change_run(actor=house.foreman, run_id=run.pk, seen=2, cables=cables)
        settings(house, rules="")
    client = house.client(Role.FOREMAN)
    assert "the company has chosen none" in page(client, at("run-change", run))
    assert client.post(at("run-change", run), form_of(client, run)).status_code == 302
    with house.scope():
        assert fresh(run).cables == [{"csa_mm2": 4.0, "count": 2}]  # stranded is the usual


def test_a_half_typed_cable_is_told_at_its_own_row_and_nothing_is_kept(house: House) -> None:
    with house.scope():
        settings(house, rules="uk")
        run = make_run(house)
    client = house.client(Role.FOREMAN)
    sent = form_of(client, run) | {"cable_2_csa_mm2": "2.5", "to_place": "Tank"}
    answer = client.post(at("run-change", run), sent)
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == ["cable_2_count"]
    with house.scope():
        assert fresh(run).to_place == ""


def test_of_two_who_change_a_run_the_second_keeps_both_where_they_changed_different_fields(
    house: House,
) -> None:
    with house.scope():
        run = make_run(house)
    client = house.client(Role.FOREMAN)
    mine = form_of(client, run) | {"to_place": "Tank"}
    with house.scope():
        projects.change_run(actor=house.foreman, run_id=run.pk, seen=2, from_place="Panel")
    answer = client.post(at("run-change", run), mine)
    assert answer.status_code == 412
    text = answer.content.decode()
    assert "Ostley foreman changed this run meanwhile." in text
    with house.scope():
        assert fresh(run).to_place == ""
    form = answer.context["form"]
    again = {name: str(form[name].value() or "") for name in form.fields}
    assert (again["from_place"], again["to_place"]) == ("Panel", "Tank")
    sent = {**again, "seen": hidden(text, "seen"), "opened": hidden(text, "opened")}
    assert client.post(at("run-change", run), sent).status_code == 302
    with house.scope():
        assert (fresh(run).from_place, fresh(run).to_place) == ("Panel", "Tank")


@pytest.mark.parametrize(("whose", "stands"), [("theirs", "Vat 3"), ("mine", "Tank")])
def test_where_both_changed_a_field_one_is_chosen_before_anything_is_kept(
    house: House, whose: str, stands: str
) -> None:
    with house.scope():
        run = make_run(house)
    client = house.client(Role.FOREMAN)
    mine = form_of(client, run) | {"to_place": "Tank"}
    with house.scope():
        projects.change_run(actor=house.foreman, run_id=run.pk, seen=2, to_place="Vat 3")
    answer = client.post(at("run-change", run), mine)
    form = answer.context["form"]
    text = answer.content.decode()
    sent = {name: str(form[name].value() or "") for name in form.fields}
    sent |= {"seen": hidden(text, "seen"), "opened": hidden(text, "opened"), "choices": "whose-to_place"}
    unchosen = client.post(at("run-change", run), sent)
    assert unchosen.status_code == 412
    assert 'name="whose-to_place"' in unchosen.content.decode()
    with house.scope():
        assert fresh(run).to_place == "Vat 3"
    assert client.post(at("run-change", run), {**sent, "whose-to_place": whose}).status_code == 302
    with house.scope():
        assert fresh(run).to_place == stands


@pytest.mark.parametrize(
    ("was", "mine", "theirs", "who"),
    [
        ("a", "a", "a", "nobody"),
        ("a", "b", "b", "nobody"),
        ("a", "b", "a", "mine"),
        ("a", "a", "b", "theirs"),
        ("a", "b", "c", "both"),
        (None, "b", "c", "both"),
    ],
)
def test_who_changed_a_field(was: str | None, mine: str, theirs: str, who: str) -> None:
    assert rules.changed_by(was, mine, theirs) == who


# ---------------------------------------------------------------------- labels


@pytest.mark.parametrize(
    ("labels", "proposed"),
    [
        ([], "01"),
        (["07", "12"], "13"),
        (["C7"], "01"),
        (["099"], "100"),
        (["7", "009"], "010"),
        (["٣"], "01"),
        (["1" * 12], "01"),
    ],
)
def test_the_next_label_is_the_next_number(labels: list[str], proposed: str) -> None:
    assert beside.next_label(labels) == proposed


def test_labels_of_a_bank_count_up_and_pass_over_those_taken() -> None:
    assert beside.labels_after("07", 3, taken=["07", "09"]) == ["08", "10", "11"]
    assert beside.labels_after("C7", 1, taken=[]) == ["C8"]
    assert beside.labels_after("Roof", 2, taken=["Roof2"]) == ["Roof3", "Roof4"]


def test_what_goes_on_after_a_box_bears_the_next_letter() -> None:
    assert beside.label_of_rest("07", taken=["07"]) == "07B"
    assert beside.label_of_rest("07B", taken=["07", "07B"]) == "07C"
    assert beside.label_of_rest("07", taken=["07B"]) == "07C"


def test_enter_alone_makes_a_run_with_the_next_label(house: House) -> None:
    with house.scope():
        room = make_room(house)
        former = make_former(house)
        make_run(house, room, former=former)
    client = house.client(Role.FOREMAN)
    sent = {"label": "", "former_id": str(former.pk), "heading": "up", "from_place": "", "to_place": ""}
    answer = client.post(reverse("run-new", kwargs={"room_id": room.pk}), sent)
    assert answer.status_code == 302
    with house.scope():
        assert Run.objects.filter(room=room, label="08").exists()


def test_a_job_without_a_name_bears_its_code(house: House) -> None:
    answer = house.client(Role.FOREMAN).post(reverse("project-new"), {"code": "FC-9", "name": ""})
    assert answer.status_code == 302
    with house.scope():
        assert [each.name for each in project_queries.projects()] == ["FC-9"]


# ---------------------------------------------------------------------- banks, splits


def test_a_bank_is_laid_shown_with_its_steps_and_left(house: House) -> None:
    with house.scope():
        run = make_run(house)
    client = house.client(Role.FOREMAN)
    asked = page(client, f"{at('run-bank', run)}?count=2")
    assert 'value="08"' in asked
    assert 'value="09"' in asked
    laid = client.post(
        at("run-bank", run),
        {
            "count": "2", "label_1": "08", "label_2": "09", "spacing_mm": "60", "toward": "right",
            "corners": "equal", "seen": "2",
        },
    )  # fmt: skip
    assert laid.status_code == 302
    told = page(client, at("run-sheet", run))
    assert "marks step" in told
    assert "-60" in told  # each corner lies a spacing nearer the start than that of the run before
    with house.scope():
        second, third = project_queries.bank_of(run.pk)
    beside_page = page(client, at("run-sheet", third))
    assert "Change the rows at run 07" in beside_page
    assert 'name="length_mm"' not in beside_page
    refused = client.post(at("run-leave-bank", second), {"seen": second.version}, follow=True)
    assert "Only the last run of a bank can leave it." in refused.content.decode()
    assert client.post(at("run-leave-bank", third), {"seen": third.version}).status_code == 302
    assert 'name="length_mm"' in page(client, at("run-sheet", third))


def test_a_bank_that_cannot_be_stands_as_typed_with_what_is_wrong(house: House) -> None:
    with house.scope():
        run = make_run(house)
    sent = {
        "count": "1",
        "label_1": "0/8",
        "spacing_mm": "",
        "toward": "right",
        "corners": "equal",
        "seen": "2",
    }
    answer = house.client(Role.FOREMAN).post(at("run-bank", run), sent)
    assert answer.status_code == 422
    assert "spacing_mm" in answer.context["form"].errors
    with house.scope():
        assert Run.objects.count() == 1


def test_a_run_is_split_at_the_box_of_a_row_and_both_halves_name_each_other(house: House) -> None:
    with house.scope():
        run = make_run(house, rows=THROUGH_A_BOX)
    client = house.client(Role.FOREMAN)
    told = page(client, at("run-sheet", run))
    links = re.findall(r'href="([^"]*/split/\?row=\d)"', told)
    assert links == [f"{at('run-split', run)}?row=2"]
    assert 'value="07B"' in page(client, links[0])
    assert client.post(links[0], {"label": "07B", "seen": "2"}).status_code == 302
    with house.scope():
        made = Run.objects.get(label="07B")
    assert "goes on as" in page(client, at("run-sheet", run))
    assert "comes from" in page(client, at("run-sheet", made))
    assert "/split/" not in page(client, at("run-sheet", run))


# ---------------------------------------------------------------------- stops let pass


def stopped(house: House) -> Run:
    """A run with five right angles under the rules of the United States."""
    settings(house, rules="us")
    return make_run(house, rows=FIVE_BENDS)


def first_stop(text: str) -> dict[str, str]:
    """The form of the first stop that may pass."""
    return {name: hidden(text[text.index("pass-f") :], name) for name in ("seen", "rule", "where", "said")}


def test_a_manager_reads_the_sheet_and_lets_a_stop_pass_which_then_stands_struck(house: House) -> None:
    with house.scope():
        run = stopped(house)
    client = house.client(Role.MANAGER)
    assert client.get(at("run", run))["Location"] == at("run-judge", run)
    told = page(client, at("run-judge", run))
    assert 'name="length_mm"' not in told
    sent = first_stop(told)
    without = client.post(at("run-let-pass", run), {**sent, "reason": " "}, follow=True)
    assert "Not let pass: write why." in without.content.decode()
    answer = client.post(at("run-let-pass", run), {**sent, "reason": "Opened in the middle"}, follow=True)
    text = html.unescape(answer.content.decode())
    assert "<s>stop</s>" in text
    assert "Opened in the middle, by Ostley manager" in text
    foreman = html.unescape(page(house.client(Role.FOREMAN), at("run-sheet", run)))
    assert "Opened in the middle, by Ostley manager" in foreman
    assert "a manager may let it pass" in foreman or "stop let pass" in foreman
    assert "Let it stand again" not in foreman
    with house.scope():
        override = Override.objects.get()
    back = client.post(
        at("run-stand-by", run, override_id=override.pk), {"seen": hidden(text, "seen")}, follow=True
    )
    assert "<s>stop</s>" not in back.content.decode()
    with house.scope():
        assert not Override.objects.exists()


@pytest.mark.parametrize("role", [Role.ELECTRICIAN, Role.FOREMAN, Role.ADMINISTRATOR])
def test_nobody_else_reads_the_page_of_stops(house: House, role: str) -> None:
    with house.scope():
        run = stopped(house)
    client = house.client(role)
    assert client.get(at("run-judge", run)).status_code == 403
    sent = {"seen": "2", "rule": "total-bend", "where": "route", "said": "x", "reason": "y"}
    assert client.post(at("run-let-pass", run), sent).status_code == 403


def test_a_stop_of_geometry_offers_no_way_past_it(house: House) -> None:
    rows = [
        leg(1000, then="bend", angle_deg=90, toward="right"),
        leg(50, then="bend", angle_deg=90, toward="in"),
        leg(500, then="end"),
    ]
    with house.scope():
        run = make_run(house, rows=rows)
    told = page(house.client(Role.MANAGER), at("run-judge", run))
    assert 'class="find stop"' in told
    assert "pass-f" not in told


# ---------------------------------------------------------------------- release


def test_chosen_sticks_are_released_and_the_rest_from_the_runs_page(house: House) -> None:
    with house.scope():
        run = make_run(house, rows=THROUGH_A_BOX)
    client = house.client(Role.FOREMAN)
    told = page(client, at("run-sheet", run))
    assert told.count('name="stick"') == 2
    body = {"crew": str(house.crew.pk), "seen": "2", "choose": "1", "stick": ["2"]}
    assert client.post(at("run-release", run), body)["Location"] == at("run", run)
    with house.scope():
        assert [piece.line.label for piece in pieces_of_run(run.pk)] == ["07/2"]
    released = page(client, at("run", run))
    assert "Not released yet" in released
    assert "Not released yet" in page(house.client(Role.ELECTRICIAN), at("run", run))
    more = {"revision": "1", "choose": "1", "stick": ["1"]}
    client.post(at("run-release-more", run), more)
    with house.scope():
        assert [piece.line.label for piece in pieces_of_run(run.pk)] == ["07/1", "07/2"]
    again = client.post(at("run-release-more", run), more, follow=True)
    assert "released already" in again.content.decode()
    assert "Not released yet" not in page(client, at("run", run))


def test_a_release_of_no_stick_at_all_is_refused_and_said(house: House) -> None:
    with house.scope():
        run = make_run(house, rows=THROUGH_A_BOX)
    client = house.client(Role.FOREMAN)
    for ticked in ([], ["x"], ["9"]):
        body = {"crew": str(house.crew.pk), "seen": "2", "choose": "1", "stick": ticked}
        answer = client.post(at("run-release", run), body, follow=True)
        assert answer.redirect_chain[-1][0] == at("run-sheet", run)
    with house.scope():
        assert planning_queries.current_plan(run.pk) is None


def test_the_crew_released_to_last_is_proposed_for_the_next_run(house: House) -> None:
    with house.scope():
        night = companies.form_crew(actor=house.administrator, name="A night crew", member_ids=[])
        room, former = make_room(house), make_former(house)
        first = make_run(house, room, former=former)
        second = make_run(house, room, label="08", former=former)
    client = house.client(Role.FOREMAN)
    client.post(at("run-release", first), {"crew": str(house.crew.pk), "seen": "2"})
    told = page(client, at("run-sheet", second))
    assert f'<option value="{house.crew.pk}" selected>' in told
    assert f'<option value="{night.pk}">' in told


def test_a_stick_tells_its_order_its_held_end_and_its_ends() -> None:
    bend = {"begin": 100.0, "finish": 200.0, "angle": 90.0, "set": {"mark": 120.0}}
    result = {
        "sticks": [
            {
                "number": 1, "cut_length": 900.0, "turn_rounds": 1,
                "start": {"kind": "open"}, "finish": {"kind": "running_coupler", "thread": "long"},
                "blank": {"cuts": 1},
                "bends": [
                    {**bend, "number": 1, "order": 2, "held": "finish"},
                    {**bend, "number": 2, "order": 1, "held": "start"},
                ],
            }
        ],
        "supports": [{"stick": 1, "from_start": 300.0}, {"stick": 1, "from_start": 800.0}],
    }  # fmt: skip
    (stick,) = sticks.shown(result)
    assert [each.number for each in stick.order] == [2, 1]
    assert (stick.held, stick.turn_rounds, stick.is_whole) == (None, 1, False)
    assert stick.clips == (300.0, 800.0)
    assert stick.finish["thread"] == "long"


# ---------------------------------------------------------------------- side by side


def two_revisions(house: House) -> Run:
    """A run released twice, the second time with a leg 50 mm longer."""
    run = make_run(house, rows=THROUGH_A_BOX)
    ask = {"actor": house.foreman, "run_id": run.pk, "crew_id": house.crew.pk}
    planning.release_run(seen=fresh(run).version, **ask)
    rows = [dict(row) for row in THROUGH_A_BOX]
    rows[2]["length_mm"] = 1550.0
    projects.set_rows(actor=house.foreman, run_id=run.pk, seen=fresh(run).version, rows=rows)
    planning.release_run(seen=fresh(run).version, **ask)
    return run


def test_two_revisions_stand_side_by_side_with_the_figures_that_differ(house: House) -> None:
    with house.scope():
        run = two_revisions(house)
    told = page(house.client(Role.ELECTRICIAN), f"{at('run-compare', run)}?before=1&after=2")
    assert told.count("50 mm longer") == 1
    assert told.count("50 mm farther") == 1
    assert told.count("<svg") >= 2
    same = page(house.client(Role.FOREMAN), f"{at('run-compare', run)}?before=2&after=draft")
    assert "Every figure that is worked to is the same." in same


@pytest.mark.parametrize("query", ["", "before=9&after=x", "before=draft&after=1", "after=1"])
def test_whatever_is_asked_for_two_plans_are_shown(house: House, query: str) -> None:
    with house.scope():
        run = two_revisions(house)
    page(house.client(Role.FOREMAN), f"{at('run-compare', run)}?{query}")


def test_a_stick_and_a_finding_that_came_or_went_are_said_so(house: House) -> None:
    with house.scope():
        run = two_revisions(house)
        result = planning_queries.plan_by_revision(run.pk, 1).result
    finding = {"rule": "total-bend", "where": "route", "level": "warn", "text": "Much bend.", "figures": {}}
    alone = {"sticks": result["sticks"][:1], "findings": [*result["findings"], finding]}
    found = compare.compared(result, alone, Units.MM, Dialect.UK)
    assert [stick.what for stick in found.sticks] == ["same", "gone"]
    assert [each["text"] for each in found.came] == ["Much bend."]
    assert not found.is_same
    assert [stick.what for stick in compare.compared(alone, result, Units.INCH, Dialect.US).sticks] == [
        "same",
        "new",
    ]


def test_a_run_never_released_has_nothing_to_compare(house: House) -> None:
    with house.scope():
        run = make_run(house)
    assert house.client(Role.FOREMAN).get(at("run-compare", run)).status_code == 404


# ---------------------------------------------------------------------- cost


def test_rows_are_kept_and_planned_with_a_fixed_number_of_queries_and_without_drawing(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Ten rows and one cost the same queries; the drawing follows by a request of its own."""
    with house.scope():
        settings(house, rules="uk")
        run = make_run(house, rows=[])
    client = house.client(Role.FOREMAN)
    calls: list[str] = []
    monkeypatch.setattr(drawn, "run_isometric", lambda *plan, **told: calls.append("drawn") or "<svg></svg>")
    counts = []
    for rows in (TEN_ROWS[-1:], TEN_ROWS):
        with house.scope():
            run = fresh(run)
        with CaptureQueriesContext(connection) as asked:
            answer = keep(client, run, rows)
        assert answer.status_code == 200
        counts.append(len(asked))
    assert counts == [16, 16]
    assert calls == []
    drawn.forget()
    for _time in range(2):
        assert client.get(f"{at('run-drawn', run)}?width=narrow").status_code == 200
    assert calls == ["drawn"]


def test_a_half_typed_run_is_planned_once(house: House, monkeypatch: pytest.MonkeyPatch) -> None:
    with house.scope():
        run = make_run(house, rows=[])
    planned = bendcore.plan
    calls: list[Any] = []
    monkeypatch.setattr(bendcore, "plan", lambda spec: calls.append(spec) or planned(spec))
    answer = keep(house.client(Role.FOREMAN), run, THREE_BENDS[:2])
    assert answer.status_code == 200
    assert len(calls) == 1
    assert "so far" in answer.content.decode()


# ---------------------------------------------------------------------- benders


def test_a_benders_body_is_told_on_its_page_and_gives_an_order_of_bending(house: House) -> None:
    with house.scope():
        former = make_former(house)
        run = make_run(house, former=former)
    client = house.client(Role.FOREMAN)
    address = reverse("bender-change", kwargs={"bender_id": former.bender_id})
    sent = {"name": "Bench 1", "shape": "bench machine", "hold_min_mm": "95", "swing_min_mm": "", "seen": "1"}
    assert client.post(address, sent).status_code == 302
    with house.scope():
        bender = fresh(run).former.bender
        assert (bender.name, bender.shape, bender.hold_min_mm) == ("Bench 1", "bench machine", 95.0)
        assert bender.swing_min_mm is None
    stale = client.post(address, {**sent, "name": "Bench 2"})
    assert stale.status_code == 422
    assert "Bench 1" in page(client, reverse("benders"))


@pytest.mark.parametrize(
    ("told", "where"),
    [
        ({"shape": "dragon"}, "shape"),
        ({"hold_min_mm": -1}, "hold_min_mm"),
        ({"swing_min_mm": float("nan")}, "swing_min_mm"),
        ({"name": ""}, "name"),
    ],
)
def test_a_bender_that_cannot_be_is_refused(scoped: House, told: dict[str, Any], where: str) -> None:
    bender = bench.add_bender(actor=scoped.foreman, name="Bench 1")
    with pytest.raises(Invalid) as refused:
        bench.change_bender(actor=scoped.foreman, bender_id=bender.pk, seen=1, **told)
    assert [problem.where for problem in refused.value.problems] == [where]
    with pytest.raises(NotAllowed):
        bench.change_bender(actor=scoped.electrician, bender_id=bender.pk, seen=1, name="x")


def test_a_bender_takes_no_name_that_another_has_and_the_second_of_two_is_told(scoped: House) -> None:
    bench.add_bender(actor=scoped.foreman, name="Bench 1")
    bender = bench.add_bender(actor=scoped.foreman, name="Bench 2")
    with pytest.raises(Invalid, match="already"):
        bench.change_bender(actor=scoped.foreman, bender_id=bender.pk, seen=1, name="Bench 1")
    bench.change_bender(actor=scoped.foreman, bender_id=bender.pk, seen=1, swing_min_mm=80.0)
    with pytest.raises(StaleVersion):
        bench.change_bender(actor=scoped.foreman, bender_id=bender.pk, seen=1, swing_min_mm=90.0)


# ---------------------------------------------------------------------- the API


def test_the_api_lays_leaves_splits_releases_some_and_compares(house: House) -> None:
    with house.scope():
        room, former = make_room(house), make_former(house)
        run = make_run(house, room, former=former)
        boxed = make_run(house, room, label="20", former=former, rows=THROUGH_A_BOX)
    client = house.client(Role.FOREMAN)

    def send(verb: str, address: str, body: Any, seen: int | None = None) -> Any:
        headers = {} if seen is None else {"If-Match": f'"{seen}"'}
        return client.generic(
            verb, f"/api/v1/{address}", _json(body), content_type="application/json", headers=headers
        )

    bank = {"labels": ["08"], "spacing_mm": 60, "toward": "right"}
    assert send("POST", f"runs/{run.pk}/bank", bank).status_code == 428
    assert send("POST", f"runs/{run.pk}/bank", bank, 1).status_code == 412
    laid = send("POST", f"runs/{run.pk}/bank", bank, 2)
    assert laid.status_code == 201
    (second,) = laid.json()["items"]
    assert (second["beside"], second["place_in_bank"]) == (str(run.pk), 2)
    seen = client.get(f"/api/v1/runs/{second['id']}")["ETag"].strip('"')
    assert send("POST", f"runs/{second['id']}/bank/leave", {}, int(seen)).status_code == 200

    release = {"crew": str(house.crew.pk), "sticks": [2]}
    assert send("POST", f"runs/{boxed.pk}/release", release, 2).status_code == 201
    more = send("POST", f"runs/{boxed.pk}/sticks", {"revision": 1, "sticks": [1]})
    assert more.status_code == 200
    assert send("POST", f"runs/{boxed.pk}/sticks", {"revision": 1, "sticks": [1]}).status_code == 409
    told = client.get(f"/api/v1/runs/{boxed.pk}/compare?before=1&after=draft").json()
    assert [each["what"] for each in told["sticks"]] == [[], []]
    assert [each["revision"] for each in client.get(f"/api/v1/runs/{boxed.pk}/plans").json()["items"]] == [1]


def test_the_api_lets_a_stop_pass_for_a_manager_alone(house: House) -> None:
    with house.scope():
        run = stopped(house)
    draft = house.client(Role.FOREMAN).get(f"/api/v1/runs/{run.pk}/draft")
    stop = next(each for each in draft.json()["findings"] if each["may_pass"])
    body = _json({name: stop[name] for name in ("rule", "where", "said")} | {"reason": "Seen on site"})
    address = f"/api/v1/runs/{run.pk}/overrides"
    told = {"content_type": "application/json", "headers": {"If-Match": draft["ETag"]}}
    assert house.client(Role.FOREMAN).post(address, body, **told).status_code == 403
    manager = house.client(Role.MANAGER)
    made = manager.post(address, body, **told)
    assert made.status_code == 201
    assert [each["reason"] for each in manager.get(address).json()["items"]] == ["Seen on site"]
    seen = manager.get(f"/api/v1/runs/{run.pk}")["ETag"]
    gone = manager.delete(f"{address}/{made.json()['id']}", headers={"If-Match": seen})
    assert gone.status_code == 204
    assert manager.get(address).json()["items"] == []


def _json(body: Any) -> str:
    return json.dumps(body)
