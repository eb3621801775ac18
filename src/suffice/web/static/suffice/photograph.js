// Marks placed by touch, mouse or arrow keys. The fields of the form hold them: what is sent is what is typed
// there, so the page works alike without this script.
document.documentElement.classList.add("scripted");
const form = document.querySelector("[data-marking]");
const photo = form?.querySelector("[data-photo]");

if (form && photo) {
  const image = photo.querySelector("img");
  const dots = photo.querySelector("[data-dots]");
  const larger = photo.querySelector("[data-larger]");
  const said = form.querySelector("[data-said]");
  const now = form.querySelector("[data-now]");
  const undo = form.querySelector("[data-undo]");
  const buttons = [...form.querySelectorAll("[data-place]")];
  const most = Number(form.dataset.most);
  const width = Number(image.getAttribute("width"));
  const height = Number(image.getAttribute("height"));
  const ZOOM = 3;
  const history = [];
  let chosen = buttons[0];
  let held = null;

  const field = (key) => form.elements[key];
  const read = (key) => field(key).value.split(";").map((one) => one.trim()).filter(Boolean)
    .map((one) => one.split(/[\s,]+/).map(Number)).filter((pair) => pair.length === 2 && pair.every(Number.isFinite));
  const write = (key, marks) => {
    field(key).value = marks.map((pair) => pair.map((one) => Math.round(one * 10) / 10).join(" ")).join("; ");
  };
  const within = ([x, y]) => [Math.min(Math.max(x, 0), width), Math.min(Math.max(y, 0), height)];

  const dot = (x, y, kind) => {
    const one = document.createElementNS("http://www.w3.org/2000/svg", "circle");
    one.setAttribute("cx", x);
    one.setAttribute("cy", y);
    one.setAttribute("r", width / 110);
    if (kind) one.setAttribute("class", kind);
    return one;
  };

  const draw = () => {
    dots.replaceChildren();
    for (const button of buttons) {
      const marks = read(button.dataset.place);
      button.querySelector("[data-count]").textContent = marks.length || "";
      button.setAttribute("aria-pressed", String(button === chosen));
      for (const [x, y] of marks) dots.append(dot(x, y, "ring"), dot(x, y, button === chosen ? "now" : ""));
    }
    now.textContent = chosen.querySelector("span").textContent;
    undo.disabled = history.length === 0;
  };

  const choose = (button) => {
    chosen = button;
    draw();
  };

  // The next place that has no mark yet; the same one where all have.
  const next = () => {
    const from = buttons.indexOf(chosen);
    const order = [...buttons.slice(from + 1), ...buttons.slice(0, from)];
    return order.find((one) => read(one.dataset.place).length === 0) ?? chosen;
  };

  const add = (at) => {
    const key = chosen.dataset.place;
    const marks = read(key);
    if (marks.length >= most) return;
    write(key, [...marks, within(at)]);
    history.push(key);
    said.textContent = `${chosen.querySelector("span").textContent}: ${said.dataset.words}`;
    if (marks.length === 0) choose(next());
    else draw();
  };

  const place = (event) => {
    const box = image.getBoundingClientRect();
    return [((event.clientX - box.left) / box.width) * width, ((event.clientY - box.top) / box.height) * height];
  };

  const isInside = ([x, y]) => x >= 0 && y >= 0 && x <= width && y <= height;

  const magnify = (at) => {
    const box = image.getBoundingClientRect();
    const scale = box.width / width;
    const size = larger.width;
    const part = size / (ZOOM * scale);
    const pen = larger.getContext("2d");
    pen.fillStyle = "#000";
    pen.fillRect(0, 0, size, size);
    pen.drawImage(image, at[0] - part / 2, at[1] - part / 2, part, part, 0, 0, size, size);
    pen.strokeStyle = "#ffd400";
    pen.beginPath();
    pen.moveTo(size / 2, size / 2 - 12);
    pen.lineTo(size / 2, size / 2 + 12);
    pen.moveTo(size / 2 - 12, size / 2);
    pen.lineTo(size / 2 + 12, size / 2);
    pen.stroke();
    const [x, y] = [at[0] * scale, at[1] * scale];
    // Beside the finger, on the side where there is room.
    larger.style.left = `${Math.max(0, Math.min(box.width - size, x < box.width / 2 ? x + 40 : x - size - 40))}px`;
    larger.style.top = `${Math.max(0, Math.min(box.height - size, y - size - 20))}px`;
    larger.hidden = false;
  };

  photo.addEventListener("pointerdown", (event) => {
    if (event.button > 0) return;
    photo.setPointerCapture(event.pointerId);
    photo.focus({ preventScroll: true });
    held = place(event);
    magnify(held);
    event.preventDefault();
  });
  photo.addEventListener("pointermove", (event) => {
    if (!held) return;
    held = place(event);
    magnify(within(held));
  });
  photo.addEventListener("pointerup", () => {
    if (held && isInside(held)) add(held);
    held = null;
    larger.hidden = true;
  });
  photo.addEventListener("pointercancel", () => {
    held = null;
    larger.hidden = true;
  });

  const STEPS = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] };
  photo.addEventListener("keydown", (event) => {
    if (event.key === "Enter" || event.key === " ") {
      event.preventDefault();
      add([width / 2, height / 2]);
    }
    const step = STEPS[event.key];
    const key = history.at(-1);
    if (!step || !key) return;
    event.preventDefault();
    const far = event.shiftKey ? 10 : 1;
    const marks = read(key);
    const [x, y] = marks.pop() ?? [width / 2, height / 2];
    write(key, [...marks, within([x + far * step[0], y + far * step[1]])]);
    draw();
  });

  for (const button of buttons) button.addEventListener("click", () => choose(button));
  undo.addEventListener("click", () => {
    const key = history.pop();
    write(key, read(key).slice(0, -1));
    choose(buttons.find((one) => one.dataset.place === key));
  });
  const numbers = form.querySelector("[data-numbers]");
  // What was refused is corrected there.
  numbers.open = document.querySelector("[role=alert]") !== null;
  numbers.addEventListener("input", draw);
  choose(read(chosen.dataset.place).length ? next() : chosen);
}
