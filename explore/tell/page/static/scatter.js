// The two linked scatter charts. The chart library draws axes, names and rings, finds what is under the pointer and within a
// box; the marks themselves are painted (marks.js). On paper and in saved pictures the library draws the marks as well.

import { makeAxes } from "./axes.js";
import { titleOf } from "./designs.js";
import { hoverText } from "./hover.js";
import { makeLabels, ownDesigns } from "./labels.js";
import { makeMarks } from "./marks.js";
import { TOOLS, afterPaint, css, layout, plain, printing, seenFirst, sheer, whenIdle } from "./theme.js";

const MARK_SIZE = 9,
  BACK = { size: 4, alpha: 0.6 },
  OWN_SIZE = 15,
  OPACITY = 0.85,
  DIM = 0.12,
  REST_MS = 300,
  BESIDE_AXES = 70; // what titles and numbers of the axes take of a chart's width and height [px]

// Calls back when a box has come to another size, and not for the size it has.
function onResize(box, changed) {
  const size = () => `${box.clientWidth} ${box.clientHeight}`;
  let known = size();
  new ResizeObserver(() => {
    const now = size();
    if (now === known) return;
    known = now;
    changed();
  }).observe(box);
}

// On paper a chart is lower than most titles are long: the unit stands on a line of its own.
const inTwo = (title) => title.replace(/, (?=[^,]*$)/, ",<br>");

export function makeScatter(run, designs, fluids, state) {
  const boxes = ["scatter-1", "scatter-2"].map((id) => document.getElementById(id));
  const axesOf = makeAxes(run, designs, (which) => drawSoon(which));
  const everything = Array.from({ length: designs.count }, (_, i) => i);
  const small = matchMedia("(max-width: 720px)"),
    own = ownDesigns(run);
  const { rings, labels } = makeLabels(run, designs, state, own, {
    rangeOf,
    room: () => [boxes[0].clientWidth - BESIDE_AXES, boxes[0].clientHeight - BESIDE_AXES],
    size: MARK_SIZE,
    ownSize: OWN_SIZE,
    small,
  });
  const visible = new Uint8Array(designs.count),
    names = [...new Set(designs.fluids)],
    places = new Map(names.map((name, k) => [name, k])),
    kinds = Uint16Array.from(designs.fluids, (name) => places.get(name)),
    alike = new Uint8Array(designs.total); // of designs that all look the same
  const waiting = boxes.map(() => false),
    drawn = boxes.map(() => null), // figures across and up
    drawing = boxes.map(() => 0), // how often the library is at it
    marks = boxes.map(makeMarks);
  let fitted = false,
    fits = 0,
    resting = 0,
    labelling = 0,
    moved = false, // costs, since the charts were drawn
    coming = false; // marks where costs have moved to

  // Marks that are painted are here for the pointer alone, so the library draws one of them, and that unseen.
  const UNSEEN = { size: MARK_SIZE, opacity: 0, maxdisplayed: 1 };

  function background(x, y, whole) {
    const shown = state.others ? state.visibleOthers : [],
      xs = designs.numbers(x),
      ys = designs.numbers(y);
    return {
      type: "scatter",
      mode: "markers",
      uid: "behind",
      x: shown.map((i) => xs[i]),
      y: shown.map((i) => ys[i]),
      hoverinfo: "skip",
      marker: whole ? { size: BACK.size, color: sheer(css("--faint"), BACK.alpha), opacity: 1 } : UNSEEN,
    };
  }

  // The library's own look of what is selected is switched off: both charts dim alike.
  function front(x, y, whole) {
    const as = { marker: { opacity: whole ? 1 : 0 } },
      [xs, ys] = [designs.numbers(x), designs.numbers(y)];
    const trace = {
      type: "scatter",
      mode: "markers",
      uid: "front",
      hoverinfo: "text",
      selected: as,
      unselected: as,
    };
    if (whole) return { ...trace, ...left(xs, ys) };
    const of = (values) => values.subarray(0, designs.count);
    return { ...trace, x: of(xs), y: of(ys), customdata: everything, marker: UNSEEN };
  }

  // What is left of the front, for the library to draw.
  function left(xs, ys) {
    const rows = state.visible,
      alpha = (i) => (dimmed(i) ? DIM : OPACITY);
    return {
      x: rows.map((i) => xs[i]),
      y: rows.map((i) => ys[i]),
      marker: {
        size: MARK_SIZE,
        opacity: 1,
        color: rows.map((i) => sheer(fluids.colour(designs.fluids[i]), alpha(i))),
        symbol: rows.map((i) => fluids.symbol(designs.fluids[i])),
        line: { width: 0 },
      },
    };
  }

  const dimmed = (i) => state.selected !== null && !state.selected.has(i);

  const ownMarker = () => ({
    size: OWN_SIZE,
    symbol: "star-diamond",
    color: css("--accent"),
    line: { width: 1.5, color: css("--ink") },
  });

  function ownMarks(x, y, whole) {
    return {
      type: "scatter",
      mode: "markers",
      uid: "own",
      x: own.values(x),
      y: own.values(y),
      text: own.names.map(plain),
      hovertext: own.names.map((name) => `Your own: ${plain(name)}`),
      hoverinfo: "text",
      marker: whole ? ownMarker() : UNSEEN,
    };
  }

  // The axes span the front, and what else is to be seen.
  function rangeOf(axis) {
    const values = designs.numbers(axis);
    let low = Infinity,
      high = -Infinity;
    const take = (value) => {
      if (!Number.isFinite(value)) return;
      if (value < low) low = value;
      if (value > high) high = value;
    };
    for (let i = fitted ? designs.onFront : 0; i < designs.onFront; i++) take(values[i]);
    for (const i of state.visible) take(values[i]);
    own.values(axis).forEach(take);
    const edge = 0.05 * (high - low || Math.abs(high) || 1);
    return Number.isFinite(low) ? [low - edge, high + edge] : [0, 1];
  }

  // What the library is given: whole where it is to draw the marks itself.
  const traces = (k, whole) => [background, front, ownMarks].map((make) => make(...axesOf(k), whole));
  const pictured = (box) => (boxes.includes(box) ? traces(boxes.indexOf(box), true) : null);

  function drawOne(k) {
    const [x, y] = axesOf(k),
      picks = state.picks();
    drawn[k] = [x, y];
    drawing[k]++;
    const done = Plotly.react(
      boxes[k],
      traces(k, printing()),
      layout({
        xaxis: { title: { text: titleOf(run, x) }, range: rangeOf(x) },
        yaxis: { title: { text: printing() ? inTwo(titleOf(run, y)) : titleOf(run, y) }, range: rangeOf(y) },
        hovermode: "closest",
        annotations: labels(x, y, picks),
        shapes: rings(x, y, picks),
        dragmode: small.matches ? false : "select",
        uirevision: `${x} ${y} ${fits}`,
      }),
      TOOLS,
    );
    done.finally(() => drawing[k]--);
  }

  function draw() {
    note();
    boxes.forEach((_, k) => drawOne(k));
  }

  // Shows that the charts are about to change, lets the browser paint that, then draws one after the other.
  function drawSoon(which = boxes.map((_, k) => k)) {
    for (const k of which) {
      boxes[k].classList.add("busy");
      if (waiting[k]) continue;
      waiting[k] = true;
      afterPaint(() => {
        waiting[k] = false;
        drawOne(k);
        boxes[k].classList.remove("busy");
      });
    }
  }

  function note() {
    visible.fill(0);
    state.visible.forEach((i) => {
      visible[i] = 1;
    });
  }

  // What the pointer may find, and what it is told of it, both asked for when the pointer comes. A hidden mark must not be
  // found: a radius that is no number is never the nearest. The library sets the radius of what it draws itself, whenever a
  // box has selected, and is not heeded.
  function reach(k) {
    const points = boxes[k].calcdata[1];
    if (printing() || points.length !== designs.count || "htx" in points[0]) return;
    points.forEach((point, i) => {
      Object.defineProperties(point, {
        mrc: { get: () => (visible[i] ? MARK_SIZE / 2 : "hidden"), set: () => {} },
        htx: { get: () => hoverText(run, designs, fluids, i) },
      });
    });
  }

  function paint(k) {
    if (printing() || !drawn[k]) return;
    const [x, y] = drawn[k], // a chosen axis counts once its scale is there
      at = { x: designs.numbers(x), y: designs.numbers(y) };
    const styles = names.map((name) => ({
      colour: fluids.colour(name),
      symbol: fluids.symbol(name),
      size: MARK_SIZE,
    }));
    const ownStyle = { colour: css("--accent"), symbol: "star-diamond", size: OWN_SIZE, edge: css("--ink") };
    const faint = { colour: css("--faint"), symbol: "circle", size: BACK.size };
    marks[k].paint([
      { ...at, rows: state.others ? state.visibleOthers : [], styles: [faint], kinds: alike, alpha: BACK.alpha },
      { ...at, rows: state.selected ? state.visible.filter(dimmed) : [], styles, kinds, alpha: DIM },
      { ...at, rows: state.chosen(), styles, kinds, alpha: OPACITY },
      { x: own.values(x), y: own.values(y), rows: own.names.keys(), styles: [ownStyle], kinds: alike, alpha: 1 },
    ]);
  }

  // At once where the chart is in the window.
  const repaint = boxes.map((box, k) => seenFirst(box, () => paint(k)));

  // Rings and names, when nothing has changed for a while and one chart at a time.
  function label() {
    clearTimeout(labelling);
    labelling = setTimeout(labelAll, REST_MS);
  }
  const labelAll = () => boxes.forEach((box, k) => whenIdle(() => labelOne(box, k)));

  function labelOne(box, k) {
    const picks = state.picks();
    Plotly.relayout(box, { annotations: labels(...axesOf(k), picks), shapes: rings(...axesOf(k), picks) });
  }

  function fit(on) {
    fitted = on;
    moved = false;
    fits++;
    drawSoon();
  }

  // The limits have changed: marks at once, names and background when the limits rest.
  function follow() {
    note();
    repaint.forEach((one) => one());
    rest();
  }

  function rest() {
    clearTimeout(resting);
    resting = setTimeout(() => {
      if (moved || outside()) fit(fitted);
      else if (fitted && !state.limited()) fit(false);
      else if (state.others) drawSoon();
      else labelAll();
    }, REST_MS);
  }

  // Whether a mark lies beyond the axes, where designs beside the front have come to be seen.
  const outside = () =>
    boxes.some((box, k) =>
      axesOf(k).some((name, axis) => {
        const [low, high] = box.layout?.[axis ? "yaxis" : "xaxis"]?.range || [-Infinity, Infinity];
        const values = designs.numbers(name);
        return state.visible.some((i) => i >= designs.onFront && !(values[i] >= low && values[i] <= high));
      }),
    );

  // Costs have moved: the charts fade at once and their marks go there in the frame after, while axes and names follow when
  // the prices rest.
  function reprice() {
    note();
    boxes.forEach((box) => box.classList.add("busy"));
    moved = true;
    rest();
    if (coming) return;
    coming = true;
    afterPaint(() => {
      coming = false;
      repaint.forEach((one) => one());
    });
  }

  // The outline of a box stands only as long as what it selected.
  function select(origin) {
    repaint.forEach((one) => one());
    if (origin !== "scatter")
      boxes
        .filter((box) => (box.layout.selections || []).length)
        .forEach((box) => Plotly.relayout(box, { selections: [] }));
  }

  function listen() {
    boxes.forEach((box, k) => {
      const take = () => {
        reach(k);
        paint(k);
      };
      take();
      onResize(box, label); // names take other places
      box.on("plotly_afterplot", take);
      box.on("plotly_relayouting", () => paint(k)); // while an axis is dragged
      box.on("plotly_click", (event) => {
        const point = event.points.find((p) => p.curveNumber === 1);
        if (point) state.visit(point.customdata);
      });
      // Other axes take the outline of a box away, and not what it selected: then the library tells of an empty one.
      box.on("plotly_selected", (event) => {
        if (!drawing[k] && event && event.points)
          state.select(
            event.points.filter((p) => p.curveNumber === 1 && visible[p.customdata]).map((p) => p.customdata),
            "scatter",
          );
      });
      box.on("plotly_deselect", () => state.select(null, "scatter"));
    });
  }

  document.getElementById("fit").addEventListener("click", () => fit(state.limited()));
  document.getElementById("show-others").addEventListener("change", (event) => {
    state.others = event.target.checked;
    drawSoon();
  });
  return { boxes, draw, pictured, follow, select, label, listen, reprice };
}
