"""The picture in README.md is of the demo's overview as it is now, and the demo's own pages hold up.

To draw it anew after the page has changed: look at the page, then
`LEVELHOLD_PICTURE=write python -m pytest -m slow tests/browser/test_demo_picture.py`.
"""

from __future__ import annotations

import os
import re
import struct
import zlib
from datetime import UTC, datetime
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext

from pipeline.cli.demo import copy_school
from pipeline.nightly import run_night
from pipeline.reading import school_settings
from pipeline.store import Warehouse
from tests.browser.conftest import open_in
from tests.browser.test_every_page import AXE

ROOT = Path(__file__).parents[2]
PICTURE = ROOT / "sample_warehouse" / "overview.png"
LARGEST_BYTES = 300_000
NIGHT = datetime(2026, 3, 29, 2, 0, tzinfo=UTC)
PAGES = (
    *("index.html", "students.html", "cohorts.html", "devices.html", "data-quality.html"),
    *("definitions.html", "students/TH15.html", "students/TH21.html", "handouts/TH15.html"),
)
SIGNATURE = b"\x89PNG\r\n\x1a\n"


def headings_of(page: str) -> str:
    """The headings of the overview, those of single students left out."""
    found = re.findall(r"<h([12])[^>]*>([^<]+)</h\1>|<h3 id=\"list-[^>]*>([^<]+)</h3>", page)
    return "; ".join(high or low for _, high, low in found)


def with_text(png: bytes, text: str) -> bytes:
    """A PNG with a text in it: the chunk tEXt, right after the header (PNG specification, 11.3.4.3)."""
    body = b"Description\0" + text.encode("latin-1")
    chunk = struct.pack(">I", len(body)) + b"tEXt" + body
    chunk += struct.pack(">I", zlib.crc32(b"tEXt" + body))
    end_of_header = len(SIGNATURE) + 25
    return png[:end_of_header] + chunk + png[end_of_header:]


def text_in(png: bytes) -> str:
    """The text that `with_text` put into a PNG."""
    found = re.search(rb"tEXtDescription\0", png)
    assert found, "the picture says nothing of its headings"
    (length,) = struct.unpack(">I", png[found.start() - 4 : found.start()])
    return png[found.end() : found.start() + 4 + length].decode("latin-1")


def test_the_picture_of_the_readme_has_the_headings_of_the_page(pages_folder: Path) -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    assert re.search(r"!\[[^\]]{40,}\]\(sample_warehouse/overview\.png\)", readme)
    png = PICTURE.read_bytes()
    assert png.startswith(SIGNATURE)
    assert len(png) < LARGEST_BYTES
    page = (pages_folder / "index.html").read_text(encoding="utf-8")
    assert text_in(png) == headings_of(page)


@pytest.fixture(scope="module")
def demo_pages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The pages of the demo, made by one night as `levelhold demo` makes them."""
    folder = tmp_path_factory.mktemp("tarn") / "demo"
    copy_school(folder)
    warehouse = Warehouse(folder / "warehouse")
    run_night(folder / "inbox", warehouse, school_settings(warehouse), NIGHT, workers=2)
    return warehouse.pages


@pytest.mark.slow
@pytest.mark.browser
def test_the_demo_s_overview_fits_into_the_readme(
    browser: BrowserContext, demo_pages: Path, tmp_path: Path
) -> None:
    one = open_in(browser, demo_pages, "index.html")
    one.page.set_viewport_size({"width": 1100, "height": 1340})
    one.page.wait_for_timeout(200)
    png = one.page.screenshot()
    png = with_text(png, headings_of(one.page.content()))
    one.page.close()
    where = PICTURE if os.environ.get("LEVELHOLD_PICTURE") == "write" else tmp_path / "overview.png"
    where.write_bytes(png)
    assert len(where.read_bytes()) < LARGEST_BYTES
    assert text_in(PICTURE.read_bytes()) == text_in(png)


@pytest.mark.slow
@pytest.mark.browser
@pytest.mark.parametrize("name", PAGES)
def test_the_demo_s_pages_say_nothing_and_can_be_read_by_everyone(
    browser: BrowserContext, demo_pages: Path, name: str
) -> None:
    one = open_in(browser, demo_pages, name)
    assert one.said == []
    assert one.outside == []
    if name.startswith(("students/", "handouts/")):
        sheets = len(
            re.findall(rb"/Type\s*/Page\b", one.page.pdf(format="A4", prefer_css_page_size=True))
        )
        assert sheets <= (2 if name.startswith("students/") else 1)
    one.page.locator("details").evaluate_all("all => all.forEach(one => one.open = true)")
    one.page.evaluate(AXE.read_text(encoding="utf-8"))
    found = one.page.evaluate("axe.run().then(result => result.violations)")
    assert [f"{v['id']}: {v['nodes'][0]['html'][:200]}" for v in found] == []
    one.page.set_viewport_size({"width": 390, "height": 800})
    one.page.wait_for_timeout(100)
    assert one.page.evaluate("document.documentElement.scrollWidth") <= 390
    one.page.close()
