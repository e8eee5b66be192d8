"""What every page keeps: axe finds nothing, nothing sticks out, targets are large, no bare code."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from support.pictures import unstick

if TYPE_CHECKING:
    from playwright.sync_api import Page

AXE = Path(__file__).resolve().parents[2] / "web/tools/node_modules/axe-core/axe.min.js"
# Smallest target of the product: 48 CSS px (WCAG 2.2, 2.5.8 asks for 24); the pill for the
# emergency page and the rail of the office, pointed at with a mouse, may be 42 px.
LEAST_TOUCH_PX = 44
_RUN_AXE = """async () => (await axe.run(document, {
    runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'],
    resultTypes: ['violations'] })).violations
    .map((v) => [v.id, v.nodes.map((n) => n.target.join(' ')).slice(0, 5)])"""
_TOO_WIDE = """() => [...document.querySelectorAll('body *')]
    .filter((e) => !e.closest('.table-frame, .visually-hidden, [aria-hidden]')
        && (e.getBoundingClientRect().right > innerWidth + 1 || e.getBoundingClientRect().left < -1))
    .map((e) => `${e.tagName}.${e.className} ${e.textContent.slice(0, 40)}`)"""
_TOO_SMALL = """(least) => [...document.querySelectorAll('a, button, input, select, textarea, label.choice')]
    .filter((e) => e.checkVisibility() && !e.closest('.choice') && !e.matches('.syncline, .visually-hidden')
        && getComputedStyle(e).display !== 'inline')
    .map((e) => [e.className || e.tagName, Math.min(e.offsetWidth, e.offsetHeight)])
    .filter(([, size]) => size < least)"""
_BARE_CODES = r"() => document.body.innerText.match(/\b[a-z_]+(\.[a-z_]+){1,}\b/g) ?? []"


def axe_findings(page: Page) -> list[Any]:
    """Return what axe finds, as (rule, places). Lets go of what sticks to the screen."""
    if not AXE.exists():
        raise AssertionError("axe-core is missing: run `npm ci` in web/tools")
    unstick(page)  # a target half under the foot is a matter of scrolling, not of size
    page.evaluate("() => Promise.all(document.getAnimations().map((one) => one.finished))")
    if not page.evaluate("() => 'axe' in window"):
        page.evaluate(AXE.read_text() + "; true")
    found: list[Any] = page.evaluate(_RUN_AXE)
    return found


def too_wide(page: Page) -> list[str]:
    """Return what sticks out of the screen sideways."""
    found: list[str] = page.evaluate(_TOO_WIDE)
    if page.evaluate("() => document.documentElement.scrollWidth > innerWidth"):
        found.append("the page itself")
    return found


def too_small(page: Page) -> list[Any]:
    """Return the targets that a gloved finger misses, as (class, px)."""
    found: list[Any] = page.evaluate(_TOO_SMALL, LEAST_TOUCH_PX)
    return found


def bare_codes(page: Page) -> list[str]:
    """Return message codes shown in place of words: a code without a message shows as itself."""
    found: list[str] = page.evaluate(_BARE_CODES)
    # the trade's abbreviation stands in names of products
    return [code for code in found if code != "a.i"]
