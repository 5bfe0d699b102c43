"""Pages of the invented school in headless Chromium, network off, with all that they asked and said kept."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, Page

from pipeline.pages import write_pages
from pipeline.reading import school_settings
from pipeline.store import Warehouse
from tests.drawn_school import NOW, write_school
from tests.made_once import made_once


@pytest.fixture(scope="session")
def pages_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of pages of the invented school, written once; tests only read it."""
    return Warehouse(made_once(tmp_path_factory, "drawn-school", _write_pages)).pages


def _write_pages(folder: Path) -> None:
    warehouse = write_school(folder)
    write_pages(warehouse, school_settings(warehouse), NOW)


@dataclass
class Opened:
    """A page that was opened, with every request it made and everything it said."""

    name: str
    page: Page
    requests: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)

    @property
    def outside(self) -> list[str]:
        """Requests that left the folder of pages."""
        return [url for url in self.requests if not url.startswith(("file:", "data:"))]


Open = Callable[[str], Opened]


def open_in(browser: BrowserContext, folder: Path, name: str) -> Opened:
    """Open a page by its path and wait until all of it is drawn."""
    one = Opened(name, browser.new_page())
    one.page.on("request", lambda request: one.requests.append(request.url))
    one.page.on("console", lambda message: one.said.append(message.text))
    one.page.on("pageerror", lambda error: one.said.append(str(error)))
    one.page.goto((folder / name).as_uri())
    one.page.wait_for_selector("html[data-ready=yes]", state="attached", timeout=30_000)
    return one


@pytest.fixture
def open_page(browser: BrowserContext, pages_folder: Path) -> Iterator[Open]:
    """A function that opens a page for one test."""
    opened: list[Opened] = []

    def open_one(name: str) -> Opened:
        opened.append(open_in(browser, pages_folder, name))
        return opened[-1]

    yield open_one
    for one in opened:
        one.page.close()
