// How a number is written; figures.py writes the same, and a test holds the two together.

const NONE = "–", THIN_SPACE = "\u202f", LONG = 100000;

function threeDigits(value) {
  if (Math.abs(value) < 1e-6) return "0";
  const size = Math.abs(value);
  let text = size >= 1000 && size < LONG ? size.toFixed(0) : size.toPrecision(3);
  if (text.includes("e")) text = String(Number(text));
  if (!text.includes(".")) text = text.replace(/\B(?=(\d{3})+$)/g, THIN_SPACE);
  return (value < 0 ? "−" : "") + text;
}

const wholeNumber = (count) => String(Math.round(count)).replace(/\B(?=(\d{3})+$)/g, THIN_SPACE);

// Gauge pressures and margins are differences: what is less than this is no pressure.
const LEAST_BAR = { "bar gauge": 0.01, bar: 0.0005 };

function writeNumber(value, column) {
  if (!Number.isFinite(value)) return NONE;
  if (column && column.count) return String(Math.round(value));
  if (column && Math.abs(value) < (LEAST_BAR[column.unit] || 0)) return "0";
  return threeDigits(column && column.share ? value * 100 : value);
}

function writeCell(cell, column, withUnit = true) {
  if (cell === undefined || cell === "") return NONE;
  const value = Number(cell);
  if (!Number.isFinite(value)) return cell.replace(/_/g, " ");
  const text = writeNumber(value, column);
  return withUnit && column && column.unit && text !== NONE ? `${text} ${column.unit}` : text;
}
