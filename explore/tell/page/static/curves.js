// Curves of the best that can be had for up to so much: as stairs, because nothing between two designs was found. Each
// runs on level to the edge of its chart, where its name stands beside its mark, so that no legend is needed.

import { writeCell } from "./numbers.js";
import { css, layout, plain, sheer } from "./theme.js";

const ROOM_PX = 15, // of a name under another
  LEADER_SHARE = 0.035; // of a chart's width, from the end of a curve to its name

// Of `rows` those that better `up` (times `sign`, more being better) as `across` grows: the stairs, lowest `across` first.
export function stairs(rows, across, up, sign = 1) {
  const sorted = rows
    .filter((i) => Number.isFinite(across[i]) && Number.isFinite(up[i]))
    .sort((a, b) => across[a] - across[b] || sign * (up[b] - up[a]));
  const kept = [];
  for (const i of sorted) if (!kept.length || sign * up[i] > sign * up[kept.at(-1)]) kept.push(i);
  return kept;
}

// Places for names along the edge, each at least `room` below the one before and all as near as can be (least squares) to
// where they belong: of those that would overlap the mean stays where it was.
export function spread(places, room, most) {
  const order = places.map((_, k) => k).sort((a, b) => places[a] - places[b]),
    pools = [];
  for (const k of order) {
    pools.push({ members: [k], start: places[k] });
    while (pools.length > 1 && pools.at(-2).start + room * pools.at(-2).members.length > pools.at(-1).start) {
      const members = [...pools.at(-2).members, ...pools.at(-1).members];
      const start = members.reduce((sum, m, n) => sum + places[m] - room * n, 0) / members.length;
      pools.splice(-2, 2, { members, start });
    }
  }
  const found = [...places];
  let least = 0;
  for (const { members, start } of pools)
    for (const [n, k] of members.entries()) {
      found[k] = Math.max(start + room * n, least);
      least = found[k] + room;
    }
  let end = most;
  for (const k of [...order].reverse()) {
    found[k] = Math.min(found[k], end);
    end = found[k] - room;
  }
  return found;
}

// `groups`: { title, colour, symbol, rows } with rows as `stairs` has them; `x` and `y`: { values, title, column }.
export function chartCurves(box, groups, x, y, { size = 12.5, behind = [], picked = [], name, listen } = {}) {
  const drawn = groups.filter(({ rows }) => rows.length),
    of = (axis) => [...drawn.flatMap(({ rows }) => rows), ...behind].map((i) => axis.values[i]),
    reach = (values) => [Math.min(...values), Math.max(...values)];
  const [left, right] = reach(of(x)),
    [bottom, top] = reach(of(y)),
    edge = 0.04 * (right - left || Math.abs(right) || 1),
    rise = 0.06 * (top - bottom || Math.abs(top) || 1);
  const end = right + edge,
    low = bottom - rise,
    high = top + rise;
  const leader = Math.max(22, LEADER_SHARE * (box.clientWidth || 900)),
    room = ROOM_PX * (size / 12),
    longest = Math.max(0, ...drawn.map(({ title }) => title.length)),
    margin = { l: size * 4.6, r: drawn.some(({ title }) => title) ? leader + longest * size * 0.56 + 10 : 14 },
    head = 14,
    foot = size * 4,
    tall = Math.max((box.clientHeight || 420) - head - foot, 40);
  const traces = [],
    labels = [];
  if (behind.length)
    traces.push({
      type: "scatter",
      mode: "markers",
      x: behind.map((i) => x.values[i]),
      y: behind.map((i) => y.values[i]),
      customdata: behind,
      hoverinfo: "skip",
      marker: {
        size: 5,
        opacity: 1,
        color: behind.map((i) => sheer(groups.find(({ has }) => has?.(i))?.colour ?? css("--faint"), 0.55)),
        symbol: behind.map((i) => groups.find(({ has }) => has?.(i))?.symbol ?? "circle"),
      },
    });
  const placed = spread(
    drawn.map(({ rows }) => (tall * (high - y.values[rows.at(-1)])) / (high - low)),
    room,
    tall,
  );
  drawn.forEach(({ title, colour, symbol, rows }, k) => {
    const last = y.values[rows.at(-1)],
      words = (i) =>
        `${plain(name(i))}<br>${plain(writeCell(String(y.raw[i]), y.column))}<br>${plain(writeCell(String(x.raw[i]), x.column))}`;
    traces.push({
      type: "scatter",
      mode: "lines",
      x: [...rows.map((i) => x.values[i]), end],
      y: [...rows.map((i) => y.values[i]), last],
      customdata: [...rows, rows.at(-1)],
      hovertext: [...rows, rows.at(-1)].map(words),
      hoverinfo: "text",
      line: { shape: "hv", color: colour, width: size / 6 },
    });
    if (!title) return;
    traces.push({
      type: "scatter",
      mode: "markers",
      x: [end],
      y: [last],
      hoverinfo: "skip",
      cliponaxis: false,
      marker: { size: size * 0.72, color: colour, symbol },
    });
    labels.push({
      x: end,
      y: last,
      text: plain(title),
      showarrow: true,
      arrowhead: 0,
      arrowwidth: 1,
      arrowcolor: colour,
      standoff: size * 0.4,
      ax: leader,
      ay: placed[k] - (tall * (high - last)) / (high - low),
      xanchor: "left",
      font: { size: size * 0.96, color: css("--ink") },
      captureevents: false,
    });
  });
  for (const { i, title } of picked)
    labels.push({
      x: x.values[i],
      y: y.values[i],
      text: plain(title),
      showarrow: true,
      arrowhead: 6,
      arrowsize: 1.2,
      arrowwidth: 1.2,
      arrowcolor: css("--ink"),
      ax: x.values[i] > (left + right) / 2 ? -size * 3 : size * 3,
      ay: y.values[i] < low + 0.2 * (high - low) ? -size * 2 : size * 2.6,
      xanchor: x.values[i] > (left + right) / 2 ? "right" : "left",
      bgcolor: css("--plate"),
      font: { size: size * 0.96, color: css("--ink") },
      captureevents: false,
    });
  Plotly.react(
    box,
    traces,
    layout({
      xaxis: { title: { text: x.title }, range: [left - edge, end], nticks: 7 },
      yaxis: { title: { text: y.title }, range: [low, high], nticks: 7 },
      hovermode: "closest",
      annotations: labels,
      font: { family: css("--sans"), size, color: css("--ink") },
      margin: { ...margin, t: head, b: foot },
      dragmode: false,
    }),
    { displaylogo: false, responsive: true, displayModeBar: false },
  );
  if (listen && !box.heard) {
    box.heard = true;
    box.on("plotly_click", ({ points }) => {
      const i = points.find(({ customdata }) => customdata !== undefined)?.customdata;
      if (i !== undefined) listen(i);
    });
  }
}
