"""Papers on demand: a plan's bend cards as PDF."""

import hashlib
import uuid
from functools import cache
from importlib import resources
from typing import Any, Final

import segno
from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from weasyprint import CSS, HTML
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher

from bendcore.drawing import run_isometric, stick_isometric, strip
from bendcore.units import Mm, Units
from bendcore.words import Dialect
from services.company.models import Company
from services.company.queries import company_settings
from services.core.scoping import current_company_id
from services.papers.models import Pack
from services.planning import queries as planning_queries
from services.planning.models import Plan, Stick

STRIP_WIDTH: Final = 720.0
ISOMETRIC_WIDTH: Final = 210.0
ISOMETRIC_HEIGHT: Final = 250.0

MOST_BENDS: Final = 4
"""Bends that a half page has room for beside its drawings; a stick with more takes a whole page."""


def only_data() -> URLFetcher:
    """Papers fetch nothing, no file of the server and no address of its network: what is needed comes as
    data."""
    return URLFetcher(allowed_protocols=("data",), allow_redirects=False)


def bend_cards_pdf(plan_id: uuid.UUID) -> bytes:
    """A plan's bend cards, two to a page of the company's paper; made now unless they are kept already.

    Raises NotFound; IllegalMove where the present engine would draw other figures. Five queries, or eight.
    """
    plan = planning_queries.plan(plan_id)
    company = company_settings(current_company_id())
    kept: Pack | None = Pack.objects.filter(plan_id=plan_id, look=look_of(company)).first()
    return bytes(kept.pdf) if kept else draw(plan, company)


def look_of(company: Company) -> str:
    """What of the company and of this code a pack depends on, in a few words."""
    return f"{company.words} {company.units} {company.paper} {get_language() or ''} {_code_version()}"


@cache
def _code_version() -> str:
    digest = hashlib.sha256()
    for package, name in (
        ("services.papers", "queries.py"),
        ("services.papers", "paper.css"),
        ("services.papers", "templates/papers/bend_cards.html"),
        ("services.core", "words.py"),
    ):
        digest.update(resources.files(package).joinpath(name).read_bytes())
    return digest.hexdigest()[:12]


def draw(plan: Plan, company: Company) -> bytes:
    """The pack, drawn. Raises IllegalMove where the present engine gives other figures than the plan's."""
    pdf: bytes = HTML(
        string=render_to_string("papers/bend_cards.html", context_of(plan, company)), url_fetcher=only_data()
    ).write_pdf(stylesheets=[CSS(string=_page(company) + _css())], font_config=FontConfiguration())
    return pdf


@cache
def _css() -> str:
    return resources.files("services.papers").joinpath("paper.css").read_text(encoding="utf-8")


def _page(company: Company) -> str:
    size = "Letter" if company.paper == "Letter" else "A4"
    width, height = ("215.9mm", "139.7mm") if company.paper == "Letter" else ("210mm", "148.5mm")
    return f"@page {{ size: {size}; margin: 0 }} .card {{ width: {width}; height: {height} }}\n"


def context_of(plan: Plan, company: Company) -> dict[str, Any]:
    """What the cards say; needs the plan's run, room, project, former and bender at hand."""
    engine = planning_queries.engine_plan(plan)
    units, dialect = Units(company.units), Dialect(company.words)
    sticks = planning_queries.sticks_of(plan.pk)
    longest = Mm(max(stick.cut_length_mm for stick in sticks))
    cards = []
    for stick in sticks:
        spoken: dict[str, Any] = {"units": units, "dialect": dialect, "paper": True}
        bends = sorted(stick.data["bends"], key=lambda bend: bend["order"] or bend["number"])
        cards.append(
            {
                "stick": stick,
                "data": stick.data,
                "bends": bends,
                "is_full": len(bends) > MOST_BENDS,
                "strip": strip(
                    engine, stick.number, width=STRIP_WIDTH, span=longest, prefix=f"k{stick.number}s",
                    **spoken,
                ),
                "finished": stick_isometric(
                    engine, stick.number, width=ISOMETRIC_WIDTH, height=ISOMETRIC_HEIGHT,
                    prefix=f"k{stick.number}i", **spoken,
                ),
                "in_run": run_isometric(
                    engine, width=ISOMETRIC_WIDTH, height=ISOMETRIC_HEIGHT, bold=stick.number,
                    ends=(plan.run.from_place or _("start"), plan.run.to_place or _("finish")),
                    prefix=f"k{stick.number}r", **spoken,
                ),
                "qr": segno.make(address_of(stick), error="m", micro=False).svg_inline(
                    border=0, omitsize=True, title="", svgclass=None, lineclass=None
                ),
                "is_whole": engine.conduit.stock_length is not None
                and stick.cut_length_mm >= engine.conduit.stock_length - 0.5,
                "farthest": max((bend["set"]["sweep"] for bend in bends), default=None),
            }
        )  # fmt: skip
    return {"plan": plan, "run": plan.run, "company": company, "cards": cards, "count": len(cards)}


def address_of(stick: Stick) -> str:
    """Where a stick's code leads."""
    return settings.ADDRESS.rstrip("/") + reverse("stick", kwargs={"stick_id": stick.pk})
