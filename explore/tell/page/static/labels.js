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

// Width of a letter over its height, on the wide side; and where a name may go if not just below its mark [px].
const LETTER = 0.58,
  STEPS = [26, 48, 70, 92, 114, 136].flatMap((ay) => [ay, -ay]);

const around = (x, y, wide, tall) => ({
  left: x - wide / 2,
  right: x + wide / 2,
  top: y - tall / 2,
  bottom: y + tall / 2,
});

const over = (box) => (other) =>
  box.left < other.right && other.left < box.right && box.top < other.bottom && other.top < box.bottom;

// `rangeOf` is what an axis spans, `room` width and height of what the axes enclose [px], `size` and `ownSize` the
// diameters of marks [px], `small` whether the window is.
export function makeLabels(run, designs, state, own, { rangeOf, room, size, ownSize, small }) {
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

  // Their names, written towards the middle of the chart on a plate of their own, where none covers another or a ring; one
  // design of two roles is named once.
  function labels(x, y, picks) {
    const xs = designs.numbers(x),
      ys = designs.numbers(y),
      roles = new Map();
    for (const { title, design } of picks) roles.set(design, [...(roles.get(design) || []), title]);
    const listed = [...roles].filter(([i]) => Number.isFinite(xs[i]) && Number.isFinite(ys[i]));
    const [low, high] = rangeOf(x),
      [bottom, top] = rangeOf(y),
      [width, height] = room();
    const place = (i) => [(xs[i] - low) / (high - low), (ys[i] - bottom) / (top - bottom)];
    const taken = listed.map(([i]) => {
      const [across, up] = place(i);
      return around(across * width, (1 - up) * height, 2 * size, 2 * size);
    });
    const levels = [...listed].sort(([a], [b]) => ys[b] - ys[a]);
    const written = levels.map(([i, titles]) => {
      const [across, up] = place(i),
        leftward = across > (printing() ? 0.45 : 0.5), // on paper a name takes half the width
        font = small.matches ? 11 : 12,
        long = Math.max(...titles.map((title) => title.length)) * LETTER * font,
        tall = titles.length * 1.4 * font + 4;
      const plates = [up > 0.85 ? 16 : up < 0.15 ? -22 : 26, ...STEPS].flatMap((ay) =>
        (leftward ? [-34, 34, -10, 10] : [34, -34, 10, -10]).map((ax) => ({
          ax,
          ay,
          box: around(across * width + ax + (ax > 0 ? long / 2 : -long / 2), (1 - up) * height + ay, long, tall),
        })),
      );
      const inside = plates.filter(
        ({ box }) => box.left > 0 && box.right < width && box.top > 0 && box.bottom < height,
      );
      // Where no place is free, better over a ring than over a name.
      const names = taken.slice(listed.length);
      const free = [taken, names].map((those) => inside.find(({ box }) => !those.some(over(box)))).find(Boolean);
      const { ax, ay, box } = free || plates[0];
      taken.push(box);
      return {
        x: xs[i],
        y: ys[i],
        text: titles.map(plain).join(",<br>"),
        showarrow: true,
        arrowhead: 0,
        arrowwidth: 1,
        arrowcolor: css("--ink"),
        standoff: size,
        ax,
        ay,
        xanchor: ax < 0 ? "right" : "left",
        captureevents: false,
        font: { size: font, color: css("--ink") },
        bgcolor: css("--plate"),
        borderpad: 2,
      };
    });
    return [...ownLabels(x, y), ...written];
  }

  return { rings, labels };
}
