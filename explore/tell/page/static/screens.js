// The screens of the presenting view: each a statement, a few notes and one picture, made of the parts that opening, cards
// and sheets are made of, so that they follow the reader's limits and cannot say anything else.

import { cautionItems, cautionsOf } from "./cards.js";
import { chartCurves, stairs } from "./curves.js";
import { titleOf } from "./designs.js";
import { chartBars } from "./diagrams.js";
import { threeDigits, wholeNumber, writeCell } from "./numbers.js";
import { HELD_WITH_TUBES, askedFor, listed, makeSentences, marked } from "./sentences.js";
import { drawMark, html, printing } from "./theme.js";
import { LETTERS, MONTHS, upper } from "./words.js";

const PRESSURES = ["standstill_pressure_bar_g", "fault_pressure_bar_g", "design_pressure_bar_g", "test_pressure_bar_g"],
  MOST_LINES = 4,
  MOST_BARS = 8,
  LARGE = 17,
  SMALL = 12.5;

export const TITLES = [
  "The question",
  "The choice of fluid",
  "The pressure",
  "The cost",
  "How sure",
  "What can hurt someone",
  "The decision",
];

const size = () => (innerWidth < 700 || printing() ? SMALL : LARGE);
const textOf = (id) => document.getElementById(id)?.textContent.trim() ?? "";

// Returns the screens as they are in the reader's state: { title, statement, notes, picture(box), words }, `words` saying
// what the picture shows, for those who do not see it.
export function makeScreens(run, designs, fluids, state) {
  const sentences = makeSentences(run, designs, fluids);
  const shown = (i, name) => writeCell(designs.cell(i, name), run.columns[name]);
  const titleAt = (i) => fluids.short(designs.fluids[i]);
  const nameAt = (i) => `${titleAt(i)}, design ${designs.nameOf(i)}`;
  const axis = (name) => axisOf(run, designs, name);

  function present() {
    const asked = askedFor(run, state, fluids),
      picks = state.picks(),
      middle = picks.at(-1)?.design ?? null;
    const seen = { asked, picks, middle, none: sentences.choice([], asked) };
    return [question, fluid, pressure, cost, sure, hurt, decision].map((make, k) => ({
      title: TITLES[k],
      notes: [],
      ...make(seen),
    }));
  }

  function question({ asked }) {
    const { hours, months } = run.presenting;
    return {
      statement: textOf("opening-asked"),
      notes: [textOf("scenario-line"), ...(asked ? [`In this discussion also: ${asked}.`] : [])],
      words: `Map of the months and hours with demand: ${months.map((m) => MONTHS[m - 1]).join(", ")}; from ${hours.map((h) => `${h} to ${h + 1}`).join(", ")} o’clock`,
      picture: (box) => box.replaceChildren(demandMap(hours, months)),
    };
  }

  function fluid({ asked, picks, none }) {
    if (!picks.length) return { statement: none };
    return {
      statement: sentences.choice(picks, asked),
      notes: [
        sentences.unheld(picks),
        `Each curve: the most work per litre that its fluid gives for up to so much money. ${textOf("overview-tubes")}`.trimEnd(),
      ],
      words: "One curve for each fluid: most work per litre of hot water for up to so much cost",
      picture: (box) => fluidCurves(box, run, designs, fluids, state, { size: size() }),
    };
  }

  function pressure({ asked, picks, middle, none }) {
    if (!picks.length) return { statement: none };
    const first = run.objectives.find(({ figure }) => figure !== "peak_pressure_bar_g");
    const able = state.visible.filter((i) => designs.broken(i) === undefined),
      rows = able.length ? able : state.visible;
    const [x, y] = [axis("peak_pressure_bar_g"), axis(first?.figure ?? "cost_EUR")],
      sign = first ? -first.sign : -1;
    const steps = stairs(rows, x.values, y.values, sign);
    const roles = new Map();
    for (const pick of picks) roles.set(pick.design, [...(roles.get(pick.design) || []), pick.title]);
    return {
      statement: `${upper(sentences.starting(asked, sentences.pressure(state.visible)))}.`,
      notes: [
        sentences.unheld(picks),
        `The compromise, ${titleAt(middle)}, holds ${shown(middle, "peak_pressure_bar_g")} when it stands hottest; ` +
          `its relief valve opens at ${shown(middle, "design_pressure_bar_g")} at the latest, and it is to be tested at ` +
          `${shown(middle, "test_pressure_bar_g")}.`,
      ],
      words: `${upper(y.column.title)} that can be had for up to so much pressure, as stairs, with the recommended designs`,
      picture: (box) =>
        chartCurves(
          box,
          [{ title: "", colour: fluids.colour(designs.fluids[middle]), symbol: "circle", rows: steps }],
          x,
          y,
          {
            size: size(),
            name: nameAt,
            picked: [...roles].map(([i, titles]) => ({ i, title: titles.join(", ") })),
          },
        ),
    };
  }

  function cost({ asked, picks, middle, none }) {
    if (!picks.length) return { statement: none };
    const lines = run.bill
      .map(({ column, line }) => ({ line, euros: designs.raw(column)[middle] || 0 }))
      .filter(({ euros }) => euros > 0)
      .sort((a, b) => b.euros - a.euros);
    const told = lines.slice(0, MOST_LINES),
      rest = lines.slice(MOST_LINES).reduce((sum, { euros }) => sum + euros, 0);
    const parts = told.map(({ line, euros }) => `${threeDigits(euros)} for ${line.toLowerCase()}`);
    if (rest > 0) parts.push(`${threeDigits(rest)} for all other lines`);
    const over = run.reading !== "nominal",
      paid = run.objectives.find(({ plain }) => plain === "cost_EUR")?.figure,
      cheapest = picks.find(({ key }) => key === paid);
    const sought = (i) => marked(shown(i, paid), run.columns[paid]);
    return {
      statement:
        sentences.starting(asked, `The compromise, ${titleAt(middle)}, costs ${shown(middle, "cost_EUR")}`) +
        `${over ? " by the run’s own values" : ""}${parts.length ? `: ${listed(parts)}` : ""}.`,
      notes: [
        sentences.unheld(picks),
        `It comes${sentences.size(middle) || " as its sheet says"} and serves ${shown(middle, "served_share")} of the demand.`,
        ...(cheapest && cheapest.design !== middle
          ? [
              `The least cost found${cheapest.displaced === null ? "" : HELD_WITH_TUBES} is ${sought(cheapest.design)}, with ${titleAt(cheapest.design)}.`,
            ]
          : []),
        ...(over && cheapest
          ? [`What was searched is the cost over worlds; the compromise has ${sought(middle)}.`]
          : []),
        ...(over && state.priced ? ["Your prices move only this bill, by the run’s own values."] : []),
      ],
      words: `Bars of the bill of the compromise: ${lines.map(({ line, euros }) => `${line} ${threeDigits(euros)} EUR`).join(", ")}`,
      picture: (box) =>
        chartBars(
          box,
          lines.map(({ line }) => line),
          lines.map(({ euros }) => euros),
          "EUR",
          { size: size() },
        ),
    };
  }

  function sure({ asked, middle }) {
    const { doubt, assumed, values } = run.presenting,
      search = textOf("how-sure");
    if (!doubt)
      return {
        statement: `Nobody has worked out yet how sure this is: no study was made of this run, and ${assumed} of ${values} coefficients and prices behind it are assumptions.`,
        notes: [["A study is made by ", html("code", {}, `explore task=doubt run=${run.folder}`)], search],
        words: `Bars: ${assumed} values assumed, ${values - assumed} with a source`,
        picture: (box) =>
          chartBars(box, ["Assumed", "With a source"], [assumed, values - assumed], "coefficients and prices", {
            size: size(),
            write: wholeNumber,
          }),
      };
    const rest = doubt.chances.slice(MOST_BARS).reduce((sum, [, percent]) => sum + percent, 0),
      likely = [...doubt.chances.slice(0, MOST_BARS), ...(rest > 0 ? [["all others", rest]] : [])];
    const tried = middle === null ? undefined : doubt.designs[designs.nameOf(middle)];
    const notes = [
      ...(asked ? [`This study is of the case that was searched, not of what is asked here: ${asked}.`] : []),
      ...(tried ? [`The compromise, ${titleAt(middle)}: ${tried}`] : []),
      ...(middle !== null && !tried
        ? [`The compromise, ${titleAt(middle)}, is none of the designs that it reports on.`]
        : []),
      doubt.scope,
    ];
    return {
      statement: doubt.headline,
      notes,
      words: `Bars: how likely each fluid is best in ${doubt.objective} under ${doubt.ceiling} bar gauge: ${likely.map(([name, percent]) => `${name} ${threeDigits(percent)} %`).join(", ")}`,
      picture: (box) =>
        chartBars(
          box,
          likely.map(([name]) => name),
          likely.map(([, percent]) => percent),
          `How likely it is best under ${doubt.ceiling} bar gauge, %`,
          { size: size() },
        ),
    };
  }

  const heeded = (title, design) =>
    `${title}, ${titleAt(design)}: ${run.cautions.headings[run.cautions.headed[design]]}.`;

  function hurt({ asked, picks, middle, none }) {
    if (!picks.length)
      return { statement: none, notes: state.shortlist.map((design, k) => heeded(LETTERS[k], design)) };
    const found = cautionsOf(run, middle),
      least = run.severities.at(-1).key,
      grave = found.filter(({ level }) => level !== least),
      notes = found.filter(({ level }) => level === least);
    const topics = [...new Set(grave.map(({ topic }) => topic).filter(Boolean))];
    const others = picks
      .slice(0, -1)
      .filter(({ design }, k, all) => design !== middle && all.findIndex((one) => one.design === design) === k)
      .map(({ title, design }) => heeded(title, design));
    const names = PRESSURES.filter((name) => designs.cell(middle, name) !== "");
    const list = (items) => html("ul", { class: "cautions" }, ...cautionItems(run, items));
    const more = html(
      "details",
      printing() ? { open: "" } : {},
      html("summary", {}, `Notes, ${notes.length}`),
      list(notes),
    );
    return {
      statement:
        sentences.starting(asked, `Warnings of the compromise, ${titleAt(middle)}`) +
        `: ${listed(topics) || "see its notes"}.`,
      notes: [sentences.unheld(picks), ...others],
      below: [list(grave), ...(notes.length ? [more] : [])],
      words: `Bars of its pressures in bar gauge: ${names.map((name) => `${run.columns[name].label} ${shown(middle, name)}`).join(", ")}`,
      picture: (box) =>
        chartBars(
          box,
          names.map((name) => run.columns[name].label),
          names.map((name) => designs.numbers(name)[middle]),
          "bar gauge",
          { size: size() },
        ),
    };
  }

  function decision({ asked, picks, middle, none }) {
    const short = state.shortlist.map((design, k) => ({ title: LETTERS[k], design }));
    if (!picks.length && !short.length) return { statement: none };
    const rows = short.length ? short : picks,
      law = cautionsOf(run, middle ?? rows[0].design).find(({ topic }) => topic === "law and licence"),
      breaking = [...new Set(rows.map(({ design }) => design))].filter(
        (design) => designs.broken(design) !== undefined && (short.length || design !== middle),
      ),
      outside = short.filter(({ design }) => state.outside(design)).map(({ title }) => title);
    const statement = short.length
      ? `To decide: which of the shortlist, ${listed(short.map(({ title, design }) => `${title} ${titleAt(design)}`))}, is worked out further.`
      : `To decide: which of these is worked out further. ${sentences.starting(asked, "The best compromise found is")} ${titleAt(middle)}: ${sentences.gist(middle)}.`;
    return {
      statement,
      notes: [
        ...(short.length ? [] : [sentences.unheld(picks)]),
        ...breaking.map(
          (design) => `${nameAt(design)}, breaks with exchangers made of tubes: ${designs.broken(design)}.`,
        ),
        ...(outside.length ? [`Not within the limits set on this page: ${listed(outside)}.`] : []),
        ...(law ? [law.text] : []),
        ...[...new Set(rows.map(({ design }) => design))]
          .filter((design) => state.notes.has(design))
          .map((design) => `Note on ${titleAt(design)}, design ${designs.nameOf(design)}: ${state.notes.get(design)}`),
      ],
      words: "",
      picture: (box) => box.replaceChildren(barTable(rows)),
    };
  }

  // A row a design and a column an objective, each with a bar on the scale of the column.
  function barTable(rows) {
    const names = [...new Set([...run.objectives.map(({ figure }) => figure), ...run.gist])];
    const most = (name) =>
      Math.max(...rows.map(({ design }) => designs.numbers(name)[design]).filter(Number.isFinite), 0);
    const cell = (design, name) => {
      const bar = html("span", { class: "share", "aria-hidden": "true" });
      bar.style.width = `${(100 * (designs.numbers(name)[design] || 0)) / (most(name) || 1)}%`;
      return html("td", { "data-label": run.columns[name].label }, bar, shown(design, name));
    };
    const line = ({ title, design }) => {
      const mark = html("span", { class: "mark", "aria-hidden": "true" }),
        { colour, symbol } = fluids.of(designs.fluids[design]);
      drawMark(mark, colour, symbol);
      const link = html("a", { href: `#design-${designs.nameOf(design)}` }, `design ${designs.nameOf(design)}`);
      return html(
        "tr",
        { "data-design": designs.nameOf(design) },
        html("th", { scope: "row" }, html("strong", {}, title), " ", mark, ` ${titleAt(design)}, `, link),
        ...names.map((name) => cell(design, name)),
      );
    };
    const heads = names.map((name) => html("th", { scope: "col" }, run.columns[name].label));
    return html(
      "table",
      { class: "deciding" },
      html("thead", {}, html("tr", {}, html("th", { scope: "col" }, "Design"), ...heads)),
      html("tbody", {}, ...rows.map(line)),
    );
  }

  return present;
}

// The curves of the fluids under the reader's limits: each fluid's own designs, whatever other fluids do.
export function fluidCurves(box, run, designs, fluids, state, more = {}) {
  const x = axisOf(run, designs, "cost_EUR"),
    y = axisOf(run, designs, "work_per_litre_kJ"),
    mine = new Map();
  for (const i of state.passing) mine.set(designs.fluids[i], [...(mine.get(designs.fluids[i]) || []), i]);
  const groups = [...mine].map(([name, rows]) => ({
    title: fluids.short(name),
    colour: fluids.colour(name),
    symbol: fluids.symbol(name),
    has: (i) => designs.fluids[i] === name,
    rows: stairs(rows, x.values, y.values),
  }));
  chartCurves(box, groups, x, y, {
    name: (i) => `${fluids.title(designs.fluids[i])}, design ${designs.nameOf(i)}`,
    ...more,
  });
}

const axisOf = (run, designs, name) => ({
  values: designs.numbers(name),
  raw: designs.raw(name),
  title: titleOf(run, name),
  column: run.columns[name],
});

function demandMap(hours, months) {
  const asked = new Set(hours),
    of = new Set(months);
  const head = html(
    "tr",
    {},
    html("td", {}),
    ...Array.from({ length: 24 }, (_, hour) => html("td", {}, hour % 3 ? "" : String(hour))),
  );
  const row = (name, k) =>
    html(
      "tr",
      {},
      html("td", {}, name),
      ...Array.from({ length: 24 }, (_, hour) => html("td", of.has(k + 1) && asked.has(hour) ? { class: "on" } : {})),
    );
  return html("table", { class: "demand", role: "presentation" }, html("tbody", {}, head, ...MONTHS.map(row)));
}
