// The table of all builds: drawn when its fold opens; sorted, filtered, downloaded.
const table = document.getElementById("front-table");
const filters = document.getElementById("filters");
const entries = front.rows.map((values) => ({ values, row: null, hidden: false }));
let span = null;

function element(tag, words, attributes = {}) {
  const made = document.createElement(tag);
  made.textContent = words;
  for (const [name, value] of Object.entries(attributes)) {
    made.setAttribute(name, value);
  }
  return made;
}

function drawTable() {
  if (!table.hidden) {
    return;
  }
  table.hidden = false;
  const head = table.tHead.rows[0];
  front.heads.forEach(({ label, unit, kind, meaning }, place) => {
    const cell = element("th", "", { scope: "col", "aria-sort": "none", title: meaning });
    const button = element("button", label, { type: "button" });
    if (unit) {
      button.append(" ", element("span", unit, { class: "unit" }));
    }
    button.addEventListener("click", () => sortBy(place));
    cell.append(button);
    cell.classList.toggle("words", kind === "words");
    head.append(cell);
  });
  for (const entry of entries) {
    const [design, ...others] = entry.values;
    const row = element("tr", "", { id: `design-${design}` });
    const name = front.shown[design] ? `${design} ${front.shown[design]}` : design;
    const first = element("th", name, { scope: "row" });
    const box = element("input", "", { type: "checkbox", "aria-label": `Pin build ${design}` });
    box.addEventListener("change", () => toggle(design));
    first.prepend(box);
    row.append(first);
    others.forEach((value, place) => {
      const { kind } = front.heads[place + 1];
      const words = kind === "number" && value !== null ? written(value) : cellOf(entry.values, place + 1);
      row.append(element("td", words, kind === "words" ? { class: "words" } : {}));
    });
    entry.row = row;
  }
  table.tBodies[0].append(...entries.map(({ row }) => row));
  markRows();
}

function markRows() {
  for (const { row, values, hidden } of entries) {
    if (row) {
      row.hidden = hidden;
      row.classList.toggle("found", pins.includes(values[0]));
      row.classList.toggle("kept", pins.includes(values[0]) || values[0] in front.shown);
      row.querySelector("input").checked = pins.includes(values[0]);
    }
  }
}

function compare(one, other) {
  if (one === null || other === null) {
    return (one === null) - (other === null);
  }
  return typeof one === "string" ? one.localeCompare(other) : one - other;
}

function sortBy(place) {
  const cells = [...table.tHead.rows[0].cells];
  const { label, kind } = front.heads[place];
  // The first press puts the largest numbers first, and words from A.
  const words = kind === "words";
  const now = cells[place].getAttribute("aria-sort");
  const up = now === "none" ? words : now === "descending";
  cells.forEach((cell) => cell.setAttribute("aria-sort", "none"));
  cells[place].setAttribute("aria-sort", up ? "ascending" : "descending");
  entries.sort((one, other) => (up ? 1 : -1) * compare(one.values[place], other.values[place]));
  table.tBodies[0].append(...entries.map(({ row }) => row));
  const order = words ? (up ? "from A" : "from Z") : up ? "smallest first" : "largest first";
  document.getElementById("sorted").textContent = `Sorted by ${label}, ${order}.`;
}

function conditions() {
  const found = [];
  for (const input of filters.querySelectorAll("input")) {
    const place = +input.closest("fieldset").dataset.column;
    const bound = input.valueAsNumber / (front.heads[place].kind === "share" ? 100 : 1);
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
  if (span) {
    found.push((values) => values[span.place] >= span.from && values[span.place] <= span.to);
  }
  return found;
}

function filter() {
  const every = conditions();
  left = new Set();
  for (const entry of entries) {
    entry.hidden = !every.every((holds) => holds(entry.values));
    if (entry.hidden) {
      left.add(entry.values[0]);
    }
  }
  markRows();
  showPinned();
  const kept = entries.length - left.size;
  const words = `${kept} of ${entries.length} builds pass the filter; the others are faint.`;
  document.getElementById("shown").textContent = left.size ? words : "";
  const whole = element("button", "Show all", { type: "button" });
  whole.addEventListener("click", () => brush());
  brushed.replaceChildren(...(span ? [`${kept} of ${entries.length} builds. `, whole] : []));
  // What compares the builds shown dims those that are left out.
  for (const each of document.querySelectorAll("[data-of]")) {
    each.classList.toggle("out", left.has(+each.dataset.of));
  }
}

// Keep the builds between two values of the quantity across the chart; without them, all.
function brush(key, from, to) {
  span = key ? { place: placeOf.get(key), from, to } : null;
  filter();
}

function drawFilters() {
  const fields = document.getElementById("filter-fields");
  front.heads.forEach(({ label, unit, kind }, place) => {
    if (place) {
      const set = element("fieldset", "", { "data-column": place });
      const measured = kind === "share" ? "%" : unit;
      set.append(element("legend", measured ? `${label}, ${measured}` : label));
      const ends = kind === "words" ? [["words", "contains "]] : [["from", "from "], ["to", "to "]];
      for (const [end, words] of ends) {
        const type = kind === "words" ? { type: "text" } : { type: "number", step: "any" };
        const named = element("label", words);
        named.append(element("input", "", { ...type, "data-end": end }));
        set.append(named);
      }
      fields.append(set);
    }
  });
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
  const kept = entries.filter(({ hidden }) => !hidden);
  const lines = [front.names, ...kept.map(({ values }) => values)];
  const text = lines.map((line) => line.map(field).join(",")).join("\r\n");
  const link = document.createElement("a");
  link.href = URL.createObjectURL(new Blob([text, "\r\n"], { type: "text/csv" }));
  link.download = "front.csv";
  link.click();
  URL.revokeObjectURL(link.href);
}

document.getElementById("download").hidden = false;
document.getElementById("download").addEventListener("click", download);
filters.hidden = false;
filters.addEventListener("toggle", () => {
  if (!document.getElementById("filter-fields").childElementCount) {
    drawFilters();
  }
});
filters.addEventListener("input", filter);
document.getElementById("clear").addEventListener("click", () => {
  for (const input of filters.querySelectorAll("input")) {
    input.value = "";
  }
  filter();
});
document.getElementById("all").addEventListener("toggle", drawTable);
