// Pinned builds: a column each in the table of choice, kept in the address of the page.
const choice = document.getElementById("choice");
const pinStatus = document.getElementById("pin-status");
const unpin = document.getElementById("unpin");
const ownColumns = choice.tHead.rows[0].cells.length;

function pinnedHead(design) {
  const head = element("th", `Build ${design}`, { scope: "col" });
  const name = `Unpin build ${design}`;
  const remove = element("button", "×", { type: "button", "aria-label": name, title: name });
  remove.addEventListener("click", () => {
    toggle(design);
    (choice.querySelector("thead button") ?? choice.parentElement).focus();
  });
  head.append(" ", remove);
  return head;
}

function fillColumns() {
  const body = [...choice.tBodies[0].rows];
  for (const row of [choice.tHead.rows[0], ...body]) {
    while (row.cells.length > ownColumns) {
      row.cells[ownColumns].remove();
    }
  }
  for (const design of pins) {
    choice.tHead.rows[0].append(pinnedHead(design));
    const texts = front.choice.map((column) => unpacked(column, rowOf.get(design)));
    body.forEach((row, place) => {
      const bad = front.bad[place] && texts[place] === front.bad[place];
      row.append(element("td", texts[place], { class: bad ? "bad" : "" }));
    });
  }
}

function setPins(designs) {
  const asked = [...new Set(designs)];
  pins = asked.filter((design) => rowOf.has(design));
  const unknown = asked.filter((design) => !rowOf.has(design));
  fillColumns();
  markRows();
  showPinned();
  choice.classList.toggle("crowded", pins.length > 0);
  unpin.hidden = pins.length < 2;
  const lost = unknown.length ? ` Not among these builds: ${unknown.join(", ")}.` : "";
  pinStatus.textContent = (pins.length ? `Pinned: ${pins.join(", ")}.` : "") + lost;
}

function pinsOfAddress() {
  const [, given] = /^#pins=([\d,]+)$/.exec(location.hash) ?? [];
  return (given ?? "").split(",").filter(Boolean).map(Number);
}

// Each change is a step of the browser's history, so that going back unpins.
function pinAndKeep(designs) {
  setPins(designs);
  const address = location.pathname + location.search;
  history.pushState(null, "", pins.length ? `#pins=${pins.join(",")}` : address);
}

function toggle(design) {
  const without = pins.filter((each) => each !== design);
  pinAndKeep(without.length < pins.length ? without : [...pins, design]);
}

function goTo(place) {
  place.closest("details")?.setAttribute("open", "");
  const target = place.querySelector("summary") ?? place;
  target.focus({ preventScroll: true });
  place.scrollIntoView();
}

// The address keeps the pins, so a link inside the page must not replace it.
document.addEventListener("click", (event) => {
  const place = document.getElementById(event.target.closest?.("a")?.hash?.slice(1) || "-");
  if (place) {
    event.preventDefault();
    goTo(place);
  }
});
unpin.addEventListener("click", () => pinAndKeep([]));
addEventListener("popstate", () => setPins(pinsOfAddress()));

let opened = [];
addEventListener("beforeprint", () => {
  opened = [...document.querySelectorAll("details:not([open]):not(.tools)")];
  opened.forEach((each) => each.setAttribute("open", ""));
  drawTable();
});
addEventListener("afterprint", () => opened.forEach((each) => each.removeAttribute("open")));

fronts.forEach(prepare);
setPins(pinsOfAddress());
performance.mark("interactive");
