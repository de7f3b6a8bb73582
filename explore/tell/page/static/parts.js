// What a little more of each part at hand would add, per euro, on the sheet of the design that is open.

import { html } from "./theme.js";

// Of a recommended design as the run has told it; of any other what to type, for it takes evaluations that no page makes.
export function fillParts(box, run, designs, i) {
  box.hidden = !run.more;
  if (!run.more) return;
  const known = i < designs.onFront ? run.more.designs[String(i + 1)] : undefined,
    [table, words, note] = ["table", "ul", "p"].map((name) => box.querySelector(name));
  table.parentElement.hidden = words.hidden = !known;
  table.replaceChildren(...(known ? lines(run.more.header, known.cells) : []));
  words.replaceChildren(...(known ? known.words.map((one) => html("li", {}, one)) : []));
  const { name, line } = designs.fileOf(i);
  note.replaceChildren(
    ...(known
      ? [`As searched: limits and prices that you set on this page change nothing here. ${run.more.scope}`]
      : [
          "Of a design that is not recommended the page does not hold it; this command evaluates and prints the same table: ",
          html("code", {}, `explore task=inspect design=${run.folder}/${name} row=${line}`),
        ]),
  );
}

function lines(header, cells) {
  const words = (column) => (column ? {} : { class: "words" });
  const head = header.map((title, column) => html("th", { scope: "col", ...words(column) }, title));
  const rows = cells.map(([part, ...rest]) =>
    html(
      "tr",
      {},
      html("th", { scope: "row", class: "words" }, part),
      ...rest.map((cell) => html("td", {}, cell.replaceAll(" ", "\u00a0"))),
    ),
  );
  return [html("thead", {}, html("tr", {}, ...head)), html("tbody", {}, ...rows)];
}
