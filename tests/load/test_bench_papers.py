"""The benchmark itself runs, at a size that proves nothing about speed."""

import json
import subprocess
import sys
from pathlib import Path

SCRIPT = Path(__file__).parent / "bench_papers.py"


def test_the_benchmark_draws_every_paper_it_tells_of() -> None:
    done = subprocess.run(
        [sys.executable, str(SCRIPT), "--cards", "6", "--json"], capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    figures = json.loads(done.stdout)
    assert set(figures) == {"bend-cards", "labels", "cut-list", "kit-list", "take-off"}
    assert figures["bend-cards"]["sticks"] >= 6
    assert all(each["pages"] >= 1 and each["clock_s"] > 0 for each in figures.values())
