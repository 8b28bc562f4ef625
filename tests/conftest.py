"""Fixtures every test may use."""

import os
import shutil

import pytest
from playwright.sync_api import sync_playwright


@pytest.fixture(scope="session")
def chromium():
    """One browser for all tests of a process: a second one beside it cannot be started."""
    path = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))), None)
    if path is None:
        word = "no Chromium on this machine, so no page was opened in a browser"
        if os.environ.get("CI"):
            pytest.fail(word)
        pytest.skip(word)
    with sync_playwright() as play:
        browser = play.chromium.launch(
            executable_path=path, args=["--no-sandbox", "--disable-dev-shm-usage", "--disable-gpu"]
        )
        yield browser
        browser.close()
