// How far a recommended design is from its limits, in words, the tightest first.

import { threeDigits, writeCell } from "./numbers.js";

const TIGHT = 0.02,
  MOST = 3;

// A value with as many digits as it takes to tell it from the limit beside it.
function apart(value, limit) {
  for (let digits = 3; digits < 8; digits++)
    if (value.toPrecision(digits) !== limit.toPrecision(digits)) return String(Number(value.toPrecision(digits)));
  return threeDigits(value);
}

export function tightMargins(run, designs, i) {
  const near = run.margins
    .map((one) => ({ ...one, margin: -designs.raw(one.column)[i] }))
    .filter(({ margin, scale }) => Number.isFinite(margin) && margin / scale < TIGHT)
    .sort((a, b) => a.margin / a.scale - b.margin / b.scale);
  const words = near.map(({ column, words, figure, limit, margin }) => {
    if (!words) {
      const left = writeCell(String(Math.max(margin, 0)), run.columns[column]);
      return `“${run.columns[column].label}” avoided by ${left}`;
    }
    const factor = run.columns[figure].share ? 100 : 1,
      unit = run.columns[figure].unit;
    const told = `${apart(designs.raw(figure)[i] * factor, limit * factor)}\u00a0${unit}`;
    return words.replace("{0}", told).replace("{1}", `${threeDigits(limit * factor)}\u00a0${unit}`);
  });
  const rest = words.length - MOST;
  return [...words.slice(0, MOST), ...(rest > 0 ? [`and ${rest} more`] : [])].join("; ");
}
