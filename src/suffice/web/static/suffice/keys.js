// One letter each for a keyboard; the page /shortcuts/ lists them and turns them off on this device.
// None does anything while somebody types, or together with Ctrl, Alt or Meta.
// What they go through: the families of the list; the problems and parts of a contact; the questions of a part.

import { open } from "./forms.js";
import { leave } from "./staying.js";

const OFF = "suffice-keys-off";
const FIND = "find";
const LEAST_AGE_MS = 60_000;

const isOff = () => localStorage.getItem(OFF) === "1";
const named = (key) => document.querySelector(`[data-key="${key}"]`);
const STOPS = ".caseload .name a, .places button, .problem > summary, .parts a, form[data-answer]";
const QUESTION = "form[data-answer]";
const stops = () => [...document.querySelectorAll(STOPS)].filter((one) => one.checkVisibility());
const marked = () => document.activeElement?.closest(".caseload .name a");
const question = () => document.activeElement?.closest(QUESTION);
const choicesOf = (form) => [...form.querySelectorAll("button.choice, .choice input")];

function entered(stop) {
  if (!stop.matches(QUESTION)) return stop;
  const choices = choicesOf(stop);
  const given = choices.find((one) => one.checked || one.getAttribute("aria-pressed") === "true");
  return given ?? choices[0] ?? stop.querySelector("input.short, textarea");
}

function move(by) {
  const all = stops();
  const at = all.findIndex((one) => one.contains(document.activeElement));
  const next = all[at < 0 ? (by > 0 ? 0 : all.length - 1) : at + by];
  if (next) {
    entered(next).focus({ preventScroll: true });
    (next.closest("tr") ?? next).scrollIntoView({ block: "center" });
  }
  return all.length > 0;
}

// On a scale a digit is its point; its last is typed as it is written: a 0 after the 1 is 10, never none.
function pointOf(form, digit) {
  const point = (value) => form.querySelector(`.scale [data-value="${value}"]`);
  const isAfterOne = document.activeElement === point("1") && point("1")?.getAttribute("aria-pressed") === "true";
  return (isAfterOne && digit === 0 && point("10")) || point(digit);
}

function answer(digit) {
  const form = question();
  const choice = form?.querySelector(".scale") ? pointOf(form, digit) : form && choicesOf(form)[digit - 1];
  choice?.focus();
  choice?.click();
  return Boolean(choice);
}

function press(key) {
  named(key)?.click();
  return Boolean(named(key));
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
  ArrowDown: () => Boolean(marked() ?? question()) && move(1),
  ArrowUp: () => Boolean(marked() ?? question()) && move(-1),
  "/": find,
  n: () => follow("n"),
  w: weigh,
  c: () => follow("c"),
  "?": () => follow("?"),
  s: () => follow("s"),
  a: () => follow("a"),
  e: () => press("e"),
};
for (let digit = 0; digit <= 9; digit++) KEYS[digit] = () => answer(digit);

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing || event.defaultPrevented || isOff()) return;
  const isTyped = "input, select, textarea, [contenteditable], dialog[open]";
  if (event.target.closest?.(isTyped) && !event.target.matches(`${QUESTION} [type=checkbox]`)) return;
  if (Object.hasOwn(KEYS, event.key) && KEYS[event.key]()) event.preventDefault();
});

// A number holds no letters: Enter, an arrow or one of these keeps what was typed, and goes on.
const FROM_NUMBER = { Enter: KEYS.j, ArrowDown: KEYS.j, ArrowUp: KEYS.k, j: KEYS.j, k: KEYS.k, n: KEYS.n, a: KEYS.a };
document.addEventListener("keydown", (event) => {
  const field = event.target;
  if (!field.matches?.(`${QUESTION} input.short`) || event.ctrlKey || event.altKey || event.metaKey) return;
  if (event.isComposing || isOff() || !Object.hasOwn(FROM_NUMBER, event.key)) return;
  event.preventDefault();
  // What was sent already, or stood there before, contact.js does not send again.
  field.form.requestSubmit();
  FROM_NUMBER[event.key]();
});

for (const one of document.querySelectorAll(".for-keys")) one.hidden = isOff();
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
