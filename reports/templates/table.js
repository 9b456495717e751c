const table = document.getElementById("front-table");
const body = table.tBodies[0];
const heads = [...table.tHead.rows[0].cells];
const entries = [...body.rows].map((row, place) => ({ row, values: front.rows[place] }));
const filters = document.getElementById("filters");

function compare(a, b) {
  if (a === null || b === null) {
    return (a === null) - (b === null);
  }
  return typeof a === "string" ? a.localeCompare(b) : a - b;
}

function sortBy(place) {
  const head = heads[place];
  // The first click puts the largest numbers first, and words from A.
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

function conditions() {
  const found = [];
  for (const input of filters.querySelectorAll("input")) {
    const place = +input.closest("fieldset").dataset.column;
    const bound = input.valueAsNumber;
    const words = input.value.trim().toLowerCase();
    if (input.dataset.end === "words") {
      found.push((values) => values[place].toLowerCase().includes(words));
    } else if (Number.isFinite(bound)) {
      const from = input.dataset.end === "from";
      found.push((values) => {
        const value = values[place];
        return value !== null && (from ? value >= bound : value <= bound);
      });
    }
  }
  return found;
}

function filter() {
  const every = conditions();
  left = new Set();
  for (const { row, values } of entries) {
    row.hidden = !every.every((holds) => holds(values));
    if (row.hidden) {
      left.add(values[0]);
    }
  }
  const kept = entries.length - left.size;
  document.getElementById("shown").textContent = left.size
    ? `${kept} of ${entries.length} designs pass the filter; the others are faint in the chart.`
    : "";
  draw([boxes[0]]);
}

function clearFilter() {
  for (const input of filters.querySelectorAll("input")) {
    input.value = "";
  }
  filter();
}

function field(value) {
  if (value === null) {
    return "";
  }
  if (typeof value === "number") {
    return String(value);
  }
  // A spreadsheet must not read a text as a formula.
  const safe = /^[=+\-@\t\r]/.test(value) ? `'${value}` : value;
  return `"${safe.replaceAll('"', '""')}"`;
}

function download() {
  const kept = entries.filter((entry) => !entry.row.hidden);
  const lines = [front.names, ...kept.map((entry) => entry.values)];
  const text = lines.map((line) => line.map(field).join(",")).join("\r\n");
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text, "\r\n"], { type: "text/csv" }));
  link.download = "front.csv";
  link.click();
  URL.revokeObjectURL(link.href);
}

heads.forEach((head, place) => {
  head.firstElementChild.addEventListener("click", () => sortBy(place));
});
const button = document.getElementById("download");
button.hidden = false;
button.addEventListener("click", download);
filters.hidden = false;
filters.addEventListener("input", filter);
document.getElementById("clear").addEventListener("click", clearFilter);
