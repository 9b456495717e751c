// Kept builds: a column each in a table, marks on the front, a file.
// What is known of a build, by its query.
const answers = new Map();

function noted(query, found) {
  answers.set(query, { ...answers.get(query), ...found });
}

async function learn(query) {
  for (const path of ["build", "rest"]) {
    if (!answers.get(query)?.plain) {
      try {
        noted(query, await ask(path, query));
      } catch (error) {
        noted(query, { error: error.message, plain: {} });
      }
      fillKept();
    }
  }
}

let learning = Promise.resolve();
function learnKept() {
  fillKept();
  for (const query of kept) {
    if (!answers.get(query)?.plain) {
      learning = learning.then(() => learn(query));
    }
  }
}

function headOf(query, place) {
  const head = make("th", `${place + 1} `, { scope: "col" });
  const take = make("button", "show", { type: "button", "aria-label": `Show build ${place + 1}` });
  take.addEventListener("click", () => {
    pushAddress();
    build = textsOf(query);
    turn();
  });
  const name = `Remove build ${place + 1}`;
  const remove = make("button", "×", { type: "button", "aria-label": name, title: name });
  remove.addEventListener("click", () => {
    kept = kept.filter((each) => each !== query);
    writeAddress();
    fillKept();
    byId("keep").focus();
  });
  head.append(take, remove);
  return head;
}

function fillKept() {
  const [head, body] = [byId("kept").tHead, byId("kept").tBodies[0]];
  byId("none-kept").hidden = kept.length > 0;
  byId("to-kept").hidden = kept.length === 0;
  byId("to-kept").textContent = `See the ${kept.length} kept`;
  byId("kept-table").hidden = byId("with-kept").hidden = kept.length === 0;
  byId("keep").disabled = kept.length >= given.mostKept || kept.includes(queryOf(build));
  const heads = make("tr");
  heads.append(make("td"), ...kept.map(headOf));
  head.replaceChildren(heads);
  const texts = (query) => answers.get(query)?.texts ?? {};
  const changed = Object.keys(given.fixed).filter((key) =>
    kept.some((query) => textsOf(query).has(key)),
  );
  const rows = given.rows.map(([key, label]) => [
    label,
    kept.map((query) => answers.get(query)?.values?.[key] ?? "–"),
  ]);
  const others = changed.map((key) => [
    key.replaceAll("_", " "),
    kept.map((query) => texts(query)[key] ?? given.fixed[key]),
  ]);
  const misses = kept.map((query) => {
    const { error, status, limits = [] } = answers.get(query) ?? {};
    const missed = limits.filter(({ state }) => state === "missed").map(({ limit }) => limit);
    return error ?? (status || missed.join("; ") || "none");
  });
  rows.splice(2, 0, ["Limits missed", misses], ...others);
  body.replaceChildren(
    ...rows
      .filter(([, cells]) => cells.some((text) => text !== "–"))
      .map(([label, cells]) => {
        const row = make("tr");
        row.append(make("th", label, { scope: "row" }));
        row.append(...cells.map((text) => make("td", text)));
        return row;
      }),
  );
  markFront();
}

// Rings this build on the front of the run, and numbers those kept.
function markFront() {
  for (const svg of document.querySelectorAll("#front svg[data-x][data-y]")) {
    svg.querySelector("g.now")?.remove();
    const group = document.createElementNS(svg.namespaceURI, "g");
    group.setAttribute("class", "now");
    const place = (axis, value) => {
      const [low, high, start, end] = svg.dataset[axis].split(" ").map(Number);
      const share = Math.max(0, Math.min(1, (value - low) / (high - low)));
      return (start + share * (end - start)).toFixed(1);
    };
    const add = (name, more, text = "") => {
      const node = document.createElementNS(svg.namespaceURI, name);
      Object.entries(more).forEach(([key, value]) => node.setAttribute(key, value));
      node.textContent = text;
      group.append(node);
    };
    const at = (query) => answers.get(query)?.at?.map((value, n) => value !== null && place("yx"[n], value));
    const here = at(queryOf(build));
    if (here?.every(Boolean)) {
      add("circle", { class: "now", cx: here[1], cy: here[0], r: 9 });
    }
    kept.forEach((query, number) => {
      const there = at(query);
      if (there?.every(Boolean)) {
        add("circle", { class: "now", cx: there[1], cy: there[0], r: 4 });
        const where = { class: "now halo b", x: Number(there[1]) + 8, y: Number(there[0]) - 6 };
        add("text", where, String(number + 1));
      }
    });
    svg.append(group);
  }
}

function goTo(id) {
  byId(id).scrollIntoView();
  byId(id).focus({ preventScroll: true });
}

// The address holds the build: a link within the page must not take its place.
for (const link of document.querySelectorAll("a[href^='#']")) {
  link.addEventListener("click", (event) => {
    event.preventDefault();
    goTo(link.hash.slice(1));
  });
}
byId("to-kept").addEventListener("click", () => goTo("kept-builds"));

function quoted(value) {
  const text = Array.isArray(value) ? value.join("; ") : String(value ?? "");
  return /[",\n;]/.test(text) ? `"${text.replaceAll('"', '""')}"` : text;
}

byId("csv").addEventListener("click", async () => {
  await learning;
  const rows = kept.map((query) => answers.get(query).plain);
  const names = [...new Set(rows.flatMap(Object.keys))];
  const lines = [["build", ...names], ...rows.map((row, n) => [n + 1, ...names.map((name) => row[name])])];
  const text = lines.map((line) => line.map(quoted).join(",")).join("\r\n");
  save(`${given.file}-kept.csv`, `${text}\r\n`, "text/csv");
});

byId("as-study").addEventListener("click", async () => {
  const query = new URLSearchParams(kept.map((each) => ["kept", each]));
  try {
    const { yaml } = await ask("study", query);
    byId("yaml").textContent = yaml;
    byId("yaml").hidden = false;
    const file = `${given.file}-kept.yaml`;
    byId("studied").textContent = `Downloaded as ${file}. Next: swirlstack run ${file}`;
    save(file, yaml, "application/yaml");
  } catch (error) {
    byId("studied").textContent = error.message;
  }
});
