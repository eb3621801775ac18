// A photograph that cannot be sent is kept on this device, under its user, until the server has taken or
// refused it, its user throws it away or signs out, nobody agrees to it any more, or a day has passed: what
// forms.js does for what is typed. Each is stored once, by the id of its entry. Without this script the form
// works as any other.

import { isOld } from "./erase_old.js";
import { SIGN_IN, freshToken, isSignedOut, newId } from "./server.js";

const HEAD = document.querySelector("meta[name=user]");
const USER = HEAD?.content;
const MOST = 6;
const MOST_BYTES = 60 * 1000 * 1000;
const SIGN_OUT_MS = 2000;
const GONE = [404, 410];
const TOO_LONG = 413;
const CONSENT = /\/enter\/consent\/$|\/entries\/[0-9a-f-]{36}\/(correct|withdraw)\/$/;
// Whose second photograph the server does not take as such, it takes as one of its own.
const NO_SECOND = "PHOTO-009";

// ---- what is kept ------------------------------------------------------------------------------

let opened = null;

function database() {
  opened ??= new Promise((resolve, reject) => {
    const asked = indexedDB.open("suffice-unsent", 1);
    asked.onupgradeneeded = () => asked.result.createObjectStore("photographs", { keyPath: "key" });
    asked.onsuccess = () => resolve(asked.result);
    asked.onerror = () => reject(asked.error);
  });
  return opened;
}

async function inStore(mode, act) {
  const store = (await database()).transaction("photographs", mode).objectStore("photographs");
  return new Promise((resolve, reject) => {
    const asked = act(store);
    store.transaction.oncomplete = () => resolve(asked.result);
    store.transaction.onabort = () => reject(store.transaction.error);
  });
}

// A browser that keeps nothing has nothing to give back and nothing to forget.
const every = () => inStore("readonly", (store) => store.getAll()).catch(() => []);
const forget = (key) => inStore("readwrite", (store) => store.delete(key)).catch(() => {});
const own = async () => (await every()).filter((one) => one.user === USER).sort((one, other) => one.at - other.at);

async function eraseWhere(isGone) {
  for (const one of await every()) if (isGone(one)) await forget(one.key);
}

// Of an infant of a family; of all of them where none is named, or the parent.
function isOf(one, family, infant) {
  const whose = new Map(one.fields).get("infant");
  return one.action.startsWith(`${family}/`) && (!whose || !infant || infant === "parent" || infant === whose);
}

const familyOf = (path) => path.split("/").slice(0, 3).join("/");

async function eraseOld() {
  const erased = document.querySelector("meta[name=erased]")?.content.split(" ").filter(Boolean) ?? [];
  const refused = document.querySelector("[data-not-agreed]")?.dataset;
  await eraseWhere((one) => {
    const isRefused = refused && isOf(one, familyOf(refused.notAgreed), refused.infant);
    return isOld(one.at) || isRefused || erased.some((id) => one.action.includes(id));
  });
}

async function keep(one) {
  const others = (await every()).filter((other) => other.key !== one.key);
  const bytes = others.reduce((sum, other) => sum + other.bytes.byteLength, one.bytes.byteLength);
  if (others.length >= MOST || bytes > MOST_BYTES) return false;
  return inStore("readwrite", (store) => store.put(one)).then(() => true, () => false);
}

// ---- sending -----------------------------------------------------------------------------------

async function post(one, token) {
  const body = new FormData();
  for (const [name, value] of one.fields) body.append(name, value);
  body.set("csrfmiddlewaretoken", token);
  body.set("photo", new Blob([one.bytes], { type: one.type }), "photograph");
  return fetch(one.action, { method: "POST", body, headers: { "X-Kept-Form": "yes" } });
}

// What became of it: "sent" with where it is now, "refused" with why, or why it still waits.
async function sendOne(one) {
  let answer, body;
  try {
    answer = await post(one, document.querySelector("input[name=csrfmiddlewaretoken]").value);
    if (answer.status === 403) {
      const fresh = await freshToken("");
      if (fresh === null) return { is: "signed-out" };
      answer = await post(one, fresh);
    }
    body = await answer.text();
  } catch {
    return { is: "offline" };
  }
  if (isSignedOut(answer)) return { is: "signed-out" };
  if (answer.headers.has("X-Go")) return { is: "sent", at: answer.headers.get("X-Go") };
  const code = answer.headers.get("X-Refused");
  const isGone = GONE.includes(answer.status);
  // The first one may have been withdrawn meanwhile, or have another second one.
  if ((isGone || code === NO_SECOND) && one.fields.some(([name]) => name === "first")) {
    return sendOne({ ...one, fields: one.fields.filter(([name]) => name !== "first") });
  }
  if (isGone || answer.status === TOO_LONG) return { is: "refused", why: "" };
  if (!code) return { is: "failed" };
  const page = new DOMParser().parseFromString(body, "text/html");
  return { is: "refused", why: [...page.querySelectorAll("main [role=alert]")].map((said) => said.textContent).join(" ") };
}

async function settle(one) {
  const found = await sendOne(one);
  if (["sent", "refused"].includes(found.is)) await forget(one.key);
  return found;
}

// One after the other, and one page at a time: two would send the same one twice. The server stores it once
// all the same.
let before = Promise.resolve();

function alone(act) {
  const mine = before.then(() => (navigator.locks ? navigator.locks.request("suffice-photographs", act) : act()));
  before = mine.catch(() => {}); // one that fails stops none of the others
  return mine;
}

// ---- what is seen ------------------------------------------------------------------------------

const words = (name) => document.querySelector(`#unsent-words [data-words=${name}]`).textContent.trim();
const clock = (at) => new Date(at).toLocaleTimeString(document.documentElement.lang, { hour: "2-digit", minute: "2-digit", hour12: false });
const about = (name, one) => words(name).replace("{1}", one.label).replace("{2}", clock(one.at));

function put(place, said, ...actions) {
  const told = document.createElement("section");
  told.className = "unsent";
  told.setAttribute("role", "status");
  const line = document.createElement("p");
  line.textContent = said;
  told.append(line);
  if (actions.length) {
    const row = document.createElement("div");
    row.className = "actions";
    row.append(...actions);
    told.append(row);
  }
  place.prepend(told);
  return told;
}

function link(name, address) {
  const made = document.createElement("a");
  made.className = "button first";
  made.href = address;
  made.textContent = words(name);
  return made;
}

function button(name, act) {
  const made = document.createElement("button");
  made.type = "button";
  made.className = "button";
  made.textContent = words(name);
  made.addEventListener("click", act);
  return made;
}

const signIn = () => link("sign-in", `${SIGN_IN}?next=${encodeURIComponent(location.pathname + location.search)}`);
const shown = new Map();
let told = null;

function show(one, found) {
  shown.get(one.key)?.remove();
  if (told?.dataset.key === one.key) told.remove();
  const main = document.querySelector("main");
  if (found.is === "sent") shown.set(one.key, put(main, about("photo-sent", one), link("photo-mark", found.at)));
  else if (found.is === "refused") shown.set(one.key, put(main, `${about("photo-refused", one)} ${found.why}`));
  else {
    const drop = button("discard", () => forget(one.key).then(() => shown.get(one.key)?.remove()));
    const send = found.is === "signed-out" ? signIn() : button("send", sendAll);
    const offer = put(main, about("photo-offer", one), send, drop);
    offer.setAttribute("aria-label", words("heading"));
    shown.set(one.key, offer);
  }
}

async function sendAll() {
  await eraseOld();
  await alone(async () => {
    for (const one of await own()) show(one, await settle(one));
  });
}

// ---- the form ----------------------------------------------------------------------------------

function say(form, one, said, ...actions) {
  told?.remove();
  told = put(form, said, ...actions);
  told.dataset.key = one.key;
}

async function taken(form) {
  const photo = form.elements.photo.files[0];
  // It would be sent again and again, and never taken.
  if (photo.size > Number(form.dataset.most)) return say(form, { key: "" }, form.querySelector("[data-too-large]").textContent.trim());
  const data = [...new FormData(form)].filter(([name]) => !["photo", "csrfmiddlewaretoken"].includes(name));
  const at = Date.now();
  const fields = [...data, ["tapped", new Date(at).toISOString()]];
  const key = form.elements.entry_id.value;
  const one = { key, user: USER, at, action: new URL(form.action).pathname, label: form.dataset.photograph, fields, type: photo.type };
  one.bytes = await photo.arrayBuffer();
  say(form, one, words("photo-sending"));
  const isKept = await keep(one);
  const found = await alone(() => settle(one));
  if (found.is === "sent") location.assign(found.at);
  else if (found.is === "refused") say(form, one, found.why || about("photo-refused", one));
  else if (!isKept) say(form, one, words("photo-lost"));
  else {
    // For the next one; whose, and at which breast, stays as it was chosen.
    if (found.is === "offline") form.elements.photo.value = "";
    say(form, one, words(`photo-${found.is}`), ...(found.is === "signed-out" ? [signIn()] : []));
  }
}

function watch(form) {
  // Another photograph is another entry: it must not take the place of one that waits.
  form.elements.photo.addEventListener("change", () => { form.elements.entry_id.value = newId(); });
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    if (form.dataset.sent) return;
    form.dataset.sent = "yes";
    try {
      await taken(form);
    } finally {
      form.removeAttribute("data-sent");
    }
  });
}

// ---- what ends it ------------------------------------------------------------------------------

// Whoever takes back a consent on this device need not wait for the server to have nothing kept here.
function takenBack(form) {
  const path = new URL(form.action || location.href, location).pathname;
  if (!CONSENT.test(path)) return;
  const said = new FormData(form);
  if (said.get("to") !== "photograph" || said.get("given") !== "no") return;
  eraseWhere((one) => isOf(one, familyOf(path), said.get("infant")));
}

async function signOut(form) {
  const late = new Promise((resolve) => { setTimeout(resolve, SIGN_OUT_MS); });
  await Promise.race([eraseWhere((one) => one.user === USER), late]);
  form.submit();
}

if (USER && window.indexedDB) {
  document.addEventListener("submit", (event) => {
    if (event.target.hasAttribute?.("data-sign-out")) {
      event.preventDefault();
      signOut(event.target);
    } else takenBack(event.target);
  }, true);
  for (const form of document.querySelectorAll("form[data-photograph]")) watch(form);
  addEventListener("online", sendAll);
  sendAll();
}
