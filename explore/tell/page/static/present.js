// The presenting view: one screen at a time over the page, moved by keys, its number in the address.

import { TITLES, makeScreens } from "./screens.js";
import { askedFor, given } from "./sentences.js";
import { html, setPrinting } from "./theme.js";

const LINGER_MS = 5000; // the charting library may still be at work on a chart when its screen is gone
const PAGE_SHARE = 0.8; // of the height of the window that a Page key moves a higher screen by
const STEPS = { ArrowRight: 1, PageDown: 1, ArrowLeft: -1, PageUp: -1 };

export function makePresent(run, designs, fluids, state) {
  const byId = (id) => document.getElementById(id);
  const root = byId("present"),
    place = byId("screens"),
    opener = byId("present-open");
  const behind = [...document.querySelectorAll("body > :not(#present, script, noscript)")];
  const screens = makeScreens(run, designs, fluids, state);
  let onPaper = false;

  const left = () => root.scrollHeight - root.clientHeight - root.scrollTop;
  const sign = () => {
    byId("present-more").hidden = left() < 4;
  };

  // A screen higher than the window is read to its end first.
  function turn(step) {
    if (step > 0 ? left() < 4 : root.scrollTop < 4) return false;
    root.scrollBy({ top: step * PAGE_SHARE * root.clientHeight });
    return true;
  }

  const within = (number) => Math.max(0, Math.min(TITLES.length, Math.round(number)));
  const go = (number) => state.setScreen(Math.max(1, within(number)));

  function sectionOf({ title, statement, notes, below = [], words }, k) {
    const heading = html("h2", { tabindex: "-1", id: `screen-${k + 1}` }, statement);
    const box = html("div", { class: "screen-picture" });
    if (words) {
      box.setAttribute("role", "img");
      box.setAttribute("aria-label", words);
    }
    const note = (one) => html("p", { class: "screen-note" }, ...(Array.isArray(one) ? one : [one]));
    const section = html(
      "section",
      { class: "screen", "aria-labelledby": `screen-${k + 1}`, "data-screen": String(k + 1) },
      html("p", { class: "screen-title" }, `${k + 1} ${title}`),
      heading,
      ...notes.filter((one) => one.length).map(note),
      html(
        "div",
        { class: "screen-body" },
        ...(below.length ? [html("div", { class: "screen-below" }, ...below)] : []),
        box,
      ),
    );
    return { section, heading, box };
  }

  function clear() {
    const gone = [...place.querySelectorAll(".screen-picture")];
    place.replaceChildren();
    setTimeout(() => gone.forEach((box) => box.data && Plotly.purge(box)), LINGER_MS);
  }

  // Puts these screens up, all of them on paper, and returns the first heading.
  function put(numbers) {
    clear();
    const made = screens();
    const built = numbers.map((number) => ({ ...sectionOf(made[number - 1], number - 1), made: made[number - 1] }));
    place.append(...built.map(({ section }) => section));
    const draw = () => built.forEach(({ box, made: one }) => box.isConnected && one.picture?.(box));
    built.forEach(({ box, made: one }) => {
      box.hidden = !one.picture;
    });
    if (onPaper) draw();
    else if (window.Plotly) requestAnimationFrame(draw);
    return built[0].heading;
  }

  // Follows the state: opens, closes, or shows what has changed.
  function update() {
    if (onPaper) return;
    const open = state.screen > 0,
      opened = open && root.hidden;
    root.hidden = !open;
    document.documentElement.classList.toggle("presenting", open);
    behind.forEach((element) => {
      element.inert = open;
    });
    if (!open) {
      clear();
      return;
    }
    const asked = askedFor(run, state, fluids);
    byId("present-where").textContent = `${run.title}${asked ? ` · ${given(asked)}` : ""}`;
    byId("present-place").textContent = `${state.screen} of ${TITLES.length}`;
    byId("present-back").disabled = state.screen === 1;
    byId("present-next").disabled = state.screen === TITLES.length;
    const heading = put([state.screen]);
    root.scrollTop = 0;
    if (opened || !root.contains(document.activeElement) || document.activeElement.disabled) heading.focus();
    return heading;
  }

  function changed() {
    const closed = !state.screen && !root.hidden,
      heading = update();
    if (closed) opener.focus({ preventScroll: true });
    else heading?.focus({ preventScroll: true });
  }

  function key(event) {
    if (event.altKey && event.code === "KeyP" && !event.ctrlKey && !event.metaKey) {
      event.preventDefault();
      state.setScreen(state.screen ? 0 : 1);
    } else if (!state.screen || event.ctrlKey || event.metaKey || event.altKey) return;
    else if (event.key === "Escape") state.setScreen(0);
    else if (event.key in STEPS) {
      const step = STEPS[event.key];
      if (!event.key.startsWith("Page") || !turn(step)) go(state.screen + step);
    } else if (event.key === "Home") go(1);
    else if (event.key === "End") go(TITLES.length);
    else if (event.key === "Tab") return keepWithin(event);
    else return;
    event.preventDefault();
  }

  // What lies behind is inert; Tab goes round within the view and not out to the browser's own bar.
  function keepWithin(event) {
    const stops = [...root.querySelectorAll("button:not(:disabled), a[href], summary")],
      at = stops.indexOf(document.activeElement),
      last = event.shiftKey ? 0 : stops.length - 1;
    if (at !== last && at >= 0) return;
    if (at < 0 && !event.shiftKey) return;
    event.preventDefault();
    stops.at(event.shiftKey ? -1 : 0).focus();
  }

  // The screens are printed only by their own button; Ctrl+P prints the page, whatever is on view.
  function print() {
    onPaper = true;
    window.print();
  }

  function paper(on) {
    if (!onPaper) return;
    document.documentElement.classList.toggle("screens-printing", on);
    if (on) {
      setPrinting(true);
      put(TITLES.map((_, k) => k + 1));
    } else {
      onPaper = false;
      setPrinting(false);
      changed();
    }
  }

  function listen() {
    opener.hidden = false;
    opener.addEventListener("click", () => go(1));
    byId("present-back").addEventListener("click", () => go(state.screen - 1));
    byId("present-next").addEventListener("click", () => go(state.screen + 1));
    byId("present-close").addEventListener("click", () => state.setScreen(0));
    byId("present-print").addEventListener("click", print);
    document.addEventListener("keydown", key);
    root.addEventListener("scroll", sign);
    const sizes = new ResizeObserver(sign);
    [root, place].forEach((element) => sizes.observe(element));
    window.addEventListener("beforeprint", () => paper(true));
    window.addEventListener("afterprint", () => paper(false));
    state.on("screen", changed);
    for (const what of ["limits", "prices", "shortlist", "weights"]) state.on(what, () => state.screen && update());
  }

  return { listen, update, within };
}
