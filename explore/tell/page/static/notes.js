// The reader's notes, one a design: written on its sheet, listed under the cards, saved in a copy of the file. What a note
// says is only ever shown as text.

import { copyWith, notesOfFile } from "./copy.js";
import { saveText } from "./files.js";
import { html } from "./theme.js";

const MOST_LETTERS = 4000,
  MOST_NOTES = 500;

export function makeNotes(run, designs, fluids, state, source) {
  const byId = (id) => document.getElementById(id);
  const box = byId("note"),
    stored = notesOfFile();
  // Where the notes on the page stand: in this file, in a copy that was saved, or nowhere yet.
  let unsaved = false,
    copied = false;

  for (const [name, text] of (stored ?? []).slice(0, MOST_NOTES)) {
    const i = designs.placeOf(name);
    if (i !== null && text.trim()) state.notes.set(i, text.slice(0, MOST_LETTERS));
  }
  const lost = stored === null ? "The notes in this file cannot be read and are left out." : "";

  function told() {
    if (unsaved) return "Not saved yet: notes are lost with this window unless a copy is saved.";
    if (copied) return "Saved in the copy; this file is unchanged.";
    return lost || (state.notes.size ? "As they stand in this file." : "");
  }

  // The notes by name of their design, in the order of the designs, so that equal notes make equal copies.
  const named = () =>
    Object.fromEntries([...state.notes].sort(([a], [b]) => a - b).map(([i, text]) => [designs.nameOf(i), text]));

  function save() {
    saveText(`${run.scenario.replace(/[^\w-]+/g, "-")}-notes.html`, "text/html", copyWith(source, named()));
    unsaved = false;
    copied = true;
    update();
  }

  function line([i, text]) {
    const link = html("a", { href: `#design-${designs.nameOf(i)}` }, `design ${designs.nameOf(i)}`);
    return html("li", {}, `${fluids.short(designs.fluids[i])}, `, link, ": ", html("span", { class: "written" }, text));
  }

  function update() {
    byId("notes").hidden = !state.notes.size && !unsaved && !lost;
    byId("notes-list").replaceChildren(...[...state.notes].sort(([a], [b]) => a - b).map(line));
    document.querySelectorAll("[data-notes-state]").forEach((element) => {
      element.textContent = told();
    });
    const written = state.notes.get(state.design) ?? "";
    if (box.value !== written && document.activeElement !== box) box.value = written;
  }

  function listen() {
    box.maxLength = MOST_LETTERS;
    box.addEventListener("input", () => {
      unsaved = true;
      state.setNote(state.design, box.value);
    });
    document.querySelectorAll("[data-save-notes]").forEach((button) => button.addEventListener("click", save));
    state.on("notes", update);
    state.on("design", () => {
      box.value = state.notes.get(state.design) ?? "";
    });
    window.addEventListener("beforeunload", (event) => {
      if (unsaved) event.preventDefault();
    });
  }

  return { update, listen };
}
