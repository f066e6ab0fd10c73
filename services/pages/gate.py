"""Who may open a page: signed in, in a company, with the right that the page names."""

import functools
import uuid
from collections.abc import Callable
from typing import Any, Concatenate, ParamSpec
from zoneinfo import ZoneInfo

from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _

from services.company.models import Company
from services.company.rights import Right, may
from services.core.commands import Actor
from services.core.errors import FieldProblem, Invalid, NotAllowed

P = ParamSpec("P")


class PageRequest(HttpRequest):
    """A request that passed the gate."""

    actor: Actor
    company: Company
    htmx: Any
    request_id: str


View = Callable[Concatenate[PageRequest, P], HttpResponse]


def page(
    right: Right, *methods: str
) -> Callable[[View[P]], Callable[Concatenate[HttpRequest, P], HttpResponse]]:
    """Makes a view a page: for these methods (GET alone unless told), and for people whose role has the
    right.

    Who is not signed in is sent to do so, a fragment's page as a whole; without the right it raises
    NotAllowed.
    """
    allowed = methods or ("GET",)

    def dress(view: View[P]) -> Callable[Concatenate[HttpRequest, P], HttpResponse]:
        @functools.wraps(view)
        def passed(request: HttpRequest, *args: P.args, **kwargs: P.kwargs) -> HttpResponse:
            if not request.user.is_authenticated:
                return _to_sign_in(request)
            actor: Actor | None = request.actor  # type: ignore[attr-defined]
            if actor is None:
                raise NotAllowed(
                    _("You belong to no company here. Ask an administrator of yours to take you in.")
                )
            company: Company = request.company  # type: ignore[attr-defined]
            if not may(actor.role, right, foreman_sees_money=company.foreman_sees_money):
                raise NotAllowed(
                    _("This page is not among the rights of the role %(role)s.") % {"role": actor.role}
                )
            if request.method not in allowed and not (request.method == "HEAD" and "GET" in allowed):
                refused = HttpResponse(status=405)
                refused["Allow"] = ", ".join(allowed)
                return refused
            with timezone.override(ZoneInfo(company.time_zone)):
                response = view(request, *args, **kwargs)  # type: ignore[arg-type]
            response["Cache-Control"] = "no-store"
            return response

        passed.right = right  # type: ignore[attr-defined]
        passed.methods = allowed  # type: ignore[attr-defined]
        return passed  # type: ignore[return-value] # the same callable; only the parameter's name is told

    return dress


def seen_by(request: PageRequest) -> int:
    """The version that the page showed. Raises Invalid."""
    return counted_by(request, "seen", _("the page did not say which version it showed; open it again"))


def counted_by(request: PageRequest, name: str, problem: str) -> int:
    """A count of nine digits at most that the page sends along by itself. Raises Invalid, with this problem,
    for what no page of ours sends."""
    text = request.POST.get(name, "")
    if not text.isascii() or not text.isdigit() or len(text) > 9:
        raise Invalid([FieldProblem(name, problem)])
    return int(text)


def _to_sign_in(request: HttpRequest) -> HttpResponse:
    if getattr(request, "htmx", False):
        response = HttpResponse(status=204)
        response["HX-Redirect"] = reverse("sign-in")
        return response
    # A POST's address may have no page of its own to come back to.
    back = request.get_full_path() if request.method == "GET" else reverse("wall-chart")
    return redirect_to_login(back, reverse("sign-in"))


def project_remembered(request: HttpRequest) -> uuid.UUID | None:
    """The project last looked at in this session."""
    try:
        return uuid.UUID(str(request.session.get("project")))
    except ValueError:
        return None
