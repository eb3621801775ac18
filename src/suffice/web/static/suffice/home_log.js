// A tap on a box of the log ticks it, a second one makes it two, after three it is empty again.
// By keyboard a digit is typed; without this script too.

const MOST = 3;

document.addEventListener("pointerdown", (event) => {
  const box = event.target.closest("input.tick");
  // The keyboard of a telephone would cover the grid.
  if (box) event.preventDefault();
});

document.addEventListener("click", (event) => {
  const box = event.target.closest("input.tick");
  // A click that a key made belongs to the key.
  if (!box || event.detail === 0) return;
  const count = Number.parseInt(box.value, 10) || 0;
  box.value = count >= MOST ? "" : String(count + 1);
  box.dispatchEvent(new Event("input", { bubbles: true }));
});

document.addEventListener("keydown", (event) => {
  const box = event.target.closest?.("input.tick");
  if (!box || event.key !== " ") return;
  event.preventDefault();
  box.value = box.value ? "" : "1";
  box.dispatchEvent(new Event("input", { bubbles: true }));
});
