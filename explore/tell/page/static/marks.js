// The marks of a scatter chart after the library has drawn them: shown, dimmed and hidden one by one. A frame with thousands
// of marks costs little only where none of them is a layer of its own to the browser, so they fade by fill and stroke and
// not by opacity, and their place stands in their outline and not in a transform.

const HIDDEN = 1,
  FULL = 2,
  DIMMED = 3;

const SIZES = { M: 2, L: 2, H: 1, V: 1, A: 7, Z: 0 }; // numbers of each command

// An outline as a function of where it stands: its first point, and behind it steps that are the same wherever it stands. Null
// where it has commands that are not known here.
export function movable(outline) {
  const parts = [...outline.matchAll(/([A-Za-z])([^A-Za-z]*)/g)].map(([, command, text]) => ({
    command,
    numbers: (text.match(/-?\d*\.?\d+(?:e-?\d+)?/g) || []).map(Number),
  }));
  if (parts.some(({ command, numbers }) => SIZES[command.toUpperCase()] !== numbers.length)) return null;
  const [first, ...others] = parts;
  if (first?.command !== "M") return null;
  let [x, y] = first.numbers,
    begun = [x, y];
  const steps = others.map(({ command, numbers }) => {
    const kind = command.toUpperCase(),
      still = command !== kind,
      step = [...numbers];
    const [across, up] = kind === "H" ? [0, null] : kind === "V" ? [null, 0] : [step.length - 2, step.length - 1];
    if (kind === "Z") [x, y] = begun;
    else {
      if (across !== null) {
        if (!still) step[across] -= x;
        x += step[across];
      }
      if (up !== null) {
        if (!still) step[up] -= y;
        y += step[up];
      }
    }
    if (kind === "M") begun = [x, y];
    return kind.toLowerCase() + step.map((value) => Number(value.toFixed(3))).join(" ");
  });
  const rest = steps.join(""),
    [left, top] = first.numbers;
  return (across, up) => `M${across + left} ${up + top}${rest}`;
}

// `count` designs, of which `lookOf(i)` says { shown, dimmed }; `full` and `dim` are how much a mark covers.
export function makeMarks(box, count, { size, full, dim }) {
  const looks = new Uint8Array(count),
    outlines = new Map();
  let marks = [],
    still = false;

  // Takes up the marks as the library has drawn them, whatever it may have done to them.
  function gather() {
    looks.fill(0);
    marks = [];
    for (const mark of box.querySelectorAll(".tracefront .points path")) marks[mark.__data__.i] = mark;
    settle();
  }

  function settle() {
    still = true;
    for (const mark of marks) {
      const place = mark?.getAttribute("transform")?.match(/^translate\(([^,]+),([^)]+)\)$/),
        outline = mark?.getAttribute("d");
      if (!place || !outline) continue;
      if (!outlines.has(outline)) outlines.set(outline, movable(outline));
      const at = outlines.get(outline);
      if (!at) continue;
      mark.settled = { transform: place[0], d: outline };
      mark.setAttribute("d", at(Number(place[1]), Number(place[2])));
      mark.removeAttribute("transform");
    }
  }

  // While an axis is stretched by its end the library scales each mark about its own place, and draws all anew at the end.
  function loosen(event) {
    if (!still || !event.target.classList.contains("drag") || event.target.classList.contains("nsewdrag")) return;
    still = false;
    for (const mark of marks)
      for (const [name, value] of Object.entries(mark?.settled || {})) mark.setAttribute(name, value);
  }

  // Touches only what changes. A hidden mark must not be found by the pointer either: a radius that is no number is never
  // the nearest.
  function show(isShown, isDimmed) {
    marks.forEach((mark, i) => {
      const look = !isShown(i) ? HIDDEN : isDimmed(i) ? DIMMED : FULL,
        was = looks[i];
      if (look === was) return;
      looks[i] = look;
      if (!was || (was === HIDDEN) !== (look === HIDDEN)) {
        mark.__data__.mrc = look === HIDDEN ? "hidden" : size / 2;
        mark.style.display = look === HIDDEN ? "none" : "";
      }
      // An open mark has a stroke and no fill, any other a fill and no stroke.
      if (look !== HIDDEN)
        mark.style[mark.style.fill === "none" ? "strokeOpacity" : "fillOpacity"] = look === DIMMED ? dim : full;
    });
  }

  box.addEventListener("pointerdown", loosen, true);
  return { gather, show };
}
