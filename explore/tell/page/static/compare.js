// Starts the comparison: sentences and shortlist first, then the fronts of all runs over one another.

import { makeShortlist, tellChanges } from "./acrossruns.js";
import { writeNumber } from "./numbers.js";
import { makeRuns } from "./runs.js";
import { TOOLS, css, darkWanted, layout, paintMarks, palette, plain } from "./theme.js";
import { inflate, loadCharts } from "./unpack.js";

const known = (run, figure) => run.cells[figure] ?? run.lines.map(() => null);

function drawFronts(data, id, up, across) {
  const x = across.figure,
    y = up.figure,
    title = ({ label, unit }) => (unit ? `${label}, ${unit}` : label);
  const traces = data.runs.map((run, k) => ({
    type: "scatter",
    mode: "markers",
    name: `${run.letter}: ${plain(run.name)}`,
    x: known(run, x),
    y: known(run, y),
    marker: { size: 8, color: palette()[k], symbol: run.symbol, opacity: 0.8 },
    hoverinfo: "text",
    hovertext: run.lines.map(
      (line, i) =>
        `<b>${run.letter}${line}</b> ${plain(run.cells.fluid[i])}<br>${writeNumber(known(run, y)[i] ?? NaN)} ${up.unit}, ${writeNumber(known(run, x)[i] ?? NaN)} ${across.unit}`,
    ),
  }));
  traces.push({
    type: "scatter",
    mode: "markers+text",
    x: [],
    y: [],
    text: [],
    textposition: "top center",
    textfont: { color: css("--ink"), size: 13 },
    marker: { size: 16, color: "rgba(0,0,0,0)", line: { color: css("--ink"), width: 2 } },
    hoverinfo: "skip",
  });
  Plotly.react(
    document.getElementById(id),
    traces,
    layout({
      hovermode: "closest",
      xaxis: { title: { text: title(across) } },
      yaxis: { title: { text: title(up) }, rangemode: "tozero" },
    }),
    TOOLS,
  );
}

async function start() {
  const data = JSON.parse(await inflate("run-data")),
    runs = makeRuns(data);
  const [up, ...others] = data.axes,
    boxes = others.map((_, k) => document.getElementById(`against-${k + 1}`));
  let listed = [];

  // Rings around the designs of the shortlist, with their names.
  const ring = (designs = listed) => {
    listed = designs;
    if (!window.Plotly) return;
    others.forEach((across, k) => {
      const values = (figure) => designs.map(({ run, place }) => known(run, figure)[place]);
      const drawn = { x: [values(across.figure)], y: [values(up.figure)], text: [designs.map(({ name }) => name)] };
      if (boxes[k].data) Plotly.restyle(boxes[k], drawn, [data.runs.length]);
    });
  };
  const draw = () => {
    paintMarks();
    shortlist.update();
    if (!window.Plotly) return;
    others.forEach((across, k) => drawFronts(data, boxes[k].id, up, across));
    ring();
  };
  const shortlist = makeShortlist(data, runs, ring);
  tellChanges(data, runs);
  draw();
  shortlist.listen();
  document.documentElement.dataset.ready = "text";
  await loadCharts();
  draw();
  for (const box of boxes)
    box.on("plotly_click", ({ points: [point] }) => {
      const run = data.runs[point.curveNumber];
      if (run) shortlist.toggle(`${run.letter}${run.lines[point.pointIndex]}`);
    });
  darkWanted.addEventListener("change", draw);
  document.documentElement.dataset.ready = "charts";
}

start();
