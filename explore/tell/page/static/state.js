// One state for the whole page: the reader's limits, what they leave visible, and what is selected.

export function makeState(run, designs) {
  const listeners = { limits: [], selection: [], design: [] };
  const state = {
    ceiling: Infinity,
    budget: Infinity,
    words: "",
    off: new Set(),
    others: false,
    visible: [],
    visibleOthers: [],
    selected: null,
    design: null,
  };

  // "mixed stages=2 cost_EUR<4000": words must occur in the texts, comparisons must hold.
  function conditions(words) {
    return words
      .trim()
      .split(/\s+/)
      .filter(Boolean)
      .map((part) => {
        const found = part.match(/^([A-Za-z]\w*)(<=|>=|<|>|=)(.+)$/);
        if (!found || !designs.header.includes(found[1])) return textCondition(part);
        return comparison(found[1], found[2], found[3]);
      });
  }

  function textCondition(part) {
    const wanted = part.toLowerCase();
    return (i) =>
      ["fluid", "store_mode", "collector"].some((name) => designs.cell(i, name).toLowerCase().includes(wanted));
  }

  function comparison(name, sign, right) {
    const number = Number(right);
    if (!Number.isFinite(number)) return (i) => designs.cell(i, name).toLowerCase() === right.toLowerCase();
    const factor = run.columns[name].share ? 100 : 1;
    const tests = {
      "<": (a) => a < number,
      ">": (a) => a > number,
      "<=": (a) => a <= number,
      ">=": (a) => a >= number,
      "=": (a) => a === number,
    };
    return (i) => tests[sign](designs.numbers(name)[i] / factor);
  }

  function filter() {
    const pressure = designs.numbers("peak_pressure_bar_g"),
      cost = designs.numbers("cost_EUR");
    const extra = conditions(state.words);
    const passes = (i) =>
      !(pressure[i] > state.ceiling) &&
      !(cost[i] > state.budget) &&
      !state.off.has(designs.fluids[i]) &&
      extra.every((holds) => holds(i));
    state.visible = [];
    state.visibleOthers = [];
    for (let i = 0; i < designs.total; i++)
      if (passes(i)) (i < designs.count ? state.visible : state.visibleOthers).push(i);
    if (state.selected) {
      const left = state.visible.filter((i) => state.selected.has(i));
      state.selected = left.length ? new Set(left) : null;
    }
  }

  let waiting = false;
  // Limits may change many times between two frames; the page is drawn once.
  function setLimits(change) {
    Object.assign(state, change);
    if (waiting) return;
    waiting = true;
    requestAnimationFrame(() => {
      waiting = false;
      filter();
      tell("limits");
    });
  }

  function select(indices, origin) {
    const front = indices ? [...indices].filter((i) => i < designs.count) : [];
    state.selected = front.length ? new Set(front) : null;
    tell("selection", origin);
  }

  function openDesign(i) {
    state.design = i;
    tell("design");
  }

  const on = (what, listener) => listeners[what].push(listener);
  const tell = (what, origin) => listeners[what].forEach((listener) => listener(origin));
  const chosen = () => (state.selected ? state.visible.filter((i) => state.selected.has(i)) : state.visible);
  filter();
  return Object.assign(state, { on, setLimits, select, openDesign, chosen });
}
