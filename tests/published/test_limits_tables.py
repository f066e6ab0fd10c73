"""Least radii and limits of bends, held against every row as it was seen, by runs that keep and break them.

`reference_bend_radius.csv` and `reference_bend_limits.csv` tell the basis and source of each row: `confirmed`
was read on a public page, `memory` was recalled and wants checking, `common-practice` is a habit of the
trade."""

import csv
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from judged_runs import Box, Joint, Leg, Turn, found, run, told

from bendcore import catalogue
from bendcore.catalogue import cables, limits
from bendcore.spec import Conduit
from bendcore.units import Mm

HERE = Path(__file__).parent
IN = 25.4
"""mm in an inch: exact by definition of the international inch (1959)."""

A_HAIR = 0.01
"""mm, degrees: enough to be past a limit."""

Record = Callable[[str, object], None]


def rows(name: str) -> list[dict[str, str]]:
    with (HERE / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def carry(record_property: Record, row: dict[str, str]) -> None:
    record_property("basis", row["basis"])
    record_property("source", row["source"])


RADII = rows("reference_bend_radius.csv")
LIMITS = rows("reference_bend_limits.csv")
US_RADII = [row for row in RADII if row["region"] == "US"]
UK_INSIDE = [row for row in RADII if row["quantity"] == "minimum inside radius" and row["size"] != "rule"]
UK_CENTRELINE = [row for row in RADII if row["region"] == "UK" and "centreline" in row["quantity"]]


def one_bend(radius: float, conduit: Conduit | str, **others: Any) -> Any:
    return run(Leg(1500), Turn(90), Leg(1500), conduit=conduit, radius=radius, **others)


# --------------------------------------------------------------------------------------------- least radii


def test_the_copies_are_whole() -> None:
    assert len(RADII) == 39
    assert len(US_RADII) == 24
    assert len(UK_INSIDE) == len(UK_CENTRELINE) == 7
    assert len(LIMITS) == 13
    assert all(row["basis"] and row["source"] for row in (*RADII, *LIMITS))


@pytest.mark.parametrize("row", US_RADII, ids=lambda row: f"{row['size']} {row['condition'].split()[0]}")
def test_a_radius_under_nec_chapter_9_table_2_is_a_stop(row: dict[str, str], record_property: Record) -> None:
    carry(record_property, row)
    means: catalogue.BendMeans = "other" if row["condition"] == "other bends" else "one-shot"
    least = float(row["value_in"]) * IN
    assert catalogue.least_radius_us(row["size"], means).radius == pytest.approx(float(row["value_mm"]))
    if row["size"] in ("5", "6"):
        return  # the catalogue of conduit ends at 4: its table does not
    for kind in ("emt", "imc", "rmc"):
        conduit = f"{kind}-{row['size']}"
        enough, short = one_bend(least, conduit, bend_means=means), least - A_HAIR
        assert found("us", enough, "bend-radius") == []
        (finding,) = found("us", one_bend(short, conduit, bend_means=means), "bend-radius")
        assert (str(finding.level), finding.where) == ("stop", "former.centreline_radius")
        assert finding.figures["least_mm"] == pytest.approx(least)
        assert finding.figures["radius_mm"] == short
        assert "Ch. 9 Table 2" in finding.source
        assert finding.edition


@pytest.mark.parametrize("row", UK_INSIDE, ids=lambda row: row["size"])
def test_an_inside_radius_under_two_and_a_half_diameters_is_a_warning(
    row: dict[str, str], record_property: Record
) -> None:
    carry(record_property, row)
    diameter, least = float(row["size"]), float(row["value_mm"])
    (centreline,) = (float(each["value_mm"]) for each in UK_CENTRELINE if each["size"] == row["size"])
    conduit = Conduit(own_outside_diameter=Mm(diameter))
    assert found("uk", one_bend(centreline, conduit), "bend-radius") == []
    (finding,) = found("uk", one_bend(centreline - A_HAIR, conduit), "bend-radius")
    assert (str(finding.level), finding.where) == ("warn", "former.centreline_radius")
    assert finding.figures["least_mm"] == pytest.approx(least)
    assert finding.figures["inside_mm"] == pytest.approx(least - A_HAIR)
    assert "from memory" in finding.source
    assert finding.edition


def test_the_multiple_of_the_british_rule_is_the_row_of_the_rule(record_property: Record) -> None:
    (row,) = (row for row in RADII if row["size"] == "rule")
    carry(record_property, row)
    assert catalogue.least_radius_uk(Mm(1.0)).radius == float(row["value_mm"])


# ----------------------------------------------------------------------------- bends between draw-in points


def limit(region: str, conduit: str, what: str) -> dict[str, str]:
    (row,) = (
        row for row in LIMITS if (row["region"], row["conduit"], row["what"]) == (region, conduit, what)
    )
    return row


@pytest.mark.parametrize("kind", ["RMC", "IMC", "EMT"])
def test_more_than_360_degrees_between_pull_points_is_a_stop(kind: str, record_property: Record) -> None:
    row = limit("US", kind, "total between pull points")
    carry(record_property, row)
    most = float(row["value"])
    assert most == 360.0
    assert limits.bend_limit("us", kind.lower(), "total_deg").value == most
    conduit = f"{kind.lower()}-3/4"
    four = [Leg(900), Turn(90)] * 4
    assert found("us", run(*four, Leg(900), conduit=conduit), "total-bend") == []
    (finding,) = found("us", run(*four, Leg(900), Turn(A_HAIR), Leg(900), conduit=conduit), "total-bend")
    assert (str(finding.level), finding.where) == ("stop", "part[9]")
    assert finding.figures["total_deg"] == pytest.approx(most + A_HAIR)
    assert row["clause"].removeprefix("NEC ") in finding.source
    assert "before 2026" in finding.edition  # .26 is numbered .24(B) from 2026 on


def test_four_quarter_bends_are_the_same_limit() -> None:
    assert float(limit("US", "any metal conduit", "between pull points")["value"]) * 90.0 == 360.0


def test_a_third_right_angle_between_draw_in_points_is_a_british_warning(record_property: Record) -> None:
    row = limit("UK", "steel conduit", "between draw-in points")
    carry(record_property, row)
    assert float(row["value"]) == 2.0
    two = [Leg(900), Turn(90)] * 2
    assert found("uk", run(*two, Leg(900)), "total-bend") == []
    (finding,) = found("uk", run(*two, Leg(900), Turn(90), Leg(900)), "total-bend")
    assert (str(finding.level), finding.where) == ("warn", "part[5]")
    assert finding.figures["total_deg"] == 270.0
    assert finding.edition == "common practice"


def test_a_double_set_is_one_bend_to_the_british_tables(record_property: Record) -> None:
    row = limit("UK", "steel conduit", "how a double set is counted")
    carry(record_property, row)
    assert row["value"] == "1"
    both = [Turn(30, 1, "offset"), Leg(200), Turn(30, 1, "offset")]
    assert found("uk", run(Leg(900), Turn(90), Leg(900), *both, Leg(900)), "total-bend") == []
    assert found("uk", run(*([Leg(900), Turn(90)] * 2), Leg(900), *both, Leg(900)), "total-bend")


def test_more_than_ten_metres_between_draw_in_points_is_a_british_note(record_property: Record) -> None:
    row = limit("UK", "steel conduit", "straight run between draw-in points")
    carry(record_property, row)
    most = 1000.0 * float(row["value"])
    assert most == 10_000.0
    assert found("uk", run(Leg(most)), "draw-in-distance") == []
    assert told(found("uk", run(Leg(most + 1)), "draw-in-distance")) == [("note", "ends.finish")]


def test_the_most_bends_tabulated_are_four() -> None:
    row = limit("UK", "steel conduit", "largest number tabulated")
    most = int(row["value"])
    assert cables.conduit_factors_uk("long", most)
    assert not cables.conduit_factors_uk("long", most + 1)


def test_a_running_thread_at_a_coupling_is_a_us_stop() -> None:
    # NFPA 70 344.42(B), seen in a public state electrical code page (confirmed)
    facts = run(Leg(2000), Joint("running_coupler"), Leg(2000), conduit="rmc-1")
    assert told(found("us", facts, "running-thread")) == [("stop", "part[1]")]
    assert found("uk", facts, "running-thread") == []
    assert found("us", run(Leg(2000), Joint("union"), Leg(2000), conduit="rmc-1"), "running-thread") == []


# ----------------------------------------------------------------------------------------- worked examples

EXAMPLES = [row for row in rows("worked_examples.csv") if row["kind"] == "bend_total"]


@pytest.mark.parametrize("row", EXAMPLES, ids=lambda row: row["id"])
@pytest.mark.parametrize("conduit", ["emt-1/2", "imc-1/2", "rmc-1/2"])
def test_which_sums_of_bends_are_let_pass(row: dict[str, str], conduit: str, record_property: Record) -> None:
    carry(record_property, row)
    angles = json.loads(row["inputs"])["bends_deg"]
    expected = json.loads(row["expected"])
    parts = [part for angle in angles for part in (Turn(angle), Leg(900))]
    findings = found("us", run(Leg(900), *parts, conduit=conduit, radius=101.6), "total-bend")
    assert (findings == []) == expected["allowed"]
    if findings:
        assert findings[0].figures["total_deg"] == expected["total_deg"]
    # with a pull box in the middle each half is within the rule
    half = 2 * (len(angles) // 2)
    boxed = run(Leg(900), *parts[:half], Box(), Leg(900), *parts[half:], conduit=conduit, radius=101.6)
    assert found("us", boxed, "total-bend") == []


def test_every_example_of_a_sum_is_tried() -> None:
    assert len(EXAMPLES) == 4
    assert sum(json.loads(row["expected"])["allowed"] for row in EXAMPLES) == 1
