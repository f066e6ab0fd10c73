"""One's own account, and the two doors that a one-time link opens: into a company, and to a new password."""

from typing import Any, Final

from django.contrib import messages
from django.contrib.auth import login, logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from services.company import account as own
from services.company import commands, guesses, queries, rules
from services.company.middleware import SESSION_KEY
from services.company.models import User
from services.company.queries import Door
from services.company.rights import Right
from services.core.commands import Actor
from services.core.errors import FieldProblem, IllegalMove, Invalid
from services.core.ids import uuid7
from services.pages.forms import Plain
from services.pages.forms_people import (
    NameForm,
    NewPasswordForm,
    NewPersonForm,
    OwnMailForm,
    OwnPasswordForm,
    TokenForm,
)
from services.pages.gate import PageRequest, page

BACKEND: Final = "django.contrib.auth.backends.ModelBackend"
INVITATION: Final = "invitation"
RESET: Final = "reset"
"""In the session: the hash of the link that was opened, while it is being used."""


@sensitive_post_parameters("password", "old", "new")
@page(Right.SEE_WORK, "GET", "POST")
def account(request: PageRequest) -> HttpResponse:
    """One's own name, mail address and password, and the way out of the company."""
    user: User = request.user  # type: ignore[assignment]
    what = request.POST.get("what", "")
    name = NameForm(request.POST if what == "name" else None, initial={"name": user.name})
    mail = OwnMailForm(request.POST if what == "mail" else None, initial={"email": user.email})
    password = OwnPasswordForm(request.POST if what == "password" else None)
    problem = ""
    if request.method == "POST":
        done: object = None
        if what == "name":
            done = name.ask(commands.rename_self, actor=request.actor)
        elif what == "mail":
            done = mail.ask(lambda **asked: own.change_own_mail(request, **asked), actor=request.actor)
        elif what == "password":
            done = password.ask(
                lambda **asked: own.change_own_password(request, **asked), actor=request.actor
            )
        elif what == "leave":
            try:
                return _left(request)
            except IllegalMove as error:
                problem = error.text
        else:
            raise Invalid([FieldProblem("what", _("this page does not do that"))])
        if done is not None:
            said = {
                "name": _("Your name is kept."),
                "mail": _("Your mail address is kept. You sign in with it from now on."),
                "password": _("Your password is kept. Other devices are signed out."),
            }
            messages.success(request, said[what])
            return redirect("account")
    context = {
        "member": queries.member_of(request.actor.person_id),
        "name": name,
        "mail": mail,
        "password": password,
        "problem": problem,
    }
    status = 409 if problem else 422 if name.errors or mail.errors or password.errors else 200
    return render(request, "pages/account.html", context, status=status)


def _left(request: PageRequest) -> HttpResponse:
    commands.leave(actor=request.actor)
    if queries.companies_of(request.actor.person_id):
        request.session.pop(SESSION_KEY, None)
        request.session.pop("project", None)
        return redirect("wall-chart")
    logout(request)
    return redirect("sign-in")


# ---------------------------------------------------------------- the doors


@never_cache
@sensitive_post_parameters("token", "new")
@require_http_methods(["GET", "HEAD", "POST"])
def join(request: HttpRequest) -> HttpResponse:
    """Takes an invited person in: the link first, then a name and a password, or a sign-in."""
    if "token" in request.POST:
        return _opened(request, INVITATION)
    door = queries.invitation_door(request.session.get(INVITATION, ""))
    if door is None:
        return _asked(request, INVITATION)
    what = request.POST.get("what", "")
    user: Any = request.user
    form = NewPersonForm(request.POST if what == "new" else None)
    if what == "other":
        return _stepped_out(request, INVITATION)
    if request.method == "POST" and user.is_authenticated and user.email == door.email:
        member_actor = Actor(user.pk, door.company.pk, door.role, door.device_id)
        return _in(request, door, member_actor, user)
    if what == "new" and not user.is_authenticated and door.person is None:
        newcomer = User(email=door.email, name=request.POST.get("name", "")[: rules.LONGEST_NAME])
        made = form.ask(_newcomer(door, newcomer))
        if made is not None:
            return _in(request, door, None, made)
    context = {
        "door": door,
        "form": form,
        "is_other": user.is_authenticated and user.email != door.email,
        "is_known": door.person is not None,
        "page": "join",
    }
    status = 403 if context["is_other"] else 422 if form.errors else 200
    return render(request, "pages/join.html", context, status=status)


def _newcomer(door: Door, newcomer: User) -> Any:
    """A person made by accepting, as a command that the form may ask."""

    def accept(*, name: str, new: str) -> User:
        kept = own.kept_password("new", new, newcomer)
        actor = Actor(uuid7(), door.company.pk, door.role, door.device_id)
        member = commands.accept_invitation(
            actor=actor, token_hash=door.link.token_hash, name=name, kept=kept
        )
        return member.person

    return accept


def _in(request: HttpRequest, door: Door, actor: Actor | None, person: User) -> HttpResponse:
    """Into the company: accepted for somebody known, signed in for somebody new."""
    request.session.pop(INVITATION, None)
    if actor is not None:
        commands.accept_invitation(actor=actor, token_hash=door.link.token_hash)
        request.session.cycle_key()
    else:
        login(request, person, backend=BACKEND)
    request.session[SESSION_KEY] = str(door.company.pk)
    request.session.pop("project", None)
    return redirect("wall-chart")


@never_cache
@sensitive_post_parameters("token", "new")
@require_http_methods(["GET", "HEAD", "POST"])
def reset(request: HttpRequest) -> HttpResponse:
    """A new password for whoever was given a link to set one: the link first, then the password."""
    if "token" in request.POST:
        return _opened(request, RESET)
    door = queries.reset_door(request.session.get(RESET, ""))
    if door is None or door.person is None:
        return _asked(request, RESET)
    what = request.POST.get("what", "")
    user: Any = request.user
    is_other = user.is_authenticated and user.pk != door.person.pk
    form = NewPasswordForm(request.POST if what == "new" else None)
    if what == "other":
        return _stepped_out(request, RESET)
    if what == "new" and not is_other and form.ask(_resetting(door, door.person)) is not None:
        logout(request)
        messages.success(request, _("The new password is kept. Sign in with it."))
        return redirect("sign-in")
    context = {"door": door, "form": form, "is_other": is_other, "is_known": True, "page": "reset"}
    return render(
        request, "pages/reset.html", context, status=403 if is_other else 422 if form.errors else 200
    )


def _resetting(door: Door, person: User) -> Any:
    """The new password set, as a command that the form may ask."""

    def set_new(*, new: str) -> User:
        actor = Actor(person.pk, door.company.pk, door.role, door.device_id)
        return commands.use_reset_link(
            actor=actor, token_hash=door.link.token_hash, kept=own.kept_password("new", new, person)
        )

    return set_new


def _opened(request: HttpRequest, kind: str) -> HttpResponse:
    """Looks a link up that somebody followed or typed. The session keeps its hash while it is used, so that
    the token itself is sent once. Misses are counted, and told alike whatever the reason."""
    form = TokenForm(request.POST)
    if form.is_valid():
        token_hash = own.token_hash(request, form.cleaned_data["token"])
        door = (queries.invitation_door if kind == INVITATION else queries.reset_door)(token_hash)
        if door is not None:
            request.session[kind] = token_hash
            return redirect("join" if kind == INVITATION else "reset")
        guesses.missed(request, guesses.LINKS)
        form.add_error("token", rules.dead_link().problems[0].text)
    return _asked(request, kind, form)


def _asked(request: HttpRequest, kind: str, form: Plain | None = None) -> HttpResponse:
    """The page where a link is opened; its script does so for whoever followed one."""
    is_gone = request.session.pop(kind, None) is not None
    if form is None:
        form = TokenForm()
    context = {
        "form": form,
        "page": "join" if kind == INVITATION else "reset",
        "problem": rules.dead_link().problems[0].text if is_gone else "",
    }
    return render(
        request, f"pages/{context['page']}.html", context, status=422 if form.errors or is_gone else 200
    )


def _stepped_out(request: HttpRequest, kind: str) -> HttpResponse:
    """Signs out who is signed in, and stays at the door."""
    kept = request.session[kind]
    logout(request)
    request.session[kind] = kept
    return redirect("join" if kind == INVITATION else "reset")
