// The cards of the recommended designs, and what cards and design sheet write alike.

import { writeCell } from "./numbers.js";
import { picksAmong } from "./picks.js";
import { drawMark, html } from "./theme.js";

export function makeCards(run, designs, fluids, state) {
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
      if (!pick) continue;
      fillCard(card, pick.design);
      const told = card.querySelector("[data-displaced]");
      told.hidden = pick.displaced === null;
      told.textContent = pick.displaced === null ? "" : displaced(pick.displaced);
    }
    return picks;
  }

  function displaced(i) {
    const words = { fluid: fluids.of(designs.fluids[i]).title, line: i + 1, limits: run.brokenWithTubes[i + 1] };
    return run.displaced.replace(/\{(\w+)\}/g, (_, name) => words[name]);
  }

  function fillCard(card, i) {
    fillFigures(card, run, designs, i);
    const fluid = fluids.of(designs.fluids[i]);
    drawMark(card.querySelector("[data-card-mark]"), fluid.colour, fluid.symbol);
    card.querySelector("[data-fluid-title]").textContent = fluid.title;
    card.querySelector("[data-line]").textContent = i + 1;
    const doubt = card.querySelector("[data-doubt-of]");
    if (doubt) doubt.hidden = Number(doubt.dataset.doubtOf) !== i + 1;
    card.querySelector("[data-open]").href = `#design-${i + 1}`;
    fillCautions(card, run, i);
  }

  return { update };
}

// Fills every element that names a column; what does not apply to the design is left out.
export function fillFigures(root, run, designs, i) {
  for (const element of root.querySelectorAll("[data-figure]")) {
    const name = element.dataset.figure,
      cell = designs.cell(i, name);
    element.textContent = writeCell(cell, run.columns[name]);
    element.closest("[data-row]").hidden = cell === "";
  }
}

function fillCautions(card, run, i) {
  const found = cautionsOf(run, i),
    gravest = run.severities[0].key;
  card.querySelector("[data-cautions] ul").replaceChildren(
    ...cautionItems(
      run,
      found.filter(({ level }) => level === gravest),
    ),
  );
  card.querySelector("[data-more-cautions]").hidden = !found.length;
  card.querySelector("[data-more-cautions] ul").replaceChildren(
    ...cautionItems(
      run,
      found.filter(({ level }) => level !== gravest),
    ),
  );
  card.querySelector("[data-caution-topics]").textContent = run.cautions.headings[i];
}

export const cautionsOf = (run, i) => (run.cautions.designs[i] || []).map((k) => run.cautions.texts[k]);

export function cautionItems(run, found) {
  const words = new Map(run.severities.map(({ key, word }) => [key, word]));
  return found.map(({ text, level }) =>
    html("li", { "data-severity": level }, html("span", { class: "level" }, words.get(level)), ` ${text}`),
  );
}
