"""Drawings as a browser sets them, in its own face: what was laid out on the server holds there."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from browser.conftest import Visit

WIDTHS = (320, 390, 600, 768, 1024, 1366)
LEAST_TYPE_PX = 11.9
FAMILIES = (
    "Marguerite Okoro-Santos",  # twins, milk given
    "Chiamaka Delacroix",  # a doubted weight
    "Fionnuala Tanaka",  # preterm, refused
    "Noor Haverkamp",
    "Halcyon Petrosyan",
)
FAULTS = """() => {
  const found = [];
  const meet = (a, b) => a.left < b.right - 0.5 && b.left < a.right - 0.5 &&
                         a.top < b.bottom - 0.5 && b.top < a.bottom - 0.5;
  for (const svg of document.querySelectorAll('.drawing, .gauge')) {
    if (!svg.checkVisibility()) continue;
    const edge = svg.getBoundingClientRect();
    const texts = [...svg.querySelectorAll('text')].filter(one => one.checkVisibility());
    const boxes = texts.map(one => {
      const box = one.getBoundingClientRect(), less = box.height * 0.15;
      return {left: box.left, right: box.right, top: box.top + less, bottom: box.bottom - less};
    });
    const points = [...svg.querySelectorAll('circle')].map(one => one.getBoundingClientRect());
    texts.forEach((text, n) => {
      const px = parseFloat(getComputedStyle(text).fontSize) * edge.width /
                 svg.viewBox.baseVal.width;
      if (px < LEAST) found.push(`${text.textContent}: ${px.toFixed(1)} px`);
      const box = boxes[n];
      if (box.left < edge.left - 0.5 || box.right > edge.right + 0.5 ||
          box.top < edge.top - 0.5 || box.bottom > edge.bottom + 0.5)
        found.push(`${text.textContent} leaves the drawing`);
      boxes.slice(n + 1).forEach((other, m) => {
        if (meet(box, other))
          found.push(`${text.textContent} meets ${texts[n + 1 + m].textContent}`);
      });
      if (points.some(one => meet(box, one))) found.push(`${text.textContent} covers a point`);
    });
  }
  return found;
}""".replace("LEAST", str(LEAST_TYPE_PX))


@pytest.mark.parametrize("name", FAMILIES)
def test_no_word_of_a_drawing_is_small_cut_off_or_over_something(visit: Visit, name: str) -> None:
    page = visit("/?discharged=1&whole=1")
    page.get_by_role("link", name=name).click()
    page.locator("h2[id^=infant]").first.wait_for()
    page.evaluate("document.querySelectorAll('main details').forEach(one => (one.open = true))")
    page.evaluate(
        "document.querySelectorAll('.taught-control input').forEach(one => (one.checked = true))"
    )
    infants = page.locator("figure.chart:not(.paper *)").count()
    faults = {}
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        expect(page.locator(".drawing:not(.paper *):visible")).to_have_count(infants)
        if found := page.evaluate(FAULTS):
            faults[width] = found
    assert infants > 0
    assert faults == {}


def test_a_word_over_a_point_is_found(visit: Visit) -> None:
    page = visit("/?discharged=1&whole=1")
    page.get_by_role("link", name=FAMILIES[1]).click()
    page.locator("figure.chart:not(.paper *)").first.wait_for()
    page.evaluate(
        """() => { const svg = [...document.querySelectorAll('.drawing')]
                     .find(one => one.checkVisibility());
                   const at = svg.querySelector('circle'), text = svg.querySelector('text');
                   text.setAttribute('x', at.getAttribute('cx'));
                   text.setAttribute('y', at.getAttribute('cy')) }"""
    )
    assert any("covers a point" in one for one in page.evaluate(FAULTS))


def test_the_taught_gain_is_shown_only_when_it_is_asked_for(visit: Visit) -> None:
    page = visit("/?discharged=1&whole=1", java_script_enabled=False)
    page.get_by_role("link", name=FAMILIES[1]).click()
    chart = page.locator("figure.chart:not(.paper *)").first
    wedge = chart.locator(".drawing.wide .area.taught, .drawing.middle .area.taught").last
    name = chart.locator(".of-taught:visible")
    assert not wedge.is_visible()
    assert name.count() == 0
    chart.get_by_label("Show the taught gain").check()
    assert wedge.is_visible()
    assert name.count() > 0


def test_the_intervals_of_the_gauge_are_drawn_when_they_are_opened(visit: Visit) -> None:
    page = visit("/?discharged=1&whole=1")
    page.get_by_role("link", name=FAMILIES[1]).click()
    figure = page.locator(".gauge-figure:not(.paper *)").first
    page.evaluate("document.querySelectorAll('details.block').forEach(one => (one.open = true))")
    ends = figure.locator(".gauge .rule")
    assert not ends.is_visible()
    figure.locator("summary").click()
    assert ends.is_visible()
    assert figure.get_by_role("rowheader", name="95\u00a0%").is_visible()
