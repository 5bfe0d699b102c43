"""What every test may use: the browser. Marks, warnings and folders are set in pyproject.toml."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext, sync_playwright

CHROMIUM = Path("/usr/bin/chromium")
CHROMIUM_ARGS = [
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[BrowserContext]:
    """A headless Chromium, network off; without one the test skips, or fails where CI asks."""
    if not CHROMIUM.exists():
        reason = f"no browser at {CHROMIUM}: install Debian's package chromium"
        if os.environ.get("LEVELHOLD_REQUIRE_BROWSER") == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    with sync_playwright() as playwright:
        context = playwright.chromium.launch_persistent_context(
            tmp_path_factory.mktemp("chromium"),
            executable_path=CHROMIUM,
            offline=True,
            args=CHROMIUM_ARGS,
        )
        yield context
        context.close()
