// The time of a form is now until somebody changes it or it is sent.

import { put, say, valueOf } from "./moments.js";

const fieldOf = (moment) => moment?.querySelector("input[data-local]");

function tick(form) {
  const moment = form.querySelector("[data-moment]");
  const field = fieldOf(moment);
  if (!field || moment.open || form.dataset.timed) return;
  field.dataset.first ??= `${valueOf(field)}|${Date.now()}`;
  const [first, since] = field.dataset.first.split("|");
  const minutes = Math.floor((Date.now() - Number(since)) / 60000);
  if (!first || minutes < 1) return;
  // The clinic's clock as the server wrote it, moved on by what has passed here.
  const moved = new Date(Date.parse(`${first}Z`) + minutes * 60000).toISOString().slice(0, 16);
  put(field, moved);
  const shown = moment.querySelector("[data-now] bdi");
  if (shown) shown.textContent = moved.slice(11);
}

// What was kept has its own time, which is now no longer.
function settleTime(form, moment) {
  form.dataset.timed = "yes";
  moment.querySelector("input[name=when-now]")?.remove();
  const shown = moment.querySelector("[data-now]");
  const field = fieldOf(moment);
  if (shown && field) shown.textContent = say(field) || field.value;
}

export { settleTime, tick };
