// The charts of a design sheet; each takes the sheet's arrays and an element.

import { threeDigits } from "./numbers.js";
import { QUIET, css, layout, palette, plain, printing } from "./theme.js";
import { MONTHS } from "./words.js";

const lineTrace = (x, y, name, colour, more = {}) => ({
  type: "scatter",
  mode: "lines",
  x,
  y,
  name,
  line: { color: colour, width: 2, ...(more.line || {}) },
  hovertemplate: `${plain(name)}<br>%{x:.4~g}, %{y:.4~g}<extra></extra>`,
  ...Object.fromEntries(Object.entries(more).filter(([key]) => key !== "line")),
});

export const axisTitle = (text, standoff) => ({ title: { text, ...(standoff === undefined ? {} : { standoff }) } });
export const LEGEND = {
  showlegend: true,
  legend: { orientation: "h", y: 1.02, yanchor: "bottom", x: 0, font: { size: 11.5 } },
};

export function chartTs(box, sheet, dome, colour) {
  const hot = css("--hot"),
    cold = css("--cold"),
    traces = [];
  if (dome) {
    const liquid = dome.s_liquid_kJ_per_kgK,
      vapour = dome.s_vapour_kJ_per_kgK,
      open = liquid.at(-1) === vapour.at(-1) ? [] : [null];
    const s = [...liquid, ...open, ...[...vapour].reverse()],
      T = [...dome.T_degC, ...open, ...[...dome.T_degC].reverse()];
    traces.push(
      lineTrace(s, T, "saturation", css("--muted"), { line: { width: 1.3 }, hoverinfo: "skip", hovertemplate: null }),
    );
  }
  const curves = [
    ...(sheet.boilers || []).map((c, k) => [c, hot, "hot water", k > 0]),
    ...(sheet.condenser ? [[sheet.condenser, cold, "cooling water", false]] : []),
  ];
  for (const [curve, shade, name, again] of curves) {
    traces.push(
      lineTrace(curve.fluid_s_kJ_per_kgK, curve.fluid_T_degC, "fluid", colour, { showlegend: curve === curves[0][0] }),
    );
    if (curve.water_T_degC)
      traces.push(
        lineTrace(curve.fluid_s_kJ_per_kgK, curve.water_T_degC, name, shade, {
          line: { dash: "dash" },
          showlegend: !again,
        }),
      );
  }
  for (const [from, to] of expansions(sheet.states || [])) {
    traces.push(
      lineTrace(
        [from.s_kJ_per_kgK, to.s_kJ_per_kgK],
        [from.T_degC, to.T_degC],
        `expansion, ${from.place} to ${to.place}`,
        colour,
        { line: { dash: "dot" }, showlegend: false },
      ),
    );
  }
  const states = sheet.states || [];
  traces.push({
    type: "scatter",
    mode: "markers+text",
    x: states.map((s) => s.s_kJ_per_kgK),
    y: states.map((s) => s.T_degC),
    text: nearNumbers(states),
    name: "state points",
    textposition: states.map((s, k) => (k > 1 ? "middle right" : "bottom center")),
    marker: { size: 6, color: css("--ink") },
    showlegend: false,
    hovertext: states.map(
      (s, k) => `${k + 1}: ${plain(s.name)}<br>${threeDigits(s.T_degC)} °C, ${threeDigits(s.p_bar_a)} bar abs.`,
    ),
    hoverinfo: "text",
  });
  Plotly.react(
    box,
    traces,
    layout({
      ...LEGEND,
      xaxis: { ...axisTitle("Entropy of the fluid, kJ/(kg K)"), ...roomAtRight(traces) },
      yaxis: axisTitle("Temperature, °C"),
    }),
    QUIET,
  );
}

function roomAtRight(traces) {
  const values = traces.flatMap((trace) => trace.x).filter(Number.isFinite);
  const low = Math.min(...values),
    high = Math.max(...values);
  return { range: [low - 0.03 * (high - low), high + 0.17 * (high - low)] };
}

// The number of each state; states too close to tell apart share one label, at the first of them.
function nearNumbers(states) {
  const span = (values) => Math.max(...values) - Math.min(...values) || 1;
  const wide = span(states.map((s) => s.s_kJ_per_kgK)),
    tall = span(states.map((s) => s.T_degC)),
    labels = states.map(() => "");
  const seen = [];
  states.forEach((state, k) => {
    const near = seen.find(
      (j) =>
        Math.abs(states[j].s_kJ_per_kgK - state.s_kJ_per_kgK) < 0.08 * wide &&
        Math.abs(states[j].T_degC - state.T_degC) < 0.09 * tall,
    );
    if (near === undefined) seen.push(k);
    labels[near ?? k] += `${near === undefined ? "" : ", "}${k + 1}`;
  });
  return labels.map((label) => (label ? ` ${label}` : ""));
}

// From what stands before each cylinder to its outlet.
function expansions(states) {
  const at = (place) => states.find((state) => state.place === place);
  const pairs = [];
  for (let j = 1; at(`stage ${j} outlet`); j++) {
    const from = at(`stage ${j} inlet`) || at(j === 1 ? "boiler 1 outlet" : `stage ${j - 1} outlet`);
    if (from) pairs.push([from, at(`stage ${j} outlet`)]);
  }
  return pairs;
}

export function chartHeat(box, curves, waterName, waterColour, colour) {
  const traces = [],
    annotations = [];
  const total = curves.reduce((sum, c) => sum + c.q_kJ_per_kg.at(-1), 0);
  let start = total;
  curves.forEach((curve, k) => {
    start -= curve.q_kJ_per_kg.at(-1);
    const q = curve.q_kJ_per_kg.map((value) => value + start);
    traces.push(lineTrace(q, curve.fluid_T_degC, "fluid", colour, { showlegend: k === 0 }));
    if (!curve.water_T_degC) return;
    traces.push(
      lineTrace(q, curve.water_T_degC, waterName, waterColour, { line: { dash: "dash" }, showlegend: k === 0 }),
    );
    const pinch = closest(curve);
    traces.push(
      lineTrace(
        [q[pinch.at], q[pinch.at]],
        [curve.fluid_T_degC[pinch.at], curve.water_T_degC[pinch.at]],
        "pinch",
        css("--ink"),
        { showlegend: false, line: { width: 3 } },
      ),
    );
    annotations.push({
      x: q[pinch.at],
      y: Math.max(curve.fluid_T_degC[pinch.at], curve.water_T_degC[pinch.at]),
      text: `pinch ${threeDigits(pinch.gap)} K`,
      showarrow: false,
      yshift: 13,
      font: { size: 11.5 },
      bgcolor: css("--paper"),
      borderpad: 1,
      xanchor: q[pinch.at] < 0.2 * total ? "left" : q[pinch.at] > 0.8 * total ? "right" : "center",
    });
  });
  Plotly.react(
    box,
    traces,
    layout({
      ...LEGEND,
      annotations,
      xaxis: { ...axisTitle("Heat, kJ per kg of fluid"), range: [-0.01 * total, 1.03 * total] },
      yaxis: axisTitle("Temperature, °C"),
    }),
    QUIET,
  );
}

function closest(curve) {
  const gaps = curve.fluid_T_degC.map((T, k) => Math.abs(T - curve.water_T_degC[k]));
  const gap = Math.min(...gaps);
  const at = gaps.findLastIndex((one) => one <= 1.05 * gap); // at the corner, not on the curved way to it
  return { gap: gaps[at], at };
}

export function chartIndicator(box, loops) {
  const dashes = ["solid", "dash", "dot"],
    colours = [palette()[0], palette()[1], palette()[2]];
  const traces = loops.map((loop, k) =>
    lineTrace(loop.V_L, loop.p_bar_a, `stage ${k + 1}`, colours[k % 3], {
      line: { dash: dashes[k % 3] },
      fill: "toself",
      fillcolor: css("--wash"),
    }),
  );
  const most = Math.max(...loops.flatMap((loop) => loop.V_L));
  Plotly.react(
    box,
    traces,
    layout({
      ...LEGEND,
      xaxis: { ...axisTitle("Volume, L"), range: [0, 1.02 * most] },
      yaxis: { ...axisTitle("Pressure, bar abs."), rangemode: "tozero" },
    }),
    QUIET,
  );
}

// Losses below one part in a hundred are drawn together; the losses of one stage as well.
function exergyRows(accounts, supplied) {
  const groups = new Map();
  for (const { component, value } of accounts) {
    const name = (component.match(/^stage \d+/) || [component])[0];
    groups.set(name, (groups.get(name) || 0) + value);
  }
  const rows = [...groups],
    large = rows.filter(([, value]) => value >= 0.01 * supplied);
  const small = rows.filter(([, value]) => value < 0.01 * supplied).reduce((sum, [, value]) => sum + value, 0);
  return small > 0 ? [...large, ["others, each under 1 %", small]] : large;
}

export const fromWater = ({ supplied_kJ_per_kg: supplied, work_kJ_per_kg: work, accounts }) => ({
  start: "hot water",
  supplied,
  work,
  unit: "kJ/kg",
  per: "kg of fluid",
  accounts: accounts.map((part) => ({ component: part.component, value: part.destroyed_kJ_per_kg })),
});

export function chartExergy(box, { start, supplied, work, unit, per, accounts }) {
  const losses = exergyRows(accounts, supplied);
  const share = (value) =>
    `${threeDigits(Math.abs(value))} ${unit}, ${threeDigits((100 * Math.abs(value)) / supplied)} %`;
  const rows = [[start, supplied], ...losses, ["net work", work]].map(
    ([name, value]) => `<b>${plain(name)}</b><br>${share(value)}`,
  );
  box.style.height = `${90 + (printing() ? 27 : 37) * rows.length}px`;
  Plotly.react(
    box,
    [
      {
        type: "waterfall",
        orientation: "h",
        y: rows,
        x: [supplied, ...losses.map(([, value]) => -value), work],
        measure: ["absolute", ...losses.map(() => "relative"), "total"],
        hoverinfo: "y",
        connector: { line: { color: css("--line"), width: 1 } },
        increasing: { marker: { color: css("--hot") } },
        decreasing: { marker: { color: css("--muted") } },
        totals: { marker: { color: css("--accent") } },
      },
    ],
    layout({
      xaxis: { ...axisTitle(`Exergy, kJ per ${per}`), range: [0, supplied * 1.04] },
      yaxis: { autorange: "reversed", ticks: "", tickfont: { size: printing() ? 9 : 11.5 } },
    }),
    QUIET,
  );
}

export function chartServed(box, served) {
  const asked = [...Array(24).keys()].filter((hour) => served.some((row) => row[hour] !== null));
  const percent = served.map((row) => row.map((share) => (share === null ? null : 100 * share)));
  const few = asked.length <= 8;
  const hours = few ? asked : [...Array(24).keys()];
  Plotly.react(
    box,
    [
      {
        type: "heatmap",
        x: hours.map((h) => `${h}–${h + 1}`),
        y: MONTHS,
        z: percent.map((row) => hours.map((h) => row[h])),
        zmin: 0,
        zmax: 100,
        xgap: 2,
        ygap: 2,
        texttemplate: few ? "%{z:.0f}" : "",
        textfont: { color: css("--ink") },
        hovertemplate: "%{y}, %{x} o’clock: %{z:.0f} % served<extra></extra>",
        hoverongaps: false,
        colorscale: [
          [0, css("--map-low")],
          [1, css("--map-high")],
        ],
        colorbar: { title: { text: "%", side: "top" }, thickness: 10, outlinewidth: 0, ticks: "" },
      },
    ],
    layout({
      xaxis: { ...axisTitle("Hour of the day"), type: "category", ticks: "", showgrid: false },
      yaxis: { autorange: "reversed", ticks: "", showgrid: false },
    }),
    QUIET,
  );
}

// A long name in two lines, cut at the space nearest to its middle.
function twoLines(name) {
  const spaces = [...name.matchAll(/ /g)].map(({ index }) => index),
    middle = name.length / 2;
  if (name.length < 22 || !spaces.length) return plain(name);
  const cut = spaces.reduce((best, at) => (Math.abs(at - middle) < Math.abs(best - middle) ? at : best));
  return `${plain(name.slice(0, cut))}<br>${plain(name.slice(cut + 1))}`;
}

export function chartBars(
  box,
  names,
  values,
  unitName,
  { colour = css("--accent"), inner = [], write = threeDigits, size = 12.5 } = {},
) {
  const row = (printing() ? 19 : box.clientWidth < 480 ? 31 : 25) * (size / 12.5);
  box.style.height = `${Math.max(150, 56 + row * names.length)}px`;
  const most = Math.max(...values, 0);
  const narrow = box.clientWidth < 480,
    bar = { type: "bar", orientation: "h", y: names.map((name) => (narrow ? twoLines(name) : plain(name))) };
  const whole = {
    ...bar,
    x: values,
    text: values.map(write),
    textposition: "outside",
    cliponaxis: false,
    marker: { color: colour, opacity: inner.length ? 0.45 : 1 },
    hovertemplate: "%{y}: %{text}<extra></extra>",
  };
  const part = {
    ...bar,
    x: inner,
    marker: { color: colour },
    hovertemplate: "%{y}, this alone: %{x:,}<extra></extra>",
  };
  Plotly.react(
    box,
    inner.length ? [whole, part] : [whole],
    layout({
      xaxis: { ...axisTitle(unitName), range: [0, most * (narrow ? 1.4 : 1.22) || 1], nticks: 5 },
      yaxis: { autorange: "reversed", ticks: "", type: "category" },
      bargap: 0.28,
      barmode: "overlay",
      ...(size > 12.5 ? { font: { family: css("--sans"), size, color: css("--ink") } } : {}),
      margin: { l: 20, r: 10, t: 6, b: 42 },
    }),
    QUIET,
  );
}
