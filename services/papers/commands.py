"""Keeps what was drawn."""

import uuid

from services.company.queries import company_settings
from services.core.scoping import current_company_id
from services.papers import queries
from services.papers.models import Pack
from services.planning import queries as planning_queries


def keep_cards(*, plan_id: uuid.UUID) -> None:
    """Draws a plan's bend cards and keeps them; does nothing where they are kept already, so it may run
    twice.

    No act of a person: a pack says nothing that the plan does not, and can be thrown away. So it records
    none.
    """
    plan = planning_queries.plan(plan_id)
    company = company_settings(current_company_id())
    look = queries.look_of(company)
    if not Pack.objects.filter(plan_id=plan_id, look=look).exists():
        pdf = queries.draw(plan, company)
        Pack.objects.get_or_create(plan_id=plan_id, look=look, defaults={"pdf": pdf})
