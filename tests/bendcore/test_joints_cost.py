"""Splits at least cost: judged by trying every place on a grid, by their rules, and by hand."""

import random
from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from independent import splits
from independent.routes import examples
from independent.splits import Costs, Made, Stretch

from bendcore import joints
from bendcore.errors import NoJoint, OutOfRange
from bendcore.joints import JointKind, Split, Splitting, split
from bendcore.spec import CostsAsked, FitFrom, StockAsked

# mm. What the contract allows a stick over stock; rounding of chains stays below it.
FITS_WITHIN = 1e-6
# In the unit of the costs. Costs are compared to this.
COSTS_ALIKE = 1e-5
# mm for each step of the grid: the shortest stock the contract takes is then twenty steps.
STEP = 5.0


def how_of(asked: Stretch, step: float) -> Splitting:
    """The engine's words for a stretch of so many mm a unit."""
    costs = asked.costs
    return Splitting(
        lengths=tuple(StockAsked(length * step, ends, count) for length, ends, count in asked.blanks),
        threaded=asked.threaded,
        clearance=asked.clearance * step,
        min_piece=asked.min_piece * step,
        gap=asked.gap * step,
        costs=CostsAsked(
            stick=float(costs.stick),
            metre=float(costs.metre * 1000) / step,
            cut=float(costs.cut),
            thread=float(costs.thread),
            coupler=float(costs.coupler),
            running_coupler=float(costs.closing) if asked.running else 0.0,
            union=0.0 if asked.running else float(costs.closing),
            handling=float(costs.handling),
        ),
        long_thread=asked.long_thread * step if asked.running else 0.0,
        closing=JointKind.RUNNING_COUPLER if asked.running else JointKind.UNION,
        closing_gap=asked.closing_gap * step,
        fit_from=FitFrom(asked.order),
        needs_thread=asked.end_threads,
    )


def split_of(asked: Stretch, step: float, **changes: Any) -> Split | None:
    """What the engine answers; None where it finds no joints."""
    bends = [(begin * step, finish * step) for begin, finish in asked.bends]
    try:
        return split(
            bends,
            asked.length * step,
            how=replace(how_of(asked, step), **changes),
            wheres=[f"route.points[{n}]" for n in range(1, len(bends) + 1)],
        )
    except NoJoint:
        return None


def made_of(found: Split, step: float) -> Made:
    return Made(
        tuple(
            (joint.at / step, joint.kind is not JointKind.COUPLER, joint.gap / step, joint.long_thread or "")
            for joint in found.joints
        ),
        tuple((blank.length / step, blank.offcut, blank.cuts, blank.threads) for blank in found.blanks),
        found.meeting,
    )


COST = st.sampled_from((0, 0, 1, 3, 7, 40)).map(Fraction)


@st.composite
def stretches(draw: st.DrawFn) -> Stretch:
    """Small stretches by whole steps, of all kinds."""
    at, bends = 0, []
    for _ in range(draw(st.integers(0, 6))):
        begin = at + draw(st.integers(0, 4) | st.integers(5, 28))
        at = begin + draw(st.integers(1, 2))
        bends.append((begin, at))
    blanks = draw(
        st.lists(
            st.tuples(st.integers(20, 40), st.integers(0, 2), st.sampled_from((None, None, 1, 2, 3))),
            min_size=1,
            max_size=3,
        )
    )
    gap = draw(st.integers(0, 1))
    threaded, running = draw(st.integers(0, 3)) > 0, draw(st.booleans())
    return Stretch(
        at + draw(st.integers(1, 4) | st.integers(1, 30)),
        tuple(bends),
        tuple(blanks),
        threaded=threaded,
        clearance=draw(st.sampled_from((0, 1, 2, 5))),
        min_piece=draw(st.sampled_from((1, 2, 6)) | st.integers(1, max(length for length, *_ in blanks))),
        gap=gap,
        closing_gap=gap if running or not threaded else draw(st.integers(0, 2)),
        running=running,
        long_thread=draw(st.sampled_from((0, 1, 3, 6))) if running else 0,
        order=draw(st.sampled_from(("start", "finish", "both"))),
        end_threads=(draw(st.booleans()), draw(st.booleans())),
        costs=Costs(
            stick=draw(COST),
            metre=draw(COST) * draw(st.sampled_from((Fraction(1, 200), Fraction(1, 4)))),
            cut=draw(COST),
            thread=draw(COST),
            coupler=draw(COST),
            closing=draw(COST),
            handling=draw(COST),
        ),
    )


@given(asked=stretches())
@examples(100)
def test_no_split_on_any_grid_place_costs_less_and_ties_go_to_few_sticks_few_cuts_and_far_joints(
    asked: Stretch,
) -> None:
    best = splits.least_cost_on_a_grid(asked)
    found = split_of(asked, STEP)
    if best is None:
        assert found is None
        return
    assert found is not None
    assert found.cost is not None
    if not found.searched:
        assert found.cost >= float(best[0]) - COSTS_ALIKE
        return
    assert found.cost == pytest.approx(float(best[0]), abs=COSTS_ALIKE)
    assert (found.sticks, found.cuts) == best[1:3]
    assert [joint.at for joint in found.joints] == pytest.approx(
        [at * STEP for at in best[3]], abs=FITS_WITHIN
    )


@given(asked=stretches())
@examples(100)
def test_without_costs_ties_alone_speak(asked: Stretch) -> None:
    best = splits.least_cost_on_a_grid(replace(asked, costs=Costs()))
    found = split_of(asked, STEP, costs=None)
    if best is None:
        assert found is None
        return
    assert found is not None
    assert found.cost is None
    assert found.sticks == best[1]
    if found.searched:
        assert found.cuts == best[2]
        assert [joint.at for joint in found.joints] == pytest.approx(
            [at * STEP for at in best[3]], abs=FITS_WITHIN
        )


def site_run(seed: int, most_bends: int) -> Stretch:
    """A run as on site, in mm, its lengths no round figures."""
    rng = random.Random(seed)
    at, bends = 0.0, []
    for _ in range(rng.randint(0, most_bends)):
        begin = at + rng.uniform(0.0, 2500.0)
        at = begin + rng.choice((114.668131856027, 57.334065928014, 38.222710618676))
        bends.append((begin, at))
    bought = rng.choice(((3750.0, 2, None), (3048.0, 2, None), (6000.0, 0, None)))
    offcuts = [
        (rng.uniform(300.0, 2900.0), rng.randint(0, 2), rng.choice((1, 2))) for _ in range(rng.randint(0, 2))
    ]
    running = rng.random() < 0.7
    gap = rng.choice((0.0, 2.4))
    threaded = rng.random() < 0.8

    def cost() -> Fraction:
        return Fraction(rng.choice((0.0, 0.5, 1.25, 3.0, 12.0)))

    return Stretch(
        at + rng.uniform(1.0, 4000.0),
        tuple(bends),
        (bought, *offcuts),
        threaded=threaded,
        clearance=rng.choice((0.0, 60.0, 120.0)),
        min_piece=rng.choice((1.0, 150.0, 700.0)),
        gap=gap,
        closing_gap=gap if running or not threaded else rng.choice((gap, 31.5)),
        running=running,
        long_thread=rng.choice((0.0, 70.0)) if running else 0.0,
        order=rng.choice(("start", "finish", "both")),
        end_threads=(rng.random() < 0.5, rng.random() < 0.5),
        costs=Costs(cost(), cost() / 1000, cost(), cost(), cost(), cost(), cost()),
    )


@given(seed=st.integers(0, 2**32))
@examples(100)
def test_a_split_keeps_every_rule_and_its_cost_is_that_of_its_parts(seed: int) -> None:
    asked = site_run(seed, 9)
    found = split_of(asked, 1.0)
    assume(found is not None)
    assert found is not None
    made = made_of(found, 1.0)
    assert splits.faults(asked, made, close=2 * FITS_WITHIN) == []
    assert found.cost == pytest.approx(float(splits.cost_of(asked, made)), abs=COSTS_ALIKE)


@given(seed=st.integers(0, 2**32))
@examples(100)
def test_a_run_split_from_its_other_end_costs_the_same(seed: int) -> None:
    asked = site_run(seed, 9)
    found, other = split_of(asked, 1.0), split_of(splits.turned_round(asked), 1.0)
    if found is None or other is None:
        assert found is other
        return
    assume(found.searched and other.searched)
    assert other.cost == pytest.approx(found.cost, abs=COSTS_ALIKE)
    assert other.sticks == found.sticks
    # Where an offcut fits all but whole, what it saves and a cut may weigh alike, and either may be found.
    if not any(blank.offcut for blank in (*found.blanks, *other.blanks)):
        assert other.cuts == found.cuts


@given(seed=st.integers(0, 2**32))
@examples(50)
def test_where_too_many_places_are_worth_a_joint_a_split_is_found_still_and_none_of_fewer_sticks(
    seed: int,
) -> None:
    asked = replace(site_run(seed, 30), costs=Costs())
    full = split_of(asked, 1.0, costs=None)
    with pytest.MonkeyPatch.context() as patch:
        for name in ("_PLACES", "_PLACES_A_STRAIGHT", "_PLACES_A_STICK", "_LEAST_PLACES"):
            patch.setattr(joints, name, 0)
        found = split_of(asked, 1.0, costs=None)
    if full is None or found is None:
        assert found is full
        return
    assert splits.faults(asked, made_of(found, 1.0), close=2 * FITS_WITHIN) == []
    if full.searched:
        assert found.sticks == full.sticks


# ---------------------------------------------------------------------------------------------------- by hand


def straight(length: float, lengths: Sequence[StockAsked], **changes: Any) -> Split:
    return parted([], length, lengths, **changes)


def parted(
    bends: Sequence[tuple[float, float]], length: float, lengths: Sequence[StockAsked], **changes: Any
) -> Split:
    how = {
        "threaded": True,
        "clearance": 100.0,
        "min_piece": 150.0,
        "gap": 0.0,
        "closing_gap": 0.0,
        **changes,
    }
    wheres = [f"route.points[{n}]" for n in range(1, len(bends) + 1)]
    return split(bends, length, how=Splitting(lengths=tuple(lengths), **how), wheres=wheres)


def ends(found: Split) -> list[float]:
    return [joint.at for joint in found.joints]


def sides(found: Split) -> list[tuple[str, str | None]]:
    return [(joint.kind.value, joint.long_thread) for joint in found.joints]


BOUGHT = StockAsked(3000.0)


def test_the_parts_of_a_cost_add_up() -> None:
    # 7000 from 3000 with 2 between: 3000, 3000 and 996; whole, whole, one cut. Both whole lengths have their
    # factory threads; the last has one left of two, and its far end wants none: no thread is cut.
    # 3 sticks at 5, 6.996 m at 2, 1 cut at 1.5, 2 couplers at 0.75: 15 + 13.992 + 1.5 + 1.5.
    found = straight(
        7000.0, [BOUGHT], gap=2.0, closing_gap=2.0,
        costs=CostsAsked(stick=5.0, metre=2.0, cut=1.5, thread=4.0, coupler=0.75),
    )  # fmt: skip
    assert ends(found) == [3000.0, 6002.0]
    assert found.cost == pytest.approx(31.992, abs=1e-12)
    assert [(blank.cuts, blank.threads) for blank in found.blanks] == [(0, 0), (0, 0), (1, 0)]


@pytest.mark.parametrize(
    ("needs", "whole", "cut"),
    [((False, False), 0, 0), ((True, False), 0, 0), ((False, True), 0, 1), ((True, True), 0, 1)],
)
def test_a_cut_takes_one_factory_thread_off(needs: tuple[bool, bool], whole: int, cut: int) -> None:
    found = straight(4000.0, [BOUGHT], needs_thread=needs, costs=CostsAsked(stick=1.0))
    assert [blank.threads for blank in found.blanks] == [whole, cut]


def test_conduit_bought_without_threads_has_every_thread_cut() -> None:
    found = straight(4000.0, [StockAsked(3000.0, 0)], needs_thread=(True, True))
    assert [blank.threads for blank in found.blanks] == [2, 2]
    assert [blank.threads for blank in straight(4000.0, [BOUGHT], threaded=False).blanks] == [0, 0]


def test_an_offcut_is_used_where_it_saves_more_than_its_joint_and_its_cut() -> None:
    offcut = StockAsked(1400.0, 1, 1)
    # 3900: 3000 whole and 900 of the offcut cost 12 for conduit and 1 for the cut; 2500 and the offcut whole
    # cost 10 and 1.
    costs = CostsAsked(metre=4.0, cut=1.0)
    found = straight(3900.0, [BOUGHT, offcut], costs=costs)
    assert ends(found) == [2500.0]
    assert found.cost == pytest.approx(11.0, abs=1e-12)
    assert [(blank.length, blank.offcut, blank.cuts) for blank in found.blanks] == [
        (3000.0, False, 1),
        (1400.0, True, 0),
    ]
    # A run that fits one length is parted where the offcut saves more than a coupler.
    assert ends(straight(2500.0, [BOUGHT, offcut], costs=CostsAsked(metre=4.0, coupler=5.5))) == [1400.0]
    assert ends(straight(2500.0, [BOUGHT, offcut], costs=CostsAsked(metre=4.0, coupler=5.7))) == []


def test_an_offcut_that_cannot_be_whole_is_used_as_long_as_it_can() -> None:
    # Bends follow one another but for a straight where joints stand from 3200 to 4400. The first stick ends
    # by 3250, the last begins at 3750 at the least: three sticks, and the one between from the offcut.
    # Its start is drawn back to 3200.
    bends = [(150.0 * n + 50.0, 150.0 * n + 100.0) for n in range(20)]
    bends += [
        (3000.0, 3100.0),
        *((4500.0 + 150.0 * n, 4600.0 + 150.0 * n) for n in range(16)),
        (6900.0, 6950.0),
    ]
    found = parted(
        bends, 7000.0, [StockAsked(3250.0), StockAsked(1400.0, 2, 1)],
        threaded=False, costs=CostsAsked(stick=2.0, metre=5.0),
    )  # fmt: skip
    assert ends(found) == [3200.0, 4400.0]
    assert [blank.offcut for blank in found.blanks] == [False, True, False]
    # 3 at 2, and 3.2 m and 2.6 m at 5.
    assert found.cost == pytest.approx(35.0, abs=1e-12)


def test_an_offcut_with_a_count_of_one_is_used_once() -> None:
    offcut = StockAsked(1400.0, 1, 1)
    found = straight(5000.0, [BOUGHT, offcut], costs=CostsAsked(metre=1.0, stick=0.1))
    assert sum(blank.offcut for blank in found.blanks) == 1
    twice = straight(5000.0, [BOUGHT, offcut, offcut], costs=CostsAsked(metre=1.0, stick=0.1))
    assert sum(blank.offcut for blank in twice.blanks) == 2


def test_of_blanks_that_cost_the_same_an_offcut_comes_first_then_the_shortest_that_does() -> None:
    lengths = [
        BOUGHT,
        StockAsked(1000.0),
        StockAsked(2000.0),
        StockAsked(2900.0, 1, 1),
        StockAsked(2500.0, 1, 1),
    ]
    (blank,) = straight(900.0, lengths).blanks
    assert (blank.length, blank.offcut) == (2500.0, True)
    (blank,) = straight(900.0, lengths[:3]).blanks
    assert (blank.length, blank.offcut, blank.cuts) == (1000.0, False, 1)
    (blank,) = straight(2000.0, lengths).blanks
    assert (blank.length, blank.offcut, blank.cuts) == (2000.0, False, 0)


def test_a_whole_length_can_lose_to_a_factory_thread() -> None:
    # 2000 whole has no thread and wants two; of 3000 one is left, and a cut is cheaper than a thread.
    lengths = [BOUGHT, StockAsked(2000.0, 0)]
    (blank,) = straight(
        2000.0, lengths, needs_thread=(True, True), costs=CostsAsked(cut=1.0, thread=1.5)
    ).blanks
    assert (blank.length, blank.cuts, blank.threads) == (3000.0, 1, 1)


# One bend from 3500 to 3600 of 5000: from lengths of 3000 the second stick has it.
ONE_BEND = [(3500.0, 3600.0)]


@pytest.mark.parametrize(
    ("fit_from", "kind"),
    [(FitFrom.START, "running_coupler"), (FitFrom.FINISH, "coupler"), (FitFrom.BOTH, "running_coupler")],
)
def test_a_joint_closes_where_the_stick_that_comes_after_it_in_fitting_has_bends(
    fit_from: FitFrom, kind: str
) -> None:
    found = parted(ONE_BEND, 5000.0, [BOUGHT], fit_from=fit_from)
    assert ends(found) == [3000.0]
    assert [joint.kind.value for joint in found.joints] == [kind]
    assert found.meeting == (0 if fit_from is FitFrom.BOTH else None)


def test_plain_conduit_closes_nowhere() -> None:
    found = parted(ONE_BEND, 5000.0, [BOUGHT], threaded=False, fit_from=FitFrom.BOTH)
    assert sides(found) == [("coupler", None)]
    assert found.meeting is None


def test_a_dear_closing_joint_is_spared_by_parting_behind_the_bend() -> None:
    # From 4000: a whole first length has the bend, and the joint behind it need not close; a whole last one,
    # from 1000 on, has it behind a joint that must.
    found = parted(ONE_BEND, 5000.0, [StockAsked(4000.0)], costs=CostsAsked(running_coupler=9.0, coupler=1.0))
    assert (ends(found), sides(found)) == ([4000.0], [("coupler", None)])
    found = parted(ONE_BEND, 5000.0, [StockAsked(4000.0)], costs=CostsAsked(running_coupler=1.0, coupler=9.0))
    assert (ends(found), sides(found)) == ([1000.0], [("running_coupler", "after")])


# Between these bends, 100 clear of them, a joint stands from 1200 to 1400.
TWO_BENDS = [(1000.0, 1100.0), (1500.0, 1600.0)]


def test_a_long_thread_wants_its_length_beside_the_clearance() -> None:
    # 150 on the stick before the joint wants 1350 at least, on the one after it 1250 at the most.
    found = parted(TWO_BENDS, 2700.0, [StockAsked(1400.0)], long_thread=150.0)
    assert (ends(found), sides(found)) == ([1400.0], [("running_coupler", "before")])
    found = parted(TWO_BENDS, 2450.0, [StockAsked(1250.0)], long_thread=150.0)
    assert (ends(found), sides(found)) == ([1250.0], [("running_coupler", "after")])
    # From 1300 it would stand at 1300, where there is no room, or a whole last one at 1250; with 151 neither.
    assert ends(parted(TWO_BENDS, 2550.0, [StockAsked(1300.0)], long_thread=150.0)) == [1250.0]
    assert parted(TWO_BENDS, 2550.0, [StockAsked(1300.0)], long_thread=151.0).sticks == 3


def test_of_two_sides_with_room_the_long_thread_goes_where_more_straight_lies_behind() -> None:
    bends = [(1000.0, 1100.0), (3500.0, 3600.0)]
    # At 3000: 1900 of straight before it, 500 after.
    assert sides(parted(bends, 5000.0, [BOUGHT]))[0] == ("running_coupler", "before")
    # At 2000 of a stock of 2000: 900 before, 1500 after.
    assert sides(parted(bends, 3900.0, [StockAsked(2000.0)]))[0] == ("running_coupler", "after")


def test_of_two_sides_alike_the_long_thread_goes_on_the_stick_fitted_earlier() -> None:
    # At 2300 lie 1200 before it, from 1100, and 1200 after it, to 3500.
    bends = [(1000.0, 1100.0), (3500.0, 3600.0)]
    for fit_from, side in ((FitFrom.START, "before"), (FitFrom.FINISH, "after")):
        found = parted(bends, 4600.0, [StockAsked(2300.0)], fit_from=fit_from)
        assert (ends(found), sides(found)) == ([2300.0], [("running_coupler", side)])


def test_a_long_thread_costs_a_thread_where_a_factory_thread_would_have_done() -> None:
    # Both sticks have a bend and are whole: both ends at the joint have factory threads, and one is cut long.
    bends = [(1000.0, 1100.0), (3500.0, 3600.0)]
    found = parted(bends, 6000.0, [BOUGHT], costs=CostsAsked(thread=2.0))
    assert [blank.threads for blank in found.blanks] == [1, 0]
    assert found.cost == 2.0
    # Where the second stick is cut and needs a thread at its far end too, one of its two ends has none: there
    # the long thread costs nothing more than the one that is cut anyway.
    found = parted(bends, 5900.0, [BOUGHT], costs=CostsAsked(thread=2.0), needs_thread=(False, True))
    assert sides(found) == [("running_coupler", "after")]
    assert [blank.threads for blank in found.blanks] == [0, 1]


def test_a_union_adds_its_own_gap() -> None:
    found = parted(ONE_BEND, 5000.0, [BOUGHT], closing=JointKind.UNION, closing_gap=30.0)
    assert [(joint.at, joint.kind, joint.gap) for joint in found.joints] == [(3000.0, JointKind.UNION, 30.0)]
    # 100 clear of the bend its last place is 3370, and a length of 3500 reaches from its far side to 6900.
    union: dict[str, Any] = {"closing": JointKind.UNION, "closing_gap": 30.0}
    assert ends(parted(ONE_BEND, 6900.0, [StockAsked(3500.0)], **union)) == [3370.0]
    assert parted(ONE_BEND, 6901.0, [StockAsked(3500.0)], **union).sticks == 3


def test_fitting_from_both_ends_meets_as_early_as_costs_the_same() -> None:
    # Nothing bends, so one joint of three closes, whichever.
    found = straight(
        7000.0, [StockAsked(2000.0)], fit_from=FitFrom.BOTH, costs=CostsAsked(running_coupler=3.0)
    )
    assert found.meeting == 0
    assert [kind for kind, _ in sides(found)] == ["running_coupler", "coupler", "coupler"]
    assert found.cost == 3.0


def test_fitting_from_both_ends_needs_no_joint_to_meet_at_where_one_stick_does() -> None:
    found = straight(2500.0, [BOUGHT], fit_from=FitFrom.BOTH)
    assert (found.joints, found.meeting) == ((), None)


# ----------------------------------------------------------------------------------------- what is in the way


def told(
    bends: Sequence[tuple[float, float]], length: float, lengths: Sequence[StockAsked], **changes: Any
) -> tuple[str, Mapping[str, Any]]:
    with pytest.raises(NoJoint) as problem:
        parted(bends, length, lengths, **changes)
    return problem.value.where, problem.value.figures


def test_too_few_offcuts_are_told_of_the_stock() -> None:
    where, figures = told([], 5000.0, [StockAsked(2000.0, 2, 2)])
    assert (where, figures["developed_mm"]) == ("conduit.stock", 5000.0)
    assert straight(5000.0, [StockAsked(2000.0, 2, 3)]).sticks == 3


def test_a_joint_that_must_close_and_has_no_room_is_told_of_what_it_wants() -> None:
    # From lengths of 700 a joint must stand between the bends, in 200 of room, before a stick with a bend.
    short = [StockAsked(700.0)]
    assert 1400.0 in ends(parted(TWO_BENDS, 1900.0, short, long_thread=200.0))
    where, figures = told(TWO_BENDS, 1900.0, short, long_thread=200.5)
    assert (where, figures["stock_mm"]) == ("joints.long_thread", 700.0)
    union: dict[str, Any] = {"closing": JointKind.UNION}
    assert 1200.0 in ends(parted(TWO_BENDS, 1900.0, short, closing_gap=200.0, **union))
    where, _ = told(TWO_BENDS, 1900.0, short, closing_gap=200.5, **union)
    assert where == "joints.union_gap"


def test_more_remainders_of_offcuts_than_can_be_searched_are_refused_with_what_is_allowed() -> None:
    # (15 + 1) x (16 + 1) = 272; 16 x 16 = 256 is allowed.
    offcuts = [StockAsked(400.0, 2, 15), StockAsked(600.0, 2, 16)]
    with pytest.raises(OutOfRange) as problem:
        straight(9000.0, [BOUGHT, *offcuts])
    assert problem.value.where == "conduit.stock"
    assert (problem.value.figures["remainders"], problem.value.figures["at_most"]) == (272, 256)
    assert straight(9000.0, [BOUGHT, offcuts[0], StockAsked(600.0, 2, 15)]).sticks == 3


def test_a_run_of_many_bends_is_searched_for_fewer_remainders() -> None:
    # 64 straights: 8192 / 64 = 128, and (3 + 1) x (31 + 1) of them; one more of the first makes 160.
    bends = [(1000.0 * n, 1000.0 * n + 100.0) for n in range(1, 64)]
    offcuts = [StockAsked(400.0, 2, 3), StockAsked(600.0, 2, 31)]
    assert parted(bends, 64000.0, [BOUGHT, *offcuts]).sticks > 21
    with pytest.raises(OutOfRange) as problem:
        parted(bends, 64000.0, [BOUGHT, StockAsked(400.0, 2, 4), offcuts[1]])
    assert (problem.value.figures["remainders"], problem.value.figures["at_most"]) == (160, 128)


def test_more_offcuts_than_a_run_can_use_count_as_no_more_than_that() -> None:
    # At most 26 pieces of 150 or more go into 4000.
    found = straight(4000.0, [BOUGHT, StockAsked(400.0, 2, 9000), StockAsked(900.0, 2, 9000)])
    assert found.sticks == 2
