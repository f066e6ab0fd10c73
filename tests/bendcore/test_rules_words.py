"""What the packs find, as a person reads it: in either units, in either words, with nothing raw in it."""

import re
from itertools import product

import pytest
from judged_runs import Box, Joint, Leg, Turn, found, run

from bendcore.rules import RunFacts, judge
from bendcore.spec import Conduit, GaugeCables, MetricCables, RulePack
from bendcore.units import Mm, Units
from bendcore.words import Dialect, Finding, judged, sentence

THREE = [Leg(912.3), Turn(90)] * 3
WIRES = [GaugeCables("12 AWG", "THHN", 17)]
UNLIKE = [GaugeCables("4 AWG", "THHN", 3), GaugeCables("10 AWG", "THHN", 1)]
STUCK = [Turn(170, radius=400.0), Leg(30)] * 3

TOLD: dict[str, tuple[str, RunFacts]] = {
    "inside radius": ("uk", run(*THREE, Leg(800), radius=55.4)),
    "centreline radius": ("us", run(*THREE, Leg(800), conduit="rmc-1", radius=120.7)),
    "no trade size": ("us", run(*THREE, Leg(800), radius=120.7)),
    "third right angle": ("uk", run(*THREE, Leg(800))),
    "over 360": ("us", run(*THREE, *THREE, Leg(800), conduit="emt-1", radius=200)),
    "far apart": ("uk", run(Leg(5000), Box(), Leg(10_312.7))),
    "factors over": ("uk", run(Leg(2999), cables=[MetricCables(4.0, 9)])),
    "factors over all": ("uk", run(Leg(2999), cables=[MetricCables(25.0, 90)])),
    "factors fit": ("uk", run(Leg(2999), Turn(90), Leg(812.3), cables=[MetricCables(2.5, 5)])),
    "factors of many fit": (
        "uk",
        run(Leg(2999), cables=[MetricCables(2.5, 2), MetricCables(4.0, 2)], conduit="steel-25-heavy"),
    ),
    "no factor": ("uk", run(Leg(2999), cables=[MetricCables(35.0, 1)])),
    "no conduit factor": ("uk", run(Leg(2999), cables=[MetricCables(4.0, 1)], conduit="steel-40")),
    "beyond the tables": ("uk", run(*[Leg(912.3), Turn(20)] * 6, Leg(900), cables=[MetricCables(4.0, 1)])),
    "equal over": ("us", run(Leg(3000), conduit="emt-3/4", cables=WIRES)),
    "equal over in a nipple": ("us", run(Leg(300), conduit="emt-1/2", cables=WIRES)),
    "equal fit": ("us", run(Leg(3000), conduit="emt-1", cables=WIRES)),
    "unlike over": ("us", run(Leg(3000), conduit="imc-3/4", cables=UNLIKE)),
    "unlike fit": ("us", run(Leg(3000), conduit="rmc-2", cables=UNLIKE)),
    "no wall": ("us", run(Leg(3000), conduit=Conduit(own_outside_diameter=Mm(27.3)), cables=WIRES)),
    "no conductor": ("us", run(Leg(3000), conduit="emt-1", cables=[GaugeCables("12 AWG", "RHW", 1)])),
    "short end": ("uk", run(Leg(21.4), Turn(90), Leg(900), Box(), Leg(17.3), Turn(45), Leg(900))),
    "running thread": ("us", run(Leg(2000), Joint("running_coupler"), Leg(2000), conduit="rmc-1")),
    "clips of steel": ("uk", run(Leg(4000))),
    "clips of rigid": ("us", run(Leg(9000), conduit="rmc-3")),
    "clips of tubing": ("us", run(Leg(9000), conduit="emt-3")),
    "one clip": ("uk", run(Leg(400))),
    "no clip": ("uk", run(Leg(1000), Box(), Leg(25), Box(), Leg(1000))),
    "first clip": ("uk", run(*STUCK, Leg(1000))),
    "gap": ("uk", run(Leg(1000), *STUCK, Leg(1000))),
    "last clip": ("uk", run(Leg(1000), *STUCK)),
    "taper thread": ("us", run(Leg(2000), conduit="imc-1")),
    "thread not known": ("uk", run(Leg(2000), conduit=Conduit(own_outside_diameter=Mm(22.3)))),
}


def findings(name: str) -> list[Finding]:
    pack, facts = TOLD[name]
    return judge(RulePack(pack), facts)[0]


def said(name: str, rule: str, units: Units = Units.MM, dialect: Dialect = Dialect.UK) -> str:
    pack, facts = TOLD[name]
    return " ".join(sentence(finding, units, dialect) for finding in found(pack, facts, rule))


def test_every_rule_is_told_by_one_of_the_runs_here() -> None:
    assert {finding.rule for name in TOLD for finding in findings(name)} == set(judged.SENTENCES)


def test_every_case_of_a_rule_is_told_by_one_of_the_runs_here() -> None:
    figures = [finding.figures for name in TOLD for finding in findings(name)]
    assert {each["case"] for each in figures if "case" in each} == {
        "cable",
        "wall",
        "stretch",
        "conduit",
        "over",
        "fits",
    }
    assert {each["missed"] for each in figures if "missed" in each} == {"first", "gap", "last", "none"}


@pytest.mark.parametrize(("units", "dialect"), list(product(Units, Dialect)))
@pytest.mark.parametrize("name", TOLD)
def test_every_finding_has_a_whole_sentence_in_any_units_and_words(
    name: str, units: Units, dialect: Dialect
) -> None:
    for finding in findings(name):
        text = sentence(finding, units, dialect)
        assert text[0].isupper() or text[0].isdigit()
        assert text.endswith(".")
        assert "\n" not in text
        assert "  " not in text
        assert "_" not in text  # no word of the code
        assert "None" not in text
        other = {Units.MM: r"\d in\b", Units.INCH: r"\d mm\b"}[units]
        assert not re.search(other, text), text
        assert not re.search(r"\d\.\d", text), text  # a tape reads whole millimetres or sixteenths


@pytest.mark.parametrize("name", TOLD)
def test_no_finding_promises_what_only_local_codes_and_people_can(name: str) -> None:
    for finding, dialect in product(findings(name), Dialect):
        text = sentence(finding, Units.MM, dialect).casefold()
        assert not re.search(r"\bsafe|approv|complian|complies", text)


@pytest.mark.parametrize("name", TOLD)
def test_figures_of_a_finding_are_named_with_their_unit(name: str) -> None:
    for finding in findings(name):
        for figure, value in finding.figures.items():
            if isinstance(value, float):
                assert figure.endswith(("_mm", "_deg", "_in2")) or figure == "taper", (figure, value)


def test_british_and_us_words_are_told_apart() -> None:
    assert "3 saddles, at most 1750 mm apart on the level and 2000 mm upright" in said(
        "clips of steel", "support-spacing"
    )
    assert "1 saddle," in said("one clip", "support-spacing")
    american = said("clips of rigid", "support-spacing", Units.INCH, Dialect.US)
    assert (
        american == "3 straps, at most 120 in apart, 240 in on a straight, within 36 in of each box or end."
    )
    assert "240 in" not in said("clips of tubing", "support-spacing", Units.INCH, Dialect.US)
    assert "draw-in box" in said("third right angle", "total-bend")
    assert "pull box" in said("over 360", "total-bend", dialect=Dialect.US)
    assert "earthing" in said("one clip", "bonding")
    assert "grounding" in said("one clip", "bonding", dialect=Dialect.US)
    assert "couplings" in said("running thread", "running-thread", dialect=Dialect.US)


def test_a_radius_is_told_beside_its_least() -> None:
    text = said("inside radius", "bend-radius")
    assert "throat of the bends has a radius of 45 mm" in text  # 55.4 - 10
    assert "50 mm or more" in text
    text = said("centreline radius", "bend-radius", Units.INCH, Dialect.US)
    assert "4 3/4 in at the centerline" in text  # 120.7 mm is 76.03 sixteenths
    assert "5 3/4 in or more" in text
    assert "121 mm at the centreline" in said("no trade size", "bend-radius")


def test_a_figure_that_reads_like_its_limit_is_told_as_just_past_it() -> None:
    facts = run(Leg(900), Turn(90), Leg(900), radius=59.8)
    (finding,) = found("uk", facts, "bend-radius")
    assert "a radius of just under 50 mm" in sentence(finding, Units.MM, Dialect.UK)
    facts = run(*[Leg(900), Turn(90)] * 2, Leg(900), Turn(0.02), Leg(900))
    (finding,) = found("uk", facts, "total-bend")
    assert "come to just over 180°" in sentence(finding, Units.MM, Dialect.UK)
    (finding,) = found("uk", run(Leg(10_000.3)), "draw-in-distance")
    assert "It is just over 10000 mm from" in sentence(finding, Units.MM, Dialect.UK)


def test_places_are_named_as_a_person_counts_them() -> None:
    assert "from fitting 1 to the finish of the run" in said("far apart", "draw-in-distance")
    text = said("short end", "end-straight")
    assert "The straight at the start of the run is 21 mm" in text
    assert "The straight at fitting 1 is 17 mm" in text
    assert "Cable 1 of the list" in said("no factor", "cable-capacity")


def test_need_and_allowance_of_cables_are_told_both_ways_round() -> None:
    text = said("factors over", "cable-capacity")
    # 9 x 58 of 460; 25 mm has 800
    assert "need a factor of 522, and the conduit has 460" in text
    assert "Size 25 is the smallest in the table that takes them." in text
    assert "No size in the table takes them" in said("factors over all", "cable-capacity")
    # 5 x 30; 2999 + 114.67 + 812.3 mm and a bend read at 4 m: 256; 256 / 30 is 8.5
    text = said("factors fit", "cable-capacity")
    assert "need a factor of 150, and the conduit has 256" in text
    assert "3926 mm with 1 bend." in text
    assert "room for 8 of them" in text
    assert "room for" not in said("factors of many fit", "cable-capacity")
    assert "with 6 bends, " in said("beyond the tables", "cable-capacity")
    assert "no cable capacity is tabulated" in said("no conduit factor", "cable-capacity")


def test_conductors_are_told_by_count_where_they_are_equal_and_by_share_where_not() -> None:
    text = said("equal over", "cable-capacity")
    assert text == (
        "There are 17 conductors, and room for 16. EMT 1 is the smallest in the table that takes them."
    )
    # 60 % of 0.304 over 0.0133 is 13.7
    assert "room for 13 as a nipple. EMT 3/4 is" in said("equal over in a nipple", "cable-capacity")
    assert said("equal fit", "cable-capacity") == "There are 17 conductors, and room for 26."
    # 0.2683 of 0.586 is 45.8 %; of 3.408 it is 7.9 %
    text = said("unlike over", "cable-capacity")
    assert "The 4 conductors take 46 % of the inside of the conduit, and 40 % is allowed." in text
    assert "IMC 1 is the smallest" in text
    assert "take 8 % of the inside" in said("unlike fit", "cable-capacity")


def test_clips_that_cannot_stand_as_they_should_say_how_near_they_come() -> None:
    # three arcs of 1186.82 and straights of 30
    assert "The first saddle stands 3670 mm from the box or end here, where 300 mm" in said(
        "first clip", "support-spacing"
    )
    assert "Two saddles stand 3690 mm apart here, where 1750 mm is the most" in said("gap", "support-spacing")
    assert "The last saddle stands 3670 mm from" in said("last clip", "support-spacing")
    assert "No saddle finds room" in said("no clip", "support-spacing")


def test_a_reminder_of_threads_tells_their_length_and_taper_where_known() -> None:
    assert "threaded, 1 in of thread:" in said("taper thread", "thread-reminder", Units.INCH, Dialect.US)
    assert "tapered" in said("taper thread", "thread-reminder")
    assert "tapered" not in said("one clip", "thread-reminder")
    assert "is threaded: cut square" in said("thread not known", "thread-reminder")
