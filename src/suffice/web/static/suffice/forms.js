// Nothing typed is lost, and a form opens over the page it belongs to. Without this script every form
// works as a page of its own.
//
// What is typed is kept on this device, under the user's number, until the server has taken it, its
// writer throws it away or signs out, or a day has passed. A kept form holds the id under which the
// server stores it, so that it is stored once however often it is sent.

import { isOld } from "./erase_old.js";
import { changedSince, fieldsOf, fill, typedAlready } from "./fields.js";
import { settleTime, tick } from "./now.js";
import { loadAtRest } from "./rest.js";
import { SIGN_IN, freshToken, isSignedOut, newId, post } from "./server.js";

const HEAD = document.querySelector("meta[name=user]");
const USER = HEAD?.content;
const MARK = "suffice:unsent:";
const OWN = `${MARK}${USER}:`;
const TAPS = `${OWN}tap:`;
const SAME_TAP_MS = 60 * 1000;
const ENTRY = /^\/families\/[0-9a-f-]{36}\/(enter\/[a-z-]+|entries\/[0-9a-f-]{36}\/(correct|withdraw))\/$/;

// ---- what is kept ------------------------------------------------------------------------------

function kept(key) {
  try {
    return JSON.parse(localStorage.getItem(key));
  } catch {
    return null;
  }
}

function forget(key) {
  try {
    localStorage.removeItem(key);
  } catch {
    // A browser that keeps nothing has nothing to forget.
  }
}

function keys(start) {
  try {
    return Object.keys(localStorage).filter((key) => key.startsWith(start));
  } catch {
    return [];
  }
}

// What is older than a day, and what was typed about a family that was erased since.
function eraseOld() {
  const ids = document.querySelector("meta[name=erased]")?.content.split(" ").filter(Boolean) ?? [];
  for (const key of keys(MARK)) {
    const one = kept(key);
    const isErased = ids.some((id) => key.includes(id) || one?.action?.includes(id));
    if (isErased || isOld(one?.at)) forget(key);
  }
}

// What was sent and the page confirms, though no script saw the answer. What was typed since stays.
function forgetSaved() {
  const links = [...document.querySelectorAll("#done a[href]")].map((one) => one.pathname);
  for (const key of links.length ? keys(OWN) : []) {
    const one = kept(key);
    const id = new Map(one?.fields).get("entry_id");
    if (one?.pressed && id && links.some((link) => link.includes(id))) forget(key);
  }
}

// Words are filled in here and never read as markup.
function words(name) {
  return document.querySelector(`#unsent-words [data-words=${name}]`).textContent.trim();
}

function keyOf(form) {
  if (form.dataset.key) return form.dataset.key;
  const action = new URL(form.action, location);
  return `${OWN}${action.pathname}${action.search}`;
}

function keep(form, { submitter, pressed = false } = {}) {
  if (form.dataset.gone) return;
  const action = new URL(form.action, location);
  const page = form.hasAttribute("data-one-tap") ? "" : action.pathname + action.search;
  const what = { at: Date.now(), action: action.pathname, page, label: form.dataset.kept, pressed };
  try {
    localStorage.setItem(keyOf(form), JSON.stringify({ ...what, fields: fieldsOf(form, submitter) }));
  } catch {
    // Storage is full or switched off: the form works as any other.
  }
}

// Put back what was kept for a form, but for what was typed since; says so above it.
function restore(form, typed = new Set()) {
  const found = kept(keyOf(form));
  if (!found || form.hasAttribute("data-one-tap")) return;
  const count = form.elements.infants_count;
  const infants = Number(new Map(found.fields).get("infants_count") ?? 1);
  if (count && Number(count.value) < infants) {
    restoreInfants(form, found, infants);
    return;
  }
  fill(form, found.fields, new Set([...form.elements].map((one) => one.name).filter((one) => !typed.has(one))));
  const sent = new Map(found.fields);
  const moment = form.querySelector("[data-moment]");
  if (moment && sent.has("when")) settleTime(form, moment);
  tellBack(form, found);
}

function tellBack(form, found) {
  const told = tell(form, words(found.pressed ? "unsure-back" : "back").replace("{2}", clock(found.at)));
  const drop = button(words("discard"), () => {
    forget(keyOf(form));
    form.dataset.gone = "yes";
    form.reset();
    location.reload();
  });
  told.append(actions(drop));
}

// A form with more infants than a new page shows: the server writes it, and nothing is stored.
async function restoreInfants(form, found, infants) {
  const fields = found.fields.filter(([name]) => name !== "infants_count");
  fields.push(["infants_count", String(infants - 1)], ["add-infant", "1"]);
  try {
    const answer = await post(found.action, fields, form.elements.csrfmiddlewaretoken.value);
    if (!answer.ok || isSignedOut(answer)) return;
    await takeAnswer(form, answer);
    tellBack(document.querySelector("main form[data-kept]"), found);
  } catch {
    tell(form, words("offline"));
  }
}

function clock(at) {
  return new Date(at).toLocaleTimeString(document.documentElement.lang, { hour: "2-digit", minute: "2-digit", hour12: false });
}

function button(said, act) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "button";
  made.textContent = said;
  made.addEventListener("click", act);
  return made;
}

function actions(...all) {
  const made = Object.assign(document.createElement("div"), { className: "actions" });
  made.append(...all);
  return made;
}

// One message above a form; the next takes its place.
function tell(form, said) {
  form.querySelector(":scope > .unsent")?.remove();
  const told = Object.assign(document.createElement("div"), { className: "unsent" });
  told.setAttribute("role", "status");
  const line = document.createElement("p");
  line.textContent = said;
  told.append(line);
  form.prepend(told);
  return told;
}

// When something is tapped, after all that waits: a clock that is put back meanwhile changes no order.
const tapMoment = () => keys(TAPS).reduce((last, key) => Math.max(last, (kept(key)?.at ?? 0) + 1), Date.now());

// ---- sending -----------------------------------------------------------------------------------

async function send(form, submitter) {
  tick(form);
  form.dataset.timed = "yes";
  if (form.hasAttribute("data-one-tap")) dateTap(form, submitter);
  const fields = fieldsOf(form, submitter);
  const token = form.elements.csrfmiddlewaretoken.value;
  const action = submitter?.hasAttribute("formaction") ? submitter.formAction : form.action || location.href;
  const adding = submitter?.name === "add-infant";
  keep(form, { submitter: adding ? null : submitter, pressed: !adding && navigator.onLine });
  let answer;
  try {
    answer = await post(action, fields, token);
    if (answer.status === 403) {
      const fresh = await freshToken(form.hasAttribute("data-one-tap") ? "" : action);
      if (fresh === null) return signedOut(form);
      answer = await post(action, fields, fresh);
    }
  } catch {
    return waiting(form, submitter);
  }
  if (answer.headers.has("X-Go")) {
    done(form);
    location.replace(answer.headers.get("X-Go"));
    return;
  }
  form.removeAttribute("data-sent");
  if (isSignedOut(answer)) return signedOut(form);
  if (!answer.ok) {
    refused(form);
    return waiting(form, submitter, "failed");
  }
  await takeAnswer(form, answer, { adding, fields });
}

// A tap has its own time and id. The same button pressed again at once is the same tap, later another.
function dateTap(form, submitter) {
  const now = Date.now();
  const earlier = Number(submitter.dataset.tapped ?? 0);
  if (now - earlier > SAME_TAP_MS) {
    if (earlier) form.elements.key.value = newId();
    submitter.dataset.tapped = now;
  }
  const tapped = form.elements.tapped ?? document.createElement("input");
  Object.assign(tapped, { type: "hidden", name: "tapped" });
  tapped.value = new Date(Number(submitter.dataset.tapped)).toISOString();
  form.append(tapped);
  form.dataset.key = `${TAPS}${form.elements.key.value}:${submitter.value}`;
}

function done(form) {
  forget(keyOf(form));
  form.dataset.gone = "yes";
}

// The server answered and has not taken it.
function refused(form) {
  const found = kept(keyOf(form));
  if (found) localStorage.setItem(keyOf(form), JSON.stringify({ ...found, pressed: false }));
}

function signedOut(form) {
  form.removeAttribute("data-sent");
  refused(form);
  const told = tell(form, words("signed-out"));
  const link = document.createElement("a");
  link.className = "button first";
  const back = form.hasAttribute("data-one-tap") ? location.pathname : kept(keyOf(form))?.page || location.pathname;
  link.href = `${SIGN_IN}?next=${encodeURIComponent(back)}`;
  link.textContent = words("sign-in");
  told.append(actions(link));
  link.focus();
}

// The network is gone, or the server failed: sent again when the network is back, or by hand.
function waiting(form, submitter, why = "offline") {
  form.removeAttribute("data-sent");
  tell(form, words(why));
  if (why !== "offline" || form.hasAttribute("data-one-tap")) return;
  addEventListener("online", () => { if (form.isConnected && !form.dataset.sent) form.requestSubmit(submitter); }, { once: true });
}

// The form came back with a question, a problem or a further infant: it takes the place of this one. What
// was typed while the answer was on its way is taken along, and nobody is led away from where they type.
async function takeAnswer(form, answer, { adding = false, fields = fieldsOf(form) } = {}) {
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const fresh = page.querySelector("form[data-kept]");
  const place = form.closest("[data-sheet]");
  if (!fresh || !place) return waiting(form, null, "failed");
  const old = new Set([...form.querySelectorAll("section.infant")].map((one) => one.id));
  const sheet = document.importNode(fresh.closest("[data-sheet]"), true);
  if (over) underPage(sheet);
  const typed = changedSince(form, fields), latest = fieldsOf(form), at = typed.size ? document.activeElement?.id : "";
  place.replaceWith(sheet);
  const now = sheet.querySelector("form[data-kept]");
  fill(now, latest, typed);
  const moment = typed.has("when") && now.querySelector("[data-moment]");
  if (moment) settleTime(now, moment);
  watch(now);
  keep(now);
  if (at && document.getElementById(at)) return document.getElementById(at).focus({ preventScroll: true });
  const added = adding && [...now.querySelectorAll("section.infant")].at(-1);
  if (added) {
    added.scrollIntoView();
    // What twins share is carried over: on to the first number that is not.
    [...added.querySelectorAll("input.short")].find((one) => !one.value)?.focus({ preventScroll: true });
  } else sheet.querySelector("#what-is-wrong")?.focus();
}

function watch(form) {
  if (form.dataset.watched) return;
  form.dataset.watched = "yes";
  form.addEventListener("submit", (event) => {
    event.preventDefault();
    if (form.dataset.sent) return;
    form.dataset.sent = "yes";
    send(form, event.submitter);
  });
  if (form.hasAttribute("data-one-tap")) return;
  form.addEventListener("input", () => keep(form));
  const moment = form.querySelector("[data-moment]");
  moment?.addEventListener("input", () => settleTime(form, moment));
  form.querySelector("[data-cancel]")?.addEventListener("click", () => done(form));
  // Whose it is was tapped: on to what is typed. A keyboard stays where it is.
  form.addEventListener("click", (event) => {
    if (event.detail === 0 || event.target.name !== "infant") return;
    const next = [...form.querySelectorAll("input.short, textarea")].find((one) => one.checkVisibility());
    if (next && !next.value) next.focus();
  });
}

// ---- a form over the page ------------------------------------------------------------------------

let over = null;

// A page has one first heading: that of the page below.
function underPage(sheet) {
  const head = document.createElement("h2");
  head.id = "sheet-title";
  head.append(...sheet.querySelector("h1").childNodes);
  sheet.querySelector("h1").replaceWith(head);
}

async function open(address, from = null) {
  let answer;
  try {
    answer = await fetch(address);
  } catch {
    // The browser's own page of error would take away the one that is open.
    const told = tell(from?.closest("nav, section, details") ?? document.querySelector("main"), words("no-form"));
    told.scrollIntoView({ block: "nearest" });
    return addEventListener("online", () => told.remove(), { once: true });
  }
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const found = page.querySelector("main [data-sheet]");
  if (!answer.ok || answer.redirected || !found) return location.assign(address);
  const sheet = document.importNode(found, true);
  underPage(sheet);
  if (!over) {
    over = document.createElement("dialog");
    over.className = "over";
    over.setAttribute("aria-labelledby", "sheet-title");
    over.addEventListener("cancel", (event) => { event.preventDefault(); history.back(); });
    over.addEventListener("close", () => { if (over) history.back(); });
    document.body.append(over);
    history.pushState({ over: true }, "", address);
  } else history.replaceState({ over: true }, "", address);
  over.replaceChildren(sheet);
  const form = sheet.querySelector("form");
  watch(form);
  if (!over.open) over.showModal();
  restore(form);
  form.querySelector("[autofocus]")?.focus();
}

function close() {
  const closing = over;
  over = null;
  closing?.close();
  closing?.remove();
  // What was left in it waits, and the page below says so.
  if (closing) offer();
}

// ---- what is offered again -----------------------------------------------------------------------

// What was tapped while there was no connection; what is on its way already is left to whoever sends it.
async function sendTaps(isUnderWay = () => false) {
  let sent = 0;
  const inOrder = keys(TAPS).filter((key) => !isUnderWay(key)).sort((one, other) => (kept(one)?.at ?? 0) - (kept(other)?.at ?? 0));
  for (const key of inOrder) {
    const one = kept(key);
    try {
      const token = await freshToken("");
      if (token === null) return; // signed out, or somebody else is signed in
      const answer = await post(one.action, one.fields, token);
      if (isSignedOut(answer)) return;
      if (answer.headers.has("X-Go")) {
        forget(key);
        sent += 1;
      }
    } catch {
      return;
    }
  }
  if (!sent) return;
  const awaited = [];
  dispatchEvent(new CustomEvent("sent", { detail: awaited }));
  await Promise.allSettled(awaited);
  loadAtRest();
}

async function sendKept(key, told) {
  const one = kept(key);
  if (!one) return;
  let answer;
  try {
    const token = await freshToken("");
    answer = token === null ? null : await post(one.action, one.fields, token);
  } catch {
    told.querySelector("p").textContent = words("offline");
    return;
  }
  if (answer === null || isSignedOut(answer)) {
    return location.assign(`${SIGN_IN}?next=${encodeURIComponent(location.pathname)}`);
  }
  if (!answer.headers.has("X-Go")) {
    told.querySelector("p").textContent = words("failed");
    return;
  }
  forget(key);
  location.assign(answer.headers.get("X-Go"));
}

function offer() {
  document.querySelectorAll("main > [data-offered]").forEach((one) => one.remove());
  const shown = new Set([...document.querySelectorAll("form[data-kept]:not([data-one-tap])")].map(keyOf));
  for (const key of keys(OWN).filter((one) => !shown.has(one))) {
    const one = kept(key);
    const told = document.createElement("section");
    told.className = "unsent";
    told.dataset.offered = "";
    told.setAttribute("aria-label", words("heading"));
    const line = document.createElement("p");
    // Where Save was pressed and no answer was seen, the server may have it: only it can tell.
    line.textContent = words(one.pressed ? "unsure" : "offer").replace("{1}", one.label).replace("{2}", clock(one.at));
    const link = document.createElement("a");
    link.className = "button first";
    link.href = one.page;
    link.textContent = words("open");
    const act = one.page ? link : button(words("send"), () => sendKept(key, told));
    const drop = button(words("discard"), () => { forget(key); told.remove(); });
    told.append(line, actions(act, drop));
    document.querySelector("main").prepend(told);
  }
}

function start() {
  eraseOld();
  document.addEventListener("submit", (event) => {
    if (event.target.hasAttribute?.("data-sign-out")) keys(OWN).forEach(forget);
  });
  document.addEventListener("click", (event) => {
    const link = event.target.closest?.("a[href]");
    const plain = event.button === 0 && !(event.metaKey || event.ctrlKey || event.shiftKey || event.altKey);
    if (!link || !plain || event.defaultPrevented || link.target) return;
    if (link.hash && link.pathname === location.pathname && link.closest("form[data-kept]")) {
      // To the field that is wrong; the address stays that of the form.
      event.preventDefault();
      document.getElementById(link.hash.slice(1))?.focus();
    } else if (over && link.hasAttribute("data-cancel")) {
      event.preventDefault();
      history.back();
    } else if (link.origin === location.origin && ENTRY.test(link.pathname)) {
      event.preventDefault();
      open(link.href, link);
    }
  });
  addEventListener("popstate", close);
  addEventListener("online", () => sendTaps());
  forgetSaved();
  for (const form of document.querySelectorAll("form[data-kept]")) {
    const typed = form.hasAttribute("data-one-tap") ? new Set() : typedAlready(form);
    watch(form);
    if (typed.has("when")) settleTime(form, form.querySelector("[data-moment]"));
    restore(form, typed);
    // Where Save has the focus it may be on its way already.
    if (typed.size) keep(form, { pressed: form.contains(document.activeElement?.closest("[type=submit]")) });
  }
  // What sends itself is offered only where it cannot be sent.
  if (keys(TAPS).some((key) => kept(key)?.itself)) sendTaps().then(offer);
  else offer();
  setInterval(() => document.querySelectorAll("form[data-kept]:not([data-one-tap])").forEach(tick), 5000);
  for (const form of document.querySelectorAll("form[data-kept]:not([data-one-tap])")) tick(form);
  // A phone's keypad covers the foot of the window: what stays in view stands above it.
  const view = window.visualViewport;
  view?.addEventListener("resize", () => {
    const covered = Math.max(0, innerHeight - view.height * view.scale);
    document.documentElement.style.setProperty("--keypad", `${Math.round(covered)}px`);
  });
}

if (USER) start();

export { TAPS, forget, keys, open, sendTaps, tapMoment, tell, words };
