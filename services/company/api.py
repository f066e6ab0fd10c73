"""Crews over the API: to whom a run is released."""

from typing import Any, ClassVar

from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.company import queries
from services.company.models import Crew
from services.company.rights import Right
from services.core.api import listed


class Crews(APIView):
    """The company's crews."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    def get(self, request: Request) -> Response:
        """By name."""
        return listed(request, queries.crews(), crew_told)


def crew_told(crew: Crew) -> dict[str, Any]:
    """A crew as the API tells it."""
    return {"id": str(crew.pk), "name": crew.name}
