"""On paper nothing is cut: A4, black on white, charts whole."""

from __future__ import annotations

import re

import pytest

from tests.browser.conftest import Open

pytestmark = pytest.mark.browser

A4_TEXT_WIDTH = 680
"""Width in CSS pixels of an A4 sheet less its margins of 15 mm, at 96 pixels an inch."""
A4_TEXT_HEIGHT = 1001

PRINTED = {
    "index.html": 6,
    "students/TH01.html": 2,
    "handouts/TH01.html": 1,
    "cohorts.html": 4,
    "devices.html": 4,
}


@pytest.mark.parametrize("name", PRINTED)
def test_no_chart_or_table_is_cut_at_the_paper_s_edge(open_page: Open, name: str) -> None:
    page = open_page(name).page
    page.set_viewport_size({"width": A4_TEXT_WIDTH, "height": A4_TEXT_HEIGHT})
    page.emulate_media(media="print")
    page.wait_for_timeout(150)
    too_wide = page.evaluate(
        "width => [...document.querySelectorAll('svg, table, p, figure')]"
        ".filter(one => one.getBoundingClientRect().right > width + 1)"
        ".map(one => one.tagName + ' ' + one.textContent.slice(0, 60))",
        A4_TEXT_WIDTH,
    )
    assert too_wide == []
    heights = page.locator("figure:visible").evaluate_all(
        "all => all.map(one => one.getBoundingClientRect().height)"
    )
    assert heights
    assert max(heights) < A4_TEXT_HEIGHT
    kept = page.locator("figure").evaluate_all(
        "all => all.every(one => getComputedStyle(one).breakInside === 'avoid')"
    )
    assert kept


@pytest.mark.parametrize(("name", "most"), PRINTED.items())
def test_a_page_prints_on_a_few_sheets(open_page: Open, name: str, most: int) -> None:
    page = open_page(name).page
    printed = page.pdf(format="A4", prefer_css_page_size=True)
    assert printed.startswith(b"%PDF")
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b", printed)) <= most


def test_what_is_for_the_screen_is_not_printed(open_page: Open) -> None:
    page = open_page("index.html").page
    page.emulate_media(media="print")
    for selector in ("nav", ".choices", "[data-count-of]"):
        assert not page.locator(selector).first.is_visible()


def test_paper_is_white_even_from_a_dark_screen(open_page: Open) -> None:
    page = open_page("index.html").page
    page.emulate_media(media="print", color_scheme="dark")
    colours = page.evaluate(
        "[getComputedStyle(document.body).backgroundColor, getComputedStyle(document.body).color]"
    )
    assert colours == ["rgb(255, 255, 255)", "rgb(0, 0, 0)"]
