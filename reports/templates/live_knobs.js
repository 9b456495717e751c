// Sliders, lists and fields, and the texts that they stand for.
const PLAIN = /^\s*[+-]?(\d+\.?\d*|\.\d+)(e[+-]?\d+)?\s*$/i;
const knobs = new Map(given.knobs.map((knob) => [knob.key, knob]));
const blocks = new Map(
  [...document.querySelectorAll(".knob")].map((block) => [block.dataset.key, block]),
);

function countOf(knob) {
  return knob.listed.length || knob.count;
}

function numberAt(knob, place) {
  const number = Number(knob.listed[place] ?? knob.low + place * knob.step);
  return String(Number(number.toPrecision(12)));
}

function placeOf(knob, number) {
  if (!knob.listed.length) {
    return Math.max(0, Math.min(knob.count - 1, Math.round((number - knob.low) / knob.step)));
  }
  const away = knob.listed.map((each) => Math.abs(Number(each) - number));
  return away.indexOf(Math.min(...away));
}

// A number alone counts in the unit that stands beside it.
function withUnit(key, text) {
  const unit = given.units[key];
  return unit && PLAIN.test(text) ? `${text.trim()} ${unit}` : text.trim();
}

function withoutUnit(key, text) {
  const unit = given.units[key];
  return unit && text.endsWith(` ${unit}`) ? text.slice(0, -unit.length - 1) : text;
}

function usual(key) {
  return knobs.has(key) ? undefined : given.fixed[key];
}

// Shows the build in every knob but the one that is being typed in.
function fillKnobs() {
  for (const [key, block] of blocks) {
    const text = build.get(key) ?? usual(key) ?? "";
    const field = block.querySelector("input[type=text], select");
    if (field !== document.activeElement || field.tagName === "SELECT") {
      field.value = withoutUnit(key, text);
    }
    const slider = block.querySelector("input[type=range]");
    if (slider) {
      const place = placeOf(knobs.get(key), Number(withoutUnit(key, text)));
      if (slider !== document.activeElement) {
        slider.value = place;
      }
      slider.setAttribute("aria-valuetext", text);
    }
    const from = knobs.has(key) ? first.get(key) : usual(key);
    block.classList.toggle("changed", from !== undefined && from !== text);
  }
}

function setText(key, text) {
  if (text === usual(key) || (text === "" && !knobs.has(key))) {
    build.delete(key);
  } else {
    build.set(key, text);
  }
  turn();
}

for (const [key, block] of blocks) {
  const field = block.querySelector("input[type=text], select");
  field.addEventListener("change", () => setText(key, withUnit(key, field.value)));
  const slider = block.querySelector("input[type=range]");
  slider?.addEventListener("input", () =>
    setText(key, withUnit(key, numberAt(knobs.get(key), Number(slider.value)))),
  );
  block.querySelector(".sweep")?.addEventListener("click", () => toggleSweep(key));
}
byId("turns").addEventListener("submit", (event) => event.preventDefault());
byId("turns").addEventListener("keydown", (event) => {
  // A phone's "go" and Enter take the field as it is.
  if (event.key === "Enter" && event.target.matches("input[type=text]")) {
    event.target.dispatchEvent(new Event("change"));
  }
});

// The curve of one variable at a time.
let swept = "";
let sweptFor = "";

function othersOf(key) {
  return queryOf([...build].filter(([each]) => each !== key));
}

function toggleSweep(key) {
  const before = swept;
  if (before) {
    const block = blocks.get(before);
    block.querySelector(".swept").hidden = true;
    block.querySelector(".sweep").setAttribute("aria-expanded", "false");
  }
  swept = before === key ? "" : key;
  sweptFor = "";
  if (swept) {
    blocks.get(swept).querySelector(".sweep").setAttribute("aria-expanded", "true");
    sweep();
  }
}

async function sweep() {
  const [key, others] = [swept, othersOf(swept)];
  if (!key || sweptFor === others) {
    markSweep();
    return;
  }
  const place = blocks.get(key).querySelector(".swept");
  try {
    const found = await ask("sweep", `of=${key}&${queryOf(build)}`);
    if (key !== swept) {
      return;
    }
    place.innerHTML = found.svg;
    place.append(make("p", `${found.text} Grey: a limit is missed, or it does not run.`));
  } catch (error) {
    place.replaceChildren(make("p", error.message));
  }
  place.hidden = false;
  sweptFor = others;
  markSweep();
}

// An upright where the knob stands.
function markSweep() {
  const svg = swept && blocks.get(swept).querySelector(".swept svg");
  if (!svg || !svg.dataset.x) {
    return;
  }
  const [low, high, start, end] = svg.dataset.x.split(" ").map(Number);
  const value = Number(withoutUnit(swept, build.get(swept)));
  const x = start + ((value - low) / (high - low)) * (end - start);
  svg.querySelector(".now")?.remove();
  const line = document.createElementNS(svg.namespaceURI, "path");
  line.setAttribute("class", "now");
  line.setAttribute("d", `M${Math.max(start, Math.min(end, x)).toFixed(1)} 22V196`);
  svg.append(line);
}
