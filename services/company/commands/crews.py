"""Changes of crews: formed, renamed, people in and out, disbanded."""

import uuid
from collections.abc import Sequence

from django.utils import timezone
from django.utils.translation import gettext as _

from services.company import queries
from services.company.models import Crew, CrewMember, Membership
from services.company.rights import Right, require
from services.company.signals import crew_disbanding
from services.core.checks import make_once
from services.core.commands import Actor, claim_version, command, record
from services.core.errors import FieldProblem, IllegalMove, Invalid, NotFound


@command
def form_crew(*, actor: Actor, name: str, member_ids: Sequence[uuid.UUID]) -> Crew:
    """A new crew of members of the company. Raises NotAllowed, Invalid, NotFound."""
    require(actor, Right.PEOPLE)
    name = _named(name)
    members = _members(member_ids)
    crew: Crew = make_once(
        lambda: Crew.objects.create(name=name),
        taken=Crew.objects.filter(name=name, disbanded_at__isnull=True),
        problem=_taken(name),
    )
    CrewMember.objects.bulk_create([CrewMember(crew=crew, membership=member) for member in members])
    record(actor, "crew formed", crew, name=name, members=[str(member.pk) for member in members])
    return crew


@command
def change_crew(
    *,
    actor: Actor,
    crew_id: uuid.UUID,
    seen: int,
    name: str | None = None,
    member_ids: Sequence[uuid.UUID] | None = None,
) -> Crew:
    """Renames a crew, and says who is in it; None leaves either as it is. What the crew has to do stays.

    seen: the version that the person saw. Raises NotAllowed, NotFound, StaleVersion, Invalid.
    """
    require(actor, Right.PEOPLE)
    claim_version(queries.crew(crew_id), seen=seen)
    crew = queries.crew_with_members(crew_id)
    before = {"name": crew.name, "members": sorted(str(each.pk) for each in crew.people)}  # type: ignore[attr-defined]
    after = dict(before)
    if name is not None:
        crew.name = after["name"] = _named(name)
        make_once(
            lambda: crew.save(update_fields=["name"]),
            taken=Crew.objects.filter(name=crew.name, disbanded_at__isnull=True).exclude(pk=crew.pk),
            problem=_taken(crew.name),
        )
    if member_ids is not None:
        wanted = {each.pk for each in _members(member_ids)}
        has = {each.pk for each in crew.people}  # type: ignore[attr-defined]
        CrewMember.objects.filter(crew=crew, membership_id__in=has - wanted).delete()
        CrewMember.objects.bulk_create(
            [CrewMember(crew=crew, membership_id=each) for each in sorted(wanted - has)]
        )
        after["members"] = sorted(str(each) for each in wanted)
    record(actor, "crew changed", crew, before=before, after=after)
    return queries.crew_with_members(crew_id)


@command
def disband_crew(*, actor: Actor, crew_id: uuid.UUID, seen: int) -> Crew:
    """Ends a crew with which nothing open stands; its name is free again, and what it made stays under it.

    seen: the version that the person saw. Raises NotAllowed, NotFound, StaleVersion; IllegalMove with what
    the crew still has.
    """
    require(actor, Right.PEOPLE)
    claim_version(queries.crew(crew_id), seen=seen)
    crew = queries.crew(crew_id)
    has = [told for _receiver, told in crew_disbanding.send(sender=Crew, crew=crew) if told]
    if has:
        raise IllegalMove(
            _("%(crew)s has work: %(what)s. Give it to others, or finish it, first.")
            % {"crew": crew.name, "what": "; ".join(has)}
        )
    crew.disbanded_at = timezone.now()
    crew.save(update_fields=["disbanded_at"])
    record(actor, "crew disbanded", crew, name=crew.name)
    return crew


def _named(name: object) -> str:
    line = name.strip() if isinstance(name, str) else ""
    if not line or len(line) > 80 or not line.isprintable():
        raise Invalid([FieldProblem("name", _("a crew has a name of 1 to 80 characters"))])
    return line


def _taken(name: str) -> FieldProblem:
    return FieldProblem("name", _("there is a crew called %(name)s already") % {"name": name}, "taken")


def _members(member_ids: Sequence[uuid.UUID]) -> list[Membership]:
    members = list(Membership.objects.filter(pk__in=member_ids, is_active=True))
    if len(members) != len(set(member_ids)):
        raise NotFound(_("One of these people does not belong to the company."))
    return members
