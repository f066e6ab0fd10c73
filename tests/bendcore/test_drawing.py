"""What a drawing says and where: to scale, in words too, for paper and page, whatever the run is called."""

import hashlib
import json
import math
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from bendcore import Dialect, Plan, Units, plan
from bendcore.drawing import TOKENS, pose, run_isometric, stick_isometric, strip, stylesheet
from bendcore.drawing.depth import Stretch, painting_order
from bendcore.drawing.plane import box_round
from bendcore.drawing.space import centreline, choose_view
from bendcore.drawing.spread import Dropped, Figure, Flag, drop, fly, spread
from bendcore.drawing.style import MARKER_ONLY, STYLES, attributes
from bendcore.units import Mm

SVG = "{http://www.w3.org/2000/svg}"
ROOT = Path(__file__).parents[2]

ON_THE_SHEET = 0.02
"""px: coordinates are written to a hundredth."""

RUN_07: dict[str, Any] = {
    "run": "07",
    "conduit": {"outside_diameter": 20.0, "stock_length": 3750.0},
    "former": {"centreline_radius": 73.0},
    "route": {
        "start": [0, 0, 1500],
        "heading": "up",
        "steps": [
            {"leg": 950},
            {"bend": 90, "toward": "east"},
            {"leg": 3280},
            {"bend": 90, "toward": "south"},
            {"leg": 620},
            {"offset": {"rise": 70, "angle": 30, "toward": "west"}},
            {"leg": 760},
            {"bend": 90, "toward": "down"},
            {"leg": 1200},
        ],
    },
}
"""Two sticks, by hand (T = 73 and 19.56, A = 114.67 and 38.22 mm). Stick 1 is a whole length with its one
mark at 950 - 73 = 877, so 2831.33 of its second leg. Stick 2: its marks are 3280 - 2831.33 - 73 = 375.67;
375.67 + 114.67 + 620 - 73 - 19.56 = 1017.78; + 38.22 + 140 - 2 * 19.56 = 1156.88;
+ 38.22 + 760 - 19.56 - 73 = 1862.54; and it is cut to 1862.54 + 114.67 + 1200 - 73 = 3104.21."""


def run_07() -> Plan:
    planned = plan(RUN_07)
    assert isinstance(planned, Plan)
    return planned


def one_stick(points: list[list[float]], **more: Any) -> Plan:
    spec = {
        "conduit": {"outside_diameter": 20.0},
        "former": {"centreline_radius": 73.0},
        "joints": "none",
        "route": {"points": points},
    }
    planned = plan({**spec, **more})
    assert isinstance(planned, Plan)
    return planned


def every_drawing(planned: Plan, **asked: Any) -> dict[str, str]:
    return {
        "strip": strip(planned, 1, **asked),
        "stick": stick_isometric(planned, 1, **asked),
        "run": run_isometric(planned, **asked),
        "run with a stick bold": run_isometric(planned, bold=1, **asked),
        "pose": pose(planned, 1, 1, **asked),
    }


def parsed(drawing: str) -> ElementTree.Element:
    return ElementTree.fromstring(drawing)


def texts(drawing: str) -> list[str]:
    return [each.text or "" for each in parsed(drawing).iter(f"{SVG}text")]


def of_class(drawing: str, name: str) -> list[ElementTree.Element]:
    return [each for each in parsed(drawing).iter() if name in (each.get("class") or "").split()]


def number_of(element: ElementTree.Element, name: str) -> float:
    return float(element.get(name, "nan"))


def desc(drawing: str) -> str:
    return parsed(drawing).findtext(f"{SVG}desc") or ""


# ---------------------------------------------------------------------------------------------- the strip


def strip_scale(drawing: str) -> tuple[float, float]:
    """Where the datum end comes, and px for a mm, by the tube that is 3104.21 mm long."""
    (tube,) = of_class(drawing, "st-tube")
    return number_of(tube, "x"), number_of(tube, "width") / 3104.21


@pytest.mark.parametrize("width", [328.0, 720.0, 1200.0])
def test_marks_stand_where_they_are_along_the_stick(width: float) -> None:
    drawing = strip(run_07(), 2, width=width, paper=False)
    zero, px_per_mm = strip_scale(drawing)

    marks = [(number_of(mark, "x1") - zero) / px_per_mm for mark in of_class(drawing, "mark")]

    assert marks == pytest.approx([375.67, 1017.78, 1156.88, 1862.54], abs=0.02 + ON_THE_SHEET / px_per_mm)


def test_a_bend_zone_reaches_from_the_begin_of_its_arc_to_its_finish() -> None:
    drawing = strip(run_07(), 2, width=1200.0, paper=False)
    zero, px_per_mm = strip_scale(drawing)

    zones = of_class(drawing, "zone")

    assert [number_of(zone, "width") / px_per_mm for zone in zones] == pytest.approx(
        [114.67, 38.22, 38.22, 114.67], abs=0.05
    )
    assert (number_of(zones[0], "x") - zero) / px_per_mm == pytest.approx(375.67, abs=0.05)


def test_a_mark_stands_where_the_set_line_wants_it_and_not_at_the_begin() -> None:
    line = {"kind": "arrow", "take_up": 50.0}  # 73 + 10 - 50 = 33 mm past the begin
    planned = one_stick(
        [[0, 0, 0], [1000, 0, 0], [1000, 0, 500]], former={"centreline_radius": 73.0, "set_line": line}
    )
    drawing = strip(planned, 1, paper=False)

    (mark,), (zone,), (tube,) = (of_class(drawing, name) for name in ("mark", "zone", "st-tube"))

    past_the_begin = number_of(mark, "x1") - number_of(zone, "x")
    # the stick is 927 + 114.67 + 427 = 1468.67 mm long
    assert past_the_begin / number_of(tube, "width") == pytest.approx(33.0 / 1468.67, abs=1e-4)
    assert "960" in texts(drawing)


def test_a_mark_off_the_stick_is_drawn_off_it_and_said() -> None:
    line = {"kind": "own", "reach": -200.0}
    planned = one_stick(
        [[0, 0, 0], [150, 0, 0], [150, 400, 0]], former={"centreline_radius": 73.0, "set_line": line}
    )
    drawing = strip(planned, 1, paper=False)

    (mark,), (tube,) = of_class(drawing, "mark"), of_class(drawing, "st-tube")

    assert number_of(mark, "x1") < number_of(tube, "x") - 10.0
    assert "-123" in texts(drawing)
    assert "Off the length: the mark of bend 1." in desc(drawing)


def test_a_strip_tells_angle_number_roll_marks_and_cut_length() -> None:
    told = texts(strip(run_07(), 2))

    assert {"90°", "30°", "bend 1", "bend 4", "roll 0°", "roll 180°", "roll 90°"} <= set(told)
    assert {"376", "1018", "1157", "1863", "3104", "cut to", "datum end"} <= set(told)


def test_a_narrow_strip_leaves_the_rolls_to_the_dials_and_says_so() -> None:
    drawing = strip(run_07(), 2, width=328.0, paper=False)

    assert not any(text.startswith("roll") for text in texts(drawing))
    assert len(of_class(drawing, "dial")) == 4
    assert "left out of the drawing" in desc(drawing)
    assert "roll 180 degrees" in desc(drawing)


def test_a_dial_turns_clockwise_for_plus_and_the_other_way_for_minus() -> None:
    for toward, roll, side in (("north", "roll 90°", 1.0), ("south", "roll -90°", -1.0)):
        steps = [
            {"leg": 400},
            {"bend": 90, "toward": "east"},
            {"leg": 400},
            {"bend": 90, "toward": toward},
            {"leg": 400},
        ]
        planned = plan({**RUN_07, "route": {"heading": "up", "steps": steps}})
        assert isinstance(planned, Plan)
        drawing = strip(planned, 1, paper=False)
        hand = of_class(drawing, "dial-p")[1]

        assert roll in texts(drawing)
        assert (number_of(hand, "x2") - number_of(hand, "x1")) * side > 5.0
        assert number_of(hand, "y2") == pytest.approx(number_of(hand, "y1"), abs=ON_THE_SHEET)


def test_two_strips_with_one_span_share_a_scale() -> None:
    planned = run_07()
    widths = [
        number_of(of_class(strip(planned, number, paper=False, span=Mm(3750.0)), "st-tube")[0], "width")
        for number in (1, 2)
    ]

    assert widths[1] / widths[0] == pytest.approx(3104.21 / 3750.0, abs=1e-4)


def test_threads_are_drawn_at_screwed_ends_only() -> None:
    planned = run_07()  # open ends; between them a running coupler, for stick 2 is bent and cannot be spun on

    first, second = (of_class(strip(planned, number, paper=False), "thr") for number in (1, 2))
    middle = 360.0

    assert (len(first), len(second)) == (12, 5)  # a long thread, and one as it was bought
    assert all(number_of(line, "x1") > middle for line in first)
    assert all(number_of(line, "x1") < middle for line in second)
    assert len(of_class(strip(planned, 1, paper=False), "coup")) == 2  # the coupler and its locknut
    assert of_class(strip(planned, 2, paper=False), "coup") == []
    assert "long thread" in texts(strip(planned, 1))
    assert "open end, factory" not in desc(strip(planned, 1))
    assert "At the datum end: joint, factory thread." in desc(strip(planned, 2))


def test_a_straight_stick_has_a_strip_without_marks() -> None:
    drawing = strip(one_stick([[0, 0, 0], [1000, 0, 0]]), 1, paper=False)

    assert of_class(drawing, "mark") == []
    assert "1000" in texts(drawing)
    assert "No bends." in desc(drawing)


def test_the_bend_in_hand_is_in_the_marking_colour_and_its_figure_is_the_largest() -> None:
    drawing = strip(run_07(), 2, highlight=3)
    found = {each.text: each for each in parsed(drawing).iter(f"{SVG}text")}

    assert found["1157"].get("fill") == "#b02a08"
    assert found["1018"].get("fill") == "#14181a"
    assert number_of(found["1157"], "font-size") > number_of(found["1018"], "font-size")


def test_a_stick_with_far_too_many_bends_keeps_its_marks_and_says_what_is_left_out() -> None:
    stairs = [[300.0 * ((i + 1) // 2), 0.0, 300.0 * (i // 2)] for i in range(202)]
    drawing = strip(one_stick(stairs), 1, width=328.0, paper=False, highlight=7)

    assert len(of_class(drawing, "mark")) == 200
    assert "bend 7" in texts(drawing)
    assert "bend 8" not in texts(drawing)
    assert "too many bends to label" in desc(drawing)
    assert "too many marks" in desc(drawing)
    assert "Bend 200: 90 degrees" in desc(drawing)


# ---------------------------------------------------------------------------------------------- spreading
# labels


def test_labels_that_want_one_place_stand_evenly_round_it() -> None:
    assert spread([50.0, 50.0, 50.0], [20.0, 20.0], least=0.0, most=[200.0] * 3) == pytest.approx(
        [30.0, 50.0, 70.0]
    )


def test_labels_far_enough_apart_stay_where_they_belong() -> None:
    assert spread([10.0, 40.0, 90.0], [20.0, 20.0], least=0.0, most=[200.0] * 3) == [10.0, 40.0, 90.0]


def test_labels_keep_within_their_bounds_and_their_order() -> None:
    assert spread([0.0, 95.0, 95.0], [20.0, 20.0], least=5.0, most=[100.0] * 3) == pytest.approx(
        [5.0, 80.0, 100.0]
    )
    assert spread([0.0, 0.0, 0.0], [60.0, 60.0], least=0.0, most=[100.0] * 3) is None


def test_flags_in_two_rows_stand_like_stairs_so_that_no_pole_meets_a_label() -> None:
    flown = fly([Flag(50.0, 5.0, 40.0), Flag(52.0, 5.0, 40.0)], 2, gap=4.0, left=0.0, right=110.0)

    assert flown is not None
    assert [flag.row for flag in flown] == [1, 0]
    assert flown[1].pole - flown[0].pole == pytest.approx(9.0)


def test_figures_with_room_stand_under_their_marks() -> None:
    apart = [Figure(100.0, 40.0), Figure(160.0, 40.0)]

    assert drop(apart, gap=4.0, left=0.0, right=300.0) == [Dropped(80.0, 0), Dropped(140.0, 0)]


def test_a_figure_too_close_drops_a_row_and_its_line_passes_between_the_others() -> None:
    near = [Figure(100.0, 40.0), Figure(104.0, 40.0), Figure(108.0, 40.0)]

    assert drop(near, gap=4.0, left=0.0, right=300.0) == [
        Dropped(60.0, 0),
        Dropped(84.0, 1),
        Dropped(108.0, 0),
    ]


def test_figures_that_do_not_go_on_straight_lines_are_not_forced() -> None:
    assert drop([Figure(20.0 + i, 40.0) for i in range(12)], gap=4.0, left=0.0, right=60.0) is None


# ---------------------------------------------------------------------------------------------- isometrics


def test_a_finished_stick_tells_its_legs_centre_to_centre() -> None:
    drawing = stick_isometric(run_07(), 2, width=420.0)

    # 3280 - (3750 - 950 + 2 * 73 - 114.67) = 448.7; the slope of the offset is 70 / sin 30
    assert {"449", "620", "140", "760", "1200"} <= set(texts(drawing))
    assert (
        "449 mm east; 620 mm south; 140 mm aslant (70 mm west, 121 mm south); 760 mm south; 1200 mm down"
        in desc(drawing)
    )


def test_what_a_small_drawing_leaves_out_is_said() -> None:
    drawing = stick_isometric(run_07(), 2, width=150.0)

    assert "140" not in texts(drawing)
    assert "leg 3" in desc(drawing).partition("Left out of the drawing for want of room: ")[2]
    assert "140 mm aslant" in desc(drawing)


def test_the_run_shows_its_joints_and_which_stick_is_meant() -> None:
    drawing = run_isometric(run_07(), bold=2, paper=False, ends=("DB-3", "P2"))

    assert len(of_class(drawing, "joint")) == 1
    assert {"length 1", "length 2", "DB-3", "P2"} <= set(texts(drawing))
    assert "620" not in texts(drawing)
    assert "Length 2 is bold." in desc(drawing)


def test_the_run_tells_each_leg_where_no_stick_is_meant() -> None:
    assert {"950", "3280", "620", "760", "1200"} <= set(texts(run_isometric(run_07(), width=520.0)))
    assert "3280" not in texts(run_isometric(run_07(), width=520.0, dimensions=False))
    assert "3280" in texts(run_isometric(run_07(), width=520.0, dimensions=True, bold=1))


def test_a_ring_stands_round_the_bend_a_finding_is_about() -> None:
    drawing = run_isometric(run_07(), ring=5, paper=False)
    (ring,), chains = of_class(drawing, "ring"), of_class(drawing, "tu-b")
    spots = [
        tuple(map(float, each.split())) for chain in chains for each in (chain.get("d") or "")[1:].split("L")
    ]
    middle = (number_of(ring, "cx"), number_of(ring, "cy"))

    assert "Corner 5 is ringed." in desc(drawing)
    assert min(math.dist(middle, spot) for spot in spots) < 1.0


def test_the_room_is_seen_with_the_walls_behind_that_the_run_lies_on() -> None:
    drawing = run_isometric(run_07(), paper=False)  # along the north wall, then the east wall

    assert "seen from the south-west" in desc(drawing)
    assert [len(of_class(drawing, name)) for name in ("room-f", "room-w", "room-w2")] == [1, 1, 1]


def test_a_run_on_one_level_tells_no_room() -> None:
    level = one_stick([[0, 0, 2500], [3000, 0, 2500], [3000, 2000, 2500]])

    assert of_class(run_isometric(level, paper=False), "room-w") == []
    assert "Walls" not in desc(run_isometric(level))


LINES_OF_SIGHT = ((1, 1, 1), (-1, 1, 1), (1, -1, 1), (-1, -1, 1))


@pytest.mark.parametrize("way", LINES_OF_SIGHT)
def test_a_leg_along_a_line_of_sight_is_seen_from_elsewhere(way: tuple[int, int, int]) -> None:
    slope = [800.0 * each for each in way]
    planned = one_stick([[0.0, 0.0, 0.0], slope, [slope[0] + 1000.0, slope[1], slope[2]]])
    view = choose_view(planned.route)

    seen = math.hypot(*view.flat((slope[0], slope[1], slope[2])))

    assert seen > 0.5 * 800.0 * math.sqrt(3.0)
    assert "1386" in texts(stick_isometric(planned, 1, width=360.0))


def test_a_route_with_a_leg_along_every_line_of_sight_is_still_drawn() -> None:
    at, points = [0.0, 0.0, 0.0], [[0.0, 0.0, 0.0]]
    for x, y, z in LINES_OF_SIGHT:
        at = [at[0] + 700.0 * x, at[1] + 700.0 * y, at[2] + 700.0 * z]
        points.append(at)
    planned = one_stick(points)
    view = choose_view(planned.route)

    assert min(math.hypot(*view.flat(leg.direction)) for leg in planned.route.legs) > 0.2
    assert texts(stick_isometric(planned, 1, width=360.0)).count("1212") == 4


def test_the_centreline_leaves_each_leg_tangent_and_ends_where_the_route_does() -> None:
    route = run_07().route
    line = centreline(route, Mm(0.0), Mm(0.0))

    for before, after in zip(line.pieces, line.pieces[1:], strict=False):
        assert before.at(before.finish) == pytest.approx(after.start, abs=1e-9)
        assert before.heading(before.finish) == pytest.approx(after.direction, abs=1e-12)
    last = line.pieces[-1]
    assert last.at(last.finish) == pytest.approx(route.finish, abs=1e-9)
    # 950 + 3280 + 620 + 140 + 760 + 1200 less three gains of 31.33 and two of 0.90
    assert last.finish == pytest.approx(6950.0 - 3 * 31.33 - 2 * 0.90, abs=0.05)


def test_an_allowance_lengthens_the_end_leg_of_the_drawn_stick() -> None:
    ends = {"start": {"kind": "spout", "allowance": 14.0}, "finish": {"kind": "open"}}
    planned = one_stick([[0, 0, 0], [0, 0, 1000], [800, 0, 1000]], ends=ends)

    assert "1014" in texts(stick_isometric(planned, 1, width=360.0))
    assert "1000" in texts(run_isometric(planned, width=360.0))


def test_what_is_nearer_is_painted_later() -> None:
    def line(spots: list[tuple[float, float]], depth: float) -> Stretch:
        return Stretch(0, 2.0, tuple(spots), (depth,) * len(spots), box_round(spots, by=2.0))

    near = line([(0.0, 0.0), (100.0, 100.0)], 50.0)
    joined = line([(100.0, 100.0), (200.0, 50.0)], 40.0)
    far = line([(0.0, 100.0), (100.0, 0.0)], 0.0)

    assert painting_order([near, joined, far]).index(2) < painting_order([near, joined, far]).index(0)
    assert painting_order([far, joined, near]) == [0, 1, 2]


def test_a_run_of_five_hundred_corners_is_drawn_without_dimensions_and_says_so() -> None:
    stairs = [[600.0 * ((i + 1) // 2), 0.0, 600.0 * (i // 2)] for i in range(502)]
    planned = plan({**RUN_07, "route": {"points": stairs}})
    assert isinstance(planned, Plan)
    drawing = run_isometric(planned)

    assert set(texts(drawing)) <= {"start", "finish", "north"}
    assert "too many for their dimensions" in desc(drawing)
    assert "and 421 more" in desc(drawing)


# ---------------------------------------------------------------------------------------------- words and
# figures


def test_in_the_united_states_figures_are_inches_and_words_are_the_trades_there() -> None:
    planned = one_stick([[0, 0, 0], [0, 0, 900], [1000, 0, 900]], run="B2")
    asked: dict[str, Any] = {"units": Units.INCH, "dialect": Dialect.US, "width": 360.0}

    # 827 mm is 32 9/16 in; 900 mm is 35 7/16 in
    assert "32 9/16" in texts(strip(planned, 1, **asked))
    assert "35 7/16" in texts(stick_isometric(planned, 1, **asked))
    assert "mark 32 9/16 in from the datum end" in desc(strip(planned, 1, **asked))
    assert "<title" in strip(planned, 1, **asked)
    assert "Strip of run B2, stick 1" in strip(planned, 1, **asked)


@pytest.mark.parametrize("paper", [True, False])
def test_every_drawing_is_an_image_with_a_title_and_a_description(paper: bool) -> None:
    for drawing in every_drawing(run_07(), paper=paper).values():
        root = parsed(drawing)
        title, described = root.find(f"{SVG}title"), root.find(f"{SVG}desc")

        assert root.get("role") == "img"
        assert title is not None
        assert described is not None
        assert root.get("aria-labelledby") == title.get("id")
        assert root.get("aria-describedby") == described.get("id")
        assert "07" in (title.text or "")
        assert len(described.text or "") > 40


# ---------------------------------------------------------------------------------------------- page and
# paper


def test_ids_are_unique_in_a_drawing_and_between_different_drawings_of_a_page() -> None:
    planned = run_07()
    drawings = [
        *every_drawing(planned).values(),
        *every_drawing(planned, units=Units.INCH).values(),
        strip(planned, 2),
        strip(planned, 1, width=328.0),
        strip(planned, 2, highlight=1),
        stick_isometric(planned, 2),
        run_isometric(planned, bold=2),
        strip(planned, 1, prefix="again"),
    ]
    ids = re.findall(r'\bid="([^"]+)"', "".join(drawings))

    assert len(ids) == len(set(ids))
    assert len(ids) > 2 * len(drawings)


def test_what_an_id_is_asked_for_is_there() -> None:
    for drawing in (strip(run_07(), 2, highlight=1, prefix="k1"), *every_drawing(run_07()).values()):
        ids = set(re.findall(r'\bid="([^"]+)"', drawing))

        assert set(re.findall(r"url\(#([^)]+)\)", drawing)) <= ids
        assert set(re.findall(r'aria-[a-z]+="([^"]+)"', drawing)) <= ids


def test_on_screen_a_drawing_carries_classes_and_no_look_of_its_own() -> None:
    for drawing in every_drawing(run_07(), paper=False).values():
        for element in parsed(drawing).iter():
            looks = {"style", "stroke", "font-family", "font-weight", "stroke-dasharray", "stop-color"}
            assert not looks & set(element.attrib)
            assert re.fullmatch(r"(url\(#.+\))?", element.get("fill", ""))
            assert "#" not in element.get("class", "")
        assert "<style" not in drawing


def test_on_paper_a_drawing_needs_no_sheet() -> None:
    for drawing in every_drawing(run_07()).values():
        root = parsed(drawing)

        assert not any("class" in element.attrib or "style" in element.attrib for element in root.iter())
        assert "var(" not in drawing
        assert "--" not in drawing
        assert "Liberation Sans" in root.get("font-family", "")
        assert root.get("viewBox") == f"0 0 {root.get('width')} {root.get('height')}"


def test_paper_and_screen_show_the_same_elements_by_the_same_table() -> None:
    planned = run_07()
    on_screen, on_paper = (every_drawing(planned, paper=paper, prefix="k") for paper in (False, True))
    for name, drawing in on_screen.items():
        pairs = zip(parsed(drawing).iter(), parsed(on_paper[name]).iter(), strict=True)
        for screen, paper in pairs:
            own = {key: value for key, value in screen.attrib.items() if key != "class"}
            if screen.tag == f"{SVG}svg":
                own |= {key: paper.get(key, "") for key in ("width", "height")}
            assert paper.tag == screen.tag
            assert paper.text == screen.text
            assert paper.attrib == {**attributes(screen.get("class", "")), **own}


def test_the_sheet_has_every_class_in_the_pages_tokens() -> None:
    sheet = stylesheet()
    rules = dict(re.findall(r"^(\S.*?) \{ (.*) \}$", sheet, flags=re.MULTILINE))

    assert len(rules) == len(STYLES)
    assert rules[".dwg .mark.mk"] == "stroke: var(--mark); stroke-width: var(--w-mark);"
    assert not re.search(r"#[0-9a-f]{3,6}", sheet)
    assert set(re.findall(r"var\(--([a-z0-9-]+)\)", sheet)) == set(TOKENS)
    for drawing in every_drawing(run_07(), paper=False).values():
        used = {name for each in re.findall(r'class="([^"]+)"', drawing) for name in each.split()}
        assert used <= STYLES.keys() | MARKER_ONLY


HOSTILE = "<script>alert(1)</script> & \"07\" 'x' ]]> \x00\x07\x1b\x85\u202e\ud800\ufffe end"


@pytest.mark.parametrize("paper", [True, False])
def test_what_a_run_is_called_cannot_break_its_drawing(paper: bool) -> None:
    named = replace(run_07(), run=HOSTILE)
    for drawing in (
        *every_drawing(named, paper=paper).values(),
        run_isometric(named, paper=paper, bold=1, ends=("<b>\x00&", "\"'\u202e\n2")),
    ):
        root = parsed(drawing.encode("utf-8").decode("utf-8"))
        title = root.findtext(f"{SVG}title") or ""

        assert "<script>alert(1)</script> & \"07\" 'x' ]]> end" in title
        assert {element.tag.removeprefix(SVG) for element in root.iter()} <= {
            *("svg", "title", "desc", "defs", "linearGradient", "stop", "pattern"),
            *("line", "path", "rect", "circle", "text"),
        }
    assert {"<b>&", "\"' 2"} <= set(texts(drawing))


def test_the_same_plan_gives_the_same_drawing_in_every_process() -> None:
    code = (
        "import hashlib, json, sys; from bendcore import plan; from bendcore.drawing import *; "
        "p = plan(json.load(sys.stdin)); "
        "told = strip(p, 2) + stick_isometric(p, 2) + run_isometric(p) + pose(p, 2, 3); "
        "print(hashlib.sha256(told.encode()).hexdigest())"
    )
    planned = run_07()
    drawn = strip(planned, 2) + stick_isometric(planned, 2) + run_isometric(planned) + pose(planned, 2, 3)
    here = hashlib.sha256(drawn.encode())
    for seed in ("1", "2"):
        told = subprocess.run(
            [sys.executable, "-c", code],
            input=json.dumps(RUN_07),
            capture_output=True,
            text=True,
            check=True,
            cwd=ROOT,
            env={**os.environ, "PYTHONHASHSEED": seed},
        )
        assert told.stdout.strip() == here.hexdigest()


# ---------------------------------------------------------------------------------------------- refused


@pytest.mark.parametrize(
    ("ask", "told"),
    [
        (lambda p: strip(p, 3), "sticks 1 to 2; there is no stick 3"),
        (lambda p: stick_isometric(p, 0), "sticks 1 to 2; there is no stick 0"),
        (lambda p: run_isometric(p, bold=4), "sticks 1 to 2; there is no stick 4"),
        (lambda p: strip(p, 1, highlight=2), "1 bend; there is no bend 2"),
        (lambda p: stick_isometric(p, 2, highlight=5), "4 bends; there is no bend 5"),
        (lambda p: run_isometric(p, ring=6), "5 corners; there is no corner 6"),
        (lambda p: strip(p, 1, width=150.0), "200 px wide or more, not 150"),
        (lambda p: strip(p, 1, width=math.nan), "200 px wide or more, not nan"),
        (lambda p: strip(p, 1, width=math.inf), "finite"),
        (lambda p: stick_isometric(p, 1, width=90.0), "120 px wide and high at least, not 90"),
        (
            lambda p: run_isometric(p, width=210.0, height=50.0),
            "120 px wide and high at least, not 210 by 50",
        ),
        (lambda p: strip(p, 1, span=Mm(3000.0)), "a span of 3000 mm is less than the stick's 3750 mm"),
        (lambda p: strip(p, 1, prefix='x" onload="'), "an id begins with a letter"),
        (lambda p: strip(p, 1, prefix=""), "an id begins with a letter and goes on"),
    ],
)
def test_what_is_not_there_is_refused_with_what_is_allowed(ask: Any, told: str) -> None:
    with pytest.raises(ValueError, match=re.escape(told)):
        ask(run_07())


def test_a_class_without_a_style_is_a_slip_that_fails() -> None:
    with pytest.raises(KeyError, match="no style for glow"):
        attributes("mark glow")
