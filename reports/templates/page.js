const { figures, dark, map } = JSON.parse(document.getElementById("chart-data").textContent);
const front = JSON.parse(document.getElementById("front-data").textContent);
const darkColours = new Map(Object.entries(dark));
const touched = matchMedia("(pointer: coarse)").matches;
const root = document.documentElement;
const boxes = [...document.querySelectorAll("[data-chart]")];
const ink = figures.front.layout.font.color;
const placeOf = new Map(front.keys.map((key, place) => [key, place]));
const rowOf = new Map(front.rows.map((row, place) => [row[0], place]));
// Pinned designs in the order of pinning, and designs that the filter leaves out.
let pins = [];
let left = new Set();

const CONFIG = {
  displaylogo: false,
  modeBarButtons: [["toImage", "zoom2d", "pan2d", "resetScale2d"]],
  toImageButtonOptions: { filename: "front", scale: 2 },
};

function pinnedDots(x, y, size) {
  return {
    x: pins.map((design) => front.rows[rowOf.get(design)][placeOf.get(x)]),
    y: pins.map((design) => front.rows[rowOf.get(design)][placeOf.get(y)]),
    text: pins.map((design) => `<b>${design}</b>`),
    mode: "markers+text",
    textposition: "bottom center",
    cliponaxis: false,
    textfont: { color: ink, size: 12 },
    marker: { size, symbol: "square-open", color: ink, line: { width: 2 } },
    hoverinfo: "skip",
    showlegend: false,
  };
}

function pinnedLine(design) {
  const row = front.rows[rowOf.get(design)];
  const ends = Object.entries(front.parallel);
  return {
    x: ends.map(([key, [low, high]]) => (row[placeOf.get(key)] - low) / (high - low)),
    y: ends.map((_, place) => place),
    text: ends.map((_, place) => (place === ends.length - 1 ? `<br><b>${design}</b>` : "")),
    mode: "lines+markers+text",
    textposition: "bottom center",
    cliponaxis: false,
    line: { color: ink, width: 1.5, dash: "dashdot" },
    marker: { symbol: "square-open", size: 9, color: ink },
    hoverinfo: "skip",
    showlegend: false,
  };
}

function withPins(name, figure) {
  const [first, second] = front.aims;
  if (name === "front") {
    for (const trace of figure.data.filter((each) => each.customdata)) {
      trace.marker.opacity = trace.customdata.map(([design]) => (left.has(+design) ? 0.12 : 1));
    }
    figure.data.push(pinnedDots(second, first, 17));
  } else if (name.startsWith("variable-")) {
    figure.data.push(pinnedDots(first, name.slice("variable-".length), 12));
  } else if (name === "parallel") {
    figure.data.push(...pins.map(pinnedLine));
  }
}

function drawBox(box) {
  const name = box.dataset.chart;
  const plain = structuredClone(figures[name]);
  withPins(name, plain);
  const figure = coloured(plain, darkColours, root.classList.contains("printing"));
  // Scrolling the page by touch must not zoom a chart.
  const main = name === "front" && !touched && box.clientWidth > 560;
  figure.layout.dragmode = main ? "zoom" : false;
  // A chart with buttons is not an image to a screen reader.
  box.setAttribute("role", main ? "group" : "img");
  if (box.clientWidth < 480) {
    for (const note of figure.layout.annotations ?? []) {
      note.text = note.text.replace(/(<b>.<\/b>) .*<br>/, "$1 ");
    }
  }
  figure.layout.width = box.clientWidth;
  figure.layout.height = box.clientHeight;
  Plotly.react(box, figure.data, figure.layout, { ...CONFIG, displayModeBar: main && "hover" });
}

// The first chart is drawn at once, the others one by one, so that clicks are handled between them.
let waiting = [];
let next = 0;

function drawWaiting() {
  next = 0;
  if (waiting.length) {
    drawBox(waiting.shift());
    drawSoon();
  }
}

function drawSoon() {
  next ||= setTimeout(drawWaiting, 0);
}

function draw(chosen = boxes) {
  if (chosen.includes(boxes[0])) {
    drawBox(boxes[0]);
  }
  const later = chosen.filter((box) => box !== boxes[0] && !waiting.includes(box));
  waiting = [...waiting, ...later];
  drawSoon();
}

function drawForPaper(printing) {
  root.classList.toggle("printing", printing);
  document.querySelector("footer details").open = printing;
  waiting = [];
  boxes.forEach(drawBox);
}

function showMap() {
  const [across, up] = ["map-across", "map-up"].map((id) => +document.getElementById(id).value);
  const { data: [cells], layout } = figures.map;
  const grid = map.grids[`${Math.min(across, up)},${Math.max(across, up)}`];
  cells.x = map.axes[across].cells;
  cells.y = map.axes[up].cells;
  cells.z = across < up ? grid : cells.y.map((_, row) => grid.map((line) => line[row]));
  layout.xaxis.title.text = map.axes[across].title;
  layout.yaxis.title.text = map.axes[up].title;
  layout.annotations.forEach((note, place) => {
    note.x = map.axes[across].marks[place];
    note.y = map.axes[up].marks[place];
  });
  const box = document.querySelector("[data-chart=map]");
  const names = [across, up].map((axis) => map.axes[axis].title.toLowerCase());
  box.setAttribute("aria-label", `${map.alt} ${names.join(" and ")}.`);
  draw([box]);
}

function watchMap() {
  const tools = document.getElementById("map-tools");
  if (!tools) {
    return;
  }
  tools.hidden = false;
  const [across, up] = tools.querySelectorAll("select");
  let shown = [across.value, up.value];
  tools.addEventListener("change", ({ target }) => {
    // Choosing the variable of the other axis swaps the two.
    if (across.value === up.value) {
      (target === across ? up : across).value = shown[target === across ? 0 : 1];
    }
    shown = [across.value, up.value];
    showMap();
  });
}
