// The menus of the axes: every figure with a number, objectives first.

import { titleOf } from "./designs.js";
import { html } from "./theme.js";

// Fills the menus and returns the figures across and up of a chart, by its place; `follow` takes the places of charts whose axes
// are chosen anew.
export function makeAxes(run, designs, follow) {
  const [axisY, ...axesX] = ["axis-y", "axis-x1", "axis-x2"].map((id) => document.getElementById(id));

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
    axisY.addEventListener("change", () => follow(axesX.map((_, k) => k)));
    axesX.forEach((select, k) => select.addEventListener("change", () => follow([k])));
  }

  fillAxes();
  return (k) => [axesX[k].value, axisY.value];
}
