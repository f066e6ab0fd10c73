"""Where clips go: worked places, what is kept clear, the fewest, and the laws of every run.

The laws are held by a judge of their own: it knows the spacings and the run, and nothing of how places are
found."""

import math
from itertools import pairwise

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from judged_runs import Box, Joint, Leg, Part, Turn, clips, found, run, told

from bendcore.catalogue import limits
from bendcore.rules import RunFacts, StraightAt
from bendcore.rules.supports import keep_off
from bendcore.spec import Conduit, Joining
from bendcore.units import Mm

FINE = 1e-5
"""mm: clips stand within a millionth of what halving a spacing finds; some of those are added up."""

DIAMETER, END, LEVEL, UPRIGHT = 20.0, 300.0, 1750.0, 2000.0
"""20 mm conduit, mm: App. D has 1.75 m level, 2 m upright (from memory); 300 from a box, common practice."""

BODY = 30.0
"""Two threads of 15 mm: as long as the coupler in which two ends meet."""


def places(*parts: Part, **others: str) -> list[float]:
    return [clip.along for clip in clips("uk", run(*parts, **others))]  # type: ignore[arg-type]


# -------------------------------------------------------------------------------------------- worked places


def test_a_straight_run_is_divided_evenly() -> None:
    # 5000 less 300 at each end leaves 4400: three spaces of 1466.67
    assert places(Leg(5000)) == pytest.approx([300.0, 1766.6667, 3233.3333, 4700.0], abs=1e-4)


def test_a_short_run_has_one_clip_near_enough_to_both_ends() -> None:
    (only,) = places(Leg(600))
    assert only == pytest.approx(300.0)
    first, last = places(Leg(601))
    assert (first, last) == pytest.approx((300.0, 301.0))


def test_level_and_upright_have_their_own_spacing() -> None:
    assert len(places(Leg(4600, "up"))) == 3  # 4000: two of 2000
    assert len(places(Leg(4600, "right"))) == 4  # 4000: three of 1333


def test_between_a_riser_and_a_level_straight_the_closer_spacing_counts() -> None:
    # 300 .. 2100 up, the bend of 114.67, then level: 1750 from the last clip below it at the most
    along = places(Leg(2000, "up"), Turn(90), Leg(2000))
    bend = 2000.0 + 73.0 * math.pi / 4.0
    (below, above) = max(at for at in along if at < bend), min(at for at in along if at > bend)
    assert above - below <= LEVEL + FINE
    assert len(along) == 4


def test_a_clip_tells_its_point_and_its_stick() -> None:
    facts = run(Leg(2000, "up"), Joint(), Leg(1000, "up"), Turn(90), Leg(1500))
    found_clips = clips("uk", facts)
    for clip in found_clips:
        (straight,) = (each for each in facts.straights if each.begin <= clip.along <= each.finish)
        assert clip.stick == straight.stick
        step = clip.along - straight.begin
        wanted = [start + step * way for start, way in zip(straight.start, straight.direction, strict=True)]
        assert clip.at == pytest.approx(wanted)
    assert [clip.from_ for clip in found_clips] == ["end-distance", "spacing", "spacing", "end-distance"]


def test_boxes_begin_the_count_again_and_bought_bends_do_not() -> None:
    boxed = places(Leg(1000), Box(length=60), Leg(1000))
    assert boxed == pytest.approx([300.0, 730.0, 1330.0, 1760.0])  # the box's middle at 1030
    bought = places(Leg(1000), Turn(90, radius=100, bought=True), Leg(1000))
    assert len(bought) == 2


# ------------------------------------------------------------------------------------- what is kept clear


def test_a_clip_keeps_a_diameter_from_bends_and_ends() -> None:
    # the last place before the bend is 280, the first after it 300 + 114.67 + 20
    along = places(Leg(300), Turn(90), Leg(400))
    assert along[0] <= 280.0 + FINE
    assert found("uk", run(Leg(300), Turn(90), Leg(400)), "support-spacing")[0].level == "note"


def test_a_clip_keeps_a_body_off_a_joint() -> None:
    # even places of 4400 in three would be 1766.67; the joint at 1770 keeps 1740 to 1800 free
    along = places(Leg(1770), Joint(), Leg(3230))
    assert len(along) == 4
    assert all(abs(at - 1770.0) >= BODY - FINE for at in along)
    assert max(after - before for before, after in pairwise(along)) == pytest.approx(1480.0, abs=0.01)


def test_how_far_a_clip_keeps_off_a_joint() -> None:
    def off(conduit: Conduit | str, kind: str = "coupler") -> float:
        facts = run(Leg(2000), Joint(kind), Leg(2000), conduit=conduit)
        return keep_off(facts, facts.joints[0])

    assert off("rmc-1") == pytest.approx(50.8)  # its coupling is 2 in at the least (ANSI C80.1, from memory)
    assert off("steel-25-heavy") == pytest.approx(36.0)  # two threads of 18 (IEC 60423, from memory)
    assert off("imc-1") == pytest.approx(2 * 24.892)  # two threads of 0.98 in (UL 6, from memory)
    assert off("emt-1") == pytest.approx(3 * 29.5402)  # three diameters of 1.163 in
    assert off("steel-63") == pytest.approx(189.0)
    assert off("rmc-1", "union") == off("rmc-1", "running_coupler") == pytest.approx(101.6)


# --------------------------------------------------------------------------------------- where none can stand


def test_no_place_near_enough_to_a_box_is_a_warning_with_the_nearest() -> None:
    # straights under 40 mm have no place; three bends of 114.67 and 100 mm of them, then 20 clear
    facts = run(Leg(30), Turn(90), Leg(35), Turn(90), Leg(35), Turn(90), Leg(3000))
    findings = found("uk", facts, "support-spacing")
    assert told(findings) == [("warn", "ends.start"), ("note", "route")]
    nearest = 100.0 + 3 * 73.0 * math.pi / 2.0 + DIAMETER
    assert findings[0].figures == {
        "missed": "first",
        "distance_mm": pytest.approx(nearest),
        "most_mm": END,
    }
    assert clips("uk", facts)[0].along == pytest.approx(nearest)


def test_a_gap_that_no_clip_can_part_is_a_warning_at_its_far_side() -> None:
    bends = [Turn(170, radius=400.0), Leg(30)] * 2  # 30 mm of straight between: no room for two diameters
    facts = run(Leg(1000), *bends, Turn(170, radius=400.0), Leg(1000))
    findings = found("uk", facts, "support-spacing")
    assert told(findings) == [("warn", "part[6]"), ("note", "route")]
    arc = 400.0 * math.radians(170.0)
    assert findings[0].figures == {
        "missed": "gap",
        "distance_mm": pytest.approx(3 * arc + 60.0 + 2 * DIAMETER),
        "most_mm": LEVEL,
    }


def test_no_place_near_the_last_box_is_a_warning() -> None:
    facts = run(Leg(1000), Turn(90, radius=400.0), Leg(30))
    findings = found("uk", facts, "support-spacing")
    assert told(findings) == [("warn", "ends.finish"), ("note", "route")]
    assert findings[0].figures["missed"] == "last"
    assert findings[0].figures["distance_mm"] == pytest.approx(20.0 + 200.0 * math.pi + 30.0)


def test_a_piece_too_short_for_a_clip_is_a_warning_without_a_distance() -> None:
    facts = run(Leg(1000), Box(), Leg(39), Box(), Leg(1000))
    findings = found("uk", facts, "support-spacing")
    assert told(findings) == [("warn", "part[1]"), ("note", "route")]
    assert findings[0].figures["missed"] == "none"
    assert findings[0].figures["distance_mm"] is None
    assert len(places(Leg(1000), Box(), Leg(41), Box(), Leg(1000))) == 5


def test_boxes_with_no_conduit_between_want_no_clip() -> None:
    facts = run(Leg(1000), Box(), Box(), Leg(1000))
    assert told(found("uk", facts, "support-spacing")) == [("note", "route")]


# --------------------------------------------------------------------------------------------------- the laws

CONDUITS = {
    # name: (pack, conduit, the most level, upright, across a bend, from an end)
    "uk 20": ("uk", "steel-20-heavy", LEVEL, UPRIGHT, UPRIGHT, END),
    "us emt": ("us", "emt-3/4", 3048.0, 3048.0, 3048.0, 914.4),
    "us rmc 2": ("us", "rmc-2", 16 * 304.8, 16 * 304.8, 3048.0, 914.4),
}


def most_between(
    facts: RunFacts, low: float, high: float, level: float, upright: float, across: float
) -> float:
    """The most that two clips may stand apart: the least of the straights they stand on or pass, and of what
    counts across a bend."""
    passed = [each for each in facts.straights if each.finish > low + FINE and each.begin < high - FINE]
    least = min(upright if abs(each.direction[2]) > 0.9962 else level for each in passed)
    bent = any(low < bend.along < high for bend in facts.bends)
    return min(least, across) if bent else least


@st.composite
def runs(draw: st.DrawFn) -> list[Part]:
    parts: list[Part] = []
    way = draw(st.sampled_from(["up", "right", "sloping"]))
    for _ in range(draw(st.integers(1, 7))):
        parts.append(Leg(draw(st.floats(60.0, 6000.0)), way))
        kind = draw(st.sampled_from(["bend", "bend", "joint", "union", "box", "bought"]))
        if kind == "bend":
            parts.append(Turn(draw(st.floats(5.0, 175.0))))
            way = draw(st.sampled_from(["up", "right", "in"]))
        elif kind == "bought":
            parts.append(Turn(90.0, radius=200.0, bought=True))
            way = draw(st.sampled_from(["up", "right", "in"]))
        elif kind == "box":
            parts.append(Box(length=draw(st.floats(0.0, 120.0))))
        else:
            parts.append(Joint("union" if kind == "union" else "coupler"))
    return [*parts, Leg(draw(st.floats(60.0, 6000.0)), way)]


@pytest.mark.parametrize("name", CONDUITS)
@given(parts=runs())
@example(parts=[Leg(94.0), Joint(), Leg(60.0), Joint("union"), Leg(60.0)])  # 2026-11-25
def test_clips_keep_every_rule_wherever_no_warning_says_otherwise(name: str, parts: list[Part]) -> None:
    pack, conduit, level, upright, across, end = CONDUITS[name]
    facts = run(*parts, conduit=conduit, radius=150.0)
    findings = found(pack, facts, "support-spacing")
    along = [clip.along for clip in clips(pack, facts)]
    diameter = facts.conduit.outside_diameter
    assert along == sorted(along)
    for at in along:
        (on,) = (
            each
            for each in facts.straights
            if each.begin + diameter - FINE <= at <= each.finish - diameter + FINE
        )
        assert on
        for joint in facts.joints:
            low, high = sorted((joint.along, at))
            boxed = any(low < each.along < high for each in facts.terminations if each.kind != "bought_bend")
            assert boxed or abs(joint.along - at) >= keep_off(facts, joint) - FINE
    warned = [each.figures["distance_mm"] for each in findings if each.figures.get("missed")]
    ends = [each for each in facts.terminations if each.kind != "bought_bend"]
    for before, after in pairwise(ends):
        inside = [at for at in along if before.along <= at <= after.along]
        if not inside:
            assert None in warned
            continue
        for distance in (inside[0] - before.along, after.along - inside[-1]):
            assert distance <= end + FINE or any(
                each == pytest.approx(distance, abs=FINE) for each in warned if each is not None
            )
        for one, other in pairwise(inside):
            most = most_between(facts, one, other, level, upright, across)
            assert other - one <= most + FINE or any(
                each == pytest.approx(other - one, abs=FINE) for each in warned if each is not None
            )


def fewest_on_a_grid(facts: RunFacts, step: float) -> float:
    """The fewest clips of a single section with places every `step` mm; infinite where the grid has none."""
    length = facts.developed_length

    def on(at: float) -> StraightAt | None:
        for each in facts.straights:
            if each.begin + DIAMETER <= at <= each.finish - DIAMETER:
                return each if all(abs(joint.along - at) >= BODY for joint in facts.joints) else None
        return None

    grid = [step * index for index in range(int(length / step) + 1)]
    grid = [at for at in grid if on(at) is not None]
    best: list[float] = []
    for index, at in enumerate(grid):
        before = [
            best[other]
            for other in range(index)
            if at - grid[other] <= most_between(facts, grid[other], at, LEVEL, UPRIGHT, UPRIGHT)
        ]
        best.append(1.0 if at <= END else 1.0 + min(before, default=math.inf))
    return min((count for at, count in zip(grid, best, strict=True) if length - at <= END), default=math.inf)


@st.composite
def small_runs(draw: st.DrawFn) -> list[Part]:
    """Runs of one section whose legs are multiples of 50 mm, so that a grid of 10 mm tells much of them."""
    parts: list[Part] = []
    way = "right"
    for _ in range(draw(st.integers(0, 3))):
        parts.append(Leg(50.0 * draw(st.integers(1, 60)), way))
        if draw(st.booleans()):
            parts.append(Turn(draw(st.sampled_from([30.0, 90.0, 150.0]))))
            way = draw(st.sampled_from(["up", "right"]))
        else:
            parts.append(Joint())
    return [*parts, Leg(50.0 * draw(st.integers(1, 60)), way)]


@given(parts=small_runs())
def test_no_grid_of_places_does_with_fewer_clips(parts: list[Part]) -> None:
    facts = run(*parts)
    warned = any(each.figures.get("missed") for each in found("uk", facts, "support-spacing"))
    on_grid = fewest_on_a_grid(facts, 10.0)
    if warned:
        assert on_grid == math.inf
    else:
        assert len(clips("uk", facts)) <= on_grid


@given(length=st.floats(100.0, 60_000.0), way=st.sampled_from(["up", "right"]))
def test_a_straight_run_has_as_many_clips_as_spaces_and_one_more(length: float, way: str) -> None:
    most = UPRIGHT if way == "up" else LEVEL
    along = places(Leg(length, way))
    spaces = max(0, math.ceil((length - 2 * END) / most - 1e-9))
    assert len(along) == spaces + 1
    if spaces:
        wanted = (length - 2 * END) / spaces
        assert [after - before for before, after in pairwise(along)] == pytest.approx(
            [wanted] * spaces, abs=1e-3
        )


def test_a_long_run_with_many_joints_has_all_its_clips() -> None:
    # 100 joints; 378.75 m less 0.6 hold 216.1 spacings
    parts = [part for _ in range(100) for part in (Leg(3750.0), Joint())]
    along = places(*parts, Leg(3750.0))
    assert 218 <= len(along) <= 222  # one more than spaces, and a few for places that joints take
    assert max(after - before for before, after in pairwise(along)) <= LEVEL + FINE


def test_plain_conduit_by_its_own_figures_goes_as_emt() -> None:
    conduit = Conduit(own_outside_diameter=Mm(30.0), own_joining=Joining.PLAIN)
    (note,) = found("us", run(Leg(5000), conduit=conduit), "support-spacing")
    assert "358.30" in note.source
    (note,) = found("us", run(Leg(5000), conduit=Conduit(own_outside_diameter=Mm(30.0))), "support-spacing")
    assert "344.30" in note.source


def test_what_the_tables_of_limits_do_not_have_is_none_or_an_error() -> None:
    assert limits.spacing_us("emt", "1", "straight") is None
    assert limits.spacing_us("rmc", "5", "straight") is None
    assert limits.spacing_us("steel", None, "general") is None
    for asked in (("us", "steel", "total_deg"), ("uk", "rmc", "right_angles"), ("us", "emt", "draw_in_m")):
        with pytest.raises(KeyError):
            limits.bend_limit(*asked)


def test_the_size_of_a_row_of_the_british_table_is_its_upper_edge() -> None:
    told = [
        limits.spacing_uk(Mm(size), "horizontal").most for size in (16.0, 16.1, 25.0, 25.1, 40.0, 40.1, 90.0)
    ]
    assert told == [750.0, 1750.0, 1750.0, 2000.0, 2000.0, 2250.0, 2250.0]
