"""Founds a company and changes its settings."""

from typing import Any

from services.company import queries, rules
from services.company.models import Company, Device, DeviceKind, Membership, Role, User
from services.company.rights import Right, require
from services.core.checks import Checks
from services.core.commands import Actor, claim_version, command, record
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
def change_settings(*, actor: Actor, seen: int, **settings: Any) -> Company:
    """Sets what is named (`rules.SETTINGS`; lengths in mm); the rest stays, and so do released plans.

    seen: the version that the person saw. Raises NotAllowed, StaleVersion; Invalid with every problem at
    once.
    """
    require(actor, Right.SETTINGS)
    claim_version(queries.company_settings(actor.company_id), seen=seen)
    company = queries.company_settings(actor.company_id)
    checks = Checks()
    kept = rules.checked_settings(checks, settings, units=company.units)
    checks.done()
    changed = {name: value for name, value in kept.items() if value != getattr(company, name)}
    before = {name: getattr(company, name) for name in changed}
    for name, value in changed.items():
        setattr(company, name, value)
    company.save(update_fields=list(changed))
    record(actor, "settings changed", company, before=before, after=changed)
    return company
