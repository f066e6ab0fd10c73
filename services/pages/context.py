"""What every page knows: the company, its words, the light, and what the person may do."""

from collections.abc import Mapping
from typing import Any, Final

from django.http import HttpRequest

from services.company import queries as company_queries
from services.company.rights import Right, may

LIGHT_COOKIE: Final = "light"
LIGHTS: Final = ("device", "sun", "dim")
"""By the device, for bright sun, for a dim room."""


def page(request: HttpRequest) -> dict[str, Any]:
    """Template context of every page. Lazy where it would cost a query."""
    light = request.COOKIES.get(LIGHT_COOKIE, "")
    told: dict[str, Any] = {"light": light if light in LIGHTS else LIGHTS[0], "lights": LIGHTS}
    actor = getattr(request, "actor", None)
    company = getattr(request, "company", None)
    if actor is None or company is None:
        return told
    rights = {
        right.name.lower(): may(actor.role, right, foreman_sees_money=company.foreman_sees_money)
        for right in Right
    }
    return {
        **told,
        "actor": actor,
        "company": company,
        "may": rights,
        "companies": lambda: company_queries.companies_of(actor.person_id),
        "tab": tab(request),
    }


TABS: Final[Mapping[str, tuple[str, ...]]] = {
    "wall-chart": (
        "wall-chart", "project", "run", "run-sheet", "run-change", "piece", "scrap", "project-new",
        "room-new", "projects", "project-change", "run-delete", "run-new", "run-bank",
        "run-split", "run-judge", "run-compare", "run-rows", "survey-import", "survey-preview",
    ),
    "work": ("work",),
    "benders": ("benders", "bender-new", "former-new", "former-change", "bender-change"),
    "stock": ("stock",),
    "papers": ("papers",),
    "review": ("review", "review-job", "review-entries"),
    "people": ("people", "person", "crews", "crew", "settings"),
}  # fmt: skip
"""The bar's places, each with the routes that belong to it."""


def tab(request: HttpRequest) -> str:
    """The place in the bar that the page belongs to; empty for one that is nowhere, as an unknown address."""
    match: Any = request.resolver_match
    route = match.url_name if match else None
    return next((name for name, routes in TABS.items() if route in routes), "")
