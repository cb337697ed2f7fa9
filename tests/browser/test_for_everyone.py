"""Accessibility by axe, small screens, targets for thumbs, nothing that jumps: every page, dark and light.

References: WCAG 2.2 AA as axe-core checks it; its 2.5.5 for targets of 44 px, 1.4.10 for 320 px without scrolling
across.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import Page, expect

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
FINDS = "item-1=Harbour+Songs&sells-1=9&chance-1=0.2&chance_polished-1=0.9&asked-1=1"
PAGES = {
    "first": "/", "stack": "/stack", "review": "/stack/2", "calculator": "/worth?sells=15&chance=0.3&polish_fee=4",
    "wrong": "/worth?sells=x", "basket": f"/basket?budget=10&{FINDS}", "trip": f"/trip?fee=3&{FINDS}",
    "ledger": "/ledger", "item": "/ledger/1", "listing": "/ledger/1/listing", "learning": "/learning",
    "nowhere": "/nowhere",
}  # fmt: skip
SHIFTS = """new Promise(done => { let sum = 0;
new PerformanceObserver(list => { for (const one of list.getEntries()) sum += one.value; })
  .observe({type: 'layout-shift', buffered: true});
setTimeout(() => done(sum), 300); })"""
SMALL = """[...document.querySelectorAll('a, button, summary, input, select, textarea')].filter(one => {
  const box = one.getBoundingClientRect();
  const inText = one.matches('a:not(.button)') && one.parentElement.matches('.crumb, .wrong');
  const shown = box.width > 1 && one.checkVisibility() && !one.matches('.skip, .mark, label > input');
  return shown && !inText && (box.height < 43.5 || box.width < 43.5);
}).map(one => one.outerHTML.slice(0, 120))"""


@pytest.fixture
def visit(open_page: Callable[..., Page], site: Any, send: Callable[[Page], None]) -> Callable[..., Page]:
    """A page with something on it: a judged photo, an item, a lesson."""
    from datetime import date
    from decimal import Decimal

    site.shelf.write("bought", what="Harbour Songs", day=date(2026, 10, 3), amount=Decimal("1.50"), source="a stall")
    site.shelf.write("tested", what="Harbour Songs", day=date(2026, 10, 4), good=True)
    site.shelf.learn()

    def visited(name: str, size: tuple[int, int], **settings: Any) -> Page:
        if name == "answer":
            page = open_page("/", size, **settings)
            send(page)
            expect(page.locator(".verdict")).to_be_visible()
            return page
        return open_page(PAGES[name], size, **settings)

    return visited


def test_axe_sees_what_is_wrong(visit: Callable[..., Page]) -> None:
    """So that finding nothing says something."""
    page = visit("calculator", (390, 844))
    page.evaluate("document.querySelector('label').remove(); document.querySelector('h1').style.color = '#ccc'")
    found = {one["id"] for one in Axe().run(page, options={"runOnly": RULES}).response["violations"]}
    assert {"label", "color-contrast"} <= found


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("name", [*PAGES, "answer"])
def test_axe_finds_nothing_and_nothing_jumps(
    visit: Callable[..., Page], name: str, size: tuple[int, int], scheme: str
) -> None:
    page = visit(name, size, color_scheme=scheme)
    assert page.evaluate(SHIFTS) < 0.01
    page.locator("details").evaluate_all("all => all.forEach(one => one.open = true)")
    found = Axe().run(page, options={"runOnly": RULES}).response["violations"]
    assert not [(one["id"], [node["html"] for node in one["nodes"]]) for one in found]


@pytest.mark.parametrize("name", [*PAGES, "answer"])
def test_320_pixels_are_enough_and_a_thumb_finds_its_targets(visit: Callable[..., Page], name: str) -> None:
    page = visit(name, (320, 640))
    page.locator("details").evaluate_all("all => all.forEach(one => one.open = true)")
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    assert page.evaluate(SMALL) == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_of_a_stack_passes_too(browser: Any, site: Any, size: tuple[int, int], scheme: str) -> None:
    context = browser.new_context(viewport={"width": size[0], "height": size[1]}, color_scheme=scheme)
    page = context.new_page()
    page.goto((site.stack / "stack.html").as_uri())
    found = Axe().run(page, options={"runOnly": RULES}).response["violations"]
    assert not [(one["id"], [node["html"] for node in one["nodes"]]) for one in found]
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]
    assert page.locator(".sheet img").count() == 3
    context.close()
