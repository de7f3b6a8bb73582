// The reader's weights of the objectives: how much each counts when the compromise is chosen. The picks of single objectives
// and what is left do not depend on them.

import { html } from "./theme.js";
import { lower } from "./words.js";

const MOST = 5,
  MOST_TYPED = 1000, // what is typed or linked; beyond, squares would lose the other objectives to rounding
  STEP = 0.5,
  USUAL = 1;

export function makeWeights(run, state) {
  const root = document.getElementById("weight-rows"),
    rows = new Map();

  function row({ figure }, k) {
    const label = lower(run.roles[k].title),
      limits = { min: 0, max: MOST };
    const range = html("input", { type: "range", ...limits, step: STEP, "aria-label": `Weight of the ${label}` });
    const typed = html("input", { type: "number", min: 0, step: "any", "aria-label": `Weight of the ${label}, typed` });
    const show = (value) => {
      range.value = value;
      typed.value = value;
    };
    const read = (text) => {
      const value = text === "" ? NaN : Number(text);
      if (!Number.isFinite(value) || value < 0 || value > MOST_TYPED) return;
      show(value);
      state.setWeights({ ...state.weights, [figure]: value });
    };
    range.addEventListener("input", () => read(range.value));
    typed.addEventListener("change", () => read(typed.value));
    rows.set(figure, show);
    show(USUAL);
    return html(
      "div",
      { class: "price" },
      html("span", {}, run.roles[k].title),
      range,
      html("span", { class: "typed" }, typed),
    );
  }

  function apply(weights) {
    const known = Object.fromEntries(
      Object.entries(weights).filter(([figure, value]) => rows.has(figure) && value >= 0 && value <= MOST_TYPED),
    );
    for (const [figure, show] of rows) show(known[figure] ?? USUAL);
    state.setWeights(known);
  }

  root.append(...run.objectives.map(row));
  document.getElementById("unweigh").addEventListener("click", () => apply({}));
  return { apply };
}

// The weights in words, nothing where all objectives count alike.
export function weightWords(run, state) {
  const all = state.weightList();
  if (!all) return "";
  return `your weights (${all.map((value, k) => `${value} ${lower(run.roles[k].title)}`).join(", ")})`;
}
