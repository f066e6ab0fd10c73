"""Costing: material and scrap posted from ticks once, put right by counter-entries, adding up."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import House
from pieces import CONDUIT, made, send, state_of, tick, tick_in

from services.core.errors import IllegalMove, NotFound
from services.core.money import said, to_cents
from services.costing import queries, rules
from services.costing.causes import CAUSES
from services.costing.models import CostEntry
from services.stock import commands as stock
from services.stock.models import Movement
from services.tracking import commands as tracking
from services.tracking.signals import ticks_applied

D = Decimal


# Rules, without a database


@pytest.mark.parametrize(
    ("amount", "cents"),
    [
        ("0.005", "0.00"),
        ("0.015", "0.02"),
        ("0.025", "0.02"),
        ("-0.015", "-0.02"),
        ("1.0049", "1.00"),
        ("2.675", "2.68"),
    ],
)
def test_money_is_rounded_to_hundredths_half_to_even(amount: str, cents: str) -> None:
    assert to_cents(D(amount)) == D(cents)


def test_money_is_said_with_its_currency() -> None:
    assert said(D("1234.565"), "GBP") == "1,234.56 GBP"


def test_material_is_drawn_length_times_price_a_millimetre_rounded_once() -> None:
    # 1202 mm of a 3750 mm length at 12.40: 1202 * 12.40 / 3750 = 3.974613...
    assert rules.material(1202.0, D("12.40") / 3750) == rules.Posted(D("1.202000"), D("3.97"), True)
    assert rules.material(1202.0, None) == rules.Posted(D("1.202000"), D("0.00"), False)


def test_a_scrapped_piece_loses_what_was_drawn_less_what_is_saved_at_its_posted_price() -> None:
    posted = rules.Posted(D("1.202000"), D("3.97"), True)
    # 902 of 1202 mm: 3.97 * 902 / 1202 = 2.979151...
    assert rules.scrapped(posted, 300.0) == rules.Posted(D("0.902000"), D("2.98"), True)
    assert rules.scrapped(posted, 0.0) == posted


def test_a_share_of_nothing_is_no_share() -> None:
    assert rules.Share(D(0), D(0), "m").per_cent is None
    assert rules.Share(D("0.9"), D("3.6"), "m").per_cent == D("25.0")


def test_the_causes_are_the_32_of_the_table_each_with_stage_and_payer() -> None:
    assert len(CAUSES) == 32
    assert (CAUSES["over-bent"].stage, CAUSES["over-bent"].payer) == ("bend", "us")
    assert (CAUSES["box moved"].stage, CAUSES["box moved"].payer) == ("fit", "client")
    assert (CAUSES["seam split"].stage, CAUSES["seam split"].payer) == ("bend", "supplier")


# Entries


@pytest.fixture
def priced(scoped: House) -> House:
    """20 mm conduit at 12.40 for 3750 mm since 2020."""
    stock.set_price(
        actor=scoped.manager,
        conduit=CONDUIT,
        full_length_mm=3750,
        price=D("12.40"),
        from_day=date(2020, 1, 1),
    )
    return scoped


def entries() -> list[tuple[str, Decimal, Decimal, str]]:
    return [(each.kind, each.metres, each.amount, each.cause) for each in CostEntry.objects.all()]


CUT = ("material", D("1.202000"), D("3.97"), "")


@pytest.mark.django_db
def test_material_is_posted_once_when_a_piece_is_cut(priced: House) -> None:
    piece = made(priced, 1200.0)[0]
    tick(priced.electrician, piece, "cut")
    tick(priced.electrician, piece, "bent")
    assert entries() == [CUT]
    (entry,) = CostEntry.objects.all()
    assert (entry.currency, entry.is_priced, entry.tick.kind, entry.piece_id) == (
        "GBP",
        True,
        "cut",
        piece.pk,
    )


@pytest.mark.django_db
def test_an_implied_cut_is_posted_and_its_own_late_tick_posts_nothing_more(priced: House) -> None:
    piece = made(priced, 1200.0)[0]
    tick(priced.electrician, piece, "installed")
    assert entries() == [CUT]
    tick(priced.electrician, piece, "cut")
    assert entries() == [CUT]
    assert queries.compare_with_ledger() == []


@pytest.mark.django_db
def test_a_repeated_tick_posts_nothing_more(priced: House) -> None:
    cut = tick_in(made(priced, 1200.0)[0], "cut")
    send(priced.electrician, cut)
    send(priced.electrician, cut, cut)
    assert entries() == [CUT]


@pytest.mark.django_db
def test_scrap_moves_what_was_lost_from_material_to_scrap_with_cause_and_payer(priced: House) -> None:
    piece = made(priced, 1200.0)[0]
    tick(priced.electrician, piece, "bent")
    tick(priced.electrician, piece, "scrapped", cause="box moved", saved_mm=300)
    assert entries() == [
        CUT,
        ("material", D("-0.300000"), D("-0.99"), ""),
        ("material", D("-0.902000"), D("-2.98"), "box moved"),
        ("scrap", D("0.902000"), D("2.98"), "box moved"),
    ]
    assert set(CostEntry.objects.exclude(cause="").values_list("payer", flat=True)) == {"client"}
    assert queries.compare_with_ledger() == []


@pytest.mark.django_db
def test_what_is_saved_and_too_short_to_keep_is_scrap_too(priced: House) -> None:
    piece = made(priced, 1200.0)[0]
    tick(priced.electrician, piece, "cut")
    tick(priced.electrician, piece, "scrapped", cause="box moved", saved_mm=299)
    assert entries() == [
        CUT,
        ("material", D("-1.202000"), D("-3.97"), "box moved"),
        ("scrap", D("1.202000"), D("3.97"), "box moved"),
    ]
    assert queries.compare_with_ledger() == []


@pytest.mark.django_db
def test_a_piece_cut_from_what_a_scrap_saved_counts_no_metre_and_no_money_twice(priced: House) -> None:
    first, second = made(priced, 1200.0, 298.0)
    tick(priced.electrician, first, "cut")  # keeps R1 of the full length
    tick(priced.electrician, first, "scrapped", cause="kinked", saved_mm=300)
    tick(priced.electrician, second, "cut", offcut="R2")
    (row,) = queries.scrap_by_project()
    # 1202 mm left the store, 902 are lost and 300 are the second piece: 300 * 12.40 / 3750 = 0.992
    assert (row.drawn_m, row.drawn_amount) == (D("1.202000"), D("3.97"))
    assert (row.scrap_m, row.scrap_amount, row.cut_pieces) == (D("0.902000"), D("2.98"), 2)
    drawn = queries.entries_of(row.project_id, "material", cause="")
    assert sum(each.amount for each in drawn) == row.drawn_amount
    assert queries.compare_with_ledger() == []


@pytest.mark.django_db
def test_an_entry_that_stock_knows_nothing_of_is_told(priced: House) -> None:
    piece = made(priced, 1200.0)[0]
    tick(priced.electrician, piece, "scrapped", cause="kinked", saved_mm=300)
    CostEntry.objects.filter(metres=D("-0.300000")).update(metres=D("-0.400000"))
    (told,) = queries.compare_with_ledger()
    assert "saved 0.400000" in str(told)


def test_costing_follows_the_ticks_after_stock() -> None:
    following = [str(key[0]) for key, *_rest in ticks_applied.receivers]
    assert following.index("stock") < following.index("costing")


@pytest.mark.django_db
def test_what_is_taken_back_is_reversed_by_counter_entries(priced: House) -> None:
    piece = made(priced, 1200.0)[0]
    tick(priced.electrician, piece, "cut")
    scrap = tick(priced.electrician, piece, "scrapped", cause="kinked", saved_mm=300)
    tracking.take_back(actor=priced.electrician, tick_id=scrap.id)
    assert state_of(piece) == "cut"
    back, lost, moved = (
        ("material", D("-0.300000"), D("-0.99"), ""),
        ("material", D("-0.902000"), D("-2.98"), "kinked"),
        ("scrap", D("0.902000"), D("2.98"), "kinked"),
    )
    assert entries() == [
        CUT,
        back,
        lost,
        moved,
        ("material", D("0.300000"), D("0.99"), ""),
        ("material", D("0.902000"), D("2.98"), "kinked"),
        ("scrap", D("-0.902000"), D("-2.98"), "kinked"),
    ]
    again = tick(priced.electrician, piece, "scrapped", cause="kinked")
    assert entries()[-1] == ("scrap", D("1.202000"), D("3.97"), "kinked")
    tracking.take_back(actor=priced.electrician, tick_id=again.id)
    (row,) = queries.scrap_by_project()
    assert (row.scrap_m, row.scrap_amount, row.scrapped_pieces, row.cut_pieces) == (0, 0, 0, 1)
    assert (row.drawn_m, row.drawn_amount) == (D("1.202000"), D("3.97"))
    assert queries.job(row.project_id).causes == []
    assert queries.compare_with_ledger() == []


@pytest.mark.django_db
def test_the_price_is_that_of_the_ticks_day_and_late_price_rows_repost_nothing(priced: House) -> None:
    first, second, third = made(priced, 1200.0, 1200.0, 1200.0)
    with time_machine.travel(datetime(2026, 5, 31, 23, 30, tzinfo=UTC), tick=False):  # 1 June 00:30 in London
        tick(priced.electrician, first, "cut")
    stock.set_price(
        actor=priced.manager,
        conduit=CONDUIT,
        full_length_mm=3750,
        price=D("24.80"),
        from_day=date(2026, 6, 1),
    )
    with time_machine.travel(datetime(2026, 5, 31, 23, 30, tzinfo=UTC), tick=False):
        tick(priced.electrician, second, "cut")
    with time_machine.travel(datetime(2026, 5, 31, 22, 30, tzinfo=UTC), tick=False):  # 31 May in London
        tick(priced.electrician, third, "cut")
    # 1202 * 24.80 / 3750 = 7.949226...
    assert list(CostEntry.objects.values_list("amount", "day")) == [
        (D("3.97"), date(2026, 6, 1)),
        (D("7.95"), date(2026, 6, 1)),
        (D("3.97"), date(2026, 5, 31)),
    ]


@pytest.mark.django_db
def test_without_a_price_the_amount_is_0_and_the_review_counts_it(scoped: House) -> None:
    first, second = made(scoped, 1200.0, 1200.0)
    tick(scoped.electrician, first, "scrapped", cause="kinked")
    tick(scoped.electrician, second, "cut")
    (row,) = queries.scrap_by_project()
    assert (row.drawn_m, row.scrap_m) == (D("2.404000"), D("1.202000"))
    assert (row.drawn_amount, row.scrap_amount, row.unpriced_pieces) == (0, 0, 2)
    assert not CostEntry.objects.filter(is_priced=True).exists()
    assert row.share_of_money.per_cent is None


@pytest.mark.django_db
def test_a_cause_that_is_not_known_is_not_applied(priced: House) -> None:
    piece = made(priced, 1200.0)[0]
    with pytest.raises(IllegalMove, match="gremlins"):
        tick(priced.electrician, piece, "scrapped", cause="gremlins")
    held = send(priced.electrician, tick_in(piece, "scrapped", cause="gremlins", sequence=900))[0]
    assert (held.answer, held.reason) == ("held", "cause-not-known")
    assert entries() == []


# The review


@pytest.fixture
def reviewed(priced: House) -> House:
    """Job FW-1: 4 x 1200 mm cut in run 07, two scrapped and a third that was taken back, 300 mm saved; one in
    run 08 of 600 mm. Job FW-2: one piece of 900 mm cut, nothing lost."""
    one, two, three, _four = made(priced, *[1200.0] * 4, label="07")
    tick(priced.electrician, one, "scrapped", cause="box moved", saved_mm=300)
    back = tick(priced.electrician, two, "scrapped", cause="kinked")
    tracking.take_back(actor=priced.electrician, tick_id=back.id)
    tick(priced.electrician, two, "cut")
    tick(priced.electrician, three, "scrapped", cause="kinked")
    tick(priced.electrician, _four, "bent")
    tick(priced.electrician, made(priced, 600.0, label="08")[0], "scrapped", cause="kinked")
    tick(priced.electrician, made(priced, 900.0, label="01", project="FW-2")[0], "cut")
    return priced


@pytest.mark.django_db
def test_the_review_compares_jobs_and_names_the_denominator_of_each_share(reviewed: House) -> None:
    first, second = queries.scrap_by_project()
    # drawn: 4 x 1.202 + 0.602 - 0.3; 4 x 3.97 + 1.99 - 0.99.
    # scrap: 0.902 + 1.202 + 0.602; 2.98 + 3.97 + 1.99
    assert (first.code, first.drawn_m, first.drawn_amount) == ("FW-1", D("5.110000"), D("16.88"))
    assert (first.scrap_m, first.scrap_amount, first.currency) == (D("2.706000"), D("8.94"), "GBP")
    assert (first.scrapped_pieces, first.cut_pieces) == (3, 5)
    assert (first.share.of, first.share.unit, first.share.per_cent) == (D("5.110000"), "m", D("53.0"))
    assert (first.share_of_pieces.of, first.share_of_pieces.per_cent) == (5, D("60.0"))
    assert (first.share_of_money.unit, first.share_of_money.per_cent) == ("GBP", D("53.0"))
    assert (second.code, second.scrap_m, second.share.per_cent) == ("FW-2", 0, D("0.0"))


@pytest.mark.django_db
def test_a_job_opens_by_run_and_cause_down_to_entries_and_ticks_that_add_up(reviewed: House) -> None:
    row = queries.scrap_by_project()[0]
    job = queries.job(row.project_id)
    assert [(each.label, each.scrap_m, each.scrapped_pieces) for each in job.runs] == [
        ("07", D("2.104000"), 2),
        ("08", D("0.602000"), 1),
    ]
    assert [
        (each.cause, each.payer, each.stage, each.scrap_amount, each.scrapped_pieces) for each in job.causes
    ] == [
        ("kinked", "us", "bend", D("5.96"), 2),
        ("box moved", "client", "fit", D("2.98"), 1),
    ]
    assert sum(each.share.part for each in job.causes) == job.causes[0].share.of == row.scrap_m
    scrap = queries.entries_of(row.project_id, "scrap")
    assert sum(each.amount for each in scrap) == row.scrap_amount
    assert [(each.piece.line.label, each.tick.kind) for each in scrap] == [
        ("07/1", "scrapped"),
        ("07/2", "scrapped"),
        ("07/2", "taken back"),
        ("07/3", "scrapped"),
        ("08/1", "scrapped"),
    ]
    run = job.runs[1]
    assert [each.metres for each in queries.entries_of(row.project_id, "scrap", run.run_id)] == [
        D("0.602000")
    ]
    drawn = queries.entries_of(row.project_id, "material", cause="")
    assert sum(each.metres for each in drawn) == row.drawn_m


@pytest.mark.django_db
def test_all_entries_of_a_job_add_up_to_what_it_drew(reviewed: House) -> None:
    for row in queries.scrap_by_project():
        posted = sum(CostEntry.objects.filter(project_id=row.project_id).values_list("metres", flat=True))
        drawn = sum(
            Movement.objects.filter(piece__line__run__room__project_id=row.project_id).values_list(
                "length_mm", flat=True
            )
        )
        assert posted == row.drawn_m == rules.metres_of(drawn)


@pytest.mark.django_db
def test_another_companys_job_is_not_found_and_adds_nothing(house: House, other_house: House) -> None:
    with other_house.scope():
        piece = made(other_house, 1200.0)[0]
        tick(other_house.electrician, piece, "scrapped", cause="kinked")
        project_id = piece.line.run.room.project_id
        assert queries.scrap_by_project()[0].currency == "USD"
    with house.scope():
        assert queries.scrap_by_project() == []
        assert queries.entries_of(project_id, "scrap") == []
        with pytest.raises(NotFound):
            queries.job(project_id)


@pytest.mark.django_db
@pytest.mark.parametrize("count", [2, 30])
def test_the_review_costs_a_fixed_number_of_queries(priced: House, count: int) -> None:
    for number in range(count):
        piece = made(priced, 1200.0, label=f"{number}")[0]
        tick(priced.electrician, piece, "scrapped", cause=list(CAUSES)[number])
    project_id = queries.scrap_by_project()[0].project_id
    with CaptureQueriesContext(connection) as told:
        queries.scrap_by_project()
        queries.job(project_id)
        [
            (each.run.room.name, each.piece.line.label, each.tick.person.name, each.counters)
            for each in queries.entries_of(project_id, "scrap")
        ]
    assert len(told) == 5
