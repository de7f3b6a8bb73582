// The fronts of several runs over one another.

function drawFronts(data, id, x) {
  const y = "work_per_litre_kJ", title = (name) => `${data.axes[name].label}, ${data.axes[name].unit}`;
  const traces = data.runs.map((run, k) => ({
    type: "scatter", mode: "markers", name: `${run.letter}: ${plain(run.name)}`, x: run[x], y: run[y], marker: { size: 8, color: palette()[k], symbol: run.symbol, opacity: 0.8 },
    hoverinfo: "text", hovertext: run.fluid.map((fluid, i) => `<b>${run.letter}</b> ${plain(fluid)}, design ${i + 1}<br>${writeNumber(run[y][i] ?? NaN)} ${data.axes[y].unit}, ${writeNumber(run[x][i] ?? NaN)} ${data.axes[x].unit}`),
  }));
  Plotly.react(document.getElementById(id), traces, layout({ hovermode: "closest", xaxis: { title: { text: title(x) } }, yaxis: { title: { text: title(y) }, rangemode: "tozero" } }), TOOLS);
}

async function start() {
  const data = JSON.parse(await inflate("run-data"));
  const draw = () => {
    document.querySelectorAll(".mark[data-colour]").forEach((mark) => drawMark(mark, Number(mark.dataset.colour), mark.dataset.symbol));
    if (!window.Plotly) return;
    drawFronts(data, "against-cost", "cost_EUR");
    drawFronts(data, "against-pressure", "peak_pressure_bar_g");
  };
  draw();
  await loadCharts();
  draw();
  darkWanted.addEventListener("change", draw);
  document.documentElement.dataset.ready = "charts";
}

start();
