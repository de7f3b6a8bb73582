// The table of the designs within the limits, or of the selected ones: sorted, paged, copied, downloaded.

import { titleOf } from "./designs.js";
import { copyText, saveText } from "./files.js";
import { wholeNumber, writeCell } from "./numbers.js";
import { drawMark, html } from "./theme.js";

const PAGE_ROWS = 25;

export function makeTable(run, designs, fluids, state) {
  const table = document.getElementById("designs"),
    head = table.tHead,
    body = table.tBodies[0];
  const byId = (id) => document.getElementById(id);
  const only = byId("only-selected");
  const [fluid, store, ...rest] = run.places.table,
    standard = [fluid, store, ...run.objectives.map((o) => o.figure), ...rest];
  let columns = [...new Set(standard)].filter((name) => designs.header.includes(name));
  let sortBy = run.objectives[0].figure,
    down = run.objectives[0].sign < 0,
    page = 0,
    rows = [];

  // All designs in the order asked for, kept until it or a price changes: a limit then only leaves some out.
  let ranking = null;
  function ranked() {
    const key = `${sortBy} ${down}`;
    if (ranking?.key !== key) ranking = { key, all: rank() };
    return ranking.all;
  }

  function rank() {
    const all = Array.from({ length: designs.count }, (_, i) => i),
      sign = down ? -1 : 1;
    if (sortBy === "line") return down ? all.reverse() : all;
    if (!designs.numericNames.includes(sortBy)) {
      return all.sort((a, b) => sign * designs.cell(a, sortBy).localeCompare(designs.cell(b, sortBy)) || a - b);
    }
    const values = designs.numbers(sortBy),
      last = (i) => (Number.isNaN(values[i]) ? 1 : 0);
    return all.sort((a, b) => last(a) - last(b) || sign * (values[a] - values[b]) || a - b);
  }

  function order() {
    const shown = new Uint8Array(designs.count);
    for (const i of only.checked ? state.chosen() : state.visible) shown[i] = 1;
    return ranked().filter((i) => shown[i]);
  }

  function drawHead() {
    const cells = ["line", ...columns].map((name) => {
      const column = run.columns[name];
      const button = html("button", { type: "button" }, name === "line" ? "Design" : column.label);
      button.addEventListener("click", () => sort(name));
      const cell = html("th", { scope: "col", "data-name": name, class: isText(name) ? "words" : "" }, button);
      if (column && column.unit) cell.append(html("small", {}, column.unit));
      if (name === sortBy) cell.setAttribute("aria-sort", down ? "descending" : "ascending");
      return cell;
    });
    head.replaceChildren(
      html("tr", {}, html("th", { scope: "col" }, html("span", { class: "hidden" }, "Selected")), ...cells),
    );
  }

  const isText = (name) => name !== "line" && !designs.numericNames.includes(name);

  function sort(name) {
    down =
      name === sortBy
        ? !down
        : run.columns[name]?.better === "more" || run.objectives.some((o) => o.figure === name && o.sign < 0);
    sortBy = name;
    page = 0;
    draw();
    const again = head.querySelector(`[data-name="${CSS.escape(name)}"] button`);
    if (again) again.focus();
  }

  function line(i) {
    const box = html("input", { type: "checkbox", "aria-label": `Select design ${designs.nameOf(i)}` });
    box.checked = Boolean(state.selected && state.selected.has(i));
    box.addEventListener("change", () => toggle(i, box.checked));
    const cells = columns.map((name) => {
      const cell = html("td", { class: isText(name) ? "words" : "", "data-label": titleOf(run, name) });
      if (run.objectives.some(({ figure }) => figure === name)) cell.classList.add("objective");
      if (name === "fluid") {
        const mark = html("span", { class: "mark", "aria-hidden": "true" }),
          fluid = fluids.of(designs.fluids[i]);
        drawMark(mark, fluid.colour, fluid.symbol);
        cell.append(mark, ` ${fluid.short}`);
        if (fluid.library) cell.append(" ", html("span", { class: "library" }, `(${fluid.library})`));
        return cell;
      }
      cell.append(writeCell(designs.told(i, name), run.columns[name], false));
      return cell;
    });
    const link = html("a", { href: `#design-${designs.nameOf(i)}` }, designs.nameOf(i));
    return html(
      "tr",
      i === state.design ? { class: "current" } : {},
      html("td", {}, box),
      html("th", { scope: "row" }, link),
      ...cells,
    );
  }

  function toggle(i, on) {
    const next = new Set(state.selected || []);
    if (on) next.add(i);
    else next.delete(i);
    state.select(next, "table");
  }

  function draw() {
    rows = order();
    page = Math.max(0, Math.min(page, Math.ceil(rows.length / PAGE_ROWS) - 1));
    drawHead();
    const part = rows.slice(page * PAGE_ROWS, (page + 1) * PAGE_ROWS);
    body.replaceChildren(...part.map(line));
    const first = rows.length ? page * PAGE_ROWS + 1 : 0;
    byId("place").textContent = rows.length
      ? `${wholeNumber(first)} to ${wholeNumber(page * PAGE_ROWS + part.length)} of ${wholeNumber(rows.length)}`
      : "No designs";
    byId("back").disabled = page === 0;
    byId("next").disabled = (page + 1) * PAGE_ROWS >= rows.length;
    say();
  }

  function say() {
    byId("selected").textContent = state.selected
      ? `${wholeNumber(state.chosen().length)} selected`
      : `Nothing selected: ${wholeNumber(rows.length)} ${rows.length === 1 ? "design" : "designs"}`;
    byId("clear").disabled = !state.selected;
    only.disabled = !state.selected;
  }

  // Rows ticked here stay where they are; what is selected elsewhere is shown alone.
  function follow(origin) {
    only.checked = Boolean(state.selected) && (origin === "table" ? only.checked : true);
    if (origin === "table" && !only.checked && state.selected) return say();
    page = 0;
    draw();
  }

  // In the order of the file, lines as written there: all of them make the very file again.
  const asCsv = () =>
    [designs.headerLine, ...[...state.chosen()].sort((a, b) => a - b).map(designs.line)].join("\n") + "\n";

  function fillColumns() {
    for (const name of designs.header.filter((n) => n !== "feasible" && n !== "possible")) {
      const box = html("input", { type: "checkbox", value: name });
      box.checked = columns.includes(name);
      box.addEventListener("change", () => {
        columns = designs.header.filter((n) => (n === name ? box.checked : columns.includes(n)));
        draw();
      });
      byId("columns").append(html("label", {}, box, ` ${titleOf(run, name)}`));
    }
  }

  byId("back").addEventListener("click", () => {
    page--;
    draw();
  });
  byId("next").addEventListener("click", () => {
    page++;
    draw();
  });
  byId("clear").addEventListener("click", () => state.select(null, "table"));
  byId("download").addEventListener("click", () => saveText("designs.csv", "text/csv", asCsv()));
  byId("copy").addEventListener("click", async () => {
    const done = await copyText(asCsv()),
      count = state.chosen().length;
    byId("selected").textContent = done
      ? `${wholeNumber(count)} ${count === 1 ? "design" : "designs"} copied as CSV`
      : "The browser refused to copy; use the download";
  });
  only.addEventListener("change", () => {
    page = 0;
    draw();
  });
  state.on("prices", () => {
    ranking = null;
  });
  fillColumns();
  return {
    draw,
    follow,
    restart() {
      page = 0;
      draw();
    },
  };
}
