// The fronts of several runs over one another.

import { writeNumber } from "./numbers.js";
import { TOOLS, darkWanted, layout, paintMarks, palette, plain } from "./theme.js";
import { inflate, loadCharts } from "./unpack.js";

function drawFronts(data, id, up, across) {
  const x = across.figure,
    y = up.figure,
    title = ({ label, unit }) => (unit ? `${label}, ${unit}` : label);
  const traces = data.runs.map((run, k) => ({
    type: "scatter",
    mode: "markers",
    name: `${run.letter}: ${plain(run.name)}`,
    x: run[x],
    y: run[y],
    marker: { size: 8, color: palette()[k], symbol: run.symbol, opacity: 0.8 },
    hoverinfo: "text",
    hovertext: run.fluid.map(
      (fluid, i) =>
        `<b>${run.letter}</b> ${plain(fluid)}, design ${i + 1}<br>${writeNumber(run[y][i] ?? NaN)} ${up.unit}, ${writeNumber(run[x][i] ?? NaN)} ${across.unit}`,
    ),
  }));
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
  const data = JSON.parse(await inflate("run-data"));
  const draw = () => {
    paintMarks();
    if (!window.Plotly) return;
    const [up, ...others] = data.axes;
    others.forEach((across, k) => drawFronts(data, `against-${k + 1}`, up, across));
  };
  draw();
  await loadCharts();
  draw();
  darkWanted.addEventListener("change", draw);
  document.documentElement.dataset.ready = "charts";
}

start();
