// Designs of several runs under names that tell them apart, 'B17' for line 17 of the front of run B, and what one has
// otherwise than another: the words are those of the page of one run.

import { KINDS, costWords, otherWords } from "./differences.js";

export function makeRuns(data) {
  const byName = new Map();
  for (const run of data.runs)
    run.lines.forEach((line, place) =>
      byName.set(`${run.letter}${line}`, { name: `${run.letter}${line}`, run, place }),
    );
  const of = (name) => byName.get(name) ?? null;

  // Undefined where the run has no such column, empty where it does not apply to the design.
  const cellsOf =
    ({ run, place }) =>
    (name) => {
      const column = Object.hasOwn(run.cells, name) ? run.cells[name] : undefined;
      return column === undefined ? undefined : String(column[place] ?? "");
    };
  const fluidOf = (design) => {
    const name = cellsOf(design)("fluid");
    return Object.hasOwn(design.run.fluids, name) ? design.run.fluids[name] : name;
  };
  const layoutOf = ({ run, place }) => run.layouts[place];

  // Whether the runs of two designs reckon a line of the bill by other prices. Two kinds of collector or fluid have two
  // prices in any run: that is no other price of theirs.
  function repriced(line, a, b) {
    const [own, other] = [a, b].map(({ run }) => run.prices[line]);
    if (!own || !other) return false;
    if (Array.isArray(own)) return JSON.stringify(own) !== JSON.stringify(other);
    const cards = [a, b].map((design) => cellsOf(design)(KINDS[line]));
    return cards[0] === cards[1] && own[cards[0]] !== other[cards[1]];
  }

  const said = (design) => [fluidOf(design), layoutOf(design)].filter(Boolean).join(", ");

  // "The compromise of B is B17, Isobutane, stratified, 1 expansion, 1 level, instead of A3, Butane, ..."
  function builtWords(a, b, subject = b.name) {
    const named = (design) => (subject === b.name ? "" : `${design.name}, `);
    if (said(a) === said(b)) return `${subject} is ${named(b)}${said(b)}, as ${a.name} is.`;
    if (fluidOf(a) === fluidOf(b) && layoutOf(a) && layoutOf(b))
      return `${subject} is ${named(b)}${said(b)}, instead of ${layoutOf(a)} with the same fluid in ${a.name}.`;
    if (layoutOf(a) && layoutOf(a) === layoutOf(b))
      return `${subject} is ${named(b)}${fluidOf(b)}, instead of ${fluidOf(a)} in ${a.name}, both ${layoutOf(b)}.`;
    return `${subject} is ${named(b)}${said(b)}, instead of ${said(a)} in ${a.name}.`;
  }

  // All that is said of a design beside another, with the greatest `most` lines of the bill.
  function sentences(a, b, { subject, most } = {}) {
    const pair = [a, b].map(cellsOf),
      facts = { ...data, most, repriced: (line) => repriced(line, a, b) };
    return [
      builtWords(a, b, subject),
      otherWords(data.columns, data.told, pair, b.name),
      costWords(facts, ...pair, [a.name, b.name]),
    ]
      .filter(Boolean)
      .join(" ");
  }

  return { of, cellsOf, fluidOf, layoutOf, sentences };
}
