"""The accessibility checker on a page: every rule of every element, contrast once for each look of a text.

To compute the contrast of a text the checker works out what lies under each of its letters: two thirds
of its time, and the same answer for each of fifty rows that are set alike. So of the texts that look alike
the first and the last are asked: those of one colour, size, weight and decoration, within the same kinds of
elements on the same grounds. Text in something positioned, which may lie over anything, is always asked.
"""

from __future__ import annotations

from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
CONTRAST, ENHANCED = "color-contrast", "color-contrast-enhanced"
"""All that another colour scheme of the same layout can break; the second asks for seven to one."""

MARK = """() => {
  const grounds = new Map();
  const groundOf = (element) => {
    if (element === null) return { key: '', isPlaced: false };
    if (!grounds.has(element)) {
      const under = groundOf(element.parentElement);
      const style = getComputedStyle(element);
      const key = [under.key, element.tagName, element.getAttribute('class'), style.backgroundColor,
        style.backgroundImage, style.opacity, style.filter].join('|');
      const isPlaced = under.isPlaced || ['absolute', 'fixed', 'sticky'].includes(style.position);
      grounds.set(element, { key, isPlaced });
    }
    return grounds.get(element);
  };
  const isText = (node) => node.nodeType === Node.TEXT_NODE && node.data.trim() !== '';
  const looks = new Map();
  for (const element of document.querySelectorAll('body, body *')) {
    element.removeAttribute('data-contrast');
    const says = [...element.childNodes].some(isText) || element.matches('input, select, textarea');
    if (!says || !element.checkVisibility()) continue;
    const ground = groundOf(element);
    const style = getComputedStyle(element);
    const look = ground.isPlaced ? element : [ground.key, style.color, style.fill, style.fontSize,
      style.fontWeight, style.textShadow, style.textDecorationLine, element.matches(':disabled')].join('|');
    if (!looks.has(look)) {
      element.setAttribute('data-contrast', '');
      looks.set(look, null);
    } else {
      looks.set(look, element);
    }
  }
  for (const last of looks.values()) last?.setAttribute('data-contrast', '');
}"""
ASK = """async (asked) => {
  const ofColours = ['color-contrast', 'color-contrast-enhanced'];
  axe.configure({ rules: ofColours.map((id) => ({ id, selector: '[data-contrast]' })) });
  const bars = [...document.querySelectorAll('.bar')];
  for (const bar of bars) bar.style.position = 'static';
  try {
    return await axe.run({ runOnly: asked, resultTypes: ['violations'] });
  } finally {
    for (const bar of bars) bar.style.removeProperty('position');
  }
}"""
"""The bar that stays at the edge of a window covers half of some control at one height of it or another, until
the page is moved by a line: while the checker looks, it stands at its place."""


def violations(page: Page, *rules: str) -> list[str]:
    """What breaks these rules or rules with these tags, or the usual ones: each with its first element."""
    if not page.evaluate("'axe' in window"):
        page.evaluate(Axe().axe_script)
    page.evaluate(MARK)
    found = page.evaluate(ASK, [*(rules or RULES)])["violations"]
    return [f"{one['id']}: {one['nodes'][0]['html'][:160]}" for one in found]
