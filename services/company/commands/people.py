"""Changes of who belongs to the company, in which role, and of what a person says of themself."""

import uuid

from django.db.models import F
from django.utils import timezone
from django.utils.translation import gettext as _

from services.company import queries, rules
from services.company.models import Company, Membership, ResetLink, Role, User
from services.company.rights import Right, require
from services.core.checks import Checks, make_once
from services.core.commands import Actor, claim_version, command, record
from services.core.errors import FieldProblem, IllegalMove, NotFound


@command
def add_member(*, actor: Actor, person: User, role: str) -> Membership:
    """Takes a person into the company who agreed to it; others are invited. Raises NotAllowed, Invalid."""
    require(actor, Right.PEOPLE)
    checks = Checks()
    rules.checked_role(checks, role)
    checks.done()
    member: Membership = make_once(
        lambda: Membership.objects.create(person=person, role=role),
        taken=Membership.objects.filter(person=person),
        problem=FieldProblem(
            "person", _("%(name)s belongs to the company already") % {"name": person.name}, "taken"
        ),
    )
    record(actor, "member added", member, role=role)
    return member


@command
def change_role(*, actor: Actor, member_id: uuid.UUID, role: str, seen: int | None = None) -> Membership:
    """Gives a member another role, from the next request on.

    seen: the version that the person saw; None: whatever stands there. Raises NotAllowed, NotFound, Invalid,
    StaleVersion; IllegalMove for the last administrator.
    """
    require(actor, Right.PEOPLE)
    checks = Checks()
    rules.checked_role(checks, role)
    checks.done()
    member = _member(member_id)
    _claim(member, seen)
    if role != Role.ADMINISTRATOR:
        _keep_an_administrator(actor, member)
    before, member.role = member.role, role
    member.save(update_fields=["role"])
    record(actor, "role changed", member, before=before, role=role)
    return member


@command
def let_go(*, actor: Actor, member_id: uuid.UUID, seen: int | None = None) -> Membership:
    """Ends a person's place in the company, from the next request on; what they did stays under their name.

    seen: as in `change_role`. Raises NotAllowed, NotFound, StaleVersion; IllegalMove for the last
    administrator.
    """
    require(actor, Right.PEOPLE)
    member = _member(member_id)
    _claim(member, seen)
    _end(actor, member)
    record(actor, "member let go", member)
    return member


@command
def take_back(*, actor: Actor, member_id: uuid.UUID, seen: int | None = None) -> Membership:
    """Takes somebody back in who was let go or left, in the role and the crews that they had.

    seen: as in `change_role`. Raises NotAllowed, NotFound, StaleVersion; IllegalMove for who is in.
    """
    require(actor, Right.PEOPLE)
    member = queries.member(member_id)
    if member.is_active:
        raise IllegalMove(_("%(name)s is in the company.") % {"name": member.person.name})
    _claim(member, seen)
    member.is_active = True
    member.save(update_fields=["is_active"])
    record(actor, "member taken back", member, role=member.role)
    return member


@command
def leave(*, actor: Actor) -> Membership:
    """The actor leaves the company. Raises IllegalMove for the last administrator."""
    require(actor, Right.SEE_WORK)
    member = queries.member_of(actor.person_id)
    _end(actor, member)
    record(actor, "member left", member)
    return member


@command
def rename_self(*, actor: Actor, name: str) -> User:
    """The actor's own name, as it stands on pages and papers. Raises Invalid."""
    require(actor, Right.SEE_WORK)
    checks = Checks()
    name = checks.text("name", name, longest=rules.LONGEST_NAME)
    checks.done()
    person = User.objects.get(pk=actor.person_id)
    before, person.name = person.name, name
    person.save(update_fields=["name"])
    record(actor, "own name changed", person, before=before, after=name)
    return person


@command
def change_own_mail(*, actor: Actor, email: str) -> User:
    """The actor's own mail address, with which they sign in; who asks has made sure that it is they.

    Raises Invalid.
    """
    require(actor, Right.SEE_WORK)
    person = User.objects.get(pk=actor.person_id)
    before = person.email
    _set_mail(person, email)
    record(actor, "own mail changed", person, before=before, after=person.email)
    return person


@command
def correct_mail(*, actor: Actor, member_id: uuid.UUID, email: str, seen: int | None = None) -> User:
    """Another person's mail address.

    seen: as in `change_role`. Raises NotAllowed, NotFound, StaleVersion, Invalid; IllegalMove for the actor,
    who changes their own with their password, and for who is known in another company too.
    """
    require(actor, Right.PEOPLE)
    person = alone_here(actor, member_id)
    _claim(_member(member_id), seen)
    before = person.email
    _set_mail(person, email)
    record(actor, "mail corrected", person, before=before, after=person.email)
    return person


@command
def change_own_password(*, actor: Actor, kept: str) -> User:
    """The actor's own password, as it is kept (a hash: no command sees one in the clear); who asks has made
    sure that it is they. All sessions made with the old one end; so do reset links."""
    require(actor, Right.SEE_WORK)
    person = User.objects.get(pk=actor.person_id)
    person.password = kept
    person.save(update_fields=["password"])
    withdraw_reset_links(person.pk)
    record(actor, "own password changed", person)
    return person


# ---------------------------------------------------------------- shared with the other commands


def withdraw_reset_links(person_id: uuid.UUID) -> None:
    """Ends the reset links of a person that still open, in the active company. Inside a command."""
    ResetLink.objects.filter(person_id=person_id, used_at__isnull=True, withdrawn_at__isnull=True).update(
        withdrawn_at=timezone.now()
    )


def alone_here(actor: Actor, member_id: uuid.UUID) -> User:
    """The person of a member whose sign-in is the company's to set. Raises NotFound, IllegalMove."""
    member = _member(member_id)
    if member.person_id == actor.person_id:
        raise IllegalMove(_("Your own sign-in you change on the page Your account, with your password."))
    if queries.belongs_elsewhere(member.person_id):
        raise IllegalMove(
            _(
                "The sign-in of %(name)s is not this company’s alone. They change it themself on their page"
                " Your account, or whoever runs this service does."
            )
            % {"name": member.person.name}
        )
    person: User = member.person
    return person


def _set_mail(person: User, email: str) -> None:
    checks = Checks()
    person.email = rules.checked_mail(checks, "email", email)
    checks.done()
    make_once(
        lambda: person.save(update_fields=["email"]),
        taken=User.objects.filter(email=person.email).exclude(pk=person.pk),
        problem=FieldProblem("email", _("cannot be used here; take another"), "taken"),
    )


def _member(member_id: uuid.UUID) -> Membership:
    found: Membership | None = (
        Membership.objects.select_related("person").filter(pk=member_id, is_active=True).first()
    )
    if found is None:
        raise NotFound(_("This person does not belong to the company."))
    return found


def _claim(member: Membership, seen: int | None) -> None:
    claim_version(member, seen=member.version if seen is None else seen)


def _end(actor: Actor, member: Membership) -> None:
    _keep_an_administrator(actor, member)
    member.is_active = False
    member.save(update_fields=["is_active"])
    withdraw_reset_links(member.person_id)


def _keep_an_administrator(actor: Actor, member: Membership) -> None:
    """Two administrators who go at once must not each see the other stay: a write to the company's row makes
    the second wait for the first, on both databases."""
    Company.objects.filter(pk=actor.company_id).update(next_ledger_number=F("next_ledger_number"))
    others = Membership.objects.filter(role=Role.ADMINISTRATOR, is_active=True).exclude(pk=member.pk)
    is_one = Membership.objects.filter(pk=member.pk, role=Role.ADMINISTRATOR).exists()
    if is_one and not others.exists():
        raise IllegalMove(_("This is the company's only administrator; make another person one first."))
