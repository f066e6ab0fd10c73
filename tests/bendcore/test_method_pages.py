"""The worked examples of docs/method/: every printed figure is what the engine plans.

The figures on the pages were worked out apart from the engine, to forty digits, from the corners of each
route written out by hand. A page's ```json spec block is followed by its table: in words, as a path into the
plan, as printed."""

import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

import bendcore
from bendcore.errors import SpecProblem

PAGES = Path(__file__).parents[2] / "docs" / "method"

HALF_A_LAST_DIGIT = 0.005 + 1e-7
"""Figures are printed to 0.01 mm or 0.01°; the second part is for halves that floats put on either side."""

EXPECTED_PAGES = {
    "banks.md",
    "capacity.md",
    "fitting.md",
    "joints.md",
    "kicks.md",
    "offsets.md",
    "order.md",
    "right-angle.md",
    "roll.md",
    "rolling.md",
    "routes.md",
    "rules.md",
    "saddles.md",
    "set-lines.md",
    "springback.md",
    "supports.md",
}

_BLOCK = re.compile(
    r"^```json spec\n(?P<spec>.*?)^```\n(?P<rest>.*?)(?=^```json spec\n|\Z)", re.DOTALL | re.MULTILINE
)
_HEADING = re.compile(r"^## (.+)$", re.MULTILINE)
_ROW = re.compile(r"^\|(?P<said>[^|]*)\| `(?P<path>[^`]+)` \|(?P<printed>[^|]*)\|$", re.MULTILINE)
_TABLE_LINE = re.compile(r"^\|.*\|$", re.MULTILINE)
_PRINTED = re.compile(r"-?\d+\.\d\d")
_STEP = re.compile(r"([a-z_]+)|\[(\d+)\]")


@dataclass(frozen=True, slots=True)
class Example:
    """One worked example of a page: its spec and the rows beside it, (path into the answer, as printed)."""

    name: str
    spec: dict[str, Any]
    rows: tuple[tuple[str, str], ...]


class WrongFigure(AssertionError):
    """A printed figure is not what the engine plans."""


def examples_of(page: Path) -> list[Example]:
    """The worked examples of a page, in order, named by page and heading."""
    text = page.read_text(encoding="utf-8")
    found = []
    for block in _BLOCK.finditer(text):
        heading = _HEADING.findall(text[: block.start()])[-1]
        # the table ends where the next heading stands
        table = _HEADING.split(block["rest"])[0]
        rows = tuple((row["path"], row["printed"].strip()) for row in _ROW.finditer(table))
        lines = len(_TABLE_LINE.findall(table)) - 2  # less the heads and the rule under them
        assert rows, f"{page.name}, {heading}: no table stands beside the spec"
        assert len(rows) == lines, (
            f"{page.name}, {heading}: {lines - len(rows)} rows of the table cannot be read"
        )
        found.append(Example(f"{page.name}: {heading} ({len(found) + 1})", json.loads(block["spec"]), rows))
    return found


def answer_of(spec: dict[str, Any]) -> Any:
    """What the engine answers, as the contract writes it: a plan, the plans of a bank, or the problems."""
    try:
        return bendcore.plan(spec).to_dict()
    except SpecProblem as problem:
        return problem.to_dict()


def at_path(answer: Any, path: str) -> Any:
    """The value at a path such as `sticks[0].bends[1].roll`. Raises WrongFigure if the answer has none
    there."""
    value = answer
    for name, index in _STEP.findall(path):
        try:
            value = value[name] if name else value[int(index)]
        except (KeyError, IndexError, TypeError) as error:
            raise WrongFigure(f"the answer has nothing at {path}: {answer}") from error
    return value


def check(example: Example) -> None:
    """Raises WrongFigure for the first printed figure that the engine does not plan."""
    answer = answer_of(example.spec)
    for path, printed in example.rows:
        got = at_path(answer, path)
        if printed == "null":
            right = got is None
        elif printed.startswith("`"):
            right = got == printed.strip("`")
        else:
            assert _PRINTED.fullmatch(printed), (
                f"{example.name}: {path} is printed as {printed}, not to two decimals"
            )
            right = isinstance(got, (int, float)) and abs(got - float(printed)) <= HALF_A_LAST_DIGIT
        if not right:
            raise WrongFigure(f"{example.name}: {path} is printed as {printed}; the engine says {got!r}")


EXAMPLES = [example for page in sorted(PAGES.glob("*.md")) for example in examples_of(page)]


def test_every_page_of_the_method_has_worked_examples() -> None:
    assert {page.name for page in PAGES.glob("*.md")} == EXPECTED_PAGES
    assert {example.name.split(":")[0] for example in EXAMPLES} == EXPECTED_PAGES


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.name)
def test_every_figure_printed_on_a_method_page_is_what_the_engine_plans(example: Example) -> None:
    check(example)


@pytest.mark.parametrize("example", EXAMPLES, ids=lambda example: example.name)
def test_a_wrong_figure_on_a_method_page_is_found(example: Example) -> None:
    for index, (path, printed) in enumerate(example.rows):
        if printed == "null":
            wrong = "12.34"
        elif printed.startswith("`"):
            wrong = "`something-else`"
        else:
            wrong = f"{float(printed) + 0.02:.2f}"
        rows = (*example.rows[:index], (path, wrong), *example.rows[index + 1 :])
        with pytest.raises(WrongFigure):
            check(Example(example.name, example.spec, rows))


# -------------------------------------------------------------------------------- the contract's page

CONTRACT = PAGES.parent / "engine.md"
JSON_BLOCKS = [
    json.loads(block)
    for block in re.findall(
        r"^```json\n(.*?)^```$", CONTRACT.read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE
    )
]


def test_the_least_input_on_the_contracts_page_is_planned() -> None:
    # Up 1200, right 900, in 700 with R = 73: 2800 - 2 x 73 x 0.4292037 = 2737.336 (worked apart from the
    # engine).
    (least,) = (block for block in JSON_BLOCKS if "conduit" in block)
    answer = answer_of(least)
    assert answer["developed_length"] == pytest.approx(2737.3363, abs=1e-4)
    assert [bend["roll"] for bend in answer["sticks"][0]["bends"]] == [0.0, 90.0]


def test_the_steps_on_the_contracts_page_are_walked() -> None:
    # Corners at 1200 up (back less D/2), 600 right of it, the slope of 50 mm at 30°, 800 on, then 400 at 45°:
    # 1200 + 600 + 100 + 800 + 400 = 3100 over the corners.
    # Gains with R = 73: 0.4292037 + 2 x 0.0122996 + 0.0430290 = 0.4968319 radii, 36.268725 mm.
    (steps,) = (block for block in JSON_BLOCKS if "steps" in block)
    answer = answer_of(
        {
            "conduit": {"outside_diameter": 20.0, "stock_length": 3750.0},
            "former": {"centreline_radius": 73.0},
            "route": steps,
        }
    )
    assert answer["total_bend"] == 195.0
    assert answer["developed_length"] == pytest.approx(3100 - 36.268725, abs=1e-4)


def test_the_least_output_on_the_contracts_page_has_only_keys_that_a_plan_has() -> None:
    (least,) = (block for block in JSON_BLOCKS if "findings" in block)
    # A run of two sticks with a note, so that every part of the least output is there.
    answer = answer_of(
        {
            "conduit": {"outside_diameter": 20.0, "stock_length": 3750.0},
            "former": {"centreline_radius": 73.0},
            "route": {"points": [[0, 0, 0], [0, 0, 500], [0, 0, 1200], [3900, 0, 1200]]},
        }
    )

    def holds(told: Any, wanted: Any, path: str) -> None:
        if isinstance(wanted, dict):
            assert wanted.keys() <= told.keys(), path
            for key, value in wanted.items():
                holds(told[key], value, f"{path}.{key}")
        elif isinstance(wanted, list):
            holds(told[0], wanted[0], f"{path}[0]")

    holds(answer, least, "plan")
