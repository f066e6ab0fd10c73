"""Papers and packs over the API."""

import uuid
from collections.abc import Mapping
from datetime import timedelta
from typing import Any, ClassVar
from zoneinfo import ZoneInfo

from django.http import HttpResponse
from django.utils import timezone
from django.utils.translation import gettext as _
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.company.queries import company_settings
from services.company.rights import Right
from services.core.api import Id, Scalar, Strict, actor_of, listed, taken
from services.core.errors import IllegalMove
from services.core.idempotency import once
from services.core.openapi import operation
from services.papers import answers, commands, queries, rules
from services.papers.models import Pack, PackState
from services.papers.rules import Asked


class PaperForm(Strict):
    """A paper. id: of what it is of.  paper: the company's unless told; of labels, their sheet's.  labels: a
    sheet of `sheets`.  start: on it, from 1.  day: of a crew's sheet, tomorrow unless told."""

    what = Scalar()
    of = Scalar()
    id = Id()
    paper = Scalar(required=False)
    labels = Scalar(required=False, allow_null=True)
    start = Scalar(required=False, allow_null=True)
    day = Scalar(required=False, allow_null=True)
    only_open = Scalar(required=False, allow_null=True)

    described: ClassVar = answers.WORDS_OF_PAPER


class PaperQuery(Strict):
    """The same in a query, where all is text."""

    what = Scalar()
    of = Scalar()
    id = Id()
    paper = Scalar(required=False)
    labels = Scalar(required=False)
    start = serializers.IntegerField(required=False)
    day = Scalar(required=False)
    only_open = serializers.BooleanField(required=False)

    described: ClassVar = answers.WORDS_ASKED


def _asked(given: Mapping[str, Any], request: Request) -> Asked:
    company = company_settings(actor_of(request).company_id)
    today = timezone.localdate(timezone=ZoneInfo(company.time_zone))
    return rules.checked(
        what=given["what"],
        of=given["of"],
        of_id=given["id"],
        paper=given.get("paper", company.paper),
        labels=given.get("labels"),
        start=given.get("start"),
        day=given.get("day"),
        only_open=given.get("only_open"),
        tomorrow=today + timedelta(days=1),
    )


class Paper(APIView):
    """A paper that is short enough to be drawn while one waits."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation("Draw a paper", query=PaperQuery, files=("application/pdf",), refuses=(409, 422))
    def get(self, request: Request) -> HttpResponse:
        """PDF, by `what`, `of`, `id` and the like; 409 where it is too much for that: order a pack."""
        form = PaperQuery(data=request.query_params.dict())
        form.is_valid(raise_exception=True)
        asked = _asked(form.validated_data, request)
        pdf = queries.drawn_now(asked)
        if pdf is None:
            raise IllegalMove(_("This is too much to draw at once: order a pack."))
        return _pdf(pdf, queries.filename(asked.what, queries.title_of(asked)))


def _pdf(pdf: bytes, name: str) -> HttpResponse:
    response = HttpResponse(pdf, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="{name}"'
    return response


class Sheets(APIView):
    """The sheets of labels there are."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation("List sheets of labels", gives=answers.SHEETS_TOLD)
    def get(self, request: Request) -> Response:
        """Each with its paper, rows, columns and size, mm."""
        items = [
            {
                "id": each.id,
                "paper": each.paper,
                "rows": each.rows,
                "columns": each.columns,
                "width_mm": round(each.width, 4),
                "height_mm": round(each.height, 4),
                "name": each.said,
            }
            for each in rules.SHEETS.values()
        ]
        return Response({"items": items})


class Packs(APIView):
    """The packs there are."""

    rights: ClassVar = {"GET": Right.SEE_WORK, "POST": Right.SEE_WORK}

    @operation("List packs", gives=answers.PACK, listed=True)
    def get(self, request: Request) -> Response:
        """The newest first."""
        return listed(request, queries.packs(), pack_told)

    @operation(
        "Order a pack",
        gives=answers.PACK,
        takes=PaperForm,
        example={
            "what": "bend-cards",
            "of": "run",
            "id": "0190f3a0-5c1e-7000-8000-000000000000",
            "paper": "A4",
        },
        status=201,
        refuses=(404,),
    )
    @once
    def post(self, request: Request) -> Response:
        """Orders one; one that is the same and under way or made is told instead, so it is safe to send
        again (a list tells where pieces stand now, and is another each time)."""
        asked = _asked(taken(PaperForm, request), request)
        pack = commands.order_pack(actor=actor_of(request), asked=asked)
        return Response(pack_told(pack), status=201)


class OnePack(APIView):
    """One pack."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation("Tell of a pack", gives=answers.PACK)
    def get(self, request: Request, pack_id: uuid.UUID) -> Response:
        """How far it is."""
        return Response(pack_told(queries.pack(pack_id)))


class PackPages(APIView):
    """A made pack's pages."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation("Fetch a pack’s pages", files=("application/pdf",), refuses=(409,))
    def get(self, request: Request, pack_id: uuid.UUID) -> HttpResponse:
        """PDF; 409 while it is not made, or where a run of it was released anew since."""
        pack, pdf = queries.pack_pdf(pack_id)
        return _pdf(pdf, queries.filename(pack.what, pack.title))


class CancelPack(APIView):
    """Stopping a pack."""

    rights: ClassVar = {"POST": Right.SEE_WORK}

    @operation("Cancel a pack", gives=answers.PACK)
    @once
    def post(self, request: Request, pack_id: uuid.UUID) -> Response:
        """409 if it is at rest."""
        return Response(pack_told(commands.cancel_pack(actor=actor_of(request), pack_id=pack_id)))


class PackAgain(APIView):
    """Taking a pack up again that failed or was cancelled."""

    rights: ClassVar = {"POST": Right.SEE_WORK}

    @operation("Take up a pack again", gives=answers.PACK)
    @once
    def post(self, request: Request, pack_id: uuid.UUID) -> Response:
        """409 if it did neither."""
        return Response(pack_told(commands.draw_again(actor=actor_of(request), pack_id=pack_id)))


def pack_told(pack: Pack) -> dict[str, Any]:
    """A pack as the API tells it. No query for one read by `queries`."""
    return {
        "id": str(pack.pk),
        "what": pack.what,
        "of": pack.of,
        "of_id": str(pack.of_id),
        "title": pack.title,
        "parameters": pack.parameters,
        "state": pack.state,
        "done": pack.done,
        "sticks": pack.sticks,
        "pages": pack.pages if pack.state == PackState.MADE else None,
        "error": pack.error,
        "asked_at": pack.asked_at,
        "made_at": pack.made_at,
    }
