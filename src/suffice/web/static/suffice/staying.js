// Without a connection the browser's own page of error would take away the one that is open, with what was
// tapped on it. So a link, a key or a button that needs the server leaves the page as it is, and says why.

import { TAPS, keys, tell, words } from "./forms.js";

const SMALL = new URL(import.meta.url).pathname;
const BLOCKS = "nav, section, details, form, p, li, td";
const WAITS_MS = 8 * 1000;

let told = null;
const known = new WeakSet();

function stay(from) {
  told?.remove();
  told = tell(from?.closest(BLOCKS) ?? document.querySelector("main"), words("no-page"));
  told.scrollIntoView({ block: "nearest" });
  addEventListener("online", () => told.remove(), { once: true });
}

// A device may be in a network that leads nowhere: while something waits to be sent the server is asked first.
// It may also be in none, and run the server itself: what the browser says of its networks decides nothing.
const isDoubtful = () => navigator.onLine === false || keys(TAPS).length > 0;

async function isThere() {
  try {
    await fetch(SMALL, { method: "HEAD", cache: "no-store", signal: AbortSignal.timeout(WAITS_MS) });
    return true;
  } catch {
    return false;
  }
}

async function leave(address, from = null) {
  if (isDoubtful() && !(await isThere())) return stay(from);
  location.assign(address);
}

const isHere = (link) => link.hash && link.pathname === location.pathname && link.search === location.search;

// After every other script had its say: what one of them does itself is not a page to load.
addEventListener("click", (event) => {
  const link = event.target.closest?.("a[href]");
  const plain = event.button === 0 && !(event.metaKey || event.ctrlKey || event.shiftKey || event.altKey);
  if (!link || !plain || event.defaultPrevented || link.target || link.origin !== location.origin) return;
  if (isHere(link) || !isDoubtful()) return;
  event.preventDefault();
  leave(link.href, link);
});

addEventListener("submit", async (event) => {
  const form = event.target, submitter = event.submitter;
  // Who signs out leaves, whatever comes then.
  if (event.defaultPrevented || form.hasAttribute("data-sign-out") || navigator.onLine !== false) return;
  if (known.delete(form)) return;
  event.preventDefault();
  const isKnown = await isThere();
  form.removeAttribute("data-sent");
  form.dispatchEvent(new Event("stayed"));
  if (!isKnown) return stay(submitter ?? form);
  known.add(form);
  form.requestSubmit(submitter);
});

export { leave };
