"""The benchmark itself runs, at a size that proves nothing about speed, and plans what it says it plans."""

import json
import random
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

SCRIPT = Path(__file__).parent / "bench_plan.py"


def test_the_benchmark_runs_and_tells_every_figure() -> None:
    done = subprocess.run(
        [sys.executable, str(SCRIPT), "--routes", "5", "--passes", "1", "--json"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    figures = json.loads(done.stdout)
    assert set(figures["five_corners_per_second"]) == {"points", "steps", "points, one stick"}
    assert all(rate > 0 for rate in figures["five_corners_per_second"].values())
    assert [row["corners"] for row in figures["linearity_us_per_corner"]] == [5, 50, 100, 200, 500]
    assert figures["import"]["clock_with_start_up_ms"] > 0


@pytest.fixture
def bench() -> ModuleType:
    import importlib.util

    spec = importlib.util.spec_from_file_location("bench_plan", SCRIPT)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_its_runs_have_five_corners_and_all_differ(bench: ModuleType) -> None:
    rng = random.Random(1)
    specs = [bench.spec_of({"points": bench.by_points(rng, 5)}, rng) for _ in range(20)]
    specs += [bench.spec_of(bench.by_steps(rng), rng) for _ in range(20)]
    plans = [bench.bendcore.plan(spec) for spec in specs]
    assert {len(plan.route.corners) for plan in plans} == {5}
    assert len({plan.developed_length for plan in plans}) == len(plans)


def test_its_kernel_paths_are_as_long_as_the_plans(bench: ModuleType) -> None:
    pytest.importorskip("OCP.gp", reason="needs cadquery-ocp-novtk, the bindings of Open CASCADE")
    build = bench.kernel_builder()
    rng = random.Random(2)
    for _ in range(5):
        points = bench.by_points(rng, 5)
        plan = bench.bendcore.plan(bench.spec_of({"points": points}, rng, joints="none", ends={}))
        assert build(points) == pytest.approx(
            plan.developed_length, abs=1e-5
        )  # mm; the kernel sums a whole wire
