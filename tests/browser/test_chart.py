"""The wall chart in a real browser: chosen by mouse and by keys, given away, kept while others change it."""

import re

from conftest import SignIn
from hands import Hands
from playwright.sync_api import Page, expect
from test_path import name_run, open_room, settled, type_last_row, type_row

WITHIN_MS = 5_000


def runs(hands: Hands, *labels: str) -> Page:
    """A job with these runs, drafts that can be released; its wall chart is open then."""
    page = hands.page
    open_room(hands)
    for number, label in enumerate(labels):
        if number:
            page.goto("/")
            hands.follow("a:has-text('Add a run')")
        name_run(hands, label)
        type_row(hands, "1200", "r")
        type_row(hands, "1500", "i")
        type_last_row(hands, "900")
        settled(hands)
    page.goto("/")
    expect(page.locator("[data-pick=run]")).to_have_count(len(labels))
    return page


def pick(page: Page, number: int) -> object:
    """The box of a run, from 1."""
    return page.locator("[data-pick=run]").nth(number - 1)


def chosen(page: Page, count: int | None = None) -> list[str]:
    """Labels of the runs that are chosen. count: so many are waited for, while a newer chart settles."""
    if count is not None:
        expect(page.locator("[data-pick=run]:checked")).to_have_count(count)
    return page.locator("[data-row]:has([data-pick=run]:checked) .run-l > b").all_inner_texts()


def test_runs_are_chosen_in_ranges_given_dated_and_ordered(sit_down: SignIn) -> None:
    foreman = sit_down("ilse")
    page = runs(foreman, "01", "02", "03", "04")
    bar = page.locator("#give")
    expect(bar).to_be_hidden()
    pick(page, 1).click()
    pick(page, 3).click(modifiers=["Shift"])
    assert chosen(page) == ["01", "02", "03"]
    expect(bar.locator("[data-count]")).to_have_text("3 runs")
    page.keyboard.press("Escape")
    assert chosen(page) == []

    pick(page, 2).focus()
    page.keyboard.press("Space")
    page.keyboard.press("Shift+ArrowDown")
    page.keyboard.press("Shift+ArrowDown")
    assert chosen(page) == ["02", "03", "04"]
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Space")
    assert chosen(page) == ["02", "04"]

    bar.locator("text=Give").last.click()
    expect(page.locator("#give-said")).to_have_text("Given: 2 runs.")
    expect(page.locator(".run-n:has-text('Breck’s gang')")).to_have_count(2)
    assert chosen(page) == []
    pick(page, 1).click()
    page.fill("#g-due", "2020-01-02")
    page.locator("button[value=due]").click()
    expect(page.locator(".c-late")).to_have_text("late: due 2 Jan")
    pick(page, 4).click()
    page.select_option("#g-prio", "1")
    page.locator("button[value=priority]").click()
    expect(page.locator(".c-first")).to_have_text("goes first")

    page.select_option("#f-sort", "priority")
    page.locator("text=Show").first.click()
    expect(page).to_have_url(re.compile("sort=priority"))
    assert page.locator(".run-l > b").all_inner_texts() == ["04", "01", "02", "03"]
    page.check("[name=late]")
    page.locator("text=Show").first.click()
    assert page.locator(".run-l > b").all_inner_texts() == ["01"]
    foreman.look()


def test_what_another_person_changes_shows_within_five_seconds_and_nothing_of_ones_own_is_lost(
    sit_down: SignIn,
) -> None:
    first = sit_down("ilse", height=420)
    page = runs(first, "01", "02", "03", "04", "05", "06")
    second = sit_down("ilse")
    other = second.page
    pick(page, 4).scroll_into_view_if_needed()
    pick(page, 4).click()
    pick(page, 5).click()
    pick(page, 5).focus()
    before = page.evaluate("window.scrollY")
    assert before > 0
    top = page.evaluate("document.activeElement.getBoundingClientRect().top")

    pick(other, 1).click()
    other.select_option("#g-prio", "1")
    other.locator("button[value=priority]").click()
    expect(other.locator("#give-said")).to_have_text("Order set: 1 run.")

    expect(page.locator(".c-first")).to_have_count(1, timeout=WITHIN_MS)
    assert chosen(page, 2) == ["04", "05"]
    focused = page.locator("[data-row]:has(:focus) .run-l > b")
    expect(focused).to_have_text("05")
    assert abs(page.evaluate("document.activeElement.getBoundingClientRect().top") - top) < 2
    expect(page.locator("[data-count]")).to_have_text("2 runs")

    # Both have seen the newest; now one changes what the other has chosen, who is told.
    pick(other, 4).click()
    page.route("**/chart/**", lambda route: route.abort())
    other.select_option("#g-prio", "3")
    other.locator("button[value=priority]").click()
    expect(other.locator("#give-said")).to_have_text("Order set: 1 run.")
    page.locator("button[value=priority]").click()
    expect(page.locator("#give-said")).to_contain_text("Somebody else changed 04 since you looked.")
    assert chosen(page, 2) == ["04", "05"]
    assert first.wrong
    assert [each for each in first.wrong if not re.search("ERR_FAILED|412|htmx:", each)] == []
    first.wrong.clear()


def test_the_slash_leads_to_search_and_a_painted_label_to_its_stick(sit_down: SignIn) -> None:
    foreman = sit_down("ilse")
    page = runs(foreman, "07")
    foreman.follow(".run-l")
    foreman.point("#go")
    page.wait_for_selector("h1:has-text('revision 1')")
    page.keyboard.press("/")
    expect(page.locator("#find-q")).to_be_focused()
    page.keyboard.type("7/1")
    page.keyboard.press("Enter")
    page.wait_for_url("**/search/?q=7%2F1")
    foreman.look()
    foreman.follow(".found a:has-text('07/1')")
    expect(page.locator("h1")).to_contain_text("07/1")


def test_a_project_is_archived_and_brought_back(sit_down: SignIn) -> None:
    foreman = sit_down("ilse")
    page = runs(foreman, "07")
    foreman.follow("text=All projects")
    foreman.look()
    foreman.follow("button:has-text('Archive')")
    expect(page.locator("h2:has-text('Archived')")).to_be_visible()
    foreman.follow("a:has-text('FC-118')")
    expect(page.locator("main")).to_contain_text("nothing of it can be changed")
    expect(page.locator("[data-pick]")).to_have_count(0)
    page.goto("/projects/")
    foreman.follow("button:has-text('Bring back')")
    foreman.follow("a:has-text('FC-118')")
    expect(page.locator("[data-pick]")).to_have_count(1)
