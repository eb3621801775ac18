// The fields of a form: what stands in them, what was changed, and how they are filled in.

import { put, valueOf } from "./moments.js";

function fieldsOf(form, submitter) {
  const local = new Map([...form.querySelectorAll("input[data-local]")].map((one) => [one.name, one]));
  const secret = new Set([...form.querySelectorAll("input[type=password]")].map((one) => one.name));
  const data = [...new FormData(form)];
  if (submitter?.name) data.push([submitter.name, submitter.value]);
  return data.filter(
    ([name, value]) => name !== "csrfmiddlewaretoken" && typeof value === "string" && !secret.has(name),
  ).map(([name, value]) => [name, local.has(name) ? valueOf(local.get(name)) : value]);
}

// Puts fields into a form: all of them, or those of some names.
function fill(form, fields, names = null) {
  const isMeant = (name) => !names || names.has(name);
  const times = new Map();
  for (const box of form.querySelectorAll("input[type=checkbox], input[type=radio]")) {
    if (isMeant(box.name)) box.checked = false;
  }
  for (const [name, value] of fields.filter(([one]) => isMeant(one))) {
    const nth = times.get(name) ?? 0;
    times.set(name, nth + 1);
    const all = [...form.elements].filter((one) => one.name === name && one.type !== "submit");
    const choice = all.find((one) => ["radio", "checkbox"].includes(one.type) && one.value === value);
    if (choice) choice.checked = true;
    else if (all[nth]?.dataset.local) put(all[nth], value);
    else if (all[nth] && !["radio", "checkbox"].includes(all[nth].type)) all[nth].value = value;
  }
}

// The names of fields that were changed since they were sent.
function changedSince(form, fields) {
  const said = (all, name) => JSON.stringify(all.filter(([one]) => one === name).map(([, value]) => value));
  const now = fieldsOf(form);
  const names = [...form.elements].filter((one) => one.type !== "submit").map((one) => one.name);
  return new Set(names.filter((name) => name && said(now, name) !== said(fields, name)));
}

// The names of what was changed before this script ran: a hand may be quicker than a slow network.
function typedAlready(form) {
  const usual = (list) => Math.max(0, [...list.options].findIndex((one) => one.defaultSelected));
  const isTyped = (one) => {
    if (one.options) return one.selectedIndex !== usual(one);
    return ["checkbox", "radio"].includes(one.type) ? one.checked !== one.defaultChecked : one.value !== one.defaultValue;
  };
  const asked = [...form.elements].filter((one) => one.name && !["hidden", "submit"].includes(one.type));
  return new Set(asked.filter(isTyped).map((one) => one.name));
}

export { changedSince, fieldsOf, fill, typedAlready };
