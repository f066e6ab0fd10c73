"""The benchmark of the wall chart runs, at a size that proves nothing about speed, and tells every figure."""

import json
import subprocess
import sys
from pathlib import Path

SCRIPT = Path(__file__).parent / "bench_chart.py"


def test_the_benchmark_runs_and_asks_as_many_queries_for_a_large_job_as_for_a_small_one() -> None:
    done = subprocess.run(
        [sys.executable, str(SCRIPT), "--runs", "100", "--passes", "1", "--json"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    figures = json.loads(done.stdout)
    assert figures["runs"] == 104
    assert set(figures["pages"]) == {
        "folded", "one room open", "stopped only", "by day due", "newer chart"
    }  # fmt: skip
    for name, row in figures["pages"].items():
        assert row["queries"] == row["queries_of_20_runs"], name
    assert figures["nothing_changed"]["queries"] < figures["pages"]["newer chart"]["queries"]
