// The reader's limits: two sliders with typed values, words, and which fluids take part.

import { threeDigits } from "./numbers.js";

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
    const valueAt = (k) => (Number(k) >= steps ? top : Number((low + k * step).toPrecision(3)));
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
    return () => {
      range.value = steps;
      typed.value = top;
      say(top);
    };
  }

  const niceAbove = (value) => {
    const unit = 10 ** (Math.floor(Math.log10(Math.max(value, 1))) - 2);
    return Number((Math.ceil(value / unit) * unit).toPrecision(6));
  };

  const boxes = [...document.querySelectorAll("#legend input")];
  const readFluids = () =>
    state.setLimits({ off: new Set(boxes.filter((box) => !box.checked).map((box) => box.value)) });
  const all = (on) => {
    boxes
      .filter((box) => !box.disabled)
      .forEach((box) => {
        box.checked = on;
      });
    readFluids();
  };
  const resets = [wire("ceiling", "peak_pressure_bar_g"), wire("budget", "cost_EUR")];
  boxes.forEach((box) => box.addEventListener("change", readFluids));
  byId("fluids-all").addEventListener("click", () => all(true));
  byId("fluids-none").addEventListener("click", () => all(false));
  byId("words").addEventListener("input", (event) => state.setLimits({ words: event.target.value }));
  byId("controls").addEventListener("submit", (event) => event.preventDefault());
  byId("reset").addEventListener("click", () => {
    resets.forEach((reset) => reset());
    byId("words").value = "";
    boxes.forEach((box) => {
      box.checked = !box.disabled;
    });
    state.setLimits({ ceiling: Infinity, budget: Infinity, words: "", off: new Set() });
  });
}
