// The comparison of fluids: the column that follows the reader's limits, sorting, and the small charts.

import { axisTitle } from "./diagrams.js";
import { NONE, threeDigits, writeNumber } from "./numbers.js";
import { QUIET, css, layout, plain, printing } from "./theme.js";

export function makeFluidViews(run, designs, fluids, state) {
  const table = document.getElementById("fluid-table"),
    body = table.tBodies[0],
    box = document.getElementById("multiples");
  let repriced = false,
    sorted = null;
  const aboard = new Set(designs.fluids.slice(0, designs.count));
  const present = run.fluids.filter((f) => aboard.has(f.name));

  function update() {
    const work = designs.numbers("work_per_litre_kJ"),
      best = new Map();
    for (const i of [...state.passing, ...state.visibleOthers])
      if (!(work[i] <= best.get(designs.fluids[i]))) best.set(designs.fluids[i], work[i]);
    if (state.priced || repriced) reprice();
    for (const row of body.rows) {
      const found = best.get(row.dataset.fluid);
      row.querySelector("[data-now]").textContent = found === undefined ? NONE : threeDigits(found);
      if (found === undefined) delete row.dataset.now;
      else row.dataset.now = found;
      row.classList.toggle("out", found === undefined);
    }
    arrange();
  }

  // Costs of each fluid at the reader's prices, and as written when the searched ones count again.
  function reprice() {
    const work = designs.numbers("work_per_litre_kJ"),
      cost = designs.numbers("cost_EUR");
    const least = new Map(),
      most = new Map();
    designs.fluids.forEach((name, i) => {
      const [cheapest, best] = [least.get(name), most.get(name)];
      if (cheapest === undefined || cost[i] < cost[cheapest]) least.set(name, i);
      if (best === undefined || work[i] > work[best]) most.set(name, i);
    });
    for (const row of body.rows) {
      for (const [name, key, found] of [
        ["least", "data-least_cost", least],
        ["at-best", "data-cost_at_best", most],
      ]) {
        const cell = row.querySelector(`[data-${name}]`),
          i = found.get(row.dataset.fluid);
        cell.dataset.searched ??= cell.textContent;
        cell.dataset.sorted ??= row.getAttribute(key) ?? "";
        const now = state.priced && i !== undefined;
        cell.textContent = now ? threeDigits(cost[i]) : cell.dataset.searched;
        if (now || cell.dataset.sorted) row.setAttribute(key, now ? cost[i] : cell.dataset.sorted);
      }
    }
    repriced = state.priced;
  }

  function sort(button) {
    const key = button.dataset.key,
      cell = button.closest("th");
    const up = cell.getAttribute("aria-sort")
      ? cell.getAttribute("aria-sort") === "descending"
      : ["rank", "least_cost", "cost_at_best", "standstill", "at_20", "price", "gwp", "swept"].includes(key);
    table.querySelectorAll("th[aria-sort]").forEach((th) => th.removeAttribute("aria-sort"));
    cell.setAttribute("aria-sort", up ? "ascending" : "descending");
    sorted = { key, up };
    arrange();
  }

  // Put the rows in the order that was asked for, and leave them alone where they stand in it.
  function arrange() {
    if (!sorted) return;
    const { key, up } = sorted;
    const value = (row) => (row.getAttribute(`data-${key}`) === null ? NaN : Number(row.getAttribute(`data-${key}`)));
    const last = (row) => (Number.isNaN(value(row)) ? 1 : 0);
    const rows = [...body.rows].sort((a, b) => last(a) - last(b) || (up ? 1 : -1) * (value(a) - value(b)) || 0);
    if (rows.some((row, k) => row !== body.rows[k])) body.append(...rows);
  }

  function draw() {
    const wide = box.clientWidth || 900,
      across = Math.max(
        1,
        Math.min(
          printing() ? 6 : 5,
          Math.floor(wide / (printing() ? 110 : wide < 500 ? 150 : 210)),
          present.length || 1,
        ),
      );
    const down = Math.max(1, Math.ceil(present.length / across)),
      high = 54 + down * (printing() ? 88 : 170);
    const work = designs.numbers("work_per_litre_kJ"),
      cost = designs.numbers("cost_EUR");
    const shown = state.passing,
      seen = new Set(shown),
      range = spans(cost, work);
    const traces = [],
      annotations = [],
      axes = {};
    present.forEach((fluid, k) => {
      const tail = k ? String(k + 1) : "",
        left = k % across,
        top = Math.floor(k / across);
      const gap = 0.035,
        width = (1 - gap * (across - 1)) / across,
        drop = 66 / high,
        height = (1 - drop * (down - 1)) / down;
      axes[`xaxis${tail}`] = {
        domain: [left * (width + gap), left * (width + gap) + width],
        anchor: `y${tail}`,
        range: range.x,
        nticks: printing() ? 2 : 4,
        tickangle: 0,
        tickfont: { size: 10.5 },
        automargin: false,
        ...(k + across >= present.length ? axisTitle("EUR", 3) : {}),
      };
      const floor = Math.max(0, 1 - top * (height + drop) - height);
      axes[`yaxis${tail}`] = {
        domain: [floor, floor + height],
        anchor: `x${tail}`,
        range: range.y,
        nticks: 5,
        showticklabels: left === 0,
        tickfont: { size: 10.5 },
        automargin: false,
        ...(left === 0 ? axisTitle("kJ/L", 3) : {}),
      };
      const of = (mine) =>
        Array.from({ length: designs.count }, (_, i) => i).filter(
          (i) => (designs.fluids[i] === fluid.name) === mine && seen.has(i),
        );
      const grey = of(false).filter((_, n, list) => n % Math.max(1, Math.ceil(list.length / 150)) === 0),
        own = of(true);
      const marks = (indices, marker) => ({
        type: "scatter",
        mode: "markers",
        x: indices.map((i) => cost[i]),
        y: indices.map((i) => work[i]),
        xaxis: `x${tail}`,
        yaxis: `y${tail}`,
        customdata: indices,
        hoverinfo: "skip",
        marker,
      });
      traces.push(marks(grey, { size: 3, color: css("--faint") }), {
        ...marks(own, { size: 6, color: fluids.colour(fluid.name), symbol: fluid.symbol }),
        hoverinfo: "text",
        hovertext: own.map(
          (i) =>
            `${plain(fluid.short)}, design ${designs.nameOf(i)}<br>${writeNumber(work[i])} kJ/L, ${writeNumber(cost[i])} EUR`,
        ),
      });
      annotations.push({
        text: `<b>${plain(fluid.short)}</b>`,
        xref: `x${tail} domain`,
        yref: `y${tail} domain`,
        x: 0.03,
        y: 1,
        xanchor: "left",
        yanchor: "bottom",
        showarrow: false,
        font: { size: printing() ? 9 : 12 },
      });
    });
    box.style.height = `${high}px`;
    Plotly.react(
      box,
      traces,
      layout({
        ...axes,
        annotations,
        grid: {},
        hovermode: "closest",
        margin: { l: 52, r: 12, t: 22, b: 44 },
        height: high,
      }),
      QUIET,
    );
    if (!box.heard) {
      box.heard = true;
      box.on("plotly_click", (event) => {
        state.visit(event.points[0].customdata);
      });
    }
  }

  function spans(...columns) {
    const span = (values) => {
      const inside = [...values.slice(0, designs.count)].filter(Number.isFinite);
      const low = Math.min(...inside),
        high = Math.max(...inside),
        edge = 0.06 * (high - low || 1);
      return [low - edge, high + edge];
    };
    return { x: span(columns[0]), y: span(columns[1]) };
  }

  table.querySelectorAll("button[data-key]").forEach((button) => button.addEventListener("click", () => sort(button)));
  return { update, draw, box };
}
