"""The board as a person sees it: opened in a browser, filtered, on a phone and on the wall."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path

import pytest
from selenium import webdriver
from selenium.webdriver.common.by import By

from fixtures.drawn import box
from prep.geometry.solid import Solid
from prep.watch.board import write_board
from prep.watch.thumbnail import write_thumbnail
from prep.watch.verdict_page import write_verdict_page
from tests.watch.entries import entry, state

PICTURES = Path(__file__).resolve().parents[2] / "test-output"
CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
pytestmark = pytest.mark.skipif(CHROMIUM is None or DRIVER is None, reason="no chromium here; .ci/run installs it")
QUIET = ("--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking")
ALSO = (
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--hide-scrollbars",
    "--disable-quic",
)


@pytest.fixture(scope="module")
def browser(tmp_path_factory):
    """A browser without a screen, closed at the end."""
    options = webdriver.ChromeOptions()
    options.binary_location = CHROMIUM
    for word in (*QUIET, *ALSO, f"--user-data-dir={tmp_path_factory.mktemp('browser')}"):
        options.add_argument(word)
    with webdriver.Chrome(options=options, service=webdriver.ChromeService(executable_path=DRIVER)) as opened:
        yield opened


def now():
    """The moment, as the gate writes it."""
    return dt.datetime.now(dt.UTC).isoformat()


@pytest.fixture(scope="module")
def board(tmp_path_factory):
    """A board of 500 files, one of them with a name that looks like markup, and the thumbnail they share."""
    folder = tmp_path_factory.mktemp("inbox")
    write_thumbnail(folder / "verdicts" / "a.png", Solid.of(*box((30.0, 20.0, 10.0))))
    entries = [entry(k, thumbnail="verdicts/a.png" if k % 4 != 3 else None) for k in range(499)]
    entries.append(entry(499, file="<script>document.title='broken'</script>.stl"))
    copying = (("lid revD.stl", "growing: 4.1 MB so far"),)
    stuck = (("base.3mf", "has not changed for 14 min and does not parse to its end: copy it again"),)
    return write_board(folder, entries, state(last_good_scan=now(), known=500, copying=copying, stuck=stuck))


def opened(browser, board, width, height, picture=None, after=""):
    """The page at a size, and its picture kept."""
    browser.set_window_size(width, height)
    browser.get("about:blank")
    browser.get(board.as_uri() + after)
    if picture:
        PICTURES.mkdir(exist_ok=True)
        browser.save_screenshot(str(PICTURES / picture))
    return browser


def visible(browser):
    """Files that are shown, counted in the page."""
    return browser.execute_script("return [...document.querySelectorAll('.file')].filter(f => !f.hidden).length")


def too_wide(browser):
    """How far the page runs past the screen's side, in pixels."""
    return browser.execute_script("return document.documentElement.scrollWidth - window.innerWidth")


def test_all_files_on_the_wall(browser, board) -> None:
    """500 files on a wall screen, none cut off at the side, and letters that read from two metres."""
    seen = opened(browser, board, 1920, 1080, "board-wall.png")
    assert visible(seen) == 500
    assert too_wide(seen) <= 0
    size = seen.execute_script("return parseFloat(getComputedStyle(document.querySelector('.verdict')).fontSize)")
    # a letter should be seen under 1/200 of the distance: 10 mm at 2 m; on a 1.2 m wide screen a pixel is 0.63 mm
    # and a capital 0.7 of the size (common practice for signs, no source)
    assert size * 0.7 * 1200.0 / 1920.0 >= 10.0
    assert seen.title == "inbox: what may be printed"


def test_on_a_phone(browser, board) -> None:
    """On a phone everything stacks, and a finger can hit every button."""
    seen = opened(browser, board, 500, 900, "board-phone.png")
    seen.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride", {"width": 390, "height": 844, "deviceScaleFactor": 2, "mobile": True}
    )
    try:
        seen.save_screenshot(str(PICTURES / "board-phone.png"))
        assert too_wide(seen) <= 0
        heights = [button.rect["height"] for button in seen.find_elements(By.CSS_SELECTOR, "nav button")]
        assert min(heights) >= 36.0
    finally:
        seen.execute_cdp_cmd("Emulation.clearDeviceMetricsOverride", {})


def test_filter_by_verdict(browser, board) -> None:
    """A button shows one verdict's files alone, and the choice outlives a reload."""
    seen = opened(browser, board, 1280, 800)
    seen.find_element(By.CSS_SELECTOR, "nav button[data-word=fail]").click()
    assert visible(seen) == 125
    seen.save_screenshot(str(PICTURES / "board-filtered.png"))
    seen.refresh()
    assert visible(seen) == 125


def test_filter_by_name(browser, board) -> None:
    """What is typed leaves the files whose names hold it; a name that no file has says so."""
    seen = opened(browser, board, 1280, 800)
    field = seen.find_element(By.ID, "name")
    field.send_keys("REV49")
    assert visible(seen) == 10  # rev49 and rev490 to rev498
    field.send_keys("zzz")
    assert visible(seen) == 0
    assert seen.find_element(By.ID, "nothing").is_displayed()


def test_names_run_no_script(browser, board) -> None:
    """A file called <script> shows as text and runs nothing."""
    seen = opened(browser, board, 1280, 800, after="#name=script")
    assert visible(seen) == 1
    assert "<script>" in seen.find_element(By.CSS_SELECTOR, ".file:not([hidden]) h2").text
    assert seen.title != "broken"


def test_style_arrives_whole(browser, board) -> None:
    """What stands in quotes in the style reaches the browser: the letters, the arrow of an action, a pressed button."""
    seen = opened(browser, board, 1280, 800)
    look = "return getComputedStyle(document.querySelector(arguments[0]), arguments[1])[arguments[2]]"
    assert seen.execute_script(look, "body", None, "fontFamily").endswith("sans-serif")
    assert seen.execute_script(look, ".action", "::before", "content") == '"→ "'
    pressed, other = ('nav button[aria-pressed="true"]', 'nav button[aria-pressed="false"]')
    assert seen.execute_script(look, pressed, None, "boxShadow") != seen.execute_script(look, other, None, "boxShadow")


def test_times_are_those_of_the_reader(browser, board) -> None:
    """Times of the ledger are UTC; a screen in Tokyo shows those of Tokyo, nine hours on (IANA time zone database)."""
    seen = opened(browser, board, 1280, 800)
    seen.execute_cdp_cmd("Emulation.setTimezoneOverride", {"timezoneId": "Asia/Tokyo"})
    try:
        opened(browser, board, 1280, 800)
        first = seen.find_element(By.CSS_SELECTOR, ".file time")
        assert first.get_attribute("datetime") == "2026-05-09T08:19:00+00:00"
        assert first.text == "2026-05-09 17:19"
        assert seen.find_element(By.CSS_SELECTOR, "#alive time").text.startswith("today ")
    finally:
        seen.execute_cdp_cmd("Emulation.setTimezoneOverride", {"timezoneId": ""})


def test_times_of_a_verdict_are_those_of_the_reader(browser, tmp_path) -> None:
    """The page of one verdict shows the same clock as the board: in Tokyo nine hours on from UTC."""
    page = write_verdict_page(tmp_path / "v.html", entry(0), None, None)
    browser.execute_cdp_cmd("Emulation.setTimezoneOverride", {"timezoneId": "Asia/Tokyo"})
    try:
        seen = opened(browser, page, 1280, 800)
        times = [one.text for one in seen.find_elements(By.TAG_NAME, "time")]
        assert times == ["2026-05-01 09:00", "2026-05-01 09:00"]
        assert seen.find_element(By.ID, "zone").text == "of this screen's clock"
    finally:
        browser.execute_cdp_cmd("Emulation.setTimezoneOverride", {"timezoneId": ""})


def test_cards_stand_in_line(browser, board) -> None:
    """Pictures and words of all cards begin at the same place, whatever their verdict."""
    seen = opened(browser, board, 1280, 800)
    lefts = seen.execute_script(
        "return ['pass', 'warn', 'fail', 'refused'].map(one => "
        "document.querySelector('.file.' + one + ' .picture').getBoundingClientRect().left)"
    )
    assert max(lefts) - min(lefts) < 0.5


def test_says_when_nobody_looks(browser, tmp_path) -> None:
    """A board whose gate has stopped says so by itself."""
    stale = write_board(tmp_path, [entry(0)], state())
    seen = opened(browser, stale, 1280, 800, "board-late.png")
    alive = seen.find_element(By.ID, "alive")
    assert "nobody has looked for" in alive.text
    assert "late" in alive.get_attribute("class")


def test_alive_while_the_gate_looks(browser, board) -> None:
    """A board that was just written does not cry."""
    assert "looked at" in opened(browser, board, 1280, 800).find_element(By.ID, "alive").text
