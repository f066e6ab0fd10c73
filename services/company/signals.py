"""What the company asks those after it, inside its own transaction."""

from django.dispatch import Signal

crew_disbanding = Signal()
"""Sent with crew before it is disbanded; a receiver returns what still stands with it (text for a person), or
None."""
