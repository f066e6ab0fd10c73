"""The packs there are, and how far they are."""

import hashlib
import json
import uuid
from collections.abc import Collection, Iterable, Sequence
from datetime import timedelta

from django.utils import timezone
from django.utils.translation import gettext as _

from services.company.models import Company
from services.core.errors import IllegalMove, NotFound
from services.papers import rules
from services.papers.models import Pack, PackState, Part, What
from services.papers.queries.press import look_of
from services.planning.models import Plan


def key_of(asked: rules.Asked, parts: Sequence[object], plans: Sequence[str], company: Company) -> str:
    """What tells two packs apart. Lists tell where pieces stand now, so each of them is another."""
    told = [asked.what, asked.of, str(asked.of_id), asked.parameters(), parts, plans, look_of(company)]
    if asked.what not in (What.BEND_CARDS, What.LABELS) or asked.only_open:
        told.append(uuid.uuid4().hex)
    return hashlib.sha256(json.dumps(told).encode()).hexdigest()


def packs() -> list[Pack]:
    """The packs that people asked for, the newest first, without their pages; those that are out of date by
    now left out. Two queries."""
    since = timezone.now() - timedelta(days=rules.KEPT_DAYS)
    rows = list(
        Pack.objects.filter(by__isnull=False, asked_at__gte=since)
        .select_related("by")
        .defer("pdf", "contents")
    )
    stand = current_plans(each for row in rows for each in row.plans)
    return [row for row in rows if row.state != PackState.MADE or stand.issuperset(row.plans)]


def pack(pack_id: uuid.UUID) -> Pack:
    """One pack, without its pages. Raises NotFound. One query."""
    found: Pack | None = Pack.objects.filter(pk=pack_id).select_related("by").defer("pdf").first()
    if found is None:
        raise NotFound(_("There is no such pack. Packs are kept for a while only: ask for it again."))
    return found


def pack_pdf(pack_id: uuid.UUID) -> tuple[Pack, bytes]:
    """A made pack with its pages. Raises NotFound; IllegalMove while it is not made, or where a run of it was
    released anew since. Two queries."""
    found: Pack | None = Pack.objects.filter(pk=pack_id).first()
    if found is None:
        raise NotFound(_("There is no such pack. Packs are kept for a while only: ask for it again."))
    if found.state != PackState.MADE or found.pdf is None:
        raise IllegalMove(_("This pack is %(state)s: there is nothing to open.") % {"state": _(found.state)})
    if not current_plans(found.plans).issuperset(found.plans):
        raise IllegalMove(_("A run of this pack was released anew since it was drawn. Ask for it again."))
    return found, bytes(found.pdf)


def current_plans(plan_ids: Iterable[str]) -> set[str]:
    """Which of these plans stand now. One query, or none."""
    asked = set(plan_ids)
    if not asked:
        return set()
    rows = Plan.objects.filter(pk__in=asked, is_current=True).values_list("pk", flat=True)
    return {str(each) for each in rows}


def parts_drawn(pack_id: uuid.UUID) -> list[int]:
    """The numbers of a pack's parts that are drawn. One query."""
    return list(Part.objects.filter(pack_id=pack_id).order_by("number").values_list("number", flat=True))


def filename(what: str, title: str) -> str:
    """An ASCII name made by us (RFC 6266): what people call things may hold anything."""
    kept = "-".join(
        "".join(each for each in word if each.isascii() and each.isalnum()) for word in title.split()
    )
    kept = kept.strip("-")[:60]
    return f"{what}-{kept}.pdf" if kept else f"{what}.pdf"


def old_packs() -> Collection[uuid.UUID]:
    """The packs that may go: asked for too long ago, or at rest and drawn from a plan that is superseded. Two
    queries."""
    rows = list(Pack.objects.values_list("pk", "asked_at", "state", "plans"))
    stand = current_plans(each for _pk, _at, _state, plans in rows for each in plans)
    oldest = timezone.now() - timedelta(days=rules.KEPT_DAYS)
    return {
        pk
        for pk, asked_at, state, plans in rows
        if asked_at < oldest
        or (state not in (PackState.WAITING, PackState.DRAWING) and not stand.issuperset(plans))
    }
