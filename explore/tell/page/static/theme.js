// Colours and marks: each fluid has a mark of its own, so colour is never the only code.

import { THIN_SPACE } from "./numbers.js";

// As many as there are marks, so that two fluids share neither; those that are seen most come first and differ most.
const PALETTE = {
  light: [
    "#0b6bb0",
    "#c8500a",
    "#00805d",
    "#a33e86",
    "#8a6a00",
    "#2f8fc4",
    "#454545",
    "#6a4fc2",
    "#780c00",
    "#a88490",
    "#6c9c00",
    "#54246c",
    "#004800",
    "#e46084",
    "#0c3090",
    "#b46cd8",
    "#780048",
    "#6c6090",
    "#844854",
    "#7884f0",
    "#84906c",
    "#b43048",
    "#00486c",
    "#3c6c78",
  ],
  dark: [
    "#5cb2f2",
    "#ff8f52",
    "#3ccf9f",
    "#ee8fd0",
    "#e3c14a",
    "#9fe0ff",
    "#d9d9d9",
    "#b8a6ff",
    "#6c6c54",
    "#b43c54",
    "#6c54c0",
    "#48900c",
    "#00789c",
    "#b49c84",
    "#b46000",
    "#9c6c9c",
    "#90c03c",
    "#a8900c",
    "#549c90",
    "#f06c84",
    "#6084f0",
    "#007854",
    "#b46cd8",
    "#fcb4a8",
  ],
};
// Outlines on a grid of 16.
export const MARKS = {
  circle: "M8 2.5a5.5 5.5 0 1 0 0 11a5.5 5.5 0 1 0 0-11z",
  square: "M3 3h10v10H3z",
  diamond: "M8 1.5L14.5 8L8 14.5L1.5 8z",
  "triangle-up": "M8 2L14.5 13H1.5z",
  "triangle-down": "M8 14L1.5 3h13z",
  cross: "M6 2h4v4h4v4h-4v4H6v-4H2V6h4z",
  x: "M4.5 1.7L8 5.2l3.5-3.5l2.8 2.8L10.8 8l3.5 3.5l-2.8 2.8L8 10.8l-3.5 3.5l-2.8-2.8L5.2 8L1.7 4.5z",
  star: "M8 1.2l2 4.7l5 .4l-3.8 3.3l1.2 4.9L8 11.9l-4.4 2.6l1.2-4.9L1 6.3l5-.4z",
  pentagon: "M8 1.5L14.6 6.3L12.1 14H3.9L1.4 6.3z",
  hexagon: "M4.7 2h6.6l3.3 6l-3.3 6H4.7L1.4 8z",
  hourglass: "M2.5 2h11L9 8l4.5 6h-11L7 8z",
  bowtie: "M2 2.5L8 7l6-4.5v11L8 9l-6 4.5z",
  "star-diamond": "M8 .6Q9.2 6.8 15.4 8Q9.2 9.2 8 15.4Q6.8 9.2 .6 8Q6.8 6.8 8 .6z",
};

export const darkWanted = matchMedia("(prefers-color-scheme: dark)");
export const palette = () => PALETTE[darkWanted.matches && !onPaper ? "dark" : "light"];
const UNSEEN_MS = 100;
let onPaper = false;
export const printing = () => onPaper;

export function setPrinting(on) {
  onPaper = on;
  document.documentElement.classList.toggle("printing", on);
}

export const css = (name) => getComputedStyle(document.documentElement).getPropertyValue(name).trim();

// A colour of the palette, "#0b6bb0", that lets through what lies behind.
export const sheer = (colour, alpha) =>
  `rgba(${[1, 3, 5].map((at) => parseInt(colour.slice(at, at + 2), 16)).join(", ")}, ${alpha})`;

export function makeFluids(run) {
  const known = new Map(run.fluids.map((fluid) => [fluid.name, fluid]));
  const of = (name) => known.get(name) || { name, title: name, short: name, library: "", colour: 6, symbol: "circle" };
  return {
    of,
    colour: (name) => palette()[of(name).colour],
    symbol: (name) => of(name).symbol,
    title: (name) => of(name).title,
    short: (name) => of(name).short,
  };
}

export function drawMark(element, colour, symbol) {
  const open = symbol.endsWith("-open");
  const path = svg("path", {
    d: MARKS[symbol.replace("-open", "")] || MARKS.circle,
    fill: open ? "none" : "currentColor",
    stroke: "currentColor",
    "stroke-width": open ? 2 : 0,
  });
  const picture = svg("svg", { viewBox: "0 0 16 16", width: 14, height: 14, "aria-hidden": "true" });
  picture.append(path);
  element.style.color = palette()[colour];
  element.replaceChildren(picture);
}

// Draws the marks that stand in the page as written, and again when the colours change.
export function paintMarks() {
  document
    .querySelectorAll(".mark[data-colour]")
    .forEach((mark) => drawMark(mark, Number(mark.dataset.colour), mark.dataset.symbol));
}

export function svg(name, attributes = {}, ...children) {
  const element = document.createElementNS("http://www.w3.org/2000/svg", name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  element.append(...children);
  return element;
}

export function html(name, attributes = {}, ...children) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key === "class") element.className = value;
    else element.setAttribute(key, value);
  }
  element.append(...children);
  return element;
}

// The layout every chart starts from; `more` is laid over it.
export function layout(more = {}) {
  const ink = css("--ink"),
    line = css("--line");
  const axis = {
    gridcolor: line,
    zerolinecolor: line,
    linecolor: css("--muted"),
    automargin: true,
    ticks: "outside",
    separatethousands: true,
    exponentformat: "none",
    tickcolor: line,
    title: { standoff: 8, ...(onPaper ? { font: { size: 9 } } : {}) },
  };
  const base = {
    paper_bgcolor: "rgba(0,0,0,0)",
    plot_bgcolor: "rgba(0,0,0,0)",
    showlegend: false,
    font: { family: css("--sans"), size: onPaper ? 10 : 12.5, color: ink },
    margin: { l: 56, r: 14, t: 14, b: 48 },
    modebar: { bgcolor: "rgba(0,0,0,0)", color: css("--muted"), activecolor: css("--accent") },
    hoverlabel: {
      bgcolor: css("--panel"),
      bordercolor: line,
      font: { color: ink, family: css("--sans"), size: 12.5 },
      align: "left",
    },
    separators: "." + THIN_SPACE,
  };
  const merged = { ...base, ...more };
  for (const key of Object.keys(merged))
    if (/^[xy]axis\d*$/.test(key)) {
      merged[key] = { ...axis, ...merged[key], title: { ...axis.title, ...(merged[key].title || {}) } };
    }
  if (!merged.grid) for (const key of ["xaxis", "yaxis"]) merged[key] = merged[key] || axis;
  return merged;
}

export const QUIET = { displaylogo: false, responsive: true, displayModeBar: false };
export const TOOLS = {
  displaylogo: false,
  responsive: true,
  displayModeBar: true,
  plotlyServerURL: "",
  modeBarButtonsToRemove: [
    "sendChartToCloud",
    "toImage",
    "autoScale2d",
    "hoverClosestCartesian",
    "hoverCompareCartesian",
    "toggleSpikelines",
  ],
};

// Plotly reads a little HTML in texts; text from files must stay text.
export const plain = (text) => String(text).replace(/&/g, "&amp;").replace(/</g, "&lt;").replace(/>/g, "&gt;");

export const hasWebgl = (() => {
  try {
    return Boolean(document.createElement("canvas").getContext("webgl"));
  } catch {
    return false;
  }
})();

// Runs `draw` once the element comes near the window, and when the returned function is called: at once while the
// element is near, else when it comes near again. What is far away costs nothing while the reader moves a limit.
export function whenNear(element, draw) {
  let near = false,
    stale = true;
  const now = () => {
    stale = false;
    draw();
  };
  new IntersectionObserver(
    (entries) => {
      near = entries.at(-1).isIntersecting;
      if (near && stale) now();
    },
    { rootMargin: "600px" },
  ).observe(element);
  return (force = false) => {
    if (near || force) now();
    else stale = true;
  };
}

// Runs `write` at once while the element is in the window, else a moment later, once for many calls: what is not seen does not
// delay the frame that is waited for.
export function seenFirst(element, write) {
  let seen = true,
    waiting = false;
  new IntersectionObserver((entries) => {
    seen = entries.at(-1).isIntersecting;
  }).observe(element);
  return () => {
    if (seen) return write();
    if (waiting) return;
    waiting = true;
    setTimeout(() => {
      waiting = false;
      write();
    }, UNSEEN_MS);
  };
}

// Runs after the browser has painted what is already changed.
export const afterPaint = (run) => requestAnimationFrame(() => setTimeout(run));

export const whenIdle = (run) =>
  window.requestIdleCallback ? requestIdleCallback(run, { timeout: 1500 }) : setTimeout(run);
