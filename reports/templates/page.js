"use strict";

const { figures, dark } = JSON.parse(document.getElementById("chart-data").textContent);
const front = JSON.parse(document.getElementById("front-data").textContent);
const darkColours = new Map(Object.entries(dark));
const prefersDark = matchMedia("(prefers-color-scheme: dark)");
const touched = matchMedia("(pointer: coarse)").matches;
const root = document.documentElement;

const CONFIG = {
  displaylogo: false,
  modeBarButtons: [["toImage", "zoom2d", "pan2d", "resetScale2d"]],
  toImageButtonOptions: { filename: "front", scale: 2 },
};

function coloured(figure) {
  const swap = prefersDark.matches && !root.classList.contains("printing");
  const copy = JSON.stringify(figure);
  return JSON.parse(copy, (_, value) => (swap && darkColours.get(value)) || value);
}

function draw() {
  for (const box of document.querySelectorAll("[data-chart]")) {
    const figure = coloured(figures[box.dataset.chart]);
    // A finger that scrolls the page must not zoom a chart instead.
    const main = box.dataset.chart === "front" && !touched && box.clientWidth > 560;
    figure.layout.dragmode = main ? "zoom" : false;
    if (box.clientWidth < 480) {
      for (const note of figure.layout.annotations ?? []) {
        note.text = note.text.replace(/(<b>.<\/b>) .*<br>/, "$1 ");
      }
    }
    figure.layout.width = box.clientWidth;
    figure.layout.height = box.clientHeight;
    Plotly.react(box, figure.data, figure.layout, { ...CONFIG, displayModeBar: main && "hover" });
  }
}

function drawForPaper(printing) {
  root.classList.toggle("printing", printing);
  document.querySelector("footer details").open = printing;
  draw();
}

const table = document.getElementById("front-table");
const body = table.tBodies[0];
const heads = [...table.tHead.rows[0].cells];
const entries = [...body.rows].map((row, place) => ({ row, values: front.rows[place] }));

function compare(a, b) {
  if (a === null || b === null) {
    return (a === null) - (b === null);
  }
  return typeof a === "string" ? a.localeCompare(b) : a - b;
}

function sortBy(place) {
  const head = heads[place];
  // The first click shows what a reader looks for: the largest numbers, the words from A.
  const words = typeof front.rows[0][place] === "string";
  const now = head.getAttribute("aria-sort");
  const up = now === "none" ? words : now === "descending";
  for (const other of heads) {
    other.setAttribute("aria-sort", "none");
  }
  head.setAttribute("aria-sort", up ? "ascending" : "descending");
  entries.sort((a, b) => (up ? 1 : -1) * compare(a.values[place], b.values[place]));
  body.append(...entries.map((entry) => entry.row));
  const order = words ? (up ? "from A" : "from Z") : up ? "smallest first" : "largest first";
  document.getElementById("sorted").textContent = `Sorted by ${head.innerText.trim()}, ${order}.`;
}

function field(value) {
  if (value === null) {
    return "";
  }
  if (typeof value === "number") {
    return String(value);
  }
  // A spreadsheet must not take a word for a formula.
  const safe = /^[=+\-@\t\r]/.test(value) ? `'${value}` : value;
  return `"${safe.replaceAll('"', '""')}"`;
}

function download() {
  const lines = [front.names, ...entries.map((entry) => entry.values)];
  const text = lines.map((line) => line.map(field).join(",")).join("\r\n");
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text, "\r\n"], { type: "text/csv" }));
  link.download = "front.csv";
  link.click();
  URL.revokeObjectURL(link.href);
}

function find(design) {
  for (const row of body.rows) {
    row.classList.toggle("found", row.id === `design-${design}`);
  }
  document.getElementById(`design-${design}`).scrollIntoView({ block: "center" });
}

heads.forEach((head, place) => {
  head.firstElementChild.addEventListener("click", () => sortBy(place));
});
const button = document.getElementById("download");
button.hidden = false;
button.addEventListener("click", download);

draw();
document.querySelector("[data-chart=front]").on("plotly_click", (event) => {
  find(event.points[0].customdata[0]);
});
prefersDark.addEventListener("change", draw);
addEventListener("beforeprint", () => drawForPaper(true));
addEventListener("afterprint", () => drawForPaper(false));
let waiting = 0;
addEventListener("resize", () => {
  clearTimeout(waiting);
  waiting = setTimeout(draw, 150);
});
