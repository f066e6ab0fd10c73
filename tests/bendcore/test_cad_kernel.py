"""Plans against a CAD kernel (Open CASCADE): it fillets the same polylines, and its lengths and points must
agree."""

import json
import math
import random
from dataclasses import dataclass
from typing import Any

import pytest
from independent import machine, routes, walker
from independent.space import Vector, add, along, cross, distance, square_part, turned, unit

import bendcore

gp = pytest.importorskip("OCP.gp", reason="needs cadquery-ocp-novtk, the bindings of Open CASCADE")

from OCP.BRepAdaptor import BRepAdaptor_Curve  # noqa: E402
from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeWire  # noqa: E402
from OCP.ChFi2d import ChFi2d_FilletAPI  # noqa: E402
from OCP.GCPnts import GCPnts_AbscissaPoint  # noqa: E402
from OCP.TopoDS import TopoDS_Edge  # noqa: E402

# mm. The kernel's own confusion tolerance is 1e-7 mm a point; at steep fillets of long legs it and we round a
# little more.
KERNEL_AGREES_WITHIN = 1e-6
# mm. The kernel's confusion: nearer points are one to it, and it makes no edge between them.
KERNEL_SAME_POINT = 1e-7


@dataclass(frozen=True)
class Fillet:
    begin: Vector
    finish: Vector
    arc: float
    begins_at: float  # along the wire


@dataclass(frozen=True)
class FilletedPath:
    length: float
    fillets: tuple[Fillet, ...]


def _ends(edge: Any) -> tuple[Vector, Vector, float]:
    curve = BRepAdaptor_Curve(edge)
    a, b = curve.Value(curve.FirstParameter()), curve.Value(curve.LastParameter())
    return (a.X(), a.Y(), a.Z()), (b.X(), b.Y(), b.Z()), GCPnts_AbscissaPoint.Length_s(curve)


def filleted(points: list[Vector], radius: float) -> FilletedPath:
    """The polyline with each corner filleted by the kernel in the corner's own plane, made one wire and
    measured.

    Each corner is filleted between its two whole legs, and the straights are drawn between the fillets
    afterwards: the kernel fillets no corner whose leg has been used up, and bends may touch.
    """
    places = [gp.gp_Pnt(*p) for p in points]
    fillets = []
    wire = BRepBuilderAPI_MakeWire()
    at, straight_from = 0.0, points[0]

    def straight_to(end: Vector) -> None:
        nonlocal at
        if distance(straight_from, end) > KERNEL_SAME_POINT:
            straight = BRepBuilderAPI_MakeEdge(gp.gp_Pnt(*straight_from), gp.gp_Pnt(*end)).Edge()
            wire.Add(straight)
            at += _ends(straight)[2]

    for i, corner in enumerate(places[1:-1]):
        before = BRepBuilderAPI_MakeEdge(places[i], corner).Edge()
        after = BRepBuilderAPI_MakeEdge(corner, places[i + 2]).Edge()
        normal = gp.gp_Vec(places[i], corner).Crossed(gp.gp_Vec(corner, places[i + 2]))
        maker = ChFi2d_FilletAPI(before, after, gp.gp_Pln(corner, gp.gp_Dir(normal)))
        assert maker.Perform(radius)
        arc = maker.Result(corner, TopoDS_Edge(), TopoDS_Edge())
        a, b, arc_length = _ends(arc)
        if distance(a, straight_from) > distance(b, straight_from):  # the kernel may run an arc either way
            a, b = b, a
        straight_to(a)
        wire.Add(arc)
        fillets.append(Fillet(a, b, arc_length, at))
        at, straight_from = at + arc_length, b
    straight_to(points[-1])
    assert wire.IsDone()
    return FilletedPath(at, tuple(fillets))


def turned_route(angles: list[float], radius: float, straights: list[float], seed: int) -> list[Vector]:
    """Corners of the given angles, each rolled at random, with the given straights left between the bends."""
    rng = random.Random(seed)
    at: Vector = (rng.uniform(-300, 300), rng.uniform(-300, 300), rng.uniform(0, 300))
    heading = routes.any_direction(rng)
    points = [at]
    before = 0.0
    for angle, straight in zip(angles, straights, strict=False):
        t = routes.tangent(radius, angle)
        at = along(at, heading, before + straight + t)
        points.append(at)
        way = unit(square_part(routes.any_direction(rng), heading))
        heading = unit(turned(heading, cross(heading, way), angle))
        before = t
    return [*points, along(at, heading, before + straights[-1])]


D, R = 20.0, 73.0
BY_POINTS: list[tuple[str, list[Vector], float]] = [
    ("L", [(0, 0, 0), (0, 0, 1200), (900, 0, 1200)], R),
    (
        "three square corners",
        [(0, 0, 0), (0, 0, 1200), (900, 0, 1200), (900, 700, 1200), (900, 700, 1900)],
        R,
    ),
    ("U", [(0, 0, 0), (0, 0, 700), (400, 0, 700), (400, 0, 0)], R),
    ("Z", [(0, 0, 0), (0, 0, 700), (400, 0, 700), (400, 0, 1400)], 101.6),
    ("offset of 30 by points", [(0, 0, 0), (0, 0, 600), (100, 0, 773.2050807568877), (100, 0, 1500)], R),
    ("not square", [(3, -7, 11), (512, 44, 903), (1410, 777, 1207), (1300, 1502, 411), (-208, 1900, 640)], R),
    ("far from the origin", [(8e5, -3e5, 2e5), (8e5, -3e5, 201200), (800900, -3e5, 201200)], R),
    ("long legs", [(0, 0, 0), (0, 0, 90000), (70000, 0, 90000), (70000, 123456.7, 80000)], 914.4),
    ("bends that touch", [(0, 0, 0), (0, 0, 500), (146, 0, 500), (146, 146, 500), (146, 146, 1000)], R),
    *(
        (f"one bend of {angle}", turned_route([angle], R, [333.3, 441.7], seed), R)
        for seed, angle in enumerate(
            (5.0, 11.25, 22.5, 30.0, 45.0, 60.0, 77.7, 90.0, 111.1, 135.0, 150.0, 170.0)
        )
    ),
    *(
        (
            f"shallow and steep {seed}",
            turned_route(
                [5.0, 170.0, 12.5, 145.0, 90.0, 33.3],
                146.05,
                [210.0, 0.5, 17.0, 800.0, 61.2, 0.0, 99.9],
                seed,
            ),
            146.05,
        )
        for seed in range(5)
    ),
    (
        "forty corners",
        turned_route([5.0 + 165.0 * i / 39 for i in range(40)], 60.0, [20.0 + 7 * i for i in range(41)], 7),
        60.0,
    ),
]


def feature(*steps: dict[str, Any], heading: str = "up") -> dict[str, Any]:
    return {"heading": heading, "steps": list(steps)}


BY_STEPS: list[tuple[str, dict[str, Any]]] = [
    ("offset", feature({"leg": 600}, {"offset": {"rise": 150, "angle": 30, "toward": "in"}}, {"leg": 700})),
    (
        "steep offset",
        feature({"leg": 600}, {"offset": {"rise": 180, "angle": 75, "toward": "left"}}, {"leg": 700}),
    ),
    (
        "shallow offset",
        feature({"leg": 600}, {"offset": {"rise": 21, "angle": 5, "toward": "left"}}, {"leg": 700}),
    ),
    (
        "rolling offset",
        feature(
            {"leg": 600},
            {"offset": {"rise": 110, "spread": 70, "spread_toward": "in", "angle": 45, "toward": "right"}},
            {"leg": 700},
        ),
    ),
    (
        "saddle set of three",
        feature(
            {"leg": 800},
            {"saddle_set": {"bends": 3, "rise": 60, "angle": 22.5, "toward": "out"}},
            {"leg": 800},
        ),
    ),
    (
        "saddle set of three to its middle",
        feature(
            {"leg": 900},
            {"saddle_set": {"bends": 3, "rise": 77, "angle": 30, "toward": "out", "measured_to": "middle"}},
            {"leg": 900},
        ),
    ),
    (
        "saddle set of four",
        feature(
            {"leg": 800},
            {"saddle_set": {"bends": 4, "rise": 90, "angle": 45, "width": 260, "toward": "up"}},
            {"leg": 800},
            heading="east",
        ),
    ),
    (
        "kick after a right angle",
        feature(
            {"leg": 900, "to": "back"},
            {"bend": 90, "toward": "right"},
            {"leg": 700, "from": "back"},
            {"kick": {"rise": 120, "angle": 20, "toward": "in"}},
        ),
    ),
    (
        "everything",
        feature(
            {"leg": 1210, "to": "back"},
            {"bend": 90, "toward": "right"},
            {"leg": 600},
            {"offset": {"rise": 50, "angle": 30, "toward": "in"}},
            {"leg": 800, "to": "corner"},
            {"bend": 45, "toward": "up"},
            {"leg": 700, "to": "inside"},
            {"saddle_set": {"bends": 3, "rise": 60, "angle": 22.5, "toward": "left"}},
            {"leg": 600, "to": "wall", "standoff": 25},
            {"bend": 120, "toward": "in"},
            {"leg": 400, "to": "face"},
        ),
    ),
]


def test_there_are_at_least_thirty_routes() -> None:
    assert len(BY_POINTS) + len(BY_STEPS) >= 30


def _agrees(spec: dict[str, Any], points: list[Vector], radius: float) -> None:
    path = filleted(points, radius)
    plan = json.loads(json.dumps(bendcore.plan(spec).to_dict(), allow_nan=False))
    assert plan["developed_length"] == pytest.approx(path.length, abs=KERNEL_AGREES_WITHIN, rel=0)
    (stick,) = plan["sticks"]
    assert len(stick["bends"]) == len(path.fillets)
    made = machine.fitted(machine.make_run(plan, machine.set_line(None, radius, D)), points)
    for i, (bend, fillet) in enumerate(zip(stick["bends"], path.fillets, strict=True)):
        arc = math.radians(bend["angle"]) * bend["radius"]
        assert arc == pytest.approx(fillet.arc, abs=KERNEL_AGREES_WITHIN, rel=0)
        assert bend["begin"] == pytest.approx(fillet.begins_at, abs=KERNEL_AGREES_WITHIN, rel=0)
        assert distance(made.begins[i], fillet.begin) < KERNEL_AGREES_WITHIN
        assert distance(made.finishes[i], fillet.finish) < KERNEL_AGREES_WITHIN


@pytest.mark.parametrize(("points", "radius"), [r[1:] for r in BY_POINTS], ids=[r[0] for r in BY_POINTS])
def test_arcs_tangent_points_and_length_of_a_route_by_points_agree_with_the_kernel(
    points: list[Vector], radius: float
) -> None:
    spec = {
        "conduit": {"outside_diameter": D, "stock_length": 3750.0},
        "former": {"centreline_radius": radius},
        "route": {"points": [list(p) for p in points]},
        "joints": "none",
    }
    _agrees(spec, points, radius)


@pytest.mark.parametrize("route", [r[1] for r in BY_STEPS], ids=[r[0] for r in BY_STEPS])
def test_arcs_tangent_points_and_length_of_measured_steps_agree_with_the_kernel(
    route: dict[str, Any],
) -> None:
    spec = {
        "conduit": {"outside_diameter": D, "stock_length": 3750.0},
        "former": {"centreline_radius": R},
        "route": route,
        "joints": "none",
    }
    _agrees(spec, walker.walk(route, D, R), R)


def test_the_top_of_a_three_bend_saddle_set_stands_at_its_rise_in_the_kernel() -> None:
    route = BY_STEPS[4][1]
    plan = bendcore.plan(
        {
            "conduit": {"outside_diameter": D, "stock_length": 3750.0},
            "former": {"centreline_radius": R},
            "route": route,
            "joints": "none",
        }
    )
    points = [(float(x), float(y), float(z)) for x, y, z in plan.route.points]
    path = filleted(points, R)
    middle = path.fillets[1]
    # The arc's own top, from the kernel's circle: half-way along it.
    circle_top = _top_of(points, middle)
    assert -circle_top[1] == pytest.approx(60.0, abs=KERNEL_AGREES_WITHIN)


def _top_of(points: list[Vector], fillet: Fillet) -> Vector:
    """The middle of a fillet, built by the kernel through its two ends and the two tangents."""
    from OCP.GC import GC_MakeArcOfCircle

    heading = unit(add(points[2], (-points[1][0], -points[1][1], -points[1][2])))
    arc = GC_MakeArcOfCircle(gp.gp_Pnt(*fillet.begin), gp.gp_Vec(*heading), gp.gp_Pnt(*fillet.finish)).Value()
    middle = arc.Value((arc.FirstParameter() + arc.LastParameter()) / 2)
    return (middle.X(), middle.Y(), middle.Z())
