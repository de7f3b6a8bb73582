// Charts saved as pictures, SVG and PNG, each with its caption, the scenario and what the reader set.

import { askedFor, given } from "./sentences.js";
import { css, html, plain } from "./theme.js";

const LINE_PX = 17,
  LETTER_PX = 6.2, // of the small letters under the caption
  SCALE = 2; // pixels of a PNG for each of the screen, so that it prints sharp

const NOT_SAVED = ["parallel", "space"]; // drawn by WebGL, which a picture without a graphics processor loses

// `pictured(box)` is what a picture of a chart holds where that is not what the chart itself has been given, else null.
export function makePictures(run, fluids, state, pictured) {
  const captionOf = (box) => {
    const axes = box.layout?.xaxis?.title?.text && box.id.startsWith("scatter");
    if (axes) return `${box.layout.yaxis.title.text} over ${box.layout.xaxis.title.text}`;
    const figure = box.closest("figure"),
      caption = figure?.querySelector("figcaption");
    return caption ? caption.textContent.trim() : box.getAttribute("aria-label").split(";")[0];
  };

  function below(box) {
    const asked = askedFor(run, state, fluids),
      design = box.closest("#sheet") ? `${document.querySelector(".sheet-name").textContent.trim()} · ` : "";
    return `${design}${run.title}${asked ? ` · ${given(asked)}` : ""}`.replace(/\s+/g, " ");
  }

  async function save(box, format) {
    const width = box.clientWidth,
      lines = wrapped(below(box), width / LETTER_PX),
      head = 42 + LINE_PX * lines.length,
      height = box.clientHeight + head,
      { margin = {}, ...rest } = box.layout;
    const layout = {
      ...rest,
      width,
      height,
      autosize: false,
      margin: { ...margin, t: (margin.t ?? 14) + head },
      paper_bgcolor: css("--paper"),
      title: {
        text: [`<b>${plain(captionOf(box))}</b>`, ...lines.map((line) => `<sup>${plain(line)}</sup>`)].join("<br>"),
        font: { size: 15, color: css("--ink"), family: css("--sans") },
        x: 0.01,
        xanchor: "left",
        y: 1,
        yanchor: "top",
        pad: { t: 20 },
      },
    };
    await Plotly.downloadImage(
      { data: pictured(box) ?? box.data, layout },
      { format, width, height, scale: format === "png" ? SCALE : 1, filename: `${run.scenario}-${box.id}` },
    );
  }

  function wrapped(text, most) {
    const lines = [""];
    for (const word of text.split(" ")) {
      if (lines.at(-1).length + word.length > most) lines.push("");
      lines.push(`${lines.pop()} ${word}`.trim());
    }
    return lines;
  }

  function offer() {
    for (const box of document.querySelectorAll(".chart[id]")) {
      if (NOT_SAVED.includes(box.id)) continue;
      const buttons = ["SVG", "PNG"].map((format) => {
        const button = html(
          "button",
          { type: "button", "aria-label": `Save “${captionOf(box)}” as ${format}` },
          format,
        );
        button.addEventListener("click", () => box.data && save(box, format.toLowerCase()));
        return button;
      });
      box.after(html("p", { class: "save" }, "Save as ", ...buttons));
    }
  }

  return { offer };
}
