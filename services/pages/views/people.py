"""The company's own pages: its people, crews, settings, and who may do what."""

import uuid
from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from bendcore.words import Dialect
from services.company import account, commands, queries
from services.company.models import Role
from services.company.rights import RIGHTS, SAID, Right, may
from services.core import words
from services.core.errors import FieldProblem, IllegalMove, Invalid, StaleVersion
from services.pages.forms import Plain
from services.pages.forms_people import CrewForm, InviteForm, MailForm, RoleForm, SettingsForm
from services.pages.gate import PageRequest, page, seen_by


@page(Right.PEOPLE, "GET", "POST")
def people(request: PageRequest) -> HttpResponse:
    """Everybody who is, was or is invited to be in the company; invites somebody. The link of an invitation
    is on the page that answers the form, and never again."""
    crews = queries.crews()
    form = InviteForm(request.POST or None, crews=crews, crew_word=_word(request, "crew", plural=True))
    context: dict[str, Any] = {}
    if request.method == "POST":
        made = form.ask(commands.invite, actor=request.actor)
        if made is not None:
            invitation, token = made
            context = {
                "link": _link(request, "join", token),
                "link_for": invitation.email,
                "link_ends": invitation.expires_at,
            }
            form = InviteForm(crews=crews, crew_word=_word(request, "crew", plural=True))
    everybody = queries.members()
    context |= {
        "members": [each for each in everybody if each.is_active],
        "gone": [each for each in everybody if not each.is_active],
        "invitations": queries.invitations(),
        "form": form,
        "place": "people",
    }
    return render(request, "pages/people.html", context, status=_status(form))


@page(Right.PEOPLE, "POST")
def withdraw(request: PageRequest, invitation_id: uuid.UUID) -> HttpResponse:
    """Withdraws an invitation."""
    commands.withdraw_invitation(actor=request.actor, invitation_id=invitation_id)
    return redirect("people")


@page(Right.PEOPLE, "GET", "POST")
def person(request: PageRequest, member_id: uuid.UUID) -> HttpResponse:
    """One person: role, mail address, a link for a new password, and the way out and in."""
    member = queries.member(member_id)
    what = request.POST.get("what", "")
    role = RoleForm(request.POST if what == "role" else None, initial={"role": member.role})
    mail = MailForm(request.POST if what == "mail" else None, initial={"email": member.person.email})
    context: dict[str, Any] = {}
    problem = ""
    if request.method == "POST":
        asked: dict[str, Any] = {"actor": request.actor, "member_id": member_id}
        seen = seen_by(request)
        try:
            done: object = None
            if what == "role":
                done = role.ask(commands.change_role, seen=seen, **asked)
            elif what == "mail":
                done = mail.ask(_corrected(request), seen=seen, **asked)
            elif what == "reset":
                link, token = commands.make_reset_link(**asked)
                context = {"link": _link(request, "reset", token), "link_ends": link.expires_at}
            elif what == "go":
                done = commands.let_go(seen=seen, **asked)
            elif what == "back":
                done = commands.take_back(seen=seen, **asked)
            else:
                raise Invalid([FieldProblem("what", _("this page does not do that"))])
            if done is not None:
                return redirect("person", member_id=member_id)
        except (IllegalMove, StaleVersion) as error:
            problem = error.text
            member = queries.member(member_id)
    context |= {
        "member": member,
        "is_self": member.person_id == request.actor.person_id,
        "role": role,
        "mail": mail,
        "problem": problem,
        "place": "people",
    }
    status = 409 if problem else max(_status(role), _status(mail))
    return render(request, "pages/people_person.html", context, status=status)


def _corrected(request: PageRequest) -> Callable[..., object]:
    def correct(**asked: Any) -> object:
        return account.correct_mail(request, **asked)

    return correct


@page(Right.PEOPLE, "GET", "POST")
def crews(request: PageRequest) -> HttpResponse:
    """The crews with who is in them; forms one."""
    form = CrewForm(request.POST or None, members=_here())
    if request.method == "POST" and form.ask(commands.form_crew, actor=request.actor) is not None:
        return redirect("crews")
    context = {"crews": queries.crews_with_members(), "form": form, "place": "crews"}
    return render(request, "pages/crews.html", context, status=_status(form))


@page(Right.PEOPLE, "GET", "POST")
def crew(request: PageRequest, crew_id: uuid.UUID) -> HttpResponse:
    """One crew: its name, who is in it, and its end."""
    found = queries.crew_with_members(crew_id)
    initial = {"name": found.name, "member_ids": [str(each.pk) for each in found.people]}  # type: ignore[attr-defined]
    what = request.POST.get("what", "")
    form = CrewForm(request.POST if what == "change" else None, members=_here(), initial=initial)
    problem = ""
    if request.method == "POST":
        asked: dict[str, Any] = {"actor": request.actor, "crew_id": crew_id, "seen": seen_by(request)}
        try:
            if what == "change":
                if form.ask(commands.change_crew, **asked) is not None:
                    return redirect("crews")
            elif what == "disband":
                commands.disband_crew(**asked)
                return redirect("crews")
            else:
                raise Invalid([FieldProblem("what", _("this page does not do that"))])
        except (IllegalMove, StaleVersion) as error:
            problem = error.text
    context = {
        "crew": found,
        "form": form,
        "problem": problem,
        "seen": request.POST.get("seen") or found.version,
        "place": "crews",
    }
    return render(request, "pages/crew.html", context, status=409 if problem else _status(form))


@page(Right.SETTINGS, "GET", "POST")
def settings(request: PageRequest) -> HttpResponse:
    """The company's settings, with what a change of them changes and what not."""
    company = queries.company_settings(request.actor.company_id)

    def form_of(data: Any) -> SettingsForm:
        return SettingsForm(data, company=company, word=lambda name: _word(request, name))

    form = form_of(request.POST or None)
    if request.method == "POST":
        try:
            if form.ask(commands.change_settings, actor=request.actor, seen=seen_by(request)) is not None:
                messages.success(request, _("The settings are kept."))
                return redirect("settings")
        except StaleVersion as error:
            form.add_error(None, error.text)
    context = {
        "form": form,
        "groups": form.groups(),
        "seen": request.POST.get("seen") or company.version,
        "place": "settings",
    }
    return render(request, "pages/settings.html", context, status=_status(form))


@page(Right.SEE_WORK)
def rights(request: PageRequest) -> HttpResponse:
    """Who may do what: the table itself."""
    sees = request.company.foreman_sees_money
    rows = []
    for right in RIGHTS:
        held = [may(role, right, foreman_sees_money=sees) for role in Role.values]
        holders = [_(role) for role, holds in zip(Role.values, held, strict=True) if holds]
        rows.append((SAID[right], held, ", ".join(holders)))
    context = {"roles": Role.values, "rows": rows, "place": "rights"}
    return render(request, "pages/people_rights.html", context)


# ---------------------------------------------------------------- shared


def _here() -> list[Any]:
    return [each for each in queries.members() if each.is_active]


def _link(request: PageRequest, name: str, token: str) -> str:
    """The token follows a #, which no browser sends: it comes into no log of requests and no Referer."""
    return f"{request.build_absolute_uri(reverse(name))}#{token}"


def _status(form: Plain) -> int:
    return 422 if form.is_bound and form.errors else 200


def _word(request: PageRequest, name: str, *, plural: bool = False) -> str:
    dialect = Dialect(request.company.words)
    said = words.word(name, dialect)
    said = words.plural(said) if plural else said
    return said[:1].upper() + said[1:] if plural else said
