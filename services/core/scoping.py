"""The one place that keeps companies apart: every owned row is read inside one company's scope, or not at
all."""

import logging
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, Final

from django.db import models

from services.core.ids import uuid7

log = logging.getLogger("stickbook.scoping")


class NoCompany(RuntimeError):
    """An owned row was read or made outside any company's scope. Always a slip of ours: it must be an error,
    for a
    leak looks like a working page."""


class _Across:
    """Stands for all companies at once."""


_ACROSS: Final = _Across()
_active: ContextVar[uuid.UUID | _Across | None] = ContextVar("company", default=None)


@contextmanager
def company_scope(company_id: uuid.UUID) -> Iterator[None]:
    """Inside, owned rows are read and made for this company alone."""
    token = _active.set(company_id)
    try:
        yield
    finally:
        _active.reset(token)


@contextmanager
def across_companies(*, reason: str) -> Iterator[None]:
    """Inside, rows of all companies are read. The one way out of a scope; each use is logged with its
    reason."""
    log.info("across companies: %s", reason)
    token = _active.set(_ACROSS)
    try:
        yield
    finally:
        _active.reset(token)


def current_company_id() -> uuid.UUID:
    """The company whose scope is active. Raises NoCompany outside any, and inside `across_companies`."""
    active = _active.get()
    if isinstance(active, uuid.UUID):
        return active
    raise NoCompany("no company's scope is active")


class ScopedManager(models.Manager[Any]):
    """Reads the rows of the company whose scope is active. Raises NoCompany with none."""

    use_in_migrations = False

    def get_queryset(self) -> models.QuerySet[Any]:
        """All rows in scope."""
        active = _active.get()
        if active is None:
            raise NoCompany(f"{self.model.__name__} was read outside any company's scope")
        rows = super().get_queryset()
        return rows if isinstance(active, _Across) else rows.filter(company_id=active)


class Owned(models.Model):
    """Base of every row that belongs to a company. Its company is that of the scope in which it is made."""

    id = models.UUIDField(primary_key=True, default=uuid7, editable=False)
    company = models.ForeignKey(
        "company.Company",
        on_delete=models.PROTECT,
        related_name="+",
        default=current_company_id,
        editable=False,
    )

    objects = ScopedManager()

    class Meta:
        abstract = True
