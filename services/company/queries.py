"""Reads of companies, people and crews."""

import uuid
from dataclasses import dataclass

from django.utils.translation import gettext as _

from services.company.models import Company, Crew, Device, DeviceKind, Membership
from services.core.errors import NotFound
from services.core.scoping import across_companies


@dataclass(frozen=True, slots=True)
class Belonging:
    """A person's place in a company: what a session needs to know."""

    company: Company
    role: str
    device_id: uuid.UUID | None


def belonging(person_id: uuid.UUID, company_id: uuid.UUID | None) -> Belonging | None:
    """The person's place in that company, or in the first they belong to; None if they belong to none.

    Read on each request, so that a role that was taken away is away at once. Two queries.
    """
    with across_companies(reason="a person's own memberships, before a company is chosen"):
        rows = Membership.objects.filter(person_id=person_id, is_active=True).select_related("company")
        found = (rows.filter(company_id=company_id) if company_id else rows.order_by("pk")).first()
        if found is None:
            return None
        device = Device.objects.filter(company_id=found.company_id, kind=DeviceKind.OFFICE).values_list(
            "pk", flat=True
        )
        return Belonging(found.company, found.role, device.first())


def companies_of(person_id: uuid.UUID) -> list[Company]:
    """The companies that a person belongs to, by name. One query."""
    with across_companies(reason="a person's own memberships, to choose a company"):
        rows = Membership.objects.filter(person_id=person_id, is_active=True).select_related("company")
        return sorted((row.company for row in rows), key=lambda company: company.name)


def company_settings(company_id: uuid.UUID) -> Company:
    """The company with its settings. One query."""
    return Company.objects.get(pk=company_id)


def crews() -> list[Crew]:
    """The company's crews by name. One query."""
    return list(Crew.objects.order_by("name"))


def crew(crew_id: uuid.UUID) -> Crew:
    """One crew. Raises NotFound."""
    found: Crew | None = Crew.objects.filter(pk=crew_id).first()
    if found is None:
        raise NotFound(_("There is no such crew."))
    return found


def crew_ids_of(person_id: uuid.UUID) -> list[uuid.UUID]:
    """Crews that the person works in. One query."""
    return list(Crew.objects.filter(members__person_id=person_id).values_list("pk", flat=True))
