// The recommended designs among those left by the reader's limits; the rule is that of front.py (recommended), and
// tests/data/pick_cases.json holds the two together.

const NEGLIGIBLE = 1e-9;

// Rows to recommend: one for each objective, then the compromise. `figures` holds an array for each of `objectives`
// ({ ideal, reference }), `costs` one number a row; rows that are `barred`, true where they break a limit with tubes, are
// chosen only where there are no others; `weights`, one an objective, multiply the squares by which the compromise is chosen,
// and count as equal where all are nought. No scale depends on the rows: a limit that a chosen row keeps does not unseat it.
export function recommended(figures, costs, objectives, nearBest, barred = [], weights = null) {
  const every = costs.map((_, i) => i),
    able = every.filter((i) => !barred[i]),
    all = able.length ? able : every;
  const scales = objectives.map(({ ideal, reference }, axis) =>
    figures[axis].map((value) => (value - ideal) / (reference - ideal)),
  );
  const inside = all.filter((i) => scales.every((scale) => scale[i] <= 1));
  const rows = inside.length ? inside : all;
  const dear = rows.map((i) => nearBest * Math.log(Math.max(costs[i], NEGLIGIBLE)));
  const best = scales.map((scale) => leastIndex(rows.map((i, k) => scale[i] + dear[k])));
  const square = (value) => Math.max(value, 0) * Math.max(value, 0);
  const counts = weights?.some((weight) => weight > 0) ? weights : scales.map(() => 1);
  const squares = rows.map((i) => scales.reduce((total, scale, k) => total + counts[k] * square(scale[i]), 0));
  return [...best, leastIndex(squares)].map((k) => rows[k]);
}

function leastIndex(values) {
  let least = 0;
  for (let k = 1; k < values.length; k++) if (values[k] < values[least]) least = k;
  return least;
}

export function picksAmong(run, designs, indices, weights = null) {
  if (!indices.length) return [];
  const of = (name) => {
    const values = designs.raw(name);
    return indices.map((i) => values[i]);
  };
  const figures = run.objectives.map(({ figure }) => of(figure)),
    // Where prices move no objective, they do not move what is chosen either.
    costs = run.reading === "nominal" ? of("cost_EUR") : indices.map((i) => designs.ofFile("cost_EUR")[i]);
  const barred = indices.map((i) => designs.broken(i) !== undefined);
  const chosen = recommended(figures, costs, run.objectives, run.nearBest, barred, weights);
  const first = recommended(figures, costs, run.objectives, run.nearBest, [], weights);
  return run.roles.map((role, k) => ({
    ...role,
    design: indices[chosen[k]],
    displaced: first[k] !== chosen[k] && barred[first[k]] ? indices[first[k]] : null,
  }));
}
