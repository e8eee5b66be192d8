"""Pictures drawn by the program for the demo: a bench of plants from above; no photo."""

from __future__ import annotations

import io
import random

from PIL import Image, ImageDraw

WIDTH, HEIGHT = 800, 600
_SOIL, _POT, _BENCH = (94, 74, 58), (158, 84, 52), (206, 206, 196)


def drawn_bench(seed: int, flower: tuple[int, int, int], words: str) -> bytes:
    """Return a JPEG of 800 x 600 pixels: pots in rows, leaves, some flowers, and what it shows."""
    chance = random.Random(seed)  # noqa: S311 -- a drawing
    image = Image.new("RGB", (WIDTH, HEIGHT), _BENCH)
    pen = ImageDraw.Draw(image)
    for x in range(0, WIDTH, 40):
        pen.line((x, 0, x, HEIGHT), fill=(186, 186, 176))
    for row in range(4):
        for column in range(6):
            x = 70 + column * 130 + chance.randrange(-6, 7)
            y = 80 + row * 140 + chance.randrange(-6, 7)
            pen.ellipse((x - 52, y - 52, x + 52, y + 52), fill=_POT)
            pen.ellipse((x - 44, y - 44, x + 44, y + 44), fill=_SOIL)
            for _ in range(26):
                u, v = x + chance.randrange(-46, 47), y + chance.randrange(-46, 47)
                green = 96 + chance.randrange(70)
                pen.ellipse((u - 15, v - 9, u + 15, v + 9), fill=(52, green, 58))
            for _ in range(chance.randrange(5)):
                u, v = x + chance.randrange(-30, 31), y + chance.randrange(-30, 31)
                pen.ellipse((u - 9, v - 9, u + 9, v + 9), fill=flower)
    pen.rectangle((0, HEIGHT - 34, WIDTH, HEIGHT), fill=(26, 31, 24))
    pen.text((12, HEIGHT - 24), f"Drawn by the program: {words}", fill=(255, 255, 255))
    out = io.BytesIO()
    image.save(out, "JPEG", quality=82)
    return out.getvalue()
