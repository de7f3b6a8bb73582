// What was measured against what the model predicts: one point a row on a logarithmic axis, and the line where both agree.

import { axisTitle } from "./diagrams.js";
import { threeDigits } from "./numbers.js";
import { QUIET, css, layout, plain, printing } from "./theme.js";

const TICKS = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100];
const MARGIN = { l: 12, r: 14, t: 22, b: 48 };
const HOVER_CELLS = 52;
const LABEL_CELLS = 57; // a narrow screen holds so many letters in a line

// Rows from the top, each topic under its own heading.
function lines(points) {
  const found = [];
  for (const point of points) {
    if (found.at(-1)?.point?.topic !== point.topic) found.push({ heading: point.topic });
    found.push({ point });
  }
  return found;
}

function wrapped(text, cells) {
  const rows = [""];
  for (const word of text.split(" ")) {
    if (`${rows.at(-1)} ${word}`.length > cells) rows.push(word);
    else rows[rows.length - 1] = `${rows.at(-1)} ${word}`.trim();
  }
  return rows.map(plain).join("<br>");
}

const titled = (heading) => `<b>${plain(heading[0].toUpperCase() + heading.slice(1))}</b>`;

function hover(point) {
  const unit = point.unit ? ` ${plain(point.unit)}` : "";
  const state = point.within ? "within the accuracy of the measurement" : "outside the accuracy of the measurement";
  return [
    `<b>${plain(point.row)}</b> ${wrapped(point.quantity, HOVER_CELLS)}`,
    `predicted ${threeDigits(point.predicted)}${unit}`,
    `measured ${threeDigits(point.measured)} ± ${threeDigits(point.accuracy)}${unit}`,
    `predicted over measured ${threeDigits(point.ratio)}, ${state}`,
    ...(point.counted ? [] : [`${plain(point.kind)}: not counted`]),
  ].join("<br>");
}

export function makeMeasured(run) {
  const box = document.getElementById("chart-measured");
  const rows = lines(run.measured);

  // A wide chart names its rows beside the axis; a narrow one above each row, where a long name takes two lines.
  function arrange(narrow) {
    const labels = rows.map(({ heading, point }) =>
      heading ? titled(heading) : narrow ? wrapped(point.name, LABEL_CELLS) : plain(point.name),
    );
    const heights = labels.map((label, k) =>
      printing() ? 14 : !narrow ? 23 : rows[k].heading ? 26 : label.includes("<br>") ? 46 : 34,
    );
    let below = 0;
    const places = heights.map((height) => (below += height));
    return { labels, places, whole: below };
  }

  function draw() {
    if (!box) return;
    const narrow = box.clientWidth < 600 && !printing();
    const { labels, places, whole } = arrange(narrow);
    const small = printing() ? 9 : narrow ? 10.5 : 12;
    box.style.height = `${whole + 12 + MARGIN.t + MARGIN.b}px`;
    const marked = rows.map((row, k) => ({ ...row.point, y: places[k] })).filter((row) => row.row);
    const ends = marked.flatMap((p) => [p.ratio, ...(p.low > 0 ? [p.low] : []), p.high]);
    const least = 0.85 * Math.min(...ends, 0.5),
      most = 1.15 * Math.max(...ends, 2);
    const note = { showarrow: false, font: { size: small, color: css("--ink") } };
    const above = labels.map((text, k) => ({
      ...note,
      text,
      xref: "paper",
      x: 0,
      xanchor: "left",
      y: places[k],
      yanchor: "bottom",
      yshift: rows[k].heading ? -6 : 5,
      align: "left",
      bgcolor: css("--plate"),
      borderpad: 0,
    }));
    const accuracy = {
      type: "scatter",
      mode: "lines",
      name: "accuracy of the measurement",
      x: marked.flatMap((p) => [Math.max(p.low, least), p.high, null]),
      y: marked.flatMap((p) => [p.y, p.y, null]),
      line: { color: css("--faint"), width: printing() ? 5 : 8 },
      opacity: 0.55,
      hoverinfo: "skip",
    };
    const marks = {
      type: "scatter",
      mode: "markers",
      name: "measured rows",
      x: marked.map((p) => p.ratio),
      y: marked.map((p) => p.y),
      text: marked.map(hover),
      hovertemplate: "%{text}<extra></extra>",
      cliponaxis: false,
      marker: {
        symbol: marked.map((p) => p.symbol + (p.counted ? "" : "-open")),
        color: marked.map((p) => css(p.within ? "--accent" : "--warning")),
        size: printing() ? 8 : 11,
        line: { width: marked.map((p) => (p.counted ? 0 : printing() ? 1.2 : 2)) },
      },
    };
    Plotly.react(
      box,
      [accuracy, marks],
      layout({
        xaxis: {
          ...axisTitle("Predicted over measured"),
          type: "log",
          range: [Math.log10(least), Math.log10(most)],
          tickvals: TICKS,
          ticktext: TICKS.map((tick) => `${tick} ×`),
        },
        yaxis: {
          range: [whole + 12, 0],
          tickvals: places.filter((_, k) => rows[k].point || !narrow),
          ticktext: labels,
          showticklabels: !narrow,
          ticks: "",
          tickfont: { size: small },
          zeroline: false,
        },
        shapes: [
          {
            type: "line",
            name: "as measured",
            xref: "x",
            yref: "paper",
            x0: 1,
            x1: 1,
            y0: 0,
            y1: 1,
            line: { color: css("--ink"), width: 1.5 },
          },
        ],
        annotations: [
          {
            ...note,
            text: "as measured",
            xref: "x",
            yref: "paper",
            x: 0,
            y: 1,
            yanchor: "bottom",
          },
          ...(narrow ? above : []),
        ],
        margin: MARGIN,
      }),
      QUIET,
    );
  }
  return { box, draw };
}
