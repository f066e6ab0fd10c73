"""Importing the engine is cheap and brings nothing along: it is pure standard library, and little of that."""

import json
import subprocess
import sys
from pathlib import Path

import pytest
from worked import LEAST, steps

ROOT = Path(__file__).parents[2]

HEAVY = [
    "statistics",
    "difflib",
    "fractions",
    "decimal",
    "numpy",
    "random",
    "hashlib",
    "logging",
    "asyncio",
    "argparse",
    "subprocess",
    "xml",
    "http",
    "socket",
    "sqlite3",
    "bendcore.drawing",
]
"""What costs more to import than the engine itself, or has no business in it."""


def loaded_by(code: str) -> set[str]:
    """The modules that a piece of code adds to those of a fresh interpreter."""
    told = subprocess.run(
        [
            sys.executable,
            "-c",
            f"import sys; before = set(sys.modules)\n{code}\nprint(*(set(sys.modules) - before))",
        ],
        capture_output=True,
        text=True,
        cwd=ROOT,
        timeout=60,
        check=True,
    )
    return set(told.stdout.split())


@pytest.fixture(scope="module")
def imported() -> set[str]:
    return loaded_by("import bendcore")


def test_the_engine_imports_no_third_party_module(imported: set[str]) -> None:
    assert "bendcore.planner" in imported
    strangers = {
        name for name in imported if name.partition(".")[0] not in {*sys.stdlib_module_names, "bendcore"}
    }
    assert strangers == set()


@pytest.mark.parametrize("module", HEAVY)
def test_importing_the_engine_leaves_heavy_modules_out(imported: set[str], module: str) -> None:
    assert module not in imported


def test_planning_a_run_without_calibration_leaves_them_out_too() -> None:
    spec = steps({"leg": 500}, {"offset": {"rise": 100, "angle": 30, "toward": "in"}}, {"leg": 400})
    loaded = loaded_by(f"import json, bendcore; bendcore.plan(json.loads({json.dumps(spec)!r})).to_dict()")
    assert "bendcore.planner" in loaded
    assert loaded & set(HEAVY) == set()


def test_importing_the_engine_reads_no_catalogue_and_no_setting() -> None:
    # The tables are read when they are first asked for.
    code = (
        "import builtins, io, os\n"
        "kept, opened = builtins.open, []\n"
        "builtins.open = io.open = lambda *a, **k: (opened.append(str(a[0])), kept(*a, **k))[1]\n"
        "import bendcore\n"
        "assert not [name for name in opened if name.endswith('.csv')], opened\n"
    )
    assert "bendcore" in loaded_by(code)


def test_the_engine_offers_its_names_at_its_door() -> None:
    import bendcore

    assert set(bendcore.__all__) >= {"plan", "read", "read_json", "Plan", "Bank", "RunSpec", "SpecProblem"}
    assert all(hasattr(bendcore, name) for name in bendcore.__all__)
    assert bendcore.plan(LEAST)
