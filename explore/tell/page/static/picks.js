// The recommended designs among those left by the reader's limits; the rule is that of front.py (recommended).

const NEAR_BEST = 0.01;

function picksAmong(run, designs, indices) {
  if (!indices.length) return [];
  const figures = run.objectives.map(({ figure }) => designs.numbers(figure)), costs = designs.numbers("cost_EUR");
  const inside = indices.filter((i) =>
    run.objectives.every(({ sign, reference }, axis) => sign * figures[axis][i] <= sign * reference));
  const rows = inside.length ? inside : indices;
  const scales = run.objectives.map(({ sign }, axis) => {
    const values = rows.map((i) => sign * figures[axis][i]);
    const low = Math.min(...values), high = Math.max(...values);
    return values.map((value) => (value - low) / (high > low ? high - low : 1));
  });
  const cheapestNearBest = (axis) => {
    const best = figures[axis][rows[leastIndex(scales[axis])]];
    const near = (i) => Math.abs(figures[axis][i] - best) <= NEAR_BEST * Math.abs(best);
    return leastIndex(rows.map((i) => (near(i) ? costs[i] : Infinity)));
  };
  const squares = rows.map((_, k) => scales.reduce((total, scale) => total + scale[k] ** 2, 0));
  const chosen = [cheapestNearBest(0), cheapestNearBest(1), leastIndex(squares)];
  return run.roles.map((role, k) => ({ ...role, design: rows[chosen[k]] }));
}

function leastIndex(values) {
  let least = 0;
  for (let k = 1; k < values.length; k++) if (values[k] < values[least]) least = k;
  return least;
}

function makeCards(run, designs, fluids, state) {
  const cards = [...document.querySelectorAll("#cards .card")];
  const limited = () => state.visible.length < designs.count;

  function update() {
    const picks = picksAmong(run, designs, state.visible);
    document.getElementById("cards-scope").textContent = limited()
      ? `Chosen among the ${state.visible.length} of ${designs.count} designs within your limits.`
      : "Chosen among all designs of the front.";
    document.getElementById("cards-none").hidden = picks.length > 0;
    for (const card of cards) {
      const pick = picks.find((one) => one.key === card.dataset.role);
      card.hidden = !pick;
      if (pick) fillCard(card, pick.design);
    }
    return picks;
  }

  function fillCard(card, i) {
    fillFigures(card, run, designs, i);
    const fluid = fluids.of(designs.fluids[i]);
    drawMark(card.querySelector("[data-card-mark]"), fluid.colour, fluid.symbol);
    card.querySelector("[data-fluid-title]").textContent = fluid.title;
    card.querySelector("[data-line]").textContent = i + 1;
    card.querySelector("[data-open]").href = `#design-${i + 1}`;
    fillCautions(card, cautionsOf(run, i));
  }

  return { update };
}

// Fills every element that names a column; what does not apply to the design is left out.
function fillFigures(root, run, designs, i) {
  for (const element of root.querySelectorAll("[data-figure]")) {
    const name = element.dataset.figure, cell = designs.cell(i, name);
    element.textContent = writeCell(cell, run.columns[name]);
    element.closest("[data-row]").hidden = cell === "";
  }
}

function fillCautions(card, found) {
  const of = (level) => found.filter((caution) => caution.level === level);
  const topics = of("warning").map((caution) => caution.topic).filter(Boolean), notes = of("note").length;
  card.querySelector("[data-cautions] ul").replaceChildren(...cautionItems(of("danger")));
  card.querySelector("[data-more-cautions]").hidden = !found.length;
  card.querySelector("[data-more-cautions] ul").replaceChildren(...cautionItems([...of("warning"), ...of("note")]));
  card.querySelector("[data-caution-topics]").textContent = `Cautions${topics.length ? `: ${topics.join(", ")}` : ""}${notes ? `; ${notes} note${notes > 1 ? "s" : ""}` : ""}`;
}

const LEVELS = { danger: "Danger", warning: "Caution", note: "Note" };

const cautionsOf = (run, i) => (run.cautions.designs[i] || []).map((k) => run.cautions.texts[k]);

function cautionItems(found) {
  return found.map(({ text, level }) =>
    html("li", { class: level }, html("span", { class: "level" }, LEVELS[level]), ` ${text}`));
}
