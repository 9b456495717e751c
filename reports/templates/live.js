// Asks for the numbers of each turn, and a moment later for what takes longer.
const PAUSE = 200;
const LOOK = 400;
const main = byId("answers"); // its data tell which build is shown
let asking = false;
let pausing = 0;
let deeper = Promise.resolve();
let waiting = "";

function put(id, nodes) {
  byId(id).replaceChildren(...nodes);
}

function figureOf([value, words], place) {
  const item = make("li");
  // Where there is no room for its sentence.
  const short = make("small", given.short[place], { "aria-hidden": "true" });
  item.append(make("b", value), " ", make("span", `${words}.`), short);
  return item;
}

function limitOf({ limit, here, state }) {
  const row = make("tr");
  const said = { met: "yes", missed: "no", soon: "…", unknown: "not known" }[state];
  const look = { missed: "bad", soon: "soon" }[state] ?? "";
  row.append(make("th", limit, { scope: "row" }), make("td", here), make("td", said, { class: look }));
  return row;
}

function draw(id, markup) {
  byId(id).innerHTML = markup ?? "";
}

function drawFitted(id, drawings) {
  const fits = ["wide", "narrow"].filter((fit) => drawings[`${id}-${fit}`]);
  draw(id, fits.map((fit) => `<div class="at-${fit}">${drawings[`${id}-${fit}`]}</div>`).join(""));
}

// Most limits that the heading names.
const NAMED = 2;

function headingOf(found) {
  const missed = found.limits.filter(({ state }) => state === "missed");
  if (found.status) {
    return found.status;
  }
  const soon = found.limits.some(({ state }) => state === "soon");
  const held = soon ? "It meets every limit looked at so far." : "It meets every limit.";
  if (missed.length > NAMED) {
    return `It misses ${missed.length} limits.`;
  }
  const told = missed.map(({ limit, here }) => `${limit}, here ${here}`);
  return missed.length ? `It misses a limit: ${told.join("; ")}.` : held;
}

function showBuild(query, found, whole) {
  noted(query, found);
  byId("answer").textContent = headingOf(found);
  put("figures", found.figures.map(figureOf));
  byId("musts").textContent = found.musts;
  put("limits", found.limits.map(limitOf));
  put("draws", found.draws.map((text) => make("li", text)));
  const bands = whole ? "" : "Bands, then a lost load and the recheck, follow in a moment.";
  const notes = [...found.notes, ...(found.works && bands ? [bands] : [])];
  put("notes", (notes.length ? notes : ["Nothing beyond the cautions."]).map((text) => make("li", text)));
  draw("section", found.drawings.section);
  draw("view", found.drawings.view);
  drawFitted("ruler", found.drawings);
  drawFitted("power", found.drawings);
  for (const [id, part] of [["failure", "ruler"], ["goes", "power"]]) {
    byId(id).hidden = !byId(part).childElementCount;
  }
  if (found.command) {
    byId("command").textContent = found.command;
    byId("copied").textContent = "";
  }
  main.classList.remove("stale");
  byId("trouble").textContent = "";
  main.dataset[whole ? "whole" : "shown"] = query;
  if (kept.includes(query)) {
    fillKept();
  }
  markFront();
  markSweep();
}

function turn() {
  fillKnobs();
  writeAddress();
  main.classList.add("stale");
  byId("keep").disabled = kept.length >= given.mostKept || kept.includes(queryOf(build));
  waiting = queryOf(build);
  if (!asking) {
    answerTurns();
  }
}

// One question at a time, and always the newest.
async function answerTurns() {
  asking = true;
  clearTimeout(pausing);
  while (waiting) {
    const query = waiting;
    waiting = "";
    try {
      const found = await ask("build", query);
      if (!waiting) {
        showBuild(query, found, false);
      }
    } catch (error) {
      byId("trouble").textContent = error.message;
      main.dataset.refused = query;
    }
  }
  asking = false;
  pausing = setTimeout(() => {
    deeper = deeper.then(answerRest).then(sweep);
  }, PAUSE);
}

async function answerRest() {
  const query = queryOf(build);
  if (main.dataset.shown !== query || main.dataset.whole === query) {
    return;
  }
  try {
    for (const path of ["bands", "rest"]) {
      const found = await ask(path, query);
      if (query !== queryOf(build) || asking) {
        return;
      }
      showBuild(query, found, path === "rest");
    }
  } catch (error) {
    byId("trouble").textContent = error.message;
  }
}

async function climb(button) {
  const query = queryOf(build);
  button.disabled = true;
  byId("said").textContent = "Climbing…";
  put("steps", []);
  try {
    const found = await ask("nudge", `to=${button.dataset.to}&${query}`);
    byId("said").textContent = `From ${found.from}: ${found.text}`;
    put("steps", found.steps.map(({ change, aim }) => make("li", `${change}: ${aim}`)));
    if (found.steps.length && query === queryOf(build)) {
      pushAddress();
      Object.entries(found.texts).forEach(([key, text]) => build.set(key, text));
      turn();
    }
  } catch (error) {
    byId("said").textContent = error.message;
  }
  button.disabled = false;
}

for (const button of document.querySelectorAll(".nudge")) {
  button.addEventListener("click", () => climb(button));
}
byId("keep").addEventListener("click", () => {
  kept.push(queryOf(build));
  writeAddress();
  learnKept();
});
byId("reset").addEventListener("click", () => {
  pushAddress();
  build = new Map(first);
  turn();
});
byId("copy").addEventListener("click", async () => {
  try {
    await navigator.clipboard.writeText(byId("command").textContent);
    byId("copied").textContent = "Copied.";
  } catch {
    byId("copied").textContent = "Not allowed here: mark the line and copy it.";
  }
});

function restore() {
  readAddress();
  turn();
  learnKept();
}

async function begin() {
  try {
    const state = await ask("state", "");
    byId("status").textContent = state.text;
    if (state.start) {
      first = new Map(Object.entries(state.start));
      document.querySelector(".turns").disabled = false;
      addEventListener("popstate", restore);
      restore();
      return;
    }
  } catch (error) {
    byId("status").textContent = error.message;
  }
  setTimeout(begin, LOOK);
}
begin();
