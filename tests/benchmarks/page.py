"""How fast the page of a run with 5,000 designs answers: ``python -m tests.benchmarks.page [RUN_FOLDER]``.

Prints the size of the page, the time until its document is ready (median of five loads), and for each control the
time from an input to the next frame as the browser's Event Timing reports it (steps of 8 ms), with the time its
main thread has worked by then, which depends less on what else the machine does. A chosen axis fades its chart in
that frame and draws it afterwards; its main-thread time holds both. What follows later is not in it: text out of
sight after 100 ms, charts when limits and prices rest.
"""

import statistics
import sys
import tempfile
from pathlib import Path

from explore.tell.page import write_page
from tests.browser.conftest import chromium
from tests.report.synthetic import designs, make_run, write_csv

DESIGNS = 5000
REST_MS = 2000  # until what follows a control at rest is done
WATCH = """() => {
  window.slowest = 0;
  new PerformanceObserver((list) => {
    for (const entry of list.getEntries()) window.slowest = Math.max(window.slowest, entry.duration);
  }).observe({ type: "event", durationThreshold: 16 });
}"""
PAINTED = "() => new Promise((done) => requestAnimationFrame(() => setTimeout(done)))"


def large_run(folder: Path) -> Path:
    """Make up a run with 5,000 designs on its front."""
    made = make_run(folder / "large", count=600)
    feasible = [row for row in designs(16_000, seed=3) if row["feasible"]]
    write_csv(made / "front.csv", feasible[:DESIGNS])
    write_page(made)
    return made


def ready_ms(browser, page_file: Path) -> float:
    """Return the median time until the document is ready, of five loads [ms]."""
    times = []
    for _ in range(5):
        page = browser.new_page()
        page.goto(page_file.as_uri(), wait_until="domcontentloaded")
        times.append(
            page.evaluate("performance.timing.domContentLoadedEventEnd - performance.timing.navigationStart")
        )
        page.close()
    return statistics.median(times)


def controls(page):
    """Yield the name of each control and an action of a reader on it, by keyboard or click.

    A control is found and focused before its action is timed: the time to find it is the driver's, not the page's.
    """

    def key(name, pressed, nth=0):
        page.locator(name).nth(nth).focus()
        page.wait_for_timeout(REST_MS / 4)
        return lambda: page.keyboard.press(pressed)

    def click(name, nth=0):
        return lambda: page.locator(name).nth(nth).click()

    yield from (("ceiling, lower", key("#ceiling-range", "PageDown")) for _ in range(4))
    yield from (("ceiling, higher", key("#ceiling-range", "PageUp")) for _ in range(4))
    yield from (("budget, lower", key("#budget-range", "PageDown")) for _ in range(2))
    yield from (("budget, higher", key("#budget-range", "PageUp")) for _ in range(2))
    yield from (("a fluid", key("#legend input:not([disabled])", "Space", nth)) for nth in (0, 1, 0, 1))
    page.evaluate("for (const box of ['weights-box', 'prices-box']) document.getElementById(box).open = true")
    arrows = ("ArrowRight", "ArrowRight", "ArrowLeft", "ArrowLeft")
    yield from (("a weight", key("#weight-rows input[type=range]", arrow)) for arrow in arrows)
    yield from (("a price", key("#price-rows input[type=range]", arrow)) for arrow in arrows)
    page.evaluate(
        "for (const box of ['weights-box', 'prices-box']) document.getElementById(box).open = false"
    )
    yield from (("axis across", key("#axis-x1", arrow)) for arrow in ("ArrowDown", "ArrowUp"))
    yield from (("axis up", key("#axis-y", arrow)) for arrow in ("ArrowDown", "ArrowUp"))
    yield from (("select a row", click("#designs tbody input")) for _ in range(4))
    yield from (
        ("sort the table", click(f"#designs th[data-name={name}] button")) for name in ("cost_EUR", "fluid")
    )


def measure(page):
    """Yield control, time to the next frame [ms] and main-thread time [ms] of each action."""
    session = page.context.new_cdp_session(page)
    session.send("Performance.enable", {"timeDomain": "threadTicks"})

    def worked():
        found = {one["name"]: one["value"] for one in session.send("Performance.getMetrics")["metrics"]}
        return 1000 * found["TaskDuration"]

    page.evaluate(WATCH)
    for name, act in controls(page):
        page.evaluate("window.slowest = 0")
        before = worked()
        act()
        page.evaluate(PAINTED)
        spent = worked() - before
        page.wait_for_timeout(REST_MS)
        yield name, page.evaluate("window.slowest"), spent


def main(folders: list[str]) -> None:
    """Measure the page of a run, of a made-up one by default."""
    with tempfile.TemporaryDirectory() as scratch, chromium() as browser:
        run = Path(folders[0]) if folders else large_run(Path(scratch))
        file = run / "report.html"
        print(
            f"page {file.stat().st_size / 1e6:.2f} MB; document ready after {ready_ms(browser, file):.0f} ms"
        )
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        page.goto(file.as_uri())
        page.wait_for_selector("html[data-ready=charts]")
        page.locator("#controls").scroll_into_view_if_needed()
        page.wait_for_timeout(REST_MS)
        found: dict[str, list[tuple[float, float]]] = {}
        for name, frame, spent in measure(page):
            found.setdefault(name, []).append((frame, spent))
        print(f"{'control':16s} {'to next frame, ms':>24s} {'main thread, ms':>24s}")
        for name, pairs in found.items():
            frames, works = (sorted(column) for column in zip(*pairs, strict=True))
            print(f"{name:16s} {_span(frames):>24s} {_span(works):>24s}")


def _span(values: list[float]) -> str:
    return f"median {statistics.median(values):.0f}, most {values[-1]:.0f}"


if __name__ == "__main__":
    main(sys.argv[1:])
