"""Draw every screen as a picture, so that a person can look at many at once.

`python -m support.pictures` from tests/ (or `deploy/test.sh pictures`) writes PNG files and
contact sheets to pictures/ at the top of the repository, which git ignores. A test that finds
nothing wrong with a page still says nothing about how it looks to somebody in gloves.
"""

from __future__ import annotations

import argparse
import atexit
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image, ImageDraw
from playwright.sync_api import sync_playwright

from support.gallery_server import gallery_server
from support.live_server import live_server
from tepal.services.demo import PASSWORD, PEOPLE

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from playwright.sync_api import Browser, BrowserContext, Page, Playwright

PICTURES = Path(__file__).resolve().parents[2] / "pictures"
CHROMIUM = "/usr/bin/chromium-headless-shell"  # a third less work than the whole browser
CHROMIUM_ARGS = (
    "--no-sandbox",
    "--disable-gpu",  # drawn by the processor alone: less work than a GPU that is not there
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    # a microphone that beeps, and nobody to ask whether it may be used
    "--use-fake-device-for-media-stream",
    "--use-fake-ui-for-media-stream",
)
GALLERY_PAGES = ("today", "apply", "measure", "fields", "pieces", "office", "form")
PRODUCT_PATHS = (
    "/today", "/apply", "/sync", "/lots", "/applications", "/mixes", "/products", "/houses",
    "/people", "/decide", "/emergency", "/board", "/orders", "/print", "/files",
    "/orders/new", "/calendar",
)  # fmt: skip
# What a phone says it is, so that a page gives the advice for phones.
_PHONE_AGENT = (
    "Mozilla/5.0 (Linux; Android 15; Phone) AppleWebKit/537.36 (KHTML, like Gecko) "
    "Chrome/140.0.0.0 Mobile Safari/537.36"
)
_CONTACT_HEIGHT = 900  # px of one picture on a contact sheet
_LABEL_HEIGHT = 26


@dataclass(frozen=True, slots=True)
class Screen:
    """A size of screen: CSS pixels, whether it is touched, and how large its text is."""

    name: str
    width: int
    height: int
    is_touch: bool
    text_percent: int = 100


PHONE = Screen("phone", 390, 844, is_touch=True)
SMALL = Screen("small", 320, 640, is_touch=True)
OFFICE = Screen("office", 1280, 800, is_touch=False)
ZOOMED = Screen("zoomed", 390, 844, is_touch=True, text_percent=200)


@cache
def driver() -> Playwright:
    """Return this process's one Playwright: a second one beside it does not start."""
    running = sync_playwright().start()
    atexit.register(running.stop)
    return running


@contextmanager
def chromium() -> Iterator[Browser]:
    """Run one headless browser, for programs; tests share the fixture `browser`."""
    browser = driver().chromium.launch(
        executable_path=CHROMIUM, args=list(CHROMIUM_ARGS), headless=True
    )
    try:
        yield browser
    finally:
        browser.close()


def context_for(browser: Browser, screen: Screen, *, with_worker: bool = False) -> BrowserContext:
    """Return a fresh browser profile for a screen, without motion."""
    return browser.new_context(
        viewport={"width": screen.width, "height": screen.height},
        has_touch=screen.is_touch,
        is_mobile=screen.is_touch,
        user_agent=_PHONE_AGENT if screen.is_touch else None,
        reduced_motion="reduce",
        service_workers="allow" if with_worker else "block",
        locale="en-US",
        timezone_id="America/New_York",
    )


def zoom_text(page: Page, screen: Screen) -> None:
    """Enlarge the text alone, as a phone's own text size does."""
    if screen.text_percent != 100:
        percent = 106.25 * screen.text_percent / 100  # base.css: 17 px at 100 %
        page.evaluate(
            "(size) => { const root = document.documentElement;"
            " root.style.fontSize = size; root.dataset.text = 'large' }",
            f"{percent}%",
        )


def unstick(page: Page) -> None:
    """Let go of what sticks to the screen and would hide a part of the page."""
    page.evaluate(
        "for (const e of document.querySelectorAll('.foot,.frame-top,.rail'))"
        " e.style.position = 'static'"
    )


def draw(page: Page, path: Path, *, is_whole: bool) -> None:
    """Write one picture: the screen as it opens, or the whole page with its foot let go."""
    path.parent.mkdir(parents=True, exist_ok=True)
    page.evaluate("document.fonts.ready.then(() => true)")
    if is_whole:
        unstick(page)
    page.screenshot(path=path, full_page=is_whole)


def contact_sheet(paths: Sequence[Path], target: Path, columns: int = 5) -> None:
    """Put pictures side by side, each with its file name."""
    tiles = []
    for path in paths:
        picture = Image.open(path).convert("RGB")
        scale = min(1.0, _CONTACT_HEIGHT / picture.height)
        size = (max(1, int(picture.width * scale)), max(1, int(picture.height * scale)))
        tiles.append((path.stem, picture.resize(size)))
    rows = [tiles[at : at + columns] for at in range(0, len(tiles), columns)]
    width = max(sum(tile.width + 8 for _, tile in row) for row in rows)
    heights = [max(tile.height for _, tile in row) + _LABEL_HEIGHT for row in rows]
    sheet = Image.new("RGB", (width, sum(heights)), "#808080")
    pen = ImageDraw.Draw(sheet)
    top = 0
    for row, height in zip(rows, heights, strict=True):
        left = 0
        for name, tile in row:
            pen.text((left + 4, top + 6), name, fill="white")
            sheet.paste(tile, (left, top + _LABEL_HEIGHT))
            left += tile.width + 8
        top += height
    sheet.save(target)


def draw_gallery(
    browser: Browser,
    screens: Sequence[Screen] = (PHONE, OFFICE),
    themes: Sequence[str] = ("light", "dark", "sun"),
    languages: Sequence[str] = ("en", "es"),
    pages: Sequence[str] = GALLERY_PAGES,
) -> None:
    """Draw the component gallery: a contact sheet for each screen, theme and language."""
    folder = PICTURES / "gallery"
    with gallery_server() as address:
        for screen in screens:
            with context_for(browser, screen) as context:
                page = context.new_page()
                for theme in themes:
                    for language in languages:
                        drawn = []
                        for name in pages:
                            mark = "&" if "?" in name else "?"
                            page.goto(f"{address}/{name}{mark}theme={theme}&lang={language}")
                            page.wait_for_selector("#app[data-ready]")
                            zoom_text(page, screen)
                            file = name.replace("?kind=", "-")
                            path = folder / f"{file}-{screen.name}-{theme}-{language}.png"
                            draw(page, path, is_whole=name.startswith(("fields", "pieces", "form")))
                            drawn.append(path)
                        sheet = folder / f"sheet-{screen.name}-{theme}-{language}.png"
                        contact_sheet(drawn, sheet, columns=6 if screen.is_touch else 2)


def sign_in(page: Page, address: str, name: str) -> None:
    """Sign a person of the demo in on a fresh device, and wait for the first exchange."""
    page.goto(f"{address}/sign-in")
    page.locator("input[autocomplete=username]").fill(name)
    page.locator("input[type=password]").fill(PASSWORD)
    page.locator("form .btn-go").click()
    page.wait_for_selector(".tabs:visible, .rail:visible")
    page.wait_for_selector(".syncline.passed")


def draw_product(
    browser: Browser,
    screens: Sequence[Screen] = (PHONE, OFFICE),
    themes: Sequence[str] = ("light", "dark", "sun"),
    languages: Sequence[str] = ("en", "es"),
    paths: Sequence[str] = PRODUCT_PATHS,
) -> None:
    """Draw the product's pages on the real server with the demo, as their first person."""
    folder = PICTURES / "product"
    with live_server() as server:
        for screen in screens:
            with context_for(browser, screen) as context:
                page = context.new_page()
                drawn: dict[tuple[str, str], list[Path]] = {}
                for theme, language in ((t, l) for t in themes for l in languages):
                    choose(page, server.address, theme, language)
                    drawn[theme, language] = (
                        [_picture(page, server.address, "/sign-in", screen, theme, language)]
                        if not drawn
                        else []
                    )
                    if len(drawn) == 1:
                        sign_in(page, server.address, PEOPLE[0][0])
                    drawn[theme, language] += [
                        _picture(page, server.address, path, screen, theme, language)
                        for path in paths
                    ]
                for (theme, language), paths_drawn in drawn.items():
                    sheet = folder / f"sheet-{screen.name}-{theme}-{language}.png"
                    contact_sheet(paths_drawn, sheet, columns=6 if screen.is_touch else 3)


def walk_application(page: Page, address: str, folder: Path, suffix: str) -> list[Path]:
    """Log one application from the first step to the saved page; a picture of each step."""
    drawn: list[Path] = []

    def shoot(step: str) -> None:
        page.wait_for_timeout(300)
        for is_whole in (False, True):
            name = f"walk{len(drawn):02d}-{step}{'-whole' if is_whole else ''}-{suffix}.png"
            draw(page, folder / name, is_whole=is_whole)
            drawn.append(folder / name)
        page.evaluate(
            "for (const e of document.querySelectorAll('.foot,.frame-top,.rail'))"
            " e.style.position = ''"
        )

    def go_on() -> None:
        page.locator(".btn-go").last.click()

    page.goto(f"{address}/apply")
    page.locator(".is-current .choice").first.click()
    page.locator(".is-current .choice").nth(1).click()
    shoot("where")
    go_on()
    page.locator(".is-current .choice").first.click()
    page.locator(".is-current input.input-number").fill("20")
    shoot("mix")
    go_on()
    shoot("check")
    for caution in page.locator(".answer.caution").all():
        caution.locator("label.choice").first.click()
    go_on()
    shoot("measure")
    page.locator("label.worn").click()
    for _ in range(20):
        if page.locator(".is-current .measures, .is-current .measure").count() == 0:
            break
        go_on()
        page.wait_for_timeout(150)
    shoot("spray")
    page.locator("label.worn").click()
    go_on()
    page.locator(".is-current .choice").last.click()  # stopped early: asks how far
    shoot("end")
    page.locator(".is-current .choice").first.click()
    go_on()
    page.wait_for_timeout(300)
    shoot("sign")
    go_on()
    page.wait_for_timeout(600)
    shoot("saved")
    return drawn


def draw_walk(
    browser: Browser, screens: Sequence[Screen], themes: Sequence[str], languages: Sequence[str]
) -> None:
    """Draw the application from step to step on a fresh device each time."""
    folder = PICTURES / "walk"
    with live_server() as server:
        for screen in screens:
            for theme, language in ((t, l) for t in themes for l in languages):
                with context_for(browser, screen) as context:
                    page = context.new_page()
                    choose(page, server.address, theme, language)
                    sign_in(page, server.address, PEOPLE[-1][0])
                    suffix = f"{screen.name}-{theme}-{language}"
                    drawn = walk_application(page, server.address, folder, suffix)
                    contact_sheet(drawn, folder / f"sheet-{suffix}.png", columns=7)


def choose(page: Page, address: str, theme: str, language: str) -> None:
    """Set theme and language of the device as the settings page would."""
    page.goto(f"{address}/app/icons/mark.svg")  # same origin, no app running
    page.evaluate(
        "([theme, language]) => { localStorage.setItem('tepal.theme', theme);"
        " localStorage.setItem('tepal.language', language) }",
        [theme, language],
    )


def _picture(
    page: Page, address: str, path: str, screen: Screen, theme: str, language: str
) -> Path:
    page.goto(f"{address}{path}")
    page.wait_for_selector("h1")
    page.wait_for_timeout(250)  # lists come from the phone's own store a moment after the head
    zoom_text(page, screen)
    name = path.strip("/").replace("/", "-") or "start"
    target = PICTURES / "product" / f"{name}-{screen.name}-{theme}-{language}.png"
    draw(page, target, is_whole=False)
    return target


def main(argv: Sequence[str] | None = None) -> int:
    """Draw what is asked for."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument(
        "what", nargs="?", choices=["all", "gallery", "product", "walk"], default="all"
    )
    parser.add_argument("--screens", nargs="*", default=["phone", "office"])
    parser.add_argument("--themes", nargs="*", default=["light", "dark", "sun"])
    parser.add_argument("--languages", nargs="*", default=["en", "es"])
    parser.add_argument("--pages", nargs="*", help="gallery names or addresses such as /today")
    asked = parser.parse_args(argv)
    known = {screen.name: screen for screen in (PHONE, SMALL, OFFICE, ZOOMED)}
    screens = [known[name] for name in asked.screens]
    with chromium() as browser:
        if asked.what in ("all", "gallery"):
            pages = asked.pages or GALLERY_PAGES
            draw_gallery(browser, screens, asked.themes, asked.languages, pages)
        if asked.what in ("all", "product"):
            paths = asked.pages or PRODUCT_PATHS
            draw_product(browser, screens, asked.themes, asked.languages, paths)
        if asked.what in ("all", "walk"):
            draw_walk(browser, screens, asked.themes, asked.languages)
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
