"""Pieces and ticks over the API."""

import uuid
from collections.abc import Mapping
from datetime import datetime
from typing import Any, ClassVar

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.company.models import Role
from services.company.queries import crew_ids_of, crews
from services.company.rights import Right
from services.core.api import Id, Scalar, Strict, actor_of, listed, taken
from services.core.idempotency import once
from services.core.openapi import operation
from services.projects import queries as projects
from services.projects.api import RunsForm, SeenRun, seen_runs
from services.projects.rules import MOST_AT_ONCE
from services.tracking import answers, commands, queries
from services.tracking.commands.ticks import MOST_TICKS
from services.tracking.models import Piece, Tick
from services.tracking.rules import OPEN_STAGE, TickAnswer, TickIn


class TickForm(Strict):
    """A tick as its device made it.

    Only its id must be one: a tick that says anything else wrong is refused by itself, under that id, and the
    others of
    the batch are taken.
    """

    id = Id()
    sequence = Scalar(allow_null=True)
    kind = Scalar(allow_null=True)
    piece = Scalar(allow_null=True)
    plan = Scalar(allow_null=True)
    made_at = Scalar(allow_null=True)
    figures = serializers.JSONField(required=False, default=dict)
    takes_back = Scalar(required=False, allow_null=True)

    described: ClassVar = answers.WORDS_OF_TICK


class TicksForm(Strict):
    """A batch, in any order: each is taken by its device's own sequence."""

    ticks = serializers.ListField(child=TickForm(), min_length=1, max_length=MOST_TICKS)


class Ticks(APIView):
    """Where a device sends its ticks."""

    rights: ClassVar = {"POST": Right.TICK}

    @operation(
        "Send ticks",
        gives=answers.ANSWERS,
        takes=TicksForm,
        example={
            "ticks": [
                {
                    "id": "0190f3a0-5c1e-7000-8000-000000000000",
                    "sequence": 12,
                    "kind": "cut",
                    "piece": "0190f3a0-5c1e-7000-8000-000000000000",
                    "plan": "0190f3a0-5c1e-7000-8000-000000000000",
                    "made_at": "2026-11-25T10:00:00Z",
                }
            ]
        },
    )
    def post(self, request: Request) -> Response:
        """Answers each tick, in the order given, after all are kept.

        Safe to send again: a repeated id gets its first answer. So it wants no Idempotency-Key.
        """
        ticks = [tick_of(told) for told in taken(TicksForm, request)["ticks"]]
        answers = commands.record_ticks(actor=actor_of(request), ticks=ticks)
        return Response({"answers": [answer_told(answer) for answer in answers]})


class Work(APIView):
    """What there is to do."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation("List the work there is", gives=answers.PIECE, listed=True)
    def get(self, request: Request) -> Response:
        """An electrician's own crews' pieces in working order; for the others, those of all crews."""
        actor = actor_of(request)
        own = (
            crew_ids_of(actor.person_id) if actor.role == Role.ELECTRICIAN else [crew.pk for crew in crews()]
        )
        return listed(request, queries.work_of_crew(own), piece_told)


class AssignForm(RunsForm):
    """A stage of runs, and of single sticks by their latest pieces, that a crew is given."""

    described: ClassVar = answers.WORDS_OF_STAGE

    stage = Scalar()
    crew = Id()
    runs = serializers.ListField(child=SeenRun(), required=False, default=list, max_length=MOST_AT_ONCE)
    pieces = serializers.ListField(child=Id(), required=False, default=list, max_length=MOST_AT_ONCE)


class Assignments(APIView):
    """Giving stages of work to crews."""

    rights: ClassVar = {"POST": Right.RELEASE}

    @operation(
        "Give work to a crew",
        gives=answers.ASSIGNED,
        takes=AssignForm,
        example={
            "stage": "fitting",
            "crew": "0190f3a0-5c1e-7000-8000-000000000000",
            "runs": [{"run": "0190f3a0-5c1e-7000-8000-000000000000", "version": 2}],
        },
        refuses=(404, 412),
    )
    @once
    def post(self, request: Request) -> Response:
        """Gives all of it, or none. stage: bench, fitting or both. `ticks`: how many the ledger has of it."""
        told = taken(AssignForm, request)
        ticks = commands.assign(
            actor=actor_of(request),
            stage=told["stage"],
            crew_id=told["crew"],
            runs=seen_runs(told["runs"]),
            piece_ids=list(dict.fromkeys(told["pieces"])),
        )
        return Response({"ticks": ticks})


class PiecesOfRun(APIView):
    """The latest attempt at each stick of a run."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation("List a run’s pieces", gives=answers.PIECE, listed=True)
    def get(self, request: Request, run_id: uuid.UUID) -> Response:
        """In the order of the sticks."""
        return listed(request, queries.pieces_of_run(projects.run(run_id).pk), piece_told)


class OnePiece(APIView):
    """A piece."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation("Tell of a piece", gives=answers.PIECE_WITH_STICK)
    def get(self, request: Request, piece_id: uuid.UUID) -> Response:
        """With the stick that it is made to, by the engine's contract."""
        found = queries.piece(piece_id)
        return Response({**piece_told(found), "stick": found.stick.data})


class TicksOfPiece(APIView):
    """What was ticked on a piece."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation("List a piece’s ticks", gives=answers.TICK, listed=True)
    def get(self, request: Request, piece_id: uuid.UUID) -> Response:
        """In the order of the ledger."""
        return listed(request, queries.ticks_of_piece(queries.piece(piece_id).pk), tick_told)


def tick_of(told: Mapping[str, Any]) -> TickIn:
    """A tick as the command takes it; what is not of its type stays as it came, for the command to refuse."""
    return TickIn(
        id=told["id"],
        sequence=told["sequence"],
        kind=told["kind"],
        piece_id=_id(told["piece"]),
        plan_id=_id(told["plan"]),
        made_at=_moment(told["made_at"]),
        figures=told["figures"],
        takes_back=None if told.get("takes_back") is None else _id(told["takes_back"]),
    )


def _id(given: Any) -> Any:
    try:
        return Id().to_internal_value(given)
    except serializers.ValidationError:
        return given


def _moment(given: Any) -> Any:
    try:
        return datetime.fromisoformat(given) if isinstance(given, str) else given
    except ValueError:
        return given


def answer_told(answer: TickAnswer) -> dict[str, Any]:
    """What became of a tick. `applied` and `held` are kept for good; `refused` is for a person to see."""
    return {
        "id": str(answer.id),
        "answer": answer.answer,
        "reason": answer.reason,
        "text": answer.text,
        "number": answer.number,
    }


def piece_told(piece: Piece) -> dict[str, Any]:
    """A piece as the API tells it. Lengths in mm. stage: the one that is open, bench or fitting; null where
    none is."""
    given, run = queries.crews_of(piece), piece.line.run
    return {
        "id": str(piece.pk),
        "label": piece.line.label,
        "attempt": piece.attempt,
        "is_latest": piece.is_latest,
        "state": piece.state,
        "run": str(piece.line.run_id),
        "plan": str(piece.stick.plan_id),
        "crew": _text(given.bench),
        "fitting_crew": _text(given.fitting),
        "stage": OPEN_STAGE.get(piece.state),
        "due_on": run.due_on.isoformat() if run.due_on else None,
        "priority": run.priority,
        "conduit": piece.conduit,
        "cut_length_mm": piece.stick.cut_length_mm,
        "cut_from": piece.cut_from,
        "changed_at": piece.changed_at,
        "last_number": piece.last_number,
    }


def _text(row_id: uuid.UUID | None) -> str | None:
    return str(row_id) if row_id else None


def tick_told(tick: Tick) -> dict[str, Any]:
    """A tick of the ledger as the API tells it."""
    return {
        "id": str(tick.tick_id),
        "number": tick.number,
        "kind": tick.kind,
        "person": tick.person.name,
        "made_at": tick.made_at,
        "received_at": tick.received_at,
        "clock_suspect": tick.clock_suspect,
        "figures": tick.figures,
        "answer": tick.answer,
        "reason": tick.reason,
        "stands": tick.stands,
        "implied": tick.implied_by_id is not None,
        "takes_back": str(tick.takes_back) if tick.takes_back else None,
    }
