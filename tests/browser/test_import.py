"""A survey from a file in a real browser: read, found wrong, put right, imported."""

from pathlib import Path

import pytest
from conftest import SignIn
from hands import Hands
from playwright.sync_api import expect

HEAD = 'Room,Run,From,To,Conduit,"Length, mm",Measured to,Then,Angle,Toward\n'
WRONG = HEAD + (
    "Plant room 2,07,DB-3,Pump P2,steel-20-heavy,12oo,back,bend,90,right\n"
    ",,,,,1900,back,bend,90,sideways\n"
    ",,,,,900,,end,,\n"
    "Plant room 2,08,,,steel-25-heavy,450,,end,,\n"
)
RIGHT = HEAD + (
    "Plant room 2,07,DB-3,Pump P2,steel-20-heavy,1200,back,bend,90,right\n"
    ",,,,,1900,back,bend,90,in\n"
    ",,,,,?,,end,,\n"
    "Plant room 2,08,,,,450,,end,,\n".replace("08,,,,", "08,,,steel-20-heavy,")
)


def to_import(hands: Hands) -> None:
    """From the first-run page: a project, and the page that takes a file."""
    hands.point("a:has-text('Open a project')")
    expect(hands.page.locator("#id_code")).to_be_focused()
    hands.type("FC-118")
    hands.press("Tab")
    hands.type("Fenwater Creamery")
    hands.press("Enter")
    hands.page.wait_for_selector("h1:has-text('Add a room')")
    hands.page.goto("/")
    hands.follow("a:has-text('Import a survey')")
    hands.page.wait_for_selector("h1:has-text('Import a survey')")


def choose(hands: Hands, folder: Path, content: str) -> None:
    """Chooses a file with this in it, and has it read."""
    file = folder / "north wing.csv"
    file.write_text(content, encoding="utf-8")
    hands.page.locator("#file").set_input_files(str(file))
    hands.follow("button:has-text('Read the file')")


def forgive_422(hands: Hands) -> None:
    """The browser notes an answer of 422 in its console; here it is the right one."""
    assert hands.wrong == [
        "error: Failed to load resource: the server responded with a status of 422 (Unprocessable Entity)"
    ]
    hands.wrong.clear()


def test_a_file_is_read_its_errors_put_right_and_its_runs_imported(sit_down: SignIn, tmp_path: Path) -> None:
    foreman = sit_down("ilse")
    page = foreman.page
    to_import(foreman)

    foreman.follow("button:has-text('Read the file')")
    expect(page.locator("#file-error")).to_have_text("Choose a file first.")
    forgive_422(foreman)

    choose(foreman, tmp_path, WRONG)
    expect(page.locator("#wrongs")).to_contain_text("3 problems, and nothing was imported.")
    assert page.locator(".wrong tbody th").all_inner_texts() == [
        "Row 2, column F", "Row 3, column J", "Row 5, column E",
    ]  # fmt: skip
    expect(page.locator(".wrong tbody")).to_contain_text("'12oo', which is no length; write it as 1210")
    expect(page.locator(".wrong tbody")).to_contain_text("allowed are up, down, left, right, in, out")
    expect(page.locator(".wrong tbody")).to_contain_text("there are Bench bender 2 · 20 mm steel, heavy")
    foreman.look()
    forgive_422(foreman)

    choose(foreman, tmp_path, RIGHT)
    page.wait_for_selector("h1:has-text('What the survey makes')")
    assert page.locator(".counts li").all_inner_texts() == [
        "2 runs", "4 rows", "1 new room", "1 figure to measure",
    ]  # fmt: skip
    foreman.look()
    expect(page.locator("button:has-text('Import 2 runs')")).to_be_focused()
    with page.expect_navigation():
        foreman.press("Enter")
    expect(page.locator("main")).to_contain_text("2 runs were imported.")
    expect(page.locator("main")).to_contain_text("Plant room 2")
    page.go_back()
    page.wait_for_load_state()
    expect(page.locator("main")).not_to_contain_text("Import 2 runs")
    page.goto("/")
    foreman.follow("a.run-l:has-text('07')")


def test_a_template_is_downloaded_and_the_runs_taken_away_are_read_again(
    sit_down: SignIn, tmp_path: Path
) -> None:
    foreman = sit_down("ilse")
    page = foreman.page
    to_import(foreman)
    address = page.url
    with page.expect_download() as template:
        page.locator("a:has-text('XLSX in millimetres')").first.click()
    assert template.value.suggested_filename == "survey-template-mm.xlsx"
    choose(foreman, tmp_path, RIGHT)
    foreman.follow("button:has-text('Import 2 runs')")
    page.goto(address)
    with page.expect_download() as runs:
        page.locator("a:has-text('XLSX in inches')").nth(1).click()
    assert runs.value.suggested_filename == "survey-fc-118-in.xlsx"
    page.locator("#file").set_input_files(str(runs.value.path()))
    foreman.follow("button:has-text('Read the file')")
    expect(page.locator(".wrong tbody tr")).to_have_count(2)
    expect(page.locator(".wrong tbody tr").first).to_contain_text("a run that the room has already")
    forgive_422(foreman)


@pytest.mark.matrix
@pytest.mark.parametrize("light", ["light", "dark"])
@pytest.mark.parametrize("width", [360, 820, 1280, 1920])
def test_the_pages_of_an_import_fit_their_window(
    sit_down: SignIn, tmp_path: Path, width: int, light: str
) -> None:
    foreman = sit_down("ilse", width=width, light=light)
    to_import(foreman)
    foreman.look()
    choose(foreman, tmp_path, WRONG)
    foreman.look()
    forgive_422(foreman)
    choose(foreman, tmp_path, RIGHT)
    foreman.look()
