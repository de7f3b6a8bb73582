"""A headless Chromium of the system, and a page of a made-up run opened from its file, offline."""

import os
import shutil

import pytest

from explore.report import write_page
from tests.report.synthetic import make_run

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--use-gl=angle",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
)


@pytest.fixture(scope="session")
def browser():
    """Headless Chromium; without one the tests are skipped, but fail where CI is true."""
    found = next((path for path in map(shutil.which, NAMES) if path), None)
    if found is None:
        reason = f"no Chromium on this machine (looked for {', '.join(NAMES)}); install one to run the browser tests"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        chromium = driver.chromium.launch(executable_path=found, args=list(FLAGS))
        yield chromium
        chromium.close()


@pytest.fixture(scope="session")
def run_folder(tmp_path_factory):
    """A made-up run with its page."""
    made = make_run(
        tmp_path_factory.mktemp("browser") / "run",
        count=1500,
        title='Made up <b>"run"</b> & <script>x</script>',
    )
    write_page(made)
    return made


class Watched:
    """An open page with what it complained of and what it asked for."""

    def __init__(self, page):
        self.page = page
        self.errors: list[str] = []
        self.requests: list[str] = []
        page.on(
            "console", lambda message: self.errors.append(message.text) if message.type == "error" else None
        )
        page.on("pageerror", lambda error: self.errors.append(str(error)))
        page.on("request", lambda request: self.requests.append(request.url))

    def open(self, path, fragment=""):
        """Open the file and wait until its charts stand."""
        self.page.goto(f"{path.as_uri()}{fragment}", wait_until="domcontentloaded")
        self.page.wait_for_selector("html[data-ready=charts]", timeout=60_000)
        return self.page

    def strayed(self):
        """Return requests for anything but the file itself and data within it."""
        return [url for url in self.requests if not url.startswith(("file:", "data:", "blob:"))]


@pytest.fixture
def watched(browser):
    """A fresh offline page of laptop size, watched."""
    context = browser.new_context(
        viewport={"width": 1440, "height": 900}, offline=True, accept_downloads=True
    )
    context.set_default_timeout(30_000)
    yield Watched(context.new_page())
    context.close()
