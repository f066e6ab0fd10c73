"""What fits, both ways round: the edges of the tables, and the laws that counting keeps."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bendcore import capacity, catalogue
from bendcore.catalogue import Kind, cables
from bendcore.spec import Conduit, GaugeCables, MetricCables, Strand
from bendcore.units import Mm

AWG = [
    "14 AWG",
    "12 AWG",
    "10 AWG",
    "8 AWG",
    "6 AWG",
    "4 AWG",
    "3 AWG",
    "2 AWG",
    "1 AWG",
    "1/0 AWG",
    "4/0 AWG",
]
US_IDS = [row.id for row in catalogue.conduits() if row.region == "us"]
KINDS = [Kind.EMT, Kind.IMC, Kind.RMC]
FLOAT = 1e-9

metric = st.builds(
    MetricCables,
    csa_mm2=st.sampled_from([1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0]),
    count=st.integers(1, 40),
    type=st.sampled_from(Strand),
)
gauge = st.builds(
    GaugeCables,
    size=st.sampled_from(AWG),
    insulation=st.sampled_from(["THHN", "XHHW", "TW"]),
    count=st.integers(1, 30),
)
lengths = st.floats(100.0, 10_000.0).map(Mm)


# ------------------------------------------------------------------------------------------- British factors


def test_factors_worked_by_hand() -> None:
    # 4.4 m is read at 4.5; four of 30 and three of 22 on the long table
    factors = capacity.uk_factors(
        [MetricCables(2.5, 4), MetricCables(1.5, 3, Strand.SOLID)], length=Mm(4400.0), bends=2
    )
    assert factors.table == "long"
    assert factors.length_m == 4.5
    assert factors.need == 4 * 30 + 3 * 22
    assert factors.untold == ()


def test_three_metres_is_short_only_without_bends() -> None:
    assert capacity.uk_factors([], length=Mm(3000.0), bends=0).table == "short"
    assert capacity.uk_factors([], length=Mm(3000.001), bends=0).table == "long"
    assert capacity.uk_factors([], length=Mm(1200.0), bends=1).table == "long"
    # what lies over by rounding alone is not over
    assert capacity.uk_factors([], length=Mm(3000.0000005), bends=0).table == "short"
    assert capacity.uk_factors([], length=Mm(5000.0000005), bends=3).length_m == 5.0


def test_a_cable_that_is_not_tabulated_leaves_the_need_unknown() -> None:
    asked = [MetricCables(4.0, 2), MetricCables(35.0, 1), MetricCables(1.5, 2), MetricCables(0.75, 1)]
    factors = capacity.uk_factors(asked, length=Mm(4000.0), bends=1)
    assert factors.untold == (1, 3)
    assert factors.need is None
    assert factors.have["20"] == 256
    assert capacity.uk_conduit_for(asked, length=Mm(4000.0), bends=1) is None


def test_no_conduit_of_the_tables_may_be_enough() -> None:
    assert capacity.uk_conduit_for([MetricCables(25.0, 40)], length=Mm(9000.0), bends=2) is None
    assert capacity.uk_conduit_for([MetricCables(1.5, 1)], length=Mm(11_000.0), bends=0) is None
    assert capacity.uk_conduit_for([MetricCables(1.5, 1)], length=Mm(1_000.0), bends=5) is None
    assert capacity.uk_count(1.5, Strand.SOLID, "40", length=Mm(1_000.0), bends=1) is None
    assert capacity.uk_count(35.0, Strand.SOLID, "20", length=Mm(1_000.0), bends=1) is None


def test_a_multiple_is_not_short_by_a_rounding() -> None:
    # In floats 1.4 x 585 may come to a shade under 819, which would lose a whole unit when it is told.
    tried = 0
    for bends in range(5):
        for length in (1.0, 1.5, 2.0, 2.5, 4.0, 5.0, 8.0, 10.0):
            factors = capacity.uk_factors([], length=Mm(1000.0 * length), bends=bends)
            have = factors.have
            for size, tenths in (("38", 14), ("50", 26), ("63", 42)):
                if "32" in have and factors.table == "long":
                    tried += 1
                    assert int(have[size]) == tenths * int(have["32"]) // 10
    assert tried > 60


@given(cable=metric, size=st.sampled_from(["16", "20", "25", "32", "38", "50", "63"]), data=st.data())
def test_as_many_cables_as_fit_do_and_one_more_does_not(
    cable: MetricCables, size: str, data: st.DataObject
) -> None:
    length, bends = data.draw(lengths), data.draw(st.integers(0, 4))
    count = capacity.uk_count(cable.csa_mm2, cable.type, size, length=length, bends=bends)
    have = capacity.uk_factors([], length=length, bends=bends).have
    if count is None:
        assert size not in have or capacity.uk_factors([cable], length=length, bends=bends).untold == (0,)
        return

    def need(many: int) -> int:
        told = capacity.uk_factors(
            [MetricCables(cable.csa_mm2, many, cable.type)], length=length, bends=bends
        ).need
        assert told is not None
        return told

    assert count == 0 or need(count) <= have[size]
    assert need(count + 1) > have[size]


@given(asked=st.lists(metric, min_size=1, max_size=4), length=lengths, bends=st.integers(0, 5))
def test_the_conduit_for_cables_is_the_smallest_with_room(
    asked: list[MetricCables], length: Mm, bends: int
) -> None:
    factors = capacity.uk_factors(asked, length=length, bends=bends)
    size = capacity.uk_conduit_for(asked, length=length, bends=bends)
    if factors.need is None:
        assert size is None
        return
    roomy = [int(each) for each, have in factors.have.items() if have >= factors.need]
    assert size == (str(min(roomy)) if roomy else None)


@given(length=lengths, bends=st.integers(0, 3), more=st.floats(0.0, 4000.0))
def test_a_longer_or_more_bent_run_never_has_more_room(length: Mm, bends: int, more: float) -> None:
    # within one pair of tables: a short straight run has its own scale of factors
    one = capacity.uk_factors([], length=length, bends=bends)
    for other in (
        capacity.uk_factors([], length=Mm(length + more), bends=bends),
        capacity.uk_factors([], length=length, bends=bends + 1),
    ):
        if one.table == other.table:
            assert all(have <= one.have[size] for size, have in other.have.items())


# --------------------------------------------------------------------------------------------------- US areas


def test_a_conductor_is_found_however_it_is_written() -> None:
    row = cables.conductor_us("12 AWG", "THHN")
    assert row is not None
    assert cables.conductor_us(" 12  awg ", "thwn-2") == row
    assert cables.conductor_us("12", "THHN") is None
    assert cables.conductor_us("12 AWG", "RHW") is None


def test_the_fill_of_unlike_conductors_is_by_area() -> None:
    # 3 x 0.0824 + 1 x 0.0211 = 0.2683; 40 % of 0.864 is 0.3456, of 0.533 0.2132
    asked = [GaugeCables("4 AWG", "THHN", 3), GaugeCables("10 AWG", "THHN", 1)]
    fill = capacity.us_fill(asked, Conduit("emt-1"))
    assert fill is not None
    assert fill.need_in2 == pytest.approx(0.2683, abs=FLOAT)
    assert fill.allowance_in2 == pytest.approx(0.3456, abs=FLOAT)
    assert (fill.conductors, fill.percent, fill.most, fill.need_percent) == (4, 40, None, 32)  # 31.05 up
    assert fill.fits
    small = capacity.us_fill(asked, Conduit("emt-3/4"))
    assert small is not None
    assert not small.fits
    nipple = capacity.us_fill(asked, Conduit("emt-3/4"), nipple=True)
    assert nipple is not None
    assert nipple.fits  # 60 % of 0.533 is 0.3198
    assert capacity.us_conduit_for(asked, "emt") == "emt-1"
    assert capacity.us_conduit_for(asked, "emt", nipple=True) == "emt-3/4"


def test_conductors_of_one_area_are_equal_whatever_their_letters() -> None:
    # Note 7 speaks of one size, insulation included
    asked = [GaugeCables("12 AWG", "THHN", 8), GaugeCables("12 AWG", "THWN", 1)]
    fill = capacity.us_fill(asked, Conduit("emt-1/2"))
    assert fill is not None
    assert fill.most == 9
    assert fill.fits


def test_a_wall_of_its_own_counts_before_the_table() -> None:
    # 26.67 mm over 2.87 mm walls: a bore of 20.93 mm, 344.05 mm2, 0.53328 in2
    own = Conduit(own_outside_diameter=Mm(26.67), own_wall=Mm(2.87))
    assert capacity.us_inside_in2(own) == pytest.approx(0.53328, abs=1e-5)
    assert capacity.us_inside_in2(Conduit("rmc-3/4")) == 0.549
    thick = capacity.us_inside_in2(Conduit("rmc-3/4", own_wall=Mm(5.0)))
    assert thick == pytest.approx(0.33829, abs=1e-5)  # a bore of 16.67 mm
    assert capacity.us_inside_in2(Conduit(own_outside_diameter=Mm(26.67))) is None
    assert capacity.us_inside_in2(Conduit("steel-40")) is None
    assert capacity.us_inside_in2(Conduit("steel-20-heavy")) == pytest.approx(0.34359, abs=1e-5)  # 16.8 mm


def test_what_is_not_known_is_none_and_an_unknown_conduit_an_error() -> None:
    asked = [GaugeCables("12 AWG", "THHN", 1), GaugeCables("12 AWG", "RHW", 1)]
    assert capacity.us_untold(asked) == (1,)
    assert capacity.us_fill(asked, Conduit("emt-1")) is None
    assert capacity.us_fill(asked[:1], Conduit(own_outside_diameter=Mm(30.0))) is None
    assert capacity.us_conduit_for(asked, "emt") is None
    assert capacity.us_count("12 AWG", "RHW", "emt-1") is None
    with pytest.raises(KeyError):
        capacity.us_count("12 AWG", "THHN", "emt-9")


@given(cable=gauge, conduit=st.sampled_from(US_IDS), nipple=st.booleans())
def test_equal_conductors_fit_up_to_their_count_and_no_further(
    cable: GaugeCables, conduit: str, nipple: bool
) -> None:
    most = capacity.us_count(cable.size, cable.insulation, conduit, nipple=nipple)
    assert most is not None
    for count in {1, 2, 3, cable.count, max(most, 1), most + 1}:
        asked = [GaugeCables(cable.size, cable.insulation, count)]
        fill = capacity.us_fill(asked, Conduit(conduit), nipple=nipple)
        assert fill is not None
        assert fill.fits == (count <= most)
        split = [GaugeCables(cable.size, cable.insulation, 1)] * count if count < 9 else asked
        told = capacity.us_fill(split, Conduit(conduit), nipple=nipple)
        assert told is not None
        assert told.fits == fill.fits  # told in one line or in many


@given(asked=st.lists(gauge, min_size=1, max_size=4), kind=st.sampled_from(KINDS), nipple=st.booleans())
def test_the_conduit_for_conductors_is_the_smallest_that_takes_them(
    asked: list[GaugeCables], kind: Kind, nipple: bool
) -> None:
    fits = {}
    for conduit in (each for each in US_IDS if each.startswith(kind)):
        fill = capacity.us_fill(asked, Conduit(conduit), nipple=nipple)
        assert fill is not None
        fits[conduit] = fill.fits
    found = capacity.us_conduit_for(asked, kind, nipple=nipple)
    assert found == next((conduit for conduit, fit in fits.items() if fit), None)
    if found is not None:
        larger = list(fits)[list(fits).index(found) :]
        assert all(fits[conduit] for conduit in larger)


@given(asked=st.lists(gauge, min_size=2, max_size=4), conduit=st.sampled_from(US_IDS))
def test_the_share_told_is_over_the_limit_just_where_unlike_conductors_do_not_fit(
    asked: list[GaugeCables], conduit: str
) -> None:
    fill = capacity.us_fill(asked, Conduit(conduit))
    assert fill is not None
    if fill.most is None:
        assert (fill.need_percent <= fill.percent) == fill.fits
