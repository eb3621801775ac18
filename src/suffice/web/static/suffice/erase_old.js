// What waits on this device to be sent goes after a day, also where nobody signs in any more, and from under a
// page that stays open. forms.js and unsent_photographs.js keep it, and erase it for every other reason.

const DAY_MS = 24 * 60 * 60 * 1000;
const AGAIN_MS = 10 * 60 * 1000;
const SET_BACK_MS = 60 * 60 * 1000;
const MARK = "suffice:unsent:";

export const isOld = (at) => !(Date.now() - (at ?? 0) < DAY_MS);

// A device's clock may be put right after something was typed: nobody has that yet, and it is as new as it was.
// By how much all that was kept by the clock before is dated back, in its order; its day begins now.
function aheadBy(times) {
  const ahead = Math.max(...times) - Date.now();
  return ahead > SET_BACK_MS ? ahead : 0;
}

function keptTyped() {
  const found = [];
  for (const key of Object.keys(localStorage).filter((one) => one.startsWith(MARK))) {
    try {
      found.push([key, JSON.parse(localStorage.getItem(key))]);
    } catch {
      // What cannot be read can be sent by nobody.
      localStorage.removeItem(key);
    }
  }
  return found;
}

function eraseTyped() {
  const found = keptTyped();
  const ahead = aheadBy(found.map(([, one]) => one?.at ?? 0));
  for (const [key, one] of found) {
    const isAhead = ahead && one?.at > Date.now();
    if (isAhead) localStorage.setItem(key, JSON.stringify({ ...one, at: one.at - ahead }));
    else if (isOld(one?.at)) localStorage.removeItem(key);
  }
}

function erasePhotographs() {
  const asked = indexedDB.open("suffice-unsent", 1);
  // Where nothing was ever kept, no store is begun.
  asked.onupgradeneeded = () => asked.transaction.abort();
  asked.onsuccess = () => {
    const store = asked.result.transaction("photographs", "readwrite").objectStore("photographs");
    store.openCursor().onsuccess = (event) => {
      const found = event.target.result;
      if (!found) return;
      if (found.value.at - Date.now() > SET_BACK_MS) found.update({ ...found.value, at: Date.now() });
      else if (isOld(found.value.at)) found.delete();
      found.continue();
    };
    store.transaction.oncomplete = () => asked.result.close();
  };
}

function erase() {
  try {
    eraseTyped();
    erasePhotographs();
  } catch {
    // A browser that keeps nothing has nothing to erase.
  }
}

erase();
setInterval(erase, AGAIN_MS);
