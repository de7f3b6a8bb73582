// The reader's limits: two sliders with typed values, words, and which fluids take part.

import { threeDigits } from "./numbers.js";

const NONE_SET = { ceiling: Infinity, budget: Infinity, words: "", off: new Set() };

export function makeLimits(run, designs, state) {
  const byId = (id) => document.getElementById(id);
  const steps = 400;

  function wire(name, figure) {
    const range = byId(`${name}-range`),
      typed = byId(name);
    const values = [...designs.numbers(figure).slice(0, designs.count)].filter(Number.isFinite);
    const low = Math.min(...values),
      high = Math.max(...values),
      step = (high - low) / steps || 1;
    Object.assign(range, { min: 0, max: steps, step: 1, value: steps });
    const top = niceAbove(high);
    typed.value = top;
    const valueAt = (k) => (Number(k) >= steps ? top : Number((low + k * step).toPrecision(4)));
    const apply = (limit) => state.setLimits({ [name]: limit >= top ? Infinity : limit });
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
      range.value = Math.round(Math.max(0, Math.min(steps, (limit - low) / step)));
      say(limit);
      apply(limit);
    });
    say(top);
    return (limit = Infinity) => {
      const shown = Math.min(limit, top);
      typed.value = limit === Infinity ? top : limit;
      range.value = limit === Infinity ? steps : Math.round(Math.max(0, Math.min(steps, (shown - low) / step)));
      say(shown);
    };
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
  const classes = [...document.querySelectorAll("#classes input")];
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

  function show({ ceiling, budget, words, off }) {
    ends.ceiling(ceiling);
    ends.budget(budget);
    byId("words").value = words;
    boxes.forEach((box) => {
      box.checked = !off.has(box.value);
    });
    showClasses();
  }

  // An example that finds something: the kind of the compromise, with a store no larger than a little above its own.
  const middle = designs.placeOf(String(run.picks.at(-1).row));
  const litres = niceAbove(1.2 * designs.numbers("store_volume_L")[middle]);
  byId("words").placeholder =
    `${designs.cell(middle, "store_mode")} stages=${designs.cell(middle, "stages")} store_volume_L<${litres}`;
  showClasses();
  return { show };
}
