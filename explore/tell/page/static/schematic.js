// The plant as a line drawing, made from the design's own numbers: levels, stages, regenerator, state points.

import { threeDigits } from "./numbers.js";
import { svg } from "./theme.js";

const STAGE_X = (j) => 500 + 120 * (j - 1);
const BOILER_Y = { 1: [190], 2: [120, 275], 3: [105, 255, 345] };

export function drawSchematic(plant, states) {
  const { levels, stages, mixed, regenerator } = plant;
  const centres = mixed ? [210] : BOILER_Y[levels] || BOILER_Y[3];
  const picture = svg("svg", {
    viewBox: stages > 1 ? "0 -34 980 534" : "0 -4 980 504",
    class: "schematic",
    role: "img",
    "aria-label": describePlant(plant),
  });
  picture.append(
    ...water(centres, plant),
    ...boilers(centres, mixed),
    ...engine(stages, plant.shaft),
    ...condenser(regenerator),
    ...fluidPipes(centres, plant),
    ...pumps(centres, mixed),
  );
  const written = new Set();
  states.forEach((state, k) => {
    if (Array.isArray(state.at)) picture.append(...statePoint(state, k + 1, state.at, written));
  });
  return picture;
}

const describePlant = ({ levels, stages, mixed, regenerator }) =>
  `${mixed ? "Fully mixed store with a boiling coil" : `Stratified store, ${levels} boiler${levels > 1 ? "s" : ""} in series`}, ` +
  `engine with ${stages} stage${stages > 1 ? "s" : ""}, ${regenerator ? "regenerator, " : ""}condenser, feed pump`;

const pipe = (kind, ...points) =>
  svg("polyline", { class: `pipe ${kind}`, points: points.map((p) => p.join(",")).join(" ") });
const box = (x, y, width, height, kind = "") => svg("rect", { x, y, width, height, rx: 4, class: `part ${kind}` });

function caption(x, y, text, anchor = "middle") {
  const lines = text.split("\n");
  const element = svg("text", { x, y, "text-anchor": anchor, class: "caption" });
  lines.forEach((line, k) => element.append(svg("tspan", { x, dy: k ? 15 : 0 }, line)));
  return element;
}

function water(centres, { mixed, store, collector, cooling }) {
  const top = centres[0],
    low = centres.at(-1);
  const parts = [
    svg("path", { class: "part", d: "M22 180L92 110L122 140L52 210Z" }),
    svg("path", { class: "thin", d: "M32 170l30 30M52 150l30 30M72 130l30 30" }),
    caption(110, 196, collector, "middle"),
    pipe("hot", [112, 130], [150, 96], [190, 96]),
    pipe("cold", [42, 200], [42, 396], [190, 396]),
    box(190, 70, 100, 350, "store"),
    svg("rect", { x: 191, y: 71, width: 98, height: mixed ? 348 : 210, rx: 4, class: "hot-water" }),
    caption(240, 446, store),
    pipe("cold", [965, 362], [915, 362]),
    pipe("cold", [915, 338], [965, 338]),
    caption(978, 303, cooling, "end"),
  ];
  if (!mixed)
    parts.push(
      pipe("hot", [290, 96], [355, 96], [355, top - 35]),
      pipe("cold", [355, low + 35], [355, 410], [290, 410]),
    );
  return parts;
}

function boilers(centres, mixed) {
  if (mixed)
    return [
      svg("path", {
        class: "pipe fluid",
        d: "M290 290H215q-12 0-12-13t12-13H265q12 0 12-13t-12-13H215q-12 0-12-13t12-13H265q12 0 12-13t-12-13H215q-12 0-12-13t12-13H290",
      }),
      caption(240, 125, "boiling coil"),
    ];
  const parts = centres
    .map((y, k) => [box(330, y - 35, 100, 70), caption(380, y + 5, centres.length > 1 ? `boiler ${k + 1}` : "boiler")])
    .flat();
  for (let k = 1; k < centres.length; k++) parts.push(pipe("hot", [355, centres[k - 1] + 35], [355, centres[k] - 35]));
  return parts;
}

function engine(stages, shaft) {
  const parts = [];
  for (let j = 1; j <= stages; j++) {
    const x = STAGE_X(j),
      wide = 44 + 10 * (j - 1);
    parts.push(
      svg("path", { class: "part", d: `M${x + 35 - wide / 2} 165V72H${x + 35 + wide / 2}V165` }),
      svg("rect", { x: x + 35 - wide / 2 + 2, y: 112, width: wide - 4, height: 18, class: "piston" }),
      pipe("rod", [x + 35, 130], [x + 47, 195]),
      svg("circle", { cx: x + 35, cy: 203, r: 14, class: "part" }),
      caption(x + 35, 90, `${j}`),
    );
  }
  const end = STAGE_X(stages) + 35;
  parts.push(pipe("rod", [STAGE_X(1) + 15, 203], [end + 42, 203]), caption(end + 28, 228, `shaft ${shaft}`));
  return parts;
}

function condenser(regenerator) {
  const parts = [box(815, 315, 100, 70), caption(865, 355, "condenser")];
  if (regenerator) parts.push(box(815, 238, 100, 46), caption(865, 266, "regenerator"));
  return parts;
}

function fluidPipes(centres, { levels, stages, mixed, regenerator }) {
  const low = centres.at(-1),
    parts = [];
  const start = mixed
    ? [
        [290, 160],
        [450, 160],
      ]
    : [
        [430, centres[0]],
        [450, centres[0]],
      ];
  parts.push(pipe("fluid", ...start, [450, 42], [STAGE_X(1) + 18, 42], [STAGE_X(1) + 18, 72]));
  for (let j = 1; j < stages; j++)
    parts.push(
      pipe("fluid", [STAGE_X(j) + 52, 72], [STAGE_X(j) + 52, 42], [STAGE_X(j + 1) + 18, 42], [STAGE_X(j + 1) + 18, 72]),
    );
  for (let i = 2; i <= levels && !mixed; i++) {
    const x = STAGE_X(i) - 25;
    parts.push(
      pipe("fluid", [430, centres[i - 1]], [x, centres[i - 1]], [x, 42]),
      pipe("fluid", [410, centres[i - 1] - 35], [410, centres[i - 2] + 35]),
    );
  }
  parts.push(
    pipe("fluid", [STAGE_X(stages) + 52, 72], [STAGE_X(stages) + 52, 42], [865, 42], [865, regenerator ? 238 : 315]),
  );
  if (regenerator) parts.push(pipe("fluid", [865, 284], [865, 315]));
  const home = mixed
    ? [
        [310, 460],
        [310, 290],
        [290, 290],
      ]
    : [
        [405, 460],
        [405, low + 35],
      ];
  parts.push(
    regenerator
      ? pipe("fluid", [865, 385], [865, 460], [790, 460], [790, 272], [815, 272])
      : pipe("fluid", [865, 385], [865, 460], ...home),
  );
  if (regenerator) parts.push(pipe("fluid", [815, 252], [760, 252], [760, 478], [home[0][0], 478], ...home.slice(1)));
  return parts;
}

function pumps(centres, mixed) {
  const symbol = (x, y, turn = 0) =>
    svg(
      "g",
      { transform: `translate(${x} ${y}) rotate(${turn})` },
      svg("circle", { r: 15, class: "part" }),
      svg("path", { d: "M-15 0L8 -12V12Z", class: "arrow" }),
    );
  const parts = [symbol(822, 460), caption(822, 494, "feed pump")];
  if (!mixed)
    for (let k = 1; k < centres.length; k++)
      parts.push(
        svg("g", { transform: `translate(410 ${(centres[k - 1] + centres[k]) / 2}) scale(.6)` }, symbol(0, 0, 90)),
      );
  return parts;
}

// A state says itself where it is marked (x, y) and on which side its figures stand: its part knows the place.
// The same figures are not written twice, as those of boiler 1 and stage 1 often are the same.
function statePoint(state, number, [x, y, side], written) {
  const figures = [`${threeDigits(state.T_degC)} °C`, `${threeDigits(state.p_bar_a)} bar abs.`];
  if (written.has(figures.join())) figures.length = 0;
  else written.add(figures.join());
  const where = {
    0: [0, -26, "middle"],
    1: [16, -4, "start"],
    "-1": [-16, -4, "end"],
    2: [0, 26, "middle"],
    3: [0, -55, "middle"],
    4: [-40, -4, "end"],
  }[side];
  const text = svg("text", { x: x + where[0], y: y + where[1], "text-anchor": where[2], class: "figures" });
  figures.forEach((figure, k) => text.append(svg("tspan", { x: x + where[0], dy: k ? 13 : 0 }, figure)));
  return [
    svg("circle", { cx: x, cy: y, r: 10, class: "point" }),
    svg("text", { x, y: y + 4, "text-anchor": "middle", class: "number" }, String(number)),
    text,
  ];
}

// Cylinders side by side to one scale: bore across, stroke up, piston at half stroke.
export function drawCylinders(cylinders) {
  const tall = Math.max(...cylinders.map((c) => c.stroke)),
    scale = 170 / (tall * 1.25);
  const gap = 84,
    width = cylinders.reduce((sum, c) => sum + c.bore * scale + gap, 30);
  const picture = svg("svg", {
    viewBox: `0 0 ${Math.max(width, 300).toFixed(0)} 262`,
    class: "cylinders",
    role: "img",
    "aria-label": cylinders
      .map((c, k) => `Stage ${k + 1}: bore ${threeDigits(c.bore)} mm, stroke ${threeDigits(c.stroke)} mm`)
      .join("; "),
  });
  let x = 30;
  cylinders.forEach((c, k) => {
    const bore = c.bore * scale,
      stroke = c.stroke * scale,
      head = 20,
      crown = Math.max(8, 0.2 * stroke),
      bottom = head + stroke + crown;
    const top = head + stroke / 2,
      middle = x + bore / 2;
    picture.append(
      svg("path", { class: "part", d: `M${x} ${bottom}V${head}H${x + bore}V${bottom}` }),
      svg("rect", { class: "piston", x: x + 1, y: top, width: Math.max(bore - 2, 1), height: crown }),
      pipe("rod", [middle, top + crown], [middle, bottom + 12]),
      pipe("thin", [x + bore + 12, head], [x + bore + 12, head + stroke]),
      pipe("thin", [x + bore + 8, head], [x + bore + 16, head]),
      pipe("thin", [x + bore + 8, head + stroke], [x + bore + 16, head + stroke]),
      caption(x + bore + 18, head + stroke / 2 + 4, `${threeDigits(c.stroke)} mm`, "start"),
      caption(middle, bottom + 28, `⌀ ${threeDigits(c.bore)} mm`),
      caption(middle, bottom + 43, `${threeDigits(c.swept)} L`),
      caption(middle, 12, `stage ${k + 1}`),
    );
    x += bore + gap;
  });
  return picture;
}
