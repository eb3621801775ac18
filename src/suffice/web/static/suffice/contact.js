// The answers of a contact: a tap shows at once, is kept on this device until the server has it, and is
// sent in the order of the taps. Without this script each answer is a form of its own.

import { askNext, isNewMark, showFollows, shrinkFollows } from "./follows.js";
import { TAPS, forget, keys, sendTaps, tapMoment } from "./forms.js";
import { freshToken, isSignedOut, newId, post } from "./server.js";

const RETRY_MS = 15 * 1000;
const WRITTEN = "input.short, textarea";
const sending = document.querySelector("[data-sending]");
const underWay = new Map();
let before = Promise.resolve();

document.documentElement.classList.add("scripted");

// What is pressed after a tap; pressed again, an answer is taken back.
function choose(form, button) {
  const chosen = [...form.querySelectorAll("[data-value][aria-pressed]")];
  const given = button.dataset.value;
  const isOwn = !button.hasAttribute("data-same") && !form.hasAttribute("data-differing");
  const isGiven = isOwn && button.getAttribute("aria-pressed") === "true";
  form.removeAttribute("data-differing");
  form.querySelector(".doubt")?.remove();
  for (const one of chosen) one.setAttribute("aria-pressed", String(one.dataset.value === given && !isGiven));
  if (button.hasAttribute("data-same")) {
    const keys = given.split("|");
    for (const box of form.querySelectorAll("input[type=checkbox]")) box.checked = keys.includes(box.value);
    const written = form.querySelector(WRITTEN);
    if (written) written.value = given;
    button.remove();
  }
  return isGiven ? [] : [given];
}

// Whether what stands in the box of a question was sent already, or is what the page was loaded with.
function isSent(form) {
  const written = form.querySelector(WRITTEN);
  return written !== null && !form.hasAttribute("data-differing") && written.value === (form.dataset.given ?? written.defaultValue);
}

function answersOf(form, button) {
  if (button?.dataset.value !== undefined) return choose(form, button);
  return new FormData(form).getAll("answer");
}

function mark(form, isWaiting) {
  for (const one of form.querySelectorAll(".choice")) {
    const isOn = one.getAttribute("aria-pressed") === "true" || one.querySelector(":checked");
    one.toggleAttribute("data-waiting", Boolean(isWaiting && isOn));
  }
  sending.hidden = keys(TAPS).length === 0;
}

function tapped(form, button) {
  const isChoice = form.hasAttribute("data-differing");
  const answers = answersOf(form, button);
  const written = form.querySelector(WRITTEN);
  if (written) form.dataset.given = written.value;
  const data = new FormData(form);
  const key = data.get("key");
  const fields = ["key", "contact", "what", "infant", "side", "seen"].filter((name) => data.has(name)).map((name) => [name, data.get(name)]);
  fields.push(["tapped", new Date().toISOString()], ...answers.map((one) => ["answer", one]));
  // The next tap on the same question takes the place of this one.
  form.elements.seen.value = answers.some(Boolean) ? key : "";
  form.elements.key.value = newId();
  const action = new URL(form.action).pathname;
  const place = `${TAPS}${key}`;
  const label = form.closest(".asked").querySelector("h2").textContent;
  try {
    localStorage.setItem(place, JSON.stringify({ at: tapMoment(), action, page: "", label, pressed: true, itself: true, fields }));
  } catch {
    // Storage is full or switched off: it is sent all the same.
  }
  mark(form, true);
  shrinkFollows();
  form.dispatchEvent(new Event("answered", { bubbles: true }));
  underWay.set(place, Date.now());
  before = before.then(() => send(form, place, action, fields, isChoice)).then(() => underWay.delete(place));
}

// The page is loaded again where the server knows better what stands: after a refusal, and after a choice
// between two answers, whose entry is an older one.
async function send(form, place, action, fields, isChoice) {
  try {
    const token = form.elements.csrfmiddlewaretoken.value;
    let answer = await post(action, fields, token);
    if (answer.status === 403) {
      const fresh = await freshToken("");
      if (fresh) answer = await post(action, fields, fresh);
    }
    if (answer.headers.has("X-Go")) {
      forget(place);
      // Nothing else asks for the page meanwhile: it would be told the reason of a refusal, which is told once.
      if (isChoice || answer.headers.has("X-Refused")) return location.reload();
      askNext(answer.headers.get("X-Ask-Next"));
      if (isNewMark(answer.headers.get("X-Follows"))) await showFollows();
    } else if (isSignedOut(answer)) location.reload();
  } catch {
    // It waits on this device.
  }
  mark(form, keys(TAPS).includes(place));
  if (sending.hidden) form.dispatchEvent(new Event("stored", { bubbles: true }));
}

for (const form of document.querySelectorAll("form[data-answer]")) {
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (event.submitter?.dataset.value !== undefined || !isSent(form)) tapped(form, event.submitter);
  });
  form.addEventListener("change", (event) => {
    // Whoever writes a number and goes on has answered: nothing written waits for Save.
    if (event.target.matches(WRITTEN) && !isSent(form)) tapped(form, null);
    if (event.target.type !== "checkbox") return;
    // None and something else cannot both be so.
    for (const box of form.querySelectorAll("input[type=checkbox]:checked")) {
      if (box !== event.target && (box.value === "none") !== (event.target.value === "none")) box.checked = false;
    }
    tapped(form, null);
  });
}

// What is written and not left yet, when the page goes.
addEventListener("pagehide", () => {
  for (const form of document.querySelectorAll("form[data-answer]")) if (form.querySelector(WRITTEN) && !isSent(form)) tapped(form, null);
});

// What has no answer after this long may hang on a network that is gone without saying so.
const isUnderWay = (place) => Date.now() - (underWay.get(place) ?? 0) < RETRY_MS;
setInterval(() => { if (!sending.hidden) sendTaps(isUnderWay); }, RETRY_MS);

// Once the button on top has gone from view, the bar below has one: a thumb need not go back.
const rest = document.querySelector("[data-rest]");
if (rest) new IntersectionObserver(([top]) => { rest.hidden = top.isIntersecting; }).observe(rest.form);
