"""People, invitations, crews, settings and rights over the API, and what a person changes of themself."""

import uuid
from typing import Any, ClassVar

from django.utils.translation import gettext as _
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from services.company import account, answers, commands, queries
from services.company.models import Company, Crew, Invitation, Membership, Role
from services.company.rights import RIGHTS, Right, may
from services.company.rules import SETTINGS
from services.core.api import Id, Scalar, Strict, actor_of, listed, seen_by, taken, versioned
from services.core.errors import FieldProblem, Invalid
from services.core.idempotency import once
from services.core.openapi import operation

MOST_PEOPLE = 500
"""Of one crew, and crews of one person, in a body."""


class CrewForm(Strict):
    """A new crew."""

    name = Scalar()
    members = serializers.ListField(child=Id(), max_length=MOST_PEOPLE, required=False)


class CrewChangeForm(Strict):
    """What may be changed of a crew; what is not named stays."""

    name = Scalar(required=False)
    members = serializers.ListField(child=Id(), max_length=MOST_PEOPLE, required=False)


class InvitationForm(Strict):
    """Whom to invite."""

    email = Scalar()
    role = Scalar()
    crews = serializers.ListField(child=Id(), max_length=MOST_PEOPLE, required=False)

    described: ClassVar = answers.WORDS_OF_ROLE


class PersonChangeForm(Strict):
    """What may be changed of a person; one thing at a time."""

    role = Scalar(required=False)
    email = Scalar(required=False)
    is_active = serializers.BooleanField(required=False)

    described: ClassVar = answers.WORDS_OF_ROLE


class NameForm(Strict):
    """One's own name."""

    name = Scalar()


class OwnMailForm(Strict):
    """One's own mail address, with one's password."""

    email = Scalar()
    password = serializers.CharField(max_length=128, trim_whitespace=False)


class OwnPasswordForm(Strict):
    """One's own password, old and new."""

    old = serializers.CharField(max_length=128, trim_whitespace=False)
    new = serializers.CharField(max_length=1000, trim_whitespace=False)


class SettingsForm(Strict):
    """Settings that are to change; what is not named stays."""

    joint_costs = serializers.DictField(child=Scalar(allow_null=True), required=False)

    described: ClassVar = answers.SETTINGS_PARTS


for _name in SETTINGS:
    if _name != "joint_costs":
        SettingsForm._declared_fields[_name] = Scalar(required=False, allow_null=True)


# ---------------------------------------------------------------- people


class People(APIView):
    """Everybody who is or was in the company."""

    rights: ClassVar = {"GET": Right.PEOPLE}

    @operation("List people", gives=answers.PERSON, listed=True)
    def get(self, request: Request) -> Response:
        """By name, who is in it first."""
        return listed(request, queries.members(), person_told)


class OnePerson(APIView):
    """Somebody who is or was in the company."""

    rights: ClassVar = {"GET": Right.PEOPLE, "PATCH": Right.PEOPLE}

    @operation("Tell of a person", gives=answers.PERSON, etag=True)
    def get(self, request: Request, member_id: uuid.UUID) -> Response:
        """With the version of their place as ETag."""
        found = queries.member(member_id)
        return versioned(person_told(found), found.version)

    @operation(
        "Change a person",
        gives=answers.PERSON,
        takes=PersonChangeForm,
        example={"role": "foreman"},
        etag=True,
        if_match=True,
        refuses=(409, 429),
    )
    def patch(self, request: Request, member_id: uuid.UUID) -> Response:
        """Another role; let go (`is_active` false) or taken back in (true); a mail address put right."""
        seen = seen_by(request)
        given = taken(PersonChangeForm, request)
        if len(given) != 1:
            raise Invalid([FieldProblem("", _("name one of role, email and is_active"))])
        actor = actor_of(request)
        if "role" in given:
            commands.change_role(actor=actor, member_id=member_id, seen=seen, role=given["role"])
        elif "email" in given:
            account.correct_mail(
                request._request, actor=actor, member_id=member_id, seen=seen, email=given["email"]
            )
        elif given["is_active"]:
            commands.take_back(actor=actor, member_id=member_id, seen=seen)
        else:
            commands.let_go(actor=actor, member_id=member_id, seen=seen)
        found = queries.member(member_id)
        return versioned(person_told(found), found.version)


class Resets(APIView):
    """Links with which a person sets a new password."""

    rights: ClassVar = {"POST": Right.PEOPLE}
    told_once: ClassVar = ("token",)

    @operation("Make a reset link", gives=answers.RESET, status=201)
    @once
    def post(self, request: Request, member_id: uuid.UUID) -> Response:
        """Makes one. Its `token` is told in this answer and never again; it is typed at /reset/."""
        made, token = commands.make_reset_link(actor=actor_of(request), member_id=member_id)
        told = {"id": str(made.pk), "expires_at": made.expires_at, "token": token}
        return Response(told, status=201)


# ---------------------------------------------------------------- invitations


class Invitations(APIView):
    """The invitations that are open; a new one."""

    rights: ClassVar = {"GET": Right.PEOPLE, "POST": Right.PEOPLE}
    told_once: ClassVar = ("token",)

    @operation("List invitations", gives=answers.INVITATION, listed=True)
    def get(self, request: Request) -> Response:
        """The newest first. Tokens are not told again."""
        return listed(request, queries.invitations(), invitation_told)

    @operation(
        "Invite somebody",
        gives=answers.INVITATION_MADE,
        takes=InvitationForm,
        example={"email": "tom.birch@ostley.example", "role": "electrician", "crews": []},
        status=201,
    )
    @once
    def post(self, request: Request) -> Response:
        """Invites. The `token` is told in this answer and never again; it is typed at /join/."""
        given = taken(InvitationForm, request)
        made, token = commands.invite(
            actor=actor_of(request),
            email=given["email"],
            role=given["role"],
            crew_ids=given.get("crews", []),
        )
        return Response({**invitation_told(made), "token": token}, status=201)


class OneInvitation(APIView):
    """An invitation that was not used yet."""

    rights: ClassVar = {"DELETE": Right.PEOPLE}

    @operation("Withdraw an invitation")
    def delete(self, request: Request, invitation_id: uuid.UUID) -> Response:
        """Withdraws it."""
        commands.withdraw_invitation(actor=actor_of(request), invitation_id=invitation_id)
        return Response(status=204)


# ---------------------------------------------------------------- crews


class Crews(APIView):
    """The company's crews: to whom a run is released."""

    rights: ClassVar = {"GET": Right.SEE_WORK, "POST": Right.PEOPLE}

    @operation("List crews", gives=answers.CREW, listed=True)
    def get(self, request: Request) -> Response:
        """By name."""
        return listed(request, queries.crews(), crew_told)

    @operation(
        "Form a crew",
        gives=answers.CREW_WITH_MEMBERS,
        takes=CrewForm,
        example={"name": "North gang", "members": []},
        status=201,
        etag=True,
    )
    @once
    def post(self, request: Request) -> Response:
        """Forms one."""
        given = taken(CrewForm, request)
        made = commands.form_crew(
            actor=actor_of(request), name=given["name"], member_ids=given.get("members", [])
        )
        found = queries.crew_with_members(made.pk)
        return versioned(crew_with_members_told(found), found.version, status=201)


class OneCrew(APIView):
    """A crew."""

    rights: ClassVar = {"GET": Right.PEOPLE, "PATCH": Right.PEOPLE, "DELETE": Right.PEOPLE}

    @operation("Tell of a crew", gives=answers.CREW_WITH_MEMBERS, etag=True)
    def get(self, request: Request, crew_id: uuid.UUID) -> Response:
        """With who is in it, and its version as ETag."""
        found = queries.crew_with_members(crew_id)
        return versioned(crew_with_members_told(found), found.version)

    @operation(
        "Change a crew",
        gives=answers.CREW_WITH_MEMBERS,
        takes=CrewChangeForm,
        example={"name": "Night gang"},
        etag=True,
        if_match=True,
    )
    def patch(self, request: Request, crew_id: uuid.UUID) -> Response:
        """Another name, other members: all of them."""
        seen = seen_by(request)
        given = taken(CrewChangeForm, request)
        found = commands.change_crew(
            actor=actor_of(request),
            crew_id=crew_id,
            seen=seen,
            name=given.get("name"),
            member_ids=given.get("members"),
        )
        return versioned(crew_with_members_told(found), found.version)

    @operation("Disband a crew", if_match=True, refuses=(409,))
    def delete(self, request: Request, crew_id: uuid.UUID) -> Response:
        """Disbands it, if it has nothing to do."""
        commands.disband_crew(actor=actor_of(request), crew_id=crew_id, seen=seen_by(request))
        return Response(status=204)


# ---------------------------------------------------------------- settings and rights


class Settings(APIView):
    """The company's settings."""

    rights: ClassVar = {"GET": Right.SETTINGS, "PATCH": Right.SETTINGS}

    @operation("Tell the settings", gives=answers.SETTINGS_TOLD, etag=True)
    def get(self, request: Request) -> Response:
        """With their version as ETag."""
        company = queries.company_settings(actor_of(request).company_id)
        return versioned(settings_told(company), company.version)

    @operation(
        "Change settings",
        gives=answers.SETTINGS_TOLD,
        takes=SettingsForm,
        example={"clearance_mm": 90, "joint_costs": {"coupler": 1.5}},
        etag=True,
        if_match=True,
    )
    def patch(self, request: Request) -> Response:
        """Sets what is named. Lengths in mm, whatever the company's units."""
        seen = seen_by(request)
        company = commands.change_settings(actor=actor_of(request), seen=seen, **taken(SettingsForm, request))
        return versioned(settings_told(company), company.version)


class Rights(APIView):
    """Who may do what here."""

    rights: ClassVar = {"GET": Right.SEE_WORK}

    @operation("List rights", gives=answers.RIGHTS_TOLD)
    def get(self, request: Request) -> Response:
        """Each right with the roles that have it."""
        sees = queries.company_settings(actor_of(request).company_id).foreman_sees_money
        return Response(
            {
                "items": [
                    {
                        "right": right.value,
                        "roles": [role for role in Role.values if may(role, right, foreman_sees_money=sees)],
                    }
                    for right in RIGHTS
                ]
            }
        )


# ---------------------------------------------------------------- oneself


class Account(APIView):
    """The person who is signed in."""

    rights: ClassVar = {"GET": Right.SEE_WORK, "PATCH": Right.SEE_WORK}

    @operation("Tell of oneself", gives=answers.PERSON)
    def get(self, request: Request) -> Response:
        """As the company knows them."""
        return Response(person_told(queries.member_of(actor_of(request).person_id)))

    @operation("Change one’s name", gives=answers.PERSON, takes=NameForm, example={"name": "Ada Wray"})
    def patch(self, request: Request) -> Response:
        """Another name."""
        commands.rename_self(actor=actor_of(request), **taken(NameForm, request))
        return Response(person_told(queries.member_of(actor_of(request).person_id)))


class OwnMail(APIView):
    """The mail address that one signs in with."""

    rights: ClassVar = {"POST": Right.SEE_WORK}

    @operation(
        "Change one’s mail address",
        gives=answers.PERSON,
        takes=OwnMailForm,
        example={"email": "ada.wray@ostley.example", "password": "copper-kettle-adrift-9"},
        refuses=(429,),
    )
    def post(self, request: Request) -> Response:
        """Changes it; wants the password. 429 after too many misses."""
        given = taken(OwnMailForm, request)
        actor = actor_of(request)
        account.change_own_mail(request._request, actor=actor, **given)
        return Response(person_told(queries.member_of(actor.person_id)))


class OwnPassword(APIView):
    """The password that one signs in with."""

    rights: ClassVar = {"POST": Right.SEE_WORK}

    @operation(
        "Change one’s password",
        takes=OwnPasswordForm,
        example={"old": "copper-kettle-adrift-9", "new": "quarry-lantern-7-otter"},
        refuses=(429,),
    )
    def post(self, request: Request) -> Response:
        """Changes it; wants the old one. This session goes on, all others end. 429 after too many misses."""
        given = taken(OwnPasswordForm, request)
        account.change_own_password(request._request, actor=actor_of(request), **given)
        return Response(status=204)


class Leaving(APIView):
    """One's way out of the company."""

    rights: ClassVar = {"POST": Right.SEE_WORK}

    @operation("Leave the company", refuses=(409,))
    def post(self, request: Request) -> Response:
        """Leaves it."""
        commands.leave(actor=actor_of(request))
        return Response(status=204)


# ---------------------------------------------------------------- as the API tells them


def person_told(member: Membership) -> dict[str, Any]:
    """A person in the company; `is_active` false: let go, or left."""
    return {
        "id": str(member.pk),
        "name": member.person.name,
        "email": member.person.email,
        "role": member.role,
        "is_active": member.is_active,
        "crews": [crew_told(each) for each in member.crew_list],  # type: ignore[attr-defined]
    }


def invitation_told(invitation: Invitation) -> dict[str, Any]:
    """An invitation, without its token."""
    return {
        "id": str(invitation.pk),
        "email": invitation.email,
        "role": invitation.role,
        "crews": invitation.crews,
        "made_at": invitation.made_at,
        "expires_at": invitation.expires_at,
    }


def crew_told(crew: Crew) -> dict[str, Any]:
    """A crew as the API tells it."""
    return {"id": str(crew.pk), "name": crew.name}


def crew_with_members_told(crew: Crew) -> dict[str, Any]:
    """A crew with who is in it."""
    people = [{"id": str(each.pk), "name": each.person.name} for each in crew.people]  # type: ignore[attr-defined]
    return {**crew_told(crew), "members": people}


def settings_told(company: Company) -> dict[str, Any]:
    """All that may be set."""
    return {name: getattr(company, name) for name in SETTINGS}
