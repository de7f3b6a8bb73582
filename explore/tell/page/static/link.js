// The address of the page holds all that the reader chose, #design-17&ceiling=6&off=R134a, so that a link shows the same
// and the browser's back and forward go from one choice to another.

import { LETTERS } from "./words.js";

const REST_MS = 400,
  MOST_SELECTED = 300;

// A link that was cut in the mail must not keep the page from opening.
function decoded(text) {
  try {
    return decodeURIComponent(text);
  } catch {
    return text;
  }
}

export function makeLink(run, designs, state, act) {
  let anchor = "",
    last = location.hash,
    resting = 0;
  const aboard = new Set(run.fluids.filter((fluid) => fluid.aboard).map(({ name }) => name));

  const list = (names) => names.map(encodeURIComponent).join(",");
  const items = (text) => (text ? text.split(",").map(decoded) : []);

  function written() {
    const pairs = [];
    const add = (key, text) => text !== "" && pairs.push(`${key}=${text}`);
    for (const key of ["ceiling", "budget"]) if (state[key] !== Infinity) add(key, String(state[key]));
    add("words", encodeURIComponent(state.words.trim()));
    add("off", list([...state.off]));
    if (state.selected && state.selected.size <= MOST_SELECTED)
      add("selected", list([...state.selected].map(designs.nameOf)));
    add("shortlist", list(state.shortlist.map(designs.nameOf)));
    if (state.screen) add("present", String(state.screen));
    for (const [key, value] of Object.entries(state.prices)) add(`price.${key}`, String(value));
    for (const [figure, value] of Object.entries(state.weights)) add(`weight.${figure}`, String(value));
    return anchor || pairs.length ? `#${[anchor, ...pairs].join("&")}` : "";
  }

  function push() {
    clearTimeout(resting);
    const hash = written();
    if (hash === last) return;
    last = hash;
    history.pushState(null, "", hash || location.pathname + location.search);
  }

  // A slider passes many values: only the one on which it rests becomes a step of the history.
  function note() {
    if (!anchor.startsWith("design-")) anchor = "";
    clearTimeout(resting);
    resting = setTimeout(push, REST_MS);
  }

  function read() {
    const parts = location.hash.replace(/^#/, "").split("&");
    // who writes an address by hand may begin it with a choice: a place has no equals sign
    const place = parts[0].includes("=") ? "" : parts.shift(),
      pairs = parts;
    const found = new Map(pairs.map((pair) => [pair.slice(0, pair.indexOf("=")), pair.slice(pair.indexOf("=") + 1)]));
    const number = (key) => (Number.isFinite(Number(found.get(key) || NaN)) ? Number(found.get(key)) : Infinity);
    const places = (key) => [
      ...new Set(
        items(found.get(key))
          .map(designs.placeOf)
          .filter((i) => i !== null),
      ),
    ];
    const numbersOf = (start) =>
      Object.fromEntries(
        [...found]
          .filter(([key, text]) => key.startsWith(start) && text !== "" && Number.isFinite(Number(text)))
          .map(([key, text]) => [key.slice(start.length), Number(text)]),
      );
    return {
      anchor: place,
      limits: {
        ceiling: number("ceiling"),
        budget: number("budget"),
        words: decoded(found.get("words") || ""),
        off: new Set(items(found.get("off")).filter((name) => aboard.has(name))),
      },
      selected: places("selected"),
      shortlist: places("shortlist").slice(0, LETTERS.length),
      screen: Number.isFinite(number("present")) ? number("present") : 0,
      prices: numbersOf("price."),
      weights: numbersOf("weight."),
    };
  }

  const designOf = (name) => (name.startsWith("design-") ? designs.placeOf(name.slice(7)) : null);

  // Puts the page into the state of its address, and draws of it only what is not so yet: a sheet takes as long as all else.
  // `jump` is whether to go to the place it names.
  function restore(jump = true) {
    clearTimeout(resting);
    last = location.hash;
    const found = read();
    anchor = found.anchor;
    act.restore(found);
    const design = designOf(anchor);
    if (state.screen) jump = false;
    if (design !== null) {
      if (design !== state.design) state.openDesign(design);
      if (jump) act.showSheet();
    } else if (jump && anchor && location.hash.includes("&")) document.getElementById(anchor)?.scrollIntoView();
  }

  function visit(i) {
    anchor = `design-${designs.nameOf(i)}`;
    state.setScreen(0, "link");
    push();
    state.openDesign(i);
    act.showSheet();
  }

  // Links within the page keep what the reader chose.
  function follow(event) {
    const link = event.target.closest?.('a[href^="#"]');
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    const name = link.getAttribute("href").slice(1).split("&")[0],
      design = designOf(name);
    if (design !== null) {
      event.preventDefault();
      visit(design);
    } else if (written().includes("&")) {
      event.preventDefault();
      anchor = name;
      push();
      document.getElementById(name)?.scrollIntoView();
    } else anchor = name;
  }

  function listen() {
    document.addEventListener("click", follow);
    for (const what of ["limits", "selection", "prices", "shortlist", "weights"]) state.on(what, note);
    state.on("screen", (origin) => origin !== "link" && push());
    const moved = () => {
      if (location.hash !== last) restore();
    };
    window.addEventListener("popstate", moved);
    window.addEventListener("hashchange", moved);
  }

  return { restore, visit, listen, read };
}
