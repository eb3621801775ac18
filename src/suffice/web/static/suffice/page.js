// Small comforts of every page. Nothing here is needed: without scripts each page works as it is.

// What is wrong with a form is read out and reached first.
document.getElementById("what-is-wrong")?.focus();
const refused = document.querySelector(".refused");
if (refused) {
  // A page that is loaded again would scroll back to what was answered, away from why it was not taken.
  history.scrollRestoration = "manual";
  window.addEventListener("pagehide", () => (history.scrollRestoration = "auto"));
  refused.focus();
}
document.getElementById("answer")?.focus();
// From the confirmation of what was saved, the next press of Tab reaches 'Correct'.
if (document.activeElement === document.body && document.querySelector("#done a")) {
  document.getElementById("done").focus({ preventScroll: true });
}

// A menu closes with Escape and when the focus leaves it.
for (const menu of document.querySelectorAll("[data-menu]")) {
  menu.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && menu.open) {
      menu.open = false;
      menu.querySelector("summary").focus();
    }
  });
  menu.addEventListener("focusout", (event) => {
    if (menu.open && event.relatedTarget && !menu.contains(event.relatedTarget)) menu.open = false;
  });
}

// A page that the browser kept whole is asked for anew: who goes back may not be who left it.
window.addEventListener("pageshow", (event) => {
  if (event.persisted) window.location.reload();
});

// A form that is on its way is not sent a second time; the server would ignore it anyway.
for (const form of document.querySelectorAll("form[data-once]:not([data-kept])")) {
  form.addEventListener("submit", (event) => {
    if (form.dataset.sent) event.preventDefault();
    form.dataset.sent = "yes";
  });
}

// A list that renews itself waits while somebody stands in it: their place would be lost.
document.addEventListener("htmx:beforeRequest", (event) => {
  const list = event.detail.elt;
  if (list.id === "list" && list.contains(document.activeElement)) event.preventDefault();
});

// Where there is room beside the chart, what is asked first stands open there.
if (window.matchMedia("(min-width: 62rem)").matches) {
  for (const block of document.querySelectorAll("details[data-beside]")) block.open = true;
}
