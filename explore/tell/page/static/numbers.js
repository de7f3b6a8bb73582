// How a number is written; format.py writes the same, and a test holds the two together.

export const NONE = "–";
export const THIN_SPACE = "\u202f";
const LONG = 100000;

export function threeDigits(value) {
  if (Math.abs(value) < 1e-6) return "0";
  const size = Math.abs(value);
  let text = size >= 1000 && size < LONG ? size.toFixed(0) : size.toPrecision(3);
  if (text.includes("e")) text = String(Number(text));
  if (!text.includes(".")) text = text.replace(/\B(?=(\d{3})+$)/g, THIN_SPACE);
  return (value < 0 ? "−" : "") + text;
}

export const wholeNumber = (count) => String(Math.round(count)).replace(/\B(?=(\d{3})+$)/g, THIN_SPACE);

export function writeNumber(value, column) {
  if (!Number.isFinite(value)) return NONE;
  if (column && column.count) return String(Math.round(value));
  if (column && Math.abs(value) < (column.least || 0)) return "0";
  return threeDigits(column && column.share ? value * 100 : value);
}

export function writeCell(cell, column, withUnit = true) {
  if (cell === undefined || cell === "") return NONE;
  const value = Number(cell);
  if (!Number.isFinite(value)) return cell.replace(/_/g, " ");
  const text = writeNumber(value, column);
  return withUnit && column && column.unit && text !== NONE ? `${text} ${column.unit}` : text;
}
