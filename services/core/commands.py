"""How state changes: one function a business act, one transaction, an actor, and the act recorded."""

import functools
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field
from typing import Any, ParamSpec, TypeVar

from django.db import models, transaction
from django.db.models import F
from django.utils.translation import gettext as _

from services.core.errors import NotFound, StaleVersion
from services.core.faults import fault_point
from services.core.models import Act, OutboxEntry
from services.core.scoping import current_company_id

P = ParamSpec("P")
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Actor:
    """Who acts: a person in a role of a company, on a device."""

    person_id: uuid.UUID
    company_id: uuid.UUID
    role: str
    device_id: uuid.UUID | None = None


class NoActRecorded(RuntimeError):
    """A command ended without recording what it did. Always a slip of ours."""


@dataclass(slots=True)
class _Running:
    recorded: int = 0
    queued: list[str] = field(default_factory=list)


_running: ContextVar[_Running | None] = ContextVar("command", default=None)
_on_queued: list[Callable[[], None]] = []


@contextmanager
def one_transaction() -> Iterator[_Running]:
    """The one transaction of a command, or of a request whose answer is kept with what its command did.

    Commands called inside join it; the worker is woken after its commit.
    """
    running = _Running()
    token = _running.set(running)
    try:
        with transaction.atomic():
            yield running
            fault_point("before-commit")
    finally:
        _running.reset(token)
    fault_point("after-commit")
    if running.queued:
        for wake in _on_queued:
            wake()


def command(function: Callable[P, T]) -> Callable[P, T]:
    """Makes a function a command.

    The outermost opens the one transaction and refuses to end it unless an act was recorded; a command that
    another
    calls joins it. What is queued with `after_commit` is written in the same transaction and done after it.
    """

    @functools.wraps(function)
    def run(*args: P.args, **kwargs: P.kwargs) -> T:
        if _running.get() is not None:
            return function(*args, **kwargs)
        with one_transaction() as running:
            result = function(*args, **kwargs)
            if not running.recorded:
                raise NoActRecorded(f"{function.__qualname__} recorded no act")
        return result

    return run


def record(actor: Actor, act: str, subject: models.Model, **figures: Any) -> Act:
    """Records what was done, by whom, to what. Only inside a command."""
    running = _running.get()
    if running is None:
        raise NoActRecorded(f"{act} was recorded outside a command")
    running.recorded += 1
    made: Act = Act.objects.create(
        person_id=actor.person_id,
        device_id=actor.device_id,
        role=actor.role,
        act=act,
        subject_kind=subject._meta.label_lower,
        subject_id=subject.pk,
        figures=figures,
    )
    return made


def after_commit(task: str, **payload: Any) -> None:
    """Queues a task by name, in the command's own transaction. It may run twice, so what it calls is safe to
    repeat."""
    running = _running.get()
    if running is None:
        raise NoActRecorded(f"{task} was queued outside a command")
    running.queued.append(task)
    OutboxEntry.objects.create(company_id=current_company_id(), task=task, payload=payload)


def when_queued(wake: Callable[[], None]) -> None:
    """Has `wake` called after each commit that queued something."""
    _on_queued.append(wake)


def claim_version(row: models.Model, *, seen: int) -> None:
    """Raises StaleVersion unless the row still has the version that the person saw; else counts it up.

    Compare and set, so that it holds on both databases without a row lock.
    """
    changed = type(row)._default_manager.filter(pk=row.pk, version=seen).update(version=F("version") + 1)
    if not changed:
        now = type(row)._default_manager.filter(pk=row.pk).values_list("version", flat=True).first()
        if now is None:
            raise NotFound
        raise StaleVersion(
            _("Somebody else changed this since you opened it. Look at it, then enter yours again."),
            seen=seen,
            now=now,
        )
    row.version = seen + 1  # type: ignore[attr-defined]
