"""Enters the scope of the company that the signed-in person works for."""

import uuid
from collections.abc import Callable

from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse

from services.company import queries, sessions
from services.core.commands import Actor
from services.core.scoping import company_scope

SESSION_KEY = "company"


class CompanyScope:
    """The company comes from the session alone, never from a header, path, query or body; the role is read
    anew each
    time, so that one taken away is away at once."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.actor = None  # type: ignore[attr-defined]
        request.company = None  # type: ignore[attr-defined]
        user = request.user
        if user.is_authenticated and sessions.has_ended(request.session):
            logout(request)
            user = request.user
        if not user.is_authenticated:
            return self.get_response(request)
        chosen = request.session.get(SESSION_KEY)
        found = queries.belonging(user.pk, uuid.UUID(chosen) if chosen else None)
        if found is None and chosen:
            found = queries.belonging(user.pk, None)
        if found is None:
            return self.get_response(request)
        request.company = found.company  # type: ignore[attr-defined]
        request.actor = Actor(user.pk, found.company.pk, found.role, found.device_id)  # type: ignore[attr-defined]
        with company_scope(found.company.pk):
            return self.get_response(request)
