"""What a person changes of their sign-in, and how a secret stands up to guessing meanwhile. Pages and API
call this with the request itself, for a miss is counted by where it came from."""

import uuid

from django.contrib.auth import update_session_auth_hash
from django.contrib.auth.hashers import make_password
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError
from django.http import HttpRequest
from django.utils.translation import gettext as _

from services.company import commands, guesses, rules
from services.company.models import User
from services.core.commands import Actor
from services.core.errors import FieldProblem, Invalid


def kept_password(where: str, password: str, person: User) -> str:
    """The password as it is kept (a hash). person: whose it is to be; may be unsaved. Raises Invalid with
    everything that is wrong with it."""
    try:
        validate_password(password, user=person)
    except ValidationError as error:
        raise Invalid([FieldProblem(where, text, "weak") for text in error.messages]) from None
    return make_password(password)


def change_own_mail(request: HttpRequest, *, actor: Actor, email: str, password: str) -> User:
    """Another mail address for the person who is signed in. Raises Invalid, TooManyTries."""
    _confirm(request, "password", password)
    with _TakenAddress(request):
        return commands.change_own_mail(actor=actor, email=email)


def correct_mail(
    request: HttpRequest, *, actor: Actor, member_id: uuid.UUID, email: str, seen: int | None = None
) -> User:
    """Another mail address for another person. Raises as `commands.correct_mail`, TooManyTries."""
    with _TakenAddress(request):
        return commands.correct_mail(actor=actor, member_id=member_id, email=email, seen=seen)


def change_own_password(request: HttpRequest, *, actor: Actor, old: str, new: str) -> User:
    """Another password for the person who is signed in: their other sessions end, and this one has another
    key. Raises Invalid, TooManyTries."""
    _confirm(request, "old", old)
    user: User = request.user  # type: ignore[assignment]
    person = commands.change_own_password(actor=actor, kept=kept_password("new", new, user))
    update_session_auth_hash(request, person)
    return person


def _confirm(request: HttpRequest, where: str, password: str) -> None:
    user: User = request.user  # type: ignore[assignment]
    if not guesses.knows_password(request, user, password):
        raise Invalid([FieldProblem(where, _("This is not your password."), "wrong")])


class _TakenAddress:
    """Counts an address that is somebody's as a miss, for each says that there is such a person."""

    def __init__(self, request: HttpRequest) -> None:
        self.request = request

    def __enter__(self) -> None:
        guesses.require_patience(self.request, guesses.ADDRESSES)

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        if isinstance(error, Invalid) and any(each.code == "taken" for each in error.problems):
            guesses.missed(self.request, guesses.ADDRESSES)


def token_hash(request: HttpRequest, typed: str) -> str:
    """The hash of a token that somebody typed or followed; before it is looked up, misses are counted.
    Raises TooManyTries."""
    guesses.require_patience(request, guesses.LINKS)
    return rules.hash_of(rules.token_in(typed))
