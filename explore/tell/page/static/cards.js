// The cards of the recommended designs, and what cards and design sheet write alike.

import { tightMargins } from "./margins.js";
import { threeDigits, writeCell } from "./numbers.js";
import { askedFor, given, makeSentences } from "./sentences.js";
import { drawMark, html } from "./theme.js";
import { filled } from "./words.js";

export function makeCards(run, designs, fluids, state) {
  const byId = (id) => document.getElementById(id);
  const cards = [...document.querySelectorAll("#cards .card")];
  const sentences = makeSentences(run, designs, fluids);

  function update() {
    const picks = state.picks(),
      asked = askedFor(run, state, fluids);
    byId("opening-found").textContent = sentences.found(picks, asked);
    byId("opening-limits").textContent = sentences.limits(state.visible);
    const count = state.visible.length;
    const scope = !asked
      ? "Chosen among all designs of the front."
      : count === 1
        ? `One design is left that no other beats, ${given(asked)}.`
        : count
          ? `Chosen among ${count} designs that no other beats, ${given(asked)}.`
          : "";
    byId("cards-scope").textContent = sentences.unheld(picks) ? `${scope} ${run.noneHeld}` : scope;
    const unread = unreadWords(state.unread);
    byId("cards-none").hidden = picks.length > 0;
    byId("cards-none-unread").textContent = unread;
    byId("words-unread").textContent = unread;
    advise(byId("advice"));
    for (const card of cards) {
      const pick = picks.find((one) => one.key === card.dataset.role);
      card.hidden = !pick;
      if (!pick) continue;
      fillCard(card, pick.design);
      const told = card.querySelector("[data-displaced]");
      told.hidden = pick.displaced === null;
      told.textContent = pick.displaced === null ? "" : displaced(pick.displaced);
    }
    fillPaper(picks);
    return picks;
  }

  // Cards are too narrow on paper for all that is to be said: behind them stands what holds for every design, which is written
  // beforehand, and what each recommended one has of its own.
  function fillPaper(picks) {
    const alike = new Map(),
      common = new Set(run.commonCautions),
      own = (i) => cautionsOf(run, i).filter(({ text }) => !common.has(text));
    for (const pick of picks) alike.set(pick.design, [...(alike.get(pick.design) || []), pick]);
    byId("own-cautions").replaceChildren(
      ...[...alike].flatMap(([i, roles]) => [
        html(
          "h3",
          {},
          `Cautions of ${fluids.title(designs.fluids[i])}, design ${designs.nameOf(i)} (${roles
            .map(({ title }) => title.toLowerCase())
            .join(", ")})`,
        ),
        html("ul", { class: "cautions" }, ...cautionItems(run, own(i))),
      ]),
    );
  }

  // Where a limit lies on what the search did not trade off, a search under that limit finds better.
  function advise(element) {
    const traded = new Set(run.objectives.map(({ figure }) => figure)),
      keys = [],
      names = [];
    const add = (figure, key) => {
      if (traded.has(figure)) return;
      names.push(run.columns[figure].label.toLowerCase());
      keys.push(key);
    };
    if (state.ceiling !== Infinity)
      add("peak_pressure_bar_g", `scenario.limits.pressure_ceiling_bar_g=${state.ceiling}`);
    if (state.budget !== Infinity) add("cost_EUR", `scenario.limits.budget_EUR=${state.budget}`);
    for (const [name, ends] of state.bounds())
      // A search meets no number exactly unless it is pinned; bounds, which inputs take as well, may be open at an end.
      add(
        name,
        run.inputs.includes(name) && ends[0] === ends[1]
          ? `space.${name}=${ends[0]}`
          : `'scenario.limits.bounds.${name}=[${ends.map(String).join(",")}]'`,
      );
    element.hidden = !names.length;
    if (names.length)
      element.replaceChildren(
        `The search did not trade off ${names.join(", ")}, so ` +
          (state.visible.length
            ? "these are only the best of what it happened to meet; a new search under that limit would find better: "
            : "it may have met none that a new search under that limit would find: "),
        html("code", {}, `explore -cp ${run.folder} -cn config ${keys.join(" ")}`),
      );
  }

  // Words that look like a condition and are none find nothing, which says nothing of the designs.
  const unreadWords = (parts) =>
    parts.map(({ text, why }) => `“${text}” ${why}, so that it is looked for as a word.`).join(" ");

  // A figure never stands alone: of a design that was tried in no other world it is said so.
  function untriedWords(i) {
    if (!run.doubted) return "";
    const line = designs.nameOf(i),
      way = /^\d+$/.test(line) ? `: explore task=doubt run=${run.folder} row=${line} tries it` : "";
    return `Not among the designs tried in other worlds${way}.`;
  }

  const displaced = (i) =>
    filled(run.displaced, {
      fluid: fluids.of(designs.fluids[i]).title,
      line: designs.nameOf(i),
      limits: designs.broken(i),
    });

  // The limits of the scenario that it breaks with tubes; else the reader's budget, where the sheet knows what tubes cost.
  function breaks(i) {
    const limits = designs.broken(i);
    if (limits !== undefined) return filled(run.unheld, { which: "this one", limits });
    const sheet = i < designs.onFront ? run.sheets.designs[i + 1] : null,
      cost = sheet?.with_tubes?.compared?.cost_EUR?.[1];
    return !state.priced && cost > state.budget
      ? `With exchangers made of tubes it costs ${writeCell(String(cost), run.columns.cost_EUR)}, more than the budget set on this page.`
      : "";
  }

  function fillCard(card, i) {
    fillFigures(card, run, designs, i);
    const fluid = fluids.of(designs.fluids[i]);
    card.dataset.design = designs.nameOf(i);
    drawMark(card.querySelector("[data-card-mark]"), fluid.colour, fluid.symbol);
    card.querySelector("[data-fluid-title]").textContent = fluid.title;
    card.querySelector("[data-fluid-library]").textContent = fluid.library ? ` (${fluid.library})` : "";
    card.querySelector("[data-line]").textContent = designs.nameOf(i);
    card.querySelector("[data-shortlist]").dataset.shortlist = designs.nameOf(i);
    card.querySelector("[data-open]").href = `#design-${designs.nameOf(i)}`;
    const say = (name, words) => {
      const element = card.querySelector(`[data-${name}]`);
      element.hidden = !words;
      element.textContent = words;
    };
    const tight = tightMargins(run, designs, i);
    say("breaks", breaks(i));
    say("tight", tight ? `Little to spare: ${tight}.` : "");
    say("leeway", run.leeway[designs.nameOf(i)] ?? "");
    say("walls", wallWords(run, i));
    say("untried", designs.triedWithTubes(i) ? "" : "Its exchangers were not tried as tubes; task=inspect tries them.");
    say("worlds", run.worlds[designs.nameOf(i)] ?? untriedWords(i));
    fillCautions(card, run, i);
  }

  return { update };
}

// Fills every element that names a column; what does not apply to the design is left out.
export function fillFigures(root, run, designs, i) {
  for (const element of root.querySelectorAll("[data-figure]")) {
    const name = element.dataset.figure,
      cell = designs.told(i, name);
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
  card.querySelector("[data-caution-topics]").textContent = run.cautions.headings[run.cautions.headed[i]];
}

// Sentences with slots and the numbers of each design, as told.py packs them.
export const cautionsOf = (run, i) =>
  run.cautions.designs[i].map(([place, ...numbers]) => {
    const [level, topic, text] = run.cautions.sentences[place],
      parts = text.split("\u0001");
    return { level, topic, text: parts.map((part, k) => part + (numbers[k] ?? "")).join("") };
  });

export function cautionItems(run, found) {
  const words = new Map(run.severities.map(({ key, word }) => [key, word]));
  return found.map(({ text, level }) =>
    html("li", { "data-severity": level }, html("span", { class: "level" }, words.get(level)), ` ${text}`),
  );
}

// Walls by part, each material with its own; empty where they are not known.
export function wallsOf(run, i) {
  const mm = run.walls.walls[i] || [];
  return run.walls.parts
    .map(([part, material], k) => ({ part, material, wall_mm: mm[k] ?? null }))
    .filter(({ wall_mm }) => wall_mm !== null);
}

function wallWords(run, i) {
  const parts = new Map();
  for (const { part, material, wall_mm } of wallsOf(run, i))
    parts.set(part, [...(parts.get(part) || []), `${threeDigits(wall_mm)} mm ${material}`]);
  if (!parts.size)
    return "Its walls were not worked out for this page: task=inspect prints them, and task=report of the run's folder adds them here.";
  return `Least walls: ${[...parts].map(([part, walls]) => `${part}: ${walls.join(" or ")}`).join("; ")}.`;
}
