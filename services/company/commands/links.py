"""Makes, withdraws and uses the links that let a person in once: invitations, and resets of a password."""

import uuid
from collections.abc import Sequence
from datetime import datetime

from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from services.company import queries, rules
from services.company.commands import people
from services.company.models import Crew, CrewMember, Invitation, Membership, ResetLink, User
from services.company.rights import Right, require
from services.core.checks import Checks, make_once
from services.core.commands import Actor, command, record
from services.core.errors import FieldProblem, IllegalMove, Invalid, NotAllowed, NotFound
from services.core.scoping import company_scope


@command
def invite(
    *, actor: Actor, email: str, role: str, crew_ids: Sequence[uuid.UUID] = ()
) -> tuple[Invitation, str]:
    """An invitation of a mail address, and its token, which is told this once. It takes the place of an
    earlier one, and says nothing of whether the service knows the person. Raises NotAllowed, NotFound,
    Invalid."""
    require(actor, Right.PEOPLE)
    checks = Checks()
    email = rules.checked_mail(checks, "email", email)
    rules.checked_role(checks, role)
    if email and Membership.objects.filter(person__email=email, is_active=True).exists():
        checks.refuse("email", _("belongs to the company already"), "taken")
    checks.done()
    crews = list(Crew.objects.filter(pk__in=crew_ids, disbanded_at__isnull=True))
    if len(crews) != len(set(crew_ids)):
        raise NotFound(_("There is no such crew."))
    now = timezone.now()
    _open(email).update(withdrawn_at=now)
    token = rules.fresh_token()
    made: Invitation = make_once(
        lambda: Invitation.objects.create(
            email=email,
            role=role,
            crews=[str(each.pk) for each in crews],
            token_hash=rules.hash_of(token),
            made_by_id=actor.person_id,
            made_at=now,
            expires_at=now + rules.INVITATION_LASTS,
        ),
        taken=_open(email),
        problem=FieldProblem("email", _("was invited by somebody else just now"), "taken"),
    )
    record(actor, "person invited", made, email=email, role=role, crews=made.crews)
    return made, token


def _open(email: str) -> QuerySet[Invitation]:
    rows: QuerySet[Invitation] = Invitation.objects.filter(
        email=email, used_at__isnull=True, withdrawn_at__isnull=True
    )
    return rows


@command
def withdraw_invitation(*, actor: Actor, invitation_id: uuid.UUID) -> Invitation:
    """Ends an invitation that was not used yet. Raises NotAllowed, NotFound, IllegalMove."""
    require(actor, Right.PEOPLE)
    found: Invitation | None = Invitation.objects.filter(pk=invitation_id).first()
    if found is None:
        raise NotFound(_("There is no such invitation."))
    now = timezone.now()
    rows = Invitation.objects.filter(pk=found.pk, used_at__isnull=True, withdrawn_at__isnull=True)
    if not rows.update(withdrawn_at=now):
        raise IllegalMove(_("This invitation was used or withdrawn already."))
    found.withdrawn_at = now
    record(actor, "invitation withdrawn", found, email=found.email)
    return found


@command
def accept_invitation(
    *, actor: Actor, token_hash: str, name: str | None = None, kept: str | None = None
) -> Membership:
    """Takes the invited person in, once. Somebody who left comes back, in the role that was offered.

    actor: that person, in the role and company of the invitation; for somebody new, the id that they are to
    have.  name, kept: for somebody new, their name and their password as it is kept (a hash). Raises
    Invalid when the link does not open (any more); NotAllowed when it is for somebody else.
    """
    with company_scope(actor.company_id):
        invitation: Invitation | None = Invitation.objects.filter(token_hash=token_hash).first()
        now = timezone.now()
        if invitation is None or not _claim(Invitation, invitation.pk, now):
            raise rules.dead_link()
        person = User.objects.filter(email=invitation.email).first()
        if person is None:
            person = _new_person(actor, invitation.email, name, kept)
        elif person.pk != actor.person_id:
            raise NotAllowed(_("This invitation is for another mail address."))
        member: Membership | None = Membership.objects.filter(person=person).first()
        if member is None:
            member = Membership.objects.create(person=person, role=invitation.role)
        elif member.is_active:
            raise Invalid([FieldProblem("token", _("You belong to the company already."), "taken")])
        else:
            member.role, member.is_active = invitation.role, True
            member.version += 1
            member.save(update_fields=["role", "is_active", "version"])
        for crew in Crew.objects.filter(pk__in=invitation.crews, disbanded_at__isnull=True):
            CrewMember.objects.get_or_create(crew=crew, membership=member)
        record(actor, "invitation accepted", member, invitation=str(invitation.pk), role=invitation.role)
    return member


def _new_person(actor: Actor, email: str, name: str | None, kept: str | None) -> User:
    if name is None or kept is None:
        raise NotAllowed(_("This invitation is for another mail address."))
    checks = Checks()
    name = checks.text("name", name, longest=rules.LONGEST_NAME)
    checks.done()
    return make_once(
        lambda: User.objects.create(pk=actor.person_id, email=email, name=name, password=kept),
        taken=User.objects.filter(email=email),
        problem=FieldProblem("token", _("Somebody opened this link just now. Open it again."), "taken"),
    )


@command
def make_reset_link(*, actor: Actor, member_id: uuid.UUID) -> tuple[ResetLink, str]:
    """A link with which a member sets a new password, and its token, which is told this once. It takes the
    place of an earlier one. Raises as `people.correct_mail`."""
    require(actor, Right.PEOPLE)
    person = people.alone_here(actor, member_id)
    people.withdraw_reset_links(person.pk)
    token, now = rules.fresh_token(), timezone.now()
    made: ResetLink = make_once(
        lambda: ResetLink.objects.create(
            person=person,
            token_hash=rules.hash_of(token),
            made_by_id=actor.person_id,
            made_at=now,
            expires_at=now + rules.RESET_LASTS,
        ),
        taken=ResetLink.objects.filter(person=person, used_at__isnull=True, withdrawn_at__isnull=True),
        problem=FieldProblem("person", _("somebody else made a link for them just now"), "taken"),
    )
    record(actor, "reset link made", made, person=str(person.pk))
    return made, token


@command
def use_reset_link(*, actor: Actor, token_hash: str, kept: str) -> User:
    """Sets the password of the person that the link is for, once; all their sessions end.

    actor: that person.  kept: the password as it is kept (a hash). Raises Invalid when the link does not open
    (any more).
    """
    with company_scope(actor.company_id):
        link: ResetLink | None = ResetLink.objects.filter(
            token_hash=token_hash, person_id=actor.person_id
        ).first()
        place = Membership.objects.filter(person_id=actor.person_id, is_active=True)
        if (
            link is None
            or not place.exists()
            or queries.belongs_elsewhere(actor.person_id)
            or not _claim(ResetLink, link.pk, timezone.now())
        ):
            raise rules.dead_link()
        person = User.objects.get(pk=actor.person_id)
        person.password = kept
        person.save(update_fields=["password"])
        record(actor, "password reset", person, link=str(link.pk))
    return person


def _claim(links: type[Invitation] | type[ResetLink], pk: uuid.UUID, now: datetime) -> bool:
    """Uses a link, if nobody did and it still opens: compare and set, so that of two at once one wins."""
    rows = links.objects.filter(pk=pk, used_at__isnull=True, withdrawn_at__isnull=True, expires_at__gt=now)
    return bool(rows.update(used_at=now))
