"""What the company follows: a sign-in, from which a session's age is counted."""

from typing import Any

from django.contrib.auth.signals import user_logged_in
from django.dispatch import receiver
from django.http import HttpRequest

from services.company import sessions


@receiver(user_logged_in, dispatch_uid="company")
def _signed_in(sender: object, *, request: HttpRequest, **told: Any) -> None:
    sessions.begin(request.session)
