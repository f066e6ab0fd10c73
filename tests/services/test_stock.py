"""Stock: what a cut draws and leaves, and that it all moves back."""

from datetime import date
from decimal import Decimal

import pytest
from factories import House
from pieces import CONDUIT, made, send, state_of, tick, tick_in

from services.core.errors import IllegalMove, Invalid, NotAllowed
from services.stock import commands, queries, rules
from services.stock.models import Movement, Offcut, Price
from services.tracking import commands as tracking
from services.tracking.models import Tick

pytestmark = pytest.mark.django_db

# Full length 3750 mm (the catalogue's), kerf 2 mm, least offcut 300 mm: as a company is founded.


@pytest.mark.parametrize(
    ("cut", "source", "drawn", "rest"),
    [
        (1200.0, 3750.0, 1202.0, 2548.0),
        (3447.0, 3750.0, 3449.0, 301.0),
        (3448.0, 3750.0, 3450.0, 300.0),
        (3448.5, 3750.0, 3450.5, None),  # 299.5 is below the least that is kept
        (3750.0, 3750.0, 3750.0, None),  # nothing to saw off
        (3749.0, 3750.0, 3750.0, None),  # less than a kerf is left
        (3800.0, 3750.0, 3800.0, None),  # longer than it is said to be: the tape is right
    ],
)
def test_a_cut_draws_its_length_and_the_kerf_and_leaves_the_rest(
    cut: float, source: float, drawn: float, rest: float | None
) -> None:
    assert rules.drawn_mm(cut, kerf_mm=2.0, source_mm=source) == drawn
    assert rules.rest_mm(cut, kerf_mm=2.0, source_mm=source, least_mm=300.0) == rest


def moved() -> list[tuple[str, int, int, float]]:
    return [
        (each.kind, each.lengths, each.offcuts, each.length_mm)
        for each in Movement.objects.order_by("tick__number", "sequence")
    ]


def test_full_lengths_on_hand_are_the_sum_of_the_movements(scoped: House) -> None:
    commands.receive(actor=scoped.foreman, conduit=CONDUIT, lengths=10)
    pieces = made(scoped, 1200.0, 3700.0)
    for each in pieces:
        tick(scoped.electrician, each, "cut")
    (told,) = queries.on_hand()
    assert (told.conduit, told.lengths, told.offcuts, told.offcut_mm) == (CONDUIT, 8, 1, 2548.0)
    assert [each.label for each in queries.offcuts()] == ["R1"]
    assert queries.compare_projections() == []


def test_a_piece_cut_from_an_offcut_draws_no_full_length_and_keeps_the_rest_under_a_new_label(
    scoped: House,
) -> None:
    first, second = made(scoped, 1200.0, 2000.0)
    tick(scoped.electrician, first, "cut")
    tick(scoped.electrician, second, "cut", offcut="R1")
    assert moved() == [
        ("drawn", -1, 0, 1202.0),
        ("offcut kept", 0, 1, 0.0),
        ("offcut drawn", 0, -1, 2002.0),
        ("offcut kept", 0, 1, 0.0),
    ]
    assert [(each.label, each.length_mm) for each in queries.offcuts()] == [("R2", 546.0)]
    second.refresh_from_db()
    assert second.cut_from == "R1"
    assert queries.compare_projections() == []


def test_an_implied_cut_draws_too_and_its_own_tick_draws_nothing_more(scoped: House) -> None:
    piece = made(scoped, 1200.0)[0]
    tick(scoped.electrician, piece, "installed")
    before = moved()
    assert before == [("drawn", -1, 0, 1202.0), ("offcut kept", 0, 1, 0.0)]
    tick(scoped.electrician, piece, "cut")
    assert moved() == before
    tick(scoped.electrician, piece, "note", note="done")
    assert queries.compare_projections() == []


def test_the_late_tick_of_an_implied_cut_says_that_it_was_from_an_offcut(scoped: House) -> None:
    first, second = made(scoped, 1200.0, 2000.0)
    tick(scoped.electrician, first, "cut")
    tick(scoped.electrician, second, "bent")
    tick(scoped.electrician, second, "cut", offcut="R1")
    assert sum(Movement.objects.values_list("lengths", flat=True)) == -1
    assert [(each.label, each.length_mm) for each in queries.offcuts()] == [("R3", 546.0)]
    back = Tick.objects.filter(kind="cut", sequence__isnull=False).last()
    assert back is not None
    tracking.take_back(actor=scoped.foreman, tick_id=back.pk)
    assert state_of(second) == "bent"
    assert sum(Movement.objects.values_list("lengths", flat=True)) == -2
    assert [each.label for each in queries.offcuts()] == ["R4", "R1"]
    assert queries.compare_projections() == []


def test_a_cut_taken_back_is_moved_back_by_counter_movements_and_nothing_is_deleted(scoped: House) -> None:
    piece = made(scoped, 1200.0)[0]
    cut = tick(scoped.electrician, piece, "cut")
    tracking.take_back(actor=scoped.electrician, tick_id=cut.id)
    assert moved() == [
        ("drawn", -1, 0, 1202.0),
        ("offcut kept", 0, 1, 0.0),
        ("returned", 1, 0, -1202.0),
        ("returned", 0, -1, 0.0),
    ]
    assert queries.offcuts() == []
    assert queries.on_hand()[0].lengths == 0
    tick(scoped.electrician, piece, "cut")
    assert [each.label for each in queries.offcuts()] == ["R2"]
    assert queries.compare_projections() == []


def test_a_cut_whose_rest_was_used_is_not_taken_back(scoped: House) -> None:
    first, second = made(scoped, 1200.0, 2000.0)
    cut = tick(scoped.electrician, first, "cut")
    use = tick(scoped.electrician, second, "cut", offcut="R1")
    with pytest.raises(IllegalMove, match="R1"):
        tracking.take_back(actor=scoped.foreman, tick_id=cut.id)
    held = send(scoped.electrician, tick_in(first, "taken back", takes_back=cut.id, sequence=900))[0]
    assert (held.answer, held.reason) == ("held", "offcut-used")
    tracking.take_back(actor=scoped.electrician, tick_id=use.id)
    tick(
        scoped.electrician, first, "threaded"
    )  # a further tick of the piece: the held one is not the latest now
    assert state_of(first) == "cut"
    assert queries.compare_projections() == []


def test_what_is_saved_of_a_scrapped_piece_is_an_offcut_and_is_used_like_any(scoped: House) -> None:
    first, second = made(scoped, 1200.0, 500.0)
    tick(scoped.electrician, first, "bent")
    tick(scoped.electrician, first, "scrapped", cause="kinked", saved_mm=600)
    assert moved() == [
        ("drawn", -1, 0, 1202.0),
        ("offcut kept", 0, 1, 0.0),
        ("offcut kept", 0, 1, -600.0),
    ]
    assert [(each.label, each.length_mm, each.rest_of_id) for each in queries.offcuts()] == [
        ("R2", 600.0, first.pk),
        ("R1", 2548.0, first.pk),
    ]
    tick(scoped.electrician, second, "cut", offcut="R2")
    assert [each.label for each in queries.offcuts()] == ["R1"]
    assert queries.compare_projections() == []


@pytest.mark.parametrize(("saved", "kept"), [(300.0, ["R2", "R1"]), (299.9, ["R1"]), (0.0, ["R1"])])
def test_what_is_saved_and_shorter_than_the_least_offcut_is_not_kept(
    scoped: House, saved: float, kept: list[str]
) -> None:
    piece = made(scoped, 1200.0)[0]
    tick(scoped.electrician, piece, "scrapped", cause="kinked", saved_mm=saved)
    assert [each.label for each in queries.offcuts()] == kept
    assert queries.compare_projections() == []


def test_a_scrap_taken_back_takes_what_it_saved_out_of_stock_and_leaves_the_rest_of_the_cut(
    scoped: House,
) -> None:
    piece = made(scoped, 1200.0)[0]
    tick(scoped.electrician, piece, "cut")
    scrap = tick(scoped.electrician, piece, "scrapped", cause="kinked", saved_mm=600)
    tracking.take_back(actor=scoped.electrician, tick_id=scrap.id)
    assert moved()[2:] == [("offcut kept", 0, 1, -600.0), ("returned", 0, -1, 600.0)]
    assert [each.label for each in queries.offcuts()] == ["R1"]
    assert queries.compare_projections() == []


def test_a_scrap_and_the_cut_that_it_implied_are_taken_back_together(scoped: House) -> None:
    piece = made(scoped, 1200.0)[0]
    scrap = tick(scoped.electrician, piece, "scrapped", cause="kinked", saved_mm=600)
    tracking.take_back(actor=scoped.electrician, tick_id=scrap.id)
    assert queries.offcuts() == []
    assert queries.on_hand()[0].lengths == 0
    assert queries.compare_projections() == []


def test_a_scrap_of_which_the_saved_part_was_used_is_not_taken_back(scoped: House) -> None:
    first, second = made(scoped, 1200.0, 500.0)
    tick(scoped.electrician, first, "cut")
    scrap = tick(scoped.electrician, first, "scrapped", cause="kinked", saved_mm=600)
    use = tick(scoped.electrician, second, "cut", offcut="R2")
    with pytest.raises(IllegalMove, match="R2"):
        tracking.take_back(actor=scoped.foreman, tick_id=scrap.id)
    held = send(scoped.electrician, tick_in(first, "taken back", takes_back=scrap.id, sequence=900))[0]
    assert (held.answer, held.reason) == ("held", "offcut-used")
    tracking.take_back(actor=scoped.electrician, tick_id=use.id)
    tracking.take_back(actor=scoped.foreman, tick_id=scrap.id)
    assert [each.label for each in queries.offcuts()] == ["R1"]
    assert queries.compare_projections() == []


def test_a_scrap_taken_back_in_the_batch_that_would_cut_from_what_it_saved_wins(scoped: House) -> None:
    first, second = made(scoped, 1200.0, 500.0)
    tick(scoped.electrician, first, "cut")
    scrap = tick(scoped.electrician, first, "scrapped", cause="kinked", saved_mm=600)
    answers = send(
        scoped.electrician,
        tick_in(first, "taken back", takes_back=scrap.id, sequence=900),
        tick_in(second, "cut", offcut="R2", sequence=901),
    )
    assert [(each.answer, each.reason) for each in answers] == [("applied", ""), ("held", "offcut-not-there")]
    assert queries.compare_projections() == []


def test_an_offcut_that_the_ledger_does_not_tell_of_is_told(scoped: House) -> None:
    piece = made(scoped, 1200.0)[0]
    tick(scoped.electrician, piece, "scrapped", cause="kinked", saved_mm=600)
    Offcut.objects.filter(label="R2").update(length_mm=700)
    (told,) = queries.compare_projections()
    assert "700" in str(told)


@pytest.mark.parametrize(
    ("length", "label", "says"),
    [(2549.0, "R1", "2548 mm"), (500.0, "R7", "R7"), (500.0, "r1", "r1")],
)
def test_a_cut_from_an_offcut_that_is_not_there_or_too_short_is_not_applied(
    scoped: House, length: float, label: str, says: str
) -> None:
    first, second = made(scoped, 1200.0, length)
    tick(scoped.electrician, first, "cut")
    with pytest.raises(IllegalMove, match=says):
        tick(scoped.electrician, second, "cut", offcut=label)
    assert [each.label for each in queries.offcuts()] == ["R1"]


def test_a_piece_is_not_cut_from_its_own_rest(scoped: House) -> None:
    """Found by random histories: the late cut of an implied one, from what that one had left."""
    piece = made(scoped, 1200.0)[0]
    tick(scoped.electrician, piece, "bent")
    with pytest.raises(IllegalMove, match="R1"):
        tick(scoped.electrician, piece, "cut", offcut="R1")
    assert queries.compare_projections() == []


def test_an_offcut_of_another_conduit_does_not_do(scoped: House) -> None:
    first, second = made(scoped, 1200.0, 500.0)
    tick(scoped.electrician, first, "cut")
    Offcut.objects.update(conduit="emt-1/2")
    with pytest.raises(IllegalMove, match="emt-1/2"):
        tick(scoped.electrician, second, "cut", offcut="R1")


def test_of_two_cuts_of_one_batch_from_one_offcut_the_second_is_held(scoped: House) -> None:
    first, second, third = made(scoped, 1200.0, 500.0, 600.0)
    tick(scoped.electrician, first, "cut")
    answers = send(
        scoped.electrician,
        tick_in(second, "cut", offcut="R1", sequence=900),
        tick_in(third, "cut", offcut="R1", sequence=901),
    )
    assert [(each.answer, each.reason) for each in answers] == [("applied", ""), ("held", "offcut-not-there")]
    assert queries.compare_projections() == []


def test_an_offcut_freed_and_taken_in_one_batch_is_where_it_was_taken(scoped: House) -> None:
    first, second, third = made(scoped, 1200.0, 500.0, 600.0)
    tick(scoped.electrician, first, "cut")
    use = tick(scoped.electrician, second, "cut", offcut="R1")
    answers = send(
        scoped.electrician,
        tick_in(second, "taken back", takes_back=use.id, sequence=900),
        tick_in(third, "cut", offcut="R1", sequence=901),
        tick_in(second, "cut", sequence=902),
        tick_in(second, "threaded", sequence=903),
    )
    assert {each.answer for each in answers} == {"applied"}
    third.refresh_from_db()
    assert third.cut_from == "R1"
    assert queries.compare_projections() == []


def test_the_full_length_is_that_of_the_price_row_in_force(scoped: House) -> None:
    commands.set_price(
        actor=scoped.manager,
        conduit=CONDUIT,
        full_length_mm=3000,
        price=Decimal("9.00"),
        from_day=date(2020, 1, 1),
    )
    piece = made(scoped, 1200.0)[0]
    tick(scoped.electrician, piece, "cut")
    assert [each.length_mm for each in queries.offcuts()] == [1798.0]


def test_the_price_of_a_day_is_the_newest_that_was_in_force(scoped: House) -> None:
    for day, price in ((date(2026, 1, 1), "10.00"), (date(2026, 3, 1), "11.50")):
        commands.set_price(
            actor=scoped.manager, conduit=CONDUIT, full_length_mm=3750, price=Decimal(price), from_day=day
        )
    told = {
        day: (found.price if (found := queries.price_on(CONDUIT, day)) else None)
        for day in (
            date(2025, 12, 31),
            date(2026, 1, 1),
            date(2026, 2, 28),
            date(2026, 3, 1),
            date(2027, 1, 1),
        )
    }
    assert list(told.values()) == [
        None,
        Decimal("10.00"),
        Decimal("10.00"),
        Decimal("11.50"),
        Decimal("11.50"),
    ]
    assert queries.price_on("emt-1/2", date(2027, 1, 1)) is None


def test_a_second_price_of_a_day_puts_the_first_right(scoped: House) -> None:
    for price in ("10.00", "12.00"):
        commands.set_price(
            actor=scoped.manager,
            conduit=CONDUIT,
            full_length_mm=3750,
            price=Decimal(price),
            from_day=date(2026, 1, 1),
        )
    assert [each.price for each in queries.prices()] == [Decimal("12.00")]


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("conduit", "gold-20"),
        ("full_length_mm", 0),
        ("full_length_mm", float("inf")),
        ("price", Decimal("-1")),
        ("price", Decimal("NaN")),
        ("price", Decimal("1.001")),
        ("price", "cheap"),
        ("price", Decimal("1E+30")),
        ("from_day", date(1999, 12, 31)),
    ],
)
def test_a_price_that_is_none_is_refused_by_name_and_nothing_is_kept(
    scoped: House, field: str, value: object
) -> None:
    good = {
        "conduit": CONDUIT,
        "full_length_mm": 3750,
        "price": Decimal("1.00"),
        "from_day": date(2026, 1, 1),
    }
    with pytest.raises(Invalid) as caught:
        commands.set_price(actor=scoped.manager, **{**good, field: value})  # type: ignore[arg-type]
    assert [each.where for each in caught.value.problems] == [field]
    assert not Price.objects.exists()


@pytest.mark.parametrize("lengths", [0, -3, True, 1.5, 10**9])
def test_a_delivery_of_no_whole_number_of_lengths_is_refused(scoped: House, lengths: object) -> None:
    with pytest.raises(Invalid):
        commands.receive(actor=scoped.foreman, conduit=CONDUIT, lengths=lengths)  # type: ignore[arg-type]
    assert not Movement.objects.exists()


def test_prices_are_for_the_manager_and_stock_is_not_for_the_electrician(scoped: House) -> None:
    with pytest.raises(NotAllowed):
        commands.set_price(
            actor=scoped.foreman,
            conduit=CONDUIT,
            full_length_mm=1,
            price=Decimal(1),
            from_day=date(2026, 1, 1),
        )
    with pytest.raises(NotAllowed):
        commands.receive(actor=scoped.electrician, conduit=CONDUIT, lengths=1)
