// How the search went: hypervolume, failures, designs per fluid.

import { LEGEND, axisTitle, chartBars } from "./diagrams.js";
import { wholeNumber } from "./numbers.js";
import { QUIET, css, layout } from "./theme.js";

export function makeProgress(run, fluids) {
  const byId = (id) => document.getElementById(id);

  function drawHistory(box) {
    const line = (history, name, colour, dash) => ({
      type: "scatter",
      mode: "lines",
      x: history.map((pair) => pair[0]),
      y: history.map((pair) => pair[1]),
      name,
      line: { color: colour, width: 2, dash },
      hovertemplate: `${name}: %{y:.3f} after %{x:,} designs<extra></extra>`,
    });
    const traces = [line(run.history, "this search", css("--accent"), "solid")];
    if (run.randomHistory.length) traces.push(line(run.randomHistory, "plain random search", css("--muted"), "dash"));
    Plotly.react(
      box,
      traces,
      layout({
        ...LEGEND,
        xaxis: axisTitle("Designs tried"),
        yaxis: { ...axisTitle("Hypervolume, share of the box"), rangemode: "tozero" },
      }),
      QUIET,
    );
  }

  function draw() {
    if (byId("chart-history")) drawHistory(byId("chart-history"));
    if (byId("chart-lost"))
      chartBars(
        byId("chart-lost"),
        run.lostTo.map((p) => p[0]),
        run.lostTo.map((p) => p[1]),
        "Designs",
        { colour: css("--muted"), inner: run.lostAlone, write: wholeNumber },
      );
    chartBars(
      byId("chart-shares"),
      run.perFluid.map((p) => fluids.short(p[0])),
      run.perFluid.map((p) => p[1]),
      "Designs",
      { colour: run.perFluid.map((p) => fluids.colour(p[0])), write: wholeNumber },
    );
  }
  return { draw, root: byId("search") };
}
