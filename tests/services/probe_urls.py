"""Addresses that fail on purpose, each in its own way, beside the real ones."""

from typing import Any, ClassVar

from django.core.exceptions import PermissionDenied, SuspiciousOperation
from django.db import InterfaceError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.urls import path
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.company.models import Crew
from services.company.rights import Right
from services.config import urls
from services.core.errors import FieldProblem, IllegalMove, Invalid

handler400, handler403, handler404, handler500 = (
    urls.handler400,
    urls.handler403,
    urls.handler404,
    urls.handler500,
)

FAILURES = {
    "away": OperationalError("connection to server at 10.1.2.3 failed: SECRET-HOST"),
    "cut": InterfaceError("connection already closed SECRET-HOST"),
    "absent": Http404("SECRET-PATH"),
    "denied": PermissionDenied("SECRET-RULE"),
    "odd": SuspiciousOperation("SECRET-INPUT"),
    "slip": ZeroDivisionError("SECRET-DETAIL"),
    "illegal": IllegalMove("A piece that is released cannot be installed.", state="released"),
    "invalid": Invalid(
        [FieldProblem("rows[2].angle_deg", "is 190; allowed is above 0 to below 180", "range")]
    ),
}


def fails(request: HttpRequest, how: str) -> HttpResponse:
    """A plain view that raises."""
    raise FAILURES[how]


class Probe(APIView):
    """A view of the API that raises, or answers with what it was sent."""

    rights: ClassVar = {"GET": Right.SEE_WORK, "POST": Right.SURVEY, "PUT": Right.SEE_MONEY}

    def get(self, request: Request, how: str) -> Response:
        """Raises."""
        raise FAILURES[how]

    def post(self, request: Request, how: str) -> Response:
        """Echoes."""
        return Response(request.data)

    def put(self, request: Request, how: str) -> Response:
        """Echoes."""
        return Response(request.data)

    def delete(self, request: Request, how: str) -> Response:
        """A method without a right."""
        return Response("deleted")


def crews(request: HttpRequest) -> JsonResponse:
    """A view that reads owned rows without looking who asks."""
    return JsonResponse([crew.name for crew in Crew.objects.all()], safe=False)


def whoami(request: Any) -> JsonResponse:
    """What the request knows of the person."""
    actor = request.actor
    return JsonResponse({"role": actor and actor.role, "company": actor and str(actor.company_id)})


urlpatterns = [
    path("fails/<str:how>", fails),
    path("api/v1/fails/<str:how>", fails),
    path("api/v1/probe/<str:how>", Probe.as_view()),
    path("crews", crews),
    path("whoami", whoami),
    *urls.urlpatterns,
]
