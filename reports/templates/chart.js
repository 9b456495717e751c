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
  return written(value) + (unit && unit !== "°" ? `\u202f${unit}` : unit);
}

function middle(mark) {
  const box = mark.getBBox();
  return [box.x + box.width / 2, box.y + box.height / 2];
}

// The straight pieces of a curve, each with both its ends.
function segments(curve) {
  const lines = curve.getAttribute("d").split("M").slice(1);
  return lines.flatMap((line) => {
    const points = line.split("L").map((point) => point.split(" ").map(Number));
    return points.slice(1).map((point, place) => [points[place], point]);
  });
}

// The place of a point or on a straight piece that is nearest to another place.
function nearestOn([from, to], [x, y]) {
  if (!to) {
    return from;
  }
  const [right, down] = [to[0] - from[0], to[1] - from[1]];
  const along = ((x - from[0]) * right + (y - from[1]) * down) / (right * right + down * down);
  const share = Math.max(0, Math.min(1, along));
  return [from[0] + share * right, from[1] + share * down];
}

function pointsOf(svg) {
  if (!known.has(svg)) {
    const marks = [...svg.querySelectorAll("[data-says], [data-design]")];
    const found = marks
      .filter((mark) => mark.tagName !== "rect")
      .map((mark) => ({ mark, ends: [middle(mark)], words: () => mark.dataset.says }));
    const [x, y] = ["x", "y"].map((axis) => svg.dataset[axis] && scaleOf(svg.dataset[axis]));
    for (const curve of svg.querySelectorAll("path[data-name]")) {
      const words = ([right, down]) =>
        `${curve.dataset.name}\n${said(y.at(down), y.unit)} at ${said(x.at(right), x.unit)}`;
      found.push(...segments(curve).map((ends) => ({ mark: curve, ends, words })));
    }
    known.set(svg, found);
  }
  return known.get(svg);
}

// What of a chart is nearest to a place on the screen, and the place on it.
function nearest(svg, x, y) {
  const { a, d, e, f } = svg.getScreenCTM();
  const at = [(x - e) / a, (y - f) / d];
  let best = null;
  let least = NEAR / a;
  for (const point of pointsOf(svg)) {
    const place = nearestOn(point.ends, at);
    // A curve gives way to a mark on it, and any mark to one that stands out.
    const far = Math.hypot(place[0] - at[0], place[1] - at[1]) + (point.ends.length > 1 ? 3 : 0);
    const away = "shown" in point.mark.dataset ? 0.3 * far : far;
    if (away <= least) {
      best = { ...point, place };
      least = away;
    }
  }
  return best;
}

function show(words, x, y) {
  balloon.textContent = words;
  balloon.hidden = !words;
  const wide = document.documentElement.clientWidth;
  const left = Math.max(4, Math.min(x + 14, wide - balloon.offsetWidth - 6));
  balloon.style.left = `${scrollX + left}px`;
  const under = y + 18 + balloon.offsetHeight > innerHeight;
  balloon.style.top = `${scrollY + (under ? y - balloon.offsetHeight - 12 : y + 18)}px`;
}

function wordsAt(point) {
  const { design } = point.mark.dataset;
  return point.words(point.place) ?? wordsOf(+design);
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
