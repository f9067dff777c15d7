"""Text twice as large on a phone, and the narrowest screen: every control is there and can be hit.

WCAG 2.2, 1.4.4 asks for text at 200 per cent, 1.4.10 for 320 CSS pixels, both without losing anything.
"""

import json

import pytest

from tests.browser.chromium import PHONE
from tests.browser.test_axe import OPENED, OWNER, SIDEWAYS, addresses

pytestmark = pytest.mark.browser
TWICE = "document.documentElement.style.fontSize = '200%'"
NARROWEST = {"width": 320, "height": 640}
# A control that can't be brought into view, or lies under something else there.
LOST = """() => {
  const wide = document.documentElement.clientWidth, lost = [];
  const controls = "a[href], button, input:not([type=hidden]), select, textarea, summary";
  for (const each of document.querySelectorAll(controls)) {
    if (!each.checkVisibility() || each.matches(".skip, [aria-hidden=true]")) continue;
    const chosen = each.matches("[type=checkbox], [type=radio], [type=file]");
    const shown = chosen ? each.closest("label") ?? each : each;
    shown.scrollIntoView({ block: "center", inline: "nearest", behavior: "instant" });
    const box = shown.getClientRects()[0];
    const name = `${each.tagName} ${(each.name || shown.textContent).trim().slice(0, 40)}`;
    if (!box || !box.width || !box.height) { lost.push(`${name}: has no size`); continue; }
    const x = box.x + box.width / 2, y = box.y + box.height / 2;
    if (x < 0 || x > wide) { lost.push(`${name}: beyond the edge`); continue; }
    const hit = document.elementFromPoint(x, y);
    if (!hit || !shown.contains(hit)) lost.push(`${name}: under ${hit?.tagName} ${hit?.className}`);
  }
  return lost;
}"""


@pytest.mark.parametrize(
    ("size", "large"), [(PHONE, True), (NARROWEST, False)], ids=["twice the text", "320 pixels"]
)
def test_every_control_can_be_hit(door, size, large):
    page = door.look(OWNER)
    pages = addresses(page)
    page.set_viewport_size(size)
    bad = {}
    for address in pages:
        page.goto(address)
        if large:
            page.evaluate(TWICE)
        page.evaluate(OPENED.replace('"details"', '"details:not([data-menu])"'))
        found = page.evaluate(LOST)
        if over := page.evaluate(SIDEWAYS):
            found.append(f"scrolls sideways by {over} px")
        if found:
            bad[address] = found
    page.locator("details[data-menu] > summary").click()
    bad["the menu"] = page.evaluate(LOST.replace("(controls)", "('[data-menu] :is(' + controls + ')')"))
    bad = {address: found for address, found in bad.items() if found}
    assert bad == {}, json.dumps(bad, indent=1)
