"""Each rule of the packs: where it fires and where it does not, at the edge, with place and figures."""

import pytest
from judged_runs import Box, Joint, Leg, Turn, found, run, told

from bendcore.rules import judge
from bendcore.rules.facts import draws
from bendcore.rules.uk import bends_counted
from bendcore.spec import Conduit, GaugeCables, Joining, MetricCables, RulePack, Strand
from bendcore.units import Mm
from bendcore.words import Level

PACKS = ["uk", "us"]
OWN_20 = Conduit(own_outside_diameter=Mm(20.0), own_wall=Mm(1.6))
PLAIN = Conduit("emt-3/4")


def double_set(number: int, angle: float = 30.0, kind: str = "offset") -> list[Turn | Leg]:
    return [Turn(angle, number, kind), Leg(300), Turn(angle, number, kind)]


def saddle_set(number: int) -> list[Turn | Leg]:
    bends = [Turn(angle, number, "saddle_set_3") for angle in (22.5, 45.0, 22.5)]
    return [bends[0], Leg(300), bends[1], Leg(300), bends[2]]


# -------------------------------------------------------------------------------------------- what all keep


@pytest.mark.parametrize("pack", PACKS)
def test_a_rule_of_a_pack_names_its_source_and_edition(pack: str) -> None:
    facts = run(
        Leg(20), *[Turn(90), Leg(900)] * 5, conduit="steel-20-heavy" if pack == "uk" else "rmc-3/4", radius=40
    )
    findings, _ = judge(RulePack(pack), facts)
    stops = {Level.STOP} if pack == "us" else set()
    assert {finding.level for finding in findings} == {Level.WARN, Level.NOTE} | stops
    for finding in findings:
        assert finding.source
        assert finding.edition
        assert finding.where


@pytest.mark.parametrize("pack", PACKS)
@pytest.mark.parametrize("conduit", ["steel-25-heavy", "steel-40", "emt-1", "rmc-1", "imc-1", OWN_20])
def test_any_conduit_is_judged_by_either_pack(pack: str, conduit: str | Conduit) -> None:
    cables = [MetricCables(4.0, 3)] if pack == "uk" else [GaugeCables("12 AWG", "THHN", 3)]
    facts = run(Leg(3000), Turn(90), Leg(400), Box(), Leg(2000), conduit=conduit, radius=200, cables=cables)
    findings, clips = judge(RulePack(pack), facts)
    assert findings
    assert clips


@pytest.mark.parametrize("pack", PACKS)
def test_the_shortest_run_is_judged(pack: str) -> None:
    conduit = "steel-20-heavy" if pack == "uk" else "emt-1/2"
    findings, clips = judge(RulePack(pack), run(Leg(50), conduit=conduit))
    assert len(clips) == 1
    assert all(finding.level is Level.NOTE for finding in findings)


# -------------------------------------------------------------------------------------------- bend-radius


def test_a_radius_is_told_once_however_many_bends_have_it() -> None:
    facts = run(*[Leg(600), Turn(90)] * 3, Leg(600), radius=50)
    assert told(found("uk", facts, "bend-radius")) == [("warn", "former.centreline_radius")]


def test_a_radius_of_its_own_is_told_at_its_bend() -> None:
    # concentric corners of a bank: the former's 73 mm is enough for 20 mm conduit, 45 is not
    facts = run(Leg(600), Turn(90), Leg(600), Turn(90, radius=45), Leg(600))
    assert told(found("uk", facts, "bend-radius")) == [("warn", "part[3]")]


def test_a_bought_bend_is_not_judged_by_the_rule_for_bends_made() -> None:
    for pack, conduit in (("uk", "steel-20-heavy"), ("us", "emt-1")):
        facts = run(Leg(600), Turn(90, radius=45, bought=True), Leg(600), conduit=conduit)
        assert found(pack, facts, "bend-radius") == []


def test_a_straight_run_has_no_radius_to_judge() -> None:
    assert found("us", run(Leg(3000), conduit=OWN_20, radius=10.1), "bend-radius") == []


def test_without_a_trade_size_the_us_table_is_not_read() -> None:
    for conduit in (OWN_20, "steel-20-heavy"):
        facts = run(Leg(600), Turn(90), Leg(600), Turn(90, radius=45), Leg(600), conduit=conduit)
        (finding,) = found("us", facts, "bend-radius")
        assert finding.level is Level.WARN
        assert finding.figures == {"radius_mm": 73.0}


def test_the_columns_of_the_us_table_are_told_apart() -> None:
    # 1 in: 5.75 in with a one-shot bender, 6 in otherwise
    parts = (Leg(900), Turn(90), Leg(900))
    assert found("us", run(*parts, conduit="emt-1", radius=150), "bend-radius") == []
    others = run(*parts, conduit="emt-1", radius=150, bend_means="other")
    assert told(found("us", others, "bend-radius")) == [("stop", "former.centreline_radius")]


# --------------------------------------------------------------------------------------------- total-bend


def test_bends_are_counted_from_draw_in_point_to_draw_in_point() -> None:
    three = [Leg(900), Turn(90)] * 3
    assert told(found("uk", run(*three, Leg(900)), "total-bend")) == [("warn", "part[5]")]
    boxed = run(*three[:4], Leg(400), Box(), Leg(400), *three[:2], Leg(900))
    assert found("uk", boxed, "total-bend") == []
    closed = run(*three[:4], Leg(400), Box("tee", draw_in=False), Leg(400), *three[1:2], Leg(900))
    (finding,) = found("uk", closed, "total-bend")
    assert (finding.figures["from"], finding.figures["to"]) == ("start", "finish")


def test_each_stretch_that_goes_over_is_told() -> None:
    three = [Leg(900), Turn(90)] * 3
    findings = found("uk", run(*three, Leg(900), Box(), *three, Leg(900)), "total-bend")
    assert told(findings) == [("warn", "part[5]"), ("warn", "part[13]")]
    assert [(each.figures["from"], each.figures["to"]) for each in findings] == [
        ("start", "1"),
        ("1", "finish"),
    ]


def test_the_turn_of_a_fitting_with_a_lid_counts_on_neither_side() -> None:
    two = [Leg(900), Turn(90)] * 2
    body = Box("inspection_bend", angle=90.0, length=80.0)
    assert found("uk", run(*two, Leg(900), body, Leg(900), *two, Leg(900)), "total-bend") == []


def test_a_bought_bend_counts_like_one_that_is_made() -> None:
    facts = run(*[Leg(900), Turn(90)] * 2, Leg(900), Turn(45, radius=120, bought=True), Leg(900))
    (finding,) = found("uk", facts, "total-bend")
    assert finding.figures["total_deg"] == 225.0
    assert finding.where == "part[5]"


def test_a_double_set_counts_as_a_right_angle_to_the_british_and_by_its_angles_to_the_us() -> None:
    # two right angles and a box set of twice 10: 270 and 200; one right angle and a set of twice 60: 180, 210
    small = [*[Leg(900), Turn(90)] * 2, Leg(900), *double_set(1, 10.0, "box_set"), Leg(900)]
    steep = [Leg(900), Turn(90), Leg(900), *double_set(1, 60.0), Leg(900)]
    (finding,) = found("uk", run(*small), "total-bend")
    assert finding.figures["total_deg"] == 270.0
    assert finding.where == "part[5]"
    assert found("uk", run(*steep), "total-bend") == []
    full = [*[Leg(900), Turn(90)] * 3, Leg(900)]
    assert found("us", run(*full, *double_set(1, 45.0), Leg(900), conduit=PLAIN), "total-bend") == []
    (finding,) = found("us", run(*full, *double_set(1, 45.5), Leg(900), conduit=PLAIN), "total-bend")
    assert finding.figures["total_deg"] == 361.0


def test_a_saddle_set_counts_by_the_angles_of_its_bends() -> None:
    right = [Leg(900), Turn(90), Leg(900)]
    assert found("uk", run(*right, *saddle_set(1), Leg(900)), "total-bend") == []
    (finding,) = found("uk", run(*right, *saddle_set(1), *right), "total-bend")
    assert finding.figures["total_deg"] == 270.0


def test_a_sum_over_by_rounding_alone_is_not_over() -> None:
    thirds = [Leg(900), Turn(120.0000000001)] * 3
    assert found("us", run(*thirds, Leg(900), conduit=PLAIN), "total-bend") == []


# ---------------------------------------------------------------------------------------- draw-in-distance


def test_the_distance_is_from_box_to_box() -> None:
    assert found("uk", run(Leg(6000), Box(), Leg(6000)), "draw-in-distance") == []
    (finding,) = found("uk", run(Leg(6000), Box(), Leg(10_500)), "draw-in-distance")
    assert finding.level is Level.NOTE
    assert finding.figures == {"from": "1", "to": "finish", "length_mm": 10_500.0, "limit_mm": 10_000.0}
    assert found("us", run(Leg(30_000), conduit=PLAIN), "draw-in-distance") == []


# ------------------------------------------------------------------------------------------ cable-capacity


def counted(*parts: Leg | Turn) -> int:
    (pull,) = draws(run(*parts))
    return bends_counted(pull.bends)


def test_bends_are_counted_as_the_british_tables_do() -> None:
    assert counted(Leg(900)) == 0
    assert counted(Leg(900), Turn(90), Leg(900)) == 1
    assert counted(Leg(900), Turn(12), Leg(900)) == 1  # a bend below a right angle is one all the same
    assert counted(Leg(900), *double_set(1), Leg(900)) == 1
    assert counted(Leg(900), *double_set(1, 15.0, "box_set"), Leg(900)) == 1
    assert counted(Leg(900), *double_set(1), Leg(900), *double_set(2), Leg(900)) == 2
    assert counted(Leg(900), *saddle_set(1), Leg(900)) == 2
    assert counted(Leg(900), Turn(90, radius=120, bought=True), Leg(900)) == 1


def six(count: int = 6) -> list[MetricCables]:
    return [MetricCables(4.0, count)]


def test_without_cables_nothing_is_said_of_capacity() -> None:
    for pack, conduit in (("uk", "steel-20-heavy"), ("us", "emt-1")):
        assert found(pack, run(Leg(3000), conduit=conduit), "cable-capacity") == []


def test_cables_that_fit_are_told_with_what_they_need_and_how_many_would() -> None:
    (finding,) = found("uk", run(Leg(3000), cables=six()), "cable-capacity")
    assert (finding.level, finding.where) == (Level.NOTE, "cables")
    told_figures = {name: finding.figures[name] for name in ("case", "need", "have", "most", "size", "bends")}
    # worked example: 6 x 58 = 348 of 460; 460 / 58 = 7.9
    assert told_figures == {"case": "fits", "need": 348, "have": 460, "most": 7, "size": "20", "bends": 0}
    assert "App. E" in finding.source


def test_cables_that_need_more_than_the_conduit_has_are_a_british_warning() -> None:
    assert [each.level for each in found("uk", run(Leg(3000), cables=six(7)), "cable-capacity")] == [
        Level.NOTE
    ]
    (finding,) = found("uk", run(Leg(3000), cables=six(8)), "cable-capacity")
    assert finding.level is Level.WARN
    assert (finding.figures["need"], finding.figures["have"], finding.figures["takes"]) == (464, 460, "25")


def test_a_need_of_just_what_there_is_fits() -> None:
    # 3 m and one bend: 16 mm has 167; 1 x 105 + 1 x 30 + 2 x 16 is 167
    cables = [MetricCables(10.0, 1), MetricCables(2.5, 1), MetricCables(1.0, 2, Strand.SOLID)]
    radius = 60.0
    arc = radius * 1.5707963267948966
    parts = (Leg(1000), Turn(90), Leg(2000 - arc))
    (finding,) = found(
        "uk", run(*parts, conduit="steel-16-heavy", radius=radius, cables=cables), "cable-capacity"
    )
    assert finding.level is Level.NOTE
    assert (finding.figures["need"], finding.figures["have"]) == (167, 167)
    assert "most" not in finding.figures


def test_each_stretch_is_judged_by_its_own_length_and_bends() -> None:
    facts = run(Leg(2900), Box(), Leg(4000), Turn(90), Leg(3000), cables=six(4))
    # 2.9 m straight: 4 x 58 = 232 of 460; 7.115 m and a bend, read at 8: 4 x 43 = 172 of 213
    findings = found("uk", facts, "cable-capacity")
    assert [(each.figures["need"], each.figures["have"]) for each in findings] == [(232, 460), (172, 213)]
    assert [each.figures["to"] for each in findings] == ["1", "finish"]


def test_what_no_british_table_has_is_not_tabulated_and_not_guessed() -> None:
    five = [*[Leg(400), Turn(20)] * 5, Leg(400)]
    (finding,) = found("uk", run(*five, cables=six(1)), "cable-capacity")
    assert (finding.level, finding.figures["case"], finding.figures["bends"]) == (Level.WARN, "stretch", 5)
    (finding,) = found("uk", run(Leg(10_500), cables=six(1)), "cable-capacity")
    assert (finding.level, finding.figures["case"]) == (Level.WARN, "stretch")
    for conduit in ("steel-40", "emt-3/4", Conduit(own_outside_diameter=Mm(22.0))):
        (finding,) = found("uk", run(Leg(2000), conduit=conduit, cables=six()), "cable-capacity")
        assert (finding.level, finding.figures["case"]) == (Level.WARN, "conduit")
        assert finding.figures["takes"] == "20"


def test_conduit_of_38_mm_is_tabulated_and_of_40_is_not() -> None:
    old = Conduit(own_outside_diameter=Mm(38.1))
    (finding,) = found("uk", run(Leg(2000), conduit=old, cables=six()), "cable-capacity")
    assert finding.figures["have"] == 1900


@pytest.mark.parametrize("measured", [19.7, 19.86, 20.0, 20.3])
def test_a_measured_diameter_is_taken_for_the_nominal_size_it_lies_at(measured: float) -> None:
    conduit = Conduit(own_outside_diameter=Mm(measured))
    (finding,) = found("uk", run(Leg(2000), conduit=conduit, cables=six()), "cable-capacity")
    assert finding.figures["size"] == "20"


def test_a_cable_without_a_factor_is_told_once_at_its_place() -> None:
    cables = [MetricCables(4.0, 1), MetricCables(35.0, 1)]
    facts = run(Leg(4000), Box(), Leg(4000), cables=cables)
    assert told(found("uk", facts, "cable-capacity")) == [("warn", "cables[1]")]


def wires(count: int, size: str = "12 AWG") -> list[GaugeCables]:
    return [GaugeCables(size, "THHN", count)]


def test_too_many_conductors_are_a_us_stop() -> None:
    (finding,) = found("us", run(Leg(3000), conduit=PLAIN, cables=wires(16)), "cable-capacity")
    assert (finding.level, finding.where) == (Level.NOTE, "cables")
    assert (finding.figures["most"], finding.figures["conductors"]) == (16, 16)
    (finding,) = found("us", run(Leg(3000), conduit=PLAIN, cables=wires(17)), "cable-capacity")
    assert finding.level is Level.STOP
    assert (finding.figures["most"], finding.figures["takes"]) == (16, "emt-1")
    assert "2008" in finding.edition


def test_the_us_fill_is_told_once_for_all_stretches_and_once_for_nipples() -> None:
    facts = run(Leg(600), Box(), Leg(3000), Box(), Leg(3000), conduit=PLAIN, cables=wires(17))
    assert [(str(each.level), each.figures["nipple"]) for each in found("us", facts, "cable-capacity")] == [
        ("note", 1),
        ("stop", 0),
    ]


def test_a_nipple_is_short_and_ends_in_boxes() -> None:
    def nipple(length: float, ends: tuple[str, str] = ("connector", "spout")) -> object:
        facts = run(Leg(length), conduit=PLAIN, cables=wires(17), ends=ends)
        (finding,) = found("us", facts, "cable-capacity")
        return finding.figures["nipple"]

    assert nipple(609.6) == 1
    assert nipple(609.7) == 0
    for no_box in ("open", "coupler", "flexible"):
        assert nipple(300, (no_box, "spout")) == 0
        assert nipple(300, ("spout", no_box)) == 0


def test_unlike_conductors_are_judged_by_their_share() -> None:
    cables = [*wires(3, "4 AWG"), *wires(1, "10 AWG")]
    (finding,) = found("us", run(Leg(3000), conduit=PLAIN, cables=cables), "cable-capacity")
    # 0.2683 of 0.533 is 50.3 %
    assert (finding.level, finding.figures["need_percent"], finding.figures["percent"]) == (
        Level.STOP,
        51,
        40,
    )
    assert finding.figures["most"] is None
    assert finding.figures["takes"] == "emt-1"


def test_what_the_us_tables_need_and_is_not_known_is_a_warning() -> None:
    cables = [*wires(3), GaugeCables("12 AWG", "RHW", 1)]
    facts = run(Leg(3000), conduit=Conduit(own_outside_diameter=Mm(27.0)), cables=cables)
    assert told(found("us", facts, "cable-capacity")) == [("warn", "cables[1]"), ("warn", "conduit.wall")]
    facts = run(Leg(3000), conduit=PLAIN, cables=cables)
    assert told(found("us", facts, "cable-capacity")) == [("warn", "cables[1]")]


def test_conduit_by_its_own_figures_is_told_the_size_of_its_kind() -> None:
    for joining, takes in ((Joining.PLAIN, "emt-3/4"), (Joining.THREADED, "rmc-3/4")):
        conduit = Conduit(own_outside_diameter=Mm(18.0), own_wall=Mm(1.1), own_joining=joining)
        (finding,) = found("us", run(Leg(3000), conduit=conduit, cables=wires(16)), "cable-capacity")
        assert (finding.level, finding.figures["takes"]) == (Level.STOP, takes)


# -------------------------------------------------------------------------------------------- end-straight


def test_a_straight_at_an_end_wants_its_thread_and_a_diameter() -> None:
    # 20 mm: a thread of 15 mm (IEC 60423, from memory) and 20
    for length, short in ((35.0, False), (34.9, True)):
        facts = run(Leg(length), Turn(90), Leg(900))
        assert bool(found("uk", facts, "end-straight")) == short
        back = run(Leg(900), Turn(90), Leg(length))
        assert bool(found("uk", back, "end-straight")) == short
    (finding,) = found("uk", run(Leg(20), Turn(90), Leg(900)), "end-straight")
    assert (finding.level, finding.where) == (Level.WARN, "ends.start")
    assert finding.figures == {"end": "start", "straight_mm": 20.0, "need_mm": 35.0}
    assert finding.source.startswith("common practice")


def test_plain_conduit_wants_two_diameters_for_its_connector() -> None:
    # 3/4 in EMT is 0.922 in over its outside: 46.84 mm
    assert found("us", run(Leg(47), Turn(90), Leg(900), conduit=PLAIN, radius=120), "end-straight") == []
    assert found("us", run(Leg(46.5), Turn(90), Leg(900), conduit=PLAIN, radius=120), "end-straight")


def test_a_thread_that_is_not_known_counts_as_a_diameter() -> None:
    conduit = Conduit("steel-63")
    assert found("uk", run(Leg(126), Turn(90), Leg(900), conduit=conduit, radius=300), "end-straight") == []
    (finding,) = found("uk", run(Leg(125), Turn(90), Leg(900), conduit=conduit, radius=300), "end-straight")
    assert finding.figures["need_mm"] == 126.0
    assert "not known" in finding.source


def test_an_open_end_wants_no_straight_and_a_connector_no_thread() -> None:
    assert found("uk", run(Leg(5), Turn(90), Leg(900), ends=("open", "spout")), "end-straight") == []
    (finding,) = found("uk", run(Leg(36), Turn(90), Leg(900), ends=("connector", "spout")), "end-straight")
    assert finding.figures["need_mm"] == 40.0
    assert finding.source == "common practice"


def test_both_sides_of_a_fitting_are_looked_at() -> None:
    facts = run(Leg(900), Turn(90), Leg(20), Box(length=40), Leg(25), Turn(90), Leg(900))
    findings = found("uk", facts, "end-straight")
    assert [each.figures["straight_mm"] for each in findings] == pytest.approx([20.0, 25.0])
    assert told(findings) == [("warn", "part[3]")] * 2


def test_a_bend_without_any_straight_before_the_end_is_told() -> None:
    (finding,) = found("uk", run(Turn(90), Leg(900)), "end-straight")
    assert finding.figures["straight_mm"] == 0


def test_a_bend_beyond_a_joint_or_another_fitting_is_not_at_the_end() -> None:
    assert found("uk", run(Leg(20), Joint(), Leg(5), Turn(90), Leg(900)), "end-straight") == []
    facts = run(Leg(10), Box(length=20), Leg(300), Turn(90), Leg(900))
    assert found("uk", facts, "end-straight") == []


# ----------------------------------------------------------------------------------------------- reminders


@pytest.mark.parametrize("pack", PACKS)
def test_reminders_are_told_once_each(pack: str) -> None:
    conduit = "steel-20-heavy" if pack == "uk" else "rmc-3/4"
    facts = run(*[Leg(2000), Joint(), Leg(2000), Box()] * 4, Leg(900), conduit=conduit)
    for rule, where in (("thread-reminder", "conduit"), ("bonding", "conduit"), ("building-joint", "route")):
        assert told(found(pack, facts, rule)) == [("note", where)]


def test_plain_conduit_has_no_threads_to_mind() -> None:
    assert found("us", run(Leg(3000), conduit=PLAIN), "thread-reminder") == []
    assert found("us", run(Leg(3000), conduit=PLAIN), "bonding")


def test_threaded_conduit_of_no_known_size_is_reminded_without_a_length() -> None:
    facts = run(Leg(3000), conduit=Conduit(own_outside_diameter=Mm(22.0)))
    (finding,) = found("uk", facts, "thread-reminder")
    assert finding.figures == {}
    facts = run(Leg(3000), conduit=Conduit(own_outside_diameter=Mm(24.8)))
    (finding,) = found("uk", facts, "thread-reminder")
    assert finding.figures["thread_mm"] == 18.0
