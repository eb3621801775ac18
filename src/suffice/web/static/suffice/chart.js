// Draws a chart in the browser, so that each weight can be pointed at. Until it is drawn, and
// wherever it cannot be, the image of the same chart stays in its place.

const source = document.querySelector("meta[name=vega]")?.content;
const dark = matchMedia("(prefers-color-scheme: dark)");

async function draw(figure) {
  const place = figure.querySelector(".live");
  const address = new URL(figure.dataset.chart, location.href);
  address.searchParams.set("theme", dark.matches ? "dark" : "light");
  address.searchParams.set("width", String(Math.max(240, Math.min(1600, Math.floor(figure.clientWidth)))));
  const answer = await fetch(address, { credentials: "same-origin" });
  if (!answer.ok) return;
  await window.vegaEmbed(place, await answer.json(), {
    actions: false,
    ast: true, // expressions are interpreted: the content security policy forbids eval
    defaultStyle: false,
    renderer: "svg",
    tooltip: { disableDefaultStyle: true },
  });
  place.hidden = false;
}

function drawAll() {
  for (const figure of document.querySelectorAll("[data-chart]")) draw(figure).catch(() => {});
}

const figures = document.querySelectorAll("[data-chart]");
if (source && figures.length) {
  const script = document.createElement("script");
  script.src = source;
  script.type = "module";
  script.addEventListener("load", drawAll);
  document.head.append(script);
  dark.addEventListener("change", drawAll);
  let waiting;
  let width = innerWidth;
  addEventListener("resize", () => {
    if (innerWidth === width) return;
    width = innerWidth;
    clearTimeout(waiting);
    waiting = setTimeout(drawAll, 300);
  });
}
