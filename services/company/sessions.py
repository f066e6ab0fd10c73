"""How long a session lasts: so long without a request, and so long at most."""

from typing import Final

from django.conf import settings
from django.contrib.sessions.backends.base import SessionBase
from django.utils import timezone

SINCE: Final = "since"
SEEN: Final = "seen"
"""In the session: when it was signed in, and when it was last seen; seconds since 1970."""

SEEN_EVERY_S: Final = 300
"""A session is written at most so often for being used: its end (`SESSION_COOKIE_AGE` after that) may come so
much too early."""


def begin(session: SessionBase) -> None:
    """Somebody signed in."""
    session[SINCE] = session[SEEN] = _now()


def has_ended(session: SessionBase) -> bool:
    """Whether the session is older than any may be; else it is noted, now and then, that it is used."""
    now = _now()
    if SINCE not in session:
        begin(session)  # signed in before this was counted
        return False
    if now - session[SINCE] >= settings.SESSION_ABSOLUTE_AGE:
        return True
    if now - session.get(SEEN, 0) >= SEEN_EVERY_S:
        session[SEEN] = now
    return False


def _now() -> int:
    return int(timezone.now().timestamp())
