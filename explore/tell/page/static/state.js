// One state for the whole page: the reader's limits, what they leave, what of it nothing else beats, and what is selected.

import { inOrder, nondominated } from "./dominance.js";
import { picksAmong } from "./picks.js";

const TEXTS = ["fluid", "store_mode", "collector"];

export function makeState(run, designs) {
  const listeners = {
    limits: [],
    selection: [],
    design: [],
    prices: [],
    shortlist: [],
    screen: [],
    notes: [],
    weights: [],
  };
  const pool = Array.from({ length: designs.count }, (_, i) => i);
  const state = {
    ceiling: Infinity,
    budget: Infinity,
    words: "",
    unread: [], // of these words what looks like a condition and is none: { text, why }
    off: new Set(),
    others: false,
    passing: [],
    visible: [],
    visibleOthers: [],
    selected: null,
    shortlist: [],
    notes: new Map(), // of designs, by their place
    design: null,
    screen: 0, // of the presenting view, from 1; 0 where the page is read as a page
    priced: false,
    prices: {},
    weights: {}, // of objectives, by their figure; 1 where there is none
  };

  // "mixed stages=2 cost_EUR<4000": words must occur in the texts, comparisons must hold.
  function conditions(words) {
    state.unread = [];
    return words
      .trim()
      .split(/\s+/)
      .filter(Boolean)
      .map((part) => {
        const found = part.match(/^([A-Za-z]\w*)(<=|>=|<|>|=)(.+)$/),
          why = /[<>=]/.test(part) && unreadable(found);
        if (why) state.unread.push({ text: part, why });
        return !found || why ? textCondition(part) : comparison(found[1], found[2], found[3]);
      });
  }

  function unreadable(found) {
    if (!found) return "is no column, sign and value";
    const [, name, sign, right] = found;
    if (!designs.header.includes(name)) return `names no column of the file`;
    if (designs.numericNames.includes(name) || sign !== "=")
      return Number.isFinite(Number(right)) ? "" : "compares with what is no plain number";
    return "";
  }

  function textCondition(part) {
    const wanted = part.toLowerCase();
    return (i) => TEXTS.some((name) => designs.cell(i, name).toLowerCase().includes(wanted));
  }

  function comparison(name, sign, right) {
    const number = Number(right);
    if (!Number.isFinite(number)) return (i) => designs.cell(i, name).toLowerCase() === right.toLowerCase();
    const tests = {
      "<": (a) => a < number,
      ">": (a) => a > number,
      "<=": (a) => a <= number,
      ">=": (a) => a >= number,
      "=": (a) => a === number,
    };
    return (i) => tests[sign](designs.raw(name)[i]);
  }

  // Bounds that the reader's words set on figures and inputs: name and [least, most], an open end being null.
  function bounds() {
    const found = new Map();
    for (const [, name, sign, right] of state.words.matchAll(/(?:^|\s)([A-Za-z]\w*)(<=|>=|<|>|=)(\S+)/g)) {
      const value = Number(right);
      if (!designs.numericNames.includes(name) || !run.boundable.includes(name) || !Number.isFinite(value)) continue;
      const [low, high] = found.get(name) || [null, null];
      found.set(name, [sign.includes("<") ? low : value, sign.includes(">") ? high : value]);
    }
    // No design lies between ends that are reversed.
    return [...found].filter(([, [low, high]]) => low === null || high === null || low <= high);
  }

  function filter() {
    chosenOnce = null;
    const pressure = designs.numbers("peak_pressure_bar_g"),
      cost = designs.numbers("cost_EUR");
    const extra = conditions(state.words),
      most = Math.min(state.budget, run.budget ?? Infinity);
    const passes = (i) =>
      !(pressure[i] > state.ceiling) &&
      !(cost[i] > most) &&
      !state.off.has(designs.fluids[i]) &&
      extra.every((holds) => holds(i));
    state.passing = pool.filter(passes);
    state.visible = front(state.passing);
    state.visibleOthers = [];
    for (let i = designs.count; i < designs.total; i++) if (passes(i)) state.visibleOthers.push(i);
    if (state.selected) {
      const left = state.visible.filter((i) => state.selected.has(i));
      state.selected = left.length ? new Set(left) : null;
    }
  }

  // Lines of front.csv beat one another in nothing, unless they are priced anew.
  let ranked = null;
  function front(rows) {
    ranked ??= rank();
    const asked = marked(rows),
      best = nondominated(
        ranked.scales,
        ranked.order.filter((i) => asked[i]),
        reranked() ? 0 : designs.onFront,
      );
    const left = marked(best);
    return rows.filter((i) => left[i]);
  }

  function marked(rows) {
    const found = new Uint8Array(designs.count);
    for (const i of rows) found[i] = 1;
    return found;
  }

  // Prices alone change the order, so that a limit sorts nothing.
  function rank() {
    const scales = run.objectives.map(({ figure, ideal, reference }) =>
      designs.raw(figure).map((value) => (value - ideal) / (reference - ideal)),
    );
    return { scales, order: inOrder(scales, pool) };
  }

  // Prices move the bill by the run's own values: no figure over worlds follows them, and so nothing that is chosen by one.
  const reranked = () => state.priced && run.reading === "nominal";
  const limited = () =>
    state.ceiling !== Infinity || state.budget !== Infinity || state.words.trim() !== "" || state.off.size > 0;

  // Whether a design breaks what the reader asks for, as one on the shortlist or with an open sheet may.
  const outside = (i) => limited() && !state.passing.includes(i);

  let waiting = false;
  // Limits may change many times between two frames; the page is drawn once.
  function setLimits(change) {
    Object.assign(state, change);
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => {
      if (waiting) apply();
    });
  }

  // Whether limits are those that stand; a selection is asked after as well, for limits take off it what they hide.
  const stand = ({ ceiling, budget, words, off }, selected) =>
    ceiling === state.ceiling &&
    budget === state.budget &&
    words === state.words &&
    off.size === state.off.size &&
    [...off].every((name) => state.off.has(name)) &&
    !selected.length;

  function apply() {
    waiting = false;
    filter();
    tell("limits");
  }

  function setPrices(prices, columns) {
    state.prices = prices;
    state.priced = Object.keys(columns).length > 0;
    designs.price(columns);
    ranked = null;
    filter();
    tell("prices");
  }

  function select(indices, origin) {
    const chosen = indices ? [...indices].filter((i) => i < designs.count) : [];
    state.selected = chosen.length ? new Set(chosen) : null;
    tell("selection", origin);
  }

  function shortlist(indices) {
    if (String(indices) === String(state.shortlist)) return;
    state.shortlist = indices;
    tell("shortlist");
  }

  function setWeights(weights) {
    const heard = Object.fromEntries(Object.entries(weights).filter(([, value]) => value !== 1));
    if (JSON.stringify(heard) === JSON.stringify(state.weights)) return;
    chosenOnce = null;
    state.weights = heard;
    tell("weights");
  }

  // A weight for each objective; null where all count alike.
  function weightList() {
    const all = run.objectives.map(({ figure }) => state.weights[figure] ?? 1);
    return all.every((value) => value === all[0]) ? null : all;
  }
  // Asked for by cards, sheet and charts alike; chosen once until something is set anew.
  let chosenOnce = null;
  const picks = () => (chosenOnce ??= picksAmong(run, designs, state.visible, weightList()));

  function setNote(i, text) {
    if (text.trim()) state.notes.set(i, text);
    else state.notes.delete(i);
    tell("notes");
  }

  function setScreen(number, origin) {
    if (number === state.screen) return;
    state.screen = number;
    tell("screen", origin);
  }

  function openDesign(i) {
    state.design = i;
    tell("design");
  }

  const on = (what, listener) => listeners[what].push(listener);
  const tell = (what, origin) => listeners[what].forEach((listener) => listener(origin));
  const chosen = () => (state.selected ? state.visible.filter((i) => state.selected.has(i)) : state.visible);
  filter();
  return Object.assign(state, {
    on,
    setLimits,
    stand,
    apply,
    setPrices,
    select,
    setShortlist: shortlist,
    openDesign,
    setScreen,
    setNote,
    setWeights,
    weightList,
    picks,
    chosen,
    limited,
    outside,
    reranked,
    bounds,
  });
}
