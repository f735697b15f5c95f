"""The sheet in Debian's Chromium, from a file and without a network, as on a phone."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")

try:
    from playwright.sync_api import Page, sync_playwright
except ImportError:  # pragma: no cover
    Page = Any  # type: ignore[assignment,misc]
    sync_playwright = None  # type: ignore[assignment]

needs_chromium = pytest.mark.skipif(
    CHROMIUM is None or sync_playwright is None,
    reason="Chromium (apt: chromium) or playwright (pip) is not installed",
)


@contextmanager
def phone(url: str, **more: Any) -> Iterator[Page]:
    """The page at `url` on a small screen; fails when the page itself reports an error."""
    settings = {"viewport": {"width": 390, "height": 844}, "is_mobile": True, "has_touch": True}
    with sync_playwright() as play:
        browser = play.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox"])
        context = browser.new_context(**{"offline": True, **settings, **more})
        wrong: list[str] = []
        context.on("weberror", lambda error: wrong.append(str(error.error)))
        page = context.new_page()
        page.goto(url)
        page.wait_for_selector("h1")
        yield page
        browser.close()
        assert wrong == []


def reopened(page: Page) -> Page:
    """The same page after its tab was closed."""
    context, url = page.context, page.url
    page.close()
    page = context.new_page()
    page.goto(url)
    page.wait_for_selector("h1")
    settled(page)
    return page


def settled(page: Page) -> None:
    """Wait until nothing is being worked out."""
    page.wait_for_timeout(50)
    page.wait_for_selector('#status:not(:text-is("Working…"))', state="attached", timeout=60_000)


def tap(page: Page, name: str) -> None:
    """Tap the first button of this name and wait for what follows."""
    page.get_by_role("button", name=name, exact=True).first.tap(timeout=60_000)
    settled(page)


def answer(page: Page, place: int = 0) -> None:
    """Tap one of the answers on the card."""
    page.locator("button.answer").nth(place).tap(timeout=60_000)
    settled(page)


def title(page: Page) -> str:
    """What the card says."""
    return page.locator("h1").inner_text()


def saved(page: Page, folder: Path) -> Path:
    """The visit as the page saves it."""
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Save file", exact=True).tap()
    file = folder / waiting.value.suggested_filename
    waiting.value.save_as(file)
    return file
