"""The papers themselves: what each says, on which pages, and the pages as PDF."""

import io
import uuid
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final
from zoneinfo import ZoneInfo

from django.utils import timezone
from pypdf import PdfReader, PdfWriter

from services.company.models import Company
from services.company.queries import company_settings
from services.core.errors import FieldProblem, Invalid
from services.core.scoping import current_company_id
from services.papers import rules
from services.papers.models import Of, Pack, PackState, What
from services.papers.queries import cards, content, lists
from services.papers.queries.content import Item
from services.papers.queries.packs import key_of
from services.papers.rules import Asked
from services.planning import queries as planning

Pages = list[list[str]]
"""For each page the ids of its sticks."""


@dataclass(frozen=True, slots=True)
class Contents:
    """What is to be drawn. title: what it is of.  parts: see `Pack.contents`.  sticks: how many.  plans: ids
    of those that it is drawn from."""

    title: str
    parts: list[Pages]
    sticks: int
    plans: list[str]


def contents_of(asked: Asked) -> Contents:
    """What a paper comes to. Raises NotFound where what it is of is not; Invalid with nothing to print, or
    too much. At most five queries."""
    title = content.title_of(asked)
    if asked.what == What.TAKE_OFF:
        plans = content.plans_within(asked.of, asked.of_id)
        return Contents(title, [[[]]], lists.runs_in(asked), [str(plan.pk) for plan in plans])
    found = content.items(asked)
    if asked.what == What.CREW_SHEET:
        return Contents(title, [[[]]], len(found), [])
    if not found:
        raise Invalid([FieldProblem("of", content.nothing_said(asked), content.NOTHING_RELEASED)])
    if len(found) > rules.MOST_STICKS:
        raise Invalid([FieldProblem("of", content.too_much_said(len(found)), "too-much")])
    plan_ids = list(dict.fromkeys(str(each.plan.pk) for each in found))
    return Contents(title, _parts(asked, found), len(found), plan_ids)


def _parts(asked: Asked, found: Sequence[Item]) -> list[Pages]:
    if asked.what == What.BEND_CARDS:
        pages = rules.card_pages([(str(each.stick.pk), cards.is_whole(each, asked.paper)) for each in found])
        return rules.in_parts(pages, rules.PAGES_A_PART)
    if asked.what == What.LABELS:
        # whole sheets to a part, so that only the first begins in the middle
        sheet = rules.SHEETS[asked.labels]
        a_part = sheet.count * max(1, rules.LABELS_A_PART // sheet.count)
        ids = [str(each.stick.pk) for each in found]
        first = a_part - (asked.start - 1)
        return [[ids[:first]], *([part] for part in rules.in_parts(ids[first:], a_part))]
    return [[[str(each.stick.pk) for each in found]]]


def part_pdf(asked: Asked, pages: Pages, *, number: int, company: Company) -> bytes:
    """One part of a paper. Raises IllegalMove where the present engine would draw other figures than the
    plan's. Three queries for cards, labels and a cut list (and one for offcuts); the others read anew."""
    with timezone.override(ZoneInfo(company.time_zone)):
        return _DRAWN[asked.what](asked, pages, number, company)


def _cards(asked: Asked, pages: Pages, number: int, company: Company) -> bytes:
    return cards.pdf(_paged(pages), company, paper=asked.paper)


def _labels(asked: Asked, pages: Pages, number: int, company: Company) -> bytes:
    labelled = [each for page in _paged(pages) for each in page]
    return lists.labels(labelled, company, rules.SHEETS[asked.labels], asked.start if number == 0 else 1)


def _cut_list(asked: Asked, pages: Pages, number: int, company: Company) -> bytes:
    return lists.cut_list([each for page in _paged(pages) for each in page], company, asked)


def _paged(pages: Pages) -> list[list[Item]]:
    ids = {uuid.UUID(each) for page in pages for each in page}
    by_id = {str(each.stick.pk): each for each in content.items_of(ids)}
    return [[by_id[each] for each in page if each in by_id] for page in pages]


_DRAWN: Final[Mapping[str, Callable[[Asked, Pages, int, Company], bytes]]] = {
    What.BEND_CARDS: _cards,
    What.LABELS: _labels,
    What.CUT_LIST: _cut_list,
    What.KIT_LIST: lambda asked, _pages, _number, company: lists.kit_list(company, asked),
    What.TAKE_OFF: lambda asked, _pages, _number, company: lists.take_off(company, asked),
    What.CREW_SHEET: lambda asked, _pages, _number, company: lists.crew_sheet(company, asked),
}


def drawn_now(asked: Asked) -> bytes | None:
    """The paper, while somebody waits; None where it is too much for that. Raises as `contents_of` and
    `part_pdf` do."""
    company = company_settings(current_company_id())
    contents = contents_of(asked)
    if contents.sticks > rules.at_once(asked.what):
        return None
    return put_together(
        [part_pdf(asked, part, number=at, company=company) for at, part in enumerate(contents.parts)]
    )[0]


def bend_cards_pdf(plan_id: uuid.UUID) -> bytes | None:
    """The bend cards of one plan, superseded or not, on the company's paper: those kept, or drawn now; None
    where they are too many for that. Raises NotFound; IllegalMove as `part_pdf` does. At most
    twelve queries."""
    plan = planning.plan(plan_id)
    company = company_settings(current_company_id())
    if plan.is_current:
        kept = kept_cards(cards_of_run(plan.run_id, company), company)
        if kept is not None:
            return bytes(kept.pdf or b"")
    sticks = planning.sticks_of(plan_id)
    if len(sticks) > rules.at_once(What.BEND_CARDS):
        return None
    found = content.items_of([stick.pk for stick in sticks])
    pages = rules.card_pages([(each, cards.is_whole(each, company.paper)) for each in found])
    with timezone.override(ZoneInfo(company.time_zone)):
        return cards.pdf(pages, company, paper=company.paper)


def cards_of_run(run_id: uuid.UUID, company: Company) -> Asked:
    """A run's bend cards as a release has them drawn."""
    return Asked(what=What.BEND_CARDS, of=Of.RUN, of_id=run_id, paper=company.paper)


def kept_cards(asked: Asked, company: Company) -> Pack | None:
    """The pack of these cards as they would be drawn now, if it is made. Five queries."""
    try:
        contents = contents_of(asked)
    except Invalid:  # nothing of it is released any more
        return None
    key = key_of(asked, contents.parts, contents.plans, company)
    found: Pack | None = Pack.objects.filter(key=key, state=PackState.MADE).first()
    return found


def put_together(parts: Sequence[bytes]) -> tuple[bytes, int]:
    """Parts as one PDF, with how many pages it has."""
    if len(parts) == 1:
        return parts[0], len(PdfReader(io.BytesIO(parts[0])).pages)
    whole = PdfWriter()
    for part in parts:
        whole.append(io.BytesIO(part), import_outline=False)
    made = io.BytesIO()
    whole.write(made)
    return made.getvalue(), len(whole.pages)
