"""A person at a browser: what they press, point at and decide is counted; what goes wrong on the page is
kept.

The estimate is the keystroke-level model with 0.28 s a key, 1.1 s a pointing and 1.35 s a decision (from
memory, of Card, Moran and Newell; for a person who types at an average pace).
"""

from dataclasses import dataclass, field
from typing import Final

from playwright.sync_api import Locator, Page

KEY_S: Final = 0.28
POINTING_S: Final = 1.1
DECISION_S: Final = 1.35


@dataclass
class Hands:
    """One person at one page."""

    page: Page
    keys: int = 0
    pointings: int = 0
    decisions: int = 0
    wrong: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.page.set_default_timeout(15_000)
        self.page.on("pageerror", lambda error: self.wrong.append(f"script: {error}"))
        self.page.on(
            "console",
            lambda message: (
                self.wrong.append(f"{message.type}: {message.text}")
                if message.type in ("error", "warning")
                else None
            ),
        )

    def decide(self, times: int = 1) -> None:
        """Thinks: what to do next, or which of several."""
        self.decisions += times

    def type(self, text: str) -> None:
        """Types where the focus is."""
        self.page.keyboard.type(text)
        self.keys += len(text)

    def press(self, *keys: str) -> None:
        """Presses keys, one after the other."""
        for key in keys:
            self.page.keyboard.press(key)
        self.keys += len(keys)

    def point(self, what: str | Locator) -> None:
        """Points at something and clicks."""
        target = self.page.locator(what) if isinstance(what, str) else what
        target.first.click()
        self.pointings += 1

    def follow(self, what: str | Locator) -> None:
        """Points at something that leads to another page, and waits for it."""
        target = self.page.locator(what) if isinstance(what, str) else what
        with self.page.expect_navigation():
            target.first.click()
        self.pointings += 1

    @property
    def seconds(self) -> float:
        """The estimate."""
        return KEY_S * self.keys + POINTING_S * self.pointings + DECISION_S * self.decisions

    def said(self) -> str:
        """The count and the estimate."""
        return (
            f"{self.keys} keys, {self.pointings} pointings, {self.decisions} decisions: {self.seconds:.0f} s"
            f" by the keystroke-level model ({KEY_S} s, {POINTING_S} s, {DECISION_S} s; from memory)"
        )

    def overflow(self) -> int:
        """Pixels by which the page is wider than the window."""
        wide: int = self.page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        return wide

    def look(self) -> None:
        """Notes it when the page is wider than the window."""
        if self.overflow() > 0:
            self.wrong.append(f"{self.page.url} is {self.overflow()} px wider than the window")
