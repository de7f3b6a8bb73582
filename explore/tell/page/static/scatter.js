// The two linked scatter charts. The marks of all designs of the front are drawn once; limits and selection only hide and
// dim them, which takes a few milliseconds with thousands of marks, where drawing them anew takes half a second.

import { titleOf } from "./designs.js";
import { hoverText } from "./hover.js";
import { makeMarks } from "./marks.js";
import { TOOLS, afterPaint, css, hasWebgl, html, layout, plain, printing, sheer, whenIdle } from "./theme.js";
import { parseCsv } from "./unpack.js";

const MARK_SIZE = 9,
  OPACITY = 0.85,
  DIM = 0.12,
  REST_MS = 300;

export function makeScatter(run, designs, fluids, state) {
  const boxes = ["scatter-1", "scatter-2"].map((id) => document.getElementById(id));
  const [axisY, ...axesX] = ["axis-y", "axis-x1", "axis-x2"].map((id) => document.getElementById(id));
  const everything = Array.from({ length: designs.count }, (_, i) => i);
  const own = run.own ? parseCsv(run.own) : { header: [], rows: [] };
  let texts = null;
  const small = matchMedia("(max-width: 720px)");
  const visible = new Uint8Array(designs.count);
  const waiting = boxes.map(() => false),
    marks = boxes.map((box) => makeMarks(box, designs.count, { size: MARK_SIZE, full: OPACITY, dim: DIM }));
  let fitted = false,
    fits = 0,
    resting = 0;

  function background(x, y) {
    const shown = state.others ? state.visibleOthers : [],
      xs = designs.numbers(x),
      ys = designs.numbers(y);
    return {
      type: hasWebgl && shown.length ? "scattergl" : "scatter",
      mode: "markers",
      x: shown.map((i) => xs[i]),
      y: shown.map((i) => ys[i]),
      hoverinfo: "skip",
      marker: { size: 4, color: sheer(css("--faint"), 0.6), opacity: 1 },
    };
  }

  // The library's own look of what is selected is switched off: dimming is done in `restyle`, for both charts alike.
  function front(x, y) {
    const as = { marker: { opacity: 1 } };
    return {
      type: "scatter",
      mode: "markers",
      uid: "front",
      x: designs.numbers(x).subarray(0, designs.count),
      y: designs.numbers(y).subarray(0, designs.count),
      customdata: everything,
      hovertext: (texts ??= everything.map((i) => hoverText(run, designs, fluids, i))),
      hoverinfo: "text",
      selected: as,
      unselected: as,
      marker: {
        size: MARK_SIZE,
        opacity: 1,
        color: everything.map((i) => sheer(fluids.colour(designs.fluids[i]), OPACITY)),
        symbol: everything.map((i) => fluids.symbol(designs.fluids[i])),
        line: { width: 0 },
      },
    };
  }

  function ownValues(name) {
    const k = own.header.indexOf(name),
      factor = run.columns[name] && run.columns[name].share ? 100 : 1;
    return own.rows.map((row) => (k < 0 || row[k] === "" ? NaN : Number(row[k]) * factor));
  }

  function ownMarks(x, y) {
    const names = own.rows.map((row) => row[own.header.indexOf("name")] || "own design");
    return {
      type: "scatter",
      mode: "markers+text",
      x: ownValues(x),
      y: ownValues(y),
      text: names.map(plain),
      hovertext: names.map((name) => `Your own: ${plain(name)}`),
      hoverinfo: "text",
      textposition: "bottom center",
      marker: { size: 15, symbol: "star-diamond", color: css("--accent"), line: { width: 1.5, color: css("--ink") } },
    };
  }

  // The axes span the front, and what else is to be seen.
  const shownOn = (axis) => [
    ...(fitted ? [] : everything.slice(0, designs.onFront)).map((i) => designs.numbers(axis)[i]),
    ...state.visible.map((i) => designs.numbers(axis)[i]),
    ...ownValues(axis),
  ];

  function rangeOf(axis) {
    const [low, high] = ends(shownOn(axis)),
      edge = 0.05 * (high - low || Math.abs(high) || 1);
    return Number.isFinite(low) ? [low - edge, high + edge] : [0, 1];
  }

  const ends = (values) =>
    values
      .filter(Number.isFinite)
      .reduce(([low, high], value) => [Math.min(low, value), Math.max(high, value)], [Infinity, -Infinity]);

  // Rings around the recommended designs and the one whose sheet is open.
  function rings(x, y, picks) {
    const found = new Set(picks.map(({ design }) => design)),
      xs = designs.numbers(x),
      ys = designs.numbers(y),
      half = MARK_SIZE;
    if (state.design !== null && visible[state.design]) found.add(state.design);
    return [...found]
      .filter((i) => Number.isFinite(xs[i]) && Number.isFinite(ys[i]))
      .map((i) => ({
        type: "circle",
        xsizemode: "pixel",
        ysizemode: "pixel",
        xanchor: xs[i],
        yanchor: ys[i],
        x0: -half,
        x1: half,
        y0: -half,
        y1: half,
        line: { color: css("--ink"), width: 1.8 },
      }));
  }

  // Their names, written towards the middle of the chart on a plate of their own; one design of two roles is named once.
  function names(x, y, picks) {
    const xs = designs.numbers(x),
      ys = designs.numbers(y),
      roles = new Map();
    for (const { title, design } of picks) roles.set(design, [...(roles.get(design) || []), title]);
    const listed = [...roles].filter(([i]) => Number.isFinite(xs[i]) && Number.isFinite(ys[i]));
    const [low, high] = rangeOf(x),
      [bottom, top] = rangeOf(y);
    const levels = [...listed].sort(([a], [b]) => ys[b] - ys[a]);
    return levels.map(([i, titles]) => {
      const across = (xs[i] - low) / (high - low),
        up = (ys[i] - bottom) / (top - bottom),
        leftward = across > (printing() ? 0.45 : 0.5); // on paper a name takes half the width
      return {
        x: xs[i],
        y: ys[i],
        text: titles.map(plain).join(",<br>"),
        showarrow: true,
        arrowhead: 0,
        arrowwidth: 1,
        arrowcolor: css("--ink"),
        standoff: MARK_SIZE,
        ax: leftward ? -34 : 34,
        ay: up > 0.85 ? 16 : up < 0.15 ? -22 : 26,
        xanchor: leftward ? "right" : "left",
        captureevents: false,
        font: { size: small.matches ? 11 : 12, color: css("--ink") },
        bgcolor: css("--plate"),
        borderpad: 2,
      };
    });
  }

  const axesOf = (k) => [axesX[k].value, axisY.value];

  function drawOne(k) {
    const [x, y] = axesOf(k),
      picks = state.picks();
    Plotly.react(
      boxes[k],
      [background(x, y), front(x, y), ownMarks(x, y)],
      layout({
        xaxis: { title: { text: titleOf(run, x) }, range: rangeOf(x) },
        yaxis: { title: { text: titleOf(run, y) }, range: rangeOf(y) },
        hovermode: "closest",
        annotations: names(x, y, picks),
        shapes: rings(x, y, picks),
        dragmode: small.matches ? false : "select",
        uirevision: `${x} ${y} ${fits}`,
      }),
      TOOLS,
    );
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

  const restyle = (k) =>
    marks[k].show(
      (i) => visible[i] === 1,
      (i) => state.selected !== null && !state.selected.has(i),
    );

  // The library draws all marks again when a ring moves: one chart at a time, when the browser has nothing else to do.
  function label() {
    boxes.forEach((box, k) =>
      whenIdle(() => {
        const picks = state.picks();
        Plotly.relayout(box, { annotations: names(...axesOf(k), picks), shapes: rings(...axesOf(k), picks) });
      }),
    );
  }

  function fit(on) {
    fitted = on;
    fits++;
    drawSoon();
  }

  // The limits have changed: marks at once, names and background when the limits rest.
  function follow() {
    note();
    boxes.forEach((_, k) => restyle(k));
    rest();
  }

  function rest() {
    clearTimeout(resting);
    resting = setTimeout(() => {
      if (!texts || outside()) fit(fitted);
      else if (fitted && !state.limited()) fit(false);
      else if (state.others) drawSoon();
      else label();
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

  // Costs have moved: the charts fade at once, and are drawn anew when the prices rest.
  function reprice() {
    texts = null;
    boxes.forEach((box) => box.classList.add("busy"));
    rest();
  }

  // The outline of a box stands only as long as what it selected.
  function select(origin) {
    boxes.forEach((_, k) => restyle(k));
    if (origin !== "scatter")
      boxes
        .filter((box) => (box.layout.selections || []).length)
        .forEach((box) => Plotly.relayout(box, { selections: [] }));
  }

  function listen() {
    boxes.forEach((box, k) => {
      const take = () => {
        marks[k].gather();
        restyle(k);
      };
      take();
      box.on("plotly_afterplot", take);
      box.on("plotly_click", (event) => {
        const point = event.points.find((p) => p.curveNumber === 1);
        if (point) state.visit(point.customdata);
      });
      box.on("plotly_selected", (event) => {
        if (event && event.points)
          state.select(
            event.points.filter((p) => p.curveNumber === 1 && visible[p.customdata]).map((p) => p.customdata),
            "scatter",
          );
      });
      box.on("plotly_deselect", () => state.select(null, "scatter"));
    });
  }

  function grouped(names) {
    const groups = new Map();
    for (const name of names)
      groups.set(run.columns[name].group, [...(groups.get(run.columns[name].group) || []), name]);
    return [...groups];
  }

  function fillAxes() {
    const preferred = run.objectives.map((o) => o.figure);
    for (const select of [axisY, ...axesX]) {
      const groups = [
        ["Objectives", preferred],
        ["The choice", run.inputs],
        ...grouped(designs.header.filter((name) => !run.inputs.includes(name))),
      ];
      for (const [title, names] of groups) {
        const listed = names.filter((name) => designs.numericNames.includes(name));
        if (listed.length)
          select.append(
            html(
              "optgroup",
              { label: title },
              ...listed.map((name) => html("option", { value: name }, titleOf(run, name))),
            ),
          );
      }
    }
    axisY.value = preferred[0];
    const across = [...new Set([...preferred.slice(1), "cost_EUR", "peak_pressure_bar_g"])].filter(
      (name) => name !== preferred[0],
    );
    axesX.forEach((select, k) => {
      select.value = across[k];
    });
    axisY.addEventListener("change", () => drawSoon());
    axesX.forEach((select, k) => select.addEventListener("change", () => drawSoon([k])));
  }

  fillAxes();
  document.getElementById("fit").addEventListener("click", () => fit(state.limited()));
  document.getElementById("show-others").addEventListener("change", (event) => {
    state.others = event.target.checked;
    drawSoon();
  });
  return { boxes, draw, follow, select, label, listen, reprice };
}
