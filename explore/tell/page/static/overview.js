// The first picture of the page: a curve for each fluid with its name at its end; the marks of the designs on demand.

import { fluidCurves } from "./screens.js";
import { printing } from "./theme.js";

const NARROW_PX = 700,
  REST_PX = 90,
  SCREEN = { least_px: 340, name_px: 17, size: 13 }, // height at least, and for each fluid's name
  PAPER = { least_px: 185, name_px: 11, size: 9.5 };

export function makeOverview(run, designs, fluids, state) {
  const box = document.getElementById("chart-overview"),
    marks = document.getElementById("overview-marks");

  function draw() {
    const count = new Set(state.passing.map((i) => designs.fluids[i])).size,
      middle = state.picks().at(-1);
    const { least_px, name_px, size } = printing() ? PAPER : SCREEN;
    box.style.height = `${Math.max(least_px, REST_PX + name_px * count)}px`;
    fluidCurves(box, run, designs, fluids, state, {
      size: box.clientWidth < NARROW_PX ? Math.min(size, 11.5) : size,
      behind: marks.checked ? state.passing : [],
      picked: middle ? [{ i: middle.design, title: middle.title }] : [],
      listen: state.visit,
    });
  }

  marks.addEventListener("change", draw);
  return { draw, box };
}
