"""The service as a program of its own, with a company in it, and a real Chromium to open it with."""

import contextlib
import os
import secrets
import shutil
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from playwright.sync_api import Browser, sync_playwright

# Helper modules of these tests are imported by name (`from hands import ...`).
sys.path.insert(0, str(Path(__file__).parent))

from hands import Hands

ROOT = Path(__file__).resolve().parents[2]
PASSWORD = "copper-kettle-adrift-9"
STARTS_WITHIN_S = 60


@dataclass(frozen=True)
class Service:
    """Where it answers, and what it logs."""

    address: str
    log: Path


@pytest.fixture
def service(tmp_path: Path) -> Iterator[Service]:
    """A service of its own for each test, as one machine runs it, with its outbox thread."""
    environment = {name: text for name, text in os.environ.items() if not name.startswith("STICKBOOK_")}
    environment |= {
        "STICKBOOK_MODE": "embedded",
        "STICKBOOK_HOME": str(tmp_path / "home"),
        "STICKBOOK_SECRET_KEY": secrets.token_urlsafe(64),
        "PYTHONPATH": str(ROOT),
        "DJANGO_SETTINGS_MODULE": "services.config.settings",
    }
    subprocess.run(
        [sys.executable, str(Path(__file__).parent / "prepare.py")],
        check=True,
        cwd=ROOT,
        env=environment,
        timeout=120,
    )
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    address, log = f"http://127.0.0.1:{port}", tmp_path / "service.log"
    with log.open("wb") as out:
        program = subprocess.Popen(
            [
                sys.executable, "-m", "gunicorn", "--threads", "4", "--no-control-socket",
                "-b", f"127.0.0.1:{port}", "services.config.wsgi",
            ],
            cwd=ROOT, env=environment, stdout=out, stderr=out,
        )  # fmt: skip
        try:
            _wait_for(address, program, log)
            yield Service(address, log)
        finally:
            program.terminate()
            program.wait(timeout=30)
    told = log.read_text(encoding="utf-8")
    assert "Traceback" not in told, told


def _wait_for(address: str, program: "subprocess.Popen[bytes]", log: Path) -> None:
    end = time.monotonic() + STARTS_WITHIN_S
    while time.monotonic() < end:
        assert program.poll() is None, log.read_text(encoding="utf-8")
        with contextlib.suppress(OSError):
            urllib.request.urlopen(f"{address}/sign-in/", timeout=2).close()  # noqa: S310 - our own address
            return
        time.sleep(0.2)
    raise AssertionError(log.read_text(encoding="utf-8"))


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


SignIn = Callable[..., Hands]


@pytest.fixture
def sit_down(service: Service, browser: Browser) -> Iterator[SignIn]:
    """Opens a browser of its own and signs somebody in; what went wrong on any page fails the test at its
    end."""
    contexts, everybody = [], []

    def sit(who: str, *, width: int = 1280, height: int = 900, light: str = "light") -> Hands:
        context = browser.new_context(
            viewport={"width": width, "height": height}, color_scheme=light, base_url=service.address
        )
        contexts.append(context)
        hands = Hands(context.new_page())
        everybody.append(hands)
        hands.page.goto("/")
        # The page puts the focus there itself; on a busy machine keys may come before it.
        hands.page.wait_for_function("document.activeElement && document.activeElement.id === 'email'")
        hands.type(f"{who}@{'quillback' if who == 'ada' else 'ostley'}.example")
        hands.press("Tab")
        hands.type(PASSWORD)
        hands.press("Enter")
        hands.page.wait_for_url(f"{service.address}/")
        return hands

    yield sit
    for context in contexts:
        context.close()
    assert [wrong for hands in everybody for wrong in hands.wrong] == []
