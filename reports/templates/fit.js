const darkColours = new Map(Object.entries(JSON.parse(document.querySelector(".charts").dataset.dark)));

function draw(printing) {
  for (const box of document.querySelectorAll("[data-figure]")) {
    const { data, layout } = coloured(JSON.parse(box.dataset.figure), darkColours, printing);
    const size = { dragmode: false, width: box.clientWidth, height: box.clientHeight };
    Plotly.react(box, data, { ...layout, ...size }, { displayModeBar: false });
  }
}

draw(false);
followScreen(() => draw(false));
addEventListener("resize", () => draw(false));
addEventListener("beforeprint", () => draw(true));
addEventListener("afterprint", () => draw(false));
