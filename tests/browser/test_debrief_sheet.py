"""The sheet after one flight: it loads nothing, keeps to its policy, and prints on two sheets of A4."""

from __future__ import annotations

import math
import re
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext

from pipeline.explain import Debrief
from pipeline.pages.debrief_sheet import DRAWN_MAXIMUM, write_debrief_sheet

pytestmark = pytest.mark.browser

NOW = datetime(2026, 3, 28, 12, tzinfo=UTC)
A4_TEXT_WIDTH = 680
MANEUVERS = 12


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The sheet of a long lesson: twelve minutes of level flight, power changes between them."""
    folder = tmp_path_factory.mktemp("lesson")
    rows = [
        f"{t},{3000 + 2 * (t // 90) * math.sin(t / 8):.0f},{(355 + t // 12) % 360},{0.02 * (t % 3)}"
        for t in range(90 * MANEUVERS)
    ]
    log, tasks = folder / "flight.csv", folder / "tasks.csv"
    log.write_text("\n".join(["time_s,altitude_ft,heading_deg,pitch_control", *rows]) + "\n")
    kinds = [("power_change" if i % 3 == 1 else "level", 90 * i) for i in range(MANEUVERS)]
    asked = [f"{start + 5},{start + 85},{kind},3000,360" for kind, start in kinds]
    head = "start_s,end_s,kind,target_altitude_ft,target_heading_deg"
    tasks.write_text("\n".join([head, *asked]) + "\n")
    out = folder / "sheet.html"
    answer = write_debrief_sheet(Debrief(log, NOW, tasks=tasks, neutral=0.0), out)
    assert answer.refusals == ()
    return out


def test_the_sheet_loads_nothing_and_breaks_no_policy(browser: BrowserContext, sheet: Path) -> None:
    page = browser.new_page()
    requests: list[str] = []
    said: list[str] = []
    page.on("request", lambda request: requests.append(request.url))
    page.on("console", lambda message: said.append(message.text))
    page.goto(sheet.as_uri())
    assert [url for url in requests if not url.startswith("data:")] == [sheet.as_uri()]
    assert said == []
    assert page.locator("script").count() == 0
    assert page.locator("section.flown").count() == MANEUVERS
    assert page.locator("section.flown svg").count() == 3 * DRAWN_MAXIMUM
    assert page.get_by_text("told in words only").count() == 1
    rule = page.locator("h2").evaluate("one => getComputedStyle(one).borderTopStyle")
    assert rule == "solid", "the style in the page must be the one that the policy names"
    page.close()


def test_a_long_lesson_prints_on_two_sheets_with_nothing_cut(
    browser: BrowserContext, sheet: Path
) -> None:
    page = browser.new_page()
    page.goto(sheet.as_uri())
    printed = page.pdf(format="A4", prefer_css_page_size=True)
    assert 1 <= len(re.findall(rb"/Type\s*/Page\b", printed)) <= 2
    page.set_viewport_size({"width": A4_TEXT_WIDTH, "height": 1001})
    page.emulate_media(media="print", color_scheme="dark")
    too_wide = page.evaluate(
        "width => [...document.querySelectorAll('svg, p, li, h3')]"
        ".filter(one => one.getBoundingClientRect().right > width + 1).length",
        A4_TEXT_WIDTH,
    )
    assert too_wide == 0
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(255, 255, 255)"
    page.close()
