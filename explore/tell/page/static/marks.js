// The marks of a scatter chart, painted on a canvas that lies over the lines of the chart and under its names. As elements
// of the page thousands of marks cost a tenth of a second whenever limits hide some, and half a second whenever an axis
// or a price moves them; painted they cost a few milliseconds, whatever has changed.

import { MARKS } from "./theme.js";

const GRID = 16, // of the outlines in theme.js
  CIRCLE = 11, // what a circle takes of it
  SPARE_PX = 2, // around a mark, for its smoothed edge
  MOST_KEPT = 200; // pictures of marks; a reader who changes colours leaves old ones behind

// `size` is the diameter of a circle [px]; an outline in `edge` is drawn around the mark where there is one.
function picture({ colour, symbol, size, edge }, ratio) {
  const wide = Math.ceil((size * GRID) / CIRCLE + SPARE_PX) * ratio,
    canvas = document.createElement("canvas");
  canvas.width = canvas.height = Math.ceil(wide);
  const pen = canvas.getContext("2d"),
    scale = (size / CIRCLE) * ratio,
    open = symbol.endsWith("-open");
  const outline = new Path2D(MARKS[symbol.replace("-open", "")] || MARKS.circle);
  pen.translate(canvas.width / 2, canvas.height / 2);
  pen.scale(scale, scale);
  pen.translate(-GRID / 2, -GRID / 2);
  pen.fillStyle = pen.strokeStyle = colour;
  pen.lineWidth = 2;
  if (open) pen.stroke(outline);
  else pen.fill(outline);
  if (edge) {
    pen.strokeStyle = edge;
    pen.lineWidth = 1.1;
    pen.stroke(outline);
  }
  return canvas;
}

// Paints layers, the last one on top: { rows, x, y, styles, kinds, alpha }, where `x` and `y` are the figures by row, `kinds`
// says by row which of `styles` it has, and `alpha` is how much a mark covers.
export function makeMarks(box) {
  const pictures = new Map(),
    canvas = document.createElement("canvas");
  canvas.className = "marks";
  canvas.setAttribute("aria-hidden", "true");

  function pictured(style, ratio) {
    const key = [style.colour, style.symbol, style.size, style.edge, ratio].join(" ");
    if (!pictures.has(key)) {
      if (pictures.size > MOST_KEPT) pictures.clear();
      pictures.set(key, picture(style, ratio));
    }
    return pictures.get(key);
  }

  function paint(layers) {
    const { width, height, xaxis, yaxis } = box._fullLayout,
      ratio = window.devicePixelRatio || 1;
    const home = box.querySelector(".gl-container");
    if (canvas.parentElement !== home) home.append(canvas);
    const [wide, high] = [Math.round(width * ratio), Math.round(height * ratio)];
    if (canvas.width !== wide || canvas.height !== high) {
      Object.assign(canvas, { width: wide, height: high });
      canvas.style.width = `${width}px`;
      canvas.style.height = `${height}px`;
    }
    const pen = canvas.getContext("2d");
    pen.clearRect(0, 0, wide, high);
    pen.save();
    pen.beginPath();
    pen.rect(xaxis._offset * ratio, yaxis._offset * ratio, xaxis._length * ratio, yaxis._length * ratio);
    pen.clip();
    for (const { rows, x, y, styles, kinds, alpha } of layers) {
      const stamps = styles.map((style) => pictured(style, ratio));
      pen.globalAlpha = alpha;
      for (const i of rows) {
        const across = (xaxis._offset + xaxis.c2p(x[i])) * ratio,
          down = (yaxis._offset + yaxis.c2p(y[i])) * ratio;
        if (!(across > -wide && across < 2 * wide && down > -high && down < 2 * high)) continue;
        const stamp = stamps[kinds[i]];
        // At whole pixels, so that a mark is as sharp as its picture and none is resampled.
        pen.drawImage(stamp, Math.round(across - stamp.width / 2), Math.round(down - stamp.height / 2));
      }
    }
    pen.restore();
  }

  return { paint };
}
