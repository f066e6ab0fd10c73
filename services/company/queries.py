"""Reads of companies, people and crews."""

import uuid
from dataclasses import dataclass
from typing import Any

from django.db.models import Prefetch, QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from services.company.models import (
    Company,
    Crew,
    CrewMember,
    Device,
    DeviceKind,
    Invitation,
    Membership,
    OneTimeLink,
    ResetLink,
    User,
)
from services.core.errors import NotFound
from services.core.scoping import across_companies, current_company_id


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
        return Belonging(found.company, found.role, _office(found.company_id))


def companies_of(person_id: uuid.UUID) -> list[Company]:
    """The companies that a person belongs to, by name. One query."""
    with across_companies(reason="a person's own memberships, to choose a company"):
        rows = Membership.objects.filter(person_id=person_id, is_active=True).select_related("company")
        return sorted((row.company for row in rows), key=lambda company: company.name)


def company_settings(company_id: uuid.UUID) -> Company:
    """The company with its settings. One query."""
    return Company.objects.get(pk=company_id)


def crews() -> list[Crew]:
    """The company's crews by name, without those that were disbanded. One query."""
    return list(Crew.objects.filter(disbanded_at__isnull=True).order_by("name"))


def crew(crew_id: uuid.UUID) -> Crew:
    """One crew that was not disbanded. Raises NotFound. One query."""
    found: Crew | None = Crew.objects.filter(pk=crew_id, disbanded_at__isnull=True).first()
    if found is None:
        raise NotFound(_("There is no such crew."))
    return found


def crews_with_members() -> list[Crew]:
    """The company's crews by name, each with `people`: its members who are in the company now. Two
    queries."""
    rows = Crew.objects.filter(disbanded_at__isnull=True).order_by("name").prefetch_related(_in_crew())
    return [_peopled(each) for each in rows]


def crew_with_members(crew_id: uuid.UUID) -> Crew:
    """One crew with `people`, as in `crews_with_members`. Raises NotFound. Two queries."""
    rows = Crew.objects.filter(pk=crew_id, disbanded_at__isnull=True).prefetch_related(_in_crew())
    found = list(rows)
    if not found:
        raise NotFound(_("There is no such crew."))
    return _peopled(found[0])


def _in_crew() -> "Prefetch[Any, Any, Any]":
    return Prefetch(
        "crewmember_set",
        CrewMember.objects.filter(membership__is_active=True)
        .select_related("membership__person")
        .order_by("membership__person__name", "pk"),
    )


def _peopled(crew: Crew) -> Crew:
    crew.people = [each.membership for each in crew.crewmember_set.all()]  # type: ignore[attr-defined]
    return crew


def crew_ids_of(person_id: uuid.UUID) -> list[uuid.UUID]:
    """Crews that the person works in. One query."""
    rows = Crew.objects.filter(members__person_id=person_id, disbanded_at__isnull=True)
    return list(rows.values_list("pk", flat=True))


# ---------------------------------------------------------------- people


def members() -> list[Membership]:
    """Everybody who is or was in the company, by name, who is in it first; each with its person and
    `crew_list`. Two queries."""
    return [_crewed(each) for each in _members().order_by("-is_active", "person__name", "pk")]


def member(member_id: uuid.UUID) -> Membership:
    """Somebody who is or was in the company, as in `members`. Raises NotFound. Two queries."""
    found = list(_members().filter(pk=member_id))
    if not found:
        raise NotFound(_("This person does not belong to the company."))
    return _crewed(found[0])


def member_of(person_id: uuid.UUID) -> Membership:
    """The person's own place in the company, as in `members`. Raises NotFound. Two queries."""
    found = list(_members().filter(person_id=person_id))
    if not found:
        raise NotFound(_("This person does not belong to the company."))
    return _crewed(found[0])


def _members() -> QuerySet[Membership]:
    rows: QuerySet[Membership] = Membership.objects.select_related("person").prefetch_related(
        Prefetch(
            "crewmember_set",
            CrewMember.objects.filter(crew__disbanded_at__isnull=True)
            .select_related("crew")
            .order_by("crew__name"),
        )
    )
    return rows


def _crewed(member: Membership) -> Membership:
    member.crew_list = [each.crew for each in member.crewmember_set.all()]  # type: ignore[attr-defined]
    return member


def belongs_elsewhere(person_id: uuid.UUID) -> bool:
    """Whether the person is or was in another company than that of the active scope. One query.

    Whoever sets such a person's password or mail address could become them there.
    """
    here = current_company_id()
    with across_companies(reason="whether a person is this company's alone"):
        return Membership.objects.filter(person_id=person_id).exclude(company_id=here).exists()


# ---------------------------------------------------------------- one-time links


def invitations() -> list[Invitation]:
    """The invitations that are open, the newest first; each with `crew_list`, its crews that stand, and
    `is_over` when its time is up. Two queries."""
    rows = list(
        Invitation.objects.filter(used_at__isnull=True, withdrawn_at__isnull=True).select_related("made_by")
    )
    named = {str(each.pk): each for each in crews()}
    now = timezone.now()
    for each in rows:
        each.crew_list = [named[name] for name in each.crews if name in named]
        each.is_over = each.expires_at <= now
    return rows


@dataclass(frozen=True, slots=True)
class Door:
    """What a one-time link opens, before anybody stands in it.

    person: who is meant, when they are known to the service; None for somebody new.  role: that the person
    has or is to have in the company.
    """

    link: OneTimeLink
    company: Company
    device_id: uuid.UUID | None
    person: User | None
    email: str
    role: str


def invitation_door(token_hash: str) -> Door | None:
    """What an invitation opens; None when there is none, or it was used, withdrawn, or its time is up: the
    four are told alike. Three queries."""
    with across_companies(reason="whoever opens an invitation belongs to no company yet"):
        found = _still_opens(Invitation.objects.select_related("company"), token_hash)
        if found is None:
            return None
        person = User.objects.filter(email=found.email).first()
        return Door(found, found.company, _office(found.company_id), person, found.email, found.role)


def reset_door(token_hash: str) -> Door | None:
    """Whose password a reset link sets; None as in `invitation_door`, and when the person has left the
    company or joined another since. Four queries."""
    with across_companies(reason="whoever opens a reset link is not signed in"):
        found = _still_opens(ResetLink.objects.select_related("company", "person"), token_hash)
        if found is None:
            return None
        places = list(Membership.objects.filter(person_id=found.person_id))
        if [each.company_id for each in places] != [found.company_id] or not places[0].is_active:
            return None
        person = found.person
        return Door(found, found.company, _office(found.company_id), person, person.email, places[0].role)


def _still_opens(links: QuerySet[Any], token_hash: str) -> Any:
    return links.filter(
        token_hash=token_hash, used_at__isnull=True, withdrawn_at__isnull=True, expires_at__gt=timezone.now()
    ).first()


def _office(company_id: uuid.UUID) -> uuid.UUID | None:
    rows = Device.objects.filter(company_id=company_id, kind=DeviceKind.OFFICE)
    return rows.values_list("pk", flat=True).first()
