"""The report and the run sheet in a real browser: nothing fetched, everything usable, ticks remembered."""

from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from nesting.plan_values import Plan
from nesting_adapters.report import HtmlReportWriter
from tests.adapters.written_plan import many_units, renamed_plan, small_plan
from tests.browser import axe, driven

if TYPE_CHECKING:
    from playwright.sync_api import BrowserContext, Page

ALL_DRAWN = "main > section { content-visibility: visible !important; }"
"""Has the browser lay out what is off the screen too."""

PAGES = ("report.html", "run-sheet.html")


def _written(folder: Path, plan: Plan) -> Path:
    for name, content in HtmlReportWriter().files(plan).items():
        (folder / name).write_bytes(content)
    return folder


Browsers = Callable[..., "BrowserContext"]


@pytest.fixture(scope="module")
def browsers() -> Iterator[Browsers]:
    """Keep one browser for the module."""
    with driven() as opened:
        yield opened


@pytest.fixture
def browsing(browsers: Browsers) -> Iterator["BrowserContext"]:
    """Give each test a browser that remembers nothing of the last one."""
    context = browsers()
    yield context
    context.close()


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Write the pages of the small plan."""
    return _written(tmp_path, small_plan())


@contextmanager
def _opened(
    context: "BrowserContext", folder: Path, name: str = "report.html", width: int = 820
) -> Iterator["Page"]:
    """Open a page of which nothing is remembered yet; complaints of the browser fail the test."""
    complaints: list[str] = []
    page = context.new_page()
    page.set_viewport_size({"width": width, "height": 1180})
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto((folder / name).as_uri())
    yield page
    page.close()
    assert complaints == []


@pytest.mark.parametrize("width", [400, 820, 1280])
def test_pages_need_no_network_and_no_sideways_scrolling(
    browsing: "BrowserContext", folder: Path, width: int
) -> None:
    """Each page loads from disk alone and fits a phone, a tablet and a desk (WCAG 2.2, 1.4.10)."""
    seen: list[str] = []
    with _opened(browsing, folder, width=width) as page:
        page.on("request", lambda request: seen.append(request.url))
        for name in PAGES:
            page.goto((folder / name).as_uri())
            assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert seen == [(folder / name).as_uri() for name in PAGES]


def test_ticks_are_remembered_and_shared_by_both_pages(browsers: Browsers, folder: Path) -> None:
    """A unit ticked in the report is ticked after the browser was closed, and on the run sheet."""
    profile = folder / "profile"
    with closing(browsers(profile)) as context, _opened(context, folder) as page:
        page.get_by_label("Pocket 2 done").first.check()
        assert page.locator("#load-1 .done-count").inner_text() == "1 of 4 done"
    with closing(browsers(profile)) as context:
        with _opened(context, folder, "run-sheet.html") as page:
            assert page.locator("#load-1").get_by_label("Pocket 2 done").is_checked()
            assert not page.locator("#load-2").get_by_label("Pocket 3 done").is_checked()
            page.locator("#load-2").get_by_label("Pocket 3 done").check()
            page.get_by_label("Sheet A cut").check()
        with _opened(context, folder) as page:
            assert page.locator("input:checked[data-tick]").count() == 2
            assert page.locator("#load-1 text[data-pocket='2']").text_content() == "2✓"


def test_ticks_of_one_plan_are_not_shown_on_another(browsing: "BrowserContext", folder: Path) -> None:
    """A plan that differs in a word starts without ticks, though it lies at the same address."""
    with _opened(browsing, folder) as page:
        page.get_by_label("Pocket 2 done").first.check()
    _written(folder, renamed_plan("!"))
    with _opened(browsing, folder) as page:
        assert page.locator("input:checked[data-tick]").count() == 0


def test_all_ticks_can_be_cleared(browsing: "BrowserContext", folder: Path) -> None:
    """The button clears ticks after a question, and keeps them if the answer is no."""
    with _opened(browsing, folder) as page:
        page.get_by_label("Pocket 1 done").first.check()
        page.once("dialog", lambda dialog: dialog.dismiss())
        page.get_by_role("button", name="Clear all ticks").click()
        assert page.locator("input:checked[data-tick]").count() == 1
        page.once("dialog", lambda dialog: dialog.accept())
        page.get_by_role("button", name="Clear all ticks").click()
        assert page.locator("input:checked[data-tick]").count() == 0


def test_a_browser_that_keeps_nothing_says_so(browsing: "BrowserContext", folder: Path) -> None:
    """Where storage is forbidden the page says that ticks get lost, and the rest works."""
    with _opened(browsing, folder) as page:
        page.add_init_script(
            "Object.defineProperty(window, 'localStorage', {get() { throw new Error('denied'); }})"
        )
        page.reload()
        assert page.get_by_text("This browser keeps nothing").is_visible()
        page.get_by_label("Pocket 1 done").first.check()
        assert page.locator("#load-1 .done-count").inner_text() == "1 of 4 done"


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        ("ada", ["1", "1", "2"]),
        ("O-2 unit 3", ["2"]),
        ("  GRACE fob ", ["1", "1", "2"]),
        ("nobody", []),
        ("", []),
    ],
)
def test_search_finds_units_by_any_of_their_words(
    browsing: "BrowserContext", folder: Path, typed: str, found: list[str]
) -> None:
    """Order lines, texts and blanks are found whatever the case, and each hit names its load."""
    with _opened(browsing, folder) as page:
        page.get_by_label("Find a unit").fill(typed)
        hits = page.locator("#found a").all_inner_texts()
        assert [hit.split(",")[0].removeprefix("Load ") for hit in hits] == found
        count = page.locator("#found-count").inner_text()
        assert count == ("" if not typed.strip() else f"{len(found)} unit{'s' * (len(found) != 1)} found")


def test_the_keyboard_alone_finds_and_ticks_a_unit(browsing: "BrowserContext", folder: Path) -> None:
    """Typing, Enter and the space bar find a unit, show it on the map and tick it (WCAG 2.2, 2.1.1)."""
    with _opened(browsing, folder) as page:
        page.get_by_label("Find a unit").focus()
        page.keyboard.type("O-3")
        page.keyboard.press("Enter")
        page.locator("input[data-tick='load-2 pocket-4']:focus").wait_for()
        assert "sought" in str(page.locator("#load-2 .drawing g[data-pocket='4']").get_attribute("class"))
        page.keyboard.press("Space")
        assert page.locator("#load-2").get_by_label("Pocket 4 done").is_checked()


def test_a_touch_on_the_map_leads_to_the_row(browsing: "BrowserContext", folder: Path) -> None:
    """Touching a pocket on the map puts the focus on that unit's box, without ticking it."""
    with _opened(browsing, folder) as page:
        page.locator("#load-1 text[data-pocket='3']").click()
        assert page.evaluate("document.activeElement.dataset.tick") == "load-1 pocket-3"
        assert page.locator("input:checked[data-tick]").count() == 0


def test_the_path_plays_from_the_dot_to_its_last_point(browsing: "BrowserContext", folder: Path) -> None:
    """The slider moves the head along the path by keys, and playing moves it on until it is paused."""
    with _opened(browsing, folder) as page:
        player, head = page.locator("#load-1 .player"), page.locator("#load-1 .head")
        slider = player.get_by_role("slider")
        start = head.get_attribute("cx"), head.get_attribute("cy")
        slider.press("End")
        assert "finished" in player.locator("output").inner_text()
        assert (head.get_attribute("cx"), head.get_attribute("cy")) != start
        slider.press("Home")
        assert (head.get_attribute("cx"), head.get_attribute("cy")) == start
        player.get_by_role("button", name="Play").click()
        player.get_by_text("at pocket").wait_for()
        player.get_by_role("button", name="Pause").click()
        assert player.get_by_role("button", name="Play").is_visible()
        assert "pocket" in str(slider.get_attribute("aria-valuetext"))


def test_touch_targets_are_large_enough(browsing: "BrowserContext", folder: Path) -> None:
    """Everything to touch is 24 px or more each way, links in running text apart (WCAG 2.2, 2.5.8)."""
    sizes = """() => [...document.querySelectorAll("input, button, nav a")]
        .filter((part) => part.checkVisibility())
        .map((part) => (part.closest("label") ?? part).getBoundingClientRect())
        .filter((box) => Math.min(box.width, box.height) < 23.9).length"""
    with _opened(browsing, folder) as page:
        for name in PAGES:
            page.goto((folder / name).as_uri())
            page.add_style_tag(content=ALL_DRAWN)
            assert page.evaluate(sizes) == 0


@pytest.mark.parametrize("name", PAGES)
@pytest.mark.parametrize("width", [400, 820])
def test_axe_finds_no_violation(browsing: "BrowserContext", folder: Path, name: str, width: int) -> None:
    """The accessibility checks of axe-core (npm) pass, all of its rules, with ticks and hits shown."""
    checks = axe()
    with _opened(browsing, folder, name, width) as page:
        page.get_by_label("Pocket 1 done").first.check()
        if name == "report.html":
            page.get_by_label("Find a unit").fill("fob")
            page.locator("#load-1 .player").get_by_role("slider").press("End")
        page.add_style_tag(content=ALL_DRAWN)
        page.evaluate(checks)
        result: dict[str, Any] = page.evaluate("axe.run(document)")
    assert result["passes"]
    assert [
        (found["id"], [node["target"] for node in found["nodes"]]) for found in result["violations"]
    ] == []


@pytest.mark.slow
def test_three_hundred_units_can_be_searched(browsing: "BrowserContext", tmp_path: Path) -> None:
    """Every one of 300 units is in the page and can be found."""
    with _opened(browsing, _written(tmp_path, many_units())) as page:
        page.get_by_label("Find a unit").fill("O-2 unit 300")
        assert page.locator("#found a").count() == 1
        assert page.locator("tr[data-row]").count() == 300
