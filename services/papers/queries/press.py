"""From a template to pages: the one place that makes PDF."""

import hashlib
import uuid
from collections.abc import Iterator, Mapping
from functools import cache
from importlib import resources
from importlib.resources.abc import Traversable
from typing import Any

import segno
from django.conf import settings
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import get_language
from weasyprint import CSS, HTML
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import URLFetcher

import bendcore.drawing
import bendcore.words
from services.company.models import Company


def only_data() -> URLFetcher:
    """Papers fetch nothing, no file of the server and no address of its network: what is needed comes as
    data."""
    return URLFetcher(allowed_protocols=("data",), allow_redirects=False)


def printed(template: str, context: Mapping[str, Any], css: str) -> bytes:
    """A template's pages as PDF. css: beside the papers' own."""
    html = HTML(string=render_to_string(template, dict(context)), url_fetcher=only_data())
    pdf: bytes = html.write_pdf(
        stylesheets=[CSS(string=css + _css("paper.css"))], font_config=FontConfiguration()
    )
    return pdf


def page_css(paper: str, margin: str = "0") -> str:
    """The sheet of paper."""
    return f"@page {{ size: {'Letter' if paper == 'Letter' else 'A4'}; margin: {margin} }}\n"


@cache
def _css(name: str) -> str:
    return resources.files("services.papers").joinpath(name).read_text(encoding="utf-8")


def look_of(company: Company) -> str:
    """What of the company and of this code a paper depends on, in a few words."""
    return f"{company.words} {company.units} {get_language() or ''} {_code_version()}"


@cache
def _code_version() -> str:
    digest = hashlib.sha256()
    files = [
        *_files(resources.files("services.papers")),
        *_files(resources.files(bendcore.drawing)),
        *_files(resources.files(bendcore.words)),
        resources.files("services.core").joinpath("words.py"),
    ]
    for file in files:
        digest.update(file.read_bytes())
    return digest.hexdigest()[:12]


def _files(folder: Traversable) -> Iterator[Traversable]:
    for each in sorted(folder.iterdir(), key=lambda file: file.name):
        if each.is_dir():
            if each.name not in ("__pycache__", "migrations"):
                yield from _files(each)
        elif each.name.endswith((".py", ".css", ".html")):
            yield each


def address_of(stick_id: uuid.UUID) -> str:
    """Where a stick's code leads."""
    return settings.ADDRESS.rstrip("/") + reverse("stick", kwargs={"stick_id": stick_id})


def qr(address: str) -> str:
    """An address as a QR code (ISO/IEC 18004), drawn as SVG without a border: the paper leaves one."""
    drawn: str = segno.make(address, error="m", micro=False).svg_inline(
        border=0, omitsize=True, title="", svgclass=None, lineclass=None
    )
    return drawn
