// What differs across runs: sentences under each recommended role and in the opening, and a shortlist of up to four designs
// of any of the runs, side by side, that stands in the address.

import { wallsOf } from "./cards.js";
import { threeDigits } from "./numbers.js";
import { figureRows, fillSideBySide, headOf, takeOff } from "./sidebyside.js";
import { drawMark, html } from "./theme.js";
import { LETTERS } from "./words.js";

const MOST = LETTERS.length, // designs side by side, as on the page of one run
  GREATEST = 2; // lines of the bill that the opening tells; the roles below tell more

// Fills the places that the page keeps for sentences: under each role against the first run that has a design for it, in the
// opening against the first run.
export function tellChanges(data, runs) {
  for (const { key, designs } of data.roles) {
    const [first, ...others] = designs.map(runs.of).filter(Boolean),
      list = document.querySelector(`[data-reasons="${CSS.escape(key)}"]`);
    list?.replaceChildren(...others.map((b) => html("li", {}, runs.sentences(first, b))));
  }
  const compromises = data.roles.find(({ key }) => key === "compromise")?.designs ?? [],
    found = data.runs.map((_, k) => runs.of(compromises[k]));
  document.querySelectorAll("[data-changed]").forEach((element) => {
    const k = Number(element.dataset.changed);
    element.textContent = changeOf(data, runs, [0, k], [found[0], found[k]]);
  });
}

function changeOf(data, runs, places, [own, other]) {
  const none = places.filter((k, place) => ![own, other][place]).map((k) => data.runs[k].letter);
  if (none.length) return none.map((letter) => `Run ${letter} found no design that meets its scenario.`).join(" ");
  return runs.sentences(own, other, { subject: `The compromise of ${other.run.letter}`, most: GREATEST });
}

// The names in an address, '#&shortlist=A17,B3', each once and only such as the page has.
function named(hash, runs) {
  const pair = hash
    .replace(/^#/, "")
    .split("&")
    .find((part) => part.startsWith("shortlist="));
  const names = pair ? pair.slice("shortlist=".length).split(",") : [];
  return [...new Set(names)].filter(runs.of).slice(0, MOST);
}

export function makeShortlist(data, runs, changed) {
  const byId = (id) => document.getElementById(id);
  let chosen = named(location.hash, runs);

  function set(names) {
    chosen = names;
    const hash = names.length ? `#&shortlist=${names.join(",")}` : location.pathname + location.search;
    history.pushState(null, "", hash);
    update();
  }

  function toggle(name) {
    if (chosen.includes(name)) set(chosen.filter((one) => one !== name));
    else if (runs.of(name) && chosen.length < MOST) set([...chosen, name]);
  }

  function rows(designs) {
    const built = { label: "Built as", cells: designs.map(runs.layoutOf) },
      fluid = { label: "Working fluid", cells: designs.map(runs.fluidOf) };
    const walls = designs.map(({ run, place }) =>
      wallsOf(run, place)
        .map(({ wall_mm, material }) => `${threeDigits(wall_mm)} mm ${material}`)
        .join(", "),
    );
    const warnings = designs.map(({ run, place }) => run.warnings[place] || "none");
    return [
      fluid,
      built,
      ...figureRows(data.columns, data.table, designs.map(runs.cellsOf)),
      { label: "Warnings", cells: warnings },
      { label: "Least walls of the first cylinder", cells: walls.map((text) => text || "–") },
    ];
  }

  function headOfDesign({ name, run }) {
    const mark = html("span", { class: "mark", "aria-hidden": "true" });
    drawMark(mark, data.runs.indexOf(run), run.symbol);
    const sheet = run.page
      ? [html("a", { href: `${run.page}#design-${name.slice(1)}`, "aria-label": `Sheet of ${name}` }, "sheet"), " "]
      : [];
    return headOf(
      mark,
      ` ${name} `,
      ...sheet,
      takeOff(name, () => toggle(name)),
    );
  }

  function update() {
    const designs = chosen.map(runs.of);
    byId("shortlist").hidden = !designs.length;
    document.querySelectorAll("[data-shortlist]").forEach((button) => {
      const name = button.dataset.shortlist,
        on = chosen.includes(name);
      button.textContent = `${on ? "Take" : "Put"} ${name} ${on ? "off" : "on"} the shortlist`;
      button.disabled = !on && chosen.length === MOST;
    });
    byId("shortlist-words").replaceChildren(
      ...(designs.length < 2
        ? [html("li", {}, "One design is on the shortlist; put up to three more beside it to see what differs.")]
        : designs.slice(1).map((b) => html("li", {}, runs.sentences(designs[0], b)))),
    );
    fillSideBySide(byId("shortlist-table"), designs.map(headOfDesign), rows(designs));
    changed(designs);
  }

  function putTyped(event) {
    event.preventDefault();
    const typed = byId("design-name"),
      name = typed.value.trim().toUpperCase();
    byId("design-told").textContent = !runs.of(name)
      ? `This page carries no design ${name || "without a name"}.`
      : chosen.includes(name)
        ? `${name} is on the shortlist.`
        : chosen.length === MOST
          ? "The shortlist is full: take a design off first."
          : `${name} is put on the shortlist.`;
    if (runs.of(name) && !chosen.includes(name)) toggle(name);
  }

  function listen() {
    document.addEventListener("click", (event) => {
      const button = event.target.closest?.("[data-shortlist]");
      if (button) toggle(button.dataset.shortlist);
    });
    byId("add-design").addEventListener("submit", putTyped);
    const moved = () => {
      const names = named(location.hash, runs);
      if (names.join() === chosen.join()) return;
      chosen = names;
      update();
    };
    window.addEventListener("popstate", moved);
    window.addEventListener("hashchange", moved);
  }

  return { toggle, update, listen };
}
