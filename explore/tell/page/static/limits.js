// The reader's limits: two sliders with typed values, words, and which fluids take part.

import { threeDigits } from "./numbers.js";

const NONE_SET = { ceiling: Infinity, budget: Infinity, words: "", off: new Set() };

export function makeLimits(run, designs, state) {
  const byId = (id) => document.getElementById(id);
  const steps = 400;

  function wire(name, figure) {
    const range = byId(`${name}-range`),
      typed = byId(name);
    let low, step, top;
    // The slider spans what the designs have, at the reader's prices; its end is no limit.
    function span() {
      const values = [...designs.numbers(figure).slice(0, designs.count)].filter(Number.isFinite),
        high = Math.max(...values);
      low = Math.min(...values);
      step = (high - low) / steps || 1;
      top = niceAbove(high);
    }
    const valueAt = (k) => (Number(k) >= steps ? top : Number((low + k * step).toPrecision(4)));
    const asked = (limit) => (limit >= top ? Infinity : limit);
    const apply = (limit) => state.setLimits({ [name]: asked(limit) });
    const place = (limit) => Math.round(Math.max(0, Math.min(steps, (limit - low) / step)));
    const say = (limit) => range.setAttribute("aria-valuetext", `${threeDigits(limit)} ${run.columns[figure].unit}`);
    range.addEventListener("input", () => {
      const limit = valueAt(range.value);
      typed.value = limit;
      say(limit);
      apply(limit);
    });
    typed.addEventListener("input", () => {
      const limit = typed.value === "" ? top : Number(typed.value);
      if (!Number.isFinite(limit)) return;
      range.value = place(limit);
      say(limit);
      apply(limit);
    });
    function show(limit = Infinity) {
      const kept = asked(limit);
      typed.value = Math.min(kept, top);
      range.value = kept === Infinity ? steps : place(kept);
      say(Math.min(kept, top));
      return kept;
    }
    Object.assign(range, { min: 0, max: steps, step: 1 });
    span();
    show();
    // A limit once set stays as it is.
    state.on("prices", () => {
      const before = top;
      span();
      if (top === before) return;
      if (state[name] === Infinity) show();
      else range.value = place(state[name]);
    });
    return show;
  }

  const niceAbove = (value) => {
    const unit = 10 ** (Math.floor(Math.log10(Math.max(value, 1))) - 2);
    return Number((Math.ceil(value / unit) * unit).toPrecision(6));
  };

  const boxes = [...document.querySelectorAll("#legend input")];
  const readFluids = () => {
    showClasses();
    state.setLimits({ off: new Set(boxes.filter((box) => !box.checked).map((box) => box.value)) });
  };
  const all = (on) => {
    boxes
      .filter((box) => !box.disabled)
      .forEach((box) => {
        box.checked = on;
      });
    readFluids();
  };
  const ends = { ceiling: wire("ceiling", "peak_pressure_bar_g"), budget: wire("budget", "cost_EUR") };
  const classes = [...document.querySelectorAll("#classes input:not(:disabled)")];
  const classOf = new Map(run.fluids.map((fluid) => [fluid.name, fluid.class]));
  const ofClass = (kind) => boxes.filter((box) => !box.disabled && classOf.get(box.value) === kind);

  // A class is a handle on its fluids: ticked with all of them, half with some.
  function showClasses() {
    for (const box of classes) {
      const on = ofClass(box.value).map((fluid) => fluid.checked);
      box.checked = on.length > 0 && on.every(Boolean);
      box.indeterminate = !box.checked && on.some(Boolean);
    }
  }

  classes.forEach((box) =>
    box.addEventListener("change", () => {
      ofClass(box.value).forEach((fluid) => {
        fluid.checked = box.checked;
      });
      readFluids();
    }),
  );
  boxes.forEach((box) => box.addEventListener("change", readFluids));
  byId("fluids-all").addEventListener("click", () => all(true));
  byId("fluids-none").addEventListener("click", () => all(false));
  byId("words").addEventListener("input", (event) => state.setLimits({ words: event.target.value }));
  byId("controls").addEventListener("submit", (event) => event.preventDefault());
  byId("reset").addEventListener("click", () => {
    show(NONE_SET);
    state.setLimits(NONE_SET);
  });

  // Shows these limits and returns them as they count: at the end of a slider there is none.
  function show({ ceiling, budget, words, off }) {
    const ceilingKept = ends.ceiling(ceiling),
      budgetKept = ends.budget(budget);
    byId("words").value = words;
    boxes.forEach((box) => {
      box.checked = !off.has(box.value);
    });
    showClasses();
    return { ceiling: ceilingKept, budget: budgetKept, words, off };
  }

  // An example that finds something: the kind of the compromise, with a store no larger than a little above its own.
  const middle = designs.placeOf(String(run.picks.at(-1).row));
  const litres = niceAbove(1.2 * designs.numbers("store_volume_L")[middle]);
  byId("words").placeholder =
    `${designs.cell(middle, "store_mode")} stages=${designs.cell(middle, "stages")} store_volume_L<${litres}`;
  showClasses();
  return { show };
}
