"""A real Chromium on a served application with the sample region. Whatever a page breaks on its way fails the test that opened it."""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from tests.browser.site import AT_FIRST_START, Site

CHROMIUM = Path("/usr/bin/chromium")
CHROMIUM_OPTIONS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
)
ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="session")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    """Beaconry as its users start it, on a free port, with an empty home: so it loads the sample region."""
    if not (ROOT / "sample_region" / "region.toml").is_file():
        pytest.skip("the sample region is not in this checkout")
    home = tmp_path_factory.mktemp("served")
    environment = {**os.environ, "BEACONRY_HOME": str(home / "home"), "BEACONRY_PORT": "0", "BEACONRY_DATABASE_URL": ""}
    beaconry = (str(Path(sys.executable).parent / "beaconry"),)
    with open(home / "errors.txt", "w+") as errors:
        server = subprocess.Popen((*beaconry, "serve"), cwd=ROOT, env=environment, stdout=subprocess.PIPE, stderr=errors, text=True)
        try:
            first_line = server.stdout.readline()
            spoken = AT_FIRST_START.search(first_line)
            errors.seek(0)
            assert spoken, f"the server did not say where it is: {first_line!r} {errors.read()}"
            shelf = (*beaconry, "load", "empty-region", "loading-dock", "Loading Dock")
            subprocess.run(shelf, cwd=ROOT, env=environment, check=True, capture_output=True)
            yield Site(address=spoken[1], home=home / "home")
        finally:
            server.terminate()
            server.communicate(timeout=20)


@pytest.fixture(scope="session")
def chromium() -> Iterator:
    """One browser for all tests."""
    playwright = pytest.importorskip("playwright.sync_api", reason="playwright is not installed")
    if not CHROMIUM.is_file():
        pytest.skip(f"{CHROMIUM} is not on this machine")
    with playwright.sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=str(CHROMIUM), args=list(CHROMIUM_OPTIONS))
        yield browser
        browser.close()


@dataclass
class Window:
    """Opens pages that are watched. A test that provokes an answer such as 404 says so in ``expected``."""

    browser: object
    site: Site
    expected: set[int] = field(default_factory=set)
    unlinked: bool = False
    """Whether the test takes the connection away: then requests may fail."""
    troubles: list[str] = field(default_factory=list)
    contexts: list = field(default_factory=list)

    def open(self, *, scripts: bool = True, width: int = 1100):
        """Return a blank page in a context of its own."""
        context = self.browser.new_context(
            base_url=self.site.address, java_script_enabled=scripts, viewport={"width": width, "height": 900}
        )
        context.set_default_timeout(15_000)
        context.route("**/*", self._keep_inside)
        page = context.new_page()
        page.on("console", self._note_console)
        page.on("pageerror", lambda error: self.troubles.append(f"script error: {error}"))
        page.on("requestfailed", self._note_failure)
        page.on("response", self._note_response)
        self.contexts.append(context)
        return page

    def _keep_inside(self, route):
        if route.request.url.startswith(f"{self.site.address}/"):
            route.continue_()
        else:
            self.troubles.append(f"asked for something outside: {route.request.url}")
            route.abort()

    def _note_failure(self, request):
        if not self.unlinked and request.failure != "net::ERR_ABORTED":  # leaving a page ends what it was still loading
            self.troubles.append(f"request failed: {request.url} {request.failure}")

    def _note_console(self, message):
        if self.unlinked and message.text.startswith("Failed to load resource: net::"):
            return
        answered = message.text.startswith("Failed to load resource: the server responded")  # its state is judged by _note_response
        if message.type in ("error", "warning") and not answered:
            self.troubles.append(f"console {message.type}: {message.text}")

    def _note_response(self, response):
        if response.status >= 400 and response.status not in self.expected:
            self.troubles.append(f"answer {response.status}: {response.url}")


@pytest.fixture
def window(chromium, site: Site) -> Iterator[Window]:
    """A way to open watched pages; at the end nothing may have gone wrong."""
    window = Window(browser=chromium, site=site)
    yield window
    for context in window.contexts:
        context.close()
    assert not window.troubles, "\n".join(window.troubles)


@pytest.fixture
def page(window: Window):
    """A watched page with scripts on, 1100 px wide."""
    return window.open()
