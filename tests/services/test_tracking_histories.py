"""Random histories: ticks late, twice, out of order and forged, from two tablets and the office.

After each step every id received has one answer for good, the rebuild equals the projections, stock its
movements and the ledger's cuts, and cost entries add up to what was drawn.
"""

import os
import random
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from django.db import transaction
from django.utils import timezone
from factories import our_house
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from pieces import CONDUIT, made, release

from services.company.models import Company, Device
from services.core.errors import DomainError
from services.core.ids import uuid7
from services.core.scoping import company_scope
from services.costing import queries as costing
from services.costing.models import CostEntry
from services.costing.rules import metres_of
from services.stock import commands as stock_commands
from services.stock import queries as stock
from services.stock.models import Movement, Offcut
from services.tracking import commands, queries, rules
from services.tracking.models import HeldTick, Piece, SetAside, Tick
from services.tracking.rules import VERDICTS, TickAnswer, TickIn

KINDS = (
    "cut", "threaded", "pulled", "bent", "checked", "reworked", "scrapped", "salvaged", "installed",
    "taken down", "note", "taken back",
)  # fmt: skip
TO_A_MICROMETRE = Decimal("0.000001") / 2
"""Each entry's metres are rounded to a micrometre once."""


class Histories(RuleBasedStateMachine):
    """A run of three sticks, two tablets, the office, and a link that delivers as it likes."""

    def __init__(self) -> None:
        super().__init__()
        self.atomic = transaction.atomic()
        self.atomic.__enter__()
        self.house = our_house()
        self.scope = company_scope(self.house.company.pk)
        self.scope.__enter__()
        stock_commands.set_price(
            actor=self.house.manager, conduit=CONDUIT, full_length_mm=3750, price=Decimal("12.40"),
            from_day=date(2020, 1, 1),
        )  # fmt: skip
        self.run = made(self.house, 1200.0, 1700.5, 333.333)[0].line.run
        self.tablets = [
            replace(actor, device_id=Device.objects.create(kind="tablet", name=name).pk)
            for name, actor in (("Tablet 1", self.house.electrician), ("Tablet 2", self.house.foreman))
        ]
        self.sequence = [0, 0]
        self.written: list[tuple[int, TickIn]] = []
        self.answers: dict[tuple[Any, str], TickAnswer] = {}
        self.sent: set[Any] = set()

    def teardown(self) -> None:
        """Rebuilds from the ledger after everything it keeps was spoilt, then forgets the example."""
        try:
            before = sorted(
                Piece.objects.values_list("pk", "state", "is_latest", "cut_from", "last_number", "stick")
            )
            Piece.objects.update(is_latest=False)
            Piece.objects.update(
                state="rework", bent_once=True, reworked_times=7, cut_from="?", last_number=0
            )
            HeldTick.objects.update(reason="?", settled_as="?")
            commands.rebuild(actor=self.house.administrator)
            assert queries.compare_projections() == []
            after = sorted(
                Piece.objects.values_list("pk", "state", "is_latest", "cut_from", "last_number", "stick")
            )
            assert after == before
        finally:
            self.scope.__exit__(None, None, None)
            transaction.set_rollback(True)
            self.atomic.__exit__(None, None, None)

    def _piece(self, pick: random.Random) -> Piece:
        return pick.choice(
            list(Piece.objects.select_related("stick", "line__run").order_by("line__number", "attempt"))
        )

    def _kind(self, piece: Piece, kind: str, pick: random.Random) -> str:
        """Mostly something that is legal now, or that comes late for an implied step."""
        life = queries.history(piece.ticks.order_by("number")).life
        likely = [*rules.kinds_from(piece.state, "foreman"), *life.implied, *life.implied]
        likely = [each for each in likely if each in KINDS]
        return pick.choice(likely) if likely and pick.random() < 0.6 else kind

    def _figures(self, kind: str, pick: random.Random) -> dict[str, Any]:
        match kind:
            case "cut":
                labels = list(Offcut.objects.order_by("number").values_list("label", flat=True))
                return {"offcut": pick.choice([*labels, "R99"])} if pick.random() < 0.4 else {}
            case "pulled":
                return {"bend": 1, "pull": pick.randint(0, 2)}
            case "checked":
                return {"verdict": pick.choice(VERDICTS)}
            case "scrapped":
                return {
                    "cause": pick.choice(["kinked", "box moved", "gremlins"]),
                    "saved_mm": pick.choice([0, 120.25, 400]),
                }
            case "note":
                return {"note": "to the east wall"}
        return {}

    def _takes_back(self, piece: Piece, pick: random.Random) -> Any:
        known = [tick.id for _tablet, tick in self.written if tick.piece_id == piece.pk]
        known += list(piece.ticks.order_by("-number").values_list("tick_id", flat=True)[:2])
        return pick.choice([*known, *known[-2:], uuid7()])

    @rule(tablet=st.integers(0, 1), kind=st.sampled_from(KINDS), pick=st.randoms(use_true_random=False))
    def written_on_a_tablet(self, tablet: int, kind: str, pick: random.Random) -> None:
        """A tick waits on a tablet."""
        piece = self._piece(pick)
        kind = self._kind(piece, kind, pick)
        self.sequence[tablet] += 1
        tick = TickIn(
            id=uuid7(), sequence=self.sequence[tablet], kind=kind, piece_id=piece.pk,
            plan_id=piece.stick.plan_id,
            made_at=timezone.now(), figures=self._figures(kind, pick),
            takes_back=self._takes_back(piece, pick) if kind == "taken back" else None,
        )  # fmt: skip
        self.written.append((tablet, tick))

    @precondition(lambda self: self.written)
    @rule(tablet=st.integers(0, 1), pick=st.randoms(use_true_random=False))
    def delivered(self, tablet: int, pick: random.Random) -> None:
        """Any of a tablet's ticks arrive, in any order, some of them again, one of them perhaps forged."""
        own = [tick for each, tick in self.written if each == tablet]
        batch = [pick.choice(own) for _ in range(pick.randint(1, 6))] if own else []
        if batch and pick.random() < 0.2:
            batch.append(
                replace(pick.choice(batch), kind="note", figures={"note": "forged"}, takes_back=None)
            )
        for tick, answer in zip(
            batch, commands.record_ticks(actor=self.tablets[tablet], ticks=batch), strict=True
        ):
            assert answer.id == tick.id
            first = self.answers.setdefault((tick.id, repr(tick)), answer)
            assert answer == first
            self.sent.add(tick.id)

    @rule(kind=st.sampled_from(KINDS[:-1]), pick=st.randoms(use_true_random=False))
    def ticked_in_the_office(self, kind: str, pick: random.Random) -> None:
        """Applied, or it leaves nothing."""
        before = Tick.objects.count()
        piece = self._piece(pick)
        kind = self._kind(piece, kind, pick)
        try:
            with transaction.atomic():
                commands.tick_from_office(
                    actor=self.house.foreman, piece_id=piece.pk, kind=kind, figures=self._figures(kind, pick)
                )
        except DomainError:
            assert Tick.objects.count() == before

    @rule(pick=st.randoms(use_true_random=False))
    def taken_back_in_the_office(self, pick: random.Random) -> None:
        """The foreman takes a piece's latest tick back, where it can be."""
        latest = queries.tick_to_take_back(self._piece(pick).pk, self.house.foreman)
        if latest is not None:
            before = latest.piece_id, Piece.objects.get(pk=latest.piece_id).last_number
            try:
                commands.take_back(actor=self.house.foreman, tick_id=latest.pk)
            except DomainError as error:
                assert error.figures["reason"] in ("offcut-used", "next-attempt-begun")  # noqa: PT017
                assert before[1] == Piece.objects.get(pk=before[0]).last_number

    @rule(pick=st.randoms(use_true_random=False))
    def discarded(self, pick: random.Random) -> None:
        """The foreman settles a held tick."""
        held = queries.held_ticks()
        if held:
            commands.discard_held(
                actor=self.house.foreman, tick_id=pick.choice(held).tick_id, reason="wrong piece"
            )

    @rule(lengths=st.sampled_from([(1200.0, 1700.5), (1210.0, 1690.0, 340.0), (1.0, 2.0, 3.0, 4.0)]))
    def released_anew(self, lengths: tuple[float, ...]) -> None:
        """A new revision, while nothing was begun."""
        try:
            with transaction.atomic():
                release(self.house.foreman, self.run, lengths)
        except DomainError:
            assert queries.begun_of_run(self.run.pk)

    @initialize()
    def begins_whole(self) -> None:
        """Nothing differs before anything was ticked."""
        self.everything_agrees()

    @invariant()
    def everything_agrees(self) -> None:
        """Ledger, pieces, stock and costs tell one story."""
        assert queries.compare_projections() == []
        assert stock.compare_projections() == []
        assert costing.compare_with_ledger() == []

    @invariant()
    def each_id_received_is_applied_held_or_refused_once(self) -> None:
        """In the ledger once, or refused once; what was forged beside it."""
        ledger = list(Tick.objects.filter(tick_id__in=self.sent).values_list("tick_id", flat=True))
        assert len(ledger) == len(set(ledger))
        outside = self.sent - set(ledger)
        firsts = SetAside.objects.exclude(reason="tick-id-reused").values_list("tick_id", flat=True)
        assert outside == set(firsts)
        assert len(firsts) == len(outside)

    @invariant()
    def the_ledger_has_no_gap(self) -> None:
        """1, 2, 3, ... and the company knows the next."""
        numbers = list(Tick.objects.values_list("number", flat=True))
        assert numbers == list(range(1, len(numbers) + 1))
        assert Company.objects.get(pk=self.house.company.pk).next_ledger_number == len(numbers) + 1

    @invariant()
    def entries_add_up_to_what_was_drawn(self) -> None:
        """Metres of the job's entries, material and scrap, are those of its movements; scrap adds nothing."""
        entries = list(CostEntry.objects.values_list("kind", "metres", "amount", "cause"))
        drawn = metres_of(sum(Movement.objects.values_list("length_mm", flat=True)))
        posted = sum((row[1] for row in entries), Decimal(0))
        assert abs(posted - drawn) <= TO_A_MICROMETRE * (len(entries) + 1)
        assert sum((row[2] for row in entries if row[3]), Decimal(0)) == 0
        for row in costing.scrap_by_project():
            assert 0 <= row.scrap_m <= row.drawn_m
            assert 0 <= row.scrap_amount <= row.drawn_amount

    @invariant()
    def no_held_tick_waits_that_is_legal_now(self) -> None:
        """It was tried again after whatever made it legal."""
        for held in queries.held_ticks():
            tick = held.tick
            current = Piece.objects.select_related("stick").get(pk=held.piece_id)
            named = tick.kind == "cut" and tick.figures.get("offcut")
            if named or tick.figures.get("cause") == "gremlins" or tick.plan_id != current.stick.plan_id:
                continue  # for more reasons than the state
            history = queries.history(current.ticks.order_by("number"))
            if tick.kind != "taken back":
                with pytest.raises(rules.Illegal):
                    history.change(queries.entry_of(tick))

    @invariant()
    def each_stick_has_one_latest_piece(self) -> None:
        """Scrapped or salvaged pieces are followed by an attempt; at most one is the latest."""
        ended = Piece.objects.filter(state__in=("scrapped", "salvaged"), is_latest=True)
        assert not ended.exists()


HISTORIES_ASKED = int(os.environ.get("STICKBOOK_HISTORIES", "0"))


@pytest.mark.slow
@pytest.mark.django_db
def test_random_histories_keep_every_law() -> None:
    run_state_machine_as_test(
        Histories,
        settings=settings(
            max_examples=HISTORIES_ASKED or 25,
            stateful_step_count=30,
            deadline=None,
            # The same histories each time, so that the suite tells of a change and not of luck; more of them,
            # drawn anew, with STICKBOOK_HISTORIES=500.
            derandomize=not HISTORIES_ASKED,
            suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
        ),
    )
