"""Runs small enough to work by hand, and what the engine says to them.

Unless a test says otherwise the conduit has D = 20 and the former R = 73, so that a right angle takes exactly
73 of each leg and its back lies 10 past the corner. What recurs, worked with a 40-digit calculator from the
relations of docs/engine.md:

    angle   T = R tan(angle/2)   A = R angle        G = 2 T - A
    90      73                   114.668131856027   31.331868143973
    60      42.146569650843      76.445421237352    7.847718064334
    45      30.237590053236      57.334065928014    3.141114178458
    30      19.560291047472      38.222710618676    0.897871476268
"""

import copy
import json
from typing import Any

import pytest

import bendcore

CLOSE = 1e-9
"""mm, degrees. Hand figures are given to 12 decimals; doubles over a few metres round at 1e-12."""

LEAST: dict[str, Any] = {
    "conduit": {"outside_diameter": 20.0, "stock_length": 3750.0},
    "former": {"centreline_radius": 73.0},
    "route": {"points": [[0, 0, 0], [0, 0, 1200], [900, 0, 1200], [900, 700, 1200]]},
}
"""The least input, as the contract prints it."""

EVERYTHING: dict[str, Any] = {
    "run": "Fenwater Creamery, plant room 2",
    "conduit": {
        "outside_diameter": 20.0,
        "stock_length": 3000.0,
        "stock": [{"length": 1400.0, "threaded_ends": 1, "count": 1}],
        "joining": "threaded",
        "wall": 1.6,
    },
    "former": {"centreline_radius": 73.0, "set_line": {"kind": "arrow", "take_up": 127.0}},
    "calibration": {"k": 0.02, "c": 1.0, "sd": 0.4, "risk": 0.025, "scale": 0.5},
    "route": {
        "start": [100.0, 200.0, 300.0],
        "heading": "up",
        "standoff": 15.0,
        "steps": [
            {"leg": 1210.0, "to": "back", "from": "face"},
            {"bend": 90.0, "toward": "right"},
            {"leg": 900.0, "from": "wall", "standoff": 12.0},
            {"offset": {"rise": 60.0, "angle": 45.0, "toward": "up", "spread": 80.0, "spread_toward": "in"}},
            {"leg": 700.0},
            {
                "saddle_set": {
                    "bends": 3,
                    "rise": 60.0,
                    "angle": 30.0,
                    "toward": "up",
                    "measured_to": "middle",
                }
            },
            {"leg": 900.0},
            {"saddle_set": {"bends": 4, "rise": 60.0, "angle": 30.0, "toward": "up", "width": 300.0}},
            {"leg": 900.0, "to": "back"},
            {"box_set": {"rise": 30.0, "angle": 15.0, "toward": "in"}},
            {"leg": 400.0},
            {"fitting": {"kind": "tee", "leg_in": 40.0, "leg_out": 40.0}},
            {"leg": 500.0},
            {
                "fitting": {
                    "kind": "bought_bend",
                    "angle": 90.0,
                    "toward": "down",
                    "radius": 90.0,
                    "leg_in": 130.0,
                    "leg_out": None,
                    "draw_in": False,
                }
            },
            {"leg": 600.0},
            {"kick": {"rise": 200.0, "angle": 30.0, "toward": "in"}},
        ],
    },
    "ends": {
        "start": {"kind": "spout", "allowance": 14.0},
        "finish": {"kind": "connector", "allowance": -3.0},
    },
    "joints": {
        "clearance": 100.0,
        "min_piece": 200.0,
        "gap": 2.0,
        "costs": {"stick": 3.0, "metre": 4.0, "cut": 1.0, "thread": 2.0, "running_coupler": 4.0},
        "long_thread": 45.0,
        "union_gap": 30.0,
    },
    "bender": {
        "hold_min": 10.0,
        "swing_min": 10.0,
        "motion": "tail",
        "floor": {"normal": [0.0, 1.0, 0.0], "offset": -4000.0},
        "planes": [{"normal": [0.0, 0.0, -1.0], "offset": -5000.0}],
        "bodies": [{"min": [-250.0, -480.0, -90.0], "max": [200.0, -70.0, 90.0]}],
    },
    "cables": [{"csa_mm2": 2.5, "count": 3, "type": "solid"}],
    "rules": "uk",
    "fit_from": "both",
    "tolerance": {"angle": 1.5, "length": 3.0, "end_out": 12.0},
}
"""One of everything that is planned, for a single conduit."""


def run(**keys: Any) -> dict[str, Any]:
    """The least input with some of its keys replaced or others added."""
    return {**copy.deepcopy(LEAST), **keys}


def points(*places: list[float], **keys: Any) -> dict[str, Any]:
    """A run through places, [east, north, up] in mm."""
    return run(route={"points": list(places)}, **keys)


def steps(*rows: dict[str, Any], beside: dict[str, Any] | None = None, **keys: Any) -> dict[str, Any]:
    """A run in measured steps. beside: what stands beside them (`heading`, `start`, `standoff`)."""
    return run(route={**(beside or {}), "steps": list(rows)}, **keys)


def planned(spec: dict[str, Any]) -> dict[str, Any]:
    """The plan as a reader of its JSON has it."""
    answer: dict[str, Any] = json.loads(json.dumps(bendcore.plan(spec).to_dict(), allow_nan=False))
    return answer


def bends(plan: dict[str, Any]) -> list[dict[str, Any]]:
    """Every bend of a plan, stick by stick."""
    return [bend for stick in plan["sticks"] for bend in stick["bends"]]


def walked(spec: dict[str, Any]) -> bendcore.Plan:
    """The plan of a single conduit as a value, for its route."""
    plan = bendcore.plan(spec)
    assert isinstance(plan, bendcore.Plan)
    return plan


def refused(spec: object) -> list[dict[str, Any]]:
    """The problems of a spec that is refused, as a reader of their JSON has them."""
    with pytest.raises(bendcore.SpecProblem) as caught:
        bendcore.plan(spec)
    told: list[dict[str, Any]] = json.loads(json.dumps(caught.value.to_dict(), allow_nan=False))["problems"]
    return told


def places(problems: list[dict[str, Any]]) -> list[tuple[str, str]]:
    """Code and place of each problem."""
    return [(problem["code"], problem["where"]) for problem in problems]
