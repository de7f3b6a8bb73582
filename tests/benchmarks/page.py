"""How fast the page of a run with 5,000 designs answers: ``python -m tests.benchmarks.page [RUN_FOLDER]``.

Prints the size of the page, the times until its text and its charts stand (median of five loads), and for each control,
with both scatter charts in the window, the median and the most of several actions of

- script: what the page's scripts took until the frame that answers the input was painted;
- main thread: all its work by then, with layout and painting; both are processor time, which other work on the machine
  lengthens less than the clock's;
- to frame: the time by the clock from the input to that frame, with all waiting for the machine;
- later: main-thread work in the two seconds after it.

The frame that answers is the next one after the input; for a chosen axis it is the one with the last of its charts drawn
anew, since the next one only fades them. What is done later, and never in that frame: marks at moved prices (the charts
fade, and the frame after has them), axes of repriced charts when prices rest, rings and names in the scatter charts and the
link when limits rest (300 and 400 ms), curves and small charts of the fluids when the browser is idle after 400 ms, texts
and charts out of the window after 100 ms or when they come near.
"""

import statistics
import sys
import tempfile
from pathlib import Path

from explore.tell.page import write_page
from tests.browser.conftest import chromium
from tests.report.synthetic import designs, make_run, write_csv

DESIGNS = 5000
LEAST_BAR_G, MOST_BAR_G = 1.0, 15.0  # of the made-up front
REST_MS = 2000  # until what follows a control at rest is done
READY = ("text", "charts")
MARK_READY = """new MutationObserver(() => {
  const { ready } = document.documentElement.dataset;
  if (ready) (window.readyAt ??= {})[ready] = performance.now();
}).observe(document, { attributes: true, subtree: true, attributeFilter: ["data-ready"] });"""
WATCH = """() => {
  const painted = (then) => requestAnimationFrame(() => setTimeout(then));
  addEventListener("keydown", ({ timeStamp }) => {
    if (window.answered) return;
    const look = () => {
      if (window.charts && document.querySelector(".busy")) painted(look);
      else window.done(performance.now() - timeStamp);
    };
    window.answered = new Promise((done) => { window.done = done; });
    painted(look);
  }, true);
}"""


def large_run(folder: Path) -> Path:
    """Make up a run with 5,000 designs, none of which beats another: better in work and cost is worse in pressure."""
    made = make_run(folder / "large", count=600)
    feasible = [row for row in designs(16_000, seed=3) if row["feasible"]][:DESIGNS]
    work, cost = (_from_0_to_1([row[name] for row in feasible]) for name in ("work_per_litre_kJ", "cost_EUR"))
    for row, more, dearer in zip(feasible, work, cost, strict=True):
        row["peak_pressure_bar_g"] = LEAST_BAR_G + (MOST_BAR_G - LEAST_BAR_G) * (more + 1 - dearer) / 2
    write_csv(made / "front.csv", feasible)
    write_page(made)
    return made


def _from_0_to_1(values: list[float]) -> list[float]:
    low, high = min(values), max(values)
    return [(value - low) / (high - low) for value in values]


def ready_ms(browser, page_file: Path) -> list[float]:
    """Return the median times until the text and until the charts stand, of five loads [ms]."""
    times = []
    for _ in range(5):
        page = browser.new_page()
        page.add_init_script(MARK_READY)
        page.goto(page_file.as_uri())
        page.wait_for_selector("html[data-ready=charts]")
        found = page.evaluate("window.readyAt")
        times.append([found[name] for name in READY])
        page.close()
    return [statistics.median(column) for column in zip(*times, strict=True)]


def controls(page):
    """Yield the name of each control and an action of a reader on it, by keyboard.

    A control is found and focused before its action is timed: the time to find it is the driver's, not the page's.
    """

    def key(name, pressed, nth=0):
        page.locator(name).nth(nth).evaluate("(control) => control.focus({ preventScroll: true })")
        page.wait_for_timeout(REST_MS / 4)
        return lambda: page.keyboard.press(pressed)

    def there_and_back(name, control, there, back, times):
        return ((name, key(control, pressed)) for pressed in [there] * times + [back] * times)

    yield from there_and_back("ceiling", "#ceiling-range", "PageDown", "PageUp", 6)
    yield from there_and_back("budget", "#budget-range", "PageDown", "PageUp", 4)
    yield from (("a fluid", key("#legend input:not([disabled])", "Space", nth)) for nth in (0, 1, 2, 0, 1, 2))
    for box, name, control in (
        ("weights-box", "a weight", "#weight-rows input[type=range]"),
        ("prices-box", "a price", "#price-rows input[type=range]"),
    ):
        page.evaluate(f"document.getElementById('{box}').open = true")
        in_window(page)
        yield from there_and_back(name, control, "ArrowRight", "ArrowLeft", 4)
        page.evaluate(f"document.getElementById('{box}').open = false")
        in_window(page)
    yield from there_and_back("axis across, a chart", "#axis-x1", "ArrowDown", "ArrowUp", 4)
    yield from there_and_back("axis up, both charts", "#axis-y", "ArrowDown", "ArrowUp", 4)
    yield from (("select a row", key("#designs tbody input", "Space", nth)) for nth in (0, 1, 2, 0, 1, 2))
    headings = ("cost_EUR", "fluid") * 2
    yield from (
        ("sort the table", key(f"#designs th[data-name={name}] button", "Enter")) for name in headings
    )


def in_window(page):
    """Bring both scatter charts into the window."""
    page.evaluate("document.querySelector('.pair').scrollIntoView({ block: 'end' })")
    page.wait_for_timeout(REST_MS)


def measure(page):
    """Yield control, and of each action script, main-thread work, time to the frame and work after it [ms]."""
    session = page.context.new_cdp_session(page)
    session.send("Performance.enable", {"timeDomain": "threadTicks"})

    def worked():
        found = {
            one["name"]: 1000 * one["value"] for one in session.send("Performance.getMetrics")["metrics"]
        }
        return found["ScriptDuration"], found["TaskDuration"] - found["DevToolsCommandDuration"]

    page.evaluate(WATCH)
    for name, act in controls(page):
        page.evaluate(f"window.answered = null; window.charts = {str(name.startswith('axis')).lower()}")
        before = worked()
        act()
        frame = page.evaluate("window.answered")
        then = worked()
        page.wait_for_timeout(REST_MS)
        yield name, (*(b - a for a, b in zip(before, then, strict=True)), frame, worked()[1] - then[1])


def main(folders: list[str]) -> None:
    """Measure the page of a run, of a made-up one by default."""
    with tempfile.TemporaryDirectory() as scratch, chromium() as browser:
        run = Path(folders[0]) if folders else large_run(Path(scratch))
        file = run / "report.html"
        text, charts = ready_ms(browser, file)
        size = file.stat().st_size / 1e6
        print(f"page {size:.2f} MB; text stands after {text:.0f} ms, charts after {charts:.0f} ms")
        page = browser.new_page(viewport={"width": 1440, "height": 900})
        page.goto(file.as_uri())
        page.wait_for_selector("html[data-ready=charts]")
        in_window(page)
        found: dict[str, list[tuple[float, ...]]] = {}
        for name, spent in measure(page):
            found.setdefault(name, []).append(spent)
        heads = ("script", "main thread", "to frame", "later")
        print(f"{'median / most, ms':22s} {'N':>3s}" + "".join(f"{head:>15s}" for head in heads))
        for name, times in found.items():
            spans = (
                f"{statistics.median(column):.0f} / {max(column):.0f}" for column in zip(*times, strict=True)
            )
            print(f"{name:22s} {len(times):3d}" + "".join(f"{span:>15s}" for span in spans))


if __name__ == "__main__":
    main(sys.argv[1:])
