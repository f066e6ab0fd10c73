"""Takes queued work from the outbox and does it, once or, after a crash, again."""

import logging
from collections.abc import Callable
from datetime import timedelta
from typing import Any, Final

from django.db import models
from django.db.models import F, Q
from django.utils import timezone

from services.core.faults import fault_point
from services.core.models import OutboxEntry
from services.core.scoping import company_scope

log = logging.getLogger("stickbook.outbox")

CLAIM_LASTS: Final = timedelta(seconds=60)
"""An entry claimed longer than this ago and not done is taken again: whoever had it died."""

MOST_TRIES: Final = 20

TASKS: dict[str, Callable[..., None]] = {}


def task(name: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Names a function that `after_commit` may queue. It takes ids, and may run twice."""

    def register(function: Callable[..., None]) -> Callable[..., None]:
        TASKS[name] = function
        return function

    return register


def _due() -> models.QuerySet[OutboxEntry]:
    stale = timezone.now() - CLAIM_LASTS
    return OutboxEntry.objects.filter(
        Q(claimed_at__isnull=True) | Q(claimed_at__lt=stale), done_at__isnull=True, tries__lt=MOST_TRIES
    )


def relay(most: int = 50) -> int:
    """Does what is due, oldest first, at most so many; returns how many were done.

    Claims by compare and set, so that two relays never do one entry at the same time, on either database.
    """
    done = 0
    for entry in list(_due().order_by("queued_at")[:most]):
        claimed = OutboxEntry.objects.filter(pk=entry.pk, tries=entry.tries, done_at__isnull=True).update(
            claimed_at=timezone.now(), tries=F("tries") + 1
        )
        if claimed:
            fault_point("between-commit-and-relay")
            done += _do(entry)
    return done


def _do(entry: OutboxEntry) -> bool:
    try:
        with company_scope(entry.company_id):
            TASKS[entry.task](**_arguments(entry.payload))
    except Exception as error:  # a task's failure is told and tried again; it must not stop the others
        log.exception("task %s failed", entry.task, extra={"entry": str(entry.pk)})
        wait = timedelta(seconds=min(2 ** (entry.tries + 1), 600))
        OutboxEntry.objects.filter(pk=entry.pk).update(
            claimed_at=timezone.now() + wait - CLAIM_LASTS, error=type(error).__name__
        )
        return False
    OutboxEntry.objects.filter(pk=entry.pk).update(done_at=timezone.now(), error="")
    return True


def _arguments(payload: Any) -> dict[str, Any]:
    return dict(payload)
