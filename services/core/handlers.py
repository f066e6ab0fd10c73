"""Answers to what is raised outside our views: by Django's own middleware, by ours, by the look-up of an
address."""

import sys

from django.http import HttpRequest, HttpResponse

from services.core import problems
from services.core.errors import Unguarded


def refused(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Django's handlers 400, 403 and 404."""
    return problems.answer_any(request, exception)


def failed(request: HttpRequest) -> HttpResponse:
    """Django's handler 500. It hands on no error, but calls this while it holds one."""
    return problems.answer_any(request, sys.exc_info()[1])


def unguarded(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Django's view for a request without the page's token. The reason tells an attacker more than a
    person."""
    return problems.answer(
        request,
        Unguarded("This page is too old, or came from elsewhere. Open it again and repeat what you did."),
    )
