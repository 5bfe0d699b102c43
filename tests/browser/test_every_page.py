"""Every page opens without a network, runs nothing but its own script, and can be read by everyone."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Literal

import pytest
from playwright.sync_api import BrowserContext

from pipeline.pages.words import file_name
from tests.browser.conftest import Open, Opened, open_in
from tests.drawn_school import WILD_STUDENT

pytestmark = pytest.mark.browser

AXE = Path(__file__).with_name("assets") / "axe.min.js"
PAGES = (
    "index.html",
    "students.html",
    "cohorts.html",
    "devices.html",
    "data-quality.html",
    "definitions.html",
    "students/TH03.html",
    "students/TH04.html",
    "handouts/TH03.html",
    f"students/{file_name(WILD_STUDENT)}.html",
)


@pytest.fixture(scope="module", params=PAGES)
def opened(
    browser: BrowserContext, pages_folder: Path, request: pytest.FixtureRequest
) -> Iterator[Opened]:
    """Each page in turn, opened once; a test must not depend on what an earlier one did to it."""
    one = open_in(browser, pages_folder, request.param)
    yield one
    one.page.close()


def test_a_page_says_nothing_and_asks_for_nothing_outside(opened: Opened) -> None:
    assert opened.said == []
    assert opened.outside == []


def test_a_label_never_runs_as_a_script(opened: Opened) -> None:
    assert opened.page.evaluate("window.owned") is None
    assert opened.page.locator("main img").count() == 0


def test_every_chart_is_drawn_and_named(opened: Opened) -> None:
    drawn = opened.page.locator(".chart[role=graphics-document][aria-label]:has(svg)")
    assert drawn.count() == opened.page.locator(".chart").count()


def test_tables_have_captions_and_headings(opened: Opened) -> None:
    page = opened.page
    assert page.locator("table:not(:has(> caption))").count() == 0
    assert page.locator("thead th:not([scope=col], [scope=colgroup])").count() == 0
    assert page.locator("tbody tr:not(:has(th[scope=row]))").count() == 0
    assert page.locator("h1").count() == 1


@pytest.mark.parametrize("width", [1280, 390])
def test_no_page_is_wider_than_the_screen(opened: Opened, width: int) -> None:
    opened.page.locator("details").evaluate_all("all => all.forEach(one => one.open = true)")
    opened.page.set_viewport_size({"width": width, "height": 800})
    opened.page.wait_for_timeout(100)
    assert opened.page.evaluate("document.documentElement.scrollWidth") <= width
    cut = opened.page.evaluate(
        """() => [...document.querySelectorAll('.chart svg')].flatMap((svg) => {
            const edge = svg.getBoundingClientRect().right + 2;
            return [...svg.querySelectorAll('text')]
                .filter((text) => text.getBoundingClientRect().right > edge)
                .map((text) => text.textContent);
        })"""
    )
    assert cut == []


def test_on_a_phone_no_table_scrolls_and_every_cell_has_its_heading(opened: Opened) -> None:
    page = opened.page
    page.locator("details").evaluate_all("all => all.forEach(one => one.open = true)")
    page.set_viewport_size({"width": 390, "height": 800})
    page.wait_for_timeout(100)
    wide = page.evaluate(
        """() => [...document.querySelectorAll('.scroll')]
            .filter((one) => one.scrollWidth > one.clientWidth + 1)
            .map((one) => one.textContent.slice(0, 60))"""
    )
    assert wide == []
    bare = page.evaluate(
        """() => [...document.querySelectorAll('.scroll td')]
            .filter((cell) => cell.offsetParent && !cell.querySelector('.label').textContent.trim())
            .map((cell) => cell.textContent.slice(0, 60))"""
    )
    assert bare == []
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate("axe.run().then(result => result.violations)")
    assert [f"{v['id']}: {v['nodes'][0]['html'][:200]}" for v in found] == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_axe_finds_no_violation(opened: Opened, scheme: Literal["light", "dark"]) -> None:
    page = opened.page
    page.emulate_media(color_scheme=scheme)
    page.locator("details").evaluate_all("all => all.forEach(one => one.open = true)")
    page.evaluate(AXE.read_text(encoding="utf-8"))
    found = page.evaluate("axe.run().then(result => result.violations)")
    assert [f"{v['id']}: {v['nodes'][0]['html'][:200]}" for v in found] == []


def test_the_first_stop_of_the_tab_key_skips_to_the_page(open_page: Open) -> None:
    page = open_page("index.html").page
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.className") == "skip"


def test_every_select_and_list_can_be_reached_with_the_tab_key(open_page: Open) -> None:
    page = open_page("index.html").page
    wanted = page.locator("select, summary, main a:visible").count()
    reached = set()
    for _ in range(wanted + 60):
        page.keyboard.press("Tab")
        reached.add(
            page.evaluate(
                "[...document.querySelectorAll('select, summary, main a')].indexOf(document.activeElement)"
            )
        )
    assert len(reached - {-1}) == wanted
