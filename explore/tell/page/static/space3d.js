// The first three objectives in space, drawn only when asked for.

import { titleOf } from "./designs.js";
import { writeCell } from "./numbers.js";
import { TOOLS, css, hasWebgl, layout, plain } from "./theme.js";

export function makeSpace(run, designs, fluids, state) {
  const details = document.getElementById("space-box"),
    box = document.getElementById("space");
  const names = [...new Set([...run.objectives.map((o) => o.figure), "served_share"])]
    .filter((n) => designs.numericNames.includes(n))
    .slice(0, 3);

  const words = (i) =>
    [
      `<b>${plain(fluids.short(designs.fluids[i]))}</b>, design ${designs.nameOf(i)}`,
      ...names.map(
        (name) => `${plain(run.columns[name].label)}: ${plain(writeCell(designs.cell(i, name), run.columns[name]))}`,
      ),
    ].join("<br>");

  function draw() {
    if (!details.open) return;
    if (!hasWebgl || names.length < 3) {
      box.textContent = "A chart in space needs WebGL and three objectives.";
      return;
    }
    const shown = state.visible,
      [x, y, z] = names.map((name) => designs.numbers(name));
    const faded = (i) => state.selected && !state.selected.has(i);
    const axis = (name) => ({
      title: { text: titleOf(run, name) },
      gridcolor: css("--line"),
      separatethousands: true,
      exponentformat: "none",
      color: css("--ink"),
      backgroundcolor: "rgba(0,0,0,0)",
    });
    Plotly.react(
      box,
      [
        {
          type: "scatter3d",
          mode: "markers",
          x: shown.map((i) => x[i]),
          y: shown.map((i) => y[i]),
          z: shown.map((i) => z[i]),
          customdata: shown,
          hovertext: shown.map(words),
          hoverinfo: "text",
          marker: { size: 4, color: shown.map((i) => (faded(i) ? css("--faint") : fluids.colour(designs.fluids[i]))) },
        },
      ],
      layout({
        margin: { l: 0, r: 0, t: 0, b: 0 },
        scene: {
          camera: { eye: { x: 1.7, y: 1.7, z: 0.9 }, center: { x: 0, y: 0, z: -0.12 } },
          xaxis: axis(names[0]),
          yaxis: axis(names[1]),
          zaxis: axis(names[2]),
        },
        uirevision: 1,
      }),
      TOOLS,
    );
    if (!box.heard) {
      box.heard = true;
      box.on("plotly_click", (event) => {
        state.visit(event.points[0].customdata);
      });
    }
  }

  details.addEventListener("toggle", draw);
  return { draw };
}
