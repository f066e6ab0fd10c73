"""`Idempotency-Key`: a creating request that is sent again has its first answer told again, and does nothing.

After the IETF's draft "The Idempotency-Key HTTP Header Field", version 07.
"""

import functools
import hashlib
import json
import re
import uuid
from collections.abc import Callable, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import timedelta
from typing import Any, Final, Protocol, TypeVar

from django.db import DatabaseError, IntegrityError, models, transaction
from django.utils import timezone
from django.utils.datastructures import MultiValueDict
from django.utils.translation import gettext as _
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from services.core.commands import Actor, after_commit, one_transaction
from services.core.errors import KeyReused, Malformed, StillRunning
from services.core.models import KeptAnswer

HEADER: Final = "Idempotency-Key"
KEPT: Final = timedelta(days=30)
CLAIM_LASTS: Final = timedelta(seconds=60)
"""A request not answered after this is taken for dead, and the next with its key does the work. Should it
still be running, it finds its claim gone before its commit, and is undone."""

_KEY: Final = re.compile(r'("?)([0-9a-fA-F]{8}(?:-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12})\1')

V = TypeVar("V", bound=Callable[..., Response])


class _View(Protocol):
    """A view, and the names of what its answers tell once and never again."""

    told_once: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Asked:
    """A request under a key: by whom, where, what."""

    actor: Actor
    route: str
    key: uuid.UUID
    fingerprint: str

    def rows(self) -> models.QuerySet[KeptAnswer]:
        """The row of the key, if there is one."""
        found: models.QuerySet[KeptAnswer] = KeptAnswer.objects.filter(
            person_id=self.actor.person_id, route=self.route, key=self.key
        )
        return found


def once(post: V) -> V:
    """Makes a view's `post` heed Idempotency-Key. Without the header nothing changes.

    The key is claimed first, in a transaction of its own, so that another request with it is told to wait
    (409). Then the commands of the view and the row with their answer are one transaction. What fails is not
    kept and the claim is let go, so that it can be tried again. A view names in `told_once` what its answer
    tells once: that is kept of no answer, and is null in one told again.
    """

    @functools.wraps(post)
    def answered(view: _View, request: Request, *args: Any, **kwargs: Any) -> Response:
        key = _key_of(request)
        if key is None:
            return post(view, request, *args, **kwargs)
        actor: Actor = request._request.actor  # type: ignore[attr-defined]
        asked = _Asked(actor, request.path, key, _fingerprint(request))
        claim = uuid.uuid4()
        kept = _claim(asked, claim)
        if kept is not None:
            return _told_again(kept)
        try:
            with one_transaction():
                response = post(view, request, *args, **kwargs)
                _keep(asked, claim, response, getattr(view, "told_once", ()))
        except BaseException:
            with suppress(DatabaseError):  # it runs out by itself
                asked.rows().filter(claim=claim, status__isnull=True).delete()
            raise
        return response

    answered.takes_key = True  # type: ignore[attr-defined]
    return answered  # type: ignore[return-value]


def _key_of(request: Request) -> uuid.UUID | None:
    """The key that the request names; None without one. Raises Malformed."""
    given = request.headers.get(HEADER)
    if given is None:
        return None
    match = _KEY.fullmatch(given.strip())
    if match is None:
        raise Malformed(_("Idempotency-Key takes one UUID, such as 0190f3a0-0000-7000-8000-000000000000."))
    return uuid.UUID(match[2])


def _fingerprint(request: Request) -> str:
    """SHA-256 of the body, in hex. Of a form: its fields and files, for its boundary is another each time."""
    if not (request.content_type or "").startswith("multipart/"):
        return hashlib.sha256(request._request.body).hexdigest()
    digest = hashlib.sha256()
    form: MultiValueDict[str, Any] = request.data  # type: ignore[assignment] # what a form's parser gives
    for name, values in sorted(form.lists()):
        for value in values:
            if isinstance(value, str):
                content = value.encode("utf-8", "surrogatepass")
            else:
                content = value.read()
                value.seek(0)
            digest.update(
                f"{len(name)} {name} {type(value) is str} {len(content)} ".encode("utf-8", "replace")
            )
            digest.update(content)
    return digest.hexdigest()


def _claim(asked: _Asked, claim: uuid.UUID) -> KeptAnswer | None:
    """Claims the key; or gives the answer that is kept under it. Raises KeyReused, StillRunning.

    The unique constraint and a compare-and-set update decide, so that one request alone has the claim on
    either database.
    """
    now = timezone.now()
    try:
        with transaction.atomic():
            KeptAnswer.objects.create(
                person_id=asked.actor.person_id,
                route=asked.route,
                key=asked.key,
                fingerprint=asked.fingerprint,
                claim=claim,
                claimed_at=now,
            )
    except IntegrityError:
        pass
    else:
        return None
    kept = asked.rows().first()
    if kept is None:
        raise _still_running()  # let go a moment ago
    is_old = kept.claimed_at <= now - KEPT
    if not is_old and kept.fingerprint != asked.fingerprint:
        raise KeyReused(
            _("This Idempotency-Key came before with another body. Take a new key for each new request.")
        )
    if kept.status is not None and not is_old:
        return kept
    if kept.claimed_at > now - CLAIM_LASTS:
        raise _still_running()
    taken = asked.rows().filter(claim=kept.claim, status=kept.status)
    if not taken.update(
        claim=claim, claimed_at=now, fingerprint=asked.fingerprint, status=None, etag="", body=""
    ):
        raise _still_running()
    return None


def _still_running() -> StillRunning:
    return StillRunning(
        _("The first request with this Idempotency-Key is being worked on. Send it again in a moment.")
    )


def _keep(asked: _Asked, claim: uuid.UUID, response: Response, told_once: tuple[str, ...]) -> None:
    """Writes the answer to the claimed row, in the transaction of what it tells. Raises StillRunning where
    the claim was taken meanwhile: then all of it is undone."""
    told = response.data
    if isinstance(told, Mapping) and told_once:
        told = {name: None if name in told_once else value for name, value in told.items()}
    kept = (
        asked.rows()
        .filter(claim=claim, status__isnull=True)
        .update(
            status=response.status_code,
            etag=response.headers.get("ETag", ""),
            body="" if told is None else JSONRenderer().render(told).decode(),
        )
    )
    if not kept:
        raise _still_running()
    if _old().exists():
        after_commit("core.forget_answers")


def _told_again(kept: KeptAnswer) -> Response:
    headers = {"ETag": kept.etag} if kept.etag else {}
    return Response(json.loads(kept.body) if kept.body else None, status=kept.status, headers=headers)


def _old() -> models.QuerySet[KeptAnswer]:
    found: models.QuerySet[KeptAnswer] = KeptAnswer.objects.filter(claimed_at__lte=timezone.now() - KEPT)
    return found


def forget() -> int:
    """Removes the company's answers that were kept 30 days; returns how many rows. Safe to repeat."""
    return _old().delete()[0]
