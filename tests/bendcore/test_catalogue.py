"""The tables of conduit, threads, couplers and radii, held against figures printed elsewhere.

Figures said to be from memory were recalled, not read; a disagreement there calls for the printed standard.
"""

import csv
import math
import subprocess
import sys
from itertools import pairwise
from pathlib import Path

import pytest

from bendcore import catalogue
from bendcore.catalogue import Basis, BendMeans, Kind
from bendcore.units import Mm

FILES = sorted(Path(catalogue.__file__).parent.glob("*.csv"))
TRADE_SIZES = ("1/2", "3/4", "1", "1-1/4", "1-1/2", "2", "2-1/2", "3", "3-1/2", "4")
FLOAT = 1e-9  # mm: an inch figure times 25.4 is off by a few roundings
AREA = 0.0025  # in2: areas are printed to 0.001 from diameters printed to 0.001
PRINTED_TENTH = 0.0501  # mm: half of the last printed place


def records(file: Path) -> list[dict[str, str]]:
    with file.open(encoding="utf-8", newline="") as opened:
        return list(csv.DictReader(opened))


def records_named(name: str) -> list[dict[str, str]]:
    return records(Path(catalogue.__file__).parent / name)


def sizes_of(kind: Kind) -> list[catalogue.ConduitRow]:
    return [row for row in catalogue.conduits() if row.kind is kind]


# --- what every table keeps to


def test_the_tables_are_these() -> None:
    assert [file.name for file in FILES] == [
        "bend_limit.csv",
        "cable_factor_uk.csv",
        "conductor_us.csv",
        "conduit_factor_uk.csv",
        "conduit_metric.csv",
        "conduit_multiple_uk.csv",
        "conduit_us.csv",
        "coupler_us.csv",
        "fill_us.csv",
        "least_radius_uk.csv",
        "least_radius_us.csv",
        "support_uk.csv",
        "support_us.csv",
        "thread_metric.csv",
        "thread_us.csv",
    ]


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_every_row_tells_its_basis_and_its_source(file: Path) -> None:
    rows = records(file)
    assert rows
    for row in rows:
        assert row["basis"] in {"confirmed", "memory", "common-practice"}, row
        assert len(row["source"]) > 10, row
        assert None not in row, row  # no cell beyond the header
        assert None not in row.values(), row
        # one that says it is recalled is not sold as read
        if row["source"].endswith("from memory"):
            assert row["basis"] == "memory", row


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_the_basis_of_a_row_is_that_of_its_weakest_figure(file: Path) -> None:
    for row in records(file):
        marks = {mark for name, mark in row.items() if name.endswith("_basis") and mark}
        if "memory" in marks:
            assert row["basis"] == "memory", row
        elif marks:
            assert row["basis"] == ("common-practice" if "common-practice" in marks else "confirmed"), row


@pytest.mark.parametrize("file", FILES, ids=lambda file: file.stem)
def test_a_figure_is_marked_if_and_only_if_it_is_known(file: Path) -> None:
    for row in records(file):
        names = list(row)
        for figure, mark in pairwise(names):
            if mark.endswith("_basis"):
                assert bool(row[figure]) == bool(row[mark]), (row, figure)
                assert row[mark] in {"", "confirmed", "memory", "common-practice"}, row


# --- conduit


def test_the_ids_stay_as_they_are() -> None:
    assert catalogue.conduit_ids() == (
        "steel-16-heavy", "steel-20-heavy", "steel-25-heavy", "steel-32-heavy",
        "steel-40", "steel-50", "steel-63",
        "emt-1/2", "emt-3/4", "emt-1", "emt-1-1/4", "emt-1-1/2",
        "emt-2", "emt-2-1/2", "emt-3", "emt-3-1/2", "emt-4",
        "imc-1/2", "imc-3/4", "imc-1", "imc-1-1/4", "imc-1-1/2",
        "imc-2", "imc-2-1/2", "imc-3", "imc-3-1/2", "imc-4",
        "rmc-1/2", "rmc-3/4", "rmc-1", "rmc-1-1/4", "rmc-1-1/2",
        "rmc-2", "rmc-2-1/2", "rmc-3", "rmc-3-1/2", "rmc-4",
    )  # fmt: skip


def test_an_id_belongs_to_one_conduit() -> None:
    listed = [row["id"] for name in ("conduit_metric.csv", "conduit_us.csv") for row in records_named(name)]
    assert len(listed) == len(set(listed)) == len(catalogue.conduits()) == 37
    assert [row.id for row in catalogue.conduits()] == listed
    assert all(catalogue.conduit(row.id) is row for row in catalogue.conduits())


@pytest.mark.parametrize("unknown", ["", "steel-20", "EMT-1/2", "emt-5", "emt-1/2 "])
def test_an_unknown_id_is_a_key_error_everywhere(unknown: str) -> None:
    for ask in (catalogue.conduit, catalogue.thread, catalogue.coupler):
        with pytest.raises(KeyError, match=f"^{unknown!r}$"):
            ask(unknown)


def test_metric_steel_is_named_by_its_outside_diameter_and_sold_in_3750_mm() -> None:
    # IEC 60423, sizes and outside diameters (from memory); UK length: public textbook extract 'Conduit'
    rows = sizes_of(Kind.STEEL)
    assert [row.outside_diameter for row in rows] == [16.0, 20.0, 25.0, 32.0, 40.0, 50.0, 63.0]
    assert {row.stock_length for row in rows} == {3750.0}
    assert {(row.region, row.joining) for row in rows} == {("uk", "threaded")}
    assert all("outside_diameter" in row.weak and "stock_length" not in row.weak for row in rows)


def test_heavy_metric_steel_has_the_walls_of_class_4_and_larger_sizes_have_none() -> None:
    # BS 4568-1 class 4, from memory
    rows = sizes_of(Kind.STEEL)
    assert [row.wall for row in rows] == [1.4, 1.6, 1.6, 1.6, None, None, None]
    assert [row.inside_diameter for row in rows] == [13.2, 16.8, 21.8, 28.8, None, None, None]
    assert [row.mass_per_metre for row in rows] == [0.504, 0.726, 0.923, 1.2, None, None, None]


def test_the_steel_of_20_mm_heavy_conduit_has_the_published_section() -> None:
    # 92 mm2: public page 'Steel Conduit as the Circuit Protective Conductor'
    row = catalogue.conduit("steel-20-heavy")
    assert row.wall is not None
    section = math.pi * (row.outside_diameter - row.wall) * row.wall
    assert section == pytest.approx(92.0, abs=0.6)


# NFPA 70 ch. 9 Table 4: inside diameter in mm (from memory), total area and 40 % of it in in2 (read on public
# pages for EMT and for RMC to size 2, the rest from memory). The catalogue has inches and total areas only.
TABLE_4 = {
    Kind.EMT: [
        (15.8, 0.304, 0.122), (20.9, 0.533, 0.213), (26.6, 0.864, 0.346), (35.1, 1.496, 0.598),
        (40.9, 2.036, 0.814), (52.5, 3.356, 1.342), (69.4, 5.858, 2.343), (85.2, 8.846, 3.538),
        (97.4, 11.545, 4.618), (110.1, 14.753, 5.901),
    ],
    Kind.IMC: [
        (16.8, 0.342, 0.137), (21.9, 0.586, 0.235), (28.1, 0.959, 0.384), (36.8, 1.647, 0.659),
        (42.7, 2.225, 0.890), (54.6, 3.630, 1.452), (64.9, 5.135, 2.054), (80.7, 7.922, 3.169),
        (93.2, 10.584, 4.234), (105.8, 13.631, 5.452),
    ],
    Kind.RMC: [
        (16.1, 0.314, 0.125), (21.2, 0.549, 0.220), (27.0, 0.887, 0.355), (35.4, 1.526, 0.610),
        (41.2, 2.071, 0.829), (52.9, 3.408, 1.363), (63.2, 4.866, 1.946), (78.5, 7.499, 3.000),
        (90.7, 10.010, 4.004), (102.9, 12.882, 5.153),
    ],
}  # fmt: skip


@pytest.mark.parametrize("kind", list(TABLE_4), ids=str)
def test_us_conduit_is_as_wide_inside_as_table_4_prints(kind: Kind) -> None:
    rows = sizes_of(kind)
    assert tuple(row.size for row in rows) == TRADE_SIZES
    for row, (inside, area, area_40) in zip(rows, TABLE_4[kind], strict=True):
        assert row.inside_diameter == pytest.approx(inside, abs=PRINTED_TENTH), row.id
        assert row.inside_area_in2 == area
        assert row.inside_diameter is not None
        inside_in = row.inside_diameter / 25.4
        assert math.pi / 4 * inside_in**2 == pytest.approx(area, abs=AREA), row.id
        assert 0.40 * area == pytest.approx(area_40, abs=AREA), row.id


def test_rigid_conduit_and_large_tubing_have_the_outside_diameters_of_pipe() -> None:
    # ASME B36.10M, outside diameters of NPS 1/2 to 4 in mm, from memory
    pipe = (21.3, 26.7, 33.4, 42.2, 48.3, 60.3, 73.0, 88.9, 101.6, 114.3)
    rigid = [row.outside_diameter for row in sizes_of(Kind.RMC)]
    assert rigid == pytest.approx(pipe, abs=PRINTED_TENTH)
    assert [row.outside_diameter for row in sizes_of(Kind.EMT)][6:] == pytest.approx(
        pipe[6:], abs=PRINTED_TENTH
    )


def test_tubing_and_intermediate_conduit_have_the_outside_diameters_of_their_standards() -> None:
    # ANSI C80.3 (EMT) and C80.6 (IMC), outside diameters in mm to a tenth, from memory
    tubing = (17.9, 23.4, 29.5, 38.4, 44.2, 55.8, 73.0, 88.9, 101.6, 114.3)
    intermediate = (20.7, 26.1, 32.8, 41.6, 47.8, 59.9, 72.6, 88.3, 100.9, 113.4)
    assert [row.outside_diameter for row in sizes_of(Kind.EMT)] == pytest.approx(tubing, abs=PRINTED_TENTH)
    assert [row.outside_diameter for row in sizes_of(Kind.IMC)] == pytest.approx(
        intermediate, abs=PRINTED_TENTH
    )


def test_an_inch_figure_is_turned_into_millimetres_by_25_4_and_not_rounded() -> None:
    emt = catalogue.conduit("emt-1/2")
    assert emt.outside_diameter == pytest.approx(17.9324, abs=FLOAT)  # 0.706 in
    assert emt.inside_diameter == pytest.approx(15.7988, abs=FLOAT)  # 0.622 in
    assert emt.wall == pytest.approx(1.0668, abs=FLOAT)  # 0.042 in
    imc = catalogue.conduit("imc-1/2")
    assert imc.wall == pytest.approx(1.9685, abs=FLOAT)  # (0.815 - 0.660)/2 = 0.0775 in
    rigid = catalogue.conduit("rmc-3-1/2")
    assert rigid.net_length == pytest.approx(3003.55, abs=FLOAT)  # 118.25 in
    assert rigid.mass_per_metre == pytest.approx(13.0958427034, abs=1e-9)  # 880 lb x 0.45359237 / 30.48 m


@pytest.mark.parametrize("row", catalogue.conduits(), ids=lambda row: row.id)
def test_the_mass_is_that_of_a_steel_tube_of_these_diameters(row: catalogue.ConduitRow) -> None:
    # 7850 kg/m3: EN 1993-1-1. Zinc, couplings and editions make up to a tenth.
    if row.mass_per_metre is None or row.wall is None:
        assert row.size in {"40", "50", "63"}
        return
    section_m2 = math.pi * (row.outside_diameter - row.wall) * row.wall / 1e6
    assert row.mass_per_metre == pytest.approx(7850 * section_m2, rel=0.10)


def test_us_conduit_is_ten_feet_long_and_a_bare_rigid_stick_is_shorter_by_its_coupling() -> None:
    # ANSI C80.1, lengths without coupling in inches, from memory but for 3-1/2
    bare = [119.25, 119.25, 119.0, 119.0, 119.0, 119.0, 118.5, 118.5, 118.25, 118.25]
    assert all(
        row.stock_length == pytest.approx(3048.0, abs=FLOAT)
        for row in catalogue.conduits()
        if row.region == "us"
    )
    for row, inches in zip(sizes_of(Kind.RMC), bare, strict=True):
        assert row.net_length is not None
        assert row.net_length / 25.4 == pytest.approx(inches, abs=FLOAT)
    assert all(row.net_length is None for row in catalogue.conduits() if row.kind is not Kind.RMC)


def test_only_tubing_is_plain() -> None:
    assert {row.kind for row in catalogue.conduits() if row.joining == "plain"} == {Kind.EMT}


def test_a_conduit_says_in_words_what_it_is() -> None:
    assert catalogue.conduit("steel-20-heavy").title == "20 mm steel, heavy"
    assert catalogue.conduit("steel-40").title == "40 mm steel"
    assert catalogue.conduit("emt-3/4").title == "3/4 in EMT"
    assert catalogue.conduit("rmc-1-1/4").title == "1-1/4 in RMC"


def test_a_conduit_tells_which_of_its_figures_are_weak() -> None:
    assert catalogue.conduit("emt-3/4").weak == ("outside_diameter", "stock_length")
    assert catalogue.conduit("steel-40").weak == ("outside_diameter",)
    assert {row.basis for row in catalogue.conduits()} == {Basis.MEMORY}
    fields = set(catalogue.ConduitRow.__slots__)
    for row in catalogue.conduits():
        assert set(row.weak) <= fields
        assert all(getattr(row, name) is not None for name in row.weak)


# --- threads and couplers


def test_metric_threads_have_a_pitch_of_one_and_a_half_millimetres() -> None:
    # pitch: BS 6053:1981 scope note; lengths at an end: IEC 60423, from memory
    threads = [thread for row in sizes_of(Kind.STEEL) if (thread := catalogue.thread(row.id)) is not None]
    assert [thread.designation for thread in threads] == [
        "M16x1.5", "M20x1.5", "M25x1.5", "M32x1.5", "M40x1.5", "M50x1.5", "M63x1.5",
    ]  # fmt: skip
    assert {(thread.pitch, thread.taper) for thread in threads} == {(1.5, 0.0)}
    assert [(thread.least_length, thread.length) for thread in threads] == [
        (11.5, 13.5), (13.0, 15.0), (16.0, 18.0), (18.0, 20.0), (19.0, 22.0), (19.0, 22.0), (None, None),
    ]  # fmt: skip


def test_us_threads_are_as_long_as_the_taper_thread_standard_makes_them() -> None:
    # ASME B1.20.1: L2 = (0.80 D + 6.8) p, in inches, D the outside diameter of the pipe and p the pitch.
    # The catalogue holds L2 as printed, to 0.0001 in.
    threads_an_inch = (14, 14, 11.5, 11.5, 11.5, 11.5, 8, 8, 8, 8)
    for row, count in zip(sizes_of(Kind.RMC), threads_an_inch, strict=True):
        thread = catalogue.thread(row.id)
        assert thread is not None
        assert thread.pitch * count == pytest.approx(25.4, abs=FLOAT)
        assert thread.effective_length is not None
        outside_in = row.outside_diameter / 25.4
        assert thread.effective_length / 25.4 == pytest.approx((0.80 * outside_in + 6.8) / count, abs=6e-5)
        # NFPA 70 344.28 and UL 6: 3/4 in a foot, 1 in 16
        assert thread.taper == 0.0625


def test_the_threaded_end_of_us_conduit_is_longer_than_its_effective_thread() -> None:
    # ANSI C80.1 and UL 6, overall length of the thread in inches, from memory
    overall = (0.78, 0.79, 0.98, 1.01, 1.03, 1.06, 1.57, 1.63, 1.68, 1.73)
    for row, inches in zip(sizes_of(Kind.RMC), overall, strict=True):
        thread = catalogue.thread(row.id)
        assert thread is not None
        assert thread.length == pytest.approx(inches * 25.4, abs=FLOAT)
        assert thread.length is not None
        assert thread.effective_length is not None
        assert thread.length > thread.effective_length


def test_intermediate_conduit_has_the_thread_of_rigid_conduit_and_tubing_has_none() -> None:
    for size in TRADE_SIZES:
        assert catalogue.thread(f"imc-{size}") == catalogue.thread(f"rmc-{size}")
        assert catalogue.thread(f"rmc-{size}") is not None
        assert catalogue.thread(f"emt-{size}") is None


def test_a_rigid_coupling_has_the_printed_diameter_and_length_and_no_other_is_known() -> None:
    # ANSI C80.1 coupling table, inches, from memory
    printed = (
        (1.01, 1.5625), (1.25, 1.625), (1.525, 2.0), (1.869, 2.0625), (2.155, 2.0625),
        (2.65, 2.125), (3.25, 3.125), (3.87, 3.25), (4.5, 3.375), (4.875, 3.5),
    )  # fmt: skip
    for row, (outside_in, length_in) in zip(sizes_of(Kind.RMC), printed, strict=True):
        coupler = catalogue.coupler(row.id)
        assert coupler is not None
        assert coupler.outside_diameter == pytest.approx(outside_in * 25.4, abs=FLOAT)
        assert coupler.length == pytest.approx(length_in * 25.4, abs=FLOAT)
        assert coupler.outside_diameter > row.outside_diameter
        assert coupler.basis is Basis.MEMORY
    known = {row.kind for row in catalogue.conduits() if catalogue.coupler(row.id) is not None}
    assert known == {Kind.RMC}


# --- least radii


# NFPA 70 ch. 9 Table 2, to the centreline in mm as printed there: one-shot and full-shoe benders, other bends
TABLE_2 = {
    "1/2": (101.6, 101.6),
    "3/4": (114.3, 127.0),
    "1": (146.05, 152.4),
    "1-1/4": (184.15, 203.2),
    "1-1/2": (209.55, 254.0),
    "2": (241.3, 304.8),
    "2-1/2": (266.7, 381.0),
    "3": (330.2, 457.2),
    "3-1/2": (381.0, 533.4),
    "4": (406.4, 609.6),
    "5": (609.6, 762.0),
    "6": (762.0, 914.4),
}


@pytest.mark.parametrize("size", TABLE_2)
def test_us_bends_have_the_least_radii_of_table_2(size: str) -> None:
    columns: tuple[BendMeans, BendMeans] = ("one-shot", "other")
    for bend_means, printed in zip(columns, TABLE_2[size], strict=True):
        least = catalogue.least_radius_us(size, bend_means)
        assert least.radius == pytest.approx(printed, abs=FLOAT)
        assert least.radius <= printed  # a radius typed in mm as printed is allowed
        assert least.measured_to == "centreline"
        assert least.basis is Basis.CONFIRMED
        assert "Table 2" in least.source


@pytest.mark.parametrize(("size", "bend_means"), [("3-1/4", "other"), ("20", "other"), ("1", "any")])
def test_a_size_or_means_outside_table_2_is_a_key_error(size: str, bend_means: BendMeans) -> None:
    with pytest.raises(KeyError):
        catalogue.least_radius_us(size, bend_means)


@pytest.mark.parametrize(
    ("outside_diameter", "inside_radius"),
    [(16.0, 40.0), (20.0, 50.0), (25.0, 62.5), (32.0, 80.0), (40.0, 100.0), (50.0, 125.0), (63.0, 157.5)],
)
def test_uk_bends_have_an_inside_radius_of_two_and_a_half_diameters(
    outside_diameter: float, inside_radius: float
) -> None:
    # IET On-Site Guide App. E and Guidance Note 1, from memory
    least = catalogue.least_radius_uk(Mm(outside_diameter))
    assert least.radius == inside_radius
    assert least.measured_to == "inside"
    assert least.basis is Basis.MEMORY


# --- how it is loaded


def test_importing_the_catalogue_reads_no_table() -> None:
    program = (
        "import sys\n"
        "opened = []\n"
        "sys.addaudithook(lambda event, args: opened.append(str(args[0])) if event == 'open' else None)\n"
        "from bendcore import catalogue\n"
        "assert not [name for name in opened if name.endswith('.csv')], opened\n"
        "catalogue.conduit('emt-1/2')\n"
        "catalogue.conduit('emt-3/4')\n"
        "catalogue.conduits()\n"
        "tables = [name for name in opened if name.endswith('.csv')]\n"
        "assert len(tables) == 2, tables\n"
    )
    root = Path(catalogue.__file__).parent.parent.parent
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=root, capture_output=True, text=True, check=False, timeout=60
    )
    assert done.returncode == 0, done.stderr
