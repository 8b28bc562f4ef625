"""Pages in a real browser, without a network; and rounds made once."""

from __future__ import annotations

import pytest

from tests.reports.invented import invented_plan, invented_round


@pytest.fixture(scope="session")
def round_tables():
    return invented_round()


@pytest.fixture(scope="session")
def plan_tables():
    return invented_plan()


@pytest.fixture
def open_page(chromium, tmp_path):
    """Give a function that opens a page offline; afterwards nothing may have gone wrong in any of them."""
    contexts, trouble = [], []

    def opener(html, *, width=1280, height=900, **options):
        context = chromium.new_context(
            viewport={"width": width, "height": height}, offline=True, service_workers="block", **options
        )
        contexts.append(context)
        page = context.new_page()
        page.trouble = trouble
        page.on("console", lambda message: trouble.append(f"console {message.type}: {message.text}"))
        page.on("pageerror", lambda error: trouble.append(f"error: {error}"))
        page.on("request", lambda request: trouble.append(request.url) if outside(request.url) else None)
        page.on("dialog", lambda dialog: (trouble.append(f"dialog: {dialog.message}"), dialog.dismiss()))
        path = tmp_path / f"page{len(contexts)}.html"
        path.write_text(html, encoding="utf-8")
        page.goto(path.as_uri())
        return page

    yield opener
    for context in contexts:
        context.close()
    assert trouble == []


def outside(url):
    return not url.startswith(("file:", "data:"))
