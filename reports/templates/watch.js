"use strict";

const EVERY = 2000;
const frame = document.getElementById("report");
const words = document.getElementById("status");
const share = document.getElementById("share");
const hold = document.getElementById("hold");
let version = Number(frame.dataset.version);

function reload() {
  const place = frame.contentWindow.scrollY;
  frame.addEventListener("load", () => frame.contentWindow.scrollTo(0, place), { once: true });
  frame.contentWindow.location.reload();
}

async function look() {
  let news;
  try {
    const answer = await fetch("/state", { cache: "no-store" });
    news = await answer.json();
  } catch {
    words.textContent = "No longer watched: the command has ended.";
    return;
  }
  if (words.textContent !== news.text) {
    words.textContent = news.text;
  }
  share.value = news.share;
  if (news.version !== version && !hold.checked && !document.hidden) {
    version = news.version;
    reload();
  }
}

setInterval(look, EVERY);
hold.addEventListener("change", look);
document.addEventListener("visibilitychange", look);
