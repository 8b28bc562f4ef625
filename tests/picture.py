"""
Draws the picture of a report that the README shows: ``python -m tests.picture``.

Needs Chromium. The picture is the map of one demo hole, as a browser shows it.
"""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path

from click.testing import CliRunner
from playwright.sync_api import sync_playwright

from trackgolf.cli import main

PICTURE = Path(__file__).parents[1] / "demo_tracks" / "report.png"
ROUND, HOLE = "nuala-july_phone", 11


def draw_picture(path: Path) -> None:
    """Rebuild the demo and photograph the map of one hole."""
    chromium = next(filter(None, map(shutil.which, ("chromium", "chromium-browser", "google-chrome"))))
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as play:
        CliRunner().invoke(main, ["demo", "--out", folder], catch_exceptions=False)
        browser = play.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        page = browser.new_page(viewport={"width": 1060, "height": 900})
        page.goto((Path(folder) / ROUND / "report.html").as_uri())
        page.select_option("#map-hole", str(HOLE))
        page.locator(".map-part").scroll_into_view_if_needed()
        # The map glides to the hole.
        page.wait_for_timeout(1000)
        page.locator(".map-part").screenshot(path=path)
        browser.close()


if __name__ == "__main__":
    draw_picture(PICTURE)
