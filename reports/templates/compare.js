const { figures, dark } = JSON.parse(document.getElementById("chart-data").textContent);
const darkColours = new Map(Object.entries(dark));
const root = document.documentElement;
const CONFIG = { displaylogo: false, displayModeBar: false };

function draw() {
  const printing = root.classList.contains("printing");
  for (const box of document.querySelectorAll("[data-chart]")) {
    const { data, layout } = coloured(figures[box.dataset.chart], darkColours, printing);
    const size = { dragmode: false, width: box.clientWidth, height: box.clientHeight };
    if (box.clientWidth < 480) {
      // No room for names: a line shows the number of its run, the legend the name.
      for (const note of layout.annotations ?? []) {
        note.text = note.text.replace(/^<b>(\d+) .*<\/b>$/, "<b>$1</b>");
      }
    }
    Plotly.react(box, data, { ...layout, ...size }, CONFIG);
  }
}

function drawForPaper(printing) {
  root.classList.toggle("printing", printing);
  draw();
}

draw();
followScreen(draw);
addEventListener("beforeprint", () => drawForPaper(true));
addEventListener("afterprint", () => drawForPaper(false));
let waiting = 0;
addEventListener("resize", () => {
  clearTimeout(waiting);
  waiting = setTimeout(draw, 150);
});
