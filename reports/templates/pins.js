const pinTable = document.getElementById("pin-table");
const pinStatus = document.getElementById("pin-status");
const howToPin = pinStatus.textContent;
const unpin = document.getElementById("unpin");

function element(tag, words, attributes = {}) {
  const made = document.createElement(tag);
  made.textContent = words;
  for (const [name, value] of Object.entries(attributes)) {
    made.setAttribute(name, value);
  }
  return made;
}

function pinnedCell(key, design) {
  const place = rowOf.get(design);
  const cell = document.createElement("td");
  if (front.losses[key]) {
    const [watts, share, part] = front.losses[key][place];
    cell.append(watts, element("small", share));
    cell.className = "bar";
    cell.style.setProperty("--share", Math.max(0, part));
  } else {
    const entry = entries.find(({ values }) => values[0] === design);
    cell.textContent = entry.row.cells[placeOf.get(key)].textContent;
  }
  return cell;
}

function pinnedHead(design) {
  const head = element("th", `Design ${design}`, { scope: "col" });
  const letter = document.querySelector(`#design-${design} .balloon`);
  if (letter) {
    head.prepend(letter.cloneNode(true), " ");
  }
  const remove = element("button", "Unpin", { type: "button", "aria-label": `Unpin ${design}` });
  remove.addEventListener("click", () => {
    toggle(design);
    unpin.hidden ? document.getElementById("pin-region").focus() : unpin.focus();
  });
  head.append(remove);
  return head;
}

function fillPinTable() {
  for (const row of pinTable.rows) {
    const filled = row.dataset.key
      ? pins.map((design) => pinnedCell(row.dataset.key, design))
      : row.parentElement === pinTable.tHead
        ? pins.map(pinnedHead)
        : [];
    while (row.cells.length > 1) {
      row.cells[1].remove();
    }
    row.append(...filled);
    if (row.className === "group") {
      row.cells[0].colSpan = pins.length + 1;
    }
  }
}

function setPins(designs) {
  pins = [...new Set(designs)].filter((design) => rowOf.has(design));
  for (const { row, values } of entries) {
    const pinned = pins.includes(values[0]);
    row.classList.toggle("found", pinned);
    row.querySelector("input").checked = pinned;
  }
  fillPinTable();
  document.getElementById("pin-region").hidden = unpin.hidden = !pins.length;
  document.getElementById("pins").classList.toggle("idle", !pins.length);
  pinStatus.textContent = pins.length ? `Pinned: ${pins.join(", ")}.` : howToPin;
}

function pin(designs) {
  setPins(designs);
  draw(boxes.filter(({ dataset: { chart } }) => /^(front|parallel|variable-.*)$/.test(chart)));
}

function pinAndKeep(designs) {
  pin(designs);
  const address = location.pathname + location.search;
  history.replaceState(null, "", pins.length ? `#pins=${pins.join(",")}` : address);
}

function toggle(design) {
  const without = pins.filter((each) => each !== design);
  pinAndKeep(without.length < pins.length ? without : [...pins, design]);
}

function pinsOfAddress() {
  const [, given] = /^#pins=([\d,]+)$/.exec(location.hash) ?? [];
  return (given ?? "").split(",").filter(Boolean).map(Number);
}

for (const { row, values } of entries) {
  const name = `Pin design ${values[0]}`;
  const box = element("input", "", { type: "checkbox", "aria-label": name, title: name });
  box.addEventListener("change", () => toggle(values[0]));
  row.cells[0].prepend(box);
}
unpin.addEventListener("click", () => pinAndKeep([]));
addEventListener("hashchange", () => pin(pinsOfAddress()));
// The address keeps the pins, so a link to a section must not replace it.
document.querySelector(".contents").addEventListener("click", (event) => {
  const to = document.getElementById(event.target.hash?.slice(1) ?? "");
  if (to) {
    event.preventDefault();
    to.tabIndex = -1;
    to.focus({ preventScroll: true });
    to.scrollIntoView();
  }
});

setPins(pinsOfAddress());
draw();
document.querySelector("[data-chart=front]").on("plotly_click", (event) => {
  const [design] = event.points[0].customdata ?? [];
  if (design) {
    toggle(+design);
  }
});
watchMap();
followScreen(draw);
addEventListener("beforeprint", () => drawForPaper(true));
addEventListener("afterprint", () => drawForPaper(false));
let resizing = 0;
addEventListener("resize", () => {
  clearTimeout(resizing);
  resizing = setTimeout(draw, 150, boxes);
});
performance.mark("interactive");
