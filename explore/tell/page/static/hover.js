// What the pointer is told of a mark: what it is, the objectives, and what tells it from its neighbours.

import { writeCell } from "./numbers.js";
import { plain } from "./theme.js";

export function hoverText(run, designs, fluids, i) {
  const told = [...new Set([...run.objectives.map((o) => o.figure), ...run.places.hover])];
  const names = told.filter((name) => designs.told(i, name) !== "");
  const lines = names.map(
    (name) => `${plain(run.columns[name].label)}: ${plain(writeCell(designs.cell(i, name), run.columns[name]))}`,
  );
  return [
    `<b>${plain(fluids.short(designs.fluids[i]))}</b>, ${plain(designs.cell(i, "store_mode"))} store, design ${designs.nameOf(i)}`,
    ...lines,
  ].join("<br>");
}
