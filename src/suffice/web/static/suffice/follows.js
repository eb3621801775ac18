// What follows from an answer stands above the bar, over the page, until the page is next loaded and says it at
// its question: no control moves under a thumb. The server has the words, and the answers of the other parts.

import { loadAtRest } from "./rest.js";

const RETRY_MS = 15 * 1000;
const follows = document.querySelector("[data-follows]");
const unknown = document.querySelector("[data-unknown]");
let ask = document.querySelector("[data-ask-next]");
const all = (within, what) => [...within.querySelectorAll(what)];
const keyOf = (one) => one.dataset.follow;
const atLoad = new Set(all(follows, "[data-follow]").map(keyOf));
let seen = new Set();
let turns = 0;
let latest = 0;
let again = 0;

const isNewMark = (mark) => mark !== follows.dataset.follows;

// Who answers on has seen it: one line of it stays.
function shrinkFollows() {
  follows.firstElementChild.open = false;
}

async function followsNow() {
  try {
    const answer = await fetch(location.href, { headers: { accept: "text/html" } });
    // Signed out, or the contact has ended.
    if (answer.redirected) loadAtRest();
    return new DOMParser().parseFromString(await answer.text(), "text/html");
  } catch {
    return null;
  }
}

async function showFollows() {
  const turn = (turns += 1);
  const page = await followsNow();
  // What was asked for earlier, and came later, knows nothing of the last answer.
  if (turn < latest) return;
  // What could not be asked for is not taken for nothing.
  const fresh = page?.querySelector("[data-follows]");
  unknown.hidden = Boolean(fresh);
  clearTimeout(again);
  if (!fresh) {
    again = setTimeout(showFollows, RETRY_MS);
    return;
  }
  latest = turn;
  show(fresh);
  ask.replaceWith(ask = page.querySelector("[data-ask-next]"));
}

// The question that would change most stands where the eye is: one line above the buttons, which do not move.
function askNext(said) {
  if (said === null) return;
  ask.toggleAttribute("data-nothing", !said);
  if (!said) return;
  const [name, why, link] = JSON.parse(decodeURIComponent(said));
  ask.querySelector("[data-name]").textContent = name;
  ask.querySelector("[data-why]").textContent = why;
  ask.href = link;
}

function show(fresh) {
  const stands = all(fresh, "[data-follow]"), [said] = fresh.children;
  for (const one of stands) one.hidden = atLoad.has(keyOf(one));
  const shown = stands.filter((one) => !one.hidden);
  said.hidden = shown.length === 0;
  said.open = follows.firstElementChild.open || shown.some((one) => !seen.has(keyOf(one)));
  const [worst] = shown;
  said.querySelector("[data-briefly]").textContent = worst?.querySelector("[data-sentence]").textContent ?? "";
  said.querySelector("[data-worst]").append(worst?.querySelector(".mark")?.cloneNode(true) ?? "");
  seen = new Set(stands.map(keyOf));
  follows.dataset.follows = fresh.dataset.follows;
  follows.replaceChildren(said);
  // What follows no more, since an answer was corrected, leaves its place empty.
  for (const one of all(document, "[data-doubts] [data-follow]")) one.classList.toggle("passed", !seen.has(keyOf(one)));
}

// What waited on this device may lead to something too.
addEventListener("sent", (event) => event.detail.push(showFollows()));
addEventListener("online", () => { if (!unknown.hidden) showFollows(); });

export { askNext, isNewMark, showFollows, shrinkFollows };
