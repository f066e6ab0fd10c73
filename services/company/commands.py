"""Changes of companies, people and crews."""

import uuid

from django.utils.translation import gettext as _

from services.company.models import Company, Crew, CrewMember, Device, DeviceKind, Membership, Role, User
from services.company.rights import Right, require
from services.core.commands import Actor, command, record
from services.core.errors import FieldProblem, IllegalMove, Invalid, NotFound
from services.core.scoping import company_scope


@command
def found_company(*, name: str, person: User, settings: dict[str, object]) -> tuple[Company, Actor]:
    """A new company with its first administrator and its office device."""
    company = Company.objects.create(name=name, **settings)
    with company_scope(company.pk):
        device = Device.objects.create(kind=DeviceKind.OFFICE, name="Office")
        Membership.objects.create(person=person, role=Role.ADMINISTRATOR)
        actor = Actor(person.pk, company.pk, Role.ADMINISTRATOR, device.pk)
        record(actor, "company founded", company, name=name)
    return company, actor


@command
def add_member(*, actor: Actor, person: User, role: str) -> Membership:
    """Takes a person into the company. Raises NotAllowed, Invalid."""
    require(actor, Right.PEOPLE)
    if role not in Role.values:
        raise Invalid([FieldProblem("role", f"is {role!r}; allowed are {', '.join(Role.values)}")])
    if Membership.objects.filter(person=person).exists():
        raise Invalid([FieldProblem("person", f"{person.name} belongs to the company already")])
    member: Membership = Membership.objects.create(person=person, role=role)
    record(actor, "member added", member, role=role)
    return member


@command
def change_role(*, actor: Actor, member_id: uuid.UUID, role: str) -> Membership:
    """Gives a member another role, from the next request on. Raises NotAllowed, NotFound, Invalid,
    IllegalMove."""
    require(actor, Right.PEOPLE)
    if role not in Role.values:
        raise Invalid([FieldProblem("role", f"is {role!r}; allowed are {', '.join(Role.values)}")])
    member = _member(member_id)
    if role != Role.ADMINISTRATOR:
        _keep_an_administrator(member)
    before, member.role = member.role, role
    member.save(update_fields=["role"])
    record(actor, "role changed", member, before=before, role=role)
    return member


@command
def let_go(*, actor: Actor, member_id: uuid.UUID) -> Membership:
    """Ends a person's place in the company, from the next request on; what they did stays under their name.

    Raises NotAllowed, NotFound, IllegalMove.
    """
    require(actor, Right.PEOPLE)
    member = _member(member_id)
    _keep_an_administrator(member)
    member.is_active = False
    member.save(update_fields=["is_active"])
    record(actor, "member let go", member)
    return member


def _member(member_id: uuid.UUID) -> Membership:
    found: Membership | None = Membership.objects.filter(pk=member_id, is_active=True).first()
    if found is None:
        raise NotFound(_("This person does not belong to the company."))
    return found


def _keep_an_administrator(member: Membership) -> None:
    others = Membership.objects.filter(role=Role.ADMINISTRATOR, is_active=True).exclude(pk=member.pk)
    if member.role == Role.ADMINISTRATOR and not others.exists():
        raise IllegalMove(_("This is the company's only administrator; make another person one first."))


@command
def form_crew(*, actor: Actor, name: str, member_ids: list[uuid.UUID]) -> Crew:
    """A new crew of members of the company. Raises NotAllowed, Invalid, NotFound."""
    require(actor, Right.PEOPLE)
    name = name.strip()
    if not name or len(name) > 80:
        raise Invalid([FieldProblem("name", _("a crew has a name of 1 to 80 characters"))])
    if Crew.objects.filter(name=name).exists():
        raise Invalid([FieldProblem("name", _("there is a crew called %(name)s already") % {"name": name})])
    members = list(Membership.objects.filter(pk__in=member_ids))
    if len(members) != len(set(member_ids)):
        raise NotFound(_("One of these people does not belong to the company."))
    crew: Crew = Crew.objects.create(name=name)
    CrewMember.objects.bulk_create([CrewMember(crew=crew, membership=member) for member in members])
    record(actor, "crew formed", crew, name=name, members=[str(member.pk) for member in members])
    return crew
