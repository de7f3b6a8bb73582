// A shortlist of up to four designs, A to D, side by side: what differs first, each with its reason in words. It is kept
// apart from what is selected, and stands in the address.

import { cautionsOf, wallsOf } from "./cards.js";
import { threeDigits, writeCell } from "./numbers.js";
import { listed } from "./sentences.js";
import { drawMark, html } from "./theme.js";
import { LETTERS, lower } from "./words.js";

const LEAST_EUR = 1;

// By how much each line of the bill differs between two designs, greatest first; together they are the difference in cost.
export function billDifference(run, designs, a, b) {
  const cost = (i, column) => designs.raw(column)[i] || 0;
  return run.bill
    .map(({ column, line }) => ({ line, column, more: cost(b, column) - cost(a, column) }))
    .filter(({ more }) => more !== 0)
    .sort((one, other) => Math.abs(other.more) - Math.abs(one.more));
}

export function makeShortlist(run, designs, fluids, state) {
  const byId = (id) => document.getElementById(id);
  const shown = (i, name) => writeCell(designs.cell(i, name), run.columns[name]);

  function toggle(i) {
    const has = state.shortlist.includes(i);
    if (!has && state.shortlist.length === LETTERS.length) return;
    state.setShortlist(has ? state.shortlist.filter((k) => k !== i) : [...state.shortlist, i]);
  }

  // "B costs 1 700 EUR less than A: 900 less for collectors, 500 less for the engine and 300 less for other lines."
  function costWords(a, b, letter) {
    const parts = billDifference(run, designs, a, b),
      total = parts.reduce((sum, { more }) => sum + more, 0);
    const amount = (more) => `${threeDigits(Math.abs(more))} ${more < 0 ? "less" : "more"}`;
    if (Math.abs(total) < LEAST_EUR && parts.every(({ more }) => Math.abs(more) < LEAST_EUR))
      return `${letter} costs what A does.`;
    const first = parts.slice(0, 4),
      rest = parts.slice(4).reduce((sum, { more }) => sum + more, 0);
    const told = first.map(({ line, more }) => `${amount(more)} for ${line.toLowerCase()}${sizes(line, a, b)}`);
    if (Math.abs(rest) >= LEAST_EUR) told.push(`${amount(rest)} for the other lines`);
    return `${letter} costs ${threeDigits(Math.abs(total))} EUR ${total < 0 ? "less" : "more"} than A: ${listed(told)}.`;
  }

  const SIZES = {
    collectors: "collector_area_m2",
    store: "store_volume_L",
    boiler: "boiler_area_m2",
    condenser: "condenser_area_m2",
    engine: "stages",
    charge: "charge_kg",
  };

  function sizes(line, a, b) {
    const name = SIZES[line];
    if (!name || designs.cell(a, name) === designs.cell(b, name) || !run.columns[name]) return "";
    return ` (${shown(b, name)} instead of ${shown(a, name)})`;
  }

  function otherWords(a, b, letter) {
    const told = [...run.objectives.map(({ figure }) => figure), "served_share", "autonomy_hours"]
      .filter((name, k, all) => name !== "cost_EUR" && all.indexOf(name) === k && run.columns[name])
      .filter((name) => shown(a, name) !== shown(b, name))
      .map((name) => `${shown(b, name)} instead of ${shown(a, name)} ${lower(run.columns[name].title)}`);
    return told.length ? `${letter} has ${listed(told)}.` : "";
  }

  // Rows that differ come first, objectives before all others.
  function rows(chosen) {
    const objectives = run.objectives.map(({ figure }) => figure),
      names = [...new Set([...objectives, ...run.places.card, ...run.bill.map(({ column }) => column)])];
    const table = names
      .map((name) => ({ label: run.columns[name].label, cells: chosen.map((i) => shown(i, name)), name }))
      .filter(({ cells }) => cells.some((text) => text !== "–"));
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
    if (chosen.some((i) => state.notes.has(i)))
      table.push({ label: "Note", cells: chosen.map((i) => state.notes.get(i) ?? "") });
    const differs = ({ cells }) => cells.some((text) => text !== cells[0]);
    return [...table.filter(differs), ...table.filter((row) => !differs(row))].map((row) => ({
      ...row,
      same: !differs(row),
    }));
  }

  function headOf(i, k) {
    const mark = html("span", { class: "mark", "aria-hidden": "true" }),
      fluid = fluids.of(designs.fluids[i]);
    drawMark(mark, fluid.colour, fluid.symbol);
    const away = html("button", { type: "button", "aria-label": `Take ${LETTERS[k]} off the shortlist` }, "×");
    away.addEventListener("click", () => toggle(i));
    return html(
      "th",
      { scope: "col" },
      `${LETTERS[k]} `,
      mark,
      ` ${fluid.short}, `,
      html("a", { href: `#design-${designs.nameOf(i)}` }, `design ${designs.nameOf(i)}`),
      " ",
      away,
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
        : chosen
            .slice(1)
            .map((b, k) =>
              html(
                "li",
                {},
                [costWords(chosen[0], b, LETTERS[k + 1]), otherWords(chosen[0], b, LETTERS[k + 1])].join(" "),
              ),
            )),
    );
    byId("shortlist-table").replaceChildren(
      html("thead", {}, html("tr", {}, html("th", { scope: "col", class: "words" }, "Figure"), ...chosen.map(headOf))),
      html(
        "tbody",
        {},
        ...rows(chosen).map(({ label, cells, same }) =>
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

  document.addEventListener("click", (event) => {
    const button = event.target.closest?.("[data-shortlist]");
    if (button) toggle(designs.placeOf(button.dataset.shortlist));
  });
  state.on("shortlist", update);
  state.on("prices", update);
  state.on("notes", update);
  return { update };
}
