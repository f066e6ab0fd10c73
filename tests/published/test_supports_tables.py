"""Spacing of clips, held against every row as it was seen, by runs so long that only the spacing counts.

`reference_supports.csv` tells the basis and source of each row: `confirmed` was read on a public page,
`memory` was recalled and wants checking, `common-practice` is a habit or one specification, and weak."""

import csv
import math
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest
from judged_runs import Joint, Leg, Turn, clips, found, run

from bendcore.catalogue import limits
from bendcore.spec import Conduit
from bendcore.units import Mm

FOOT = 304.8
"""mm: twelve inches of 25.4, exact by definition of the international inch (1959)."""

PRINTED = 0.5
"""mm: the mm column is rounded to a whole one."""

FLOAT = 1e-6  # mm, over 100 m
Record = Callable[[str, object], None]

with (Path(__file__).parent / "reference_supports.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))

US_STRAIGHT = [row for row in ROWS if row["condition"] == "straight run with threaded couplings"]
US_GENERAL = [row for row in ROWS if row["region"] == "US" and row["condition"] == "general"]
US_END = [row for row in ROWS if row["condition"] == "from each box, cabinet, fitting or termination"]
UK_SPACING = [row for row in ROWS if row["conduit"] == "rigid metal"]
SIZES_UK = {
    "not over 16 mm": (16,),
    "over 16 to 25 mm": (20, 25),
    "over 25 to 40 mm": (32, 40),
    "over 40 mm": (50, 63),
}


def carry(record_property: Record, row: dict[str, str]) -> None:
    record_property("basis", row["basis"])
    record_property("source", row["source"])


def gaps(pack: str, length: float, way: str, conduit: Conduit | str) -> tuple[list[float], float, float]:
    """Between the clips of a straight run, and from its ends to the first and last, mm."""
    along = [clip.along for clip in clips(pack, run(Leg(length, way), conduit=conduit))]
    return [after - before for before, after in pairwise(along)], along[0], length - along[-1]


def test_the_copy_is_whole() -> None:
    assert len(ROWS) == 41
    assert all(row["basis"] and row["source"] for row in ROWS)
    assert len(US_STRAIGHT) == 20
    assert len(US_GENERAL) == len(US_END) == 3
    assert len(UK_SPACING) == 8


@pytest.mark.parametrize("row", US_STRAIGHT, ids=lambda row: f"{row['conduit']} {row['size']}")
def test_straps_on_a_straight_of_threaded_conduit_are_by_its_size(
    row: dict[str, str], record_property: Record
) -> None:
    carry(record_property, row)
    most = float(row["value_ft"]) * FOOT
    assert most == pytest.approx(float(row["value_mm"]), abs=PRINTED)
    conduit = f"{row['conduit'].lower()}-{row['size']}"
    # twelve such spacings and an end distance of 3 ft at each end hold just 13 straps; a hair more, 14
    for length, count in ((12 * most + 6 * FOOT, 13), (12 * most + 6 * FOOT + 0.1, 14)):
        between, first, last = gaps("us", length, "right", conduit)
        assert len(between) == count - 1
        assert max(between) <= most + FLOAT
        assert max(first, last) <= 3 * FOOT + FLOAT
    (note,) = found("us", run(Leg(9000), conduit=conduit), "support-spacing")
    kept = limits.spacing_us(row["conduit"].lower(), row["size"], "straight")
    assert kept is not None
    assert (kept.basis, kept.source) == (row["basis"], row["source"])
    told = note.figures["straight_mm"]
    assert told == (None if most == 10 * FOOT else pytest.approx(most))


@pytest.mark.parametrize("row", US_GENERAL, ids=lambda row: row["conduit"])
def test_straps_elsewhere_are_ten_feet_apart(row: dict[str, str], record_property: Record) -> None:
    carry(record_property, row)
    most = float(row["value_ft"]) * FOOT
    assert most == pytest.approx(float(row["value_mm"]), abs=PRINTED)
    kind = row["conduit"].lower()
    found_most = limits.spacing_us(kind, None, "general")
    assert found_most is not None
    assert found_most.most == pytest.approx(most)
    # 3 in conduit: the table of straights has 20 ft. A kick of 1 degree in the middle of 20 ft and the end
    # distances makes the run no straight one.
    radius, half = 400.0, 13 * FOOT
    facts = run(Leg(half), Turn(1), Leg(half), conduit=f"{kind}-3", radius=radius)
    along = [clip.along for clip in clips("us", facts)]
    (kick,) = facts.bends
    for before, after in pairwise(along):
        if before < kick.along < after or kind == "emt":
            assert after - before <= most + FLOAT
    assert any(before < kick.along < after for before, after in pairwise(along))


@pytest.mark.parametrize("row", US_GENERAL, ids=lambda row: row["conduit"])
def test_conduit_by_its_own_figures_has_ten_feet_all_along(row: dict[str, str]) -> None:
    most = float(row["value_ft"]) * FOOT
    length = 5 * most + 6 * FOOT
    between, _, _ = gaps("us", length, "right", Conduit(own_outside_diameter=Mm(33.0)))
    assert len(between) == 5
    assert max(between) <= most + FLOAT


@pytest.mark.parametrize("row", US_END, ids=lambda row: row["conduit"])
def test_the_first_strap_is_within_three_feet_of_a_box(row: dict[str, str], record_property: Record) -> None:
    carry(record_property, row)
    end = float(row["value_ft"]) * FOOT
    assert end == pytest.approx(float(row["value_mm"]), abs=PRINTED)
    for length in (300.0, 2 * end - 0.1, 2 * end + 0.1, 2 * end + 5 * FOOT, 60 * FOOT):
        _, first, last = gaps("us", length, "right", f"{row['conduit'].lower()}-2")
        assert max(first, last) <= end + FLOAT


@pytest.mark.parametrize("row", UK_SPACING, ids=lambda row: f"{row['size']} {row['condition']}")
def test_saddles_are_by_size_level_or_upright(row: dict[str, str], record_property: Record) -> None:
    carry(record_property, row)
    most = float(row["value_mm"])
    assert most == 1000.0 * float(row["value_m"])
    way = "up" if row["condition"] == "vertical" else "right"
    end = 300.0  # the row of the first saddle
    for size in SIZES_UK[row["size"]]:
        conduit = f"steel-{size}-heavy" if size <= 32 else f"steel-{size}"
        for length, count in ((9 * most + 2 * end, 10), (9 * most + 2 * end + 0.1, 11)):
            between, first, last = gaps("uk", length, way, conduit)
            assert len(between) == count - 1
            assert max(between) <= most + FLOAT
            assert max(first, last) <= end + FLOAT
        kept = limits.spacing_uk(Mm(float(size)), "vertical" if way == "up" else "horizontal")
        assert (kept.most, kept.basis) == (most, row["basis"])
        (note,) = found("uk", run(Leg(9000), conduit=conduit), "support-spacing")
        assert note.figures[f"{row['condition']}_mm"] == most
        assert "from memory" in note.source


def test_what_slopes_has_the_closer_spacing_of_the_level() -> None:
    between, _, _ = gaps("uk", 20_000.0, "sloping", "steel-20-heavy")
    assert max(between) <= 1750.0 + FLOAT
    assert len(between) == math.ceil((20_000.0 - 600.0) / 1750.0)


def test_the_first_saddle_is_near_the_box(record_property: Record) -> None:
    (row,) = (row for row in ROWS if row["what"] == "usual distance")
    carry(record_property, row)
    end = float(row["value_mm"])
    assert limits.spacing_uk(Mm(20.0), "end").most == end
    assert limits.spacing_uk(Mm(20.0), "end").basis == row["basis"] == "common-practice"
    for length in (500.0, 601.0, 4321.0):
        _, first, last = gaps("uk", length, "right", "steel-20-heavy")
        assert max(first, last) <= end + FLOAT


def test_a_joint_in_a_straight_does_not_end_it() -> None:
    # RMC 3 in: 20 ft by the table though a coupling stands between the straps, 10 ft were it two straights
    length = 20 * FOOT + 6 * FOOT
    facts = run(Leg(length / 2), Joint(), Leg(length / 2), conduit="rmc-3")
    assert len(clips("us", facts)) == 2
