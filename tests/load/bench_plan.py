"""How fast runs are planned: plans per second, linearity to 500 corners, the ratio to a CAD kernel, whole
runs with bending order and least-cost joints, import time.

    python tests/load/bench_plan.py [--routes N] [--passes N] [--json]

Every route is another and is planned once; figures that are compared are measured in turn within one run,
since machines differ and are busy. One process, one thread, processor time: per core.
"""

import argparse
import itertools
import json
import math
import random
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT))


import bendcore  # noqa: E402

USUAL_ANGLES = (22.5, 30.0, 45.0, 60.0, 90.0, 90.0, 90.0)
DIRECTIONS = {
    "up": (0.0, 0.0, 1.0),
    "down": (0.0, 0.0, -1.0),
    "in": (0.0, 1.0, 0.0),
    "out": (0.0, -1.0, 0.0),
    "right": (1.0, 0.0, 0.0),
    "left": (-1.0, 0.0, 0.0),
}
SET_LINES: tuple[dict[str, Any], ...] = (
    {},
    {"set_line": {"kind": "back"}},
    {"set_line": {"kind": "arrow", "take_up": 61.5}},
)
OUTSIDE_DIAMETER, RADIUS = 20.0, 73.0
Point = list[float]


def spec_of(route: dict[str, Any], rng: random.Random, **more: Any) -> dict[str, Any]:
    return {
        "run": f"R-{rng.randrange(10**6)}",
        "conduit": {"outside_diameter": OUTSIDE_DIAMETER, "stock_length": 3750.0},
        "former": {"centreline_radius": RADIUS} | rng.choice(SET_LINES),
        "route": route,
        "ends": {
            "start": {"kind": "spout", "allowance": 12.0},
            "finish": {"kind": "coupler", "allowance": 16.0},
        },
    } | more


def by_points(rng: random.Random, corners: int, *, scale: float = 1.0) -> list[Point]:
    """Corners of usual and odd angles, in any plane, with 300 to 900 mm left straight, times a scale."""
    heading = [0.0, 0.0, 1.0]
    at = [rng.uniform(0, 5000), rng.uniform(0, 5000), 0.0]
    points = [at]
    before = 0.0
    for _ in range(corners):
        angle = rng.choice(USUAL_ANGLES) if rng.random() < 0.7 else rng.uniform(5.0, 120.0)
        tangent = RADIUS * math.tan(math.radians(angle) / 2)
        leg = before + scale * rng.uniform(300.0, 900.0) + tangent
        at = [a + leg * h for a, h in zip(at, heading, strict=True)]
        points.append(at)
        while True:
            way = [rng.gauss(0, 1) for _ in range(3)]
            if rng.random() < 0.5:
                way = list(rng.choice(list(DIRECTIONS.values())))
            along = sum(w * h for w, h in zip(way, heading, strict=True))
            way = [w - along * h for w, h in zip(way, heading, strict=True)]
            size = math.hypot(*way)
            if size > 0.2:
                break
        c, s = math.cos(math.radians(angle)), math.sin(math.radians(angle))
        heading = [c * h + s * w / size for h, w in zip(heading, way, strict=True)]
        before = tangent
    last = before + scale * rng.uniform(300.0, 900.0)
    points.append([a + last * h for a, h in zip(at, heading, strict=True)])
    return points


def by_steps(rng: random.Random) -> dict[str, Any]:
    """Five corners as measured on site: a right angle to the back, an offset, a right angle, a kick."""
    return {
        "heading": "up",
        "steps": [
            {"leg": rng.uniform(900, 1500), "to": "back"},
            {"bend": 90, "toward": rng.choice(["left", "right"])},
            {"leg": rng.uniform(600, 1200), "from": "back"},
            {
                "offset": {
                    "rise": rng.uniform(100, 220),
                    "angle": rng.choice([30, 45, rng.uniform(20, 60)]),
                    "toward": rng.choice(["in", "out", "up"]),
                }
            },
            {"leg": rng.uniform(600, 1200), "to": "wall", "standoff": rng.uniform(0, 40)},
            {"bend": 90, "toward": rng.choice(["in", "out"])},
            {"leg": rng.uniform(600, 1200), "from": "wall"},
            {"kick": {"rise": rng.uniform(90, 200), "angle": rng.uniform(15, 45), "toward": "up"}},
        ],
    }


def seconds_each(work: Callable[[Any], object], things: list[Any]) -> float:
    began = time.process_time()
    for thing in things:
        work(thing)
    return (time.process_time() - began) / len(things)


def kernel_builder() -> Callable[[list[Point]], float] | None:
    """Builds the filleted wire of some points in the CAD kernel and returns its length; None without the
    kernel."""
    try:
        from OCP.BRepAdaptor import BRepAdaptor_CompCurve
        from OCP.BRepBuilderAPI import BRepBuilderAPI_MakeEdge, BRepBuilderAPI_MakeWire
        from OCP.ChFi2d import ChFi2d_FilletAPI
        from OCP.GCPnts import GCPnts_AbscissaPoint
        from OCP.gp import gp_Dir, gp_Pln, gp_Pnt, gp_Vec
        from OCP.TopoDS import TopoDS_Edge
    except ImportError:
        return None

    def build(points: list[Point]) -> float:
        places = [gp_Pnt(*p) for p in points]
        edges = [BRepBuilderAPI_MakeEdge(a, b).Edge() for a, b in itertools.pairwise(places)]
        arcs = []
        for i, corner in enumerate(places[1:-1]):
            normal = gp_Vec(places[i], corner).Crossed(gp_Vec(corner, places[i + 2]))
            maker = ChFi2d_FilletAPI(edges[i], edges[i + 1], gp_Pln(corner, gp_Dir(normal)))
            if not maker.Perform(RADIUS):
                raise RuntimeError("the kernel could not fillet a corner")
            before, after = TopoDS_Edge(), TopoDS_Edge()
            arcs.append(maker.Result(corner, before, after))
            edges[i], edges[i + 1] = before, after
        wire = BRepBuilderAPI_MakeWire()
        for i, edge in enumerate(edges):
            wire.Add(edge)
            if i < len(arcs):
                wire.Add(arcs[i])
        return float(GCPnts_AbscissaPoint.Length_s(BRepAdaptor_CompCurve(wire.Wire())))

    return build


def measure_five_corners(routes: int, passes: int) -> dict[str, float]:
    """Plans per second of five-corner runs; each pass has routes of its own."""
    kinds: dict[str, Callable[[random.Random], dict[str, Any]]] = {
        "points": lambda rng: spec_of({"points": by_points(rng, 5)}, rng),
        "steps": lambda rng: spec_of(by_steps(rng), rng),
        "points, one stick": lambda rng: spec_of({"points": by_points(rng, 5)}, rng, joints="none"),
    }
    rates: dict[str, list[float]] = {kind: [] for kind in kinds}
    for number in range(passes + 1):  # the first warms up and does not count
        for kind, make in kinds.items():
            rng = random.Random(f"{kind} {number}")
            specs = [make(rng) for _ in range(routes)]
            rate = 1.0 / seconds_each(bendcore.plan, specs)
            if number:
                rates[kind].append(rate)
    return {kind: statistics.median(found) for kind, found in rates.items()}


def measure_linearity(passes: int) -> list[dict[str, float]]:
    """Microseconds a corner for longer and longer runs, as one stick and with joints found."""
    table = []
    for corners in (5, 50, 100, 200, 500):
        count = max(8, 2000 // corners)
        row: dict[str, float] = {"corners": corners}
        for key, more in (("one_stick", {"joints": "none"}), ("joints_found", {})):
            found = []
            for number in range(passes):
                rng = random.Random(f"{corners} {key} {number}")
                specs = [spec_of({"points": by_points(rng, corners)}, rng, **more) for _ in range(count)]
                found.append(1e6 * seconds_each(bendcore.plan, specs) / corners)
            row[key] = statistics.median(found)
        table.append(row)
    return table


def measure_kernel(routes: int, passes: int) -> dict[str, float] | None:
    """The engine and the kernel in turn on the same five-corner routes."""
    build = kernel_builder()
    if build is None:
        return None
    ours, theirs = [], []
    for number in range(passes + 1):
        rng = random.Random(f"kernel {number}")
        specs = [spec_of({"points": by_points(rng, 5)}, rng, joints="none") for _ in range(routes)]
        points = [spec["route"]["points"] for spec in specs]
        pair = (1.0 / seconds_each(bendcore.plan, specs), 1.0 / seconds_each(build, points))
        if number:
            ours.append(pair[0])
            theirs.append(pair[1])
    engine, kernel = statistics.median(ours), statistics.median(theirs)
    return {"engine": engine, "kernel": kernel, "ratio": engine / kernel}


COSTS = {"stick": 3.0, "metre": 4.0, "cut": 1.5, "thread": 2.5, "coupler": 1.0, "running_coupler": 4.5}


def whole(spec: dict[str, Any]) -> dict[str, Any]:
    """The run with all that makes it whole: costs of joints, threads, a bender's body, rules and cables."""
    return spec | {
        "joints": {"clearance": 110.0, "min_piece": 200.0, "long_thread": 46.0, "costs": COSTS},
        "bender": bench_machine(),
        "rules": "uk",
        "cables": [{"csa_mm2": 2.5, "count": 3}],
    }


def bench_machine() -> dict[str, Any]:
    """The bench machine of the engine's catalogue."""
    from bendcore.catalogue import bender_shapes

    return bender_shapes()["bench machine"]


def six_bends_in_three_sticks(count: int) -> list[dict[str, Any]]:
    """Runs of six corners that come to three sticks."""
    found: list[dict[str, Any]] = []
    rng = random.Random("six bends, three sticks")
    while len(found) < count:
        spec = spec_of({"points": by_points(rng, 6, scale=1.8)}, rng)
        plain = bendcore.plan(spec | {"joints": {"clearance": 110.0, "min_piece": 200.0}})
        if isinstance(plain, bendcore.Plan) and len(plain.sticks) == 3:
            found.append(whole(spec))
    return found


def measure_whole_runs(count: int) -> dict[str, float]:
    """Milliseconds a plan with order, swept clearance, costs, rules and cables; how many have an order."""
    specs = six_bends_in_three_sticks(count)
    bendcore.plan(specs[0])
    times = [1e3 * seconds_each(bendcore.plan, [spec]) for spec in specs]
    ordered = sum(
        all(bend.order is not None for stick in plan.sticks for bend in stick.bends)
        for plan in map(bendcore.plan, specs)
        if isinstance(plan, bendcore.Plan)
    )
    without = [1e3 * seconds_each(bendcore.plan, [spec_without(spec, "bender")]) for spec in specs]
    return {
        "median_ms": statistics.median(times),
        "worst_ms": max(times),
        "without_bender_median_ms": statistics.median(without),
        "runs": count,
        "with_an_order": ordered,
    }


def spec_without(spec: dict[str, Any], key: str) -> dict[str, Any]:
    return {name: value for name, value in spec.items() if name != key}


def measure_joint_growth(passes: int) -> list[dict[str, float]]:
    """Milliseconds a plan for longer and longer runs with least-cost joints, fitted from the start and from
    both ends."""
    table = []
    for corners in (25, 50, 100, 200, 500):
        row: dict[str, float] = {"corners": corners}
        for key, fit_from in (("from_start_ms", "start"), ("from_both_ms", "both")):
            found = []
            for number in range(passes):
                rng = random.Random(f"growth {corners} {number}")
                spec = spec_of({"points": by_points(rng, corners)}, rng)
                joints = {"clearance": 110.0, "min_piece": 200.0, "long_thread": 46.0, "costs": COSTS}
                found.append(
                    1e3 * seconds_each(bendcore.plan, [spec | {"joints": joints, "fit_from": fit_from}])
                )
            row[key] = statistics.median(found)
        table.append(row)
    return table


def measure_import(times: int) -> dict[str, float]:
    """Milliseconds of a fresh interpreter that imports the engine, and of one that does nothing, both by the
    clock and by the processor."""

    def processor() -> float:
        used = resource.getrusage(resource.RUSAGE_CHILDREN)
        return used.ru_utime + used.ru_stime

    def once(code: str) -> tuple[float, float]:
        began, used = time.perf_counter(), processor()
        subprocess.run([sys.executable, "-c", code], cwd=ROOT, check=True)
        return 1e3 * (time.perf_counter() - began), 1e3 * (processor() - used)

    once("import bendcore")  # the first may compile
    engine, bare = zip(*[(once("import bendcore"), once("pass")) for _ in range(times)], strict=True)
    figures: dict[str, float] = {}
    for index, how in enumerate(("clock", "processor")):
        raw = statistics.median(each[index] for each in engine)
        start = statistics.median(each[index] for each in bare)
        figures |= {f"{how}_with_start_up_ms": raw, f"{how}_start_up_ms": start, f"{how}_ms": raw - start}
    return figures


def main(arguments: list[str] | None = None) -> dict[str, Any]:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--routes", type=int, default=500, help="routes a pass (default 500)")
    parser.add_argument("--passes", type=int, default=5, help="passes; medians are told (default 5)")
    parser.add_argument("--json", action="store_true", help="write the figures as JSON")
    asked = parser.parse_args(arguments)
    figures = {
        "five_corners_per_second": measure_five_corners(asked.routes, asked.passes),
        "linearity_us_per_corner": measure_linearity(asked.passes),
        "kernel": measure_kernel(max(10, asked.routes // 5), asked.passes),
        "whole_runs": measure_whole_runs(max(10, asked.routes // 5)),
        "joint_growth": measure_joint_growth(asked.passes),
        "import": measure_import(max(3, asked.passes)),
    }
    if asked.json:
        print(json.dumps(figures, indent=2))
        return figures
    print("Plans per second and core, five corners, from the dict, every route another (medians):")
    for kind, rate in figures["five_corners_per_second"].items():
        print(f"  {kind:20} {rate:9,.0f}")
    print("Microseconds a corner:  corners   one stick   joints found")
    for row in figures["linearity_us_per_corner"]:
        print(f"  {row['corners']:28.0f} {row['one_stick']:11.1f} {row['joints_found']:14.1f}")
    kernel = figures["kernel"]
    if kernel is None:
        print("CAD kernel: not installed (cadquery-ocp-novtk)")
    else:
        print(
            f"The same five-corner paths filleted in the CAD kernel: {kernel['kernel']:,.0f} a second, "
            f"the engine {kernel['engine']:,.0f}: {kernel['ratio']:.1f} times as many"
        )
    runs = figures["whole_runs"]
    print(
        f"Six bends in three sticks with order, clearance, costs, rules: median {runs['median_ms']:.1f} ms, "
        f"worst {runs['worst_ms']:.1f} ms of {runs['runs']:.0f} runs, {runs['with_an_order']:.0f} of which "
        f"have an order; without the bender {runs['without_bender_median_ms']:.1f} ms"
    )
    print("Milliseconds a plan, joints at least cost:  corners   from start   from both ends")
    for row in figures["joint_growth"]:
        print(f"  {row['corners']:48.0f} {row['from_start_ms']:12.1f} {row['from_both_ms']:16.1f}")
    imported = figures["import"]
    for how in ("clock", "processor"):
        print(
            f"import bendcore, by the {how}: {imported[f'{how}_ms']:.0f} ms; with the interpreter's own "
            f"start ({imported[f'{how}_start_up_ms']:.0f} ms) {imported[f'{how}_with_start_up_ms']:.0f} ms"
        )
    return figures


if __name__ == "__main__":
    main()
