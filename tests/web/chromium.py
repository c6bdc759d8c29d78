"""The system's Chromium, and what a page must not do."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager

from playwright.sync_api import Browser, Page, sync_playwright

NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")


def program() -> str | None:
    """The browser's program; the environment's HARDTACK_CHROMIUM wins."""
    named = os.environ.get("HARDTACK_CHROMIUM")
    return named or next((found for name in NAMES if (found := shutil.which(name))), None)


def needed_program() -> str:
    """The browser's program; the test fails, saying so, where there is none."""
    found = program()
    assert found, "Chromium is not installed (Debian: apt install chromium; else set HARDTACK_CHROMIUM)"
    return found


@contextmanager
def browser() -> Iterator[Browser]:
    """A running Chromium."""
    found = needed_program()
    with sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=found)
        yield running
        running.close()


class Watch:
    """Everything a tab said or asked for that it should not have."""

    def __init__(self, page: Page, site: str) -> None:
        self.faults: list[str] = []
        page.on("pageerror", lambda error: self.faults.append(f"error: {error}"))
        page.on("console", self._console)
        page.on("request", lambda request: self._asked(request.url, site))

    def _console(self, message: object) -> None:
        if getattr(message, "type", "") == "error" or "Content Security Policy" in getattr(
            message, "text", ""
        ):
            self.faults.append(f"console: {getattr(message, 'text', '')}")

    def _asked(self, url: str, site: str) -> None:
        if not url.startswith(site):
            self.faults.append(f"asked elsewhere: {url}")
