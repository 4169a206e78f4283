"""A real browser for the tests of the pages: Debian's Chromium, driven through Playwright."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

PHONE = (390, 844)
TABLET = (820, 1180)
DESKTOP = (1280, 900)
"""Widths and heights that pages are looked at with, in CSS pixels."""


def chromium() -> Path:
    """Where Debian's Chromium is."""
    found = shutil.which("chromium")
    assert found, "Install the browser with: sudo apt-get install chromium"
    return Path(found)


@contextmanager
def browser() -> Iterator[Browser]:
    """A headless browser, closed at the end."""
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(
            executable_path=chromium(), args=["--no-sandbox", "--disable-gpu"]
        )
        try:
            yield opened
        finally:
            opened.close()
