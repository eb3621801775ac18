// One letter each for a keyboard; the page /shortcuts/ lists them and turns them off on this device.
// None does anything while somebody types, or together with Ctrl, Alt or Meta.

import { open } from "./forms.js";
import { leave } from "./staying.js";

const OFF = "suffice-keys-off";
const FIND = "find";
const LEAST_AGE_MS = 60_000;

const isOff = () => localStorage.getItem(OFF) === "1";
const named = (key) => document.querySelector(`[data-key="${key}"]`);
const families = () => [...document.querySelectorAll(".caseload .name a")];
const marked = () => families().find((link) => link === document.activeElement);

function move(by) {
  const links = families();
  const at = links.indexOf(document.activeElement);
  const next = links[at < 0 ? (by > 0 ? 0 : links.length - 1) : at + by];
  next?.focus();
  next?.closest("tr").scrollIntoView({ block: "center" });
  return links.length > 0;
}

function find() {
  const field = document.getElementById("q");
  if (!field) return follow("c", `#${FIND}`);
  field.focus();
  field.select();
  return true;
}

function follow(key, suffix = "") {
  const link = named(key);
  if (link) leave(link.href + suffix);
  return Boolean(link);
}

function weigh() {
  const family = marked()?.pathname ?? window.location.pathname;
  const found = /^\/families\/[0-9a-f-]{36}\//.exec(family);
  if (found) open(`${found[0]}enter/weight/`);
  return Boolean(found);
}

const KEYS = {
  j: () => move(1),
  k: () => move(-1),
  ArrowDown: () => Boolean(marked()) && move(1),
  ArrowUp: () => Boolean(marked()) && move(-1),
  "/": find,
  n: () => follow("n"),
  w: weigh,
  c: () => follow("c"),
  "?": () => follow("?"),
};

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing || event.defaultPrevented || isOff()) return;
  if (event.target.closest?.("input, select, textarea, [contenteditable], dialog[open]")) return;
  if (Object.hasOwn(KEYS, event.key) && KEYS[event.key]()) event.preventDefault();
});

if (window.location.hash === `#${FIND}`) find();

// ---- from the field to find by name into what it found ----
// The list is asked for once more, so that the mark never lands on a family of the words before.
const field = document.querySelector(".find #q");
let toFirst = false;
field?.addEventListener("input", () => { toFirst = false; });
field?.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
  if (event.key !== "Enter" && event.key !== "ArrowDown") return;
  event.preventDefault();
  toFirst = true;
  field.form.requestSubmit();
});
document.addEventListener("htmx:afterSettle", () => {
  if (toFirst && [field, document.body].includes(document.activeElement)) move(1);
});

// ---- the page that lists them ----
const box = document.getElementById("keys-switch");
if (box) {
  const state = document.getElementById("keys-state");
  const button = box.querySelector("button");
  const show = () => {
    const which = isOff() ? "off" : "on";
    state.textContent = state.dataset[which];
    button.textContent = button.dataset[which];
  };
  button.addEventListener("click", () => {
    if (isOff()) localStorage.removeItem(OFF);
    else localStorage.setItem(OFF, "1");
    show();
  });
  show();
  box.hidden = false;
}

// ---- a list that was left open: 'today' and '15 min ago' grow old ----
let shownAt = Date.now();
document.addEventListener("htmx:afterSwap", () => { shownAt = Date.now(); });
document.addEventListener("visibilitychange", () => {
  const list = document.getElementById("list");
  if (list && !document.hidden && Date.now() - shownAt > LEAST_AGE_MS) window.htmx?.trigger(list, "renew");
});
