// The reader's own prices: cost is a sum of lines, each a multiple of its prices, so that all designs are priced anew at
// once and to the cent as task=reprice prices them.

import { html } from "./theme.js";

const MOST_TYPED = 100000; // %, a thousand times a price, or years: beyond is a slip or a prank in a link

// Share of a loan paid back each year, as bill.py reckons it.
export function recovery(rate, years) {
  const payable = -Math.expm1(-years * Math.log1p(rate));
  return payable > 0 ? rate / payable : 1 / years;
}

// Columns of money under other prices: `factors` by line, `shares` as the configuration has them.
export function priced(columns, lines, { factors, fittings, interest, maintenance, lifetime }, shaft) {
  const count = shaft.length,
    found = {};
  const add = (name) => (found[name] = new Float64Array(count));
  const total = add("cost_EUR"),
    extra = add("cost_fittings_EUR"),
    annual = add("annual_cost_EUR"),
    each = add("cost_EUR_per_kWh");
  for (const { name, column } of lines) {
    const values = add(column),
      factor = factors[name] ?? 1,
      before = columns(column);
    for (let i = 0; i < count; i++) {
      values[i] = factor * before[i];
      total[i] += values[i];
    }
  }
  const yearly = recovery(interest, lifetime) + maintenance;
  for (let i = 0; i < count; i++) {
    extra[i] = fittings * total[i];
    total[i] += extra[i];
    annual[i] = yearly * total[i];
    each[i] = shaft[i] > 0 ? annual[i] / Math.max(shaft[i], 1e-9) : NaN;
  }
  return found;
}

export function makePrices(run, designs, state) {
  const byId = (id) => document.getElementById(id);
  const { lines, shares } = run.money;
  const usual = new Map([
    ...lines.filter(({ paid }) => paid).map(({ name }) => [name, 100]),
    ...shares.map(({ name, value }) => [name, value]),
  ]);
  const rows = new Map();
  const leastOf = (name) => (name === "lifetime" ? 1 : 0),
    taken = (name, value) => value >= leastOf(name) && value <= MOST_TYPED;
  let waiting = false,
    applied = "{}";

  function row({ name, line, unit = "%", keys = [], value = 100 }) {
    const most = name === "lifetime" ? 40 : keys.length ? 300 : Math.max(30, 2 * value);
    const attributes = { min: leastOf(name), step: keys.length ? 5 : "any" };
    const range = html("input", {
      type: "range",
      max: most,
      ...attributes,
      step: keys.length ? 5 : 0.5,
      "aria-label": `${line}, ${unit}`,
    });
    const typed = html("input", {
      type: "number",
      ...attributes,
      step: "any",
      "aria-label": `${line}, ${unit}, typed`,
    });
    const note = html("small", {}, "");
    const show = (now) => {
      range.value = now;
      typed.value = now;
      note.textContent = keys.length
        ? keys.length > 2
          ? `of ${keys.length} prices`
          : keys.map(([key, price]) => `${Number(((price * now) / 100).toPrecision(4))} ${unitOf(key)}`).join(", ")
        : "";
    };
    const read = (text) => {
      const now = text === "" ? NaN : Number(text);
      if (!taken(name, now)) return;
      show(now);
      change(name, now);
    };
    range.addEventListener("input", () => read(range.value));
    typed.addEventListener("change", () => read(typed.value));
    rows.set(name, show);
    show(value);
    return html(
      "div",
      { class: "price" },
      html("span", {}, line),
      range,
      html("span", { class: "typed" }, typed, ` ${unit}`),
      note,
    );
  }

  const unitOf = (key) => run.money.units[key] || "";

  function change(name, value) {
    const next = { ...state.prices };
    if (value === usual.get(name)) delete next[name];
    else next[name] = value;
    state.prices = next;
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      apply(state.prices);
    });
  }

  function apply(prices) {
    const known = Object.fromEntries(
      Object.entries(prices).filter(
        ([name, value]) => usual.has(name) && taken(name, value) && value !== usual.get(name),
      ),
    );
    state.prices = known;
    if (JSON.stringify(known) === applied) return;
    applied = JSON.stringify(known);
    state.setPrices(known, Object.keys(known).length ? reckon(known) : {});
  }

  function reckon(prices) {
    const share = ({ name, value, many }) => [name, (prices[name] ?? value) / many];
    const factors = Object.fromEntries(lines.map(({ name }) => [name, (prices[name] ?? 100) / 100]));
    const columns = priced(
      designs.ofFile,
      lines,
      { factors, ...Object.fromEntries(shares.map(share)) },
      designs.ofFile("shaft_energy_kWh_per_year"),
    );
    if (run.budget !== null && designs.header.includes("violation_budget_EUR"))
      columns.violation_budget_EUR = columns.cost_EUR.map((cost) => cost - run.budget);
    return columns;
  }

  // What the command line would be told to price the run the same way.
  function keysOf(prices) {
    const written = (value) => String(Number(value.toPrecision(12)));
    return [
      ...lines
        .filter(({ name }) => name in prices)
        .flatMap(({ name, keys }) => keys.map(([key, price]) => `${key}=${written((price * prices[name]) / 100)}`)),
      ...shares
        .filter(({ name }) => name in prices)
        .map(({ name, key, many }) => `${key}=${written(prices[name] / many)}`),
    ];
  }

  function show() {
    for (const [name, set] of rows) set(state.prices[name] ?? usual.get(name));
    const changed = [...lines, ...shares].filter(({ name }) => name in state.prices);
    byId("priced").hidden = !changed.length;
    byId("priced-words").textContent = changed
      .map(({ name, line, unit = "%" }) => `${line.toLowerCase()} ${state.prices[name]} ${unit}`)
      .join(", ");
    byId("priced-command").textContent = `explore task=reprice run=${run.folder} ${keysOf(state.prices).join(" ")}`;
  }

  byId("price-rows").append(...lines.filter(({ paid }) => paid).map(row), ...shares.map(row));
  document.querySelectorAll("[data-unprice]").forEach((button) => button.addEventListener("click", () => apply({})));
  state.on("prices", show);
  show();
  return { apply };
}
