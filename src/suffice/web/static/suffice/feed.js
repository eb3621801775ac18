// A feed is watched here and read by the server: this page counts, keeps and sends, and computes
// nothing of the model. Its events stand in a hidden field of the form, which forms.js keeps on the
// device at every change until the server has taken it, so a closed tab or a lost network loses none.

const ASK_EVERY_MS = 10000;
const ASK_AFTER_SWALLOW_MS = 3000;
const LONGEST_SLEEP_MS = 3 * 60 * 60 * 1000;
const OTHER = { left: "right", right: "left" };

const feed = () => document.querySelector("form[data-feed]");
const word = (name) => document.querySelector(`#feed-words [data-word="${name}"]`).textContent;

// ---- the clock -----------------------------------------------------------------------------------

// Runs on whatever is done to the clock of the device; a sleep of the device is caught up with.
let offset = Date.now() - performance.now();

function now() {
  return offset + performance.now();
}

function catchUp() {
  const slept = Date.now() - now();
  if (slept > 1000 && slept < LONGEST_SLEEP_MS) offset += slept;
}

// ---- the events ----------------------------------------------------------------------------------

function events() {
  try {
    return JSON.parse(feed().elements.events.value || "[]");
  } catch {
    return [];
  }
}

const began = () => Date.parse(feed().elements.began.value);

// Milliseconds after the beginning; never before what is there already.
function moment(list) {
  return Math.max(Math.round(now() - began()), list.at(-1)?.at_ms ?? 0);
}

function write(list) {
  const form = feed();
  form.elements.events.value = JSON.stringify(list);
  if (!list.length) form.elements.began.value = "";
  form.dispatchEvent(new Event("input", { bubbles: true }));
  show(list);
}

function add(what) {
  const list = events();
  if (!list.length) feed().elements.began.value = new Date(now()).toISOString();
  list.push({ at_ms: moment(list), what });
  write(list);
}

function stateOf(list) {
  const found = { side: "", isOn: false, isPaused: false, isAway: false, count: 0, onMs: 0, since: 0 };
  const stop = (at) => {
    if (found.isOn && !found.isPaused) found.onMs += at - found.since;
  };
  for (const { at_ms: at, what } of list) {
    if (OTHER[what] && !(found.isOn && found.side === what)) {
      Object.assign(found, { side: what, isOn: true, isPaused: false, count: 0, onMs: 0, since: at });
    } else if (what === "off") {
      stop(at);
      found.isOn = false;
    } else if (what === "pause" && !found.isPaused) {
      stop(at);
      found.isPaused = true;
    } else if (["on", "swallow"].includes(what) && found.isPaused) Object.assign(found, { isPaused: false, since: at });
    if (what === "swallow") found.count += 1;
    if (["away", "back", "swallow"].includes(what)) found.isAway = what === "away";
  }
  return found;
}

// ---- what is seen --------------------------------------------------------------------------------

function clock(ms) {
  const seconds = Math.floor(ms / 1000);
  return `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;
}

function put(name, text) {
  const place = feed().querySelector(`[data-${name}]`);
  if (place.textContent !== text) place.textContent = text;
}

function show(list) {
  const form = feed();
  const found = stateOf(list);
  const state = found.isOn ? "on" : list.length ? "off" : "before";
  if (form.dataset.state !== state) form.dataset.state = state;
  put("count", String(found.count));
  put("last", list.length ? word(list.at(-1).what) : "");
  put("side", found.side ? word(found.side) : "");
  form.querySelector("[data-toggle='away back']").setAttribute("aria-pressed", String(found.isAway));
  form.querySelector("[data-toggle='pause on']").setAttribute("aria-pressed", String(found.isPaused));
  tick(list, found);
}

function tick(list = events(), found = stateOf(list)) {
  if (!list.length) return;
  const at = found.isOn ? moment(list) : list.at(-1).at_ms;
  put("on", clock(found.onMs + (found.isOn && !found.isPaused ? at - found.since : 0)));
  put("lasted", clock(at));
}

// ---- what the server says ------------------------------------------------------------------------

let asked = 0;
let askedAt = 0;
let soon = null;

function noAnswer(isGone) {
  const place = feed().querySelector("[data-connection]");
  place.hidden = !isGone;
  const said = isGone ? word("no-answer") : "";
  if (place.textContent !== said) place.textContent = said;
}

async function ask() {
  clearTimeout(soon);
  soon = null;
  const list = events();
  if (!list.length || feed().dataset.sent) return;
  const place = feed().querySelector("[data-said]");
  if (!place.children.length) place.textContent = word("waiting");
  asked += 1;
  const mine = asked;
  askedAt = performance.now();
  const body = JSON.stringify({ events: list, now_ms: stateOf(list).isOn ? moment(list) : list.at(-1).at_ms });
  const headers = { "content-type": "application/json", "X-CSRFToken": feed().elements.csrfmiddlewaretoken.value };
  try {
    const answer = await fetch(feed().dataset.feed, { method: "POST", headers, body });
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    const said = page.querySelector("[data-reading-of-server]");
    if (mine !== asked) return;
    if (said) place.replaceChildren(document.importNode(said, true));
    noAnswer(!said);
  } catch {
    if (mine === asked) noAnswer(true);
  }
}

function askSoon() {
  soon ??= setTimeout(ask, ASK_AFTER_SWALLOW_MS);
}

// ---- what is done --------------------------------------------------------------------------------

function swallow(event) {
  add("swallow");
  askSoon();
  // How long it took to the screen, for whoever measures it.
  requestAnimationFrame(() => setTimeout(() => {
    const form = feed();
    form.dataset.slowest = Math.max(Number(form.dataset.slowest ?? 0), performance.now() - event.timeStamp).toFixed(1);
  }));
}

function act(button) {
  const list = events();
  const found = stateOf(list);
  const { event: what, toggle } = button.dataset;
  if (button.hasAttribute("data-undo")) write(list.slice(0, -1));
  else if (toggle) {
    const [begins, ends] = toggle.split(" ");
    add(button.getAttribute("aria-pressed") === "true" ? ends : begins);
  } else add(what === "other" ? OTHER[found.side] : what);
  if (!list.length) begin();
  if (what === "off") feed().querySelector("[data-of-end]").open = true;
  ask();
}

function begin() {
  feed().querySelector("[data-of-start]").open = false;
  feed().querySelector("[data-undo]").scrollIntoView({ block: "nearest" });
  feed().querySelector("[data-swallow]").focus({ preventScroll: true });
  stayAwake();
}

let awake = null;

async function stayAwake() {
  if (document.visibilityState !== "visible" || !stateOf(events()).side) return;
  try {
    awake = await navigator.wakeLock?.request("screen");
  } catch {
    awake = null; // The battery is low: the screen goes dark as it does elsewhere.
  }
}

const isTyped = (place) => place.closest("input, textarea, select, summary, a, button:not([data-swallow])");

function start() {
  document.addEventListener("pointerdown", (event) => {
    if (event.button === 0 && event.target.closest?.("[data-swallow]")) swallow(event);
  });
  document.addEventListener("click", (event) => {
    const button = event.target.closest?.("form[data-feed] button[type=button]");
    if (!button) return;
    if (!button.hasAttribute("data-swallow")) act(button);
    else if (event.detail === 0) swallow(event); // By a key, or by what reads the page aloud.
  });
  for (const kind of ["keydown", "keyup"]) {
    document.addEventListener(kind, (event) => {
      if (event.key !== " " || isTyped(event.target) || feed().dataset.state !== "on") return;
      event.preventDefault();
      if (kind === "keydown" && !event.repeat) swallow(event);
    });
  }
  // Before forms.js sends it: whoever ends a feed has taken the infant off.
  document.addEventListener("submit", (event) => {
    if (event.target === feed() && stateOf(events()).isOn) add("off");
  }, true);
  document.addEventListener("visibilitychange", () => {
    const found = stateOf(events());
    if (document.visibilityState === "visible") {
      catchUp();
      stayAwake();
      ask();
    } else if (found.isOn && !found.isAway && !feed().dataset.sent) add("away");
  });
  addEventListener("online", ask);
  // The same feed in another tab of this device: what was kept last counts in both.
  addEventListener("storage", (event) => {
    if (!event.newValue || !event.key?.endsWith(`:${location.pathname}`)) return;
    const fields = new Map(JSON.parse(event.newValue).fields);
    for (const name of ["entry_id", "began", "events"]) feed().elements[name].value = fields.get(name) ?? "";
    show(events());
  });
  setInterval(() => {
    const list = events();
    tick(list);
    if (stateOf(list).isOn && performance.now() - askedAt >= ASK_EVERY_MS) ask();
  }, 500);
  const list = events();
  // A clock that was set back while the page was closed: time goes on from what is known.
  if (list.length) offset = Math.max(offset, began() + list.at(-1).at_ms - performance.now());
  show(list);
  if (list.length) {
    feed().querySelector("[data-of-start]").open = false;
    feed().querySelector("[data-undo]").scrollIntoView({ block: "nearest" });
    stayAwake();
    ask();
  }
}

if (feed()) start();
