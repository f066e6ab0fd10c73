"""What projects tell those after them, inside their own transaction."""

from django.dispatch import Signal

draft_deleted = Signal()
"""Sent with run and actor before a run that was never released is deleted: a receiver deletes what it keeps
of it."""
