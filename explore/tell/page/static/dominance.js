// Which of some designs no other of them beats in every objective; of equals the first.

// `scales` holds an array of numbers for each objective, less being better, `rows` the places in them that are asked about.
export function nondominated(scales, rows) {
  const sum = (i) => scales.reduce((total, scale) => total + scale[i], 0);
  const sums = new Map(rows.map((i) => [i, sum(i)]));
  const sorted = [...rows].sort((a, b) => sums.get(a) - sums.get(b) || a - b);
  const kept = [];
  for (const i of sorted) {
    let beaten = false;
    for (let k = kept.length - 1; k >= 0 && !beaten; k--) beaten = scales.every((scale) => scale[kept[k]] <= scale[i]);
    if (!beaten) kept.push(i);
  }
  return kept.sort((a, b) => a - b);
}
