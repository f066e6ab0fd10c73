"""Benders and formers over the API: what a run names as its former, and the bender it is on."""

import uuid
from typing import Any, ClassVar

from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.bench import answers, commands, queries
from services.bench.models import Bender, Former
from services.company.rights import Right
from services.core.api import Scalar, Strict, actor_of, listed, seen_by, taken, versioned
from services.core.openapi import operation


class BenderChangeForm(Strict):
    """What may be changed of a bender; what is not named stays. Lengths in mm."""

    name = Scalar(required=False)
    shape = Scalar(required=False)
    hold_min_mm = Scalar(required=False, allow_null=True)
    swing_min_mm = Scalar(required=False, allow_null=True)


class Benders(APIView):
    """The company's benders."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation("List benders", gives=answers.BENDER, listed=True)
    def get(self, request: Request) -> Response:
        """By name."""
        return listed(request, queries.benders(), bender_told)


class OneBender(APIView):
    """A bender."""

    rights: ClassVar = {"GET": Right.SEE_WORK, "PATCH": Right.BENDERS}

    @operation("Tell of a bender", gives=answers.BENDER, etag=True)
    def get(self, request: Request, bender_id: uuid.UUID) -> Response:
        """With its version as ETag."""
        found = queries.bender(bender_id)
        return versioned(bender_told(found), found.version)

    @operation(
        "Change a bender",
        gives=answers.BENDER,
        takes=BenderChangeForm,
        example={"name": "Bench 3", "swing_min_mm": 60},
        etag=True,
        if_match=True,
    )
    def patch(self, request: Request, bender_id: uuid.UUID) -> Response:
        """Changes its name, its body, its least straights. Needs If-Match."""
        seen = seen_by(request)
        told = taken(BenderChangeForm, request)
        commands.change_bender(actor=actor_of(request), bender_id=bender_id, seen=seen, **told)
        found = queries.bender(bender_id)
        return versioned(bender_told(found), found.version)


class Formers(APIView):
    """The company's formers."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation("List formers", gives=answers.FORMER, listed=True)
    def get(self, request: Request) -> Response:
        """By bender and conduit."""
        return listed(request, queries.formers(), former_told)


def bender_told(bender: Bender) -> dict[str, Any]:
    """A bender as the API tells it. shape: of the engine's catalogue, or empty; lengths in mm, null where its
    shape says."""
    return {
        "id": str(bender.pk),
        "name": bender.name,
        "shape": bender.shape,
        "hold_min_mm": bender.hold_min_mm,
        "swing_min_mm": bender.swing_min_mm,
        "version": bender.version,
    }


def former_told(former: Former) -> dict[str, Any]:
    """A former as the API tells it. Lengths in mm, angles in degrees."""
    return {
        "id": str(former.pk),
        "bender": former.bender.name,
        "conduit": former.conduit,
        "centreline_radius_mm": former.centreline_radius_mm,
        "line": former.line,
        "take_up_mm": former.take_up_mm,
        "reach_mm": former.reach_mm,
        "k": former.k,
        "c_deg": former.c_deg,
        "sd_deg": former.sd_deg,
        "scale_deg": former.scale_deg,
        "version": former.version,
    }
