"""The run sheet when the line drops, answers come late, and two people edit at once."""

from typing import Any

from conftest import SignIn
from hands import Hands
from playwright.sync_api import Page, Route, expect
from test_path import name_run, open_room, settled, type_last_row, type_row

ROWS = "**/rows/"


def a_run_of_three_rows(hands: Hands) -> Page:
    """A run that may be released."""
    open_room(hands)
    name_run(hands)
    type_row(hands, "1200", "r")
    type_row(hands, "1500", "i")
    type_last_row(hands, "900")
    settled(hands)
    expect(hands.page.locator("#go")).to_be_enabled()
    return hands.page


def length(page: Page, number: int) -> Any:
    """The length field of a row."""
    return page.locator(f"#rows > li:nth-child({number}) [name=length_mm]")


def kept_lengths(page: Page) -> list[str]:
    """What the server has, read on a page of its own."""
    other = page.context.new_page()
    other.goto(page.url)
    told = [field.input_value() for field in other.locator("#rows [name=length_mm]").all()]
    other.close()
    return told


def drop(page: Page) -> None:
    """The line is down for rows."""
    page.route(ROWS, lambda route: route.abort("connectionfailed"))


LOST = (
    "net::ERR",
    "status of 503",
    "Response Status Error Code 503",
    "status of 412",
    "htmx:afterRequest",
    "htmx:sendError",
    "htmx:responseError",
)


def only_lost_requests(hands: Hands) -> None:
    """The browser and htmx note each lost or refused request on the console; nothing else may be there."""
    assert hands.wrong
    assert [each for each in hands.wrong if not any(known in each for known in LOST)] == []
    hands.wrong.clear()


def test_a_row_that_got_no_answer_is_told_and_sent_again_when_it_is_left_again(sit_down: SignIn) -> None:
    foreman = sit_down("ilse")
    page = a_run_of_three_rows(foreman)
    drop(page)
    length(page, 1).fill("1250")
    length(page, 2).focus()
    expect(page.locator("#kept")).to_have_text("Not kept: no answer. It is tried again when the row is left")
    expect(page.locator("#go")).to_be_disabled()
    assert kept_lengths(page) == ["1200", "1500", "900"]
    page.unroute(ROWS)
    length(page, 3).focus()
    settled(foreman)
    assert kept_lengths(page) == ["1250", "1500", "900"]
    only_lost_requests(foreman)


def test_a_row_that_got_no_answer_is_sent_again_by_itself(sit_down: SignIn) -> None:
    foreman = sit_down("ilse")
    page = a_run_of_three_rows(foreman)
    drop(page)
    length(page, 1).fill("1250")
    length(page, 2).focus()
    expect(page.locator("#kept")).to_contain_text("Not kept")
    page.unroute(ROWS)
    settled(foreman)
    assert kept_lengths(page) == ["1250", "1500", "900"]
    only_lost_requests(foreman)


def test_leaving_the_page_with_rows_that_are_not_kept_asks_first(sit_down: SignIn) -> None:
    foreman = sit_down("ilse")
    page = a_run_of_three_rows(foreman)
    asked: list[str] = []
    page.on("dialog", lambda dialog: (asked.append(dialog.type), dialog.accept()))
    drop(page)
    length(page, 1).fill("1250")
    length(page, 2).focus()
    expect(page.locator("#kept")).to_contain_text("Not kept")
    page.reload()
    assert asked == ["beforeunload"]
    page.reload()
    assert asked == ["beforeunload"]
    only_lost_requests(foreman)


def test_a_release_whose_row_got_no_answer_is_off_and_no_later_row_releases_it(sit_down: SignIn) -> None:
    foreman = sit_down("ilse")
    page = a_run_of_three_rows(foreman)
    drop(page)
    length(page, 1).fill("1250")
    page.locator("#go").click()
    expect(page.locator("#kept")).to_contain_text("Nothing was released.")
    page.unroute(ROWS)
    length(page, 2).fill("1600")
    length(page, 3).focus()
    settled(foreman)
    expect(page.locator("#go")).to_be_enabled()
    page.wait_for_timeout(500)
    assert page.url.endswith("/sheet/")
    expect(page.locator("h1")).to_contain_text("draft")
    page.reload()
    expect(page.locator("h1")).not_to_contain_text("revision")
    only_lost_requests(foreman)


def test_a_release_that_the_server_failed_to_keep_rows_for_is_off(sit_down: SignIn) -> None:
    foreman = sit_down("ilse")
    page = a_run_of_three_rows(foreman)
    page.route(ROWS, lambda route: route.fulfill(status=503, body=""))
    length(page, 1).fill("1250")
    page.locator("#go").click()
    expect(page.locator("#kept")).to_contain_text("Nothing was released.")
    page.unroute(ROWS)
    length(page, 2).focus()
    length(page, 3).focus()
    settled(foreman)
    page.wait_for_timeout(300)
    assert page.url.endswith("/sheet/")
    only_lost_requests(foreman)


def test_a_release_that_waits_is_off_when_the_rows_change_meanwhile(
    sit_down: SignIn,
) -> None:
    foreman = sit_down("ilse")
    page = a_run_of_three_rows(foreman)
    held: list[Route] = []
    page.route(ROWS, lambda route: held.append(route))
    length(page, 1).fill("1250")
    page.locator("#go").click()
    expect(page.locator("#kept")).to_have_text("Keeping and planning")
    length(page, 2).fill("1600")
    held[0].continue_()
    page.unroute(ROWS)
    expect(page.locator("#kept")).to_contain_text("Nothing was released.")
    length(page, 3).focus()
    settled(foreman)
    assert page.url.endswith("/sheet/")


def test_undo_after_a_lost_answer_goes_back_one_step(sit_down: SignIn) -> None:
    foreman = sit_down("ilse")
    page = a_run_of_three_rows(foreman)

    def lose_the_answer(route: Route) -> None:
        route.fetch()
        route.abort("connectionreset")

    page.route(ROWS, lose_the_answer)
    length(page, 1).fill("1250")
    length(page, 2).focus()
    expect(page.locator("#kept")).to_contain_text("Not kept: no answer")
    page.unroute(ROWS)
    length(page, 3).focus()  # sent again: it is there already, and answered as kept
    settled(foreman)
    page.locator("text=Undo").click()
    settled(foreman)
    expect(length(page, 1)).to_have_value("1200")
    assert kept_lengths(page) == ["1200", "1500", "900"]
    only_lost_requests(foreman)


def test_two_who_change_different_rows_both_keep_theirs(sit_down: SignIn) -> None:
    first = sit_down("ilse")
    page = a_run_of_three_rows(first)
    second = sit_down("ilse")
    other = second.page
    other.goto(page.url)
    length(page, 1).fill("1300")
    length(page, 2).focus()
    settled(first)
    length(other, 3).fill("950")
    length(other, 2).focus()
    expect(other.locator("#stale")).to_contain_text("No row was changed by both of you")
    expect(other.locator("#kept")).to_have_text("Not kept yet")
    other.locator("text=Keep the rows as chosen").click()
    settled(second)
    expect(length(other, 1)).to_have_value("1300")
    expect(other.locator("#stale")).to_be_empty()
    assert kept_lengths(page) == ["1300", "1500", "950"]
    only_lost_requests(second)


def test_when_rows_were_added_the_second_chooses_between_the_two_as_a_whole(sit_down: SignIn) -> None:
    first = sit_down("ilse")
    page = a_run_of_three_rows(first)
    second = sit_down("ilse")
    other = second.page
    other.goto(page.url)
    length(page, 1).focus()
    page.locator("text=Remove row").click()
    settled(first)
    length(other, 3).fill("950")
    length(other, 2).focus()
    expect(other.locator("#stale")).to_contain_text("Rows were added or removed meanwhile")
    other.locator("text=Keep mine over theirs").click()
    settled(second)
    assert kept_lengths(page) == ["1200", "1500", "950"]
    only_lost_requests(second)


def test_a_release_that_waits_goes_by_itself_when_its_rows_are_kept(sit_down: SignIn) -> None:
    foreman = sit_down("ilse")
    page = a_run_of_three_rows(foreman)
    held: list[Route] = []
    page.route(ROWS, lambda route: held.append(route))
    length(page, 1).fill("1250")
    page.locator("#go").click()
    expect(page.locator("#kept")).to_have_text("Keeping and planning")
    page.wait_for_timeout(500)
    assert page.url.endswith("/sheet/")
    held[0].continue_()
    page.unroute(ROWS)
    page.wait_for_selector("h1:has-text('revision 1')")
    expect(page.locator(".sticks")).to_contain_text("07/1")


def test_a_row_half_typed_while_an_answer_is_late_is_not_sent_until_it_is_left(sit_down: SignIn) -> None:
    """What waits for another answer goes as the rows were left, whatever is typed by then."""
    foreman = sit_down("ilse")
    page = a_run_of_three_rows(foreman)
    held: list[Route] = []
    sent: list[str] = []

    def hold_the_first(route: Route) -> None:
        sent.append(route.request.post_data or "")
        if len(sent) == 1:
            held.append(route)
        else:
            route.continue_()

    page.route(ROWS, hold_the_first)
    length(page, 1).fill("1250")
    length(page, 2).focus()
    length(page, 2).fill("1600")
    length(page, 3).focus()
    length(page, 3).fill("95x")
    held[0].continue_()
    expect(page.locator("#kept")).to_have_text("Kept and planned")
    expect(page.locator(".htmx-request")).to_have_count(0)
    assert len(sent) == 2
    assert "length_mm=1600" in sent[1]
    assert "length_mm=900" in sent[1]
    length(page, 3).fill("900")
    length(page, 1).focus()
    settled(foreman)
    assert kept_lengths(page) == ["1250", "1600", "900"]
    expect(page.locator("#go")).to_be_enabled()


def test_an_answer_that_comes_while_the_next_row_is_typed_leaves_the_release_to_be_clicked(
    sit_down: SignIn,
) -> None:
    """On a slow machine the answer to one row comes while another is typed; a click must leave that row, keep
    it, and release."""
    foreman = sit_down("ilse")
    page = a_run_of_three_rows(foreman)
    held: list[Route] = []
    page.route(ROWS, lambda route: route.continue_() if held else held.append(route))
    length(page, 1).fill("1250")
    length(page, 2).focus()
    length(page, 2).fill("1600")
    held[0].continue_()
    expect(page.locator("#kept")).to_have_text("Kept and planned")
    expect(page.locator("#go")).to_be_enabled()
    page.locator("#go").click()
    page.wait_for_selector("h1:has-text('revision 1')")
    page.goto(page.url.replace("#", "") + "sheet/")
    expect(length(page, 1)).to_have_value("1250")
    expect(length(page, 2)).to_have_value("1600")


def test_a_fitting_is_measured_to_its_corner_and_gives_it_back_when_it_is_chosen_away(
    sit_down: SignIn,
) -> None:
    foreman = sit_down("ilse")
    page = a_run_of_three_rows(foreman)

    def value(row: int, name: str) -> str:
        return page.locator(f"#rows > li:nth-child({row}) [name={name}]").input_value()

    then = page.locator("#rows > li:nth-child(1) [name=then]")
    then.focus()
    then.select_option("fitting")
    assert (value(1, "to"), value(2, "from"), value(1, "angle_deg"), value(1, "toward")) == (
        "corner",
        "corner",
        "",
        "",
    )
    kind = page.locator("#rows > li:nth-child(1) [name=fitting]")
    expect(kind).to_be_visible()
    kind.select_option("inspection_bend")
    assert value(1, "angle_deg") == "90"
    then.select_option("bend")
    expect(kind).to_be_hidden()
    assert (value(1, "to"), value(2, "from"), value(1, "angle_deg")) == ("back", "back", "90")


def test_every_act_on_rows_has_its_keys_and_is_undone(sit_down: SignIn) -> None:
    foreman = sit_down("ilse")
    page = a_run_of_three_rows(foreman)

    def lengths() -> list[str]:
        return [field.input_value() for field in page.locator("#rows [name=length_mm]").all()]

    length(page, 2).focus()
    foreman.press("Alt+Delete")
    settled(foreman)
    assert lengths() == ["1200", "900"]
    foreman.press("Alt+Backspace")
    settled(foreman)
    assert lengths() == ["1200", "1500", "900"]
    foreman.press("Alt+ArrowUp")
    settled(foreman)
    assert lengths() == ["1500", "1200", "900"]
    foreman.press("Alt+Backspace")
    settled(foreman)
    foreman.press("Alt+Insert")
    assert lengths() == ["1200", "1500", "900", ""]
    length(page, 1).focus()
    foreman.press("F2")
    expect(page.locator("#rows > li:nth-child(1) [name=from]")).to_be_focused()
    foreman.press("Shift+Tab")
    page.locator("#rows > li:nth-child(4) [name=length_mm]").focus()
    foreman.press("Alt+Delete")
    settled(foreman)
    page.reload()
    assert lengths() == ["1200", "1500", "900"]


def test_only_the_ticked_sticks_are_released_and_a_row_changed_meanwhile_keeps_the_ticks(
    sit_down: SignIn,
) -> None:
    foreman = sit_down("ilse")
    page = foreman.page
    open_room(foreman)
    name_run(foreman)
    type_row(foreman, "1200", "r")
    type_row(foreman, "5500", "i")
    type_last_row(foreman, "900")
    settled(foreman)
    expect(page.locator("input[name=stick]")).to_have_count(2)
    page.locator("input[name=stick]").nth(1).uncheck()
    length(page, 3).fill("950")
    length(page, 1).focus()
    settled(foreman)
    expect(page.locator("input[name=stick]").nth(1)).not_to_be_checked()
    expect(page.locator("#go")).to_be_enabled()
    page.locator("#go").click()
    page.wait_for_selector("h1:has-text('revision 1')")
    expect(page.locator(".waiting input[name=stick]")).to_have_count(1)
    page.locator("text=Release the ticked").click()
    expect(page.locator(".waiting")).to_have_count(0)
    expect(page.locator(".sticks > li")).to_have_count(3)
