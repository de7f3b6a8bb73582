// What a scatter chart has beside its marks: rings and names of the recommended designs, and the reader's own designs.

import { css, plain, printing } from "./theme.js";
import { parseCsv } from "./unpack.js";

// Designs of own.csv: their names, and their values of a figure, NaN where they have none.
export function ownDesigns(run) {
  const own = run.own ? parseCsv(run.own) : { header: [], rows: [] };
  function values(name) {
    const k = own.header.indexOf(name),
      factor = run.columns[name] && run.columns[name].share ? 100 : 1;
    return own.rows.map((row) => (k < 0 || row[k] === "" ? NaN : Number(row[k]) * factor));
  }

  const names = own.rows.map((row) => row[own.header.indexOf("name")] || "own design");
  return { names, values };
}

// `rangeOf` is what an axis spans, `size` and `ownSize` the diameters of marks [px], `small` whether the window is.
export function makeLabels(run, designs, state, own, { rangeOf, size, ownSize, small }) {
  const ownLabels = (x, y) => {
    const [xs, ys] = [own.values(x), own.values(y)];
    return own.names.flatMap((name, k) =>
      Number.isFinite(xs[k]) && Number.isFinite(ys[k])
        ? [
            {
              x: xs[k],
              y: ys[k],
              text: plain(name),
              showarrow: false,
              yanchor: "top",
              yshift: -ownSize / 2,
              captureevents: false,
              font: { size: small.matches ? 11 : 12, color: css("--ink") },
              bgcolor: css("--plate"),
            },
          ]
        : [],
    );
  };

  // Rings around the recommended designs and the one whose sheet is open.
  function rings(x, y, picks) {
    const found = new Set(picks.map(({ design }) => design)),
      xs = designs.numbers(x),
      ys = designs.numbers(y),
      half = size;
    if (state.visible.includes(state.design)) found.add(state.design);
    return [...found]
      .filter((i) => Number.isFinite(xs[i]) && Number.isFinite(ys[i]))
      .map((i) => ({
        type: "circle",
        xsizemode: "pixel",
        ysizemode: "pixel",
        xanchor: xs[i],
        yanchor: ys[i],
        x0: -half,
        x1: half,
        y0: -half,
        y1: half,
        line: { color: css("--ink"), width: 1.8 },
      }));
  }

  // Their names, written towards the middle of the chart on a plate of their own; one design of two roles is named once.
  function labels(x, y, picks) {
    const xs = designs.numbers(x),
      ys = designs.numbers(y),
      roles = new Map();
    for (const { title, design } of picks) roles.set(design, [...(roles.get(design) || []), title]);
    const listed = [...roles].filter(([i]) => Number.isFinite(xs[i]) && Number.isFinite(ys[i]));
    const [low, high] = rangeOf(x),
      [bottom, top] = rangeOf(y);
    const levels = [...listed].sort(([a], [b]) => ys[b] - ys[a]);
    const written = levels.map(([i, titles]) => {
      const across = (xs[i] - low) / (high - low),
        up = (ys[i] - bottom) / (top - bottom),
        leftward = across > (printing() ? 0.45 : 0.5); // on paper a name takes half the width
      return {
        x: xs[i],
        y: ys[i],
        text: titles.map(plain).join(",<br>"),
        showarrow: true,
        arrowhead: 0,
        arrowwidth: 1,
        arrowcolor: css("--ink"),
        standoff: size,
        ax: leftward ? -34 : 34,
        ay: up > 0.85 ? 16 : up < 0.15 ? -22 : 26,
        xanchor: leftward ? "right" : "left",
        captureevents: false,
        font: { size: small.matches ? 11 : 12, color: css("--ink") },
        bgcolor: css("--plate"),
        borderpad: 2,
      };
    });
    return [...ownLabels(x, y), ...written];
  }

  return { rings, labels };
}
