"""Ticks received: applied, held or refused, once each; a ledger without gaps, and pieces as it has them."""

import uuid
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import groupby
from threading import Thread
from typing import Any

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from factories import House, make_house
from pieces import made, make_run, new_id, release, send, state_of, tick, tick_in

from services.company import commands as company_commands
from services.company.models import Company, Crew, Device, Membership
from services.core import faults
from services.core.commands import Actor
from services.core.errors import IllegalMove, Invalid, NotAllowed, NotFound, Unavailable
from services.planning.models import Plan
from services.tracking import commands, queries
from services.tracking.commands.ledger import Ledger
from services.tracking.models import HeldTick, Piece, SetAside, Tick
from services.tracking.rules import TickIn

pytestmark = pytest.mark.django_db


@pytest.fixture
def tablet(scoped: House) -> Actor:
    """The electrician on a tablet."""
    device = Device.objects.create(kind="tablet", name="Tablet 1")
    return replace(scoped.electrician, device_id=device.pk)


def told(*answers: Any) -> list[tuple[str, str]]:
    return [(each.answer, each.reason) for each in answers]


# Release


def test_a_released_run_has_a_first_attempt_for_each_stick_with_a_released_tick(scoped: House) -> None:
    pieces = made(scoped, 1200.0, 800.0)
    assert [(each.attempt, each.state, each.is_latest) for each in pieces] == [(1, "released", True)] * 2
    ticks = list(Tick.objects.all())
    assert [(each.number, each.kind, each.answer) for each in ticks] == [
        (1, "released", "applied"),
        (2, "released", "applied"),
    ]
    assert [each.line.label for each in queries.pieces_of_run(pieces[0].line.run_id)] == ["07/1", "07/2"]


def test_releasing_anew_before_anything_was_begun_moves_the_pieces_to_the_new_revision(scoped: House) -> None:
    run = make_run(scoped)
    release(scoped.foreman, run, [1200.0, 800.0, 500.0])
    plan = release(scoped.foreman, run, [1250.0, 850.0])
    pieces = queries.pieces_of_run(run.pk)
    assert [(each.line.label, each.stick.plan_id, each.stick.cut_length_mm) for each in pieces] == [
        ("07/1", plan.pk, 1250.0),
        ("07/2", plan.pk, 850.0),
    ]
    assert Piece.objects.get(line__number=3).state == "waiting"
    release(scoped.foreman, run, [1.0, 2.0, 3.0])
    assert len(queries.pieces_of_run(run.pk)) == 3
    assert Piece.objects.count() == 3
    assert queries.compare_projections() == []


def test_a_run_of_which_a_piece_was_begun_is_not_released_anew(scoped: House) -> None:
    piece = made(scoped)[0]
    tick(scoped.electrician, piece, "cut")
    with pytest.raises(IllegalMove, match="07/1"):
        release(scoped.foreman, piece.line.run, [1.0])
    assert Plan.objects.count() == 1


# Answers


def test_ticks_in_order_are_applied_and_move_the_piece(scoped: House, tablet: Actor) -> None:
    piece = made(scoped)[0]
    answers = send(
        tablet, tick_in(piece, "cut"), tick_in(piece, "bent"), tick_in(piece, "checked", verdict="pass")
    )
    assert told(*answers) == [("applied", "")] * 3
    assert [each.number for each in answers] == [2, 3, 4]
    assert state_of(piece) == "checked"


def test_a_repeated_tick_gets_its_first_answer_and_number_and_counts_once(
    scoped: House, tablet: Actor
) -> None:
    piece = made(scoped)[0]
    cut, again, nowhere = (
        tick_in(piece, "cut"),
        tick_in(piece, "taken down"),
        replace(tick_in(piece, "cut"), piece_id=new_id()),
    )
    first = send(tablet, cut, again, nowhere)
    assert told(*first) == [("applied", ""), ("held", "not-from-this-state"), ("refused", "not-found")]
    ledger = Tick.objects.count()
    assert send(tablet, nowhere, cut, again, cut) == [first[2], first[0], first[1], first[0]]
    assert Tick.objects.count() == ledger
    assert SetAside.objects.count() == 1


def test_the_same_tick_twice_in_one_batch_counts_once(scoped: House, tablet: Actor) -> None:
    cut = tick_in(made(scoped)[0], "cut")
    first, second = send(tablet, cut, cut)
    assert first == second
    assert Tick.objects.filter(kind="cut").count() == 1


def test_a_tick_that_was_held_keeps_that_answer_after_it_was_applied(scoped: House, tablet: Actor) -> None:
    piece = made(scoped)[0]
    down, up = tick_in(piece, "taken down"), tick_in(piece, "installed")
    assert told(*send(tablet, down)) == [("held", "not-from-this-state")]
    send(tablet, up)
    assert state_of(piece) == "checked"
    assert told(*send(tablet, down)) == [("held", "not-from-this-state")]
    assert HeldTick.objects.get().settled_as == "applied"
    assert queries.held_ticks() == []
    assert queries.compare_projections() == []


def test_held_ticks_are_tried_again_in_the_tablets_order_after_each_applied_one(
    scoped: House, tablet: Actor
) -> None:
    piece = made(scoped)[0]
    up, down, shorten, rework = (
        tick_in(piece, "installed"),
        tick_in(piece, "taken down"),
        tick_in(piece, "checked", verdict="shorten"),
        tick_in(piece, "reworked"),
    )
    assert told(*send(tablet, rework)) == [("held", "not-from-this-state")]
    assert told(*send(tablet, down)) == [("held", "not-from-this-state")]
    assert told(*send(tablet, up)) == [("applied", "")]
    # installed let `taken down` in, which let `reworked` in: from checked, work was done again
    assert state_of(piece) == "bent"
    assert told(*send(tablet, shorten)) == [("applied", "")]
    assert state_of(piece) == "rework"
    assert queries.compare_projections() == []


def test_a_batch_is_taken_in_the_devices_own_order_and_answered_in_the_order_given(
    scoped: House, tablet: Actor
) -> None:
    piece = made(scoped)[0]
    cut, bent = tick_in(piece, "cut"), tick_in(piece, "bent")
    answers = send(tablet, bent, cut)
    assert [each.id for each in answers] == [bent.id, cut.id]
    assert [each.number for each in answers] == [3, 2]
    assert not Tick.objects.filter(implied_by__isnull=False).exists()


def test_one_id_with_other_content_is_kept_in_quarantine_and_writes_nothing_over(
    scoped: House, tablet: Actor
) -> None:
    piece = made(scoped)[0]
    cut = tick_in(piece, "cut")
    first = send(tablet, cut)
    forged = replace(cut, kind="installed")
    assert told(*send(tablet, forged)) == [("held", "tick-id-reused")]
    assert told(*send(tablet, forged)) == [("held", "tick-id-reused")]
    assert SetAside.objects.get().content["kind"] == "installed"
    assert send(tablet, cut) == first
    assert state_of(piece) == "cut"


def test_one_sequence_of_a_device_for_two_ticks_is_kept_in_quarantine(scoped: House, tablet: Actor) -> None:
    piece = made(scoped)[0]
    cut = tick_in(piece, "cut")
    assert told(*send(tablet, cut, tick_in(piece, "bent", sequence=cut.sequence))) == [
        ("applied", ""),
        ("held", "sequence-reused"),
    ]
    assert state_of(piece) == "cut"


def test_a_bad_tick_harms_no_other_of_its_batch(scoped: House, tablet: Actor) -> None:
    piece = made(scoped)[0]
    good = tick_in(piece, "cut")
    bad: list[TickIn] = [
        replace(tick_in(piece, "cut"), kind="polished"),
        replace(tick_in(piece, "cut"), sequence=None),  # type: ignore[arg-type]
        replace(tick_in(piece, "cut"), figures="\x00\ud800"),  # type: ignore[arg-type]
        replace(tick_in(piece, "cut"), made_at="noon"),  # type: ignore[arg-type]
        replace(tick_in(piece, "cut"), piece_id="'; drop"),  # type: ignore[arg-type]
        tick_in(piece, "checked", verdict="fine"),
        tick_in(piece, "scrapped", cause="kinked", saved_mm=1200.1),
        tick_in(piece, "cut", plan_id=new_id()),
        tick_in(piece, "assigned", crew=str(new_id())),
    ]
    answers = send(tablet, *bad[:5], good, *bad[5:])
    assert [each.answer for each in answers].count("refused") == len(bad)
    assert told(answers[5]) == [("applied", "")]
    assert all(each.text and each.number is None for each in answers if each.answer == "refused")
    assert state_of(piece) == "cut"
    assert SetAside.objects.count() == len(bad)


def test_saving_more_than_the_piece_is_long_is_refused_and_names_both_figures(
    scoped: House, tablet: Actor
) -> None:
    piece = made(scoped, 1200.0)[0]
    answer = send(tablet, tick_in(piece, "scrapped", cause="kinked", saved_mm=1300))[0]
    assert (answer.answer, answer.reason) == ("refused", "out-of-range")
    assert "1300" in answer.text
    assert "1200" in answer.text


def test_another_companys_piece_is_refused_in_the_same_words_as_one_that_is_not_there(
    house: House, other_house: House
) -> None:
    with other_house.scope():
        theirs = made(other_house)[0]
        their_tick = Tick.objects.get().pk
        before = list(Piece.objects.values_list())
    with house.scope():
        own = made(house)[0]
        absent = send(house.electrician, replace(tick_in(own, "cut"), piece_id=new_id()))[0]
        foreign = send(house.electrician, replace(tick_in(own, "cut"), piece_id=theirs.pk))[0]
        assert replace(absent, id=foreign.id) == foreign
        foreign_plan = send(house.electrician, tick_in(own, "cut", plan_id=theirs.stick.plan_id))[0]
        no_plan = send(house.electrician, tick_in(own, "cut", plan_id=new_id()))[0]
        assert replace(no_plan, id=foreign_plan.id) == foreign_plan
        for refused in (
            lambda: tick(house.foreman, theirs, "cut"),
            lambda: commands.take_back(actor=house.foreman, tick_id=their_tick),
            lambda: queries.piece(theirs.pk),
        ):
            with pytest.raises(NotFound):
                refused()
    with other_house.scope():
        assert list(Piece.objects.values_list()) == before


def test_two_companies_may_use_one_tick_id_and_learn_nothing_of_each_other(
    house: House, other_house: House
) -> None:
    shared = new_id()
    with other_house.scope():
        assert told(*send(other_house.electrician, tick_in(made(other_house)[0], "cut", id=shared))) == [
            ("applied", "")
        ]
    with house.scope():
        assert told(*send(house.electrician, tick_in(made(house)[0], "cut", id=shared))) == [("applied", "")]
        assert queries.compare_projections() == []


def test_an_electrician_ticks_only_what_is_given_to_a_crew_of_theirs(scoped: House, tablet: Actor) -> None:
    foreman = Membership.objects.get(role="foreman")
    other = company_commands.form_crew(actor=scoped.administrator, name="Tower", member_ids=[foreman.pk])
    piece = made(scoped)[0]
    tick(scoped.foreman, piece, "assigned", crew=str(other.pk))
    assert told(*send(tablet, tick_in(piece, "cut"))) == [("refused", "other-crew")]
    with pytest.raises(NotAllowed):
        tick(scoped.electrician, piece, "cut")
    assert tick(scoped.foreman, piece, "cut").answer == "applied"
    assert [each.pk for each in queries.work_of_crew([other.pk])] == [piece.pk]
    assert queries.work_of_crew([scoped.crew.pk]) == []


def test_a_foremans_tick_is_refused_from_an_electrician_and_all_from_a_manager(
    scoped: House, tablet: Actor
) -> None:
    piece = made(scoped)[0]
    crew = Crew.objects.get()
    assert told(*send(tablet, tick_in(piece, "assigned", crew=str(crew.pk)))) == [("refused", "not-allowed")]
    for actor in (scoped.manager, scoped.administrator):
        with pytest.raises(NotAllowed):
            send(actor, tick_in(piece, "cut"))
        with pytest.raises(NotAllowed):
            tick(actor, piece, "cut")
    assert state_of(piece) == "released"


def test_too_many_ticks_at_once_are_refused_whole(scoped: House, tablet: Actor) -> None:
    piece = made(scoped)[0]
    with pytest.raises(Invalid, match="500"):
        send(tablet, *[tick_in(piece, "note", note="x")] * 501)


def test_a_tick_to_a_superseded_revision_is_held_with_both_figures(scoped: House, tablet: Actor) -> None:
    run = make_run(scoped)
    old = release(scoped.foreman, run, [1200.0])
    release(scoped.foreman, run, [1250.0])
    piece = queries.pieces_of_run(run.pk)[0]
    answer = send(tablet, tick_in(piece, "cut", plan_id=old.pk))[0]
    assert (answer.answer, answer.reason) == ("held", "other-revision")
    assert "1200" in answer.text
    assert "1250" in answer.text
    assert state_of(piece) == "released"


def test_a_wrong_clock_refuses_nothing_and_is_marked(scoped: House, tablet: Actor) -> None:
    piece = made(scoped)[0]
    wrong = [datetime(1970, 1, 1, tzinfo=UTC), datetime(2030, 1, 1, tzinfo=UTC)]
    with time_machine.travel(datetime(2026, 6, 1, 9, 0, tzinfo=UTC), tick=False):
        answers = send(tablet, tick_in(piece, "bent", at=wrong[1]), tick_in(piece, "cut", at=wrong[0]))
    assert told(*answers) == [("applied", "")] * 2
    assert set(Tick.objects.filter(sequence__isnull=False).values_list("clock_suspect", flat=True)) == {True}


# The ledger


def test_the_ledgers_numbers_have_no_gap_and_are_each_companys_own(house: House, other_house: House) -> None:
    for each in (house, other_house):
        with each.scope():
            piece = made(each)[0]
            send(
                each.electrician,
                tick_in(piece, "taken down"),
                replace(tick_in(piece, "cut"), kind="?"),
                tick_in(piece, "installed"),
            )
            numbers = list(Tick.objects.values_list("number", flat=True))
            # released, taken down (held), cut, bent, checked (implied), installed, settled
            assert numbers == [1, 2, 3, 4, 5, 6, 7]
            assert Company.objects.get(pk=each.company.pk).next_ledger_number == 8
            assert queries.compare_projections() == []


def test_a_ledger_into_which_another_wrote_meanwhile_takes_nothing_and_says_try_again(
    scoped: House, tablet: Actor, monkeypatch: pytest.MonkeyPatch
) -> None:
    piece = made(scoped)[0]
    closing = Ledger.close

    def another_first(ledger: Ledger) -> None:
        Company.objects.filter(pk=scoped.company.pk).update(next_ledger_number=50)
        closing(ledger)

    monkeypatch.setattr(Ledger, "close", another_first)
    with pytest.raises(Unavailable):
        send(tablet, tick_in(piece, "cut"))
    monkeypatch.undo()
    assert state_of(piece) == "released"
    assert Tick.objects.count() == 1
    assert queries.compare_projections() == []


@pytest.mark.parametrize("point", ["mid-projection", "before-commit"])
def test_a_failure_inside_leaves_nothing_and_sending_again_gives_the_answer(
    scoped: House, tablet: Actor, point: str
) -> None:
    piece = made(scoped)[0]
    batch = [tick_in(piece, "bent"), tick_in(piece, "scrapped", cause="kinked")]

    def strike() -> None:
        raise ZeroDivisionError

    faults.arm(point, strike)
    with pytest.raises(ZeroDivisionError):
        send(tablet, *batch)
    faults.disarm()
    assert state_of(piece) == "released"
    assert Tick.objects.count() == 1
    assert told(*send(tablet, *batch)) == [("applied", "")] * 2
    assert queries.compare_projections() == []


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("figures", {"note": "other"}),
        ("kind", "note"),
        ("person_id", None),
        ("made_at", datetime(2020, 1, 1, tzinfo=UTC)),
        ("answer", "held"),
        ("chain", "0" * 64),
        ("fingerprint", "0" * 64),
    ],
)
def test_a_changed_ledger_entry_shows(scoped: House, column: str, value: Any) -> None:
    piece = made(scoped)[0]
    tick(scoped.electrician, piece, "cut")
    tick(scoped.electrician, piece, "bent")
    assert queries.compare_projections() == []
    changed = scoped.manager.person_id if column == "person_id" else value
    Tick.objects.filter(kind="cut").update(**{column: changed})
    assert any("ledger entry" in each.where for each in queries.compare_projections())


@pytest.mark.parametrize(
    "changed",
    [
        {"state": "installed"},
        {"bent_once": False},
        {"reworked_times": 3},
        {"cut_from": "R9"},
        {"last_number": 1},
        {"is_latest": False},
    ],
)
def test_a_changed_piece_shows_and_rebuilding_puts_it_right(scoped: House, changed: dict[str, Any]) -> None:
    piece = made(scoped)[0]
    tick(scoped.electrician, piece, "bent")
    Piece.objects.filter(pk=piece.pk).update(**changed)
    differences = queries.compare_projections()
    assert [each.where for each in differences] == [f"piece {piece.pk} {next(iter(changed))}"]
    commands.rebuild(actor=scoped.administrator)
    assert queries.compare_projections() == []


def test_rebuilding_is_for_administrators(scoped: House) -> None:
    with pytest.raises(NotAllowed):
        commands.rebuild(actor=scoped.foreman)


@pytest.mark.django_db(transaction=True)
def test_two_devices_at_once_share_the_ledger_without_a_gap_and_lose_nothing(house: House) -> None:
    with house.scope():
        pieces = made(house, *[1200.0] * 10)
        actors = [
            replace(house.electrician, device_id=Device.objects.create(kind="tablet", name=name).pk)
            for name in ("Tablet 1", "Tablet 2")
        ]
        batches = [[tick_in(each, kind) for each in pieces] for kind in ("bent", "note")]
        batches[1] = [replace(each, figures={"note": "to the east wall"}) for each in batches[1]]
    failures: list[BaseException] = []

    def sends(actor: Actor, batch: list[TickIn]) -> None:
        try:
            with house.scope():
                for each in batch:
                    assert told(*send(actor, each)) == [("applied", "")]
        except BaseException as failure:  # told by the test's own thread
            failures.append(failure)
        finally:
            connection.close()

    threads = [Thread(target=sends, args=each) for each in zip(actors, batches, strict=True)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []
    with house.scope():
        # 10 released, 10 bent with 10 implied cuts, 10 notes
        assert list(Tick.objects.values_list("number", flat=True)) == list(range(1, 41))
        assert queries.compare_projections() == []


# Attempts


def test_scrapping_opens_the_next_attempt_and_keeps_the_first(scoped: House) -> None:
    piece = made(scoped)[0]
    tick(scoped.electrician, piece, "bent")
    tick(scoped.electrician, piece, "scrapped", cause="over-bent", saved_mm=300)
    attempts = list(Piece.objects.order_by("attempt"))
    assert [(each.attempt, each.state, each.is_latest) for each in attempts] == [
        (1, "scrapped", False),
        (2, "released", True),
    ]
    assert [each.pk for each in queries.pieces_of_run(piece.line.run_id)] == [attempts[1].pk]
    assert queries.compare_projections() == []


def test_taking_scrap_back_closes_the_next_attempt_unless_it_was_begun(scoped: House) -> None:
    piece = made(scoped)[0]
    scrap = tick(scoped.electrician, piece, "scrapped", cause="over-bent")
    second = Piece.objects.get(attempt=2)
    cut = tick(scoped.electrician, second, "cut")
    with pytest.raises(IllegalMove, match="2"):
        commands.take_back(actor=scoped.foreman, tick_id=scrap.id)
    commands.take_back(actor=scoped.electrician, tick_id=cut.id)
    commands.take_back(actor=scoped.electrician, tick_id=scrap.id)
    assert [(each.state, each.is_latest) for each in Piece.objects.order_by("attempt")] == [
        ("released", True),
        ("waiting", False),
    ]
    tick(scoped.electrician, piece, "scrapped", cause="over-bent")
    assert Piece.objects.count() == 2
    assert [(each.state, each.is_latest) for each in Piece.objects.order_by("attempt")] == [
        ("scrapped", False),
        ("released", True),
    ]
    assert queries.compare_projections() == []


# Office and taking back


def test_office_ticks_are_numbered_by_the_companys_own_device_without_a_gap(scoped: House) -> None:
    piece = made(scoped)[0]
    tick(scoped.electrician, piece, "cut")
    with pytest.raises(IllegalMove):
        tick(scoped.electrician, piece, "taken down")
    tick(scoped.electrician, piece, "bent")
    assert list(Tick.objects.filter(sequence__isnull=False).values_list("sequence", flat=True)) == [1, 2]


def test_a_program_that_numbers_the_office_devices_ticks_itself_does_not_block_the_office(
    scoped: House,
) -> None:
    piece = made(scoped)[0]
    send(scoped.electrician, tick_in(piece, "cut", sequence=9))
    tick(scoped.electrician, piece, "bent")
    assert list(Tick.objects.filter(sequence__isnull=False).values_list("sequence", flat=True)) == [9, 10]


def test_an_office_tick_that_is_not_applied_leaves_nothing(scoped: House) -> None:
    piece = made(scoped)[0]
    for kind, figures, error in (
        ("taken down", {}, IllegalMove),
        ("checked", {"verdict": "fine"}, Invalid),
        ("polished", {}, Invalid),
        ("scrapped", {"cause": "gremlins"}, IllegalMove),
    ):
        with pytest.raises(error):
            tick(scoped.electrician, piece, kind, **figures)
    assert Tick.objects.count() == 1
    assert not SetAside.objects.exists()
    assert not HeldTick.objects.exists()


def test_the_maker_takes_a_tick_back_on_the_day_of_receipt_in_the_companys_zone(house: House) -> None:
    tokyo = make_house("Ninebar", time_zone="Asia/Tokyo")
    with tokyo.scope():
        piece = made(tokyo)[0]
        with time_machine.travel(datetime(2026, 6, 1, 14, 30, tzinfo=UTC), tick=False):  # 23:30 in Tokyo
            cut = tick(tokyo.electrician, piece, "cut")
        with time_machine.travel(
            datetime(2026, 6, 1, 15, 30, tzinfo=UTC), tick=False
        ):  # 00:30 on the next day
            with pytest.raises(IllegalMove):
                commands.take_back(actor=tokyo.electrician, tick_id=cut.id)
            assert queries.tick_to_take_back(piece.pk, tokyo.electrician) is None
            assert queries.tick_to_take_back(piece.pk, tokyo.foreman) is not None
            commands.take_back(actor=tokyo.foreman, tick_id=cut.id)
        assert state_of(piece) == "released"


def test_nobody_but_its_maker_and_a_foreman_takes_a_tick_back(scoped: House) -> None:
    piece = made(scoped)[0]
    cut = tick(scoped.foreman, piece, "cut")
    with pytest.raises(NotAllowed):
        commands.take_back(actor=scoped.electrician, tick_id=cut.id)
    assert queries.tick_to_take_back(piece.pk, scoped.electrician) is None
    with pytest.raises(NotAllowed):
        commands.take_back(actor=scoped.manager, tick_id=cut.id)
    assert state_of(piece) == "cut"


def test_an_earlier_tick_an_implied_one_and_one_taken_back_already_are_not_taken_back(scoped: House) -> None:
    piece = made(scoped)[0]
    bent = tick(scoped.electrician, piece, "bent")
    note = tick(scoped.electrician, piece, "note", note="to the east wall")
    implied = Tick.objects.get(kind="cut")
    released = Tick.objects.get(kind="released")
    for tick_id in (bent.id, implied.pk, released.pk):
        with pytest.raises(IllegalMove):
            commands.take_back(actor=scoped.foreman, tick_id=tick_id)
    commands.take_back(actor=scoped.foreman, tick_id=note.id)
    with pytest.raises(IllegalMove):
        commands.take_back(actor=scoped.foreman, tick_id=note.id)
    commands.take_back(actor=scoped.foreman, tick_id=bent.id)
    assert state_of(piece) == "released"
    stands = {(each.kind, each.stands) for each in queries.ticks_of_piece(piece.pk)}
    assert stands == {
        ("released", True),
        ("cut", False),
        ("bent", False),
        ("note", False),
        ("taken back", True),
    }


def test_a_tick_taken_back_before_it_was_heard_of_is_taken_back_when_it_comes(
    scoped: House, tablet: Actor
) -> None:
    piece = made(scoped)[0]
    cut = tick_in(piece, "cut")
    back = tick_in(piece, "taken back", takes_back=cut.id)
    assert told(*send(tablet, back)) == [("held", "tick-unknown")]
    assert told(*send(tablet, cut)) == [("applied", "")]
    assert state_of(piece) == "released"
    assert queries.compare_projections() == []


def test_a_tick_is_not_taken_back_through_another_piece(scoped: House, tablet: Actor) -> None:
    one, other = made(scoped, 1200.0, 800.0)
    cut = tick_in(one, "cut")
    send(tablet, cut)
    assert told(*send(tablet, tick_in(other, "taken back", takes_back=cut.id))) == [("refused", "not-found")]
    assert state_of(one) == "cut"


def test_a_held_tick_that_a_foreman_discards_stays_in_the_ledger_and_is_never_applied(
    scoped: House, tablet: Actor
) -> None:
    piece = made(scoped)[0]
    down = tick_in(piece, "taken down")
    send(tablet, down)
    with pytest.raises(NotAllowed):
        commands.discard_held(actor=scoped.electrician, tick_id=down.id, reason="wrong piece")
    commands.discard_held(actor=scoped.foreman, tick_id=down.id, reason="wrong piece")
    assert queries.held_ticks() == []
    tick(scoped.electrician, piece, "installed")
    assert state_of(piece) == "installed"
    assert Tick.objects.filter(tick_id=down.id).exists()
    with pytest.raises(NotFound):
        commands.discard_held(actor=scoped.foreman, tick_id=down.id, reason="again")
    assert queries.compare_projections() == []


# Reads, and what they cost


def test_the_wall_chart_counts_latest_pieces_by_run_and_state(scoped: House) -> None:
    one = made(scoped, 1200.0, 800.0, 500.0, label="07")
    made(scoped, 900.0, label="08")
    tick(scoped.electrician, one[0], "cut")
    tick(scoped.electrician, one[1], "scrapped", cause="kinked")
    rows = queries.states_of_project(one[0].line.run.room.project_id)
    assert [(row.run, row.state, row.count) for row in rows] == [
        ("07", "cut", 1),
        ("07", "released", 2),
        ("08", "released", 1),
    ]
    assert queries.states_of_project(uuid.uuid4()) == []


def queries_of(act: Any) -> int:
    """How many statements; those that SQLite takes in chunks, for its limit of parameters, count as one."""
    with CaptureQueriesContext(connection) as told_queries:
        act()
    return len([shape for shape, _each in groupby(query["sql"][:50] for query in told_queries)])


def test_a_batch_costs_the_same_queries_for_2_ticks_and_for_200_whatever_was_ticked_before(
    scoped: House, tablet: Actor
) -> None:
    few, many = made(scoped, *[1200.0] * 2, label="07"), made(scoped, *[1200.0] * 200, label="08")
    few_ticks, many_ticks = ([tick_in(each, "bent") for each in pieces] for pieces in (few, many))
    cost_of_few = queries_of(lambda: send(tablet, *few_ticks))
    assert queries_of(lambda: send(tablet, *many_ticks)) == cost_of_few
    later = [tick_in(each, "bent") for each in made(scoped, *[1200.0] * 2, label="09")]
    assert queries_of(lambda: send(tablet, *later)) == cost_of_few
    assert cost_of_few <= 30


@pytest.mark.parametrize("count", [2, 40])
def test_reads_cost_a_fixed_number_of_queries(scoped: House, count: int) -> None:
    pieces = made(scoped, *[1200.0] * count)
    for each in pieces:
        tick(scoped.electrician, each, "bent")
    first = pieces[0]
    project_id, run_id = first.line.run.room.project_id, first.line.run_id
    read = {
        "run": lambda: [
            (row.line.run.room.project.code, row.stick.plan.revision, row.conduit)
            for row in queries.pieces_of_run(run_id)
        ],
        "work": lambda: [row.line.run.room.name for row in queries.work_of_crew([scoped.crew.pk])],
        "chart": lambda: queries.states_of_project(project_id),
        "piece": lambda: queries.piece(first.pk).line.run.crew.name,
        "ticks": lambda: [(row.person.name, row.stands) for row in queries.ticks_of_piece(first.pk)],
        "held": lambda: [row.tick.person.name for row in queries.held_ticks()],
    }
    assert {name: queries_of(each) for name, each in read.items()} == dict.fromkeys(read, 1)


def test_a_suspect_or_late_tick_does_not_change_who_may_take_it_back(scoped: House, tablet: Actor) -> None:
    piece = made(scoped)[0]
    old = tick_in(piece, "cut", at=datetime.now(UTC) - timedelta(days=3))
    send(tablet, old)
    assert told(*send(tablet, tick_in(piece, "taken back", takes_back=old.id))) == [("applied", "")]
