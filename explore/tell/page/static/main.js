// Starts the page: data first, so that text and table stand at once, then the charts.

import { makeCards } from "./cards.js";
import { keepSource } from "./copy.js";
import { makeDesigns } from "./designs.js";
import { makeFluidViews } from "./fluids.js";
import { makeLimits } from "./limits.js";
import { makeLink } from "./link.js";
import { makeMeasured } from "./measured.js";
import { makeNotes } from "./notes.js";
import { wholeNumber } from "./numbers.js";
import { makeOverview } from "./overview.js";
import { makePictures } from "./pictures.js";
import { makePresent } from "./present.js";
import { makePrices } from "./prices.js";
import { makeParallel } from "./parallel.js";
import { makeProgress } from "./progress.js";
import { makeScatter } from "./scatter.js";
import { makeSheet } from "./sheet.js";
import { makeShortlist } from "./shortlist.js";
import { makeSpace } from "./space3d.js";
import { makeState } from "./state.js";
import { makeTable } from "./table.js";
import { darkWanted, html, makeFluids, paintMarks, seenFirst, setPrinting, whenIdle, whenNear } from "./theme.js";
import { inflate, loadCharts } from "./unpack.js";
import { makeWeights } from "./weights.js";

async function start() {
  const source = keepSource();
  document.querySelector("[data-newer]")?.addEventListener("click", () => location.reload());
  const run = JSON.parse(await inflate("run-data"));
  const designs = makeDesigns(run),
    fluids = makeFluids(run);
  paintMarks();
  const measured = makeMeasured(run);
  if (!designs.count)
    return loadCharts().then(() => {
      makeProgress(run, fluids).draw();
      measured.draw();
    });
  const state = makeState(run, designs);
  const limits = makeLimits(run, designs, state),
    prices = makePrices(run, designs, state),
    weights = makeWeights(run, state);
  const cards = makeCards(run, designs, fluids, state),
    table = makeTable(run, designs, fluids, state);
  const sheet = makeSheet(run, designs, fluids, state),
    views = makeFluidViews(run, designs, fluids, state);
  const scatter = makeScatter(run, designs, fluids, state),
    parallel = makeParallel(run, designs, fluids, state),
    space = makeSpace(run, designs, fluids, state);
  const progress = makeProgress(run, fluids),
    shortlist = makeShortlist(run, designs, fluids, state);
  const overview = makeOverview(run, designs, fluids, state);
  const present = makePresent(run, designs, fluids, state),
    count = document.getElementById("count");

  const showCount = () => {
    const budgeted = state.priced && !state.reranked() && run.budget !== null;
    const of =
      state.limited() || budgeted ? "within the limits" : state.reranked() ? "unbeaten at your prices" : "on the front";
    count.textContent = `${wholeNumber(state.visible.length)} ${state.visible.length === 1 ? "design" : "designs"} ${of}`;
  };
  const showCards = () => {
    cards.update();
    shortlist.update();
  };
  const showText = () => {
    showCount();
    showCards();
    views.update();
    table.restart();
  };
  const link = makeLink(run, designs, state, {
    showSheet: sheet.show,
    restore(found) {
      prices.apply(found.prices);
      weights.apply(found.weights);
      const kept = limits.show(found.limits);
      state.setShortlist(found.shortlist);
      if (found.selected.length || state.selected) state.select(found.selected.length ? found.selected : null, "table");
      if (!state.stand(kept, found.selected)) state.setLimits(kept);
      state.setScreen(present.within(found.screen), "link");
    },
  });
  state.visit = link.visit;
  const notes = makeNotes(run, designs, fluids, state, source);

  state.design = designs.placeOf(String(run.picks.at(-1).row));
  link.restore(false);
  state.apply();
  showText();
  notes.update();
  notes.listen();
  present.update();
  present.listen();
  sheet.open(state.design);
  document.documentElement.dataset.ready = "text";
  await loadCharts();

  makePictures(run, fluids, state, scatter.pictured).offer();
  let slow = 0;
  const later = (...draws) => {
    clearTimeout(slow);
    slow = setTimeout(() => draws.forEach((draw) => whenIdle(() => draw())), 400);
  };
  const redraw = {
    overview: whenNear(overview.box, overview.draw),
    parallel: whenNear(parallel.box, parallel.draw),
    views: whenNear(views.box, views.draw),
    progress: whenNear(progress.root, progress.draw),
    measured: measured.box ? whenNear(measured.box, measured.draw) : measured.draw,
  };
  scatter.draw();
  scatter.listen();
  sheet.redraw();

  const seen = (id, write) => seenFirst(document.getElementById(id), write);
  const follow = {
    cards: seen("opening", showCards),
    views: seen("fluids", views.update),
    table: seen("designs", table.restart),
    role: seen("sheet", sheet.role),
    sheet: seen("sheet", () => sheet.open(state.design)),
  };
  const followText = () => {
    showCount();
    follow.cards();
    follow.views();
    follow.table();
  };
  state.on("limits", () => {
    followText();
    follow.role();
    scatter.follow();
    later(redraw.overview, redraw.parallel, redraw.views, space.draw);
  });
  state.on("prices", () => {
    followText();
    follow.sheet();
    scatter.reprice();
    later(redraw.overview, redraw.parallel, redraw.views, space.draw);
  });
  state.on("weights", () => {
    showCount();
    follow.cards();
    follow.role();
    scatter.label();
    later(redraw.overview);
  });
  state.on("selection", (origin) => {
    table.follow(origin);
    scatter.select(origin);
    later(...(origin === "parallel" ? [] : [redraw.parallel]), space.draw);
  });
  state.on("design", () => {
    sheet.open(state.design);
    shortlist.update();
    table.draw();
    scatter.label();
  });
  link.listen();
  present.update();
  const repaint = () => {
    paintMarks();
    showText();
    scatter.draw();
    redraw.overview();
    redraw.parallel();
    redraw.views();
    redraw.progress();
    redraw.measured();
    space.draw();
    sheet.open(state.design);
    present.update();
  };
  darkWanted.addEventListener("change", repaint);
  wirePrint(sheet, [overview, views, measured], scatter.boxes, repaint);
  if (/^#design-/.test(location.hash) && !state.screen) sheet.show();
  document.documentElement.dataset.ready = "charts";
}

// On paper: light colours and charts as wide as the sheet, whatever the window is.
function wirePrint(sheet, others, scatters, repaint) {
  const charts = () => [...sheet.charts(), ...scatters, ...others.map(({ box }) => box)].filter((box) => box?.data);
  const set = (on) => {
    setPrinting(on);
    sheet.redraw(true);
    others.forEach((other) => other.draw());
    repaint();
    // A chart drawn before keeps its size; the library's own resizing comes too late for the printer.
    charts().forEach((box) =>
      Plotly.relayout(
        box,
        on ? { width: box.clientWidth, height: box.clientHeight } : { width: null, height: null, autosize: true },
      ),
    );
  };
  window.addEventListener("beforeprint", () => set(true));
  window.addEventListener("afterprint", () => set(false));
}

start().catch((error) => {
  document
    .querySelector("main")
    .prepend(
      html("p", { class: "note failed" }, `The interactive part of this page could not start: ${error.message}`),
    );
  throw error;
});
