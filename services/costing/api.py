"""Scrap in metres and money over the API, from the jobs down to the ticks. For who may see money."""

import uuid
from decimal import Decimal
from typing import Any, ClassVar

from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.company.rights import Right
from services.core.api import Id, Strict, listed
from services.core.openapi import operation
from services.costing import answers, queries
from services.costing.models import CostEntry, EntryKind
from services.costing.queries import CauseScrap, Figures, JobReview, ProjectScrap
from services.costing.rules import Share


class ScrapByProject(APIView):
    """Jobs compared."""

    rights: ClassVar = {"GET": Right.SEE_MONEY}

    @operation("Compare jobs by scrap", gives=answers.SCRAP_OF_PROJECT, listed=True)
    def get(self, request: Request) -> Response:
        """Every job that drew material, the one that lost most money first."""
        return listed(request, queries.scrap_by_project(), project_told, key=lambda row: row.project_id)


class ScrapOfProject(APIView):
    """One job."""

    rights: ClassVar = {"GET": Right.SEE_MONEY}

    @operation("Tell a job’s scrap", gives=answers.REVIEW)
    def get(self, request: Request, project_id: uuid.UUID) -> Response:
        """By run and by cause, the dearest first."""
        return Response(review_told(queries.job(project_id)))


class EntriesForm(Strict):
    """Which figure to open."""

    kind = serializers.ChoiceField(choices=EntryKind.choices, default=EntryKind.SCRAP)
    run = Id(required=False)
    cause = serializers.CharField(required=False, allow_blank=True, max_length=60)
    cursor = Id(required=False)
    limit = serializers.CharField(required=False)


class EntriesOfProject(APIView):
    """What a figure is the sum of."""

    rights: ClassVar = {"GET": Right.SEE_MONEY}

    @operation("List a figure’s entries", gives=answers.ENTRY, listed=True, query=answers.ENTRIES_ASKED)
    def get(self, request: Request, project_id: uuid.UUID) -> Response:
        """In the order of the ledger, each with its piece and tick."""
        project = queries.job(project_id).project
        asked = EntriesForm(data=request.query_params.dict())
        asked.is_valid(raise_exception=True)
        told = asked.validated_data
        entries = queries.entries_of(
            project.pk, told["kind"], run_id=told.get("run"), cause=told.get("cause")
        )
        return listed(request, entries, entry_told, beside=("kind", "run", "cause"))


def _figures(row: Figures) -> dict[str, Any]:
    return {
        "drawn_m": str(row.drawn_m),
        "scrap_m": str(row.scrap_m),
        "drawn": money(row.drawn_amount, row.currency),
        "scrap": money(row.scrap_amount, row.currency),
        "cut_pieces": row.cut_pieces,
        "scrapped_pieces": row.scrapped_pieces,
        "unpriced_pieces": row.unpriced_pieces,
        "share": share_told(row.share),
        "share_of_money": share_told(row.share_of_money),
        "share_of_pieces": share_told(row.share_of_pieces),
    }


def money(amount: Decimal, currency: str) -> dict[str, str]:
    """An amount with its currency, as decimal text."""
    return {"amount": str(amount), "currency": currency}


def share_told(share: Share) -> dict[str, Any]:
    """A share with what it is a share of."""
    return {
        "part": str(share.part),
        "of": str(share.of),
        "unit": share.unit,
        "ratio": None if share.ratio is None else f"{share.ratio:.6f}",
    }


def project_told(row: ProjectScrap) -> dict[str, Any]:
    """A job as the API tells it."""
    return {"project": str(row.project_id), "code": row.code, "name": row.name, **_figures(row)}


def cause_told(row: CauseScrap) -> dict[str, Any]:
    """A cause as the API tells it. payer: who usually pays."""
    return {
        "cause": row.cause,
        "stage": row.stage,
        "payer": row.payer,
        "scrap_m": str(row.scrap_m),
        "scrap": money(row.scrap_amount, row.currency),
        "scrapped_pieces": row.scrapped_pieces,
        "share": share_told(row.share),
    }


def review_told(review: JobReview) -> dict[str, Any]:
    """A job by run and by cause, as the API tells it."""
    return {
        "project": str(review.project.pk),
        "code": review.project.code,
        "name": review.project.name,
        "runs": [
            {"run": str(row.run_id), "label": row.label, "room": row.room, **_figures(row)}
            for row in review.runs
        ],
        "causes": [cause_told(row) for row in review.causes],
    }


def entry_told(entry: CostEntry) -> dict[str, Any]:
    """A cost entry as the API tells it."""
    return {
        "id": str(entry.pk),
        "kind": entry.kind,
        "run": str(entry.run_id),
        "piece": str(entry.piece_id),
        "label": entry.piece.line.label,
        "tick": str(entry.tick.tick_id),
        "number": entry.tick.number,
        "day": entry.day,
        "metres": str(entry.metres),
        "money": money(entry.amount, entry.currency),
        "cause": entry.cause,
        "payer": entry.payer,
        "counters": str(entry.counters_id) if entry.counters_id else None,
    }
