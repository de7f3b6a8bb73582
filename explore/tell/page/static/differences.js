// What one design has otherwise than another, in words whose amounts add up. A design is here a function from the name of a
// column to its cell as text: empty where it does not apply to the design, undefined where its run has no such column.

import { NONE, wholeNumber, writeCell } from "./numbers.js";
import { listed } from "./sentences.js";
import { lower } from "./words.js";

export const COST = "cost_EUR";
const CENT = 0.01, // lines that miss the difference of the cost by more are no reason for it
  LEAST_EUR = 1,
  MOST_LINES = 4; // of the bill in a sentence; more is for the table

// What a line of the bill pays for.
export const SIZES = {
  collectors: "collector_area_m2",
  store: "store_volume_L",
  boiler: "boiler_area_m2",
  condenser: "condenser_area_m2",
  engine: "stages",
  charge: "charge_kg",
};
// Two of a kind have one price; two kinds have two, for whatever size.
export const KINDS = { collectors: "collector", charge: "fluid" };

const amountOf = (cell) => (cell === undefined ? NaN : Number(cell));

// By how much each line of the bill differs between two designs, greatest first; what one of their runs does not know is
// left out. Together they are the difference in cost.
export function billDifference(bill, a, b) {
  return bill
    .map(({ column, line }) => ({ line, column, more: amountOf(b(column)) - amountOf(a(column)) }))
    .filter(({ more }) => Number.isFinite(more) && more !== 0)
    .sort((one, other) => Math.abs(other.more) - Math.abs(one.more));
}

// The same in whole EUR, the greatest lines first and all others together, so that what is written adds up to `whole`.
function wholeLines(parts, whole, most) {
  const told = parts.slice(0, most).map((part) => ({ ...part, euro: Math.round(part.more) }));
  const rest = told.reduce((left, { euro }) => left - euro, whole);
  if (parts.length > most) told.push({ line: "the other lines", euro: rest });
  else if (told.length) told[0].euro += rest;
  return told.filter(({ euro }) => euro !== 0);
}

// "B costs 1 700 EUR less than A: 900 less for collectors (3.00 m² instead of 5.00 m²), 500 less for the engine and 300 less
// for the other lines." Empty where a cost is not known. `repriced` tells of a line whether its prices are not the same.
export function costWords({ bill, columns, most = MOST_LINES, repriced = () => false }, a, b, [own, other]) {
  const costs = [a(COST), b(COST)];
  if (costs.some((cell) => cell === undefined || cell === "")) return "";
  const total = Number(costs[1]) - Number(costs[0]);
  if (!Number.isFinite(total)) return "";
  const parts = billDifference(bill, a, b),
    sum = parts.reduce((so_far, { more }) => so_far + more, 0),
    whole = Math.round(total);
  const adds = Math.abs(sum - total) <= CENT;
  if (adds && !whole && parts.every(({ more }) => Math.abs(more) < LEAST_EUR))
    return `${other} costs what ${own} does.`;
  const amount = (euro) => `${wholeNumber(Math.abs(euro))} ${euro < 0 ? "less" : "more"}`;
  const head = whole
    ? `${other} costs ${wholeNumber(Math.abs(whole))} EUR ${whole < 0 ? "less" : "more"} than ${own}`
    : `${other} costs the same as ${own}`;
  if (!adds) return `${head}; their bills do not have the same lines, so that no reasons would add up.`;
  const told = wholeLines(parts, whole, most).map(
    ({ line, euro }) => `${amount(euro)} for ${line.toLowerCase()}${sizeWords(columns, line, a, b, repriced(line))}`,
  );
  return told.length ? `${head}: ${listed(told)}.` : `${head}.`;
}

// A size without a unit is named.
function sizeWords(columns, line, a, b, repriced) {
  const name = SIZES[line],
    column = name && columns[name],
    sizes = column ? [a, b].map((cell) => writeCell(cell(name), column)) : [NONE, NONE],
    kinds = [a, b].map((cell) => KINDS[line] && cell(KINDS[line]));
  const words = [];
  if (!sizes.includes(NONE)) {
    if (sizes[0] !== sizes[1])
      words.push(`${sizes[1]} instead of ${sizes[0]}${column.unit ? "" : ` ${lower(column.title)}`}`);
    else if (repriced) words.push(`${sizes[1]} in both`);
  }
  if (kinds.every(Boolean) && kinds[0] !== kinds[1]) words.push(`another ${KINDS[line]}`);
  if (repriced) words.push("at another price");
  return words.length ? ` (${words.join(", ")})` : "";
}

// "B has 8.10 kJ/L instead of 9.40 kJ/L work per litre." What one of the two does not have is left to the table.
export function otherWords(columns, figures, [a, b], name) {
  const told = [...new Set(figures)]
    .filter((figure) => figure !== COST && columns[figure])
    .map((figure) => ({ figure, texts: [a, b].map((cell) => writeCell(cell(figure), columns[figure])) }))
    .filter(({ texts }) => texts[0] !== texts[1] && !texts.includes(NONE))
    .map(({ figure, texts }) => `${texts[1]} instead of ${texts[0]} ${lower(columns[figure].title)}`);
  return told.length ? `${name} has ${listed(told)}.` : "";
}

// Rows of a table side by side, {label, cells}: those that differ first, the others marked as the same.
export function differingFirst(rows) {
  const marked = rows.map((row) => ({ ...row, same: row.cells.every((text) => text === row.cells[0]) }));
  return [...marked.filter(({ same }) => !same), ...marked.filter(({ same }) => same)];
}
