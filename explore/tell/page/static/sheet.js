// The design sheet: filled for the design in the address, #design-17 being line 17 of front.csv.

import { cautionItems, cautionsOf, fillFigures, wallsOf } from "./cards.js";
import { chartBars, chartExergy, chartHeat, chartIndicator, chartServed, chartTs, fromWater } from "./diagrams.js";
import { saveText } from "./files.js";
import { chartFlow, exergyFlow, flowWords } from "./flow.js";
import { threeDigits, writeCell, writeNumber } from "./numbers.js";
import { fillParts } from "./parts.js";
import { drawCylinders, drawSchematic } from "./schematic.js";
import { css, drawMark, html, whenNear } from "./theme.js";

// What a command does, its task, and what the task needs beside the design.
const BENCH = [
  ["A sheet to build from, with drawing and parts, and the steps from the strength test to the winter", "build"],
  ["A day of it by the minute", "day", (run) => ` date=${run.demand.month}-15`],
  ["All its figures and cautions, and whether to build it at all", "inspect"],
];

export function makeSheet(run, designs, fluids, state) {
  const byId = (id) => document.getElementById(id);
  const root = byId("sheet");
  const sheetOf = (i) => (i < designs.onFront && (run.sheets.designs || {})[String(i + 1)]) || {};
  const value = (i, name) => {
    const cell = designs.cell(i, name);
    return cell === "" ? NaN : Number(cell);
  };

  function fillText(i) {
    const fluid = fluids.of(designs.fluids[i]);
    drawMark(byId("sheet-mark"), fluid.colour, fluid.symbol);
    byId("sheet-fluid").textContent = fluid.title;
    byId("sheet-line").textContent = designs.nameOf(i);
    role();
    fillFigures(byId("all-figures"), run, designs, i);
    fillStates(sheetOf(i).states || []);
    fillBill(i);
    fillTubes(i);
    fillParts(byId("sheet-more"), run, designs, i);
    fillHazards(i);
    fillFlow(i);
    fillRanges(i);
    hint(i);
    fillCommands(i);
    byId("sheet-shortlist").dataset.shortlist = designs.nameOf(i);
    byId("glide-boiler").textContent = glide(sheetOf(i).states || [], "boiler 1", "boils");
    byId("glide-condenser").textContent = glide(sheetOf(i).states || [], "condenser", "condenses");
  }

  // What the design is among those that the reader's limits leave, or that it is none of them.
  function role() {
    const i = state.design,
      roles = state.picks().filter(({ design }) => design === i);
    const told = roles.length
      ? roles.map(({ title }) => title.toLowerCase()).join(", ")
      : state.outside(i)
        ? "not within the limits set on this page"
        : "";
    byId("sheet-role").textContent = told && `(${told})`;
  }

  // A mixture changes its temperature while it boils and condenses.
  function glide(states, where, verb) {
    const [bubble, dew] = ["bubble", "dew"].map((point) =>
      states.find((state) => state.place === `${where}, ${point} point`),
    );
    if (!bubble || !dew) return "";
    const ends = verb === "boils" ? [bubble, dew] : [dew, bubble];
    return `the mixture ${verb} from ${ends.map((state) => threeDigits(state.T_degC)).join(" to ")} °C`;
  }

  // Names the functions that were used outside the range they were made for, where the run knows of any.
  function fillRanges(i) {
    const outside = designs.cell(i, "outside_ranges");
    byId("sheet-ranges").hidden = outside === "";
    byId("sheet-ranges").textContent =
      `Used outside the range they were made for, so trust this design less: ${outside}.`;
  }

  function fillStates(states) {
    const head = [
      "No.",
      "State",
      "Pressure, bar abs.",
      "Pressure, bar gauge",
      "Temperature, °C",
      "Enthalpy, kJ/kg",
      "Entropy, kJ/(kg K)",
      "Quality",
    ];
    const rows = states.map((s, k) =>
      html(
        "tr",
        {},
        html("th", { scope: "row" }, String(k + 1)),
        html("td", { class: "words" }, String(s.name)),
        ...[s.p_bar_a, s.p_bar_a - run.airPressure, s.T_degC, s.h_kJ_per_kg, s.s_kJ_per_kgK, s.quality].map((v, k) =>
          html("td", {}, writeNumber(v ?? NaN, k === 1 ? run.columns.peak_pressure_bar_g : {})),
        ),
      ),
    );
    byId("states").replaceChildren(
      html(
        "thead",
        {},
        html("tr", {}, ...head.map((text, k) => html("th", { scope: "col", class: k === 1 ? "words" : "" }, text))),
      ),
      html("tbody", {}, ...rows),
    );
    byId("states").parentElement.hidden = !states.length;
  }

  function billOf(i) {
    const listed = sheetOf(i).bill;
    if (listed) return listed;
    return run.bill
      .map(({ column, line }) => ({ line, cost_EUR: value(i, column) }))
      .filter((line) => line.cost_EUR > 0);
  }

  function fillBill(i) {
    const lines = billOf(i),
      sized = lines.some((line) => line.quantity !== undefined && line.quantity !== null);
    const row = (line) =>
      html(
        "tr",
        {},
        html("th", { scope: "row", class: "words" }, String(line.line)),
        ...(sized
          ? [
              html(
                "td",
                {},
                line.quantity === undefined || line.quantity === null
                  ? ""
                  : `${threeDigits(line.quantity)} ${line.unit || ""}`,
              ),
            ]
          : []),
        html("td", {}, threeDigits(line.cost_EUR)),
      );
    const head = html(
      "tr",
      {},
      html("th", { scope: "col", class: "words" }, "Line"),
      ...(sized ? [html("th", { scope: "col" }, "Amount")] : []),
      html("th", { scope: "col" }, "EUR"),
    );
    const foot = html(
      "tr",
      {},
      html("th", { scope: "row", class: "words" }, "Total"),
      ...(sized ? [html("td", {})] : []),
      html("td", {}, writeCell(designs.cell(i, "cost_EUR"), run.columns.cost_EUR, false)),
    );
    byId("bill").replaceChildren(
      html("thead", {}, head),
      html("tbody", {}, ...lines.map(row)),
      html("tfoot", {}, foot),
    );
  }

  function fillTubes(i) {
    const found = sheetOf(i).with_tubes || {},
      figure = byId("with-tubes").closest("figure");
    figure.hidden = !found.compared;
    if (!found.compared) return;
    const cell = (name, number) => html("td", {}, writeCell(String(number ?? ""), run.columns[name]));
    const rows = Object.entries(found.compared).map(([name, [plain, tubed]]) =>
      html(
        "tr",
        {},
        html("th", { scope: "row", class: "words" }, run.columns[name].label),
        // Tubes are not priced anew, so beside their cost stands that of the same prices.
        cell(name, designs.written(i, name) === "" ? plain : designs.written(i, name)),
        cell(name, tubed),
      ),
    );
    const head = ["Figure", "By coefficients", "With tubes"].map((title, column) =>
      html("th", column ? { scope: "col" } : { scope: "col", class: "words" }, title),
    );
    byId("with-tubes").replaceChildren(html("thead", {}, html("tr", {}, ...head)), html("tbody", {}, ...rows));
    const tubes = run.tubes
      .filter(({ number }) => number in found.tubes)
      .map(
        ({ exchanger, number, length }) =>
          `${exchanger}: ${Math.round(found.tubes[number])} × ${threeDigits(found.tubes[length])} m`,
      );
    byId("with-tubes-note").textContent =
      `Tubes side by side × length of each: ${tubes.join(", ")}. ` +
      (Object.keys(found.broken).length
        ? "With tubes it breaks limits that it keeps by coefficients: see the cautions."
        : "With tubes it keeps every limit of the scenario that it keeps by coefficients.") +
      (state.priced && "cost_EUR" in found.compared ? " Both costs are at the searched prices, not at yours." : "");
  }

  function fillHazards(i) {
    const entry = (title, text) => html("div", { class: "figure" }, html("dt", {}, title), html("dd", {}, text));
    const entries = run.places.hazards
      .filter((name) => designs.cell(i, name) !== "")
      .map((name) => entry(run.columns[name].label, writeCell(designs.cell(i, name), run.columns[name])));
    for (const wall of wallsOf(run, i))
      entries.push(entry(`Wall of the ${wall.part}, ${wall.material}`, `${threeDigits(wall.wall_mm)} mm`));
    byId("hazard-figures").replaceChildren(...entries);
    byId("hazard-list").replaceChildren(...cautionItems(run, cautionsOf(run, i)));
  }

  function plantOf(i) {
    const mixed = designs.cell(i, "store_mode") === "mixed";
    const shown = (name) => writeCell(designs.cell(i, name), run.columns[name]);
    return {
      levels: mixed ? 1 : value(i, "pressure_levels") || 1,
      stages: value(i, "stages") || 1,
      mixed,
      regenerator: value(i, "regenerator_effectiveness") > 0,
      store: `${shown("store_volume_L")} of water\n${mixed ? "fully mixed" : "stratified"}, ${shown("top_temperature_degC")}`,
      collector: `collector\n${shown("collector_area_m2")}`,
      shaft: `${threeDigits(run.demand.power)} W`,
      cooling: `water\n${threeDigits(run.demand.cooling)} °C`,
    };
  }

  function cylindersOf(i) {
    return run.cylinders
      .map(({ bore, stroke, swept }) => ({ bore: value(i, bore), stroke: value(i, stroke), swept: value(i, swept) }))
      .filter(({ bore }) => bore > 0);
  }

  // Shows the figure around an element only when there is something to draw in it.
  function show(id, ready, draw) {
    const element = byId(id),
      figure = element.closest("figure");
    figure.hidden = !ready;
    if (ready) draw(element);
  }

  function drawCharts(i) {
    const sheet = sheetOf(i),
      colour = fluids.colour(designs.fluids[i]),
      dome = (run.sheets.domes || {})[designs.fluids[i]];
    show("schematic", true, (box) => box.replaceChildren(drawSchematic(plantOf(i), sheet.states || [])));
    const cylinders = cylindersOf(i);
    show("cylinders", cylinders.length, (box) => box.replaceChildren(drawCylinders(cylinders)));
    if (!window.Plotly) return;
    show("chart-ts", sheet.states || sheet.boilers, (box) => chartTs(box, sheet, dome, colour));
    show("chart-boiler", (sheet.boilers || []).length, (box) =>
      chartHeat(box, sheet.boilers, "hot water", css("--hot"), colour),
    );
    show("chart-condenser", sheet.condenser, (box) =>
      chartHeat(box, [sheet.condenser], "cooling water", css("--cold"), colour),
    );
    show("chart-indicator", (sheet.indicator || []).length, (box) => chartIndicator(box, sheet.indicator));
    show("chart-exergy", sheet.exergy, (box) => chartExergy(box, fromWater(sheet.exergy)));
    drawFlow(i);
    show("chart-served", sheet.served, (box) => chartServed(box, sheet.served));
    const lines = billOf(i);
    show("chart-bill", lines.length, (box) =>
      chartBars(
        box,
        lines.map((l) => l.line),
        lines.map((l) => l.cost_EUR),
        "EUR",
      ),
    );
  }

  // The design with diagrams aboard that is nearest in the objectives, of the same fluid and kind of store if any is.
  function nearest(i) {
    const scale = ({ figure, ideal, reference }) =>
      designs.ofFile(figure).map((v) => (v - ideal) / (reference - ideal));
    const scales = run.objectives.map(scale);
    const apart = (k) =>
      scales.reduce((total, one) => total + (one[k] - one[i]) ** 2, 0) +
      (designs.fluids[k] === designs.fluids[i] ? 0 : 100) +
      (designs.cell(k, "store_mode") === designs.cell(i, "store_mode") ? 0 : 50);
    const drawn = Object.keys(run.sheets.designs || {}).map((line) => Number(line) - 1);
    return drawn.length ? drawn.reduce((a, b) => (apart(b) < apart(a) ? b : a)) : null;
  }

  function hint(i) {
    const element = byId("sheet-hint");
    element.replaceChildren();
    if (sheetOf(i).states) return;
    const { name, line } = designs.fileOf(i);
    element.append(
      `The page holds no state points for this design, so its diagrams are not drawn; its figures are all here, and task=inspect design=${run.folder}/${name} row=${line} prints the whole.`,
    );
    const other = nearest(i);
    if (other !== null)
      element.append(
        " The nearest with diagrams is ",
        html("a", { href: `#design-${designs.nameOf(other)}` }, `design ${designs.nameOf(other)}`),
        `, ${fluids.title(designs.fluids[other])}.`,
      );
  }

  // What to type for a sheet to build from, for a day of this design, and for all of its figures and cautions.
  function fillCommands(i) {
    const { name, line } = designs.fileOf(i);
    byId("sheet-commands").replaceChildren(
      ...BENCH.map(([what, task, more = () => ""]) =>
        html(
          "li",
          {},
          `${what}: `,
          html("code", {}, `explore task=${task} design=${run.folder}/${name} row=${line}${more(run)}`),
        ),
      ),
    );
  }

  const flowOf = (i) => (sheetOf(i).sunlight ? exergyFlow(sheetOf(i).sunlight) : null);

  function fillFlow(i) {
    const flow = flowOf(i);
    byId("flow").hidden = !flow;
    byId("flow-words").textContent = flow ? flowWords(flow) : "";
  }

  function drawFlow(i) {
    const flow = flowOf(i);
    if (window.Plotly && flow && byId("flow-box").open) chartFlow(byId("chart-sunlight"), flow);
  }

  function yaml(i) {
    const lines = run.inputs.map((name) => {
      const cell = designs.cell(i, name);
      return `${name}: ${cell === "" ? "null" : Number.isFinite(Number(cell)) ? cell : JSON.stringify(cell)}`;
    });
    const { name, line } = designs.fileOf(i);
    return `# design ${line} of ${name}, scenario ${run.scenario.replace(/\s+/g, " ")}\n${lines.join("\n")}\n`;
  }

  byId("sheet-yaml").addEventListener("click", () =>
    saveText(`design-${designs.nameOf(state.design)}.yaml`, "text/yaml", yaml(state.design)),
  );
  byId("flow-box").addEventListener("toggle", () => {
    if (state.design !== null) drawFlow(state.design);
  });
  const redraw = whenNear(root, () => {
    if (state.design !== null) drawCharts(state.design);
  });

  function open(i) {
    fillText(i);
    redraw();
  }
  function reveal() {
    root.scrollIntoView({ behavior: matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth" });
    byId("sheet-title").focus({ preventScroll: true });
  }
  const charts = () => [...root.querySelectorAll(".chart")];
  return { open, role, show: reveal, redraw, charts };
}
