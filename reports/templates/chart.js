"use strict";
// Says what the pointer is at: a mark, a bar or the nearest place on a curve of an SVG chart.
const NEAR = 26;
const balloon = document.createElement("div");
balloon.className = "pointed";
balloon.hidden = true;
document.body.append(balloon);
// What a page says of a design that a mark stands for.
let wordsOf = () => "";
const known = new WeakMap();

function scaleOf(text) {
  const [low, high, start, end, ...unit] = text.split(" ");
  const size = (high - low) / (end - start);
  return { at: (place) => +low + (place - start) * size, unit: unit.join(" ") };
}

function written(value) {
  const digits = value ? Math.max(0, 2 - Math.floor(Math.log10(Math.abs(value)))) : 0;
  const text = value.toLocaleString("en", { maximumFractionDigits: Math.min(digits, 6) });
  return text.replaceAll(",", "\u202f").replace("-", "\u2212");
}

function said(value, unit) {
  return unit ? `${written(value)}\u202f${unit}` : written(value);
}

function middle(mark) {
  const box = mark.getBBox();
  return [box.x + box.width / 2, box.y + box.height / 2];
}

function pointsOf(svg) {
  if (!known.has(svg)) {
    const marks = [...svg.querySelectorAll("[data-says], [data-design]")];
    const found = marks
      .filter((mark) => mark.tagName !== "rect")
      .map((mark) => ({ mark, place: middle(mark), words: () => mark.dataset.says }));
    const [x, y] = ["x", "y"].map((axis) => svg.dataset[axis] && scaleOf(svg.dataset[axis]));
    for (const curve of svg.querySelectorAll("path[data-name]")) {
      for (const pair of curve.getAttribute("d").matchAll(/[ML]([-\d.]+) ([-\d.]+)/g)) {
        const place = [+pair[1], +pair[2]];
        const words = () =>
          `${curve.dataset.name}\n${said(y.at(place[1]), y.unit)} at ${said(x.at(place[0]), x.unit)}`;
        found.push({ mark: curve, place, words });
      }
    }
    known.set(svg, found);
  }
  return known.get(svg);
}

// The nearest point of a chart to a place on the screen; a marked design before one of the many.
function nearest(svg, x, y) {
  const { a, d, e, f } = svg.getScreenCTM();
  let best = null;
  let least = NEAR;
  for (const point of pointsOf(svg)) {
    const away = Math.hypot(e + a * point.place[0] - x, f + d * point.place[1] - y);
    if (away <= least) {
      best = point;
      least = away;
    }
  }
  return best;
}

function show(words, x, y) {
  balloon.textContent = words;
  balloon.hidden = !words;
  const wide = document.documentElement.clientWidth;
  balloon.style.left = `${Math.max(4, Math.min(x + 14, wide - balloon.offsetWidth - 6))}px`;
  const under = y + 18 + balloon.offsetHeight > innerHeight;
  balloon.style.top = `${under ? y - balloon.offsetHeight - 12 : y + 18}px`;
}

function wordsAt(point) {
  const { design } = point.mark.dataset;
  return point.words() ?? wordsOf(+design);
}

function point({ target, clientX, clientY }) {
  const svg = target.closest?.("svg.drawn");
  const bar = target.closest?.("rect[data-says]");
  const found = svg && (bar ? null : nearest(svg, clientX, clientY));
  show(bar ? bar.dataset.says : found ? wordsAt(found) : "", clientX, clientY);
}

document.addEventListener("pointermove", point);
document.addEventListener("pointerdown", point);
document.addEventListener("keydown", ({ key }) => {
  if (key === "Escape") {
    show("", 0, 0);
  }
});
addEventListener("scroll", () => show("", 0, 0), { passive: true });
