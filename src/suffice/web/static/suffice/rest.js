// What was sent may change what the page says. It is loaded again once the hand rests: never under it, nor
// under a form that is open over it, nor over what was written into a form that is kept nowhere else, nor over
// what has just followed from an answer and was not seen yet.

const REST_MS = 4 * 1000;

let touched = Date.now();
for (const kind of ["pointerdown", "keydown", "input"]) {
  addEventListener(kind, () => { touched = Date.now(); }, { capture: true, passive: true });
}

function isChanged(field) {
  if (["radio", "checkbox"].includes(field.type)) return field.checked !== field.defaultChecked;
  if (field.matches("select")) return field.selectedIndex !== Math.max(0, [...field.options].findLastIndex((one) => one.defaultSelected));
  return field.matches("input, textarea") && field.value !== field.defaultValue;
}

function isWritten() {
  const forms = document.querySelectorAll("main form[method=post]:not([data-kept], [data-answer])");
  return [...forms].some((form) => [...form.elements].some(isChanged));
}

export function loadAtRest() {
  const isBusy = document.activeElement?.matches("input, select, textarea") || document.querySelector("dialog[open], .follows details[open]:not([hidden])");
  if (isBusy || isWritten() || Date.now() - touched < REST_MS) setTimeout(loadAtRest, REST_MS);
  else location.reload();
}
