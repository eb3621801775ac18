// Reads the weights of a chart one by one: under a finger or a mouse, and with two buttons. The
// drawing, its names and the table below it are all there without this.

const NEAR_PX = 28;

function readable(figure) {
  const reading = figure.querySelector(".reading");
  const says = reading?.querySelector("bdi");
  if (!says) return;
  const drawings = [...figure.querySelectorAll(".drawing")];
  const count = drawings[0].querySelectorAll(".point").length;
  const back = reading.querySelector("[data-step='-1']");
  const on = reading.querySelector("[data-step='1']");
  let at = count - 1;

  function read(place) {
    at = Math.max(0, Math.min(count - 1, place));
    for (const drawing of drawings) {
      drawing.querySelectorAll(".point").forEach((point, n) => point.classList.toggle("read", n === at));
    }
    says.textContent = drawings[0].querySelectorAll(".point")[at].querySelector("title").textContent;
    back.setAttribute("aria-disabled", String(at === 0));
    on.setAttribute("aria-disabled", String(at === count - 1));
  }

  function nearest(event) {
    let found = -1;
    let least = NEAR_PX;
    event.currentTarget.querySelectorAll(".point").forEach((point, n) => {
      const box = point.getBoundingClientRect();
      const away = Math.hypot(event.clientX - box.x - box.width / 2, event.clientY - box.y - box.height / 2);
      if (away < least) [found, least] = [n, away];
    });
    if (found >= 0 && found !== at) read(found);
  }

  for (const drawing of drawings) {
    drawing.addEventListener("pointermove", nearest);
    drawing.addEventListener("pointerdown", nearest);
  }
  for (const button of [back, on]) button.addEventListener("click", () => read(at + Number(button.dataset.step)));
  on.setAttribute("aria-disabled", "true");
  reading.hidden = false;
}

for (const figure of document.querySelectorAll(".chart")) readable(figure);
