"""Measured steps become the corners that a second walker, drawing lines instead of using formulas, arrives
at."""

import itertools
import math
from typing import Any

import pytest
from hypothesis import given
from independent import walker
from independent.routes import Run, examples, runs
from independent.space import distance

import bendcore

# mm. Two ways of computing the same point over some tens of metres.
SAME_POINT = 1e-6
D, R = 20.0, 73.0


def planned(route: dict[str, Any]) -> bendcore.Plan:
    plan = bendcore.plan(
        {
            "conduit": {"outside_diameter": D, "stock_length": 3750.0},
            "former": {"centreline_radius": R},
            "route": route,
            "joints": "none",
        }
    )
    assert isinstance(plan, bendcore.Plan)
    return plan


@given(run=runs(as_steps=True, most_corners=10))
@examples(300)
def test_steps_are_walked_to_the_corners_that_drawn_lines_give(run: Run) -> None:
    plan = bendcore.plan(run.spec)
    assert isinstance(plan, bendcore.Plan)
    route = plan.route
    found = [route.start, *(c.at for c in route.corners), route.finish]
    assert len(found) == len(run.points)
    for a, b in zip(found, run.points, strict=True):
        assert distance((a[0], a[1], a[2]), b) < SAME_POINT
    assert tuple(route.points) == tuple(found)


@given(run=runs(as_steps=False, most_corners=10))
@examples(100)
def test_points_told_twice_or_on_the_way_are_no_corners(run: Run) -> None:
    plan = bendcore.plan(run.spec)
    assert isinstance(plan, bendcore.Plan)
    assert len(plan.route.points) == len(run.points)
    for a, b in zip(plan.route.points, run.points, strict=True):
        assert distance((a[0], a[1], a[2]), b) < SAME_POINT
    told = [tuple(p) for p in run.spec["route"]["points"]]
    if any(a == b for a, b in itertools.pairwise(told)):
        assert any(f["level"] == "note" for f in plan.to_dict()["findings"])


# Each worked by hand; both the engine and the second walker must give it, so that neither is trusted alone.
BY_HAND: list[tuple[str, dict[str, Any], list[tuple[float, float, float]]]] = [
    (
        # Up 1200 to the back: the corner of the centrelines is half a diameter, 10, short of it at a right
        # angle.
        "back",
        {"steps": [{"leg": 1200, "to": "back"}, {"bend": 90, "toward": "right"}, {"leg": 600}]},
        [(0, 0, 0), (0, 0, 1190), (600, 0, 1190)],
    ),
    (
        "inside",
        {
            "steps": [
                {"leg": 1200, "to": "inside"},
                {"bend": 90, "toward": "right"},
                {"leg": 600, "from": "inside"},
            ]
        },
        [(0, 0, 0), (0, 0, 1210), (610, 0, 1210)],
    ),
    (
        # Walls stand 10 + 40 outside the centreline at a right angle; a leg's own standoff, 5, counts
        # instead.
        "wall",
        {
            "standoff": 40,
            "steps": [
                {"leg": 1200, "to": "wall"},
                {"bend": 90, "toward": "right"},
                {"leg": 600, "from": "wall", "to": "wall", "standoff": 5},
                {"bend": 90, "toward": "up"},
                {"leg": 300, "to": "face"},
            ],
        },
        [(0, 0, 0), (0, 0, 1150), (570, 0, 1150), (570, 0, 1450)],
    ),
    (
        # Back to back between two right angles: 600 less 10 less 10. Two legs in a row add up.
        "back to back",
        {
            "heading": "north",
            "start": [100, 200, 300],
            "steps": [
                {"leg": 500},
                {"leg": 200},
                {"bend": 90, "toward": "east"},
                {"leg": 600, "from": "back", "to": "back"},
                {"bend": 90, "toward": "down"},
                {"leg": 250},
            ],
        },
        [(100, 200, 300), (100, 900, 300), (680, 900, 300), (680, 900, 50)],
    ),
    (
        # At 60 degrees tan 30 = 0.57735: the back is 10 * 0.57735 past the corner. The heading has turned 60
        # from up toward right: (sin 60, 0, cos 60).
        "a sixty",
        {"steps": [{"leg": 1000, "to": "back"}, {"bend": 60, "toward": "right"}, {"leg": 400}]},
        [(0, 0, 0), (0, 0, 994.2264973081037), (346.4101615137755, 0, 1194.2264973081037)],
    ),
    (
        # Rise 100 at 30: run 100 / tan 30 = 173.205, parallel afterwards.
        "offset",
        {"steps": [{"leg": 500}, {"offset": {"rise": 100, "angle": 30, "toward": "in"}}, {"leg": 400}]},
        [(0, 0, 0), (0, 0, 500), (0, 100, 673.2050807568877), (0, 100, 1073.2050807568877)],
    ),
    (
        # Rise 60 right, spread 80 in: true rise 100, so at 45 the run is 100.
        "rolling offset",
        {
            "steps": [
                {"leg": 500},
                {"offset": {"rise": 60, "spread": 80, "spread_toward": "in", "angle": 45, "toward": "right"}},
                {"leg": 400},
            ]
        },
        [(0, 0, 0), (0, 0, 500), (60, 80, 600), (60, 80, 1000)],
    ),
    (
        # Outer 30, middle 60. Corner height 60 + 73 (sec 30 - 1) = 60 + 73 * 0.15470053837925168 =
        # 71.29313930168538; each slope runs 71.29313930168538 / tan 30 = 123.48333940501574.
        "saddle set of three",
        {
            "steps": [
                {"leg": 500},
                {"saddle_set": {"bends": 3, "rise": 60, "angle": 30, "toward": "left"}},
                {"leg": 400},
            ]
        },
        [
            (0, 0, 0),
            (0, 0, 500),
            (-71.29313930168538, 0, 623.4833394050157),
            (0, 0, 746.9666788100315),
            (0, 0, 1146.9666788100315),
        ],
    ),
    (
        # The same measured to its middle: the middle at 500, the outer corners 123.483 before and after.
        "saddle set to its middle",
        {
            "steps": [
                {"leg": 500},
                {
                    "saddle_set": {
                        "bends": 3,
                        "rise": 60,
                        "angle": 30,
                        "toward": "left",
                        "measured_to": "middle",
                    }
                },
                {"leg": 400},
            ]
        },
        [
            (0, 0, 0),
            (0, 0, 376.51666059498424),
            (-71.29313930168538, 0, 500),
            (0, 0, 623.4833394050157),
            (0, 0, 900),
        ],
    ),
    (
        # Two 45 offsets back to back, 200 between the inner corners; rise 100 runs 100.
        "saddle set of four",
        {
            "heading": "right",
            "steps": [
                {"leg": 500},
                {"saddle_set": {"bends": 4, "rise": 100, "angle": 45, "width": 200, "toward": "up"}},
                {"leg": 400},
            ],
        },
        [(0, 0, 0), (500, 0, 0), (600, 0, 100), (800, 0, 100), (900, 0, 0), (1300, 0, 0)],
    ),
    (
        # A kick of rise 100 at 30: its leg is 200 long and ends the route.
        "kick",
        {
            "steps": [
                {"leg": 500, "to": "back"},
                {"bend": 90, "toward": "right"},
                {"leg": 700},
                {"kick": {"rise": 100, "angle": 30, "toward": "in"}},
            ]
        },
        [(0, 0, 0), (0, 0, 490), (700, 0, 490), (700 + 173.20508075688772, 100, 490)],
    ),
    (
        # What follows a kick stands where its leg ends.
        "bend after a kick",
        {
            "steps": [
                {"leg": 500},
                {"kick": {"rise": 150, "angle": 30, "toward": "right"}},
                {"bend": 30, "toward": "up"},
                {"leg": 400},
            ]
        },
        [(0, 0, 0), (0, 0, 500), (150, 0, 759.8076211353316), (150, 0, 1159.8076211353316)],
    ),
    (
        "box set",
        {
            "steps": [
                {"leg": 60},
                {"box_set": {"rise": 20, "angle": 15, "toward": "in"}},
                {"leg": 400},
            ]
        },
        [(0, 0, 0), (0, 0, 60), (0, 20, 60 + 74.64101615137755), (0, 20, 534.6410161513776)],
    ),
]


@pytest.mark.parametrize(("route", "corners"), [c[1:] for c in BY_HAND], ids=[c[0] for c in BY_HAND])
def test_steps_worked_by_hand_come_out_so_in_the_engine_and_in_the_second_walker(
    route: dict[str, Any], corners: list[tuple[float, float, float]]
) -> None:
    plan = planned(route)
    for found in (plan.route.points, walker.walk(route, D, R)):
        assert len(found) == len(corners)
        for (x, y, z), wanted in zip(found, corners, strict=True):
            assert (x, y, z) == pytest.approx(wanted, abs=SAME_POINT)


def test_the_arc_of_a_saddle_set_tops_out_at_its_rise_when_it_is_sampled() -> None:
    corners = planned(BY_HAND[7][1]).route.points
    peak = corners[2]
    # Walk the middle arc in a thousand steps: it begins one tangent before the corner, 73 tan 30, on the
    # rising slope.
    t = 73.0 * math.tan(math.radians(30.0))
    x, z, heading = (
        peak[0] + t * math.sin(math.radians(30.0)),
        peak[2] - t * math.cos(math.radians(30.0)),
        30.0,
    )
    top = 0.0
    steps = 1000
    chord = 2 * 73.0 * math.sin(math.radians(60.0 / steps) / 2)
    for _ in range(steps):
        heading -= 60.0 / steps / 2
        x -= chord * math.sin(math.radians(heading))
        z += chord * math.cos(math.radians(heading))
        heading -= 60.0 / steps / 2
        top = max(top, -x)
    assert top == pytest.approx(60.0, abs=SAME_POINT)


REFUSED: list[tuple[str, dict[str, Any]]] = [
    ("toward along the heading", {"steps": [{"leg": 500}, {"bend": 90, "toward": "up"}, {"leg": 500}]}),
    ("toward against the heading", {"steps": [{"leg": 500}, {"bend": 90, "toward": "down"}, {"leg": 500}]}),
    (
        "two turns with no leg between",
        {
            "steps": [{"leg": 500}, {"bend": 90, "toward": "in"}, {"bend": 90, "toward": "up"}, {"leg": 500}],
        },
    ),
    ("a turn at the end", {"steps": [{"leg": 500}, {"bend": 90, "toward": "in"}]}),
    ("a turn at the start", {"steps": [{"bend": 90, "toward": "in"}, {"leg": 500}]}),
    ("back at the end", {"steps": [{"leg": 500}, {"bend": 90, "toward": "in"}, {"leg": 500, "to": "back"}]}),
    (
        "inside at the start",
        {"steps": [{"leg": 500, "from": "inside"}, {"bend": 90, "toward": "in"}, {"leg": 500}]},
    ),
    ("wall at the end", {"steps": [{"leg": 500}, {"bend": 90, "toward": "in"}, {"leg": 500, "to": "wall"}]}),
    ("face at a corner", {"steps": [{"leg": 500, "to": "face"}, {"bend": 90, "toward": "in"}, {"leg": 500}]}),
    (
        "wall at a feature",
        {
            "steps": [
                {"leg": 500, "to": "wall"},
                {"offset": {"rise": 100, "angle": 30, "toward": "in"}},
                {"leg": 500},
            ],
        },
    ),
    (
        "a leg after a kick",
        {
            "steps": [{"leg": 500}, {"kick": {"rise": 150, "angle": 30, "toward": "in"}}, {"leg": 500}],
        },
    ),
    (
        "spread without its side",
        {
            "steps": [
                {"leg": 500},
                {"offset": {"rise": 100, "spread": 20, "angle": 30, "toward": "in"}},
                {"leg": 500},
            ],
        },
    ),
    (
        "spread along the rise",
        {
            "steps": [
                {"leg": 500},
                {"offset": {"rise": 100, "spread": 20, "spread_toward": "in", "angle": 30, "toward": "in"}},
                {"leg": 500},
            ],
        },
    ),
    (
        "an outer angle of a right angle",
        {
            "steps": [
                {"leg": 500},
                {"saddle_set": {"bends": 3, "rise": 100, "angle": 90, "toward": "in"}},
                {"leg": 500},
            ],
        },
    ),
    (
        "back at a saddle set measured to its middle",
        {
            "steps": [
                {"leg": 900, "to": "back"},
                {
                    "saddle_set": {
                        "bends": 3,
                        "rise": 60,
                        "angle": 30,
                        "toward": "in",
                        "measured_to": "middle",
                    }
                },
                {"leg": 900},
            ],
        },
    ),
    (
        "from the back of a saddle set measured to its middle",
        {
            "steps": [
                {"leg": 900},
                {
                    "saddle_set": {
                        "bends": 3,
                        "rise": 60,
                        "angle": 30,
                        "toward": "in",
                        "measured_to": "middle",
                    }
                },
                {"leg": 900, "from": "back"},
            ],
        },
    ),
    (
        "a saddle set of four without its width",
        {
            "steps": [
                {"leg": 500},
                {"saddle_set": {"bends": 4, "rise": 100, "angle": 45, "toward": "in"}},
                {"leg": 500},
            ],
        },
    ),
    (
        "a saddle set of three with a width",
        {
            "steps": [
                {"leg": 500},
                {"saddle_set": {"bends": 3, "rise": 100, "angle": 45, "width": 90, "toward": "in"}},
                {"leg": 500},
            ],
        },
    ),
]


@pytest.mark.parametrize("route", [r[1] for r in REFUSED], ids=[r[0] for r in REFUSED])
def test_steps_that_cannot_be_walked_are_refused_at_their_place(route: dict[str, Any]) -> None:
    with pytest.raises(bendcore.SpecProblem) as refused:
        planned(route)
    assert refused.value.problems
    for problem in refused.value.problems:
        told = problem.to_dict()
        assert told["where"].startswith("route.steps[")
        assert told["code"]
        assert told["text"]


def by_points(points: list[list[float]], radius: float = R, **more: Any) -> dict[str, Any]:
    return {
        "conduit": {"outside_diameter": D, "stock_length": 3750.0},
        "former": {"centreline_radius": radius},
        "route": {"points": points},
        "joints": "none",
    } | more


def codes(spec: dict[str, Any]) -> list[str]:
    with pytest.raises(bendcore.SpecProblem) as refused:
        bendcore.plan(spec)
    return [p.to_dict()["code"] for p in refused.value.problems]


def test_a_straight_short_by_less_than_a_millionth_counts_as_none_and_by_more_is_an_overlap() -> None:
    # A right angle of radius 73 wants 73 of each leg.
    (stick,) = bendcore.plan(by_points([[0, 0, 0], [0, 0, 73 - 0.8e-6], [500, 0, 73 - 0.8e-6]])).to_dict()[
        "sticks"
    ]
    assert stick["bends"][0]["begin"] == 0.0
    assert len(codes(by_points([[0, 0, 0], [0, 0, 73 - 1.2e-6], [500, 0, 73 - 1.2e-6]]))) == 1


def test_points_within_a_millionth_are_one_point_and_farther_apart_are_two() -> None:
    plan = bendcore.plan(by_points([[0, 0, 0], [0, 0, 500], [0.8e-6, 0, 500], [500, 0, 500]])).to_dict()
    assert len(plan["sticks"][0]["bends"]) == 1
    assert [(f["level"], f["where"]) for f in plan["findings"]] == [("note", "route.points[2]")]
    # 1.2e-6 apart they are two points, with two turns of which the second leaves no room for the first: up,
    # along the frame's x for a hair, then in.
    assert codes(by_points([[0, 0, 0], [0, 0, 500], [1.2e-6, 0, 500], [1.2e-6, 500, 500]]))


@pytest.mark.parametrize(("turn", "corners"), [(0.9e-4, 0), (1.1e-4, 1)])
def test_a_turn_below_a_ten_thousandth_of_a_degree_is_no_corner(turn: float, corners: int) -> None:
    aside = 1000.0 * math.tan(math.radians(turn))
    plan = bendcore.plan(by_points([[0, 0, 0], [0, 0, 1000], [aside, 0, 2000]]))
    assert isinstance(plan, bendcore.Plan)
    assert len(plan.route.corners) == corners


def test_a_turn_above_179_9999_degrees_is_a_reversal_and_a_lesser_one_is_judged_by_its_room() -> None:
    beyond, within = (1000.0 * math.tan(math.radians(half)) for half in (0.9e-4, 1.1e-4))
    (code,) = codes(by_points([[0, 0, 0], [0, 0, 1000], [beyond, 0, 0]]))
    assert code == "reversal"
    assert set(codes(by_points([[0, 0, 0], [0, 0, 1000], [within, 0, 0]]))) == {"overlap"}
    assert codes(by_points([[0, 0, 0], [0, 0, 1000], [0, 0, 500]])) == ["reversal"]


def test_a_radius_that_leaves_no_throat_is_refused() -> None:
    points = [[0, 0, 0], [0, 0, 500], [500, 0, 500]]
    assert len(codes(by_points(points, radius=10.0))) == 1
    assert isinstance(bendcore.plan(by_points(points, radius=10.000001)), bendcore.Plan)


@pytest.mark.parametrize("points", [[], [[0, 0, 0]], [[5, 5, 5], [5, 5, 5]], [[0, 0, 0], [0, 0, 1e-7]]])
def test_a_route_without_length_is_refused(points: list[list[float]]) -> None:
    assert len(codes(by_points(points))) == 1


def test_an_untold_allowance_is_null_counts_nothing_and_is_warned_of() -> None:
    ends = {"start": {"kind": "spout"}, "finish": {"kind": "coupler", "allowance": 16}}
    plan = bendcore.plan(by_points([[0, 0, 0], [0, 0, 500]], ends=ends)).to_dict()
    (stick,) = plan["sticks"]
    assert stick["start"] == {"kind": "spout", "allowance": None}
    assert stick["finish"] == {"kind": "coupler", "allowance": 16.0}
    assert stick["cut_length"] == 516.0
    assert [(f["level"], f["where"]) for f in plan["findings"]] == [("warn", "ends.start")]
