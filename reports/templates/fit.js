"use strict";

function draw() {
  for (const box of document.querySelectorAll("[data-figure]")) {
    const figure = JSON.parse(box.dataset.figure);
    figure.layout.width = box.clientWidth;
    figure.layout.height = box.clientHeight;
    figure.layout.dragmode = false;
    Plotly.react(box, figure.data, figure.layout, { displayModeBar: false });
  }
}

draw();
addEventListener("resize", draw);
addEventListener("beforeprint", draw);
