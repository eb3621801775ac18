// What waits on this device to be sent goes after a day, also where nobody signs in any more, and from under a
// page that stays open. forms.js and unsent_photographs.js keep it, and erase it for every other reason.

const DAY_MS = 24 * 60 * 60 * 1000;
const AGAIN_MS = 10 * 60 * 1000;
const SET_BACK_MS = 60 * 60 * 1000;
const MARK = "suffice:unsent:";

// A device's clock may be put right by a little after something was typed: that is new, and nobody has it yet.
export function isOld(at) {
  const age = Date.now() - (at ?? 0);
  return !(age > -SET_BACK_MS && age < DAY_MS);
}

function eraseTyped() {
  for (const key of Object.keys(localStorage).filter((one) => one.startsWith(MARK))) {
    let at = 0;
    try {
      at = JSON.parse(localStorage.getItem(key))?.at;
    } catch {
      // What cannot be read can be sent by nobody.
    }
    if (isOld(at)) localStorage.removeItem(key);
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
      if (isOld(found.value.at)) found.delete();
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
