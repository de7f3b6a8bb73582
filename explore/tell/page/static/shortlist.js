// A shortlist of up to four designs, A to D, side by side: what differs first, each with its reason in words. It is kept
// apart from what is selected, and stands in the address.

import { cautionsOf, wallsOf } from "./cards.js";
import { costWords, otherWords } from "./differences.js";
import { threeDigits } from "./numbers.js";
import { figureRows, fillSideBySide, headOf, takeOff } from "./sidebyside.js";
import { drawMark, html } from "./theme.js";
import { LETTERS } from "./words.js";

export function makeShortlist(run, designs, fluids, state) {
  const byId = (id) => document.getElementById(id);
  const cellOf = (i) => (name) => designs.told(i, name);
  const objectives = run.objectives.map(({ figure }) => figure);

  function toggle(i) {
    const has = state.shortlist.includes(i);
    if (!has && state.shortlist.length === LETTERS.length) return;
    state.setShortlist(has ? state.shortlist.filter((k) => k !== i) : [...state.shortlist, i]);
  }

  function words(a, b, letter) {
    const pair = [cellOf(a), cellOf(b)];
    return [
      costWords(run, ...pair, ["A", letter]),
      otherWords(run.columns, [...objectives, "served_share", "bridged_hours"], pair, letter),
    ].join(" ");
  }

  function rows(chosen) {
    const names = [...objectives, ...run.places.card, ...run.bill.map(({ column }) => column)];
    const table = figureRows(run.columns, names, chosen.map(cellOf));
    table.push({
      label: "Warnings",
      cells: chosen.map((i) =>
        cautionsOf(run, i)
          .filter(({ level }) => level !== run.severities.at(-1).key)
          .map(({ topic }) => topic)
          .join(", "),
      ),
    });
    table.push({
      label: "Least walls of the first cylinder",
      cells: chosen.map((i) =>
        wallsOf(run, i)
          .filter(({ part }) => part === "cylinder 1")
          .map(({ wall_mm, material }) => `${threeDigits(wall_mm)} mm ${material}`)
          .join(", "),
      ),
    });
    if (chosen.some(state.outside))
      table.push({
        label: "Limits set on this page",
        cells: chosen.map((i) => (state.outside(i) ? "not within them" : "within them")),
      });
    if (chosen.some((i) => state.notes.has(i)))
      table.push({ label: "Note", cells: chosen.map((i) => state.notes.get(i) ?? "") });
    return table;
  }

  function headOfDesign(i, k) {
    const mark = html("span", { class: "mark", "aria-hidden": "true" }),
      fluid = fluids.of(designs.fluids[i]);
    drawMark(mark, fluid.colour, fluid.symbol);
    return headOf(
      `${LETTERS[k]} `,
      mark,
      ` ${fluid.short}, `,
      html("a", { href: `#design-${designs.nameOf(i)}` }, `design ${designs.nameOf(i)}`),
      " ",
      takeOff(LETTERS[k], () => toggle(i)),
    );
  }

  function update() {
    const chosen = state.shortlist;
    byId("shortlist").hidden = !chosen.length;
    document.querySelectorAll("[data-shortlist]").forEach((button) => {
      const i = designs.placeOf(button.dataset.shortlist || ""),
        letter = LETTERS[chosen.indexOf(i)];
      button.textContent = letter ? `Shortlisted as ${letter}: take off` : "Put on the shortlist";
      button.disabled = !letter && chosen.length === LETTERS.length;
    });
    if (!chosen.length) return;
    byId("shortlist-words").replaceChildren(
      ...(chosen.length < 2
        ? [html("li", {}, "One design is on the shortlist; put up to three more beside it to see what differs.")]
        : chosen.slice(1).map((b, k) => html("li", {}, words(chosen[0], b, LETTERS[k + 1])))),
    );
    fillSideBySide(byId("shortlist-table"), chosen.map(headOfDesign), rows(chosen));
  }

  document.addEventListener("click", (event) => {
    const button = event.target.closest?.("[data-shortlist]");
    if (button) toggle(designs.placeOf(button.dataset.shortlist));
  });
  state.on("shortlist", update);
  state.on("prices", update);
  state.on("notes", update);
  return { update };
}
