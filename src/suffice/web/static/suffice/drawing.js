// The drawings of breast and nipple: a tap on a field, or a key, is a tap on its box in the list; a tap that
// places a lump fills in its hour and its distance. What is drawn follows the forms, which send and keep it.

const EDGE = 100;
const REACH_CM = 10;
const HOURS = 12;
const SMALLEST = 5;
const LUMP = ["lump_clock", "lump_from_nipple_cm", "lump_cm"];
const maps = [...document.querySelectorAll("[data-map]")];
const marks = document.querySelector("[data-marks]");

function formOf(what, side) {
  return [...document.querySelectorAll("form[data-answer]")].find(
    (form) => form.elements.what.value === what && form.elements.side?.value === side,
  );
}

function boxOf(map, field) {
  const form = formOf(field.dataset.what, map.dataset.side);
  return [...form.querySelectorAll("input[type=checkbox]")].find((one) => one.value === field.dataset.key);
}

const fieldsOf = (map) => [...map.querySelectorAll(".field")];
const marksLump = () => marks?.querySelector("input[value=lump]").checked ?? false;

function draw(map) {
  for (const field of fieldsOf(map)) {
    const isOn = boxOf(map, field).checked;
    field.toggleAttribute("data-now", isOn);
    field.setAttribute("aria-checked", String(isOn));
  }
  if (map.dataset.map === "breast") drawLump(map);
}

function drawLump(map) {
  const typed = LUMP.map((what) => formOf(what, map.dataset.side).querySelector("input.short").value);
  const [hour, far, wide] = typed.map((text) => (text.trim() ? Number(text.replace(",", ".")) : NaN));
  const ring = map.querySelector("[data-lump]");
  const isPlaced = Number.isFinite(hour) && Number.isFinite(far);
  ring.setAttribute("r", isPlaced ? Math.max(((wide || 0) / 2 / REACH_CM) * EDGE, SMALLEST) : 0);
  if (!isPlaced) return;
  const angle = (hour / HOURS) * 2 * Math.PI;
  const radius = Math.min(far / REACH_CM, 1) * EDGE;
  ring.setAttribute("cx", radius * Math.sin(angle));
  ring.setAttribute("cy", -radius * Math.cos(angle));
}

// Where a tap is, as the hour and the distance from the nipple to half a centimetre.
function placeOf(map, event) {
  const svg = map.querySelector("svg");
  const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
  const hour = Math.round((Math.atan2(at.x, -at.y) / (2 * Math.PI)) * HOURS + HOURS) % HOURS || HOURS;
  const far = Math.min((Math.hypot(at.x, at.y) / EDGE) * REACH_CM, REACH_CM);
  return [String(hour), String(Math.round(far * 2) / 2)];
}

function placeLump(map, event) {
  placeOf(map, event).forEach((value, which) => {
    const form = formOf(LUMP[which], map.dataset.side);
    const box = form.querySelector("input.short");
    if (box.value === value) return;
    box.value = value;
    form.requestSubmit(form.querySelector(".number button"));
  });
}

// Right and left go round the clock, up and down from ring to ring; space or Enter marks.
function move(map, field, key) {
  const fields = fieldsOf(map);
  const steps = { ArrowRight: 1, ArrowLeft: -1, ArrowUp: HOURS, ArrowDown: -HOURS };
  const next = fields[fields.indexOf(field) + steps[key]] ?? field;
  field.tabIndex = -1;
  next.tabIndex = 0;
  next.focus();
}

function prepare(map) {
  const svg = map.querySelector("svg");
  svg.setAttribute("role", "group");
  fieldsOf(map).forEach((field, which) => {
    field.setAttribute("role", "checkbox");
    field.setAttribute("aria-label", boxOf(map, field).closest("label").textContent.trim());
    field.tabIndex = which ? -1 : 0;
  });
  svg.addEventListener("click", (event) => {
    if (marksLump()) placeLump(map, event);
    else if (event.target.matches(".field")) boxOf(map, event.target).click();
  });
  svg.addEventListener("keydown", (event) => {
    if (!event.target.matches(".field")) return;
    if (event.key.startsWith("Arrow")) move(map, event.target, event.key);
    else if (event.key === " " || event.key === "Enter") boxOf(map, event.target).click();
    else return;
    event.preventDefault();
  });
  draw(map);
}

// What the drawings say in words comes from the server, once it has every tap.
let refreshing = 0;
async function refresh() {
  const mine = ++refreshing;
  const answer = await fetch(location.href, { headers: { accept: "text/html" } });
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  if (mine !== refreshing) return;
  for (const says of document.querySelectorAll("[data-says]")) {
    const fresh = page.querySelector(`[data-says=${says.dataset.says}]`);
    if (fresh) says.replaceChildren(...fresh.childNodes);
  }
}

for (const map of maps) prepare(map);
if (marks) marks.hidden = false;
document.addEventListener("answered", () => maps.forEach(draw));
document.addEventListener("stored", () => refresh().catch(() => {}));
