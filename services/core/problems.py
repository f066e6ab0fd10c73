"""The one place that knows HTTP of errors: each class to its status, each answer as RFC 9457 problem
details."""

import logging
from collections.abc import Mapping
from typing import Any, Final

from django.core.exceptions import (
    PermissionDenied,
    RequestDataTooBig,
    SuspiciousOperation,
    TooManyFieldsSent,
    TooManyFilesSent,
)
from django.db import InterfaceError, OperationalError
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.template.loader import render_to_string
from django.utils.translation import gettext as _
from rest_framework import exceptions as drf
from rest_framework.response import Response

from services.core import errors

log = logging.getLogger("stickbook.problems")

STATUS: Final[Mapping[type[errors.DomainError], int]] = {
    errors.Malformed: 400,
    errors.TooLarge: 413,
    errors.Unguarded: 403,
    errors.MustNameVersion: 428,
    errors.Invalid: 422,
    errors.KeyReused: 422,
    errors.StillRunning: 409,
    errors.NotFound: 404,
    errors.NotAllowed: 403,
    errors.StaleVersion: 412,
    errors.IllegalMove: 409,
    errors.RunHasStops: 409,
    errors.CannotPlan: 422,
    errors.TooManyTries: 429,
    errors.Unavailable: 503,
}

RETRY_AFTER_SECONDS: Final = 3
GUESS_AGAIN_AFTER_SECONDS: Final = 900
"""A quarter of an hour: `AXES_COOLOFF_TIME` of the settings."""
_WAITS: Final[Mapping[type[errors.DomainError], int]] = {
    errors.StillRunning: 1,
    errors.TooManyTries: GUESS_AGAIN_AFTER_SECONDS,
    errors.Unavailable: RETRY_AFTER_SECONDS,
}
"""What Retry-After says."""


def status_of(error: errors.DomainError) -> int:
    """HTTP status of an error's class. Raises KeyError for a class without a row."""
    return STATUS[type(error)]


def document(error: errors.DomainError, *, instance: str) -> dict[str, Any]:
    """The error as problem details (RFC 9457): the figures stand as extensions, one entry for each bad
    input."""
    told: dict[str, Any] = {
        "type": f"urn:stickbook:problem:{error.code}",
        "title": error.title,
        "status": status_of(error),
        "detail": error.text,
        "instance": instance,
    }
    told.update({name: _plain(value) for name, value in error.figures.items()})
    if error.problems:
        told["problems"] = [
            {"where": each.where, "text": each.text, "code": each.code} for each in error.problems
        ]
    return told


def _plain(value: Any) -> Any:
    return value if isinstance(value, (int, float, str, bool, list, dict, type(None))) else str(value)


def is_api(request: HttpRequest) -> bool:
    """Whether the answer is for a program."""
    return request.path.startswith("/api/")


def answer(request: HttpRequest, error: errors.DomainError) -> HttpResponse:
    """The answer to a request that an error ended: problem details for a program, a page for a person."""
    status = status_of(error)
    instance = getattr(request, "request_id", "")
    response: HttpResponse
    if is_api(request):
        response = JsonResponse(
            document(error, instance=instance), status=status, content_type="application/problem+json"
        )
    else:
        # Without its database no page can know who is signed in, so it is drawn as for a stranger.
        told = {"error": error, "reference": instance}
        response = HttpResponse(
            render_to_string("problem.html", told, request=None if status == 503 else request), status=status
        )
    if type(error) in _WAITS:
        response["Retry-After"] = str(_WAITS[type(error)])
    return response


def as_domain_error(error: BaseException) -> errors.DomainError | None:
    """What Django raises for the same reasons, told in our classes; None for what is unexpected."""
    if isinstance(error, errors.DomainError):
        return error
    if isinstance(error, (Http404, drf.NotFound)):
        return errors.NotFound()
    if isinstance(error, (PermissionDenied, drf.PermissionDenied)):
        return errors.NotAllowed(_("This is not among the rights of your role."))
    if isinstance(error, (RequestDataTooBig, TooManyFieldsSent, TooManyFilesSent)):
        return errors.TooLarge(
            _("A request carries at most 1 MB (2 MB with a file), 3,400 fields and 5 files. Send less.")
        )
    if isinstance(error, SuspiciousOperation):
        return errors.Malformed(_("The request was not understood."))
    if isinstance(error, (OperationalError, InterfaceError)):
        return errors.Unavailable(
            _("The database does not answer just now. Nothing was changed; try again in a few seconds.")
        )
    return None


def answer_any(request: HttpRequest, error: BaseException | None) -> HttpResponse:
    """The answer to whatever ended a request; the unexpected is logged, and told bare."""
    ours = as_domain_error(error) if error is not None else None
    if ours is not None:
        return answer(request, ours)
    log.error("unexpected, reference %s", getattr(request, "request_id", ""), exc_info=error)
    return server_error(request)


def drf_exception_handler(error: Exception, context: Mapping[str, Any]) -> Response | None:
    """Every error of the API as problem details, those of the framework too."""
    request = context["request"]._request
    ours = as_domain_error(error)
    if ours is not None:
        body = document(ours, instance=getattr(request, "request_id", ""))
        wait = _WAITS.get(type(ours))
        headers = {} if wait is None else {"Retry-After": str(wait)}
        return Response(body, status=body["status"], headers=headers, content_type="application/problem+json")
    if isinstance(error, drf.APIException):
        problems = _flat(error.detail) if isinstance(error, drf.ValidationError) else []
        body = {
            "type": f"urn:stickbook:problem:{_code(error)}",
            "title": str(error.default_detail),
            "status": error.status_code,
            "detail": "; ".join(f"{each['where']}: {each['text']}" for each in problems) or str(error.detail),
            "instance": getattr(request, "request_id", ""),
        }
        if problems:
            body["problems"] = problems
        auth_header = getattr(error, "auth_header", None)
        headers = {"WWW-Authenticate": auth_header} if auth_header else {}
        return Response(
            body, status=error.status_code, headers=headers, content_type="application/problem+json"
        )
    return None


def _code(error: drf.APIException) -> str:
    return errors.Malformed.code if error.status_code == 400 else error.default_code.replace("_", "-")


def _flat(detail: Any, where: str = "") -> list[dict[str, str]]:
    """DRF's nested errors as a list of places."""
    if isinstance(detail, Mapping):
        return [
            each
            for name, inner in detail.items()
            for each in _flat(
                inner, f"{where}.{name}" if where and name != "non_field_errors" else where or str(name)
            )
        ]
    if isinstance(detail, (list, tuple)):
        found = []
        for index, inner in enumerate(detail):
            nested = isinstance(inner, (Mapping, list))
            found.extend(_flat(inner, f"{where}[{index}]" if nested else where))
        return found
    return [{"where": where, "text": str(detail), "code": str(getattr(detail, "code", "invalid"))}]


def server_error(request: HttpRequest) -> HttpResponse:
    """The bare answer to the unexpected: a reference to quote, and nothing of what went wrong."""
    reference = getattr(request, "request_id", "")
    if is_api(request):
        return JsonResponse(
            {
                "type": "urn:stickbook:problem:unexpected",
                "title": "Something went wrong on our side",
                "status": 500,
                "detail": "It was logged. Quote the reference when you report it.",
                "instance": reference,
            },
            status=500,
            content_type="application/problem+json",
        )
    return HttpResponse(
        "<!doctype html><title>Something went wrong</title><p>Something went wrong on our side. It was "
        f"logged; quote the reference {reference} when you report it.",
        status=500,
    )
