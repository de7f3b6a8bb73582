// A day of one design: lines over its minutes, hours of demand shaded.

import { QUIET, css, darkWanted, html, layout, palette, plain, setPrinting } from "./theme.js";
import { inflate, loadCharts } from "./unpack.js";

const DASHES = ["solid", "dash", "dot", "dashdot"]; // so that colour is never the only code
const NARROW = 560; // px, below which every sixth hour is written and no more
const clock = (hour) => `${String(hour).padStart(2, "0")}:00`;

// Of each minute a line has its mean or the state as it begins.
function traces(chart) {
  const lines = chart.lines.map((line, k) => ({
    type: "scatter",
    mode: "lines",
    name: plain(line.name),
    x: line.values.map((_, minute) => minute / 60),
    y: line.values,
    line: { color: palette()[k], dash: DASHES[k % DASHES.length], width: 2 },
    text: line.values.map(
      (_, minute) => `${String(Math.floor(minute / 60)).padStart(2, "0")}:${String(minute % 60).padStart(2, "0")}`,
    ),
    hovertemplate: `%{text} ${plain(line.name)} %{y:.3~g} ${plain(chart.unit)}<extra></extra>`,
  }));
  const levels = chart.levels.map(([name, value]) => ({
    type: "scatter",
    mode: "lines+text",
    x: [0, 24],
    y: [value, value],
    text: [plain(name), ""],
    textposition: "top right",
    textfont: { color: css("--muted"), size: 11 },
    line: { color: css("--muted"), width: 1, dash: "longdash" },
    hoverinfo: "skip",
    showlegend: false,
    cliponaxis: false,
  }));
  return [...lines, ...levels];
}

function drawChart(chart, demand) {
  const shapes = demand.map(([x0, x1]) => ({
    type: "rect",
    xref: "x",
    yref: "paper",
    x0,
    x1,
    y0: 0,
    y1: 1,
    fillcolor: css("--wash"),
    line: { width: 0 },
    layer: "below",
  }));
  const element = document.getElementById(`chart-${chart.id}`);
  const step = element.clientWidth < NARROW ? 6 : 3;
  const hours = Array.from({ length: 24 / step + 1 }, (_, k) => step * k);
  Plotly.react(
    element,
    traces(chart),
    layout({
      hovermode: "closest",
      showlegend: chart.lines.length > 1,
      legend: { orientation: "h", y: 1.02, yanchor: "bottom", x: 0 },
      shapes,
      xaxis: { range: [0, 24], tickvals: hours, ticktext: hours.map(clock), tickangle: 0 },
      yaxis: { rangemode: chart.from_zero ? "tozero" : "normal" },
      margin: { l: 44, r: 22, t: chart.lines.length > 1 ? 34 : 14, b: 34 },
    }),
    QUIET,
  );
}

async function start() {
  const data = JSON.parse(await inflate("day-data"));
  const draw = () => data.charts.forEach((chart) => drawChart(chart, data.demand));
  await loadCharts();
  draw();
  darkWanted.addEventListener("change", draw);
  // A chart drawn before keeps its size; the library's own resizing comes too late for the printer.
  const paper = (on) => {
    setPrinting(on);
    draw();
    data.charts
      .map((chart) => document.getElementById(`chart-${chart.id}`))
      .forEach((box) =>
        Plotly.relayout(
          box,
          on ? { width: box.clientWidth, height: box.clientHeight } : { width: null, height: null, autosize: true },
        ),
      );
  };
  window.addEventListener("beforeprint", () => paper(true));
  window.addEventListener("afterprint", () => paper(false));
  document.documentElement.dataset.ready = "charts";
}

start().catch((error) => {
  document
    .querySelector("main")
    .prepend(html("p", { class: "note failed" }, `The charts of this page could not start: ${error.message}`));
  throw error;
});
