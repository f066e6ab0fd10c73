"""Around each request: its id, the headers of every answer, and errors as answers."""

from collections.abc import Callable
from typing import Final

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext as _

from services.core import problems
from services.core.errors import Malformed, NotAllowed
from services.core.faults import fault_point
from services.core.ids import uuid7

PERMISSIONS: Final = "camera=(), display-capture=(), geolocation=(), microphone=(), payment=(), usb=()"
"""What no page of ours asks of the browser."""

Handler = Callable[[HttpRequest], HttpResponse]


class HttpsOnly:
    """Where pages are redirected to https, a program's plain request is refused: it would go on sending
    plainly."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if settings.SECURE_SSL_REDIRECT and problems.is_api(request) and not request.is_secure():
            return problems.answer(request, NotAllowed(_("The API answers over https alone.")))
        return self.get_response(request)


class NoNul:
    """Refuses an address with a NUL in it, decoded or not: PostgreSQL keeps none, and no row of ours can be
    meant."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if "\0" in request.path_info or "%00" in request.META.get("QUERY_STRING", ""):
            return problems.answer(
                request, Malformed(_("The address has a sign in it that stands for nothing (NUL)."))
            )
        return self.get_response(request)


class RequestId:
    """Gives each request an id that a person can quote. Never taken from the request: it would be theirs to
    forge."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.request_id = str(uuid7())  # type: ignore[attr-defined]
        response = self.get_response(request)
        response["X-Request-Id"] = request.request_id  # type: ignore[attr-defined]
        fault_point("after-answer")
        return response


class Headers:
    """What stands on every answer beside what Django's own middleware and the content policy set."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        response = self.get_response(request)
        response["Cross-Origin-Resource-Policy"] = "same-origin"
        response["Permissions-Policy"] = PERMISSIONS
        if not response.has_header("Cache-Control"):  # hashed files say for themselves how long they keep
            response["Cache-Control"] = "no-store"
        return response


class Problems:
    """Turns what a view raised into an answer. What is raised outside a view goes to `core.handlers`."""

    def __init__(self, get_response: Handler) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponse:
        """What a view raised."""
        return problems.answer_any(request, error)
