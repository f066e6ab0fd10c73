"""What a paper is of: sticks with their plans and where their pieces stand."""

import uuid
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Final

from django.db.models import Q
from django.utils.translation import gettext as _

from services.company import queries as companies
from services.papers.models import Of
from services.papers.rules import MOST_STICKS, Asked
from services.planning import queries as planning
from services.planning.models import Plan, Stick
from services.projects import queries as projects
from services.tracking import queries as tracking
from services.tracking.models import Piece, State

NOT_RELEASED: Final = ("", State.WAITING)
NOT_BENT: Final = (State.RELEASED, State.CUT, State.REWORK, State.REJECTED)
NOT_CUT: Final = (State.RELEASED,)


@dataclass(frozen=True, slots=True)
class Item:
    """A stick with its plan (and that plan's run, room, project, former and bender), and the state of its
    latest piece; empty where there is none."""

    stick: Stick
    plan: Plan
    state: str


def title_of(asked: Asked) -> str:
    """What the paper is of, as people call it. Raises NotFound where it is not. One query."""
    if asked.of == Of.STICK:
        return str(planning.stick(asked.of_id).line.label)
    if asked.of == Of.RUN:
        return str(projects.run(asked.of_id).label)
    if asked.of == Of.ROOM:
        return str(projects.room(asked.of_id).name)
    if asked.of == Of.CREW:
        return str(companies.crew(asked.of_id).name)
    return str(projects.project(asked.of_id).name)


def items(asked: Asked) -> list[Item]:
    """The sticks that a paper is of, by room, run and number: those released, of the plans that stand now. A
    stick by itself is of its own plan, whatever became of it. Three queries, one more for a crew."""
    if asked.of == Of.CREW:
        found = items_of({piece.stick_id for piece in tracking.left_to_crew(asked.of_id)})
    else:
        found = _items(_within(asked.of, asked.of_id))
    if asked.of != Of.STICK:
        found = [each for each in found if each.state not in NOT_RELEASED]
    if asked.only_open:
        found = [each for each in found if each.state in NOT_BENT]
    return found


def items_of(stick_ids: Collection[uuid.UUID]) -> list[Item]:
    """These sticks, by room, run and number. Three queries."""
    return _items(Q(pk__in=list(stick_ids)))


def _within(of: str, of_id: uuid.UUID) -> Q:
    if of == Of.STICK:
        return Q(pk=of_id)
    path = {Of.RUN: "plan__run", Of.ROOM: "plan__run__room", Of.PROJECT: "plan__run__room__project"}[Of(of)]
    return Q(plan__is_current=True, **{path: of_id})


def _items(which: Q) -> list[Item]:
    sticks: list[Stick] = list(
        Stick.objects.filter(which)
        .select_related("line")
        .order_by(
            "plan__run__room__project__code", "plan__run__room__place", "plan__run__room__name",
            "plan__run__label", "plan_id", "number",
        )
    )  # fmt: skip
    plans = plans_of({stick.plan_id for stick in sticks})
    states = dict(
        Piece.objects.filter(is_latest=True, line_id__in={stick.line_id for stick in sticks}).values_list(
            "line_id", "state"
        )
    )
    return [Item(stick, plans[stick.plan_id], states.get(stick.line_id, "")) for stick in sticks]


def plans_of(plan_ids: Iterable[uuid.UUID]) -> dict[uuid.UUID, Plan]:
    """These plans by id, each with its run, room, project, former and bender. One query."""
    rows = Plan.objects.select_related(
        "run__room__project", "run__former__bender", "run__crew", "run__fitting_crew"
    ).filter(pk__in=set(plan_ids))
    return {plan.pk: plan for plan in rows}


def plans_within(of: str, of_id: uuid.UUID) -> list[Plan]:
    """The plans that stand now of a run, room or project, by room and run. One query."""
    path = {Of.RUN: "run", Of.ROOM: "run__room", Of.PROJECT: "run__room__project"}[Of(of)]
    rows = Plan.objects.select_related("run__room__project", "run__former__bender").filter(
        is_current=True, **{path: of_id}
    )
    return list(rows.order_by("run__room__place", "run__room__name", "run__label"))


def conduit_of(plan: Plan) -> str:
    """The conduit of a plan, by its id in the catalogue."""
    return str(plan.spec["conduit"].get("catalogue") or plan.run.former.conduit)


NOTHING_RELEASED: Final = "nothing-released"


def nothing_said(asked: Asked) -> str:
    """Why there is nothing to print."""
    if asked.only_open:
        return _("has nothing released that is not bent yet")
    return _("has nothing released yet: papers are made of released runs")


def too_much_said(count: int) -> str:
    """Why it is too much for one pack."""
    return _("has %(count)d sticks; a pack takes %(most)d at most") % {"count": count, "most": MOST_STICKS}
