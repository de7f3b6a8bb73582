// The designs: front first, then the background ones; columns are made into numbers when asked for.

import { parseCsv } from "./unpack.js";

export function makeDesigns(run) {
  const front = parseCsv(run.front),
    others = parseCsv(run.others);
  const place = new Map(front.header.map((name, k) => [name, k]));
  const otherPlace = new Map(others.header.map((name, k) => [name, k]));
  const count = front.rows.length,
    total = count + others.rows.length;
  const numeric = new Map();

  function cell(i, name) {
    const row = i < count ? front.rows[i] : others.rows[i - count];
    const k = (i < count ? place : otherPlace).get(name);
    return k === undefined ? "" : row[k];
  }

  // Figures as the reader sees them: shares are percentages.
  function numbers(name) {
    if (!numeric.has(name)) {
      const factor = run.columns[name] && run.columns[name].share ? 100 : 1;
      const values = new Float64Array(total);
      for (let i = 0; i < total; i++) {
        const text = cell(i, name);
        values[i] = text === "" ? NaN : Number(text) * factor;
      }
      numeric.set(name, values);
    }
    return numeric.get(name);
  }

  const fluids = Array.from({ length: total }, (_, i) => cell(i, "fluid"));
  const isNumeric = (name) => {
    const written = front.rows.map((row) => row[place.get(name)]).filter((text) => text !== "");
    return written.length > 0 && written.every((text) => Number.isFinite(Number(text)));
  };
  const numericNames = front.header.filter(isNumeric);
  return { count, total, cell, numbers, fluids, numericNames, header: front.header, file: front };
}

export const titleOf = (run, name) => {
  const column = run.columns[name] || { label: name, unit: "" };
  return column.unit ? `${column.label}, ${column.unit}` : column.label;
};
