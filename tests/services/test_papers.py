"""Bend cards: what they say, that they fetch nothing, and that a pack is made once."""

import re
import zlib
from typing import Any

import pytest
from django.template.loader import render_to_string
from django.urls import reverse
from factories import THREE_BENDS, House, leg, make_former, make_room, make_run, release
from weasyprint import HTML

from services.company.models import Role
from services.core import outbox
from services.papers import commands, queries
from services.papers.models import Pack
from services.planning import queries as planning_queries

pytestmark = pytest.mark.django_db


def html_of(house: House, plan: Any) -> str:
    """The cards as they go to the press."""
    return render_to_string(
        "papers/bend_cards.html", queries.context_of(planning_queries.plan(plan.pk), house.company)
    )


def pages_of(pdf: bytes) -> int:
    """How many pages a PDF has, by its page tree (ISO 32000-1, 7.7.3); objects may lie in compressed
    streams."""
    streams = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", pdf, re.DOTALL)
    texts = [pdf]
    for each in streams:
        try:
            texts.append(zlib.decompress(each))
        except zlib.error:
            continue
    return sum(len(re.findall(rb"/Type\s*/Page\b(?!s)", text)) for text in texts)


def test_a_card_says_mark_set_line_angle_roll_hold_and_sweep(scoped: House) -> None:
    former = make_former(scoped, line="begin", k=0.03, c_deg=0.0, sd_deg=0.5)
    plan = release(scoped, make_run(scoped, former=former))
    text = html_of(scoped, plan)
    # 877 to the back is 867 to the corner: the bend begins 73 before, at 794
    assert re.search(r'class="big">794<', text)
    for said in ("07/1 · length 1 of 1", "begin line", "90°", "datum", "±1°", "±2 mm", "fitted"):
        assert said in text
    stick = planning_queries.sticks_of(plan.pk)[0]
    first = stick.data["bends"][0]
    assert first["pull"]["first"] > 90.0
    assert f"{first['pull']['first']:.1f}°" in text
    assert f"The tail swings up to {max(b['set']['sweep'] for b in stick.data['bends']):.0f} mm" in text


def test_a_card_without_calibration_tells_no_pull_and_says_why(scoped: House) -> None:
    plan = release(scoped)
    assert "Springback is not known: bend a trial piece first." in html_of(scoped, plan)


def test_another_country_reads_its_own_words_and_inches(other_house: House) -> None:
    with other_house.scope():
        former = make_former(other_house, conduit="emt-1/2", centreline_radius_mm=109.5375)
        rows = [
            leg(
                24 * 25.4,
                **{"from": "face", "to": "corner", "then": "bend", "angle_deg": 90, "toward": "right"},
            ),
            leg(24 * 25.4, **{"from": "corner", "then": "end"}),
        ]
        plan = release(other_house, make_run(other_house, rows=rows, former=former))
        text = html_of(other_house, plan)
    assert "07/1 · stick 1 of 1" in text
    assert "shoe 4 5/16 in" in text
    assert "Marks in inches" in text
    assert "installed" in text
    assert "fitted" not in text


def test_what_people_typed_is_text_on_the_card(scoped: House) -> None:
    room = make_room(scoped, name="<img src=file:///etc/passwd> & co")
    plan = release(scoped, make_run(scoped, room))
    text = html_of(scoped, plan)
    assert "&lt;img src=file:///etc/passwd&gt; &amp; co" in text
    assert "<img" not in text


@pytest.mark.parametrize(
    "address", ["file:///etc/hostname", "http://127.0.0.1:9/x.png", "https://127.0.0.1:9/x.png"]
)
def test_papers_fetch_nothing(scoped: House, address: str) -> None:
    asked: list[str] = []

    class Watched(type(queries.only_data())):  # type: ignore[misc]
        def open(self, *args: Any, **kwargs: Any) -> Any:
            asked.append(str(args))
            return super().open(*args, **kwargs)

    fetcher = queries.only_data()
    with pytest.raises(Exception, match=r"(?i)not allowed|protocol|scheme|disallowed|forbidden"):
        fetcher.fetch(address)
    pdf = HTML(string=f"<p>still printed <img src='{address}'></p>", url_fetcher=fetcher).write_pdf()
    assert pages_of(pdf) == 1
    assert asked == []


def test_two_sticks_share_a_page_and_one_of_many_bends_has_its_own(scoped: House) -> None:
    former = make_former(scoped)
    room = make_room(scoped)
    short = release(scoped, make_run(scoped, room, label="01", former=former))
    assert pages_of(queries.bend_cards_pdf(short.pk)) == 1
    rows = [*THREE_BENDS[:3], leg(6000, **{"from": "back", "to": "face", "then": "end"})]
    long = release(scoped, make_run(scoped, room, label="02", rows=rows, former=former))
    assert len(planning_queries.sticks_of(long.pk)) == 3
    assert pages_of(queries.bend_cards_pdf(long.pk)) == 2


def test_a_released_run_has_its_pack_made_once_after_the_commit(scoped: House, settings: Any) -> None:
    plan = release(scoped)
    assert Pack.objects.count() == 0
    outbox.relay()
    kept = Pack.objects.get()
    assert kept.plan_id == plan.pk
    commands.keep_cards(plan_id=plan.pk)  # a task may run twice
    assert Pack.objects.count() == 1
    assert queries.bend_cards_pdf(plan.pk) == bytes(kept.pdf)


def test_a_company_that_changes_its_words_gets_new_cards(scoped: House) -> None:
    plan = release(scoped)
    commands.keep_cards(plan_id=plan.pk)
    scoped.company.words = "us"
    scoped.company.save()
    assert queries.bend_cards_pdf(plan.pk) != bytes(Pack.objects.get().pdf)


def test_cards_come_as_pdf_with_a_name_of_ours(house: House) -> None:
    with house.scope():
        plan = release(house, make_run(house, label='7"; x=é'))
    answer = house.client(Role.ELECTRICIAN).get(reverse("bend-cards", kwargs={"plan_id": plan.pk}))
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == 'inline; filename="bend-cards-7x-1.pdf"'
    assert answer.content.startswith(b"%PDF-")
    assert answer["X-Content-Type-Options"] == "nosniff"
