"use strict";

const dark = new Map(Object.entries(JSON.parse(document.querySelector(".charts").dataset.dark)));
const prefersDark = matchMedia("(prefers-color-scheme: dark)");

function draw(printing) {
  const swap = prefersDark.matches && !printing;
  for (const box of document.querySelectorAll("[data-figure]")) {
    const colour = (_, value) => (swap && dark.get(value)) || value;
    const { data, layout } = JSON.parse(box.dataset.figure, colour);
    const size = { dragmode: false, width: box.clientWidth, height: box.clientHeight };
    Plotly.react(box, data, { ...layout, ...size }, { displayModeBar: false });
  }
}

draw(false);
prefersDark.addEventListener("change", () => draw(false));
addEventListener("resize", () => draw(false));
addEventListener("beforeprint", () => draw(true));
addEventListener("afterprint", () => draw(false));
