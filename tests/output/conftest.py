"""The browser that pages are driven in."""

import os

import pytest
from support import outside_tool


@pytest.fixture(scope="module")
def chromium():
    """The installed Chromium through Playwright; skips with a reason where either is missing."""
    program = outside_tool("chromium")
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        if os.environ.get("CI") == "true":
            pytest.fail("playwright is not installed, and in CI it must be")
        pytest.skip("playwright is not installed: the pages are not driven in a browser")
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program, args=["--no-sandbox"])
        yield browser
        browser.close()
