// The front of the page: which builds are pinned, which the filter or the brush leaves out.
const front = JSON.parse(document.getElementById("front-data").textContent);
// Each column lists its values, or the kinds of value and which row has which.
function unpacked({ all, kinds, of }, place) {
  return all ? all[place] : kinds[of ? of[place] : 0];
}
const howMany = front.columns[0].all.length;
front.rows = Array.from({ length: howMany }, (_, place) =>
  front.columns.map((column) => unpacked(column, place)),
);
const placeOf = new Map(front.keys.map((key, place) => [key, place]));
const rowOf = new Map(front.rows.map((row, place) => [row[0], place]));
const fronts = [...document.querySelectorAll("#front-chart svg")];
const brushed = document.getElementById("brushed");
const DRAG = 8;
let pins = [];
let left = new Set();

wordsOf = (design) => {
  const name = front.shown[design] ?? `Build ${design}`;
  const row = front.rows[rowOf.get(design)];
  const told = (key) => cellOf(row, placeOf.get(key));
  const aims = front.aims.map((key) => `${front.heads[placeOf.get(key)].label} ${told(key)}`);
  const searched = ["disc_count", "disc_diameter", "gap", "speed"].filter((key) => placeOf.has(key));
  const words = { disc_count: "discs", gap: "apart" };
  const build = searched.map((key) => `${told(key)}${words[key] ? ` ${words[key]}` : ""}`);
  return `${name}\n${aims.join(", ")}\n${build.join(", ")}`;
};

function cellOf(row, place) {
  const { kind, unit } = front.heads[place];
  const value = row[place];
  if (value === null || kind === "words") {
    return value ?? "–";
  }
  return kind === "share" ? said(100 * value, "%") : said(value, unit);
}

function dotsOf(svg) {
  return [...svg.querySelectorAll("[data-design]")];
}

function inSvg(svg, x, y) {
  const { a, d, e, f } = svg.getScreenCTM();
  return [(x - e) / a, (y - f) / d];
}

function showPinned() {
  for (const svg of fronts) {
    svg.querySelectorAll(".pin").forEach((each) => each.remove());
    for (const dot of dotsOf(svg)) {
      const design = +dot.dataset.design;
      dot.setAttribute("aria-pressed", pins.includes(design));
      dot.classList.toggle("out", left.has(design));
      if (pins.includes(design)) {
        const [x, y] = middle(dot);
        const ring = document.createElementNS(svg.namespaceURI, "rect");
        const box = { x: x - 8, y: y - 8, width: 16, height: 16, class: "pin" };
        Object.entries(box).forEach(([name, value]) => ring.setAttribute(name, value));
        svg.append(ring);
      }
    }
  }
}

// One dot of each chart can be reached with Tab; arrow keys go along the front.
function prepare(svg) {
  const dots = dotsOf(svg);
  const along = dots.toSorted((one, other) => middle(one)[0] - middle(other)[0]);
  const first = dots.find((dot) => front.shown[dot.dataset.design] === "Pick") ?? along[0];
  for (const dot of dots) {
    const design = +dot.dataset.design;
    dot.setAttribute("role", "button");
    dot.setAttribute("tabindex", dot === first ? 0 : -1);
    dot.setAttribute("aria-label", `${wordsOf(design).replaceAll("\n", "; ")}. Pin`);
  }
  svg.addEventListener("keydown", (event) => {
    const dot = event.target.closest("[data-design]");
    const way = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key];
    const ends = { Home: along[0], End: along.at(-1) }[event.key];
    if (dot && (way || ends)) {
      event.preventDefault();
      const next = ends ?? along[along.indexOf(dot) + way] ?? dot;
      dot.setAttribute("tabindex", -1);
      next.setAttribute("tabindex", 0);
      next.focus();
    } else if (dot && (event.key === "Enter" || event.key === " ")) {
      event.preventDefault();
      toggle(+dot.dataset.design);
    }
  });
  svg.addEventListener("focusin", ({ target }) => {
    const box = target.getBoundingClientRect();
    if (target.dataset.design) {
      show(wordsOf(+target.dataset.design), box.right, box.bottom);
    }
  });
  svg.addEventListener("focusout", () => show("", 0, 0));
  watchBrush(svg);
}

// A click pins the nearest dot; a drag across the chart keeps what lies between its ends.
function watchBrush(svg) {
  let start = null;
  let area = null;
  svg.addEventListener("pointerdown", (event) => {
    start = event.button === 0 ? event : null;
  });
  svg.addEventListener("pointermove", (event) => {
    if (start && event.pointerType !== "touch" && Math.abs(event.clientX - start.clientX) > DRAG) {
      area ??= svg.appendChild(document.createElementNS(svg.namespaceURI, "rect"));
      const [[from], [to]] = [start, event].map((each) => inSvg(svg, each.clientX, each.clientY));
      const box = { x: Math.min(from, to), y: 30, width: Math.abs(to - from), height: 380 };
      Object.entries(box).forEach(([name, value]) => area.setAttribute(name, value));
      area.setAttribute("class", "brush");
      svg.setPointerCapture(event.pointerId);
      show("", 0, 0);
    }
  });
  svg.addEventListener("pointerup", (event) => {
    if (area) {
      const scale = scaleOf(svg.dataset.x);
      const ends = [start, event].map((each) => scale.at(inSvg(svg, each.clientX, 0)[0]));
      area.remove();
      brush(svg.dataset.across, Math.min(...ends), Math.max(...ends));
    } else if (start) {
      const found = nearest(svg, event.clientX, event.clientY);
      found ? toggle(+found.mark.dataset.design) : brush();
    }
    start = area = null;
  });
  svg.addEventListener("pointercancel", () => {
    area?.remove();
    start = area = null;
  });
}
