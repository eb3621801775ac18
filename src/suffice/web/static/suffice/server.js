// What the server is asked from a page: a form's fields, sent with a token that holds now.

const HEAD = document.querySelector("meta[name=user]");
const SIGN_IN = HEAD?.dataset.signIn;

// None where nobody is signed in any more, or somebody else: what one has written is not sent in another's name.
async function freshToken(address) {
  const answer = await fetch(address || location.href, { headers: { accept: "text/html" } });
  if (new URL(answer.url).pathname === SIGN_IN) return null;
  const page = new DOMParser().parseFromString(await answer.text(), "text/html");
  if (page.querySelector("meta[name=user]")?.content !== HEAD?.content) return null;
  return page.querySelector("input[name=csrfmiddlewaretoken]")?.value ?? null;
}

async function post(action, fields, token) {
  const body = new URLSearchParams([...fields, ["csrfmiddlewaretoken", token]]);
  return fetch(action, { method: "POST", body, headers: { "X-Kept-Form": "yes" } });
}

const isSignedOut = (answer) => answer.status === 401 || (answer.redirected && new URL(answer.url).pathname === SIGN_IN);

// As crypto.randomUUID, which a page reached without HTTPS does not have.
function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((one) => one.toString(16).padStart(2, "0")).join("");
  return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
}

export { SIGN_IN, freshToken, isSignedOut, newId, post };
