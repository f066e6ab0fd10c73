"""Formers over the API: what a run names as its former."""

from typing import Any, ClassVar

from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.bench import queries
from services.bench.models import Former
from services.company.rights import Right
from services.core.api import listed


class Formers(APIView):
    """The company's formers."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    def get(self, request: Request) -> Response:
        """By bender and conduit."""
        return listed(request, queries.formers(), former_told)


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
