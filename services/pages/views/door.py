"""Signing in and out, the light, and the company worked for."""

import uuid
from typing import Any

from django.contrib.auth import authenticate, login, logout
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render
from django.utils.http import url_has_allowed_host_and_scheme
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from services.company import queries as company_queries
from services.company.middleware import SESSION_KEY
from services.company.rights import Right
from services.core.errors import NotFound
from services.pages.context import LIGHT_COOKIE, LIGHTS
from services.pages.gate import PageRequest, page

LONGEST_PASSWORD = 128


@never_cache
@sensitive_post_parameters("password")
@require_http_methods(["GET", "HEAD", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    """The door. Guessing is slowed by axes, for each name at each address."""
    if request.user.is_authenticated:
        return redirect("wall-chart")
    context: dict[str, Any] = {"next": request.POST.get("next") or request.GET.get("next", "")}
    if request.method != "POST":
        return render(request, "pages/sign_in.html", context)
    email, password = request.POST.get("email", "").strip(), request.POST.get("password", "")
    context["email"] = email
    if not email:
        context["email_problem"] = _("Type your mail address.")
    if not password or len(password) > LONGEST_PASSWORD or "\0" in password + email:
        context["password_problem"] = _("Type your password: up to 128 characters.")
    if "email_problem" in context or "password_problem" in context:
        return render(request, "pages/sign_in.html", context, status=422)
    # By the field that the limit on guesses counts by, in small letters: capitals would each be a name of
    # their own.
    user = authenticate(request, email=email.lower(), password=password)
    if user is None:
        if getattr(request, "axes_locked_out", False):
            return render(request, "locked-out.html", status=429)
        context["problem"] = _("No such mail address with this password. Look at both and try again.")
        return render(request, "pages/sign_in.html", context, status=422)
    login(request, user)
    return HttpResponseRedirect(_own_address(request, context["next"]))


@require_POST
def sign_out(request: HttpRequest) -> HttpResponse:
    """Ends the session."""
    logout(request)
    return redirect("sign-in")


@require_POST
def set_light(request: HttpRequest) -> HttpResponse:
    """Remembers the light by cookie, so that the server sends the next page in it and nothing flashes."""
    light = request.POST.get("light", "")
    if light not in LIGHTS:
        raise NotFound(_("There is no such light; there are device, sun and dim."))
    response: HttpResponse
    if request.headers.get("X-Light") == "quiet":
        response = HttpResponse(status=204)
    else:
        response = HttpResponseRedirect(_own_address(request, request.POST.get("next", "")))
    response.set_cookie(
        LIGHT_COOKIE, light, max_age=31_536_000, secure=request.is_secure(), httponly=True, samesite="Lax"
    )
    return response


@page(Right.SEE_WORK, "POST")
def switch_company(request: PageRequest) -> HttpResponse:
    """Works for another company of one's own from now on."""
    asked = request.POST.get("company", "")
    mine = {str(each.pk): each.pk for each in company_queries.companies_of(request.actor.person_id)}
    if asked not in mine:
        raise NotFound(_("You belong to no such company."))
    chosen: uuid.UUID = mine[asked]
    request.session.cycle_key()
    request.session[SESSION_KEY] = str(chosen)
    request.session.pop("project", None)
    return redirect("wall-chart")


def _own_address(request: HttpRequest, asked: str) -> str:
    """The address asked for if it is one of ours, else the wall chart's."""
    if url_has_allowed_host_and_scheme(
        asked, allowed_hosts={request.get_host()}, require_https=request.is_secure()
    ):
        return asked
    return "/"
