// Which of some designs no other of them beats in every objective; of equals the first.

const missing = (scales, i) => scales.some((scale) => Number.isNaN(scale[i]));

// Rows in an order in which whoever beats one, or equals it and has the lower place, comes before it: by the first objective, then
// by the others. `scales` holds an array of numbers for each objective, less being better.
export function inOrder(scales, rows) {
  const whole = rows
    .filter((i) => !missing(scales, i))
    .sort((a, b) => {
      for (const scale of scales) if (scale[a] !== scale[b]) return scale[a] - scale[b];
      return a - b;
    });
  return [...whole, ...rows.filter((i) => missing(scales, i))];
}

// The rows, in that order, that none of the others beats; those below `sure` are known to be beaten by none. A row with a
// number missing beats none and is beaten by none.
export function nondominated(scales, rows, sure = 0) {
  if (rows.every((i) => i < sure)) return rows;
  const whole = rows.filter((i) => !missing(scales, i));
  const beaten = scales.length <= 3 ? sweep(scales, whole) : inTurn(scales, whole);
  return rows.filter((i) => i < sure || !beaten.has(i));
}

// Up to three objectives: the first is the order, the others a staircase of the best so far, on which each row is looked up;
// five thousand designs take a few milliseconds, where comparing each with all takes a tenth of a second.
function sweep(scales, rows) {
  const [, second, third] = scales,
    of = (scale, i) => (scale ? scale[i] : 0);
  const treads = [], // ascending, of the second objective
    rises = [], // descending, of the third
    beaten = new Set();
  for (const i of rows) {
    const [tread, rise] = [of(second, i), of(third, i)],
      at = firstAbove(treads, tread);
    if (at > 0 && rises[at - 1] <= rise) {
      beaten.add(i);
      continue;
    }
    const from = at > 0 && treads[at - 1] === tread ? at - 1 : at;
    let to = at;
    while (to < treads.length && rises[to] >= rise) to++;
    treads.splice(from, to - from, tread);
    rises.splice(from, to - from, rise);
  }
  return beaten;
}

// Place of the first of ascending values that is above one.
function firstAbove(values, value) {
  let low = 0,
    high = values.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (values[middle] > value) high = middle;
    else low = middle + 1;
  }
  return low;
}

function inTurn(scales, rows) {
  const kept = [],
    beaten = new Set();
  const beats = (a, b) => {
    for (const scale of scales) if (scale[a] > scale[b]) return false;
    return true;
  };
  for (const i of rows) {
    if (kept.some((k) => beats(k, i))) beaten.add(i);
    else kept.push(i);
  }
  return beaten;
}
