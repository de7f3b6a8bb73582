// The first picture of the page: a curve for each fluid with its name at its end; the marks of the designs on demand.

import { fluidCurves } from "./screens.js";

const NARROW_PX = 700,
  LEAST_PX = 340,
  NAME_PX = 17, // of height for each fluid's name
  REST_PX = 90;

export function makeOverview(run, designs, fluids, state) {
  const box = document.getElementById("chart-overview"),
    marks = document.getElementById("overview-marks");

  function draw() {
    const count = new Set(state.passing.map((i) => designs.fluids[i])).size,
      middle = state.picks().at(-1);
    box.style.height = `${Math.max(LEAST_PX, REST_PX + NAME_PX * count)}px`;
    fluidCurves(box, run, designs, fluids, state, {
      size: box.clientWidth < NARROW_PX ? 11.5 : 13,
      behind: marks.checked ? state.passing : [],
      picked: middle ? [{ i: middle.design, title: middle.title }] : [],
      listen: state.visit,
    });
  }

  marks.addEventListener("change", draw);
  return { draw, box };
}
