"""Papers: what they say, that they fetch nothing, that nothing on them is cut off, and packs of them."""

import re
import shutil
import subprocess
import uuid
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils import timezone
from factories import THREE_BENDS, House, leg, make_former, make_project, make_room, make_run, release
from paper_runs import LET_PASS, example, planned_run
from weasyprint import HTML

from services.company.models import Company, Role
from services.core import outbox
from services.core.errors import IllegalMove, Invalid, NotAllowed
from services.core.models import OutboxEntry
from services.papers import commands, queries, rules
from services.papers.models import Pack, Part
from services.papers.queries import cards, lists
from services.papers.rules import Asked
from services.planning import queries as planning
from services.planning.models import Plan
from services.projects.models import Run
from services.stock.models import Offcut
from services.tracking.models import Piece

pytestmark = pytest.mark.django_db


# ------------------------------------------------------------------------------------------- reading papers


def program(name: str) -> str:
    """A program of Poppler, which reads what was printed."""
    path = shutil.which(name)
    assert path, f"{name} is needed to read papers (package poppler-utils)"
    return path


def text_of(pdf: bytes, tmp_path: Path) -> str:
    """A PDF's text as it is laid out."""
    file = tmp_path / f"{uuid.uuid4().hex}.pdf"
    file.write_bytes(pdf)
    read = subprocess.run(
        [program("pdftotext"), "-layout", str(file), "-"], check=True, capture_output=True, timeout=60
    )
    return read.stdout.decode()


def words_of(pdf: bytes, tmp_path: Path) -> list[list[tuple[str, float, float, float, float]]]:
    """For each page its words with left, top, right and bottom, in points from its upper left corner."""
    file = tmp_path / f"{uuid.uuid4().hex}.pdf"
    file.write_bytes(pdf)
    read = subprocess.run(
        [program("pdftotext"), "-bbox", str(file), "-"], check=True, capture_output=True, timeout=60
    ).stdout.decode()
    return [
        [
            (text, *(float(each) for each in (left, top, right, bottom)))
            for left, top, right, bottom, text in re.findall(
                r'<word xMin="([^"]+)" yMin="([^"]+)" xMax="([^"]+)" yMax="([^"]+)">(.*?)</word>', page
            )
        ]
        for page in read.split("<page ")[1:]
    ]


def pages_of(pdf: bytes) -> int:
    """How many pages a PDF has."""
    return queries.put_together([pdf])[1]


def asked(what: str, of: str, of_id: uuid.UUID, company: Company, **more: Any) -> Asked:
    """A paper on the company's size."""
    return Asked(what=what, of=of, of_id=of_id, paper=company.paper, **more)


def printed(paper: Asked, company: Company) -> bytes:
    """All parts of a paper, whatever its length."""
    parts = queries.contents_of(paper).parts
    return queries.put_together(
        [queries.part_pdf(paper, part, number=at, company=company) for at, part in enumerate(parts)]
    )[0]


def html_of(house: House, plan: Plan) -> str:
    """A plan's cards as they go to the press."""
    found = queries.items(asked("bend-cards", "run", plan.run_id, house.company))
    return render_to_string(
        "papers/bend_cards.html",
        cards.context_of([[each] for each in found], house.company, paper=house.company.paper),
    )


def whole_runs(house: House) -> uuid.UUID:
    """A project with every kind of run of the documents; its id."""
    former = make_former(house, k=0.03, c_deg=0.5, sd_deg=0.5)
    room = make_room(house, name="Cold store, upper gallery")
    for number in (8, 10, 11, 12, 13):
        planned_run(
            house,
            example(number),
            room,
            label=f"{number:02d}",
            former=former,
            overrides=LET_PASS if number == 11 else None,
            from_place="Distribution board DB-3",
            to_place="Pump P2, north wall",
        )
    project_id: uuid.UUID = room.project_id
    return project_id


# ----------------------------------------------------------------------------------------------- bend cards


def test_a_card_says_mark_set_line_angle_roll_hold_and_sweep(scoped: House) -> None:
    former = make_former(scoped, line="begin", k=0.03, c_deg=0.0, sd_deg=0.5)
    plan = release(scoped, make_run(scoped, former=former))
    text = html_of(scoped, plan)
    # 877 to the back is 867 to the corner: the bend begins 73 before, at 794
    assert re.search(r'class="big">794<', text)
    for said in ("07/1 · length 1 of 1", "begin line", "90°", "Hold the datum end", "±1°", "±2 mm", "fitted"):
        assert said in text
    stick = planning.sticks_of(plan.pk)[0]
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


def test_a_card_of_a_whole_run_says_how_it_is_joined_and_what_it_is_cut_from(
    scoped: House, tmp_path: Path
) -> None:
    plan = planned_run(scoped, example(10), make_room(scoped), label="12")
    text = text_of(printed(asked("bend-cards", "run", plan.run_id, scoped.company), scoped.company), tmp_path)
    # docs/examples/10: stick 1 is 3571.7 of 3750, its spout end keeps the thread it was bought with
    assert "mm from full length 3750" in text
    assert "1 thread to cut" in text
    assert "Datum end spout 14 mm, factory thread. Far end running coupler, long thread." in text
    assert "Long thread: as long as coupler and locknut together." in text
    assert "draw-in box, 88 mm to the next, thread cut" in text
    # stick 2 has its second bend made first, and the first with the leg behind it straight down
    assert "last leg straight down" in text
    assert text.count("Local rules and the responsible electrician decide.") == 4


def test_bends_stand_in_the_order_in_which_they_are_made(scoped: House) -> None:
    plan = planned_run(scoped, example(10), make_room(scoped), label="12")
    text = html_of(scoped, plan)
    card = text[text.index("12/4 ·") :]
    # docs/examples/10, stick 4: bend 4 is made third, bend 3 fourth
    assert re.findall(r'<td class="n">(\d)\.</td><td class="o">(\d)</td>', card) == [
        ("1", "1"), ("2", "2"), ("3", "4"), ("4", "3"), ("5", "5"),
    ]  # fmt: skip


def test_where_a_stick_is_turned_round_the_card_says_so_before_the_bend(scoped: House) -> None:
    plan = planned_run(scoped, example(10), make_room(scoped), label="12")
    stick = planning.sticks_of(plan.pk)[1]
    found = queries.items(asked("bend-cards", "stick", stick.pk, scoped.company))
    second = next(bend for bend in found[0].stick.data["bends"] if bend["order"] == 2)
    second |= {"turned": True, "held": "finish"}
    text = render_to_string(
        "papers/bend_cards.html", cards.context_of([found], scoped.company, paper=scoped.company.paper)
    )
    turned = text.index("Turn the length round, end for end.")
    assert text.index("Hold the datum end") < turned < text.index("Hold the far end")


@pytest.mark.parametrize(
    ("posture", "said"),
    [
        (None, ""),
        ({"bend": 1, "angle": 0.0, "lies": "up"}, "first leg straight up"),
        ({"bend": 1, "angle": 180.0, "lies": None}, "first leg straight down"),
        ({"bend": 3, "angle": -90.0, "lies": "flat"}, "last leg level, to the left"),
        ({"bend": 3, "angle": 90.0, "lies": None}, "last leg level, to the right"),
        ({"bend": 1, "angle": 30.0, "lies": "aslant"}, "first leg 30° to the right of straight up"),
        ({"bend": 2, "angle": -22.5, "lies": "aslant"}, "leg beyond bend 2 22.5° to the left of straight up"),
    ],
)
def test_a_posture_is_said_in_words(posture: Any, said: str) -> None:
    making = 2 if posture is None or posture["bend"] != 2 else 3
    count = 4 if posture and posture["bend"] == 2 else 3
    assert rules.posture_said({"number": making, "posture": posture}, count) == said


def test_a_stop_that_was_let_pass_is_printed_with_its_reason_and_by_whom(
    scoped: House, tmp_path: Path
) -> None:
    plan = planned_run(scoped, example(11), make_room(scoped), label="08", overrides=LET_PASS)
    text = text_of(printed(asked("bend-cards", "run", plan.run_id, scoped.company), scoped.company), tmp_path)
    said = "Stop let pass by Maud Pellowe: drawn in from the middle, agreed on site."
    assert text.count(said) == len(planning.sticks_of(plan.pk))


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
    asked_for: list[str] = []

    class Watched(type(queries.only_data())):  # type: ignore[misc]
        def open(self, *args: Any, **kwargs: Any) -> Any:
            asked_for.append(str(args))
            return super().open(*args, **kwargs)

    fetcher = queries.only_data()
    with pytest.raises(Exception, match=r"(?i)not allowed|protocol|scheme|disallowed|forbidden"):
        fetcher.fetch(address)
    pdf = HTML(string=f"<p>still printed <img src='{address}'></p>", url_fetcher=fetcher).write_pdf()
    assert pages_of(pdf) == 1
    assert asked_for == []


def test_two_sticks_share_a_page_and_one_of_many_bends_has_its_own(scoped: House) -> None:
    assert rules.card_pages([("a", False), ("b", False), ("c", True), ("d", False)]) == [
        ["a", "b"], ["c"], ["d"],
    ]  # fmt: skip
    rows = [*THREE_BENDS[:3], leg(6000, **{"from": "back", "to": "face", "then": "end"})]
    long = release(scoped, make_run(scoped, rows=rows))
    assert len(planning.sticks_of(long.pk)) == 3
    pdf = queries.bend_cards_pdf(long.pk)
    assert pdf is not None
    assert pages_of(pdf) == 2


HALF_PT = {"A4": 148.5 / 25.4 * 72.0, "Letter": 139.7 / 25.4 * 72.0}
PAPER_PT = {"A4": (595.3, 841.9), "Letter": (612.0, 792.0)}
PRINTERS_EDGE_PT = 5.0 / 25.4 * 72.0
"""Common practice: office printers leave some 4 mm free."""


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_every_card_stays_within_its_half_or_its_page(house: House, paper: str, tmp_path: Path) -> None:
    """The foot of each card lies where that of a card that is not too high lies, and nothing is nearer to
    the edge than a printer reaches."""
    Company.objects.filter(pk=house.company.pk).update(
        paper=paper, **({"words": "us", "units": "in"} if paper == "Letter" else {})
    )
    house.company.refresh_from_db()
    with house.scope():
        of = asked("bend-cards", "project", whole_runs(house), house.company)
        contents = queries.contents_of(of)
        pages = [page for part in contents.parts for page in part]
        words = words_of(printed(of, house.company), tmp_path)
    assert len(words) == len(pages)
    half, (width, height) = HALF_PT[paper], PAPER_PT[paper]
    for page, said in zip(pages, words, strict=True):
        feet = [top for text, _left, top, _right, _bottom in said if text == "responsible"]
        assert len(feet) == len(page)
        is_whole = feet[0] > half
        assert [int(foot // half) for foot in feet] == ([1] if is_whole else [0, 1][: len(page)])
        for foot in feet:
            assert (height if is_whole else half) - foot % (height if is_whole else half) > 12.0
        for text, left, top, right, bottom in said:
            inside = left > PRINTERS_EDGE_PT and right < width - PRINTERS_EDGE_PT
            assert inside, f"{text!r} from {left:.0f} to {right:.0f} of {width:.0f}"
            assert top > 0.0, f"{text!r} from {top:.0f}"
            assert bottom < height, f"{text!r} to {bottom:.0f}"


def overlaps(words: list[tuple[str, float, float, float, float]]) -> list[str]:
    """Pairs of words of which one lies on the other by more than the air round a letter."""
    found = []
    for at, (one, left, top, right, bottom) in enumerate(words):
        for two, left_2, top_2, right_2, bottom_2 in words[at + 1 :]:
            wide = min(right, right_2) - max(left, left_2)
            high = min(bottom, bottom_2) - max(top, top_2)
            if wide > 1.0 and high > 0.45 * min(bottom - top, bottom_2 - top_2):
                found.append(f"{one} / {two}")
    return found


@pytest.mark.parametrize("what", ["bend-cards", "cut-list", "kit-list", "take-off", "crew-sheet", "labels"])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_no_text_lies_on_a_text_and_none_leaves_the_page(
    house: House, paper: str, what: str, tmp_path: Path
) -> None:
    Company.objects.filter(pk=house.company.pk).update(
        paper=paper, **({"words": "us", "units": "in"} if paper == "Letter" else {})
    )
    house.company.refresh_from_db()
    with house.scope():
        project_id = whole_runs(house)
        sheets = [each.id for each in rules.SHEETS.values() if each.paper == paper]
        for sheet in sheets if what == "labels" else [""]:
            of = asked(
                what,
                "crew" if what == "crew-sheet" else "project",
                house.crew.pk if what == "crew-sheet" else project_id,
                house.company,
                labels=sheet,
                day=date(2026, 11, 26),
            )
            for said in words_of(printed(of, house.company), tmp_path):
                assert overlaps(said) == [], sheet
                width, height = PAPER_PT[paper]
                for text, left, top, right, bottom in said:
                    assert 0.0 < left < right < width, f"{sheet} {text}"
                    assert 0.0 < top < bottom < height, f"{sheet} {text}"


# ---------------------------------------------------------------------------------------------------- lists


def test_a_cut_list_takes_the_shortest_length_that_fits_and_counts_the_saw() -> None:
    pieces = [rules.ToCut(name, length) for name, length in (("a", 2000.0), ("b", 900.0), ("c", 843.0))]
    blanks = rules.cut_from(pieces, [("R1", 910.0)], full_mm=3750.0, kerf_mm=2.0, least_mm=300.0)
    told = {each.label: ([part.piece.name for part in each.pieces], each.rest_mm) for each in blanks}
    # by hand: 910 - 900 - 2 of the saw; 3750 - 2000 - 2 - 843 - 2
    assert told == {"R1": (["b"], 8.0), "": (["a", "c"], 903.0)}
    assert {each.label: each.is_kept for each in blanks} == {"R1": False, "": True}


def test_a_length_that_is_used_whole_takes_no_cut_and_keeps_its_threads() -> None:
    threads = ("factory", "long")
    whole = rules.cut_from([rules.ToCut("a", 3750.0, threads)], [], full_mm=3750.0, kerf_mm=2.0, least_mm=1.0)
    assert [(each.is_whole, each.threads) for each in whole[0].pieces] == [(True, 1)]
    assert whole[0].rest_mm == 0.0
    three = [rules.ToCut(name, 1000.0, ("factory", "cut")) for name in "abc"]
    cut = rules.cut_from(three, [], full_mm=3750.0, kerf_mm=2.0, least_mm=1.0)
    # a full length has two threaded ends: the first two pieces have one each, the third none
    assert [each.threads for each in cut[0].pieces] == [1, 1, 2]


def test_an_offcut_is_taken_to_have_no_thread() -> None:
    piece = rules.ToCut("a", 800.0, ("factory", None))
    (blank,) = rules.cut_from([piece], [("R7", 1000.0)], full_mm=3750.0, kerf_mm=2.0, least_mm=300.0)
    assert (blank.label, blank.pieces[0].threads) == ("R7", 1)


def test_a_cut_list_has_what_is_not_cut_yet_and_names_the_offcut(scoped: House, tmp_path: Path) -> None:
    plan = planned_run(scoped, example(10), make_room(scoped), label="12")
    first = Piece.objects.get(line__label="12/1")
    Piece.objects.filter(pk=first.pk).update(state="bent")
    Offcut.objects.create(
        number=3, label="R3", conduit="steel-25-heavy", length_mm=1300.0, rest_of_id=first.pk
    )
    text = text_of(printed(asked("cut-list", "run", plan.run_id, scoped.company), scoped.company), tmp_path)
    assert "Cut list: run 12" in text
    assert "12/1" not in text
    assert "1 is cut already and left out." in " ".join(text.split())
    # 12/3 is 1213 long: of the 1300 of the offcut 85 are left after 2 of the saw
    assert re.search(r"Offcut R3 1300 mm", text)
    assert "rest 85 mm, scrap" in text


def test_a_kit_list_counts_joints_ends_fittings_and_clips(scoped: House) -> None:
    plan = planned_run(scoped, example(10), make_room(scoped), label="12")
    kit = rules.kit_of(plan.result)
    # docs/examples/10: spout, running coupler, draw-in box, running coupler, coupler and male bush; 8 clips
    assert dict(kit.parts) == {
        "spout": 1, "running_coupler": 2, "draw_in_box": 1, "coupler_and_male_bush": 1,
    }  # fmt: skip
    assert (kit.sticks, kit.clips, kit.threads) == (4, 8, 3)
    assert dict(kit.bends) == {90.0: 3, 30.0: 2, 22.5: 2, 45.0: 1}


def test_a_kit_list_is_told_in_ones_own_words(house: House, other_house: House, tmp_path: Path) -> None:
    for each, box, clips in ((house, "draw-in box", "saddles"), (other_house, "pull box", "straps")):
        with each.scope():
            plan = planned_run(each, example(10), make_room(each), label="12")
            pdf = printed(asked("kit-list", "run", plan.run_id, each.company), each.company)
            text = text_of(pdf, tmp_path)
        assert re.search(rf"{box} +1\b", text)
        assert re.search(rf"{clips} +8\b", text)


def test_clips_that_no_rule_pack_places_are_not_counted(scoped: House, tmp_path: Path) -> None:
    plan = release(scoped)
    pdf = printed(asked("kit-list", "run", plan.run_id, scoped.company), scoped.company)
    assert re.search(r"saddles +–", text_of(pdf, tmp_path))


def test_a_take_off_counts_released_and_drafts_and_names_what_it_leaves_out(
    scoped: House, tmp_path: Path
) -> None:
    room = make_room(scoped)
    former = make_former(scoped)
    plan = release(scoped, make_run(scoped, room, label="01", former=former))
    make_run(scoped, room, label="02", former=former)
    make_run(scoped, room, label="03", former=former, rows=[leg(None)])
    text = text_of(
        printed(asked("take-off", "project", room.project_id, scoped.company), scoped.company), tmp_path
    )
    metres = f"{plan.result['developed_length'] / 1000.0:.2f} m"
    twice = f"{plan.result['developed_length'] / 500.0:.2f} m"
    assert re.search(rf"metres of conduit +{metres} +{metres} +{twice}", text)
    assert re.search(r"bends of 90° +3 +3 +6", text)
    assert re.search(r"full lengths at least +1 +1 +2", text)
    assert "Not counted · 1 run" in text
    assert re.search(r"03 +Plate room", text)


def test_a_crews_sheet_is_in_order_of_due_day_then_priority_then_setting(
    scoped: House, tmp_path: Path
) -> None:
    former, other = make_former(scoped), make_former(scoped)
    room = make_room(scoped)
    today = date(2026, 11, 25)
    for label, on, due, priority in (
        ("01", other, None, 2),
        ("02", former, None, 2),
        ("03", other, None, 1),
        ("04", former, today + timedelta(days=3), 3),
    ):
        planned_run(scoped, example(1), room, label=label, former=on, due_on=due, priority=priority)
    told = lists.crew_sheet_of(asked("crew-sheet", "crew", scoped.crew.pk, scoped.company))
    rows = [piece.line.label for group in told["bench"] for piece in group["rows"]]
    last = sorted([(former.bender.name, "02/1"), (other.bender.name, "01/1")])
    assert rows == ["04/1", "03/1", *(label for _bender, label in last)]
    of = asked("crew-sheet", "crew", scoped.crew.pk, scoped.company, day=today)
    text = text_of(printed(of, scoped.company), tmp_path)
    assert "Ostley crew: Wednesday 25 November 2026" in text
    assert "28 Nov" in text


def test_a_crew_that_fits_alone_has_what_is_checked_and_hears_how_much_is_to_come(scoped: House) -> None:
    from services.company.models import Crew

    tower = Crew.objects.create(name="Tower gang")
    room = make_room(scoped)
    plan = planned_run(scoped, example(10), room, label="12", fitting_crew=tower)
    Piece.objects.filter(line__label="12/2").update(state="checked")
    told = lists.crew_sheet_of(asked("crew-sheet", "crew", tower.pk, scoped.company))
    assert [piece.line.label for piece in told["fitting"]] == ["12/2"]
    assert (told["bench"], told["not_ready"]) == ([], 3)
    bench = lists.crew_sheet_of(asked("crew-sheet", "crew", scoped.crew.pk, scoped.company))
    assert (bench["bench_count"], bench["fitting"]) == (3, [])
    assert Run.objects.get(pk=plan.run_id).fitting_crew_id == tower.pk


def test_papers_of_nothing_say_what_is_missing(scoped: House) -> None:
    room = make_room(scoped)
    for what in ("bend-cards", "labels", "cut-list"):
        with pytest.raises(Invalid, match="nothing released yet"):
            queries.contents_of(asked(what, "room", room.pk, scoped.company, labels="a4-70x37"))


# --------------------------------------------------------------------------------------------------- labels


@pytest.mark.parametrize("sheet", rules.SHEETS.values(), ids=lambda sheet: sheet.id)
def test_a_sheet_of_labels_lies_within_its_paper(sheet: rules.Sheet) -> None:
    width, height = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}[sheet.paper]
    assert sheet.left >= -1e-9
    assert sheet.top >= -1e-9
    assert sheet.left * 2 + (sheet.columns - 1) * sheet.step_x + sheet.width == pytest.approx(width)
    assert sheet.top * 2 + (sheet.rows - 1) * sheet.step_y + sheet.height == pytest.approx(height)
    assert sheet.step_x >= sheet.width
    assert sheet.step_y >= sheet.height


def test_there_are_sheets_enough_and_they_are_called_by_their_size() -> None:
    told = {each.said for each in rules.SHEETS.values()}
    assert {"70 × 37 mm, 24 a sheet", "2 5/8 × 1 in, 30 a sheet", "4 × 3 5/16 in, 6 a sheet"} <= told
    papers = [each.paper for each in rules.SHEETS.values()]
    assert papers.count("A4") >= 3
    assert papers.count("Letter") >= 2


def test_labels_begin_where_the_sheet_is_still_full(scoped: House, tmp_path: Path) -> None:
    plan = planned_run(scoped, example(10), make_room(scoped), label="12")
    of = asked("labels", "run", plan.run_id, scoped.company, labels="a4-70x37", start=5)
    (page,) = words_of(printed(of, scoped.company), tmp_path)
    places = {text: (left, top) for text, left, top, _right, _bottom in page if text.startswith("12/")}
    # label 5 of a sheet of three columns: row 2, the second; 12/3 goes on in row 3, the first
    cells = {label: (int(left // 198.4), int((top - 1.4) // 104.9)) for label, (left, top) in places.items()}
    assert cells == {
        "12/1": (1, 1), "12/2": (2, 1), "12/3": (0, 2), "12/4": (1, 2),
    }  # fmt: skip


def test_a_label_bears_what_is_painted_the_run_the_room_and_the_code(scoped: House, tmp_path: Path) -> None:
    plan = planned_run(scoped, example(10), make_room(scoped), label="12")
    stick = planning.sticks_of(plan.pk)[0]
    of = asked("labels", "stick", stick.pk, scoped.company, labels="a4-105x74")
    text = text_of(printed(of, scoped.company), tmp_path)
    for said in ("12/1", "run 12, Plate room", "3572 mm", "25 mm steel, heavy", "FC-1"):
        assert said in text
    assert queries.address_of(stick.pk).endswith(reverse("stick", kwargs={"stick_id": stick.pk}))


# ------------------------------------------------------------------------------------------- what one may ask


def judged(**given: Any) -> Asked:
    """A paper as it comes in."""
    told = {"what": "labels", "of": "run", "paper": "A4", **given}
    return rules.checked(of_id=uuid.uuid4(), tomorrow=date(2026, 11, 26), **told)


@pytest.mark.parametrize(
    ("given", "where"),
    [
        ({"what": "poster"}, "what"),
        ({"of": "town", "labels": "a4-70x37"}, "of"),
        ({"what": "crew-sheet", "of": "run"}, "of"),
        ({"what": "take-off", "of": "crew"}, "of"),
        ({"labels": "letter-9x9"}, "labels"),
        ({"labels": "a4-70x37", "start": 25}, "start"),
        ({"labels": "a4-70x37", "start": 1.5}, "start"),
        ({"labels": "a4-70x37", "start": True}, "start"),
        ({"what": "bend-cards", "paper": "A3"}, "paper"),
        ({"what": "crew-sheet", "of": "crew", "day": "2026-02-30"}, "day"),
        ({"what": "bend-cards", "only_open": "x"}, "only_open"),
    ],
)
def test_what_cannot_be_printed_is_told_at_its_place(given: dict[str, Any], where: str) -> None:
    with pytest.raises(Invalid) as refused:
        judged(**given)
    assert [each.where for each in refused.value.problems] == [where]


def test_labels_are_on_their_sheets_paper_and_a_day_is_tomorrow_unless_told() -> None:
    assert judged(labels="letter-4x2").paper == "Letter"
    assert judged(what="crew-sheet", of="crew").day == date(2026, 11, 26)
    asked_for = judged(what="crew-sheet", of="crew", day="2026-12-01")
    assert Asked.kept(asked_for.what, asked_for.of, asked_for.of_id, asked_for.parameters()) == asked_for


# ---------------------------------------------------------------------------------------------------- packs


def drained() -> None:
    """Does all that is queued, as the worker does."""
    while outbox.relay():
        pass


@pytest.fixture
def six(scoped: House) -> Run:
    """A released run of more sticks than are drawn at once, whose own pack nobody has drawn."""
    plan = planned_run(scoped, example(8), make_room(scoped), label="08")
    assert len(planning.sticks_of(plan.pk)) == 6
    run: Run = plan.run
    return run


def cards_of(run: Run, house: House) -> Asked:
    """The run's bend cards."""
    return asked("bend-cards", "run", run.pk, house.company)


def test_a_pack_is_drawn_part_by_part_and_put_together(
    scoped: House, six: Run, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(rules, "PAGES_A_PART", 1)
    pack = commands.order_pack(actor=scoped.electrician, asked=cards_of(six, scoped))
    assert (pack.state, pack.done, pack.sticks, len(pack.contents)) == ("waiting", 0, 6, 3)
    seen = []
    while outbox.relay(most=1):
        now = queries.pack(pack.pk)
        seen.append((now.state, now.done))
    assert ("drawing", 2) in seen
    assert ("drawing", 4) in seen
    made, pdf = queries.pack_pdf(pack.pk)
    assert (made.state, made.done, made.pages, made.by_id) == ("made", 6, 3, scoped.electrician.person_id)
    text = text_of(pdf, tmp_path)
    assert [each for each in range(1, 7) if f"08/{each} · length {each} of 6" in text] == [1, 2, 3, 4, 5, 6]
    assert Part.objects.count() == 0


def test_a_restart_goes_on_with_the_part_that_was_in_hand(
    scoped: House, six: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rules, "PAGES_A_PART", 1)
    pack = commands.order_pack(actor=scoped.foreman, asked=cards_of(six, scoped))
    drawn: list[int] = []
    real = queries.part_pdf

    def watched(*args: Any, number: int, **more: Any) -> bytes:
        drawn.append(number)
        if number == 1 and drawn.count(1) == 1:
            raise KeyboardInterrupt  # the process ends in the middle of a part
        return real(*args, number=number, **more)

    monkeypatch.setattr(queries, "part_pdf", watched)
    with pytest.raises(KeyboardInterrupt):
        drained()
    assert (queries.pack(pack.pk).state, queries.parts_drawn(pack.pk)) == ("drawing", [0])
    OutboxEntry.objects.filter(done_at=None).update(claimed_at=timezone.now() - timedelta(seconds=61))
    drained()
    assert queries.pack(pack.pk).state == "made"
    assert drawn == [0, 1, 1, 2]


def test_a_part_that_is_done_twice_counts_once(scoped: House, six: Run) -> None:
    pack = commands.order_pack(actor=scoped.foreman, asked=cards_of(six, scoped))
    commands.draw_part(pack_id=pack.pk, number=0)
    commands.draw_part(pack_id=pack.pk, number=0)
    assert (queries.pack(pack.pk).state, queries.pack(pack.pk).done) == ("made", 6)
    drained()
    assert queries.pack(pack.pk).pages == 3


def test_a_pack_can_be_cancelled_and_taken_up_again(
    scoped: House, six: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rules, "PAGES_A_PART", 1)
    pack = commands.order_pack(actor=scoped.electrician, asked=cards_of(six, scoped))
    commands.draw_part(pack_id=pack.pk, number=0)
    commands.cancel_pack(actor=scoped.electrician, pack_id=pack.pk)
    drained()
    assert (queries.pack(pack.pk).state, Part.objects.count()) == ("cancelled", 0)
    with pytest.raises(IllegalMove):
        queries.pack_pdf(pack.pk)
    with pytest.raises(IllegalMove):
        commands.cancel_pack(actor=scoped.electrician, pack_id=pack.pk)
    commands.draw_again(actor=scoped.electrician, pack_id=pack.pk)
    drained()
    assert queries.pack(pack.pk).state == "made"


def test_anothers_pack_is_cancelled_by_who_may_release_alone(scoped: House, six: Run) -> None:
    pack = commands.order_pack(actor=scoped.foreman, asked=cards_of(six, scoped))
    with pytest.raises(NotAllowed):
        commands.cancel_pack(actor=scoped.electrician, pack_id=pack.pk)
    assert queries.pack(pack.pk).state == "waiting"
    commands.cancel_pack(actor=scoped.foreman, pack_id=pack.pk)


def test_a_pack_that_fails_says_why_and_keeps_what_is_drawn_for_the_next_try(
    scoped: House, six: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(rules, "PAGES_A_PART", 1)
    pack = commands.order_pack(actor=scoped.foreman, asked=cards_of(six, scoped))
    commands.draw_part(pack_id=pack.pk, number=0)
    real = queries.part_pdf
    for error, text in (
        (IllegalMove("This plan was made by another version."), "This plan was made by another version."),
        (ZeroDivisionError(), "It could not be drawn: the failure is ours, and was logged. Try again later."),
    ):

        def fails(*args: Any, error: Exception = error, **more: Any) -> bytes:
            raise error

        monkeypatch.setattr(queries, "part_pdf", fails)
        drained()
        failed = queries.pack(pack.pk)
        assert (failed.state, failed.error, failed.done) == ("failed", text, 2)
        commands.draw_again(actor=scoped.foreman, pack_id=pack.pk)
    monkeypatch.setattr(queries, "part_pdf", real)
    again: list[int] = []

    def counted(*args: Any, number: int, **more: Any) -> bytes:
        again.append(number)
        return real(*args, number=number, **more)

    monkeypatch.setattr(queries, "part_pdf", counted)
    drained()
    assert (queries.pack(pack.pk).state, again) == ("made", [1, 2])


def test_who_asks_for_the_same_gets_the_same_pack(scoped: House, six: Run) -> None:
    first = commands.order_pack(actor=scoped.foreman, asked=cards_of(six, scoped))
    assert commands.order_pack(actor=scoped.electrician, asked=cards_of(six, scoped)).pk == first.pk
    other = Asked(what="bend-cards", of="run", of_id=six.pk, paper="Letter")
    assert commands.order_pack(actor=scoped.foreman, asked=other).pk != first.pk


def test_a_released_run_has_its_cards_drawn_after_the_commit(scoped: House) -> None:
    plan = release(scoped)
    assert Pack.objects.count() == 0
    drained()
    kept = Pack.objects.get()
    assert (kept.state, kept.plans, kept.by) == ("made", [str(plan.pk)], None)
    commands.keep_cards(plan_id=plan.pk)  # a task may run twice
    drained()
    assert Pack.objects.count() == 1
    assert queries.bend_cards_pdf(plan.pk) == bytes(kept.pdf)
    assert queries.packs() == []  # nobody asked for it yet
    pack = commands.order_pack(actor=scoped.foreman, asked=cards_of(plan.run, scoped))
    assert (pack.pk, [each.pk for each in queries.packs()]) == (kept.pk, [kept.pk])


def test_a_company_that_changes_its_words_gets_new_cards(scoped: House) -> None:
    plan = release(scoped)
    drained()
    scoped.company.words = "us"
    scoped.company.save()
    assert queries.bend_cards_pdf(plan.pk) != bytes(Pack.objects.get().pdf)


def test_a_pack_goes_when_a_run_of_it_is_released_anew(scoped: House) -> None:
    run = make_run(scoped)
    release(scoped, run)
    pack = commands.order_pack(actor=scoped.foreman, asked=cards_of(run, scoped))
    drained()
    assert queries.pack(pack.pk).state == "made"
    run.refresh_from_db()
    release(scoped, run)
    with pytest.raises(IllegalMove, match="released anew"):
        queries.pack_pdf(pack.pk)
    assert queries.packs() == []
    drained()
    assert not Pack.objects.filter(pk=pack.pk).exists()
    assert Pack.objects.get().state == "made"


def test_a_run_released_anew_while_its_pack_is_drawn_fails_it_and_a_new_try_takes_the_new_plan(
    scoped: House,
) -> None:
    run = make_run(scoped)
    release(scoped, run)
    pack = commands.order_pack(actor=scoped.foreman, asked=cards_of(run, scoped))
    run.refresh_from_db()
    plan = release(scoped, run)
    commands.draw_part(pack_id=pack.pk, number=0)
    assert "released anew while it was drawn" in queries.pack(pack.pk).error
    commands.draw_again(actor=scoped.foreman, pack_id=pack.pk)
    commands.draw_part(pack_id=pack.pk, number=0)
    assert (queries.pack(pack.pk).state, queries.pack(pack.pk).plans) == ("made", [str(plan.pk)])


def test_a_pack_goes_after_thirty_days(scoped: House, six: Run) -> None:
    pack = commands.order_pack(actor=scoped.foreman, asked=cards_of(six, scoped))
    drained()
    Pack.objects.filter(pk=pack.pk).update(asked_at=timezone.now() - timedelta(days=29, hours=23))
    assert commands.throw_away() == 0
    Pack.objects.filter(pk=pack.pk).update(asked_at=timezone.now() - timedelta(days=30, hours=1))
    assert queries.packs() == []
    assert commands.throw_away() == 1


def test_what_is_bent_can_be_left_out(scoped: House, six: Run) -> None:
    Piece.objects.filter(line__label__in=("08/1", "08/2")).update(state="bent")
    of = asked("bend-cards", "run", six.pk, scoped.company, only_open=True)
    assert [each.stick.line.label for each in queries.items(of)] == ["08/3", "08/4", "08/5", "08/6"]


# ---------------------------------------------------------------------------------------------------- pages


def test_cards_come_as_pdf_with_a_name_of_ours(house: House) -> None:
    with house.scope():
        plan = release(house, make_run(house, label='7"; x=é'))
    answer = house.client(Role.ELECTRICIAN).get(reverse("bend-cards", kwargs={"plan_id": plan.pk}))
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Content-Disposition"] == 'inline; filename="bend-cards-7-x-1.pdf"'
    assert answer.content.startswith(b"%PDF-")
    assert answer["X-Content-Type-Options"] == "nosniff"


def test_the_cards_of_a_long_run_lead_to_the_page_where_a_pack_is_asked_for(house: House, six: Run) -> None:
    with house.scope():
        plan = planning.current_plan(six.pk)
        assert plan is not None
    answer = house.client(Role.ELECTRICIAN).get(reverse("bend-cards", kwargs={"plan_id": plan.pk}))
    assert answer["Location"] == f"/papers/?what=bend-cards&of=run&id={six.pk}"


def test_a_long_paper_is_ordered_and_a_short_one_opens(house: House, six: Run) -> None:
    client = house.client(Role.FOREMAN)
    given = {"what": "bend-cards", "subject": f"run:{six.pk}", "paper": "A4", "labels": "a4-70x37"}
    assert client.post(reverse("papers"), given)["Location"] == reverse("papers")
    with house.scope():
        pack = Pack.objects.get()
    page = client.get(reverse("papers")).content.decode()
    assert f'hx-get="/packs/{pack.pk}/"' in page
    assert "waiting: 0 of 6 lengths" in page
    with house.scope():
        drained()
    row = client.get(reverse("pack", kwargs={"pack_id": pack.pk})).content.decode()
    assert "hx-get" not in row
    assert "3 pages" in row
    assert client.get(reverse("pack-pdf", kwargs={"pack_id": pack.pk})).content.startswith(b"%PDF-")
    opened = client.post(reverse("papers"), {**given, "what": "kit-list"})
    assert opened["Location"].startswith("/papers/drawn.pdf?what=kit-list&of=run")
    pdf = client.get(opened["Location"])
    assert pdf["Content-Disposition"] == 'inline; filename="kit-list-08.pdf"'


def test_what_is_wrong_is_told_at_the_field(house: House) -> None:
    with house.scope():
        room = make_room(house)
    given = {"what": "bend-cards", "subject": f"room:{room.pk}", "paper": "A4", "labels": "a4-70x37"}
    answer = house.client(Role.FOREMAN).post(
        reverse("papers"),
        {**given, "what": "labels", "start": "25"},
    )
    assert answer.status_code == 422
    assert 'id="id_start_error"' in answer.content.decode()
    other = house.client(Role.FOREMAN).post(reverse("papers"), {**given, "what": "crew-sheet"})
    assert re.search(r'id="id_subject_error">this paper is made for a crew', other.content.decode())
    empty = house.client(Role.FOREMAN).post(reverse("papers"), given)
    assert empty.status_code == 422
    assert "nothing released yet" in empty.content.decode()


def test_the_page_says_what_to_do_first_where_there_is_nothing(house: House) -> None:
    with house.scope():
        make_project(house)
    page = house.client(Role.FOREMAN).get(reverse("papers")).content.decode()
    assert "None yet. Choose a paper" in page


# ------------------------------------------------------------------------------------------------------ API


def test_the_api_orders_tells_cancels_and_gives_packs(house: House, six: Run) -> None:
    client = house.client(Role.FOREMAN)
    given = {"what": "bend-cards", "of": "run", "id": str(six.pk)}
    ordered = client.post("/api/v1/papers/packs", given, content_type="application/json")
    assert ordered.status_code == 201
    told = ordered.json()
    assert (told["state"], told["done"], told["sticks"], told["pages"]) == ("waiting", 0, 6, None)
    assert client.post("/api/v1/papers/packs", given, content_type="application/json").json() == told
    address = f"/api/v1/papers/packs/{told['id']}"
    assert client.get(f"{address}/pdf").status_code == 409
    assert client.post(f"{address}/cancel").json()["state"] == "cancelled"
    assert client.post(f"{address}/again").json()["state"] == "waiting"
    with house.scope():
        drained()
    assert client.get(address).json()["state"] == "made"
    assert client.get(f"{address}/pdf")["Content-Type"] == "application/pdf"
    assert [each["id"] for each in client.get("/api/v1/papers/packs").json()["items"]] == [told["id"]]


def test_the_api_draws_a_short_paper_at_once_and_refuses_a_long_one(house: House, six: Run) -> None:
    client = house.client(Role.ELECTRICIAN)
    short = client.get(f"/api/v1/papers/drawn?what=cut-list&of=run&id={six.pk}")
    assert short.content.startswith(b"%PDF-")
    long = client.get(f"/api/v1/papers/drawn?what=bend-cards&of=run&id={six.pk}")
    assert (long.status_code, long["Content-Type"]) == (409, "application/problem+json")
    wrong = client.get(f"/api/v1/papers/drawn?what=bend-cards&of=run&id={six.pk}&size=A5")
    assert wrong.status_code == 400


def test_reading_packs_costs_the_same_however_many_there_are(
    scoped: House, six: Run, django_assert_num_queries: Any
) -> None:
    for paper in ("A4", "Letter"):
        commands.order_pack(
            actor=scoped.foreman, asked=Asked(what="bend-cards", of="run", of_id=six.pk, paper=paper)
        )
        with django_assert_num_queries(2):
            queries.packs()
    with django_assert_num_queries(3):
        queries.items(cards_of(six, scoped))
