"""A real browser: Debian's own Chromium, without a screen and without the network."""

import shutil
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Browser, Page, sync_playwright

FLAGS = (
    "--no-sandbox",  # root, in CI
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
GRAVE = {"serious", "critical"}
Scheme = Literal["light", "dark"]


@dataclass
class Shown:
    """A page as the browser shows it, and all it complained of or asked for."""

    page: Page
    complaints: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)

    @property
    def text(self) -> str:
        """What a person reads."""
        return self.page.inner_text("body")

    @property
    def overflow_px(self) -> int:
        """How far the page reaches beyond the window's width."""
        wide: int = self.page.evaluate(
            "document.documentElement.scrollWidth - document.documentElement.clientWidth"
        )
        return wide

    def grave_findings(self) -> list[str]:
        """Return what keeps some people from reading it, as axe-core finds it."""
        found = Axe().run(self.page).response["violations"]
        return [
            f"{one['id']}: {one['help']}: {[node['target'] for node in one['nodes']][:3]}"
            for one in found
            if one["impact"] in GRAVE
        ]


@dataclass
class Windows:
    """Opens files in the browser."""

    browser: Browser

    def show(
        self, file: Path, width: int, scheme: Scheme = "light", *, scripts: bool = True
    ) -> Shown:
        """Open a file in a window so wide."""
        context = self.browser.new_context(
            viewport={"width": width, "height": 800},
            color_scheme=scheme,
            java_script_enabled=scripts,
        )
        shown = Shown(context.new_page())
        page, own = shown.page, file.resolve().as_uri()
        page.on("console", lambda said: shown.complaints.append(said.text))
        page.on("pageerror", lambda error: shown.complaints.append(str(error)))
        page.on("dialog", lambda asked: shown.complaints.append(f"dialog: {asked.message}"))
        page.on("request", lambda asked: shown.requests.append(asked.url))
        page.goto(own)
        shown.requests.remove(own)
        return shown


@pytest.fixture(scope="module")
def windows() -> Iterator[Windows]:
    """Start the browser."""
    program = shutil.which("chromium")
    if program is None:
        pytest.fail("these tests need Chromium: apt install chromium")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=list(FLAGS))
        yield Windows(browser)
        browser.close()
