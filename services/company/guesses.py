"""Guessing is slowed for whatever is secret, by the counter of the sign-in: five misses of a name from an
address, then a quarter of an hour."""

from typing import Final

from axes.handlers.proxy import AxesProxyHandler
from django.contrib.auth import authenticate
from django.contrib.auth.signals import user_login_failed
from django.http import HttpRequest
from django.utils.translation import gettext as _

from services.company.models import User
from services.core.errors import TooManyTries

LINKS: Final = "(one-time links)"
ADDRESSES: Final = "(mail addresses)"
"""Names that misses are counted by which are nobody's: no mail address looks like them."""

_SENDER: Final = "services.company.guesses"


def require_patience(request: HttpRequest, name: str) -> None:
    """Raises TooManyTries where there were too many misses already: then not even a hit counts."""
    if not AxesProxyHandler.is_allowed(request, {User.USERNAME_FIELD: name}):
        raise _too_many(request)


def missed(request: HttpRequest, name: str) -> None:
    """Counts a miss. Raises TooManyTries when it was one too many."""
    user_login_failed.send(sender=_SENDER, credentials={User.USERNAME_FIELD: name}, request=request)
    if getattr(request, "axes_locked_out", False):
        raise _too_many(request)


def knows_password(request: HttpRequest, person: User, password: str) -> bool:
    """Whether that is the person's password. A miss counts as one at the sign-in. Raises TooManyTries."""
    known = authenticate(request, email=person.email, password=password)
    if known is None and getattr(request, "axes_locked_out", False):
        raise _too_many(request)
    return known is not None and known.pk == person.pk


def _too_many(request: HttpRequest) -> TooManyTries:
    # Else the middleware of the counter would put its own page in the place of our answer.
    request.axes_locked_out = False  # type: ignore[attr-defined]
    return TooManyTries(_("That was tried too often from here. Wait a quarter of an hour, then try again."))
