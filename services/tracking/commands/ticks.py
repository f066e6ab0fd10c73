"""Ticks: received from a device in batches, or made in the office one by one."""

import uuid
from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from django.db.models import Q
from django.utils import timezone
from django.utils.translation import gettext as _

from services.company.models import Crew, Device, DeviceKind, Role
from services.company.queries import crew_ids_of
from services.company.rights import Right, require
from services.core import words
from services.core.commands import Actor, command, record
from services.core.errors import DomainError, FieldProblem, IllegalMove, Invalid, NotAllowed, NotFound
from services.core.ids import uuid7
from services.projects import rules as project_rules
from services.tracking import rules
from services.tracking.commands.ledger import Ledger, next_office_sequence
from services.tracking.models import Answer, HeldTick, Kind, Piece, SetAside, Tick
from services.tracking.rules import Reason, TickAnswer, TickIn

MOST_TICKS: Final = 500
"""In one batch."""


@command
def record_ticks(*, actor: Actor, ticks: Sequence[TickIn]) -> list[TickAnswer]:
    """Receives a device's ticks; answers each, in the order given: applied, held or refused.

    They are taken in the order of the device's own sequence. A repeated id gets its first answer and ledger
    number again; with other content it is kept in quarantine and answered held, `tick-id-reused`, and so is a
    sequence that another tick has, `sequence-reused`. One bad tick harms no other. The number of queries
    does not depend on how many ticks there are, nor on how long the ledger is (SQLite writes in chunks).
    Raises NotAllowed (the role ticks nothing), Invalid (too many, or no device).
    """
    require(actor, Right.TICK)
    if len(ticks) > MOST_TICKS:
        raise Invalid(
            [FieldProblem("ticks", _("are %(count)d; at most %(most)d are received at once")
                          % {"count": len(ticks), "most": MOST_TICKS})]
        )  # fmt: skip
    device = Device.objects.filter(pk=actor.device_id).first()
    if device is None:
        raise Invalid([FieldProblem("device", _("ticks come from a device of the company; this is none"))])
    answers = _Receiving(actor, ticks).answers()
    _past_office_sequence(device, ticks)
    told = [answer.answer for answer in answers]
    record(actor, "ticks received", device, **{kind: told.count(kind) for kind in Answer.values})
    return answers


def _past_office_sequence(device: Device, ticks: Sequence[TickIn]) -> None:
    """A program that numbers ticks of the office device itself: the office goes on after them."""
    taken = [tick.sequence for tick in ticks if rules.malformed(tick) is None]
    if device.kind == DeviceKind.OFFICE and taken:
        Device.objects.filter(pk=device.pk, next_sequence__lte=max(taken)).update(
            next_sequence=max(taken) + 1
        )


@command
def tick_from_office(
    *, actor: Actor, piece_id: uuid.UUID, kind: str, figures: Mapping[str, Any] | None = None
) -> TickAnswer:
    """A tick made on a page of the office, numbered by the office's own device. Applied, or it leaves
    nothing.

    Raises NotFound, NotAllowed, Invalid (figures), IllegalMove (not from this state).
    """
    return _from_office(actor, piece_id, kind, figures or {}, None)


@command
def take_back(*, actor: Actor, tick_id: uuid.UUID) -> TickAnswer:
    """Takes the latest standing tick of a piece back: by its maker on the day of receipt, or by a foreman.

    tick_id: the device's or the row's. Raises NotFound, NotAllowed, IllegalMove.
    """
    require(actor, Right.TICK)
    target = Tick.objects.filter(Q(tick_id=tick_id) | Q(pk=tick_id)).first()
    if target is None:
        raise NotFound(_("There is no such tick."))
    return _from_office(actor, target.piece_id, Kind.TAKEN_BACK, {}, target.tick_id)


@command
def discard_held(*, actor: Actor, tick_id: uuid.UUID, reason: str) -> None:
    """Settles a held tick that will not be applied; says why. It stays in the ledger.

    Raises NotAllowed, NotFound, Invalid.
    """
    require(actor, Right.RELEASE)
    reason = reason.strip()
    if not 1 <= len(reason) <= 300:
        raise Invalid([FieldProblem("reason", _("is not of 1 to 300 characters"))])
    ledger = Ledger(at_office(actor))
    held = (
        HeldTick.objects.filter(Q(tick__tick_id=tick_id) | Q(tick_id=tick_id), settled_at__isnull=True)
        .select_related("tick", "piece")
        .first()
    )
    if held is None:
        raise NotFound(_("There is no such held tick."))
    ledger.load([held.piece.line_id])
    ledger.settle(held.tick, "discarded", reason)
    ledger.close()
    record(actor, "held tick discarded", held.tick, reason=reason)


def at_office(actor: Actor) -> Actor:
    """The actor at the company's own office device."""
    device = Device.objects.get(kind=DeviceKind.OFFICE)
    return Actor(actor.person_id, actor.company_id, actor.role, device.pk)


def _from_office(
    actor: Actor, piece_id: uuid.UUID, kind: str, figures: Mapping[str, Any], takes_back: uuid.UUID | None
) -> TickAnswer:
    require(actor, Right.TICK)
    piece = Piece.objects.select_related("stick", "line__run__room__project").filter(pk=piece_id).first()
    if piece is None:
        raise NotFound(_("There is no such piece."))
    # What a tablet sends late is kept all the same: only the office works on what it archived by itself.
    project_rules.require_open(piece.line.run.room.project)
    actor = at_office(actor)
    receiving = _Receiving(
        actor,
        (),
        made_here=lambda: TickIn(
            id=uuid7(),
            sequence=next_office_sequence(actor.device_id),  # type: ignore[arg-type]
            kind=kind,
            piece_id=piece_id,
            plan_id=piece.stick.plan_id,
            made_at=timezone.now(),
            figures=figures,
            takes_back=takes_back,
        ),
    )
    answer = receiving.answers()[0]
    if answer.answer != Answer.APPLIED:
        raise _as_error(receiving.reasons[answer.id])
    record(actor, f"ticked {kind}", piece, number=answer.number, figures=rules.plain(figures))
    return answer


def _as_error(reason: Reason) -> DomainError:
    if reason.code == "not-found":
        return NotFound(reason.text)
    if reason.code in ("not-allowed", "other-crew"):
        return NotAllowed(reason.text)
    if reason.problems:
        return Invalid(reason.problems)
    return IllegalMove(reason.text, reason=reason.code)


class _Receiving:
    """One batch on its way into the ledger."""

    def __init__(
        self, actor: Actor, ticks: Sequence[TickIn], *, made_here: Callable[[], TickIn] | None = None
    ) -> None:
        self.actor = actor
        self.ledger = Ledger(actor)  # the company's row first: what is read after it, no one else changes
        self.ticks = [made_here()] if made_here else list(ticks)
        self.reasons: dict[uuid.UUID, Reason] = {}
        self.why = {index: rules.malformed(tick) for index, tick in enumerate(self.ticks)}
        self._load()

    def _load(self) -> None:
        ids = {tick.id for tick in self.ticks}
        sound = [tick for index, tick in enumerate(self.ticks) if self.why[index] is None]
        self.known: dict[uuid.UUID, Tick] = {row.tick_id: row for row in Tick.objects.filter(tick_id__in=ids)}
        self.aside: dict[tuple[uuid.UUID, str], SetAside] = {
            (row.tick_id, row.fingerprint): row for row in SetAside.objects.filter(tick_id__in=ids)
        }
        self.refused_ids = {tick_id for tick_id, _print in self.aside}
        self.sequences: set[int] = set(
            Tick.objects.filter(
                device_id=self.actor.device_id, sequence__in=[tick.sequence for tick in sound]
            ).values_list("sequence", flat=True)
        )
        lines = set(
            Piece.objects.filter(pk__in={tick.piece_id for tick in sound}).values_list("line_id", flat=True)
        )
        self.ledger.load(lines)
        self.targets: dict[uuid.UUID, uuid.UUID] = dict(
            Tick.objects.filter(
                tick_id__in=[tick.takes_back for tick in sound if tick.takes_back]
            ).values_list("tick_id", "piece_id")
        )
        self.own_crews = (
            set(crew_ids_of(self.actor.person_id)) if self.actor.role == Role.ELECTRICIAN else set()
        )
        named = [str(tick.figures.get("crew")) for tick in sound if tick.kind == Kind.ASSIGNED]
        self.crews = (
            {str(crew_id) for crew_id in Crew.objects.values_list("pk", flat=True)} if named else set()
        )
        self.ledger.expect([tick.figures for tick in sound])

    def answers(self) -> list[TickAnswer]:
        """Takes every tick in, closes the ledger, and answers in the order given."""
        order = sorted(
            range(len(self.ticks)),
            key=lambda index: (
                self.why[index] is not None,
                self.ticks[index].sequence if not self.why[index] else 0,
            ),
        )
        self.new_aside: list[SetAside] = []
        answers = {index: self._answer(self.ticks[index], self.why[index]) for index in order}
        self.ledger.close()
        SetAside.objects.bulk_create(self.new_aside)
        return [answers[index] for index in range(len(self.ticks))]

    def _answer(self, tick: TickIn, why: Reason | None) -> TickAnswer:
        print_ = rules.fingerprint(tick)
        first = self.known.get(tick.id)
        if first is not None and first.fingerprint == print_:
            return TickAnswer(tick.id, str(first.answer), first.reason, first.number, first.text)
        before = self.aside.get((tick.id, print_))
        if before is not None:
            return TickAnswer(tick.id, str(before.answer), before.reason, None, before.text)
        if first is not None or tick.id in self.refused_ids:
            text = _("Another tick has this id already; both are kept.")
            return self._set_aside(tick, print_, Reason("tick-id-reused", text))
        reason = why or self._why_refused(tick)
        if reason is None and tick.sequence in self.sequences:
            text = _("Another tick of this device has the number %(sequence)d already; both are kept.")
            reason = Reason("sequence-reused", text % {"sequence": tick.sequence})
        if reason is not None:
            return self._set_aside(tick, print_, reason)
        return self._take(tick, print_)

    def _take(self, tick: TickIn, print_: str) -> TickAnswer:
        figures, _reason = rules.clean_figures(tick.kind, tick.figures)
        piece = self.ledger.pieces[tick.piece_id]
        row = self.ledger.row(
            piece,
            tick.kind,
            tick_id=tick.id,
            plan_id=tick.plan_id,
            sequence=tick.sequence,
            made_at=tick.made_at,
            figures=figures,
            fingerprint=print_,
            takes_back=tick.takes_back,
        )
        reason = self.ledger.receive(row)
        if reason is not None:
            if reason.answer == Answer.REFUSED:
                return self._set_aside(tick, print_, reason)
            self.reasons[tick.id] = reason
        self.known[tick.id] = row
        self.targets[tick.id] = row.piece_id
        self.sequences.add(tick.sequence)
        return TickAnswer(tick.id, str(row.answer), row.reason, row.number, row.text)

    def _set_aside(self, tick: TickIn, print_: str, reason: Reason) -> TickAnswer:
        row = SetAside(
            tick_id=tick.id,
            device_id=self.ledger.device_id,
            person_id=self.actor.person_id,
            received_at=self.ledger.now,
            content=rules.plain(rules.content_of(tick)),
            fingerprint=print_,
            answer=reason.answer,
            reason=reason.code,
            text=rules.short(reason.text),
        )
        self.new_aside.append(row)
        self.aside[tick.id, print_] = row
        self.refused_ids.add(tick.id)
        self.reasons[tick.id] = reason
        return TickAnswer(tick.id, str(row.answer), row.reason, None, row.text)

    def _why_refused(self, tick: TickIn) -> Reason | None:
        piece = self.ledger.pieces.get(tick.piece_id)
        if piece is None:
            return rules.refusal("not-found", _("There is no such piece."))
        if self.actor.role not in rules.ROLES[tick.kind]:
            holders = _(" or ").join(sorted(rules.ROLES[tick.kind]))
            return rules.refusal(
                "not-allowed",
                _("“%(kind)s” is ticked by %(holders)s; you are signed in as %(role)s.")
                % {
                    "kind": words.act(tick.kind, self.ledger.dialect),
                    "holders": holders,
                    "role": self.actor.role,
                },
            )
        life, run = self.ledger.life(piece), piece.line.run
        given = rules.crews_of(
            life.crew_id, life.fitting_crew_id, run_bench=run.crew_id, run_fitting=run.fitting_crew_id
        )
        if self.actor.role == Role.ELECTRICIAN and self.own_crews.isdisjoint((given.bench, given.fitting)):
            return rules.refusal("other-crew", _("This run is not given to a crew of yours."))
        if self.ledger.stick_of(piece, tick.plan_id) is None:
            return rules.refusal("not-found", _("The piece is not in that revision of the plan."))
        if tick.takes_back and self.targets.get(tick.takes_back, piece.pk) != piece.pk:
            return rules.refusal("not-found", _("The tick that this takes back is not of this piece."))
        return self._why_out_of_range(tick, piece)

    def _why_out_of_range(self, tick: TickIn, piece: Piece) -> Reason | None:
        figures, reason = rules.clean_figures(tick.kind, tick.figures)
        if reason is not None:
            return reason
        if tick.kind == Kind.ASSIGNED and figures["crew"] not in self.crews:
            return rules.refusal("not-found", _("There is no such crew."))
        saved, length = figures.get("saved_mm", 0.0), piece.stick.cut_length_mm
        if saved > length:
            text = _("is %(saved).0f mm; the piece is %(length).0f mm long, no more can be saved")
            problem = FieldProblem(
                "figures.saved_mm", text % {"saved": saved, "length": length}, "out-of-range"
            )
            return rules.refusal("out-of-range", f"{problem.where} {problem.text}", [problem])
        return None
