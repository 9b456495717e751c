"use strict";

const darkScreen = matchMedia("(prefers-color-scheme: dark)");
// Read once; after that the event tells. Reading the query between a change and its event cancels
// the event, and charts drawn before would keep their colours.
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
