// The designs: front first, then the background ones; columns are made into numbers when asked for.

import { parseCsv } from "./unpack.js";

export function makeDesigns(run) {
  const front = parseCsv(run.front),
    others = parseCsv(run.others);
  const place = new Map(front.header.map((name, k) => [name, k]));
  const otherPlace = new Map(others.header.map((name, k) => [name, k]));
  const count = front.rows.length,
    total = count + others.rows.length;
  const numeric = new Map(),
    written = new Map();

  function cell(i, name) {
    const row = i < count ? front.rows[i] : others.rows[i - count];
    const k = (i < count ? place : otherPlace).get(name);
    return k === undefined ? "" : row[k];
  }

  // Figures as the files have them, and as the reader sees them: shares as percentages.
  const kept = (values, name, make) => {
    if (!values.has(name))
      values.set(
        name,
        Float64Array.from({ length: total }, (_, i) => make(i)),
      );
    return values.get(name);
  };
  const raw = (name) =>
    kept(written, name, (i) => {
      const text = cell(i, name);
      return text === "" ? NaN : Number(text);
    });
  function numbers(name) {
    if (!run.columns[name]?.share) return raw(name);
    const values = raw(name);
    return kept(numeric, name, (i) => 100 * values[i]);
  }

  // The limits, in words, that a design breaks with exchangers made of tubes; undefined where it breaks none.
  const broken = (i) => run.brokenWithTubes[i + 1];

  const fluids = Array.from({ length: total }, (_, i) => cell(i, "fluid"));
  const isNumeric = (name) => {
    const written = front.rows.map((row) => row[place.get(name)]).filter((text) => text !== "");
    return written.length > 0 && written.every((text) => Number.isFinite(Number(text)));
  };
  const numericNames = front.header.filter(isNumeric);
  return { count, total, cell, numbers, raw, broken, fluids, numericNames, header: front.header, file: front };
}

export const titleOf = (run, name) => {
  const column = run.columns[name] || { label: name, unit: "" };
  return column.unit ? `${column.label}, ${column.unit}` : column.label;
};
