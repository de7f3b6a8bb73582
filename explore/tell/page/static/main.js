// Starts the page: data first, so that text and table stand at once, then the charts.

function makeLimits(run, designs, state) {
  const byId = (id) => document.getElementById(id);
  const steps = 400;

  function wire(name, figure) {
    const range = byId(`${name}-range`), typed = byId(name);
    const values = [...designs.numbers(figure).slice(0, designs.count)].filter(Number.isFinite);
    const low = Math.min(...values), high = Math.max(...values), step = (high - low) / steps || 1;
    Object.assign(range, { min: 0, max: steps, step: 1, value: steps });
    const top = niceAbove(high);
    typed.value = top;
    const valueAt = (k) => (Number(k) >= steps ? top : Number((low + k * step).toPrecision(3)));
    const apply = (limit) => state.setLimits({ [name]: limit >= top ? Infinity : limit });
    const say = (limit) => range.setAttribute("aria-valuetext", `${threeDigits(limit)} ${run.columns[figure].unit}`);
    range.addEventListener("input", () => { const limit = valueAt(range.value); typed.value = limit; say(limit); apply(limit); });
    typed.addEventListener("input", () => {
      const limit = typed.value === "" ? top : Number(typed.value);
      if (!Number.isFinite(limit)) return;
      range.value = Math.round(Math.max(0, Math.min(steps, (limit - low) / step)));
      say(limit);
      apply(limit);
    });
    say(top);
    return () => { range.value = steps; typed.value = top; say(top); };
  }

  const niceAbove = (value) => {
    const unit = 10 ** (Math.floor(Math.log10(Math.max(value, 1))) - 2);
    return Number((Math.ceil(value / unit) * unit).toPrecision(6));
  };

  const boxes = [...document.querySelectorAll("#legend input")];
  const readFluids = () => state.setLimits({ off: new Set(boxes.filter((box) => !box.checked).map((box) => box.value)) });
  const all = (on) => { boxes.filter((box) => !box.disabled).forEach((box) => { box.checked = on; }); readFluids(); };
  const resets = [wire("ceiling", "peak_pressure_bar_g"), wire("budget", "cost_EUR")];
  boxes.forEach((box) => box.addEventListener("change", readFluids));
  byId("fluids-all").addEventListener("click", () => all(true));
  byId("fluids-none").addEventListener("click", () => all(false));
  byId("words").addEventListener("input", (event) => state.setLimits({ words: event.target.value }));
  byId("controls").addEventListener("submit", (event) => event.preventDefault());
  byId("reset").addEventListener("click", () => {
    resets.forEach((reset) => reset());
    byId("words").value = "";
    boxes.forEach((box) => { box.checked = !box.disabled; });
    state.setLimits({ ceiling: Infinity, budget: Infinity, words: "", off: new Set() });
  });
}

function designInAddress(count) {
  const found = location.hash.match(/^#design-(\d+)$/);
  const line = found ? Number(found[1]) : 0;
  return line >= 1 && line <= count ? line - 1 : null;
}

function paintMarks() {
  document.querySelectorAll(".mark[data-colour]").forEach((mark) => drawMark(mark, Number(mark.dataset.colour), mark.dataset.symbol));
}

async function start() {
  const run = JSON.parse(await inflate("run-data"));
  const designs = makeDesigns(run), fluids = makeFluids(run);
  paintMarks();
  if (!designs.count) return loadCharts().then(() => makeProgress(run, fluids).draw());
  const state = makeState(run, designs);
  makeLimits(run, designs, state);
  const cards = makeCards(run, designs, fluids, state), table = makeTable(run, designs, fluids, state);
  const sheet = makeSheet(run, designs, fluids, state), views = makeFluidViews(run, designs, fluids, state);
  const scatter = makeScatter(run, designs, fluids, state), parallel = makeParallel(run, designs, fluids, state), space = makeSpace(run, designs, fluids, state);
  const progress = makeProgress(run, fluids);
  const count = document.getElementById("count");

  const showText = () => {
    count.textContent = `${state.visible.length} of ${designs.count} designs within the limits`;
    cards.update();
    views.update();
    table.restart();
  };
  const follow = () => {
    const i = designInAddress(designs.count);
    if (i === null) return;
    state.openDesign(i);
    sheet.root.scrollIntoView({ behavior: matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth" });
    document.getElementById("sheet-title").focus({ preventScroll: true });
  };

  state.design = designInAddress(designs.count) ?? run.picks.at(-1).row - 1;
  showText();
  sheet.open(state.design);
  document.documentElement.dataset.ready = "text";
  await loadCharts();

  let slow = 0;
  const later = (...draws) => { clearTimeout(slow); slow = setTimeout(() => draws.forEach((draw) => whenIdle(() => draw())), 400); };
  const redraw = { parallel: whenNear(document.getElementById("parallel"), parallel.draw), views: whenNear(views.box, views.draw),
    progress: whenNear(document.getElementById("search"), progress.draw) };
  scatter.draw();
  scatter.listen();
  sheet.redraw();

  state.on("limits", () => { showText(); scatter.follow(); later(redraw.parallel, redraw.views, space.draw); });
  state.on("selection", (origin) => {
    table.restart();
    scatter.select(origin);
    later(...(origin === "parallel" ? [] : [redraw.parallel]), space.draw);
  });
  state.on("design", () => { sheet.open(state.design); table.draw(); scatter.label(); });
  window.addEventListener("hashchange", follow);
  const repaint = () => {
    paintMarks(); showText(); scatter.draw(); redraw.parallel(); redraw.views(); redraw.progress(); space.draw();
    sheet.open(state.design);
  };
  darkWanted.addEventListener("change", repaint);
  wirePrint(sheet, views, repaint);
  if (designInAddress(designs.count) !== null) follow();
  document.documentElement.dataset.ready = "charts";
}

// On paper: light colours and charts as wide as the sheet, whatever the window is.
function wirePrint(sheet, views, repaint) {
  const charts = () => [...document.querySelectorAll("#sheet .chart, #multiples")].filter((box) => box.data);
  const set = (on) => {
    printing = on;
    document.documentElement.classList.toggle("printing", on);
    sheet.redraw(true);
    views.draw();
    repaint();
    // A chart drawn before keeps its size; the library's own resizing comes too late for the printer.
    charts().forEach((box) => Plotly.relayout(box, on ? { width: box.clientWidth, height: box.clientHeight } : { width: null, height: null, autosize: true }));
  };
  window.addEventListener("beforeprint", () => set(true));
  window.addEventListener("afterprint", () => set(false));
}

start().catch((error) => {
  document.querySelector("main").prepend(html("p", { class: "note danger" }, `The interactive part of this page could not start: ${error.message}`));
  throw error;
});
