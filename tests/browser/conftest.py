"""The page in a real browser: Debian's Chromium by Playwright, and axe-core for its accessibility.

    BENCHHAND_CHROMIUM=/usr/bin/chromium BENCHHAND_AXE=…/axe-core/axe.min.js python -m pytest tests/browser

Both are no Python packages, so a plain `pytest` leaves this folder out, and says so; asked for by its name without them it finds no test, which
is a failure of its own (exit status 5). BENCHHAND_SHOTS=FOLDER keeps pictures for a person to look at.
"""

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from assistant.core.axle import Job
from tests.screen.running import Running, new_job

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

CHROMIUM, AXE, SHOTS = (os.environ.get(f"BENCHHAND_{name}", "") for name in ("CHROMIUM", "AXE", "SHOTS"))
collect_ignore_glob = [] if CHROMIUM and AXE else ["test_*.py"]


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Nobody may think that the browser was asked when it was not."""
    if collect_ignore_glob:
        terminalreporter.write_line("tests/browser left out: BENCHHAND_CHROMIUM and BENCHHAND_AXE name no browser and no axe-core")


@pytest.fixture(scope="session")
def browser() -> "Iterator[Browser]":
    """One Chromium for all tests."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        # As root in a container Chromium needs to go without its own sandbox; it only ever sees our page.
        found = playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu", "--force-color-profile=srgb"])
        yield found
        found.close()


@pytest.fixture
def bench(job: Job, tmp_path: Path) -> Iterator[Running]:
    """A new job with its screen."""
    with new_job(job, tmp_path) as found:
        yield found


Opened = Callable[..., "Page"]


@pytest.fixture
def opened(browser: "Browser") -> "Iterator[Opened]":
    """Opens pages: opened(url, width, height, scheme, size, …). Its clock can be moved; what goes wrong in its script fails the test."""
    contexts, wrong = [], []

    def open_page(
        url: str,
        width: int = 1280,
        height: int = 800,
        scheme: str = "light",
        size: str | None = None,
        *,
        scripted: bool = True,
        own_clock: bool = True,
        bypass_csp: bool = False,
    ) -> "Page":
        context = browser.new_context(
            viewport={"width": width, "height": height},
            color_scheme="dark" if scheme == "dark" else "light",
            java_script_enabled=scripted,
            bypass_csp=bypass_csp,
        )
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(10_000)
        page.on("pageerror", lambda error: wrong.append(str(error)))
        if size is not None:
            page.add_init_script(f"localStorage.setItem('benchhand.size', '{size}')")
        if scripted and own_clock:
            page.clock.install()
        page.goto(url)
        return page

    yield open_page
    for context in contexts:
        context.close()
    assert wrong == []
