"use strict";

const darkScreen = matchMedia("(prefers-color-scheme: dark)");
// Read once and then told of every change: to read it between a change and its event takes the
// event away, and what was drawn before would keep its colours.
let isDark = darkScreen.matches;

function followScreen(redraw) {
  darkScreen.addEventListener("change", ({ matches }) => {
    isDark = matches;
    redraw();
  });
}

// A copy of a figure in the colours of the screen; paper is light.
function coloured(figure, darkColours, printing) {
  const swap = isDark && !printing;
  const text = JSON.stringify(figure);
  return JSON.parse(text, (_, value) => (swap && darkColours.get(value)) || value);
}
