"""Reads of benders and formers."""

import uuid

from django.utils.translation import gettext as _

from services.bench.models import Bender, Former
from services.core.errors import NotFound


def benders() -> list[Bender]:
    """The company's benders by name, each with its formers at hand (`bender.formers.all()`). Two queries."""
    return list(Bender.objects.order_by("name").prefetch_related("formers"))


def bender(bender_id: uuid.UUID) -> Bender:
    """One bender. Raises NotFound. One query."""
    found: Bender | None = Bender.objects.filter(pk=bender_id).first()
    if found is None:
        raise NotFound(_("There is no such bender."))
    return found


def formers() -> list[Former]:
    """The company's formers with their benders, by bender and conduit. One query."""
    return list(Former.objects.select_related("bender").order_by("bender__name", "conduit"))


def former(former_id: uuid.UUID) -> Former:
    """One former with its bender. Raises NotFound. One query."""
    found: Former | None = Former.objects.select_related("bender").filter(pk=former_id).first()
    if found is None:
        raise NotFound(_("There is no such former."))
    return found
