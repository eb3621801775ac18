// A file that takes longer to send and to read than a moment: the page says so, how far it is, and can be left.
// Leaving gives up the request; nothing of a file is stored before it is imported.

const MOMENT_MS = 500;
const WHOLE = 100;

for (const form of document.querySelectorAll("form:has([data-busy])")) ready(form);

function ready(form) {
  const busy = form.querySelector("[data-busy]");
  let timer;
  let asking;

  const begin = () => {
    timer = setTimeout(() => {
      busy.hidden = false;
      busy.scrollIntoView({ block: "nearest" });
    }, MOMENT_MS);
  };
  const end = () => {
    clearTimeout(timer);
    clearInterval(asking);
    busy.hidden = true;
    show(busy, null);
    delete form.dataset.sent;
  };
  const askHowFar = (address) => {
    asking = setInterval(async () => {
      const answer = await fetch(address, { headers: { Accept: "application/json" } }).catch(() => null);
      if (!answer?.ok || answer.status === 204) return;
      const { done, total } = await answer.json();
      show(busy, done / total);
    }, MOMENT_MS);
  };

  form.addEventListener("submit", (event) => {
    if (event.defaultPrevented) return;
    begin();
    if (busy.dataset.busy) askHowFar(busy.dataset.busy);
    if (form.enctype !== "multipart/form-data") return;
    event.preventDefault();
    send(form, (part) => show(busy, part), { end, askHowFar });
  });
  addEventListener("pageshow", end);
  form.addEventListener("stayed", end); // staying.js kept it from being sent
}

// Sent by the page itself, because a browser does not say how much of a file it has sent.
function send(form, sent, { end, askHowFar }) {
  const request = new XMLHttpRequest();
  request.open("POST", form.action);
  request.setRequestHeader("Accept", "application/json");
  request.upload.addEventListener("progress", (event) => {
    if (event.lengthComputable) sent(event.loaded < event.total ? event.loaded / event.total : null);
  });
  const failed = () => {
    end();
    form.querySelector("[data-not-sent]").hidden = false;
  };
  request.addEventListener("error", failed);
  request.addEventListener("load", () => {
    if (request.getResponseHeader("Content-Type")?.startsWith("application/json")) {
      const { next, reading } = JSON.parse(request.responseText);
      if (reading) askHowFar(reading);
      location.assign(next);
    } else if (request.responseURL.split("?")[0] !== form.action.split("?")[0]) {
      location.assign(request.responseURL); // signed out meanwhile
    } else {
      refused(request.responseText, failed);
    }
  });
  form.querySelector("[data-not-sent]").hidden = true;
  request.send(new FormData(form));
}

// The same page, which says what is wrong with the file.
function refused(html, failed) {
  const answer = new DOMParser().parseFromString(html, "text/html");
  const main = answer.querySelector("main");
  if (!main?.querySelector("form:has([data-busy])")) return failed();
  document.title = answer.title;
  document.querySelector("main").replaceWith(main);
  ready(main.querySelector("form:has([data-busy])"));
  (main.querySelector("[role=alert]") ?? main.querySelector("[aria-invalid=true]"))?.scrollIntoView();
  main.querySelector("[aria-invalid=true]")?.focus();
}

function show(busy, part) {
  const bar = busy.querySelector("progress");
  const percent = busy.querySelector("[data-percent]");
  if (part === null) bar.removeAttribute("value");
  else bar.value = part;
  percent.textContent = part === null ? "" : `${Math.floor(part * WHOLE)}\u00a0%`;
}
