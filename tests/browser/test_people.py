"""People in a real browser: invited by a link, let in, given a new password, let go; pages at every width."""

import re
from collections.abc import Callable, Iterator

import pytest
from conftest import Service, SignIn
from hands import Hands
from playwright.sync_api import Browser, Page, expect

NEW = "quarry-lantern-7-otter"
WIDTHS = (360, 820, 1280, 1920)


class Stranger:
    """A browser of somebody who is not signed in, with all that it asked for and went wrong on it."""

    def __init__(self, browser: Browser, service: Service, width: int = 1280) -> None:
        self.context = browser.new_context(viewport={"width": width, "height": 900}, base_url=service.address)
        self.page: Page = self.context.new_page()
        self.hands = Hands(self.page)
        self.asked: list[str] = []
        self.page.on(
            "request",
            lambda request: self.asked.append(
                f"{request.url.partition('#')[0]} {request.headers.get('referer', '')}"
            ),
        )


Come = Callable[..., Stranger]


@pytest.fixture
def stranger(browser: Browser, service: Service) -> Iterator[Come]:
    """Makes strangers; what went wrong on any of their pages fails the test at its end."""
    made: list[Stranger] = []

    def come(width: int = 1280) -> Stranger:
        made.append(Stranger(browser, service, width))
        return made[-1]

    yield come
    for each in made:
        each.context.close()
    assert [wrong for each in made for wrong in each.hands.wrong] == []


def link_of(page: Page, kind: str) -> str:
    """The link that the page shows this once."""
    link = page.locator("#link").input_value()
    assert re.search(rf"/{kind}/#[A-Za-z0-9_-]{{43}}$", link), link
    return link


def test_somebody_is_invited_joins_by_keyboard_alone_and_is_let_go(
    sit_down: SignIn,
    stranger,
    service: Service,
) -> None:
    admin = sit_down("wim")
    page = admin.page
    page.goto("/people/")
    page.locator("#id_email").focus()
    admin.type("nell@guest.example")
    admin.press("Tab", "f")  # the role: foreman
    admin.press("Tab", "Space", "Tab", "Enter")  # into the first gang, and off
    link = link_of(page, "join")
    token = link.partition("#")[2]
    page.reload()  # a reload asks again, and so makes another link: the first does not open any more
    fresh = link_of(page, "join")
    assert fresh != link
    expect(page.locator("table.people").nth(1)).to_contain_text("nell@guest.example")

    late = stranger()
    late.page.goto(link)
    expect(late.page.locator("#id_token_error")).to_contain_text("This link opens nothing")
    late.hands.wrong.clear()  # the browser notes the status 422 of a refused form
    newcomer = stranger()
    newcomer.page.goto(fresh)
    expect(newcomer.page.locator("h1")).to_have_text("Join Ostley Electrical")
    assert newcomer.page.url == f"{service.address}/join/"
    newcomer.page.locator("#id_name").focus()
    newcomer.hands.type("Nell Oake")
    newcomer.hands.press("Tab")
    newcomer.hands.type(NEW)
    newcomer.hands.press("Enter")
    newcomer.page.wait_for_url(f"{service.address}/")
    expect(newcomer.page.locator(".who summary")).to_contain_text("Nell Oake")
    newcomer.page.goto("/account/")
    expect(newcomer.page.locator("main")).to_contain_text("Breck’s gang")
    secrets = (token, fresh.partition("#")[2], NEW)
    for asked in (*newcomer.asked, *late.asked):
        assert not [each for each in secrets if each in asked], asked
    log = service.log.read_text(encoding="utf-8")
    assert not [each for each in secrets if each in log]
    newcomer.page.go_back()
    assert token not in newcomer.page.url

    page.goto("/people/")
    admin.follow("a:has-text('Nell Oake')")
    admin.point("summary:has-text('Let them go')")
    admin.follow("button:has-text('Yes, let them go')")
    expect(page.locator("h2")).to_have_text(["Take back in"])
    newcomer.page.goto("/account/")
    expect(newcomer.page.locator("main")).to_contain_text("You belong to no company here")
    newcomer.page.locator("header button:has-text('Sign out')").click()
    expect(newcomer.page).to_have_url(re.compile("/sign-in/"))
    newcomer.hands.wrong.clear()  # the status 403 of that page
    admin.look()


def test_a_forgotten_password_is_set_anew_by_a_link_and_other_sessions_end(
    sit_down: SignIn,
    stranger,
    service: Service,
) -> None:
    admin, joss = sit_down("wim"), sit_down("joss")
    admin.page.goto("/people/")
    admin.follow("a:has-text('Joss Breck')")
    admin.follow("button:has-text('Make the link')")
    somebody = stranger()
    # first the page without the link, then the link followed on that very page
    somebody.page.goto("/reset/")
    somebody.page.goto(link_of(admin.page, "reset"))
    somebody.page.locator("#id_new").fill(NEW)
    somebody.page.locator("button:has-text('Keep the password')").click()
    expect(somebody.page.locator("[role=status]")).to_contain_text("The new password is kept")
    somebody.page.locator("#email").fill("joss@ostley.example")
    somebody.page.locator("#password").fill(NEW)
    somebody.page.locator("button:has-text('Sign in')").click()
    somebody.page.wait_for_url(f"{service.address}/")
    joss.page.goto("/work/")
    expect(joss.page).to_have_url(re.compile("/sign-in/"))


def test_a_setting_is_changed_in_the_units_of_the_company_and_a_bad_one_keeps_nothing(
    sit_down: SignIn,
) -> None:
    ada = sit_down("ada")
    page = ada.page
    page.goto("/settings/")
    page.locator("#id_kerf_mm").fill("1/8")
    page.locator("#id_clearance_mm").fill("80")
    ada.follow("button:has-text('Keep the settings')")
    expect(page.locator("#id_clearance_mm_error")).to_have_text("is 80 in; allowed are 0 in to 78 11/16 in")
    ada.wrong.clear()  # the status 422 of that page
    expect(page.locator("#id_kerf_mm")).to_have_value("1/8")
    page.locator("#id_clearance_mm").fill("5")
    ada.follow("button:has-text('Keep the settings')")
    expect(page.locator("[role=status]")).to_have_text("The settings are kept.")
    expect(page.locator("#id_kerf_mm")).to_have_value("1/8")


@pytest.mark.parametrize("light", ["light", "dark"])
def test_no_page_of_people_is_wider_than_the_window_and_every_target_is_large_enough(
    sit_down: SignIn,
    stranger,
    light: str,
) -> None:
    admin = sit_down("wim", light=light)
    page = admin.page
    page.goto("/people/")
    page.locator("#id_email").fill("somebody-with-a-long-name@a-long-place.guest.example")
    admin.follow("button:has-text('Make the link')")
    link = link_of(page, "join")
    person = page.locator("table.people a").first.get_attribute("href")
    page.goto("/crews/")
    crew = page.locator("table.people a").first.get_attribute("href")
    door = stranger()
    door.page.goto(link)
    expect(door.page.locator("#id_name")).to_be_visible()
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        for address in ("/people/", str(person), "/crews/", str(crew), "/settings/", "/rights/", "/account/"):
            page.goto(address)
            admin.look()
            small = page.evaluate(
                """() => [...document.querySelectorAll('main button, main select, main .tog, main input')]
                    .filter((each) => each.offsetParent && each.getClientRects().length
                        && !each.closest('.tog input') && !each.classList.contains('hide')
                        && !(each.closest('.tog') && each.tagName === 'INPUT'))
                    .filter((each) => each.getBoundingClientRect().height < 47.5)
                    .map((each) => each.outerHTML.slice(0, 80))"""
            )
            assert small == [], f"{address} at {width}"
        door.page.set_viewport_size({"width": width, "height": 900})
        door.hands.look()
