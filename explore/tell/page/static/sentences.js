// The opening's sentences on what was found and what limits it, for the designs that the reader's limits leave; the words
// are those of sentences.py, and a test holds the two together where no limit is set.

import { threeDigits, writeCell } from "./numbers.js";
import { weightWords } from "./weights.js";
import { filled, lower } from "./words.js";

export const listed = (parts) =>
  parts.length > 1 ? `${parts.slice(0, -1).join(", ")} and ${parts.at(-1)}` : (parts[0] ?? "");

// Before what is read over worlds, how it is read, so that none takes it for the run's own value.
export const marked = (words, column) => (column?.reading ? `${column.reading} ${words}` : words);

// Of what is best among recommended designs only: where one beyond it breaks a limit with tubes, the chart shows it. A limit
// that the reader sets is not held against tubes.
export const HELD_WITH_TUBES = " that keeps every limit of the scenario with tubes";
const endOf = ({ title, displaced }) => lower(title) + (displaced === null ? "" : HELD_WITH_TUBES);

export function makeSentences(run, designs, fluids) {
  const tied = (cell, name) => writeCell(cell, run.columns[name]).replace(/ /g, "\u00a0");
  const titleOf = (name) => lower(run.columns[name].title);

  // The objectives of a design, and its pressure; a figure whose unit does not tell it apart is named.
  function gist(i) {
    const units = run.gist.map((name) => run.columns[name]?.unit ?? "");
    return run.gist
      .map((name, k) => {
        const cell = designs.cell(i, name);
        if (cell === "") return null;
        const alike = units.filter((unit) => unit === units[k]).length > 1 || ["", "%"].includes(units[k]);
        return marked(tied(cell, name), run.columns[name]) + (alike ? ` ${titleOf(name)}` : "");
      })
      .filter((words) => words !== null)
      .join(", ");
  }

  function size(i) {
    const cells = run.cylinders.map(({ swept }) => designs.cell(i, swept));
    const swept = String(cells.reduce((total, cell) => total + Number(cell || 0), 0));
    const parts = [
      ["store_volume_L", "a store of ", designs.cell(i, "store_volume_L")],
      ["collector_area_m2", "", designs.cell(i, "collector_area_m2")],
      ["swept_volume_1_L", cells[1] ? "cylinders of " : "a cylinder of ", swept],
    ];
    const found = parts
      .filter(([name, , cell]) => cell !== "" && designs.cell(i, name) !== "")
      .map(([name, words, cell]) =>
        name === "collector_area_m2" ? `${tied(cell, name)} of collectors` : words + tied(cell, name),
      );
    return found.length > 1 ? ` with ${listed(found)}` : "";
  }

  // Which fluids reach the ends of the front, a fluid that reaches several named once; where one design is all of them its
  // figures stand there already.
  function extremes(picks, naming = fluids.title, told = (i) => ` (${gist(i)})`) {
    if (picks.every(({ design }) => design === picks.at(-1).design))
      return `the same design gives ${listed(picks.slice(0, -1).map((pick) => `the ${endOf(pick)}`))}`;
    const reached = new Map();
    for (const pick of picks.slice(0, -1)) {
      const fluid = naming(designs.fluids[pick.design]);
      reached.set(fluid, [...(reached.get(fluid) || []), `the ${endOf(pick)}${told(pick.design)}`]);
    }
    return listed(
      [...reached].map(([fluid, ends]) => `${fluid} gives ${ends.length === 2 ? "both " : ""}${listed(ends)}`),
    );
  }

  const starting = (asked, words) => (asked ? `${given(asked).replace(/^w/, "W")}, ${lower(words)}` : words);
  const noneLeft = (asked) => starting(asked, "No design that was found is left.");

  function found(picks, asked) {
    if (!picks.length) return noneLeft(asked);
    const middle = picks.at(-1).design,
      test = designs.cell(middle, "test_pressure_bar_g");
    const proof = test ? `, to be tested at ${tied(test, "test_pressure_bar_g")}` : "";
    return (
      `${starting(asked, "The best compromise found is")} ${fluids.title(designs.fluids[middle])}${size(middle)}: ` +
      `${gist(middle)}${proof}; ${extremes(picks)}. ${unheld(picks)}`
    ).trimEnd();
  }

  // That the recommended designs break limits with tubes, for want of others; empty where they break none.
  function unheld(picks) {
    const limits = picks.length ? designs.broken(picks.at(-1).design) : undefined;
    return limits === undefined ? "" : filled(run.unheld, { which: "the compromise", limits });
  }

  // What the first objective costs in pressure, and what half that pressure leaves of it. Designs that break a limit with
  // tubes count where there are no others, as among the recommended ones.
  function pressure(rows) {
    const first = run.objectives.find(({ figure }) => figure !== "peak_pressure_bar_g");
    if (!first) return "the pressure is all that was asked about";
    const bar = designs.raw("peak_pressure_bar_g"),
      reached = designs.raw(first.figure);
    const known = rows.filter((i) => Number.isFinite(bar[i]) && Number.isFinite(reached[i]));
    const able = known.filter((i) => designs.broken(i) === undefined);
    const told = able.length ? able : known;
    if (!told.length) return "no design is left";
    const best = (list) => list.reduce((a, b) => (first.sign * reached[b] < first.sign * reached[a] ? b : a));
    const top = best(told),
      low = (i) => bar[i] <= bar[top] / 2,
      under = told.filter(low);
    const say = (i) => marked(writeCell(String(reached[i]), run.columns[first.figure]), run.columns[first.figure]);
    const held = first.sign * reached[best(known)] < first.sign * reached[top] ? HELD_WITH_TUBES : "";
    const what = `the ${first.sign < 0 ? "most" : "least"} ${titleOf(first.figure).split(" per ")[0]}${held}, ${say(top)}`;
    const written = (value) => writeCell(String(value), run.columns.peak_pressure_bar_g);
    // Of a plant below the pressure of the air there is no half.
    if (bar[top] < 0 || written(bar[top]) === written(0)) return `${what}, asks for no pressure above that of the air`;
    const start = `${what}, needs a plant for ${written(bar[top])}`;
    if (!under.length)
      return `${start}, and no design${known.some(low) ? HELD_WITH_TUBES : ""} makes do with half that pressure`;
    const worse = first.sign * reached[best(known.filter(low))] < first.sign * reached[best(under)],
      kept = worse && !held ? ", with every limit of the scenario kept with tubes" : "";
    return `${start}, while half that pressure still allows ${say(best(under))}${kept}`;
  }

  // The same in short, for the presenting view: fluids alone.
  const choice = (picks, asked) =>
    picks.length
      ? `${starting(asked, "The best compromise found is")} ${fluids.short(designs.fluids[picks.at(-1).design])}; ` +
        `${extremes(picks, fluids.short, () => "")}.`
      : noneLeft(asked);

  const limits = (rows) => `What limits it: ${pressure(rows)}${run.failed}`;
  return { found, unheld, limits, choice, pressure, starting, size, gist };
}

// How what is asked for stands within a sentence.
export const given = (asked) => (asked.startsWith("without") ? asked : `with ${asked}`);

// What the reader asks for beyond the scenario, in words; empty where nothing is.
export function askedFor(run, state, fluids) {
  const words = [];
  if (state.ceiling !== Infinity) words.push(`at most ${threeDigits(state.ceiling)} bar gauge`);
  if (state.budget !== Infinity) words.push(`at most ${threeDigits(state.budget)} EUR`);
  if (state.words.trim()) words.push(`“${state.words.trim()}”`);
  if (state.reranked()) words.push("your prices");
  const weighted = weightWords(run, state);
  if (weighted) words.push(weighted);
  // Last, since what follows a list of fluids would read as one of it.
  const aboard = run.fluids.filter((fluid) => fluid.aboard),
    titles = (on) => aboard.filter(({ name }) => state.off.has(name) !== on).map(({ name }) => fluids.title(name));
  const [left, off] = [titles(true), titles(false)];
  if (off.length && !left.length) words.push("without any fluid");
  else if (off.length) words.push(left.length < off.length ? `only ${listed(left)}` : `without ${listed(off)}`);
  return listed(words);
}
