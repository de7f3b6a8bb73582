"""A headless Chromium of the system, and a page of a real run opened from its file, offline."""

import os
import shutil
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest

AXE = Path(__file__).parent / "node_modules" / "axe-core" / "axe.min.js"
NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--use-gl=angle",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    # Each window otherwise draws a list for its address bar, which nobody sees: a fifth of what it takes to open a page.
    "--disable-features=WebUIOmniboxPopup,WebUIOmniboxFullPopup,WebUIOmniboxAimPopup",
    # Pages of one context share a process. Where one of the same address is open there the library of the charts is
    # compiled already, which is half of what it takes to open a page.
    "--process-per-site",
)
LAPTOP = {"width": 1440, "height": 900}

# Marks are painted: keeps, for each canvas, where on it they were since it was last cleared, and how much they cover.
RECORD_MARKS = """(() => {
  const pen = CanvasRenderingContext2D.prototype, { clearRect, drawImage } = pen;
  pen.clearRect = function (...box) { this.canvas.stamps = []; return clearRect.apply(this, box); };
  pen.drawImage = function (stamp, x, y) {
    const { width, height } = stamp;
    (this.canvas.stamps ??= []).push([x + width / 2, y + height / 2, this.globalAlpha, stamp]);
    return drawImage.call(this, stamp, x, y);
  };
})()"""
# What a page has put off till later - a timer, a frame, an idle moment - and after how many milliseconds it is due. A frame
# that asks for itself again, as a chart in space does for ever, counts once.
RECORD_WAITING = """(() => {
  const due = (window.putOff = new Map());
  let within = null;
  const counted = (ask, drop, delay) => {
    const [asking, dropping] = [window[ask].bind(window), window[drop].bind(window)];
    window[ask] = (run, ...rest) => {
      const [own, again] = [{}, ask === "requestAnimationFrame" && run === within];
      const number = asking((...given) => {
        due.delete(own.key);
        const before = within;
        within = run;
        try { return run(...given); } finally { within = before; }
      }, ...rest);
      own.key = `${ask} ${number}`;
      if (!again) due.set(own.key, delay(rest));
      return number;
    };
    window[drop] = (number) => { due.delete(`${ask} ${number}`); dropping(number); };
    return asking;
  };
  const frame = counted("requestAnimationFrame", "cancelAnimationFrame", () => 0);
  const timer = counted("setTimeout", "clearTimeout", ([delay]) => delay || 0);
  counted("requestIdleCallback", "cancelIdleCallback", () => 0);
  window.settled = async (most) => {
    let place = scrollY;
    for (let quiet = 0, left = 2000; quiet < 3; left--) {
      if (!left) throw new Error(`still put off: ${[...due].join("; ")}`);
      await new Promise((done) => { frame(() => timer(done)); timer(done, 2000); }); // a page behind others has no frames
      quiet = place !== scrollY || [...due.values()].some((delay) => delay <= most) ? 0 : quiet + 1;
      place = scrollY; // scrolling is smooth
    }
  };
})()"""
PAINTED = """(chart) => {
  const stamps = document.querySelector(`#${chart} .marks`).stamps.filter(([, , alpha]) => alpha > 0.5);
  return stamps.map(([x, y]) => [x, y]);
}"""
# Where the marks of designs belong, by the chart's axes.
BELONGING = """([chart, places]) => {
  const box = document.getElementById(chart), { x, y } = box.data[1], { xaxis, yaxis } = box._fullLayout;
  return places.map((i) => [xaxis._offset + xaxis.d2p(x[i]), yaxis._offset + yaxis.d2p(y[i])]);
}"""


def settled(page, due_ms=1000):
    """Wait until a page has nothing more put off that is due in so many milliseconds, however slow the machine is."""
    page.evaluate("(most) => window.settled(most)", due_ms)


def turn_to(page, fragment):
    """Change the address of a page, and wait until the page has taken it."""
    page.evaluate(
        """(hash) => new Promise((done) => {
          addEventListener("hashchange", () => done(), { once: true });
          const before = location.hash;
          location.hash = hash;
          if (location.hash === before) done();
        })""",
        fragment,
    )


def go(page, fragment, due_ms=100):
    """Open another state of a page by its address, and wait until all its words have followed; charts follow later."""
    turn_to(page, fragment)
    settled(page, due_ms)


def passed_by(page):
    """Scroll through a page from top to end, so that all its charts are drawn: 600 px before they come into the window."""
    height = page.evaluate("document.documentElement.scrollHeight")
    for y in range(0, height, 1600):
        page.evaluate(f"scrollTo(0, {y})")
        settled(page, 100)


def marks_shown(page, chart, places):
    """Whether a scatter chart shows the marks of the designs at these places and no others, dimmed ones aside."""
    painted = np.array(page.evaluate(PAINTED, chart)).reshape(-1, 2)
    belonging = np.array(page.evaluate(BELONGING, [chart, list(places)])).reshape(-1, 2)
    if not len(painted) or not len(belonging):
        return len(painted) == len(belonging)
    apart = np.abs(painted[:, None] - belonging[None]).max(axis=2)
    width, height = (page.locator(f"#{chart} .marks").bounding_box()[side] for side in ("width", "height"))
    inside = ((belonging > 0) & (belonging < (width, height))).all(axis=1)
    near = apart <= 1
    return near.any(axis=1).all() and near.any(axis=0)[inside].all() and len(painted) <= len(belonging)


def installed():
    """Return the path of the Chromium of the system, None without one."""
    return next((path for path in map(shutil.which, NAMES) if path), None)


@contextmanager
def chromium():
    """Headless Chromium with WebGL in software, closed afterwards."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        started = driver.chromium.launch(executable_path=installed(), args=list(FLAGS))
        yield started
        started.close()


@pytest.fixture(scope="session")
def browser():
    """Headless Chromium; without one the tests are skipped, but fail where CI is true."""
    if installed() is None:
        reason = f"no Chromium on this machine (looked for {', '.join(NAMES)}); install one to run the browser tests"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    with chromium() as started:
        yield started


@pytest.fixture(scope="session")
def axe():
    """The accessibility checker axe-core from npm; without it the test is skipped, but fails where CI is true."""
    if not AXE.is_file():
        reason = "axe-core is missing: run `npm install` in tests/browser"
        if os.environ.get("CI") == "true":
            pytest.fail(reason)
        pytest.skip(reason)
    return AXE


def barriers(page, axe, within=None):
    """What axe-core finds serious or critical on a page, or within a part of it: rule and first element of each.

    Of its whole report, what passed with it, nothing else leaves the page, and it names no elements but of violations: to
    name all and to hand them over takes longer than to look at them. What stands beside a part is taken out of the document
    meanwhile, for axe-core looks at all of that before it looks at the part.
    """
    if not page.evaluate("'axe' in window"):
        page.add_script_tag(path=str(axe))
    found = page.evaluate(
        """async (within) => {
          const away = [];
          let part = within && document.querySelector(within);
          for (; part && part !== document.body; part = part.parentElement)
            for (const other of [...part.parentElement.children])
              if (other !== part && !other.matches("script, style, link")) {
                away.push([document.createComment(""), other]);
                other.replaceWith(away.at(-1)[0]);
              }
          const { violations } = await axe.run(within ?? document, { resultTypes: ["violations"] });
          for (const [place, other] of away) place.replaceWith(other);
          return violations;
        }""",
        within,
    )
    return [(v["id"], v["nodes"][0]["html"][:200]) for v in found if v["impact"] in ("serious", "critical")]


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
        page.add_init_script(RECORD_MARKS)

    def open(self, path, fragment=""):
        """Open the file and wait until its charts stand."""
        self.page.goto(f"{path.as_uri()}{fragment}", wait_until="domcontentloaded")
        self.page.wait_for_selector("html[data-ready=charts]", timeout=60_000)
        return self.page

    def at(self, fragment):
        """Open another state of the page by its address, and wait until the page has taken it."""
        go(self.page, fragment, due_ms=1000)
        return self.page

    def strayed(self):
        """Return requests for anything but the file itself and data within it."""
        return [url for url in self.requests if not url.startswith(("file:", "data:", "blob:"))]


def fresh(context, scheme="light", width=LAPTOP["width"], height=LAPTOP["height"]):
    """Return a new page of a context, for a reader who likes it light or dark, with such a window.

    And who likes no motion: of one that glides to a sheet fifty frames are painted.
    """
    page = context.new_page()
    page.set_viewport_size({"width": width, "height": height})
    page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
    page.add_init_script(RECORD_WAITING)
    return page


@pytest.fixture(scope="session")
def standing(browser, run_folder):
    """The page of the run, opened once a session: to open it takes two seconds of processor, again beside it one."""
    context = browser.new_context(offline=True, accept_downloads=True)
    context.set_default_timeout(30_000)
    watched = Watched(fresh(context))
    watched.open(run_folder / "report.html")
    watched.opened_with, watched.failures = watched.page.inner_text("#sheet-line"), 0
    yield watched
    context.close()


@pytest.fixture(scope="session")
def context(standing):
    """Where the pages of tests are opened: they keep nothing in the browser that the next would find."""
    return standing.page.context


@pytest.fixture(scope="session")
def unguarded(browser):
    """Where pages are opened into which a script is put that their policy does not allow; none is closed before the end."""
    context = browser.new_context(bypass_csp=True)
    context.set_default_timeout(30_000)
    yield context
    context.close()


@pytest.fixture(scope="session")
def last():
    """The page that the test before has opened for itself, left open: the next may be of the same address."""
    return []


@pytest.fixture
def watched(context, last):
    """A fresh offline page for one test alone."""
    watched = Watched(fresh(context))
    yield watched
    while last:
        last.pop().close()
    last.append(watched.page)


@pytest.fixture
def looked(request, standing, run_folder):
    """That page as it was opened, for tests that change of it only what its address holds (:meth:`Watched.at`).

    Window and scrolling are set back as well. After a test that failed, which may have left anything, it is opened anew.
    """
    page = standing.page
    if standing.failures != request.session.testsfailed:
        standing.failures = request.session.testsfailed
        page.goto("about:blank")
        standing.open(run_folder / "report.html")
    page.bring_to_front()  # a page behind another is drawn when the browser has time
    page.mouse.move(0, 0)
    page.set_viewport_size(LAPTOP)
    page.emulate_media(reduced_motion="reduce")
    first = "" if page.inner_text("#sheet-line") == standing.opened_with else f"design-{standing.opened_with}"
    go(page, f"#{first}&ceiling=0.01")  # so that all is drawn anew, whatever the test before has left
    standing.at("#")
    page.evaluate("scrollTo(0, 0)")
    standing.errors.clear()
    return standing
