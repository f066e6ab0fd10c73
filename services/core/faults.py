"""Named places where a test may break the service. Outside tests each is one look at an empty table."""

from collections.abc import Callable
from typing import Final

POINTS: Final = (
    "before-commit",
    "after-commit",
    "after-answer",
    "between-commit-and-relay",
    "mid-projection",
)

_armed: dict[str, Callable[[], None]] = {}


def fault_point(name: str) -> None:
    """Does nothing, unless a test armed it."""
    if _armed and (strike := _armed.get(name)) is not None:
        strike()


def arm(name: str, strike: Callable[[], None]) -> None:
    """Lets a point strike from now on. Raises KeyError for a point that there is not."""
    if name not in POINTS:
        raise KeyError(name)
    _armed[name] = strike


def disarm() -> None:
    """Takes all strikes back."""
    _armed.clear()
