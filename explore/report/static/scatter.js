// The two linked scatter charts. While a limit moves, marks are only hidden and shown, which takes a few
// milliseconds; when it rests, the charts are drawn anew with what is left, axes included.

function makeScatter(run, designs, fluids, state) {
  const boxes = ["scatter-1", "scatter-2"].map((id) => document.getElementById(id));
  const [axisY, ...axesX] = ["axis-y", "axis-x1", "axis-x2"].map((id) => document.getElementById(id));
  const everything = Array.from({ length: designs.count }, (_, i) => i);
  let drawn = [], resting = 0;
  const own = run.own ? parseCsv(run.own) : { header: [], rows: [] };
  const texts = Array.from({ length: designs.count }, (_, i) => hoverText(i));
  const small = matchMedia("(max-width: 720px)");

  function hoverText(i) {
    const names = ["work_per_litre_kJ", "cost_EUR", "peak_pressure_bar_g", "served_share", "top_temperature_degC",
      "evaporating_temperature_degC", "condensing_temperature_degC", "stages", "pressure_levels", "store_volume_L",
      "collector_area_m2"].filter((name) => designs.cell(i, name) !== "");
    const lines = names.map((name) => `${plain(run.columns[name].label)}: ${plain(writeCell(designs.cell(i, name), run.columns[name]))}`);
    return [`<b>${plain(designs.fluids[i])}</b>, ${plain(designs.cell(i, "store_mode"))} store, design ${i + 1}`, ...lines].join("<br>");
  }

  function trace(x, y, shown) {
    const xs = designs.numbers(x), ys = designs.numbers(y);
    return {
      type: "scatter", mode: "markers", uid: "front", x: shown.map((i) => xs[i]), y: shown.map((i) => ys[i]), customdata: shown,
      hovertext: shown.map((i) => texts[i]), hoverinfo: "text",
      marker: {
        size: 9, color: shown.map((i) => fluids.colour(designs.fluids[i])), symbol: shown.map((i) => fluids.symbol(designs.fluids[i])),
        opacity: 0.85, line: { width: 0 },
      },
      selectedpoints: state.selected ? shown.flatMap((i, k) => (state.selected.has(i) ? [k] : [])) : null,
      selected: { marker: { opacity: 1 } }, unselected: { marker: { opacity: 0.12 } },
    };
  }

  function background(x, y) {
    const shown = state.others ? state.visibleOthers : [], xs = designs.numbers(x), ys = designs.numbers(y);
    return { type: hasWebgl && shown.length ? "scattergl" : "scatter", mode: "markers", x: shown.map((i) => xs[i]), y: shown.map((i) => ys[i]), hoverinfo: "skip",
      marker: { size: 4, color: css("--faint"), opacity: 0.6 } };
  }

  // The recommended designs and the one whose sheet is open, on top of all other marks.
  function rings(x, y) {
    const found = picksAmong(run, designs, state.visible).map(({ design }) => design), xs = designs.numbers(x), ys = designs.numbers(y);
    if (state.design !== null && state.visible.includes(state.design)) found.push(state.design);
    return { type: "scatter", mode: "markers", x: found.map((i) => xs[i]), y: found.map((i) => ys[i]), hoverinfo: "skip", cliponaxis: false,
      marker: { size: 17, symbol: "circle-open", color: css("--ink"), line: { width: 1.8 } } };
  }

  // Their names, written towards the middle of the chart on a plate of their own; one design of two roles is named once.
  function names(x, y) {
    const xs = designs.numbers(x), ys = designs.numbers(y), roles = new Map();
    for (const { title, design } of picksAmong(run, designs, state.visible)) roles.set(design, [...(roles.get(design) || []), title]);
    const listed = [...roles].filter(([i]) => Number.isFinite(xs[i]) && Number.isFinite(ys[i]));
    const [low, high] = ends(drawn.map((i) => xs[i])), [bottom, top] = ends(drawn.map((i) => ys[i]));
    const levels = [...listed].sort(([a], [b]) => ys[b] - ys[a]);
    return levels.map(([i, titles]) => {
      const across = (xs[i] - low) / (high - low || 1), up = (ys[i] - bottom) / (top - bottom || 1);
      return { x: xs[i], y: ys[i], text: titles.map(plain).join(",<br>"), showarrow: true, arrowhead: 0, arrowwidth: 1, arrowcolor: css("--ink"), standoff: 9,
        ax: across > 0.5 ? -34 : 34, ay: up > 0.9 ? 16 : up < 0.1 ? -22 : 26, xanchor: across > 0.5 ? "right" : "left", captureevents: false,
        font: { size: small.matches ? 11 : 12, color: css("--ink") }, bgcolor: css("--plate"), borderpad: 2 };
    });
  }

  const ends = (values) => values.filter(Number.isFinite).reduce(([low, high], value) => [Math.min(low, value), Math.max(high, value)], [Infinity, -Infinity]);

  function ownMarks(x, y) {
    const value = (row, name) => {
      const k = own.header.indexOf(name), factor = run.columns[name] && run.columns[name].share ? 100 : 1;
      return k < 0 || row[k] === "" ? NaN : Number(row[k]) * factor;
    };
    const names = own.rows.map((row) => row[own.header.indexOf("name")] || "own design");
    return { type: "scatter", mode: "markers+text", x: own.rows.map((row) => value(row, x)), y: own.rows.map((row) => value(row, y)),
      text: names.map(plain), hovertext: names.map((name) => `Your own: ${plain(name)}`), hoverinfo: "text", textposition: "bottom center",
      marker: { size: 15, symbol: "star-diamond", color: css("--accent"), line: { width: 1.5, color: css("--ink") } } };
  }

  function draw(shown = state.visible) {
    clearTimeout(resting);
    drawn = shown;
    boxes.forEach((box, k) => {
      const x = axesX[k].value, y = axisY.value;
      const traces = [background(x, y), trace(x, y, shown), ownMarks(x, y), rings(x, y)];
      Plotly.react(box, traces, layout({
        xaxis: { title: { text: titleOf(run, x) } }, yaxis: { title: { text: titleOf(run, y) } }, hovermode: "closest",
        annotations: names(x, y), dragmode: small.matches ? false : "select", uirevision: `${x} ${y}`,
      }), TOOLS);
    });
  }

  function follow() {
    const has = new Uint8Array(designs.count), visible = new Uint8Array(designs.count);
    drawn.forEach((i) => { has[i] = 1; });
    state.visible.forEach((i) => { visible[i] = 1; });
    if (!state.visible.every((i) => has[i])) draw(everything);
    for (const box of boxes) for (const mark of box.querySelectorAll(".tracefront .points path")) {
      const display = visible[drawn[mark.__data__.i]] ? "" : "none";
      if (mark.style.display !== display) mark.style.display = display;
    }
    clearTimeout(resting);
    resting = setTimeout(() => draw(), 300);
  }

  function listen() {
    boxes.forEach((box) => {
      box.on("plotly_click", (event) => {
        const point = event.points.find((p) => p.curveNumber === 1);
        if (point) location.hash = `design-${point.customdata + 1}`;
      });
      box.on("plotly_selected", (event) => {
        if (event && event.points) state.select(event.points.filter((p) => p.curveNumber === 1).map((p) => p.customdata), "scatter");
      });
      box.on("plotly_deselect", () => state.select(null, "scatter"));
    });
  }

  function fillAxes() {
    const preferred = [run.objectives[0].figure, ...run.objectives.slice(1).map((o) => o.figure)];
    for (const select of [axisY, ...axesX]) {
      const groups = [["Objectives", preferred], ["The choice", run.inputs], ["Results", designs.header.filter((n) => !run.inputs.includes(n) && !n.startsWith("violation_"))],
        ["Margins to the limits", designs.header.filter((n) => n.startsWith("violation_"))]];
      for (const [title, names] of groups) {
        const listed = names.filter((name) => designs.numericNames.includes(name));
        if (listed.length) select.append(html("optgroup", { label: title }, ...listed.map((name) => html("option", { value: name }, titleOf(run, name)))));
      }
      select.addEventListener("change", () => draw());
    }
    axisY.value = preferred[0];
    axesX[0].value = preferred[1];
    axesX[1].value = preferred[2] || "peak_pressure_bar_g";
  }

  fillAxes();
  document.getElementById("show-others").addEventListener("change", (event) => {
    state.others = event.target.checked;
    draw();
  });
  return { draw, follow, listen };
}
