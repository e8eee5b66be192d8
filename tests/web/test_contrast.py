"""Every pair of text and ground in the three themes, computed from the tokens.

Bars: WCAG 2.2, 1.4.3 (text 4.5:1), 1.4.6 (amounts 7:1, product rule), 1.4.11 (controls 3:1).
Formula: WCAG 2.2, definitions of relative luminance and contrast ratio.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

TOKENS = Path(__file__).resolve().parents[2] / "web" / "app" / "styles" / "tokens.css"
THEMES = ("light", "dark", "sun")
SURFACES = ("paper", "sheet", "tray")
STATES = ("leaf", "amber", "stop", "slate")


def theme_tokens() -> dict[str, dict[str, str]]:
    """Return {theme: {token: #rrggbb}}; dark and sun stand on top of light."""
    css = re.sub(r"/\*.*?\*/", "", TOKENS.read_text(), flags=re.DOTALL)
    blocks = {
        "light": css.split(":root {")[1].split("}")[0],
        "dark": css.split('[data-theme="dark"] {')[1].split("}")[0],
        "sun": css.split('[data-theme="sun"] {')[1].split("}")[0],
    }
    found = {
        name: dict(re.findall(r"--([\w-]+):\s*(#[0-9a-f]{6})", text))
        for name, text in blocks.items()
    }
    return {name: {**found["light"], **found[name]} for name in THEMES}


TOKENS_BY_THEME = theme_tokens()


def luminance(colour: str) -> float:
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def pairs() -> list[tuple[str, str, float]]:
    washes = [f"{state}-wash" for state in STATES]
    found = [("ink", ground, 7.0) for ground in (*SURFACES, *washes, "petal-wash")]
    found += [("ink-2", ground, 4.5) for ground in (*SURFACES, *washes)]
    found += [("rule-2", ground, 3.0) for ground in SURFACES]
    found += [("stem", "paper", 3.0), ("stem", "sheet", 3.0)]
    found += [("on-petal", petal, 4.5) for petal in ("petal", "petal-press")]
    found += [("petal", ground, 3.0) for ground in SURFACES]
    for state, wash in zip(STATES, washes, strict=True):
        found += [(state, ground, 4.5) for ground in (wash, *SURFACES)]
    found += [("paper", "leaf", 3.0)]  # the tick in a done node of the stem
    found += [("paper", "ink", 7.0), ("sheet", "ink", 3.0)]  # counts, chosen radio buttons
    return found


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize(("text", "ground", "least"), pairs())
def test_pair_reaches_its_ratio(theme: str, text: str, ground: str, least: float) -> None:
    tokens = TOKENS_BY_THEME[theme]

    assert contrast(tokens[text], tokens[ground]) >= least


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    # WCAG: black on white is 21:1. #767676 on white is the W3C's well-known edge of 4.5:1
    # (Understanding 1.4.3 gives 4.54:1 for it); equal colours are 1:1.
    [("#000000", "#ffffff", 21.0), ("#767676", "#ffffff", 4.54), ("#123456", "#123456", 1.0)],
)
def test_contrast_matches_published_ratios(one: str, other: str, expected: float) -> None:
    assert contrast(one, other) == pytest.approx(expected, abs=0.005)


@pytest.mark.parametrize("theme", ["dark", "sun"])
def test_theme_sets_every_colour_of_its_own(theme: str) -> None:
    css = TOKENS.read_text()
    names = set(re.findall(r"--([\w-]+):\s*#", css.split(":root {")[1].split("}")[0]))
    own = set(
        re.findall(r"--([\w-]+):\s*#", css.split(f'[data-theme="{theme}"] {{')[1].split("}")[0])
    )

    assert own == names


def test_sun_theme_amounts_stand_black_on_white() -> None:
    sun = TOKENS_BY_THEME["sun"]

    assert (sun["ink"], sun["paper"], sun["sheet"]) == ("#000000", "#ffffff", "#ffffff")


def test_styles_take_their_colours_from_tokens_only() -> None:
    """A colour written into another style sheet would escape this test."""
    allowed = {"#fff", "#000", "#d8d8d8"}  # sun theme: code on a dark stake, hatch of a stale house
    for path in TOKENS.parent.glob("*.css"):
        if path.name != "tokens.css":
            colours = set(re.findall(r"#[0-9a-fA-F]{3,8}\b(?![^{]*\{)", path.read_text()))
            assert colours <= allowed, path.name
