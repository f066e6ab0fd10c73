"""Every page in every combination: nothing goes wrong on it, nothing is cut off, and axe-core finds nothing.

axe-core is the one package of npm here (`package.json`); `deploy/test` puts it into `node_modules`.
MATRIX_PICTURES names a folder to keep a picture of each look in.
"""

import json
import os
import secrets
import socket
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import pytest
from conftest import ROOT, _wait_for
from matrix_pages import FILES, PAGES, PARTS, STATES, route_of
from playwright.sync_api import Browser, BrowserContext

HERE: Final = Path(__file__).parent
LOOKS: Final = (HERE / "matrix_looks.js").read_text(encoding="utf-8")
UNFOLD: Final = """() => {
  const folded = [...document.querySelectorAll("main details:not([open])")];
  for (const each of folded) each.open = true;
  return folded.length > 0;
}"""
WIDTHS: Final = (360, 820, 1280, 1920)
LIGHTS: Final = ("light", "dark")
EVERYDAY: Final = [(360, "light"), (1280, "dark")]
TARGET_PX: Final = 44
"""The least height and width of what is pressed; docs/look.md asks for 48, and a border may take some."""


@dataclass(frozen=True, slots=True)
class Office:
    """The service with companies in every state. told: what `furnish_matrix` said."""

    address: str
    told: dict[str, Any]


@pytest.fixture(scope="session")
def office(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Office]:
    """One service for all pages of a worker: they are only looked at."""
    home = tmp_path_factory.mktemp("matrix")
    environment = {name: text for name, text in os.environ.items() if not name.startswith("STICKBOOK_")}
    environment |= {
        "STICKBOOK_MODE": "embedded",
        "STICKBOOK_HOME": str(home / "home"),
        "STICKBOOK_SECRET_KEY": secrets.token_urlsafe(64),
        "PYTHONPATH": str(ROOT),
        "DJANGO_SETTINGS_MODULE": "services.config.settings",
    }
    made = subprocess.run(
        [sys.executable, str(HERE / "furnish_matrix.py")],
        cwd=ROOT, env=environment, timeout=200, capture_output=True, text=True,
    )  # fmt: skip
    assert made.returncode == 0, made.stderr
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    address, log = f"http://127.0.0.1:{port}", home / "service.log"
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
            yield Office(address, json.loads(made.stdout))
        finally:
            program.terminate()
            program.wait(timeout=30)
    said = log.read_text(encoding="utf-8")
    assert "Traceback" not in said, said


@pytest.fixture(scope="session")
def axe() -> str:
    """axe-core, to be put into a page."""
    path = HERE / "node_modules" / "axe-core" / "axe.min.js"
    if not path.is_file():
        pytest.fail(f"{path} is not there: npm ci in tests/browser (deploy/test does it)", pytrace=False)
    return path.read_text(encoding="utf-8")


def enter(browser: Browser, office: Office, session: str, **window: Any) -> BrowserContext:
    """A browser of its own, signed in with that session."""
    context = browser.new_context(base_url=office.address, **window)
    context.set_default_timeout(30_000)
    context.add_cookies([{"name": "sessionid", "value": session, "url": office.address}])
    return context


def wrong_with(
    browser: Browser,
    office: Office,
    axe: str,
    state: str,
    name: str,
    looked: list[tuple[int, str]],
    *,
    is_thorough: bool,
) -> list[str]:
    """What is wrong with a page in a state, at each width and in each light; each finding once, with where it
    was seen first and how often.

    is_thorough: the page is loaded for each, and looked at once more with all unfolded that can be; else it
    is loaded once, and the window changes.
    """
    where = office.told["pages"][state][name]
    expected = PAGES[name].status
    wrong: dict[str, list[str]] = {}
    context = enter(browser, office, where["session"])
    try:
        page = context.new_page()
        now = ""

        def note(what: str) -> None:
            wrong.setdefault(what, []).append(now)

        page.on("pageerror", lambda error: note(f"script: {error}"))
        page.on(
            "console",
            lambda message: (
                note(f"{message.type}: {message.text}")
                if message.type in ("error", "warning")
                and not (expected >= 400 and "status of" in message.text)
                else None
            ),
        )
        # Aborted is what a page had still under way when it was left for the next look.
        page.on(
            "requestfailed",
            lambda request: (
                note(f"failed: {request.url} {request.failure}")
                if request.failure != "net::ERR_ABORTED"
                else None
            ),
        )
        page.on(
            "response",
            lambda response: (
                note(f"{response.status}: {response.url}")
                if response.status >= 400 and response.request.resource_type != "document"
                else None
            ),
        )
        for number, (width, light) in enumerate(looked):
            now = f"{width} {light}"
            page.set_viewport_size({"width": width, "height": 900})
            page.emulate_media(color_scheme=light)
            if is_thorough or number == 0:
                answer = page.goto(where["path"], wait_until="load")
                assert answer is not None
                if answer.status != expected:
                    note(
                        f"answers {answer.status}, not {expected}: {page.locator('main').inner_text()[:400]}"
                    )
                    break
                page.evaluate(axe)
            page.wait_for_function("!document.querySelector('.htmx-request, .htmx-swapping, .htmx-settling')")
            for each in page.evaluate(LOOKS, TARGET_PX):
                note(each)
            if is_thorough and page.evaluate(UNFOLD):
                now += " unfolded"
                for each in page.evaluate(LOOKS, TARGET_PX):
                    note(each)
            if os.environ.get("MATRIX_PICTURES"):
                folder = Path(os.environ["MATRIX_PICTURES"])
                page.screenshot(path=folder / f"{state} {name} {now}.png", full_page=True)
    finally:
        context.close()
    return [f"{seen[0]} ({len(seen)}): {what}" for what, seen in wrong.items()]


def test_every_address_that_can_be_opened_stands_in_the_table(office: Office) -> None:
    pages = {route_of(name) for name in PAGES} - {"", "api-reference"}
    assert pages | set(PARTS) | set(FILES) == set(office.told["get"])
    assert not pages & {*PARTS, *FILES}
    for name in PAGES:
        assert any(name in office.told["pages"][state] for state in STATES)


SPOILT: Final = """<!doctype html><html lang="en"><head><title> · Stickbook</title></head><body>
<h1>One</h1><h1>Two</h1><p style="width: 900px">A paragraph that is wider than its window</p>
<p style="width: 60px; overflow: hidden; white-space: nowrap">Cut off at the right end</p>
<p style="height: 8px; overflow: hidden">Cut off below</p>
<label>Which <select style="font: 17px sans-serif; font-variant-numeric: tabular-nums; width: 160px">
<option>More than it has room for</option></select></label>
<button style="width: 90px; height: 30px">Low</button><p style="color: #999; background: #fff">Pale</p>
<input type="text"></body></html>"""
SEEN_IN_IT: Final = (
    "the page has no title",
    "the page has 2 h1",
    "wider than the window by",
    'cut off by p "Cut off at the right end"',
    'cut off by p "Cut off below"',
    '"More than it has room for" is',
    "a target of 90 x 30 px",
    "axe color-contrast (1)",
    "axe label (1)",
)


@pytest.mark.parametrize("seen", SEEN_IN_IT)
def test_what_is_wrong_with_a_spoilt_page_is_seen(browser: Browser, axe: str, seen: str) -> None:
    page = browser.new_page(viewport={"width": 360, "height": 900})
    try:
        page.set_content(SPOILT)
        page.evaluate(axe)
        wrong = page.evaluate(LOOKS, TARGET_PX)
    finally:
        page.close()
    assert any(seen in each for each in wrong), wrong


@pytest.mark.parametrize("name", [*PARTS, *FILES])
def test_what_is_no_page_of_the_table_is_a_part_of_one_or_a_file(
    browser: Browser, office: Office, name: str
) -> None:
    where = office.told["rest"][name]
    context = enter(browser, office, where["session"])
    try:
        answer = context.request.get(where["path"])
        assert answer.ok
        kind = answer.headers["content-type"]
        if name in PARTS:
            assert kind.startswith("text/html")
            assert "<html" not in answer.text()
        else:
            assert not kind.startswith("text/html")
    finally:
        context.close()


# Other looks of a page (after a comma) are left to the matrix: this is run often, and has a minute of a
# processor.
@pytest.mark.parametrize("name", [name for name in PAGES if "," not in name])
def test_a_page_is_well_on_a_phone_in_the_sun_and_on_a_laptop_in_a_dim_room(
    browser: Browser, office: Office, axe: str, name: str
) -> None:
    state = "full" if "full" in PAGES[name].states else "empty"
    wrong = wrong_with(browser, office, axe, state, name, EVERYDAY, is_thorough=False)
    assert not wrong, "\n" + "\n".join(wrong)


@pytest.mark.matrix
@pytest.mark.parametrize(
    ("state", "name"), [(state, name) for state in STATES for name in PAGES if state in PAGES[name].states]
)
def test_a_page_is_well_in_every_state_width_and_light(
    browser: Browser, office: Office, axe: str, state: str, name: str
) -> None:
    looked = [(width, light) for width in WIDTHS for light in LIGHTS]
    wrong = wrong_with(browser, office, axe, state, name, looked, is_thorough=True)
    assert not wrong, "\n" + "\n".join(wrong)
