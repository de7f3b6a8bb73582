// A table of designs side by side, one a column: what differs first.

import { differingFirst } from "./differences.js";
import { writeCell } from "./numbers.js";
import { html } from "./theme.js";

// Rows of the figures that any of the designs has, {label, cells}; a design is a function from a column to its cell.
export const figureRows = (columns, names, chosen) =>
  [...new Set(names)]
    .filter((name) => columns[name])
    .map((name) => ({ label: columns[name].label, cells: chosen.map((cell) => writeCell(cell(name), columns[name])) }))
    .filter(({ cells }) => cells.some((text) => text !== "–"));

export const headOf = (...content) => html("th", { scope: "col" }, ...content);

export function takeOff(name, act) {
  const away = html("button", { type: "button", "aria-label": `Take ${name} off the shortlist` }, "×");
  away.addEventListener("click", act);
  return away;
}

export function fillSideBySide(table, heads, rows) {
  table.replaceChildren(
    html("thead", {}, html("tr", {}, html("th", { scope: "col", class: "words" }, "Figure"), ...heads)),
    html(
      "tbody",
      {},
      ...differingFirst(rows).map(({ label, cells, same }) =>
        html(
          "tr",
          { class: same ? "same" : "" },
          html("th", { scope: "row", class: "words" }, label),
          ...cells.map((text) => html("td", {}, text)),
        ),
      ),
    ),
  );
}
