"""Bend cards: half a page a stick, a whole one where there is much to say."""

import uuid
from collections.abc import Mapping, Sequence
from functools import partial
from typing import Any, Final

from django.utils.translation import gettext as _

import bendcore.drawing as drawing
from bendcore.units import Mm, Units
from bendcore.words import Dialect
from services.company.models import Company
from services.papers import rules
from services.papers.queries.content import Item, conduit_of
from services.papers.queries.press import address_of, page_css, printed, qr
from services.planning import queries as planning

STRIP_WIDTH: Final = 720.0
ISOMETRIC_WIDTH: Final = 165.0
ISOMETRIC_HEIGHT: Final = 165.0
POSE_WIDTH: Final = 340.0
MOST_POSES: Final = 6
"""Poses that a whole page has room for beside its table; a stick with more bends has none on its card."""

Page = Sequence[Item]


def is_whole(item: Item, paper: str) -> bool:
    """Whether a stick's card takes a whole page of that paper."""
    return rules.needs_whole_page(item.stick.data["bends"], len(item.plan.overrides), paper)


def pdf(pages: Sequence[Page], company: Company, *, paper: str) -> bytes:
    """Cards as PDF. Raises IllegalMove where the present engine gives other figures than a plan's. No
    query."""
    return printed("papers/bend_cards.html", context_of(pages, company, paper=paper), _page(paper))


def _page(paper: str) -> str:
    width, half, whole = (215.9, 139.7, 279.4) if paper == "Letter" else (210.0, 148.5, 297.0)
    # beside the foot, the padding and the line on which it is cut in two
    return page_css(paper) + (
        f".card {{ width: {width}mm }} .c-body {{ min-height: {half - 20.1}mm }}"
        f" .full .c-body {{ min-height: {whole - 24.1}mm }}\n"
    )


def context_of(pages: Sequence[Page], company: Company, *, paper: str) -> dict[str, Any]:
    """What the cards say. Each run is planned once more for its drawings. No query."""
    plans = {item.plan.pk: item.plan for page in pages for item in page}
    engines = {pk: planning.engine_plan(plan) for pk, plan in plans.items()}
    told = []
    for number, page in enumerate(pages):
        # the sticks of one page share one scale
        span = Mm(max((item.stick.cut_length_mm for item in page), default=1.0))
        told.append(
            [
                _card(item, engines, company, span, f"p{number}c{at}", whole=is_whole(item, paper))
                for at, item in enumerate(page)
            ]
        )
    return {"pages": told, "company": company}


def _card(
    item: Item, engines: Mapping[uuid.UUID, Any], company: Company, span: Mm, prefix: str, *, whole: bool
) -> dict[str, Any]:
    stick, plan, engine = item.stick, item.plan, engines[item.plan.pk]
    spoken: dict[str, Any] = {
        "units": Units(company.units), "dialect": Dialect(company.words), "paper": True,
    }  # fmt: skip
    bends = sorted(stick.data["bends"], key=lambda bend: bend["order"] or bend["number"])
    pose = partial(drawing.pose, engine, stick.number, width=POSE_WIDTH, **spoken)
    ends = (plan.run.from_place or _("start"), plan.run.to_place or _("finish"))
    return {
        "stick": stick,
        "plan": plan,
        "run": plan.run,
        "conduit": conduit_of(plan),
        "data": stick.data,
        "count": len(plan.result["sticks"]),
        "bends": [_bend(each, place, len(bends), company) for place, each in enumerate(bends, start=1)],
        "has_order": all(bend["order"] is not None for bend in bends),
        "is_full": whole,
        "strip": drawing.strip(
            engine, stick.number, width=STRIP_WIDTH, span=span, prefix=f"{prefix}s", **spoken
        ),
        "finished": drawing.stick_isometric(
            engine, stick.number, width=ISOMETRIC_WIDTH, height=ISOMETRIC_HEIGHT,
            prefix=f"{prefix}i", **spoken,
        ),
        "in_run": drawing.run_isometric(
            engine, width=ISOMETRIC_WIDTH, height=ISOMETRIC_HEIGHT, bold=stick.number, ends=ends,
            prefix=f"{prefix}r", **spoken,
        ),
        "poses": _poses(bends, pose, prefix) if whole else [],
        "qr": qr(address_of(stick.pk)),
        "blank": _blank(stick.data),
        "start_thread": rules.thread_said(stick.data["start"]),
        "finish_thread": rules.thread_said(stick.data["finish"]),
        "has_long": "long" in (stick.data["start"].get("thread"), stick.data["finish"].get("thread")),
        "farthest": max((bend["set"]["sweep"] for bend in bends), default=None),
        "has_pull": bool(bends and bends[0].get("pull")),
    }  # fmt: skip


def _bend(bend: Mapping[str, Any], place: int, count: int, company: Company) -> dict[str, Any]:
    return {
        **bend,
        "place": place,
        "line_word": f"line_{bend['set']['line']}",
        "held_said": rules.held_said(bend, Dialect(company.words)),
        "posture_said": rules.posture_said(bend, count),
    }


def _poses(bends: Sequence[Mapping[str, Any]], pose: Any, prefix: str) -> list[str]:
    """The pose of each bend in the order made; none where there is no order, or no room."""
    if len(bends) > MOST_POSES or any(bend["order"] is None for bend in bends):
        return []
    return [pose(bend["number"], prefix=f"{prefix}b{bend['number']}") for bend in bends]


def _blank(data: Mapping[str, Any]) -> dict[str, Any] | None:
    """What the stick is cut from; None where the plan does not say."""
    blank = data.get("blank")
    return None if not blank else {**blank, "is_whole": not blank["cuts"]}
