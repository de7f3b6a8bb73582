// Parallel coordinates of at most 800 designs; ranges brushed here select on the whole page.

import { wholeNumber } from "./numbers.js";
import { QUIET, css, hasWebgl, layout, plain } from "./theme.js";

const MOST_LINES = 800;

export function makeParallel(run, designs, fluids, state) {
  const box = document.getElementById("parallel"),
    note = document.getElementById("parallel-note");
  const wanted = [...run.objectives.map((o) => o.figure), ...run.places.parallel];
  const names = [...new Set(wanted)].filter((name) => designs.numericNames.includes(name));
  let drawn = [],
    busy = false;

  const thin = (indices, most) => {
    const step = Math.max(1, indices.length / most);
    return Array.from({ length: Math.min(most, indices.length) }, (_, k) => indices[Math.floor(k * step)]);
  };

  function choose() {
    if (!state.selected) return thin(state.visible, MOST_LINES);
    const chosen = thin(state.chosen(), MOST_LINES / 2);
    const rest = thin(
      state.visible.filter((i) => !state.selected.has(i)),
      MOST_LINES - chosen.length,
    );
    return [...rest, ...chosen];
  }

  function dimension(name) {
    const values = designs.numbers(name);
    const words = run.columns[name];
    const counted = words.count && !values.some((value) => value > 3) ? { tickvals: [1, 2, 3], range: [0.8, 3.2] } : {};
    return { label: wrapped(words), values: drawn.map((i) => values[i]), name, tickformat: ",", ...counted };
  }

  // Axis titles stand side by side; long ones are cut at a space.
  function wrapped({ label, unit }) {
    const lines = [""];
    for (const word of (unit ? `${label}, ${unit}` : label).split(" ")) {
      if ((lines.at(-1) + word).length > 18) lines.push("");
      lines.push(`${lines.pop()} ${word}`.trim());
    }
    return plain(lines.join("\n")).replace(/\n/g, "<br>");
  }

  function fluidDimension() {
    const listed = run.fluids.map((f) => f.name).filter((name) => drawn.some((i) => designs.fluids[i] === name));
    const rank = new Map(listed.map((name, k) => [name, k]));
    return {
      label: "Fluid",
      name: "fluid",
      values: drawn.map((i) => rank.get(designs.fluids[i])),
      tickvals: listed.map((_, k) => k),
      ticktext: listed.map(plain),
      range: [-0.5, Math.max(listed.length - 0.5, 0.5)],
    };
  }

  function draw() {
    if (!hasWebgl) {
      note.textContent =
        "This browser offers no WebGL, which parallel coordinates need; the table and the scatter charts show the same designs.";
      return;
    }
    drawn = choose();
    const all = state.visible.length;
    note.textContent =
      (drawn.length < all
        ? `${wholeNumber(drawn.length)} of ${wholeNumber(all)} designs are drawn, evenly taken; `
        : `All ${wholeNumber(all)} designs are drawn; `) +
      "drag along an axis to select a range, on several axes to narrow it, click an axis to let go.";
    const colours = run.fluids.map((f) => fluids.colour(f.name)),
      grey = css("--faint"),
      last = Math.max(colours.length, 1);
    const number = new Map(run.fluids.map((f, k) => [f.name, k + 1]));
    const line = drawn.map((i) => (state.selected && !state.selected.has(i) ? 0 : number.get(designs.fluids[i])));
    const scale = [grey, ...colours].flatMap((colour, k, list) => [
      [k / list.length, colour],
      [(k + 1) / list.length, colour],
    ]);
    const dimensions = drawn.length ? [fluidDimension(), ...names.map(dimension)] : [];
    box.style.minWidth = `${118 * dimensions.length + 120}px`;
    busy = true;
    Plotly.react(
      box,
      [
        {
          type: "parcoords",
          dimensions,
          labelside: "top",
          tickfont: { size: 11, color: css("--ink") },
          labelfont: { size: 12, color: css("--ink") },
          rangefont: { size: 1, color: "rgba(0,0,0,0)" },
          line: { color: line, colorscale: scale, cmin: -0.5, cmax: last + 0.5, showscale: false },
          unselected: { line: { color: grey, opacity: 0.25 } },
        },
      ],
      layout({ margin: { l: 110, r: 70, t: 64, b: 18 } }),
      QUIET,
    ).then(() => {
      busy = false;
    });
    if (!box.heard) {
      box.heard = true;
      box.on("plotly_restyle", brushed);
    }
  }

  function brushed() {
    if (busy) return;
    const ranges = box.data[0].dimensions
      .map((d) => ({ name: d.name, values: d.values, range: d.constraintrange }))
      .filter((d) => d.range);
    if (!ranges.length) return state.select(null, "parallel");
    const within = (value, range) =>
      (Array.isArray(range[0]) ? range : [range]).some(([low, high]) => value >= low && value <= high);
    const rank = new Map((box.data[0].dimensions[0].ticktext || []).map((text, k) => [text, k]));
    const value = (i, name) => (name === "fluid" ? rank.get(plain(designs.fluids[i])) : designs.numbers(name)[i]);
    state.select(
      state.visible.filter((i) => ranges.every((d) => within(value(i, d.name), d.range))),
      "parallel",
    );
  }

  return { draw, box };
}
