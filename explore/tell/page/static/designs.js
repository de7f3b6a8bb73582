// The designs: lines of front.csv, then those kept beside it (lines of designs.csv that are best of what is left when
// others are not wanted), then the background; columns are made into numbers when asked for, and priced anew.

import { parseCsv } from "./unpack.js";

export function makeDesigns(run) {
  const front = parseCsv(run.front),
    kept = parseCsv(run.kept),
    others = parseCsv(run.others);
  const header = front.header,
    tables = [front, kept, others],
    places = tables.map((table) => new Map(table.header.map((name, k) => [name, k])));
  const onFront = front.rows.length,
    count = onFront + kept.rows.length,
    total = count + others.rows.length;
  const numeric = new Map(),
    written = new Map(),
    priced = new Map();

  const tableOf = (i) => (i < onFront ? 0 : i < count ? 1 : 2);
  const rowOf = (i) => i - [0, onFront, count][tableOf(i)];

  function cell(i, name) {
    if (priced.has(name)) {
      const value = priced.get(name)[i];
      return Number.isFinite(value) ? String(value) : "";
    }
    return cellOfFile(i, name);
  }

  function cellOfFile(i, name) {
    const table = tableOf(i),
      k = places[table].get(name);
    return k === undefined ? "" : tables[table].rows[rowOf(i)][k];
  }

  // What a reader is told of a cell: a word of the other kind of store says nothing, as a governor where the engine has only
  // one state.
  const OTHER = { stratified: "a fully mixed store", mixed: "a stratified store" };
  function told(i, name) {
    const text = cell(i, name),
      other = run.columns[name]?.applies === OTHER[cell(i, "store_mode")];
    return other && Number.isNaN(Number(text)) ? "" : text;
  }

  // Figures as the files have them, and as the reader sees them: shares as percentages.
  const remembered = (values, name, make) => {
    if (!values.has(name))
      values.set(
        name,
        Float64Array.from({ length: total }, (_, i) => make(i)),
      );
    return values.get(name);
  };
  const ofFile = (name) =>
    remembered(written, name, (i) => {
      const text = cellOfFile(i, name);
      return text === "" ? NaN : Number(text);
    });
  const raw = (name) => priced.get(name) || ofFile(name);
  function numbers(name) {
    if (!run.columns[name]?.share) return raw(name);
    const values = raw(name);
    return remembered(numeric, name, (i) => 100 * values[i]);
  }

  // Puts columns of money in the place of those of the file; without any the file's count again.
  function price(columns) {
    priced.clear();
    for (const [name, values] of Object.entries(columns)) priced.set(name, values);
  }

  // The limits, in words, that a design breaks with exchangers made of tubes; undefined where it breaks none.
  const broken = (i) => run.brokenWithTubes[i + 1];
  const withTubes = run.tubesTried && new Set(run.tubesTried);
  const triedWithTubes = (i) => !withTubes || withTubes.has(i + 1);

  // A design's name: its line in front.csv, or D and its line in designs.csv.
  const nameOf = (i) => (i < onFront ? String(i + 1) : `D${run.keptLines[i - onFront]}`);
  const byName = new Map(Array.from({ length: count }, (_, i) => [nameOf(i), i]));
  const placeOf = (name) => byName.get(name) ?? null;
  const fileOf = (i) =>
    i < onFront ? { name: "front.csv", line: i + 1 } : { name: "designs.csv", line: run.keptLines[i - onFront] };

  const line = (i) =>
    i < onFront && !priced.size ? front.lines[i] : header.map((name) => quoted(cell(i, name))).join(",");
  const quoted = (text) => (/[",\n]/.test(text) ? `"${text.replace(/"/g, '""')}"` : text);

  const fluids = Array.from({ length: total }, (_, i) => cellOfFile(i, "fluid"));
  const isNumeric = (name) => {
    const texts = front.rows.map((row) => row[places[0].get(name)]).filter((text) => text !== "");
    return texts.length > 0 && texts.every((text) => Number.isFinite(Number(text)));
  };
  const numericNames = header.filter(isNumeric);
  return {
    onFront,
    count,
    total,
    cell,
    written: cellOfFile,
    told,
    numbers,
    raw,
    ofFile,
    price,
    broken,
    triedWithTubes,
    nameOf,
    placeOf,
    fileOf,
    line,
    headerLine: front.headerLine,
    fluids,
    numericNames,
    header,
  };
}

export const titleOf = (run, name) => {
  const column = run.columns[name] || { label: name, unit: "" };
  return column.unit ? `${column.label}, ${column.unit}` : column.label;
};
