// A copy of the page as it came, with the reader's notes in it. It is put together from what stood in the file, kept before
// anything was drawn: a page opened from a file may not read that file again.

import { html } from "./theme.js";

const NOTES = "reader-notes";

// To be called before anything changes. Scripts are kept as they are, for they never change and are most of the file.
export function keepSource() {
  const parts = [...document.body.children]
    .filter((element) => element.id !== NOTES)
    .map((element) => (element.localName === "script" ? element : element.outerHTML));
  return { root: document.documentElement.cloneNode(false).outerHTML, head: document.head.outerHTML, parts };
}

// Nothing in the notes may end their element or begin another, whatever was typed.
const ESCAPED = /[<>&\u2028\u2029]/g;
const escape = (letter) => `\\u${letter.charCodeAt(0).toString(16).padStart(4, "0")}`;

export function copyWith({ root, head, parts }, notes) {
  const data = JSON.stringify({ notes }).replace(ESCAPED, escape);
  const scripts = parts.findIndex((part) => typeof part !== "string"),
    written = html("script", { type: "application/json", id: NOTES }, data);
  const body = parts.toSpliced(scripts, 0, written).map((part) => (typeof part === "string" ? part : part.outerHTML));
  return `<!doctype html>\n${root.replace("</html>", "")}\n${head}\n<body>\n${body.join("\n")}\n</body>\n</html>\n`;
}

// What stands in the file, as anybody may have written it: names with texts, or null where it is nothing of the kind.
export function notesOfFile() {
  const text = document.getElementById(NOTES)?.textContent.trim() || "{}";
  try {
    const found = JSON.parse(text).notes ?? {};
    const listed = Object.entries(found);
    return listed.every(([, note]) => typeof note === "string") && !Array.isArray(found) ? listed : null;
  } catch {
    return null;
  }
}
