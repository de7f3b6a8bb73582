// Exergy from sunlight to shaft as a flow: what reaches the store, and what is lost on its way, in the order of the plant.
// The collectors destroy so much more than all the rest that they are told in words and not drawn.

import { threeDigits } from "./numbers.js";
import { QUIET, css, layout, plain } from "./theme.js";

const AT_GLASS = "collectors and pipes";
const GOES = ["drawn from the store", "passed to the fluid", "work before friction and pumps", "net work"];
const STATIONS = [
  { test: /^store mixing$/, name: "store mixing", station: 0 },
  { test: /^standing loss$/, name: "standing loss", station: 0 },
  { test: /^boilers?$/, name: "boiler", station: 1 },
  { test: /^regenerator$/, name: "regenerator", station: 1 },
  { test: /^receivers?$/, name: "receivers", station: 2 },
  { test: /(admission|exhaust) valve$/, name: "valves", station: 2 },
  { test: /release$/, name: "release", station: 2 },
  { test: /leakage$/, name: "leakage", station: 2 },
  { test: /cylinder wall$/, name: "cylinder walls", station: 2 },
  { test: /^condenser$/, name: "condenser", station: 2 },
  { test: /^piston friction$/, name: "piston friction", station: 3 },
  { test: /pump|circulation/, name: "pumps", station: 3 },
  { test: /^drive$/, name: "drive", station: 3 },
];

// Losses by station, those of several stages together; what is not known by name belongs to the cylinders.
export function exergyFlow({
  work_kJ_per_L: work,
  rejected_kJ_per_L: rejected,
  sunlight_kJ_per_L: sunlight,
  destroyed,
}) {
  const losses = new Map();
  const add = (name, station, value) =>
    losses.set(name, { name, station, value: (losses.get(name)?.value || 0) + value });
  for (const { component, destroyed_kJ_per_L: value } of destroyed) {
    if (component === AT_GLASS) continue;
    const known = STATIONS.find(({ test }) => test.test(component));
    add(known ? known.name : component, known ? known.station : 2, value);
  }
  add("warmed cooling water", 2, rejected);
  const listed = [...losses.values()].filter(({ value }) => value > 0);
  const stored = listed.reduce((sum, { value }) => sum + value, work);
  return { sunlight, stored, work, losses: listed };
}

export function flowWords({ sunlight, stored, work }) {
  const percent = (share) => `${threeDigits(100 * share)} %`;
  return (
    `The sunlight behind one litre of hot water carries ${threeDigits(sunlight)} kJ of exergy. Collectors and pipes destroy ${percent(1 - stored / sunlight)} of it, ` +
    `because water below 100 °C can do little of what sunlight could; ${threeDigits(stored)} kJ reach the store, and ${threeDigits(work)} kJ of them, ${percent(work / stored)}, leave as net work.`
  );
}

// One band per loss. On a narrow screen all losses leave at once, for the steps between have no room there.
function flowLinks({ stored, work, losses }, narrow) {
  const names = [["reaches the store", stored]],
    links = [];
  const link = (source, name, value, useful) => {
    names.push([name, value]);
    links.push({ source, target: names.length - 1, value, useful });
    return names.length - 1;
  };
  let at = 0,
    left = stored;
  GOES.forEach((name, station) => {
    const mine = losses.filter((loss) => loss.station === station),
      last = station === GOES.length - 1;
    left = last ? work : left - mine.reduce((sum, { value }) => sum + value, 0);
    const next = last || (mine.length && !narrow) ? link(at, name, left, true) : at;
    for (const loss of smallTogether(mine, 0.005 * stored)) link(at, loss.name, loss.value, false);
    at = next;
  });
  return { names, links };
}

// Losses too small for a band of their own share one; below a tenth of that they go with the least of the others.
function smallTogether(losses, least) {
  const order = [...losses].sort((a, b) => b.value - a.value),
    large = order.filter(({ value }) => value >= least);
  let small = order.slice(large.length);
  const sum = () => small.reduce((total, { value }) => total + value, 0);
  if (small.length && sum() < 0.1 * least && large.length) small = [large.pop(), ...small];
  const drawn = losses.filter((loss) => large.includes(loss));
  return small.length ? [...drawn, { name: small.map(({ name }) => name).join(", "), value: sum() }] : drawn;
}

export function chartFlow(box, flow) {
  const narrow = box.clientWidth < 800,
    { names, links } = flowLinks(flow, narrow);
  const accent = css("--accent"),
    lost = css("--muted");
  const useful = new Set(links.filter((one) => one.useful).map(({ target }) => target)).add(0);
  const size = (value) => `${threeDigits(value)} kJ, ${threeDigits((100 * value) / flow.stored)} %`;
  const label = ([name, value]) => (narrow ? `${plain(name)} ${size(value)}` : `${plain(name)}<br>${size(value)}`);
  box.style.height = `${narrow ? 60 + 34 * links.length : Math.max(460, 34 * links.length)}px`;
  Plotly.react(
    box,
    [
      {
        type: "sankey",
        arrangement: "snap",
        valueformat: ".3~g",
        valuesuffix: " kJ/L",
        node: {
          label: names.map((one, k) => (narrow && k === 0 ? "" : label(one))),
          color: names.map((_, k) => (useful.has(k) ? accent : lost)),
          pad: narrow ? 16 : 26,
          thickness: 12,
          line: { width: 0 },
          hovertemplate: "%{label}<extra></extra>",
        },
        link: {
          ...Object.fromEntries(["source", "target", "value"].map((key) => [key, links.map((one) => one[key])])),
          color: links.map((one) => css(one.useful ? "--flow-useful" : "--flow-lost")),
          hovertemplate: "%{target.label}<extra></extra>",
        },
        textfont: { color: css("--ink"), size: narrow ? 11 : 12, shadow: "none" },
      },
    ],
    layout({ margin: { l: 6, r: 6, t: 12, b: 12 } }),
    QUIET,
  );
}
