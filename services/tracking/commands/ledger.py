"""The ledger, open for writing: numbers, chain, judging, and the projections that follow, all in one
transaction."""

import uuid
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any, Final

from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from bendcore.words import Dialect
from services.company.models import Company, Device
from services.core.commands import Actor
from services.core.errors import FieldProblem, Invalid, Unavailable
from services.core.faults import fault_point
from services.core.ids import uuid7
from services.planning.models import Stick
from services.tracking import queries, rules
from services.tracking.models import Answer, HeldTick, Kind, Piece, Tick
from services.tracking.rules import History, Reason
from services.tracking.signals import Applied, Batch, tick_judged, ticks_applied


def row_id(company_id: uuid.UUID, tick_id: uuid.UUID) -> uuid.UUID:
    """The id of a ledger row: of company and tick, so that no company can learn or take another's (RFC 9562,
    v5)."""
    return uuid.uuid5(company_id, tick_id.hex)


class Ledger:
    """The company's ledger with the pieces at hand. Opened, filled and closed by one command.

    Opening takes the company's row: with a lock where the database has them, and by compare and set at
    closing everywhere. Nothing is written before `close`.
    """

    def __init__(self, actor: Actor) -> None:
        self.actor: Final = actor
        self.now: Final = timezone.now()
        if actor.device_id is None:
            raise Invalid(
                [FieldProblem("device", _("ticks come from a device; this is none of the company"))]
            )
        self.device_id: Final = actor.device_id
        self.company: Final = Company.objects.select_for_update(of=("self",)).get(pk=actor.company_id)
        self.dialect: Final = Dialect(self.company.words)
        self.rows: list[Tick] = []
        self.pieces: dict[uuid.UUID, Piece] = {}
        self.crews: set[uuid.UUID] | None = None
        self.batch = Batch((), ())
        self._number = self._opened_at = self.company.next_ledger_number
        self._chain = (
            Tick.objects.values_list("chain", flat=True).get(number=self._number - 1)
            if self._number > 1
            else ""
        )
        self._ticks: dict[uuid.UUID, list[Tick]] = defaultdict(list)
        self._histories: dict[uuid.UUID, History] = {}
        self._held: dict[uuid.UUID, list[Tick]] = {}
        self._made: list[Piece] = []
        self._changed: dict[uuid.UUID, Piece] = {}
        self._attempts: dict[uuid.UUID, dict[int, Piece]] = defaultdict(dict)
        self._sticks: dict[tuple[uuid.UUID, uuid.UUID], Stick] = {}
        self._current: dict[uuid.UUID, Stick] = {}
        self._by_row: dict[uuid.UUID, Tick] = {}
        self._fresh: set[uuid.UUID] = set()

    # Reading

    def load(self, line_ids: Collection[uuid.UUID]) -> None:
        """Takes the pieces of these stick lines to hand, with all their ticks and the sticks they may be made
        to. Three queries."""
        for piece in queries.pieces().filter(line_id__in=line_ids):
            self._keep(piece)
        for row in Tick.objects.filter(piece__line_id__in=line_ids).order_by("number"):
            self._ticks[row.piece_id].append(row)
            self._by_row[row.pk] = row
        for stick in (
            Stick.objects.filter(line_id__in=line_ids)
            .select_related("plan")
            .defer("data", "plan__spec", "plan__result")
        ):
            self.keep_stick(stick)
        for piece_id in self.pieces:
            self._histories[piece_id] = queries.history(self._ticks[piece_id])
            self._held[piece_id] = queries.held_of(self._ticks[piece_id])

    def keep_stick(self, stick: Stick) -> None:
        """Takes a stick to hand."""
        self._sticks[stick.line_id, stick.plan_id] = stick
        if stick.plan.is_current:
            self._current[stick.line_id] = stick

    def _keep(self, piece: Piece) -> None:
        self.pieces[piece.pk] = piece
        self._attempts[piece.line_id][piece.attempt] = piece

    def expect(self, figures: Iterable[Mapping[str, Any]]) -> None:
        """Says which figures are about to be judged, so that receivers can read all they need at once."""
        held = [row.figures for rows in self._held.values() for row in rows]
        self.batch = Batch(list(self.pieces.values()), [*figures, *held])

    def latest_of(self, line_id: uuid.UUID) -> Piece | None:
        """The latest attempt at the line's stick."""
        attempts = self._attempts[line_id]
        number = queries.latest_attempt(
            {attempt: self.life(each).state for attempt, each in attempts.items()}
        )
        return attempts[number] if number is not None else None

    def life(self, piece: Piece) -> rules.Life:
        """What the piece's standing ticks make of it now."""
        return self._histories[piece.pk].life

    def stick_of(self, piece: Piece, plan_id: uuid.UUID) -> Stick | None:
        """The stick that the piece's line is in a plan."""
        return self._sticks.get((piece.line_id, plan_id))

    def is_begun(self, piece: Piece) -> bool:
        """Whether anything was done to the piece since its release."""
        return self._histories[piece.pk].is_begun

    # Writing

    def new_piece(self, stick: Stick, attempt: int) -> Piece:
        """A further attempt at a stick, still waiting."""
        piece = Piece(line_id=stick.line_id, stick=stick, attempt=attempt, changed_at=self.now)
        self._made.append(piece)
        self._keep(piece)
        self._histories[piece.pk] = History()
        self._held[piece.pk] = []
        return piece

    def row(
        self,
        piece: Piece,
        kind: str,
        *,
        tick_id: uuid.UUID | None = None,
        plan_id: uuid.UUID | None = None,
        sequence: int | None = None,
        made_at: datetime | None = None,
        figures: Mapping[str, Any] | None = None,
        fingerprint: str = "",
        takes_back: uuid.UUID | None = None,
        implied_by: Tick | None = None,
        settles: Tick | None = None,
    ) -> Tick:
        """An entry that is not in the ledger yet. What is not said is as the server writes it in the actor's
        name."""
        tick_id = tick_id or uuid7()
        made = made_at or self.now
        row = Tick(
            id=row_id(self.company.pk, tick_id),
            tick_id=tick_id,
            device_id=self.device_id,
            sequence=sequence,
            kind=kind,
            piece=piece,
            plan_id=plan_id or self._plan_of(piece),
            person_id=self.actor.person_id,
            role=str(self.actor.role),
            made_at=made,
            clock_suspect=rules.is_suspect(made, self.now),
            received_at=self.now,
            figures=dict(figures or {}),
            takes_back=takes_back,
            implied_by=implied_by,
            settles=settles,
        )
        row.fingerprint = fingerprint or rules.fingerprint(
            rules.TickIn(row.tick_id, 0, kind, piece.pk, row.plan_id, row.made_at, row.figures, takes_back)
        )
        return row

    def judge(self, row: Tick) -> tuple[rules.Change, tuple[str, ...]] | Reason:
        """What a tick would change and imply if it were applied now, or why it is not applied."""
        piece, entry = self.pieces[row.piece_id], queries.entry_of(row)
        made, label = self._histories[piece.pk], piece.line.label
        reason = self._why_other_plan(piece, row)
        if reason is None and row.kind == Kind.TAKEN_BACK:
            reason = rules.why_not_taken_back(
                made, self._take_back(row), dialect=self.dialect
            ) or self._why_next_is_begun(piece, row)
        if reason is not None:
            return reason
        implied = rules.implied_entries(made, entry)
        try:
            change = made.change(entry)
        except rules.Illegal:
            return rules.why_illegal(made.life, entry, label=label, dialect=self.dialect)
        answers: Sequence[tuple[object, Any]] = tick_judged.send(
            sender=Tick,
            tick=row,
            piece=piece,
            undone=tuple(self._by_row[each.id] for each in change.undone),
            batch=self.batch,
        )
        reasons: list[Reason] = [answer for _receiver, answer in answers if answer is not None]
        return reasons[0] if reasons else (change, implied)

    def receive(self, row: Tick) -> Reason | None:
        """Judges a tick and applies or holds it, and tries the piece's held ticks again after it was applied.

        Returns why it was held or refused, None if it was applied; a refused one leaves nothing.
        """
        judged = self.judge(row)
        if isinstance(judged, Reason):
            if judged.answer == Answer.HELD:
                row.answer, row.reason, row.text = Answer.HELD, judged.code, rules.short(judged.text)
                self._write(row)
                self._ticks[row.piece_id].append(row)
                self._held[row.piece_id] = queries.held_of(self._ticks[row.piece_id])
            return judged
        self._apply(row, *judged)
        self._retry(self.pieces[row.piece_id])
        return None

    def put(self, row: Tick) -> None:
        """Applies an entry of the server's own, which is legal by its making, and tries held ticks again."""
        self._apply(row, self._histories[row.piece_id].change(queries.entry_of(row)), ())
        self._retry(self.pieces[row.piece_id])

    def give(self, piece: Piece, stage: str, crew_id: uuid.UUID, *, implied_by: Tick | None = None) -> None:
        """Gives a stage of a piece to a crew. The piece is in a state in which that is legal."""
        figures = {"crew": str(crew_id), "stage": stage}
        self.put(self.row(piece, Kind.ASSIGNED, figures=figures, implied_by=implied_by))

    def settle(self, held: Tick, settled_as: str, note: str = "") -> None:
        """Says in the ledger that a held tick was applied after all, or discarded."""
        piece = self.pieces[held.piece_id]
        figures = {"as": settled_as} | ({"note": note} if note else {})
        row = self.row(piece, Kind.SETTLED, plan_id=held.plan_id, figures=figures, settles=held)
        row.answer = Answer.APPLIED
        self._write(row)
        self._ticks[piece.pk].append(row)
        self._held[piece.pk] = [each for each in self._held[piece.pk] if each.pk != held.pk]

    def _retry(self, piece: Piece) -> None:
        again = True
        while again:
            again = False
            for held in list(self._held[piece.pk]):
                judged = self.judge(held)
                if not isinstance(judged, Reason):
                    self._apply(held, *judged)
                    again = True
                    break

    def _apply(self, row: Tick, change: rules.Change, implied: Sequence[str]) -> None:
        piece = self.pieces[row.piece_id]
        for kind in implied:
            figures = {"verdict": "pass"} if kind == Kind.CHECKED else {}
            told = self.row(
                piece, kind, plan_id=row.plan_id, figures=figures, made_at=row.made_at, implied_by=row
            )
            told.device_id, told.person_id, told.role = row.device_id, row.person_id, row.role
            self._apply(told, rules.Change(), ())
        if row.answer == Answer.HELD:
            self._histories[piece.pk].take(queries.entry_of(row))
            self.settle(row, "applied")
        else:
            row.answer = Answer.APPLIED
            self._histories[piece.pk].take(queries.entry_of(row))
            self._write(row)
            self._ticks[piece.pk].append(row)
        self._changed[piece.pk] = piece
        piece.last_number, piece.changed_at = self._number - 1, self.now
        self.batch.applied.append(
            Applied(
                row,
                piece,
                tuple(self._by_row[each.id] for each in change.undone),
                tuple(self._by_row[each.id] for each in change.redone),
            )
        )
        if row.kind in (Kind.SCRAPPED, Kind.SALVAGED):
            self._open_next(piece, row)
        elif any(each.kind in (Kind.SCRAPPED, Kind.SALVAGED) for each in change.undone):
            self._close_next(piece, row)

    def _open_next(self, piece: Piece, row: Tick) -> None:
        """The stick has no piece any more: its next attempt is released, to the plan in force."""
        stick = self._current.get(piece.line_id) or self._sticks[piece.line_id, self._plan_of(piece)]
        following = self._attempts[piece.line_id].get(piece.attempt + 1) or self.new_piece(
            stick, piece.attempt + 1
        )
        if not hasattr(following, "conduit"):
            following.conduit = piece.conduit
        self.put(self.row(following, Kind.RELEASED, plan_id=stick.plan_id, implied_by=row))
        lost = self.life(piece)
        for stage, crew_id in ((rules.BENCH, lost.crew_id), (rules.FITTING, lost.fitting_crew_id)):
            if crew_id is not None:  # whom the stick was given to makes its next piece too
                self.give(following, stage, crew_id, implied_by=row)

    def _close_next(self, piece: Piece, row: Tick) -> None:
        following = self._attempts[piece.line_id][piece.attempt + 1]
        self.withdraw(following, implied_by=row)

    def withdraw(self, piece: Piece, *, implied_by: Tick | None = None) -> None:
        """Takes a piece's release back: it waits again."""
        made = self._histories[piece.pk]
        release = next(entry for entry in reversed(made.standing) if entry.kind == Kind.RELEASED)
        self.put(
            self.row(
                piece,
                Kind.TAKEN_BACK,
                plan_id=release.plan_id,
                takes_back=release.tick_id,
                implied_by=implied_by,
            )
        )

    def _plan_of(self, piece: Piece) -> uuid.UUID:
        plan_id = self.life(piece).plan_id
        if plan_id is None:
            raise rules.Illegal
        return plan_id

    def _why_other_plan(self, piece: Piece, row: Tick) -> Reason | None:
        """A tick made to another revision than the piece is: held with both figures, unless it carries the
        piece."""
        own = self.life(piece).plan_id
        if row.plan_id == own or own is None:
            return None
        theirs, ours = self._sticks[piece.line_id, row.plan_id], self._sticks[piece.line_id, own]
        if row.kind in (Kind.CARRIED, Kind.TAKEN_BACK):
            return None
        return Reason(
            "other-revision",
            _(
                "Made to revision %(theirs)d (cut length %(their_length).0f mm); "
                "%(piece)s is made to revision %(ours)d (cut length %(our_length).0f mm)."
            )
            % {
                "piece": piece.line.label,
                "theirs": theirs.plan.revision,
                "their_length": theirs.cut_length_mm,
                "ours": ours.plan.revision,
                "our_length": ours.cut_length_mm,
            },
        )

    def _take_back(self, row: Tick) -> rules.TakeBack:
        rows = self._ticks[row.piece_id]
        target = next((each for each in rows if each.tick_id == row.takes_back), None)
        zone = self.company.time_zone
        taken = {each.takes_back for each, _at in queries.in_effect(rows) if each.kind == Kind.TAKEN_BACK}
        settled = {each.settles_id: each.figures["as"] for each in rows if each.settles_id}
        return rules.TakeBack(
            target=queries.entry_of(target) if target else None,
            person_id=row.person_id,
            role=row.role,
            target_person_id=target.person_id if target else None,
            received=rules.day_of(row.received_at, zone),
            target_received=rules.day_of(target.received_at, zone) if target else None,
            is_gone=target is not None and (target.tick_id in taken or settled.get(target.pk) == "discarded"),
            is_held=target is not None and target.answer == Answer.HELD and target.pk not in settled,
        )

    def _why_next_is_begun(self, piece: Piece, row: Tick) -> Reason | None:
        """A scrapped piece comes back only while nothing was done to the attempt that followed it."""
        target = next((each for each in self._ticks[piece.pk] if each.tick_id == row.takes_back), None)
        following = self._attempts[piece.line_id].get(piece.attempt + 1)
        ends = target is not None and target.kind in (Kind.SCRAPPED, Kind.SALVAGED)
        if ends and following is not None and self.is_begun(following):
            return Reason(
                "next-attempt-begun",
                _("Attempt %(attempt)d at %(piece)s has been begun; its ticks are taken back first.")
                % {"attempt": following.attempt, "piece": piece.line.label},
            )
        return None

    def _write(self, row: Tick) -> None:
        row.number = self._number
        row.company_id = self.company.pk
        row.chain = self._chain = rules.link(self._chain, queries.chained(row))
        self._number += 1
        self.rows.append(row)
        self._by_row[row.pk] = row

    def close(self) -> None:
        """Writes entries, pieces and held ticks, and tells those who follow. Raises Unavailable if another
        wrote into the company's ledger meanwhile: nothing of this is kept then, and it can be tried again."""
        if not self.rows:
            return
        claimed = Company.objects.filter(pk=self.company.pk, next_ledger_number=self._opened_at).update(
            next_ledger_number=self._number
        )
        if not claimed:
            raise Unavailable(_("The ledger is busy. Nothing was changed; try again in a few seconds."))
        Piece.objects.bulk_create(self._made)
        Tick.objects.bulk_create(self.rows)
        fault_point("mid-projection")
        self._project()
        if self.batch.applied:
            ticks_applied.send(
                sender=Tick,
                actor=self.actor,
                ticks=[each.tick for each in self.batch.applied],
                changes=tuple(self.batch.applied),
            )

    def _project(self) -> None:
        for piece in self._changed.values():
            life = self.life(piece)
            piece.state, piece.crew_id, piece.cut_from = life.state, life.crew_id, life.cut_from
            piece.fitting_crew_id = life.fitting_crew_id
            piece.bent_once, piece.reworked_times = life.bent_once, life.reworked_times
            if life.plan_id is not None:
                piece.stick = self._sticks[piece.line_id, life.plan_id]
        if self._changed:
            Piece.objects.bulk_update(list(self._changed.values()), PROJECTED)
        set_latest([self._attempts[piece.line_id] for piece in self._changed.values()])
        held = [row for row in self.rows if row.answer == Answer.HELD]
        settled = [row for row in self.rows if row.settles_id]
        if held:
            HeldTick.objects.bulk_create(
                HeldTick(tick=row, piece_id=row.piece_id, reason=row.text) for row in held
            )
        if settled:
            kept = {
                each.tick_id: each
                for each in HeldTick.objects.filter(tick_id__in=[r.settles_id for r in settled])
            }
            for row in settled:
                kept[row.settles_id].settled_at = row.received_at
                kept[row.settles_id].settled_as = row.figures["as"]
            HeldTick.objects.bulk_update(list(kept.values()), ("settled_at", "settled_as"))


PROJECTED: Final = (
    "state",
    "stick",
    "crew",
    "fitting_crew",
    "cut_from",
    "bent_once",
    "reworked_times",
    "changed_at",
    "last_number",
)


def set_latest(lines: Iterable[Mapping[int, Piece]]) -> None:
    """Marks the latest attempt of each line. lines: attempts by number. First those that no longer are: the
    unique constraint allows one a line at any moment."""
    gone: list[uuid.UUID] = []
    come: list[uuid.UUID] = []
    for attempts in lines:
        latest = queries.latest_attempt({number: each.state for number, each in attempts.items()})
        for number, each in attempts.items():
            if each.is_latest != (number == latest):
                each.is_latest = number == latest
                (come if each.is_latest else gone).append(each.pk)
    if gone:
        Piece.objects.filter(pk__in=gone).update(is_latest=False)
    if come:
        Piece.objects.filter(pk__in=come).update(is_latest=True)


def next_office_sequence(device_id: uuid.UUID) -> int:
    """The office device's next number, claimed by compare and set."""
    device = Device.objects.get(pk=device_id)
    number = int(device.next_sequence)
    if not Device.objects.filter(pk=device_id, next_sequence=number).update(
        next_sequence=F("next_sequence") + 1
    ):
        raise Unavailable(_("The ledger is busy. Nothing was changed; try again in a few seconds."))
    return number
