// The build on the page and those kept, and how both stand in the address.
const given = JSON.parse(document.getElementById("live-data").textContent);
// Text of each range, and of each other number that is changed, by key.
let build = new Map();
let first = new Map();
// Each kept build as the text of a query.
let kept = [];
const byId = (id) => document.getElementById(id);

function queryOf(texts) {
  return new URLSearchParams([...texts]).toString();
}

function textsOf(query) {
  return new Map(new URLSearchParams(query));
}

function addressOf() {
  const parts = new URLSearchParams([...build]);
  kept.forEach((query) => parts.append("kept", query));
  return `#${parts}`;
}

function readAddress() {
  const parts = new URLSearchParams(location.hash.slice(1));
  const texts = [...parts].filter(([key]) => key && key !== "kept" && parts.get(key));
  build = new Map([...first, ...texts]);
  kept = [...new Set(parts.getAll("kept"))].slice(0, given.mostKept);
}

let writing = 0;
// Not at every turn: browsers refuse many changes of the address in a short time.
function writeAddress() {
  clearTimeout(writing);
  writing = setTimeout(() => history.replaceState(null, "", addressOf()), 250);
}

// One step of the browser's history, so that going back undoes it.
function pushAddress() {
  clearTimeout(writing);
  history.replaceState(null, "", addressOf());
  history.pushState(null, "", addressOf());
}

async function ask(path, query) {
  let answer;
  let found;
  try {
    answer = await fetch(`/${path}?${query}`, { cache: "no-store" });
    found = await answer.json();
  } catch {
    throw new Error("Nothing answers any more: the command has ended.");
  }
  if (!answer.ok) {
    throw new Error(found.error);
  }
  return found;
}

function make(name, text = "", more = {}) {
  const node = document.createElement(name);
  node.textContent = text;
  for (const [key, value] of Object.entries(more)) {
    node.setAttribute(key, value);
  }
  return node;
}

function save(name, text, kind) {
  const link = make("a", "", { download: name });
  link.href = URL.createObjectURL(new Blob([text], { type: kind }));
  link.click();
  URL.revokeObjectURL(link.href);
}
