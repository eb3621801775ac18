// Passkeys: the page asks the server for a question, the device answers it, and a form carries the answer.
// A browser without them shows no button for them: everybody can sign in without a passkey.
const can = () =>
  window.PublicKeyCredential?.parseRequestOptionsFromJSON && window.PublicKeyCredential?.parseCreationOptionsFromJSON;

async function question(form) {
  const body = new FormData(form);
  body.set("do", "begin");
  const answer = await fetch(form.action, { method: "POST", body, headers: { "X-Passkey": "1" } });
  if (!answer.ok) throw new Error("no question");
  return answer.json();
}

async function answered(form) {
  const asked = await question(form);
  const credential = form.dataset.passkey === "add"
    ? await navigator.credentials.create({ publicKey: PublicKeyCredential.parseCreationOptionsFromJSON(asked) })
    : await navigator.credentials.get({ publicKey: PublicKeyCredential.parseRequestOptionsFromJSON(asked) });
  return JSON.stringify(credential.toJSON());
}

for (const form of document.querySelectorAll("form[data-passkey]")) {
  form.hidden = !can();
  form.addEventListener("submit", async (event) => {
    if (form.elements.answer.value) return;
    event.preventDefault();
    const failed = form.querySelector("[data-failed]");
    failed.hidden = true;
    try {
      form.elements.answer.value = await answered(form);
    } catch {
      // The person thought better of it, or the device has no key for this place.
      failed.hidden = false;
      return;
    }
    form.submit();
  });
}
