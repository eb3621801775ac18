// Local times in the clinic's order: read, written, and said in words below their field; the device's own
// calendar is one press away. What is read here is read alike on the server, which reads more. What is kept
// or sent is ISO 8601, which no change of the clinic's order can bend.

const BARE = { "day first": /^(\d\d)(\d\d)(\d{4})$/, "month first": /^(\d\d)(\d\d)(\d{4})$/, "year first": /^(\d{4})(\d\d)(\d\d)$/ };

document.documentElement.dataset.scripted = "";

const two = (number) => String(number).padStart(2, "0");
const frameOf = (field) => field.closest(".local");

function readDay(text, order) {
  const found = BARE[order].exec(text) ?? /^(\d{1,4})([-/.])(\d{1,2})\2(\d{1,4})$/.exec(text)?.toSpliced(2, 1);
  if (!found) return "";
  const [, first, second, third] = found;
  let day = null;
  if (first.length === 4 && third.length <= 2) day = [first, second, third];
  else if (first.length <= 2 && third.length === 4) {
    day = { "day first": [third, second, first], "month first": [third, first, second] }[order];
  }
  if (!day) return "";
  const [year, month, date] = day.map(Number);
  const real = new Date(Date.UTC(year, month - 1, date));
  const isReal = real.getUTCFullYear() === year && real.getUTCMonth() === month - 1 && real.getUTCDate() === date;
  return isReal ? `${day[0]}-${two(month)}-${two(date)}` : "";
}

function readClock(text) {
  const found = /^(\d{1,2})[:.h](\d\d)(?::(\d\d)(\.\d{1,6})?)?$/.exec(text) ?? /^(\d\d)(\d\d)$/.exec(text);
  if (!found || found[1] > 23 || found[2] > 59 || found[3] > 59) return "";
  return `${two(found[1])}:${found[2]}${found[3] ? `:${found[3]}${found[4] ?? ""}` : ""}`;
}

// In ISO 8601; '' for what cannot be read here.
function read(text, order, hasTime) {
  const tidy = text.trim().replace(/\s+/g, " ");
  if (!hasTime) return readDay(tidy, order);
  const parts = /^(\d{8}),? ?(\d.*)$/.exec(tidy) ?? /^([\d/.-]+)(?:,? |T)(\d.*)$/.exec(tidy);
  const day = parts && readDay(parts[1], order);
  const clock = parts && readClock(parts[2]);
  return day && clock ? `${day}T${clock}` : "";
}

function write(iso, order) {
  const [day, clock] = iso.split("T");
  const [year, month, date] = day.split("-");
  const said = { "day first": `${date}/${month}/${year}`, "month first": `${month}/${date}/${year}` }[order] ?? day;
  return clock ? `${said} ${clock}` : said;
}

const hasTime = (field) => field.dataset.local === "time";

// What stands in a field: in ISO 8601 where it can be read, else as it was typed.
function valueOf(field) {
  return read(field.value, frameOf(field).dataset.order, hasTime(field)) || field.value;
}

function put(field, value) {
  const { order } = frameOf(field).dataset;
  const iso = read(value, order, hasTime(field));
  field.value = iso ? write(iso, order) : value;
  return say(field);
}

// Says in the clinic's words what was read; returns it.
function say(field) {
  const frame = frameOf(field);
  const iso = read(field.value, frame.dataset.order, hasTime(field));
  const said = iso && words(iso, frame.dataset);
  frame.querySelector("output").textContent = said;
  return said;
}

function words(iso, { order, days, months }) {
  const [day, clock] = iso.split("T");
  const [year, month, date] = day.split("-").map(Number);
  const weekday = days.split(" ")[(new Date(`${day}T00:00Z`).getUTCDay() + 6) % 7];
  const named = months.split(" ")[month - 1];
  const said = { "day first": `${date} ${named} ${year}`, "month first": `${named} ${date}, ${year}` }[order];
  return `${weekday} ${said ?? `${year} ${named} ${date}`}${clock ? `, ${clock.slice(0, 5)}` : ""}`;
}

function pick(frame) {
  const field = frame.querySelector("[data-local]");
  frame.querySelector(".native")?.remove();
  const native = Object.assign(document.createElement("input"), {
    type: hasTime(field) ? "datetime-local" : "date", className: "native", tabIndex: -1,
  });
  native.setAttribute("aria-hidden", "true");
  native.value = valueOf(field).slice(0, hasTime(field) ? 16 : 10);
  native.addEventListener("input", (event) => {
    event.stopPropagation();
    if (!native.value) return;
    put(field, native.value);
    field.dispatchEvent(new Event("input", { bubbles: true }));
  });
  frame.querySelector(".pick").after(native);
  try {
    native.showPicker();
  } catch {
    field.focus(); // a browser that opens none leaves the line of text
  }
}

// The first press into a field selects the date or the time, whichever was pressed, to be typed over.
let pressed = null;

function choosePart(field) {
  const gap = field.value.indexOf(" ");
  if (gap < 0 || field.selectionStart !== field.selectionEnd) return;
  if (field.selectionStart > gap) field.setSelectionRange(gap + 1, field.value.length);
  else field.setSelectionRange(0, gap);
}

document.addEventListener("pointerdown", ({ target }) => {
  pressed = target.dataset?.local && document.activeElement !== target ? target : null;
});
document.addEventListener("click", ({ target }) => {
  const button = target.closest?.(".pick");
  if (button) pick(frameOf(button));
  else if (pressed && target === pressed) choosePart(target);
  pressed = null;
});
document.addEventListener("input", ({ target }) => { if (target.dataset?.local) say(target); }, true);
document.addEventListener("change", ({ target }) => { if (target.dataset?.local) put(target, target.value); }, true);

export { put, read, say, valueOf, write };
