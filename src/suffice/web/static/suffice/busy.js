// A file that takes longer to send and to read than a moment: the page says so and can be left.
// Leaving gives up the request; nothing of a file is stored before it is imported.

const MOMENT_MS = 500;

for (const form of document.querySelectorAll("form:has([data-busy])")) {
  const busy = form.querySelector("[data-busy]");
  let timer;
  form.addEventListener("submit", () => {
    timer = setTimeout(() => {
      busy.hidden = false;
      busy.scrollIntoView({ block: "nearest" });
    }, MOMENT_MS);
  });
  addEventListener("pageshow", () => {
    clearTimeout(timer);
    busy.hidden = true;
  });
}
