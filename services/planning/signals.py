"""What planning asks and tells those after it, inside its own transaction."""

from django.dispatch import Signal

release_judged = Signal()
"""Sent with run before it is released; a receiver returns why it may not be (text for a person), or None."""

run_released = Signal()
"""Sent with run, plan, sticks and actor when a run is released."""

sticks_released = Signal()
"""Sent with run, plan, sticks and actor when more sticks of a released plan are to be made."""
