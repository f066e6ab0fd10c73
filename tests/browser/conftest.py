"""A real browser for what only a browser can tell: where text and lines come to lie."""

import shutil
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, sync_playwright

_ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    """The system's Chromium. Without it these tests fail: nothing else measures the drawings."""
    path = shutil.which("chromium") or shutil.which("chromium-browser")
    if path is None:
        pytest.fail(
            "no chromium on the path: install the system's package (apt-get install chromium)", pytrace=False
        )
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=path, args=list(_ARGUMENTS))
        yield chromium
        chromium.close()
