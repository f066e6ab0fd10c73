"""Drawings of whole runs: joints, fittings, clips, the order of bends, and the stick in the bender."""

import json
import math
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest

from bendcore import Dialect, Plan, Units, plan
from bendcore.drawing import pose, run_isometric, stick_isometric, strip
from bendcore.drawing.plane import beside, hull, scanned
from bendcore.drawing.said import ordinal
from bendcore.drawing.signs import Sign, SignKind, figures
from bendcore.drawing.space import VIEWS, Centreline, centreline
from bendcore.units import Mm

SVG = "{http://www.w3.org/2000/svg}"
EXAMPLES = Path(__file__).parents[2] / "docs" / "examples"

ON_THE_SHEET = 0.03
"""px: coordinates are written to a hundredth, and two of them may differ both ways."""

SAME_PLACE = 1e-6
"""mm: two ways to a point of the centreline."""

BODIES = [{"min": [-260, -880, -120], "max": [160, -60, 120]}]
BENDER: dict[str, Any] = {
    "hold_min": 90.0,
    "swing_min": 60.0,
    "floor": {"normal": [0, 1, 0], "offset": -900.0},
    "bodies": BODIES,
}


def example(number: int) -> Plan:
    (path,) = EXAMPLES.glob(f"{number:02d}-*.json")
    planned = plan(json.loads(path.read_text(encoding="utf-8")))
    assert isinstance(planned, Plan)
    return planned


def one_stick(steps: list[dict[str, Any]], **more: Any) -> Plan:
    spec = {
        "conduit": {"outside_diameter": 20.0},
        "former": {"centreline_radius": 73.0},
        "joints": "none",
        "route": {"heading": "up", "steps": steps},
    }
    planned = plan({**spec, **more})
    assert isinstance(planned, Plan)
    return planned


def two_bends(first: float = 600.0, last: float = 500.0, **more: Any) -> Plan:
    """Up, right, in: two bends of 90 degrees, the second a quarter turn round the stick."""
    steps: list[dict[str, Any]] = [
        {"leg": first},
        {"bend": 90, "toward": "right"},
        {"leg": 900},
        {"bend": 90, "toward": "in"},
        {"leg": last},
    ]
    return one_stick(steps, **more)


def turned_round() -> Plan:
    """300 mm to hold is more than either end leg has: each bend is held by the far side of the other."""
    return two_bends(first=250.0, last=250.0, bender={**BENDER, "hold_min": 300.0})


def of_class(drawing: str, name: str) -> list[ElementTree.Element]:
    root = ElementTree.fromstring(drawing)
    return [each for each in root.iter() if name in (each.get("class") or "").split()]


def texts(drawing: str) -> list[str]:
    return [each.text or "" for each in ElementTree.fromstring(drawing).iter(f"{SVG}text")]


def desc(drawing: str) -> str:
    return ElementTree.fromstring(drawing).findtext(f"{SVG}desc") or ""


def number_of(element: ElementTree.Element, name: str) -> float:
    return float(element.get(name, "nan"))


def spots(path: ElementTree.Element) -> list[tuple[float, float]]:
    steps = [step.split() for step in (path.get("d") or "").strip("MZ").split("L")]
    return [(float(x), float(y)) for x, y in steps]


def middle(a: tuple[float, float], b: tuple[float, float]) -> tuple[float, float]:
    return ((a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0)


def ends(line: ElementTree.Element) -> tuple[tuple[float, float], tuple[float, float]]:
    a, b = ((number_of(line, f"x{i}"), number_of(line, f"y{i}")) for i in (1, 2))
    return a, b


# ---------------------------------------------------------------------------------------------- centreline


def whole_line(planned: Plan) -> Centreline:
    start, finish = planned.sticks[0].start.allowance, planned.sticks[-1].finish.allowance
    return centreline(planned.route, start or Mm(0.0), finish or Mm(0.0))


@pytest.mark.parametrize("number", [10, 11, 12, 13])
def test_the_centreline_is_where_the_rules_put_their_clips(number: int) -> None:
    planned = example(number)
    line = whole_line(planned)

    assert planned.supports
    for each in planned.supports:
        assert line.at(each.along) == pytest.approx(each.at, abs=SAME_PLACE)
    assert line.pieces[-1].finish == pytest.approx(planned.developed_length, abs=SAME_PLACE)


def fitted(fitting: dict[str, Any]) -> Plan:
    return one_stick([{"leg": 1000}, {"fitting": fitting}, {"leg": 800}])


@pytest.mark.parametrize(
    ("fitting", "before", "after"),
    [
        # where the stick before ends and the stick after begins, by hand: leg_in short of (0, 0, 1000),
        # leg_out past it
        ({"kind": "draw_in_box", "leg_in": 44, "leg_out": 30}, (0, 0, 956), (0, 0, 1030)),
        (
            {"kind": "inspection_bend", "angle": 90, "toward": "right", "leg_in": 60, "leg_out": 50},
            (0, 0, 940),
            (50, 0, 1000),
        ),
        (
            {
                "kind": "bought_bend",
                "angle": 90,
                "toward": "right",
                "radius": 100,
                "leg_in": 160,
                "leg_out": 140,
            },
            (0, 0, 840),
            (140, 0, 1000),
        ),
    ],
)
def test_sticks_end_at_a_fitting_where_its_own_legs_do(
    fitting: dict[str, Any], before: tuple[float, ...], after: tuple[float, ...]
) -> None:
    planned = fitted(fitting)
    first, second = planned.sticks
    line = whole_line(planned)

    assert line.at(first.along + first.cut_length) == pytest.approx(before, abs=SAME_PLACE)
    assert line.at(second.along) == pytest.approx(after, abs=SAME_PLACE)
    assert line.at(planned.developed_length) == pytest.approx(planned.route.finish, abs=SAME_PLACE)


def test_a_bend_after_a_fitting_in_a_leg_is_drawn_at_its_own_corner() -> None:
    steps: list[dict[str, Any]] = [
        {"leg": 700},
        {"fitting": {"kind": "tee", "leg_in": 30, "leg_out": 30}},
        {"leg": 600},
        {"bend": 90, "toward": "right"},
        {"leg": 500},
    ]
    planned = one_stick(steps)

    # from the fitting's end, 30 past its middle, to the corner; then to the finish
    assert {"570", "500"} <= set(texts(stick_isometric(planned, 2, width=360.0)))
    assert "1 bend" not in desc(run_isometric(planned, ring=1))
    with pytest.raises(ValueError, match="1 corner; there is no corner 2"):
        run_isometric(planned, ring=2)


# ---------------------------------------------------------------------------------------------- the run


def test_each_kind_of_joint_has_its_sign_and_its_word() -> None:
    uk = run_isometric(example(10), paper=False, width=620.0)
    us = run_isometric(example(13), paper=False, width=620.0, dialect=Dialect.US)

    circles, boxes = of_class(uk, "joint"), of_class(uk, "fit")
    assert [each.tag for each in circles] == [f"{SVG}circle"] * 2
    assert len(of_class(uk, "long")) == 6  # three lines a long thread
    assert [each.tag for each in boxes] == [f"{SVG}path"]
    assert {"running coupler", "draw-in box"} <= set(texts(uk))
    assert "Running coupler between 1 and 2, the long thread on length 1." in desc(uk)

    # two couplings, and a union's diamond between sticks 2 and 3
    assert [each.tag.removeprefix(SVG) for each in of_class(us, "joint")] == ["circle", "path", "circle"]
    assert of_class(us, "long") == []
    assert {"union", "conduit body"} <= set(texts(us))


def test_a_bought_bend_is_drawn_as_it_runs_between_two_couplers() -> None:
    fitting = {"kind": "bought_bend", "angle": 90, "toward": "right", "radius": 100}
    drawing = run_isometric(fitted({**fitting, "leg_in": 160, "leg_out": 140}), paper=False)

    assert len(of_class(drawing, "joint")) == 2
    assert of_class(drawing, "fit") == []
    assert len(of_class(drawing, "tu-b")) == 3
    assert "normal bend" in texts(drawing)


def test_a_clip_stands_across_the_conduit_for_each_that_the_rules_want() -> None:
    planned = example(10)
    drawing = run_isometric(planned, paper=False)

    assert len(of_class(drawing, "clip")) == len(planned.supports) == 8
    assert "8 saddles where the rules want them." in desc(drawing)
    assert "strap" in desc(run_isometric(example(13), dialect=Dialect.US))


def test_sticks_are_numbered_on_the_run() -> None:
    assert {f"length {n}" for n in (1, 2, 3, 4)} <= set(texts(run_isometric(example(10), width=620.0)))


def test_a_fitting_bent_at_a_corner_follows_both_its_legs() -> None:
    right, up = VIEWS[0].flat((1.0, 0.0, 0.0)), VIEWS[0].flat((0.0, 0.0, 1.0))
    ways = (((1.0, 0.0, 0.0), 40.0), ((0.0, 0.0, 1.0), 60.0))
    (body,) = figures(Sign(SignKind.INSPECTION_BEND, (0.0, 0.0, 0.0), ways), VIEWS[0], 1.0, 6.0)

    farthest_right = max(x * right[0] + y * right[1] for x, y in body.spots) / math.hypot(*right)
    farthest_up = max(x * up[0] + y * up[1] for x, y in body.spots) / math.hypot(*up)
    assert farthest_right == pytest.approx(40.0 * math.hypot(*right), abs=1e-9)
    assert farthest_up == pytest.approx(60.0 * math.hypot(*up), abs=1e-9)


# ---------------------------------------------------------------------------------------------- the strip


def test_bars_beside_a_bend_zone_are_as_long_as_the_bender_needs() -> None:
    drawing = strip(two_bends(bender=BENDER), 1, paper=False, width=1200.0)
    (tube,), zones = of_class(drawing, "st-tube"), of_class(drawing, "zone")
    # 600 + 900 + 500 less two gains of 31.33, by hand
    px_per_mm = number_of(tube, "width") / (2000.0 - 2 * 31.33)

    holds, swings = of_class(drawing, "lean-h"), of_class(drawing, "lean-s")

    assert [number_of(bar, "width") / px_per_mm for bar in holds] == pytest.approx([90.0] * 2, abs=0.1)
    assert [number_of(bar, "width") / px_per_mm for bar in swings] == pytest.approx([60.0] * 2, abs=0.1)
    for hold, zone, swing in zip(holds, zones, swings, strict=True):
        begin, finish = number_of(zone, "x"), number_of(zone, "x") + number_of(zone, "width")
        assert number_of(hold, "x") + number_of(hold, "width") == pytest.approx(begin, abs=ON_THE_SHEET)
        assert number_of(swing, "x") == pytest.approx(finish, abs=ON_THE_SHEET)
        assert number_of(hold, "y") > number_of(tube, "y") > number_of(swing, "y")


def test_a_bend_held_by_the_far_end_has_its_bars_the_other_way_round_and_says_so() -> None:
    drawing = strip(turned_round(), 1, paper=False)
    hold, zone = of_class(drawing, "lean-h")[0], of_class(drawing, "zone")[0]

    assert number_of(hold, "x") == pytest.approx(
        number_of(zone, "x") + number_of(zone, "width"), abs=ON_THE_SHEET
    )
    assert "roll 0°, far end held" in texts(drawing)
    assert "far end held" in desc(drawing)
    assert "held" not in desc(strip(two_bends(), 1))


def test_without_a_bender_there_are_no_bars() -> None:
    drawing = strip(two_bends(), 1, paper=False)

    assert of_class(drawing, "lean-h") == []
    assert of_class(drawing, "lean-s") == []


def test_threads_are_told_at_both_ends() -> None:
    planned = example(10)

    assert {"datum end, factory thread", "long thread"} <= set(texts(strip(planned, 3)))
    assert "cut thread" in texts(strip(planned, 2))
    assert "At the far end: running coupler, long thread." in desc(strip(planned, 3))
    assert not any("thread" in text for text in texts(strip(two_bends(), 1)))


@pytest.mark.parametrize(("stick", "outlines"), [(1, 2), (2, 1), (4, 0)])
def test_what_stands_at_the_far_end_has_its_outline(stick: int, outlines: int) -> None:
    # a running coupler with its locknut, a draw-in box, an end at a box
    assert len(of_class(strip(example(10), stick, paper=False), "coup")) == outlines


def test_the_order_is_told_where_it_is_not_along_the_stick() -> None:
    planned = example(10)
    stick = planned.sticks[1]
    assert [bend.order for bend in stick.bends] == [2, 1]

    assert {"bend 1, 2nd", "bend 2, 1st"} <= set(texts(strip(planned, 2)))
    assert "made 2nd" in desc(strip(planned, 2))
    assert {"bend 1", "bend 2"} <= set(texts(strip(two_bends(), 1)))


def test_places_in_an_order_are_said_as_one_says_them() -> None:
    assert [ordinal(n) for n in (1, 2, 3, 4, 11, 12, 13, 21, 111)] == [
        *("1st", "2nd", "3rd", "4th", "11th", "12th", "13th", "21st", "111th")
    ]


# ---------------------------------------------------------------------------------------------- the pose


@pytest.mark.parametrize("bend", [1, 2])
@pytest.mark.parametrize("bender", [None, BENDER])
def test_the_tail_swings_from_where_it_lies_to_where_it_is_dashed(bend: int, bender: Any) -> None:
    drawing = pose(two_bends(**({} if bender is None else {"bender": bender})), 1, bend, paper=False)
    (sweep,), dashes, tubes = of_class(drawing, "swp"), of_class(drawing, "next"), of_class(drawing, "tu-b")

    tail = max((spots(tube)[-1] for tube in tubes), key=lambda spot: spot[0])
    assert spots(sweep)[0] == pytest.approx(tail, abs=1.0)  # where it is farthest, sampled along the tail
    left, right = (spots(dash)[-1] for dash in dashes)
    assert spots(sweep)[-1] == pytest.approx(middle(left, right), abs=1.0)


@pytest.mark.parametrize("line", [{"kind": "begin"}, {"kind": "back"}, {"kind": "arrow", "take_up": 120.0}])
def test_the_mark_lies_on_the_set_line(line: dict[str, Any]) -> None:
    planned = two_bends(former={"centreline_radius": 73.0, "set_line": line})
    drawing = pose(planned, 1, 1, paper=False)
    (mark,), (set_line,) = of_class(drawing, "mark"), of_class(drawing, "setl")

    x, y = middle(*ends(mark))
    (ax, ay), (bx, by) = spots(set_line)
    away = ((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / math.hypot(bx - ax, by - ay)
    assert away == pytest.approx(0.0, abs=ON_THE_SHEET)
    assert min(ay, by) < y < max(ay, by)


def test_a_begin_line_stands_at_the_former_and_a_back_line_past_it() -> None:
    def right_of_former(kind: str) -> float:
        planned = two_bends(former={"centreline_radius": 73.0, "set_line": {"kind": kind}})
        drawing = pose(planned, 1, 1, paper=False, width=600.0)
        outline = spots(of_class(drawing, "former")[0])
        return spots(of_class(drawing, "setl")[0])[0][0] - max(x for x, _ in outline)

    assert right_of_former("begin") < 0.0 < right_of_former("back")


def test_the_pose_tells_mark_sweep_held_end_and_angle() -> None:
    planned = two_bends(bender=BENDER)
    drawing = pose(planned, 1, 1, width=600.0)

    # 600 - 73; with 900 + 500 beyond it: 900 - 2 * 73 + 114.67 + 500 - 73 is straight still, so 1295.67
    assert {"527", "tail swings 1296 mm", "datum end held", "bend 1: 90°", "begin line"} <= set(
        texts(drawing)
    )
    assert "floor 900 mm down" in texts(drawing)
    assert "Mark 527 mm from the datum end, on the begin line of the former." in desc(drawing)


def test_bends_already_made_stand_as_they_do() -> None:
    with_floor = pose(two_bends(bender=BENDER), 1, 2, width=600.0)
    without = pose(two_bends(), 1, 2, width=600.0)

    assert "bend 1, leg flat" in texts(with_floor)
    assert "bend 1, leg turned -90°" in texts(without)
    assert "Already made: 1. Nearest is bend 1: leg flat." in desc(with_floor)


def test_a_bender_has_its_floor_and_its_bodies_and_a_plain_line_neither() -> None:
    with_one = pose(two_bends(bender=BENDER), 1, 1, paper=False)
    without = pose(two_bends(), 1, 1, paper=False)

    # the floor and the three faces of a box that are seen
    assert [len(of_class(with_one, name)) for name in ("room-f", "room-w", "room-w2")] == [2, 1, 1]
    assert [len(of_class(without, name)) for name in ("room-f", "room-w", "room-w2")] == [0, 0, 0]
    assert "floor" not in desc(without)


def test_a_stick_turned_round_is_held_by_the_other_end_and_says_so() -> None:
    planned = turned_round()
    order = {bend.order: bend for bend in planned.sticks[0].bends}
    assert (order[1].held, order[2].held, order[2].turned) == ("finish", "start", True)

    first, second = (pose(planned, 1, order[n].number, paper=False, width=480.0) for n in (1, 2))

    assert "far end held" in texts(first)
    assert {"datum end held", "turn round"} <= set(texts(second))
    assert (len(of_class(first, "turn")), len(of_class(second, "turn"))) == (0, 1)
    assert "Turn it round, end for end." in desc(second)
    # the datum end's bar: at the swinging end, right of the former, or at the held end, left of it
    for drawing, side in ((first, 1.0), (second, -1.0)):
        (bar,), former = of_class(drawing, "datum-l"), spots(of_class(drawing, "former")[0])
        assert (middle(*ends(bar))[0] - sum(x for x, _ in former) / len(former)) * side > 0.0


def test_long_straights_are_broken_and_short_ones_are_not() -> None:
    long = pose(two_bends(first=2600.0, last=2600.0), 1, 1, paper=False)
    short = pose(one_stick([{"leg": 200}, {"bend": 90, "toward": "right"}, {"leg": 200}]), 1, 1, paper=False)

    assert len(of_class(long, "brk")) == 4  # both ends of two breaks
    assert of_class(short, "brk") == []


def test_a_longer_tail_makes_the_former_no_smaller() -> None:
    def former_width(last: float) -> float:
        xs = [x for x, _ in spots(of_class(pose(two_bends(last=last), 1, 2, paper=False), "former")[0])]
        return max(xs) - min(xs)

    assert former_width(5000.0) == pytest.approx(former_width(700.0), rel=0.02)
    assert former_width(5000.0) > 0.1 * 360.0


def test_a_mark_off_the_stick_is_not_drawn_on_it() -> None:
    line = {"kind": "own", "reach": -400.0}
    steps: list[dict[str, Any]] = [{"leg": 300}, {"bend": 90, "toward": "right"}, {"leg": 600}]
    planned = one_stick(steps, former={"centreline_radius": 73.0, "set_line": line})
    drawing = pose(planned, 1, 1, paper=False)

    assert of_class(drawing, "mark") == []
    assert "The mark falls off the length." in desc(drawing)


def test_the_pose_speaks_the_units_and_words_asked_for() -> None:
    drawing = pose(example(13), 1, 1, units=Units.INCH, dialect=Dialect.US, width=480.0)

    assert any(text.startswith("tail swings") and text.endswith(" in") for text in texts(drawing))
    assert "shoe" in desc(drawing)
    assert "stick" in desc(drawing)


@pytest.mark.parametrize(
    ("ask", "told"),
    [
        (lambda p: pose(p, 2, 1), "there is no stick 2"),
        (lambda p: pose(p, 1, 3), "2 bends; there is no bend 3"),
        (lambda p: pose(p, 1, 0), "2 bends; there is no bend 0"),
        (lambda p: pose(p, 1, 1, width=90.0), "120 px wide and high at least, not 90"),
        (lambda p: pose(p, 1, 1, width=math.nan), "120 px wide and high at least, not nan"),
        (lambda p: pose(p, 1, 1, prefix="7"), "an id begins with a letter"),
    ],
)
def test_a_pose_that_is_not_there_is_refused(ask: Any, told: str) -> None:
    with pytest.raises(ValueError, match=told):
        ask(two_bends())


def test_a_stick_that_has_no_order_has_no_pose() -> None:
    planned = two_bends(bender={**BENDER, "hold_min": 5000.0})

    with pytest.raises(ValueError, match="no order of bending"):
        pose(planned, 1, 1)
    assert of_class(strip(planned, 1, paper=False), "lean-h") == []


# ---------------------------------------------------------------------------------------------- on the sheet


def test_a_line_beside_a_line_keeps_its_distance() -> None:
    assert beside([(0.0, 0.0), (10.0, 0.0), (20.0, 0.0)], 3.0) == [(0.0, 3.0), (10.0, 3.0), (20.0, 3.0)]


def test_a_hull_leaves_out_what_lies_inside() -> None:
    places = [(0.0, 0.0), (4.0, 0.0), (2.0, 1.0), (4.0, 4.0), (0.0, 4.0), (2.0, 2.0)]

    assert sorted(hull(places)) == [0, 1, 3, 4]


def test_an_outline_is_filled_by_level_lines() -> None:
    lines = scanned([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)], 5.0)

    assert lines == [((0.0, 2.5), (10.0, 2.5)), ((0.0, 7.5), (10.0, 7.5))]
