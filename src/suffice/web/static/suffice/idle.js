// A screen that nobody uses is covered, and its session locked. The passphrase opens it again in place, so
// that nothing typed on the page is lost. Without this script the server locks the session by itself.

const HEAD = document.querySelector("meta[name=idle]");
const SHEET = document.getElementById("locked");
const IDLE_MS = Number(HEAD?.content) * 60000;
const AWAKE_MS = Math.min(IDLE_MS / 3, 120000);
const USED = "suffice:used";
const OPENED = "suffice:unlocked";
const LOCKED_BY = "suffice:locked";

let toldAt = Date.now();
let over = null;

// All pages of a browser share one session: use of one is use of all.
function remember(key) {
  try {
    localStorage.setItem(key, String(Date.now()));
  } catch {
    // A browser that keeps nothing locks each page by itself.
  }
}

function lastUse() {
  try {
    return Number(localStorage.getItem(USED)) || 0;
  } catch {
    return own;
  }
}

let own = Date.now();

function used() {
  if (over) return;
  own = Date.now();
  remember(USED);
  if (own - toldAt > AWAKE_MS) {
    toldAt = own;
    post(HEAD.dataset.awake).then((answer) => { if (answer && answer.redirected) cover(); });
  }
}

function token() {
  return JSON.parse(document.body.getAttribute("hx-headers") ?? "{}")["x-csrftoken"] ?? "";
}

async function post(address, fields = [], more = {}) {
  const body = new URLSearchParams([...fields, ["csrfmiddlewaretoken", token()]]);
  try {
    return await fetch(address, { method: "POST", body, headers: more });
  } catch {
    return null;
  }
}

// Everything below the cover is hidden, from print and from whoever reads screens aloud too.
function cover() {
  if (over) return;
  document.documentElement.classList.add("is-locked");
  over = SHEET.content.querySelector("dialog").cloneNode(true);
  over.addEventListener("cancel", (event) => event.preventDefault());
  over.querySelector("form").addEventListener("submit", unlock);
  document.body.append(over);
  over.showModal();
  over.querySelector("[name=password]").focus();
}

function lift() {
  document.documentElement.classList.remove("is-locked");
  over.remove();
  over = null;
  own = toldAt = Date.now();
  remember(USED);
}

function look() {
  if (!over && Date.now() - Math.max(own, lastUse()) >= IDLE_MS) {
    cover();
    remember(LOCKED_BY);
    post(HEAD.dataset.lock);
  }
}

// Signing in gives the browser a new form token: forms that stand open get it.
function renew(fresh) {
  for (const field of document.querySelectorAll("input[name=csrfmiddlewaretoken]")) field.value = fresh;
  document.body.setAttribute("hx-headers", JSON.stringify({ "x-csrftoken": fresh }));
}

function say(text) {
  const [line, offline] = over.querySelectorAll(".wrong");
  line.textContent = text ?? "";
  line.hidden = !text;
  offline.hidden = text !== null;
}

async function unlock(event) {
  event.preventDefault();
  const form = over.querySelector("form");
  const answer = await post(form.action, [...new FormData(form)], { "X-Unlock": "yes" });
  form.elements.password.value = "";
  if (!answer) return say(null);
  if (answer.ok && answer.headers.get("content-type").startsWith("text/plain")) {
    renew(await answer.text());
    say("");
    remember(OPENED);
    lift();
    return undefined;
  }
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  const problem = page.querySelector("#what-is-wrong li");
  // Another session stands there meanwhile: the page is nobody's any more.
  if (!problem) return location.reload();
  say(problem.textContent.replace(/\s+/g, " ").trim());
  form.elements.password.focus();
  return undefined;
}

function start() {
  for (const sign of ["pointerdown", "keydown", "input", "scroll"]) {
    addEventListener(sign, used, { passive: true, capture: true });
  }
  addEventListener("storage", (event) => {
    if (event.key === LOCKED_BY) cover();
    if (event.key === OPENED && over) location.reload();
  });
  // A page that is left is no page that is looked at again.
  document.addEventListener("visibilitychange", () => { if (!document.hidden) look(); });
  setInterval(look, Math.min(IDLE_MS / 10, 10000));
  remember(USED);
}

if (HEAD && SHEET && IDLE_MS > 0) start();
