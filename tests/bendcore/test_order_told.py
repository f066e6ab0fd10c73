"""What an order of bending tells a person, and the invented benders to try one with."""

import re
from itertools import product
from typing import Any

import pytest
from worked import LEAST, planned, points

import bendcore
from bendcore import catalogue, words
from bendcore.order import Obstacle, Order, order_findings
from bendcore.spec import read
from bendcore.units import Deg, Mm, Units
from bendcore.words import Dialect, Level

WHERES = ["route.points[1]", "route.points[2]", "route.points[3]"]

OBSTACLES = {
    "hold": Obstacle(2, "start", "hold", Mm(39.4), straight=Mm(60.6)),
    "swing": Obstacle(2, "finish", "swing", Mm(18.7), straight=Mm(61.3)),
    "mark": Obstacle(3, "start", "mark", Mm(85.3)),
    "floor": Obstacle(1, "start", "floor", Mm(147.73), Deg(0.0), None, "tail"),
    "plane": Obstacle(1, "finish", "plane", Mm(76.43), Deg(60.0), 1, "tail"),
    "body": Obstacle(3, "start", "body", Mm(0.2), Deg(23.0), 0, "held side"),
    "arc": Obstacle(3, "start", "body", Mm(3.2), Deg(23.0), 2, "arc"),
}


def told(
    obstacle: Obstacle,
    units: Units = Units.MM,
    dialect: Dialect = Dialect.UK,
    *,
    freed_by: int | None = None,
    bends: int = 3,
) -> str:
    order = Order(None, None, obstacle=obstacle, freed_by=freed_by)
    (finding,) = order_findings(order, stick=4, wheres=WHERES[:bends])
    assert (finding.rule, finding.level, finding.edition) == ("bending-order", Level.STOP, "")
    assert finding.where == WHERES[obstacle.bend - 1]
    return words.sentence(finding, units, dialect)


def test_an_order_that_was_found_has_nothing_to_tell() -> None:
    assert order_findings(Order((), 0), stick=1, wheres=[]) == ()


@pytest.mark.parametrize(("units", "dialect"), list(product(Units, Dialect)))
@pytest.mark.parametrize("name", OBSTACLES)
def test_what_is_in_the_way_is_a_whole_sentence_in_any_units_and_words(
    name: str, units: Units, dialect: Dialect
) -> None:
    for freed_by, bends in ((None, 3), (2, 3), (None, 1)):
        obstacle = OBSTACLES[name] if bends == 3 else OBSTACLES["floor"]
        text = told(obstacle, units, dialect, freed_by=freed_by, bends=bends)
        assert text[0].isupper()
        assert text.endswith(".")
        assert "_" not in text
        assert "None" not in text
        assert not re.search({Units.MM: r"\d in\b", Units.INCH: r"\d mm\b"}[units], text)
        assert not re.search(r"\d\.\d", text)


def test_a_straight_too_short_says_what_there_is_and_what_is_missing() -> None:
    text = told(OBSTACLES["hold"])
    assert "No order of bending makes length 4 on this bender." in text
    assert "at bend 2, held by the start, there is only 61 mm to hold, 39 mm too little" in text
    text = told(OBSTACLES["swing"], Units.INCH, Dialect.US)
    # 61.3 mm are 38.6 sixteenths, 18.7 mm 11.8
    assert "makes stick 4" in text
    assert "only 2 7/16 in of straight past it, 3/4 in too little" in text


def test_a_mark_off_its_straight_says_by_how_much() -> None:
    assert "the mark lies 85 mm off the straight that it must be set on" in told(OBSTACLES["mark"])


def test_what_is_touched_says_what_by_what_and_when() -> None:
    text = told(OBSTACLES["floor"], freed_by=1)
    assert "the swinging end touches the floor before the pull begins, and wants 148 mm more room" in text
    assert text.endswith("A joint between bends 1 and 2 would free it.")
    text = told(OBSTACLES["plane"], dialect=Dialect.US)
    assert "the free end touches plane 2 beside the bender from 60° of the pull on" in text
    assert "No single joint between its bends frees it" in text
    # 0.2 mm would read as nothing.
    text = told(OBSTACLES["body"])
    assert "the held end touches body 1 of the bender from 23° of the pull on, and wants under 1 mm" in text
    assert "wants under 1/16 in more room" in told(OBSTACLES["body"], Units.INCH)
    assert "the stretch being bent touches body 3" in told(OBSTACLES["arc"])
    assert "joint" not in told(OBSTACLES["floor"], bends=1)


def test_a_stick_with_too_many_bends_is_warned_of() -> None:
    (finding,) = order_findings(Order((), 0, searched=False), stick=2, wheres=["route"] * 12)
    assert (finding.rule, finding.level, finding.where) == ("order-not-searched", Level.WARN, "bender")
    text = words.sentence(finding, Units.MM, Dialect.UK)
    assert "Length 2 has 12 bends" in text
    assert "up to 10" in text
    assert "from 1 to 12, held by the start" in text
    assert words.sentence(finding, Units.MM, Dialect.US).startswith("Stick 2 has 12 bends")


def test_a_plan_without_an_order_stops_and_says_so() -> None:
    # As docs/method/order.md, worked example 5: a Z of 500, 400 and 500 with a floor 100 below.
    spec = points([0, 0, 0], [0, 0, 500], [400, 0, 500], [400, 0, 1000])
    plan = bendcore.plan({**spec, "bender": {"floor": {"normal": [0, 1, 0], "offset": -100.0}}})
    assert isinstance(plan, bendcore.Plan)
    assert plan.has_stop
    (finding,) = (each for each in plan.findings if each.rule == "bending-order")
    # The leg points 500 down, 10 more outside: 500 + 10 + 0.5 - 100.
    assert finding.figures["short_mm"] == pytest.approx(410.5, abs=1e-6)
    assert finding.figures["freed_by"] == 1


# ------------------------------------------------------------------------------------------- invented benders


def test_the_invented_benders_are_read_by_the_contract_and_bend_the_least_run() -> None:
    shapes = catalogue.bender_shapes()
    assert list(shapes) == ["bench machine", "floor machine"]
    for shape in shapes.values():
        spec: dict[str, Any] = {**LEAST, "bender": shape}
        asked = read(spec).bender
        assert asked is not None
        assert asked.bodies
        assert asked.floor is not None
        assert min(asked.hold_min, asked.swing_min) > 0.0
        (stick,) = planned(spec)["sticks"]
        assert sorted(bend["order"] for bend in stick["bends"]) == [1, 2]


def test_each_call_gives_benders_of_ones_own() -> None:
    catalogue.bender_shapes()["bench machine"]["bodies"].clear()
    assert catalogue.bender_shapes()["bench machine"]["bodies"]
