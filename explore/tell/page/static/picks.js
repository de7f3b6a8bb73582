// The recommended designs among those left by the reader's limits; the rule is that of front.py (recommended), and
// tests/data/pick_cases.json holds the two together.

// Rows to recommend: one for each objective, then the compromise. `figures` holds an array for each of `objectives`
// ({ sign: -1 where most is best, reference }), `costs` one number a row; rows that are `barred`, true where they break a
// limit with tubes, are chosen only where there are no others.
export function recommended(figures, costs, objectives, nearBest, barred = []) {
  const every = costs.map((_, i) => i),
    able = every.filter((i) => !barred[i]),
    all = able.length ? able : every;
  const inside = all.filter((i) =>
    objectives.every(({ sign, reference }, axis) => sign * figures[axis][i] <= sign * reference),
  );
  const rows = inside.length ? inside : all;
  const scales = objectives.map(({ sign }, axis) => {
    const values = rows.map((i) => sign * figures[axis][i]);
    const low = values.reduce((a, b) => Math.min(a, b)),
      high = values.reduce((a, b) => Math.max(a, b));
    return values.map((value) => (value - low) / (high > low ? high - low : 1));
  });
  const cheapestNearBest = (axis) => {
    const best = figures[axis][rows[leastIndex(scales[axis])]];
    const near = (i) => Math.abs(figures[axis][i] - best) <= nearBest * Math.abs(best);
    return leastIndex(rows.map((i) => (near(i) ? costs[i] : Infinity)));
  };
  const squares = rows.map((_, k) => scales.reduce((total, scale) => total + scale[k] ** 2, 0));
  return [...objectives.map((_, axis) => cheapestNearBest(axis)), leastIndex(squares)].map((k) => rows[k]);
}

function leastIndex(values) {
  let least = 0;
  for (let k = 1; k < values.length; k++) if (values[k] < values[least]) least = k;
  return least;
}

export function picksAmong(run, designs, indices) {
  if (!indices.length) return [];
  const of = (name) => indices.map((i) => designs.numbers(name)[i]);
  const figures = run.objectives.map(({ figure }) => of(figure));
  const barred = indices.map((i) => i + 1 in run.brokenWithTubes);
  const chosen = recommended(figures, of("cost_EUR"), run.objectives, run.nearBest, barred);
  const first = recommended(figures, of("cost_EUR"), run.objectives, run.nearBest);
  return run.roles.map((role, k) => ({
    ...role,
    design: indices[chosen[k]],
    displaced: first[k] !== chosen[k] && barred[first[k]] ? indices[first[k]] : null,
  }));
}
