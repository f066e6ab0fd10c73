"""Papers in a real browser: a short one opens, a long one is drawn while the page tells how far it is."""

from typing import Any

import pytest
from conftest import SignIn
from hands import Hands
from playwright.sync_api import expect

RUNS = 7
"""More than a short paper's five sticks."""

ROWS: list[dict[str, Any]] = [
    {"length_mm": 1210, "from": "face", "to": "back", "then": "bend", "angle_deg": 90, "toward": "right"},
    {"length_mm": 900, "from": "back", "to": "back", "then": "bend", "angle_deg": 90, "toward": "in"},
    {"length_mm": 600, "from": "back", "to": "face", "then": "end"},
]

_SEND = """async ([verb, path, body, tag]) => {
    const token = document.querySelector('[name=csrfmiddlewaretoken]').value;
    const headers = {'Content-Type': 'application/json', 'X-CSRFToken': token};
    if (tag) headers['If-Match'] = tag;
    const sent = {method: verb, headers, body: body && JSON.stringify(body)};
    const answer = await fetch('/api/v1/' + path, sent);
    return [answer.status, await answer.json(), answer.headers.get('ETag')];
}"""


def send(hands: Hands, verb: str, path: str, body: Any = None, tag: str | None = None) -> tuple[Any, str]:
    """Sends a request of the API from the page that is open; the answer and its ETag."""
    status, told, etag = hands.page.evaluate(_SEND, [verb, path, body, tag])
    assert status in (200, 201), told
    return told, etag


def released(hands: Hands) -> str:
    """A project of several released runs; the id of its first."""
    project, _tag = send(hands, "POST", "projects", {"code": "FC-118", "name": "Fenwater Creamery"})
    room, _tag = send(hands, "POST", f"projects/{project['id']}/rooms", {"name": "Plant room 2"})
    former = send(hands, "GET", "formers")[0]["items"][0]["id"]
    crew = send(hands, "GET", "crews")[0]["items"][0]["id"]
    runs = []
    for number in range(1, RUNS + 1):
        made, tag = send(
            hands, "POST", f"rooms/{room['id']}/runs", {"label": f"{number:02d}", "former": former}
        )
        _run, tag = send(hands, "PUT", f"runs/{made['id']}/rows", {"rows": ROWS}, tag or '"1"')
        send(hands, "POST", f"runs/{made['id']}/release", {"crew": crew}, tag)
        runs.append(str(made["id"]))
    return runs[0]


def test_a_pack_is_ordered_followed_opened_and_another_is_cancelled(sit_down: SignIn) -> None:
    foreman = sit_down("ilse")
    page = foreman.page
    first = released(foreman)
    page.goto("/papers/")
    expect(page.locator("#id_what")).to_be_focused()
    expect(page.locator("#id_labels")).to_be_hidden()
    foreman.look()

    # by keyboard alone: bend cards of the project, on the company's paper
    foreman.press("Tab", "Tab", "Tab", "Tab")
    expect(page.locator("button:has-text('Print it')")).to_be_focused()
    foreman.press("Enter")
    row = page.locator(".pack")
    expect(row).to_contain_text(f"of {RUNS} lengths")
    expect(row.locator("svg.pack-bar")).to_be_visible()
    expect(row.locator("a:has-text('Open')")).to_be_visible(timeout=120_000)
    expect(row).to_contain_text("4 pages")
    answer = page.request.get(str(row.locator("a").get_attribute("href")))
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.body().startswith(b"%PDF-")

    page.select_option("#id_paper", "Letter")
    foreman.point("button:has-text('Print it')")
    cancel = page.locator(".pack button:has-text('Cancel')")
    expect(cancel).to_be_visible()
    foreman.point(cancel)
    expect(page.locator(".pack").first).to_contain_text("cancelled")
    foreman.point(".pack button:has-text('Try again')")
    expect(page.locator(".pack a:has-text('Open')")).to_have_count(2, timeout=120_000)

    # a run's own papers, from its page; a short one opens at once
    page.goto(f"/runs/{first}/")
    foreman.follow("a.btn:text-is('Papers')")
    expect(page.locator("#id_subject")).to_have_value(f"run:{first}")
    page.select_option("#id_what", "labels")
    expect(page.locator("#id_labels")).to_be_visible()
    expect(page.locator("#id_paper")).to_be_hidden()
    answer = page.request.get(f"/papers/drawn.pdf?what=labels&of=run&id={first}&labels=a4-70x37&start=3")
    assert answer.headers["content-disposition"] == 'inline; filename="labels-01.pdf"'


@pytest.mark.parametrize("light", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 820, 1280, 1920])
def test_the_page_fits_every_width(sit_down: SignIn, width: int, light: str) -> None:
    foreman = sit_down("ilse", width=width, light=light)
    foreman.page.goto("/papers/")
    expect(foreman.page.locator("h1")).to_have_text("Papers")
    foreman.look()
