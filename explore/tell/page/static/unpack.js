// What was packed by embed.py: base64 and gzip undone without a request, CSV read cell by cell.

export async function inflate(id) {
  const packed = atob(document.getElementById(id).textContent.trim());
  const bytes = new Uint8Array(packed.length);
  for (let i = 0; i < packed.length; i++) bytes[i] = packed.charCodeAt(i); // from() takes ten times as long for a megabyte
  const stream = new Blob([bytes]).stream().pipeThrough(new DecompressionStream("gzip"));
  return new Response(stream).text();
}

// The script is allowed by its hash in the Content-Security-Policy; it runs when it is put in.
export async function loadCharts() {
  const element = document.createElement("script");
  element.textContent = await inflate("chart-library");
  document.body.append(element);
  if (!window.Plotly) throw new Error("the charting library did not start");
}

// Cells as text, and each line as written, for copies that equal the file.
export function parseCsv(text) {
  const rows = [],
    lines = [];
  let cells = [],
    cell = "",
    quoted = false,
    start = 0;
  for (let i = 0; i < text.length; i++) {
    const letter = text[i];
    if (quoted) {
      if (letter !== '"') cell += letter;
      else if (text[i + 1] === '"') {
        cell += '"';
        i++;
      } else quoted = false;
    } else if (letter === '"') quoted = true;
    else if (letter === ",") {
      cells.push(cell);
      cell = "";
    } else if (letter === "\n") {
      cells.push(cell);
      rows.push(cells);
      lines.push(text.slice(start, i));
      cells = [];
      cell = "";
      start = i + 1;
    } else cell += letter;
  }
  return { header: rows[0] || [], rows: rows.slice(1), headerLine: lines[0] || "", lines: lines.slice(1) };
}
